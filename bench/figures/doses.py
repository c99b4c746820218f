"""What a treatment costs, dose by dose: every source beside its limit, what is over first."""

from __future__ import annotations

from html import escape

from bench.figures.page import Page, table, verdict_cell, verdict_tag
from bench.figures.templates import PIECES
from bench.sources import say_sources
from bench.treatment.doses import OVER_A_LIMIT, Account
from bench.treatment.plan import Verdict
from bench.units import MILLIMETRES, UnitChoice

HEAD = ("dose", "by", "number", "limit", "stands", "number from; limit from")
DOSES = '<span class="group">What the whole treatment costs until the end of this stage, as planned</span>'
"""Heading above the table in a panel."""


def dose_cells(account: Account, units: UnitChoice) -> list[tuple[str, ...]]:
    """Give one row for each source of each dose, under :data:`HEAD`."""
    return [
        (
            dose.name if number == 0 else "",
            reading.by,
            reading.number(units),
            reading.limit(units) or "–",
            "–" if reading.standing is None else reading.standing.value,
            "; ".join(say_sources(k) for k in (reading.value.source, reading.value.limit_source) if k) or "–",
        )
        for dose in account.doses
        for number, reading in enumerate(dose.readings)
    ]


def dose_table(account: Account, units: UnitChoice) -> str:
    """Write how the account stands, what is over in red words, then every source of every dose."""
    standings = [reading.standing for dose in account.doses for reading in dose.readings]
    rows: list[list[object]] = [list(row) for row in dose_cells(account, units)]
    for row, standing in zip(rows, standings, strict=True):
        if standing is not None:
            row[HEAD.index("stands")] = verdict_cell(standing.verdict, standing.value)
    logged = f"<p>{escape(account.say_logged())}</p>" if account.logged else ""
    return _say_first(account, units) + logged + (table(HEAD, rows, words=True, fit=True) if rows else "")


def _say_first(account: Account, units: UnitChoice) -> str:
    if account.say_over(units):
        tag = OVER_A_LIMIT
    elif account.unknown:
        tag = "Not all is counted"
    elif account.near:
        tag = "May be over a limit"
    else:
        return f"<p>{verdict_tag(Verdict.GO, 'Within every limit')}</p>"
    words = account.say_first(units).removeprefix(f"{OVER_A_LIMIT}: ")
    return f"<p>{verdict_tag(Verdict.CARE, tag)}</p>{PIECES.paragraphs([words], 'care')}"


def dose_page(account: Account, units: UnitChoice = MILLIMETRES) -> Page:
    """Show an account in a notebook."""
    said = [account.say_first(units), *(dose.say() for dose in account.doses), account.say_logged()]
    words = " ".join(sentence for sentence in said if sentence)
    return Page(dose_table(account, units), words)
