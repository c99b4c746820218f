"""What a treatment costs, dose by dose: every source beside its limit, what is over in red words first."""

from __future__ import annotations

from html import escape

from bench.figures.page import Page, verdict_tag
from bench.sources import say_sources
from bench.treatment.doses import Account, Reading, Standing
from bench.treatment.plan import Verdict
from bench.units import MILLIMETRES, UnitChoice

_HEAD = ("dose", "by", "number", "limit", "stands", "number from; limit from")
_VERDICTS = {Standing.WITHIN: Verdict.GO, Standing.MAY_BE: Verdict.CARE, Standing.OVER: Verdict.STOP}
DOSES = '<span class="group">What the whole treatment costs until the end of this stage, as planned</span>'
"""Heading above the table in a panel."""


def dose_table(account: Account, units: UnitChoice) -> str:
    """Write how the account stands, what is over in red words, then every source of every dose."""
    heads = "".join(f"<th>{escape(cell)}</th>" for cell in _HEAD)
    rows = "".join(
        _row(dose.name if number == 0 else "", reading, units)
        for dose in account.doses
        for number, reading in enumerate(dose.readings)
    )
    style = "table-layout:auto"  # as wide as the words ask, also in the cells of a notebook
    cells = f'<table class="words" style="{style}"><tr>{heads}</tr>{rows}</table>' if rows else ""
    return f'{_say_first(account, units)}<div class="scroll">{cells}</div>'


def _say_first(account: Account, units: UnitChoice) -> str:
    if account.say_over(units):
        kind, tag = "halt", verdict_tag(Verdict.STOP, "Over a limit")
    elif account.unknown:
        kind, tag = "care", verdict_tag(Verdict.CARE, "Not all is counted")
    else:
        kind, tag = "because", verdict_tag(Verdict.GO, "Within limits")
    words = account.say_first(units).removeprefix("Over a limit: ")
    return f'<p>{tag}</p><p class="{kind}">{escape(words)}</p>'


def _row(name: str, reading: Reading, units: UnitChoice) -> str:
    value, standing = reading.value, reading.standing
    tag = "–" if standing is None else verdict_tag(_VERDICTS[standing], standing.value)
    sources = "; ".join(say_sources(key or "calculated") for key in (value.source, value.limit_source) if key)
    cells = [escape(cell) for cell in (name, reading.by, reading.number(units), reading.limit(units) or "–")]
    return "<tr>" + "".join(f"<td>{cell}</td>" for cell in (*cells, tag, escape(sources or "–"))) + "</tr>"


def dose_page(account: Account, units: UnitChoice = MILLIMETRES) -> Page:
    """Show an account in a notebook."""
    words = " ".join([account.say_first(units), *(dose.say() for dose in account.doses)])
    return Page(dose_table(account, units), words)
