"""Pieces of a page that panel and report share: verdict, table, cautions.  Plain HTML, no script."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from bench.item import Thicknesses
from bench.sources import say_sources
from bench.treatment.plan import Assumption, Caution, Plan, PlannedValue, Verdict, shown_unit
from bench.units import Q_, UnitChoice, difference_unit, say, say_length, say_value, unit_label

# A sign and a word stand beside every colour, so that the colour is never needed.
_SIGNS = {Verdict.GO: "●", Verdict.CARE: "▲", Verdict.STOP: "■"}
_WORDS = {Verdict.GO: "Go on", Verdict.CARE: "Go on with care", Verdict.STOP: "Stop"}
_CLASSES = {Verdict.GO: "go", Verdict.CARE: "care", Verdict.STOP: "halt"}


def verdict_tag(verdict: Verdict, words: str | None = None) -> str:
    """Write a verdict as sign, word and colour."""
    return (
        f'<span class="tag {_CLASSES[verdict]}">{_SIGNS[verdict]} {escape(words or _WORDS[verdict])}</span>'
    )


def table(
    head: Sequence[str], rows: Iterable[Sequence[object]], *, picked: int | None = None, words: bool = False
) -> str:
    """Write a table whose first column is text.

    Parameters
    ----------
    head, rows : sequences
        Cells; anything is written as text and escaped.
    picked : int, optional
        Number of the row that is marked as chosen, in words too.
    words : bool
        All columns are text and begin at the left.
    """
    heads = "".join(f"<th>{escape(cell)}</th>" for cell in head)
    lines = []
    for number, row in enumerate(rows):
        # A value stays on one line with its uncertainty and its unit.
        cells = [escape(str(cell)).replace(" ± ", "\u00a0±\u00a0").replace(" %", "\u00a0%") for cell in row]
        if number == picked:
            cells[0] += " <em>(chosen)</em>"
        mark = ' class="pick"' if number == picked else ""
        lines.append(f"<tr{mark}>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>")
    kind = ' class="words"' if words else ""
    return f'<div class="scroll"><table{kind}><tr>{heads}</tr>{"".join(lines)}</table></div>'


CAUTIONS = {
    Verdict.STOP: "May damage this item now",
    Verdict.CARE: "Watch",
    Verdict.GO: "Advice",
}
"""Headings of cautions in order of harm, for panel, page and report."""


def caution_list(cautions: Iterable[Caution]) -> str:
    """Write cautions under one heading for each degree of harm, the gravest first; none is said twice."""
    told = dict.fromkeys(cautions)
    groups = {verdict: [c for c in told if c.verdict is verdict] for verdict in CAUTIONS}
    return "".join(_caution_group(verdict, group) for verdict, group in groups.items() if group)


def _caution_group(verdict: Verdict, cautions: Sequence[Caution]) -> str:
    kind = _CLASSES[verdict]
    items = "".join(f"<li>{escape(c.words)}</li>" for c in cautions)
    head = f"<b>{_SIGNS[verdict]} {CAUTIONS[verdict]}</b>"
    return f'<div class="cautions {kind}">{head}<ul>{items}</ul></div>'


def say_limit(value: PlannedValue, units: UnitChoice) -> str:
    """Write the limit of a planned value, or a dash."""
    if value.limit is None:
        return "–"
    return say(value.limit, shown_unit(value.unit, units))


def value_rows(values: Iterable[PlannedValue], units: UnitChoice) -> list[tuple[str, str, str, str]]:
    """Give name, value, limit and source of planned values, ready for :func:`table`."""
    return [
        (v.label, v.say(units), say_limit(v, units), say_sources(v.limit_source or v.source or "–"))
        for v in values
    ]


def folded_numbers(plan: Plan, units: UnitChoice) -> str:
    """Write all numbers of a plan and what it takes as given, folded away under one line."""
    rows = table(("quantity", "value", "limit", "source"), value_rows(plan.values, units))
    given = assumption_table(plan.assumptions)
    return f"<details><summary>All numbers, and what was taken as given</summary>{rows}{given}</details>"


def assumption_table(assumptions: Iterable[Assumption]) -> str:
    """Write what was taken as given and where it came from."""
    return table(
        ("taken as given", "what", "source"),
        ((a.name, a.words, say_sources(a.source)) for a in assumptions),
        words=True,
    )


def lead(plan: Plan) -> str:
    """Write the opening of a plan: verdict and answer, the reasons folded away beneath."""
    return lead_of(verdict_tag(plan.verdict), plan.answer, plan.because)


def drop_word(answer: str, word: str) -> str:
    """Leave out the word that an answer begins with where the mark beside it says it.

    Examples
    --------
    >>> drop_word("Hold. First look again at d1 crease, cover.", "Hold")
    'First look again at d1 crease, cover.'
    """
    said = re.sub(rf"^{re.escape(word)}[.:]? ", "", answer)
    return said[:1].upper() + said[1:]


def lead_of(tag: str, answer: str, because: str) -> str:
    """Write an opening from its tag: the answer in view, the reasons folded away beneath."""
    return f'{tag}<p class="say">{escape(answer)}</p>{folded("Why, and how sure", because)}'


def folded(summary: str, words: str) -> str:
    """Fold words away under one line; empty for no words."""
    if not words:
        return ""
    return f'<details><summary>{summary}</summary><p class="because">{escape(words)}</p></details>'


def say_recorded(value: float, uncertainty: float | None, unit: str, units: UnitChoice) -> str:
    """Write a number of a record in the operator's unit."""
    shown = shown_unit(unit, units)
    if shown == unit:
        return say_value(value, uncertainty, unit_label(unit))
    spread = None if uncertainty is None else Q_(uncertainty, difference_unit(unit))
    return say(Q_(value, unit), shown, uncertainty=spread)


@dataclass(frozen=True)
class Page:
    """A piece of a page that a notebook shows: HTML for the eye, words for everything else."""

    html: str
    words: str

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        return {"text/html": f'<div class="bench-page">{self.html}</div>', "text/plain": self.words}


def readings_page(thicknesses: Thicknesses, units: UnitChoice) -> Page:
    """Show what was read where, with uncertainty and where it comes from."""
    rows = [
        (
            f"over the {place}" if place.endswith(" staple") else place,
            say_length(measured.value, units, uncertainty=measured.expanded()),
            measured.source,
        )
        for place, measured in thicknesses.places().items()
    ]
    words = "; ".join(f"{name} {value}" for name, value, _ in rows)
    return Page(table(("place", "thickness (95 %)", "read with"), rows), words)


def plan_page(plan: Plan) -> Page:
    """Show verdict, answer, reason and cautions of a plan."""
    return Page(lead(plan) + caution_list(plan.cautions), f"{plan.verdict.value}: {plan.answer}")
