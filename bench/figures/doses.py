"""What a treatment costs, dose by dose: every source beside its limit, what is over in red words first."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from bench.figures.page import Page, verdict_tag
from bench.sources import say_sources
from bench.treatment.doses import Dose, Reading, Standing, say_over
from bench.treatment.plan import Verdict
from bench.units import MILLIMETRES, UnitChoice

_HEAD = ("dose", "by", "number", "limit", "stands", "number from; limit from")
_VERDICTS = {Standing.WITHIN: Verdict.GO, Standing.MAY_BE: Verdict.CARE, Standing.OVER: Verdict.STOP}
DOSES = '<span class="group">What the whole treatment costs until the end of this stage, as planned</span>'
"""Heading above the table in a panel."""

WITHIN = "Within every limit that is known."


def dose_table(doses: Sequence[Dose], units: UnitChoice) -> str:
    """Write what is over a limit in red words, then every source of every dose; empty without doses."""
    if not doses:
        return ""
    heads = "".join(f"<th>{escape(cell)}</th>" for cell in _HEAD)
    rows = "".join(
        _row(dose.name if number == 0 else "", reading, units)
        for dose in doses
        for number, reading in enumerate(dose.readings)
    )
    style = "table-layout:auto"  # as wide as the words ask, also in the cells of a notebook
    return (
        f"{_say_first(doses, units)}"
        f'<div class="scroll"><table class="words" style="{style}"><tr>{heads}</tr>{rows}</table></div>'
    )


def _say_first(doses: Sequence[Dose], units: UnitChoice) -> str:
    over = say_over(doses, units)
    verdict = Verdict.STOP if over else Verdict.GO
    tag = verdict_tag(verdict, "Over a limit" if over else "Within limits")
    words = over.removeprefix("Over a limit: ") if over else WITHIN
    kind = "halt" if over else "because"
    return f'<p>{tag}</p><p class="{kind}">{escape(words)}</p>'


def _row(name: str, reading: Reading, units: UnitChoice) -> str:
    value, standing = reading.value, reading.standing
    tag = "–" if standing is None else verdict_tag(_VERDICTS[standing], standing.value)
    sources = "; ".join(say_sources(key or "calculated") for key in (value.source, value.limit_source) if key)
    cells = [escape(cell) for cell in (name, reading.by, reading.number(units), reading.limit(units) or "–")]
    return "<tr>" + "".join(f"<td>{cell}</td>" for cell in (*cells, tag, escape(sources or "–"))) + "</tr>"


def dose_page(doses: Sequence[Dose], units: UnitChoice = MILLIMETRES) -> Page:
    """Show doses in a notebook."""
    words = " ".join([say_over(doses, units) or WITHIN, *(dose.say() for dose in doses)])
    return Page(dose_table(doses, units), words)
