"""What a treatment costs, dose by dose: every source beside its limit, what is over first."""

from __future__ import annotations

from html import escape

from bench.figures.page import Page, verdict_tag
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
    cells = [[escape(cell) for cell in row] for row in dose_cells(account, units)]
    standings = [reading.standing for dose in account.doses for reading in dose.readings]
    for row, standing in zip(cells, standings, strict=True):
        if standing is not None:
            row[HEAD.index("stands")] = verdict_tag(standing.verdict, standing.value)
    heads = "".join(f"<th>{escape(cell)}</th>" for cell in HEAD)
    rows = "".join(f"<tr>{''.join(f'<td>{cell}</td>' for cell in row)}</tr>" for row in cells)
    style = "table-layout:auto"  # as wide as the words ask, also in the cells of a notebook
    whole = f'<table class="words" style="{style}"><tr>{heads}</tr>{rows}</table>' if rows else ""
    return f'{_say_first(account, units)}<div class="scroll">{whole}</div>'


def _say_first(account: Account, units: UnitChoice) -> str:
    if account.say_over(units):
        kind, tag = "care", verdict_tag(Verdict.CARE, OVER_A_LIMIT)
    elif account.unknown:
        kind, tag = "care", verdict_tag(Verdict.CARE, "Not all is counted")
    elif account.near:
        kind, tag = "care", verdict_tag(Verdict.CARE, "May be over a limit")
    else:
        return f"<p>{verdict_tag(Verdict.GO, 'Within every limit')}</p>"
    words = account.say_first(units).removeprefix(f"{OVER_A_LIMIT}: ")
    return f'<p>{tag}</p><p class="{kind}">{escape(words)}</p>'


def dose_page(account: Account, units: UnitChoice = MILLIMETRES) -> Page:
    """Show an account in a notebook."""
    words = " ".join([account.say_first(units), *(dose.say() for dose in account.doses)])
    return Page(dose_table(account, units), words)
