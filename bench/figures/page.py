"""Pieces of a page that panel and report share: verdict, table, cautions.  Plain HTML, no script."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bench.figures.templates import PIECES
from bench.item import Thicknesses
from bench.sources import say_sources
from bench.treatment.plan import Assumption, Caution, Plan, PlannedValue, Verdict, shown_unit
from bench.units import UnitChoice, say, say_length, upper_first

# A sign and a word stand beside every colour, so that the colour is never needed.
_LOOKS = {
    Verdict.GO: ("go", "●", "Go on"),
    Verdict.CARE: ("care", "▲", "Go on with care"),
    Verdict.STOP: ("halt", "■", "Stop"),
}


def verdict_cell(verdict: Verdict, words: str | None = None) -> object:
    """Write a verdict as sign, word and colour, for a cell of a :func:`table`: markup that stays markup."""
    kind, sign, usual = _LOOKS[verdict]
    return PIECES.tag(kind, sign, words or usual)


def verdict_tag(verdict: Verdict, words: str | None = None) -> str:
    """Write a verdict as sign, word and colour."""
    return str(verdict_cell(verdict, words))


def table(
    head: Sequence[str],
    rows: Iterable[Sequence[object]],
    *,
    picked: int | None = None,
    mark: str = "chosen",
    words: bool = False,
    fit: bool = False,
) -> str:
    """Write a table.

    Parameters
    ----------
    head : sequence of str
        Names of the columns.
    rows : iterable of sequence
        Cells; all but markup is written as text and escaped.
    picked : int, optional
        Number of the row that is marked as chosen, in words too.
    mark : str
        The words behind its first cell.
    words : bool
        All columns are text and begin at the left; otherwise the first alone.
    fit : bool
        The columns are as wide as their words ask, also in the cells of a notebook.
    """
    cells = list(rows)
    if picked is not None:
        first, *more = cells[picked]
        cells[picked] = (PIECES.marked(first, mark), *more)
    return str(PIECES.table(head, cells, picked, words, fit))


CAUTIONS = {
    Verdict.STOP: "May damage this item now",
    Verdict.CARE: "Watch",
    Verdict.GO: "Advice",
}
"""Headings of cautions in order of harm, for panel, page and report."""


def caution_list(cautions: Iterable[Caution]) -> str:
    """Write cautions under one heading for each degree of harm, the gravest first; none is said twice."""
    told = dict.fromkeys(cautions)
    groups = []
    for verdict, heading in CAUTIONS.items():
        kind, sign, _ = _LOOKS[verdict]
        groups.append((kind, f"{sign} {heading}", [c for c in told if c.verdict is verdict]))
    return str(PIECES.cautions([group for group in groups if group[-1]]))


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
    return fold("All numbers, and what was taken as given", f"{rows}{given}")


def fold(summary: str, html: str) -> str:
    """Fold pieces of a page away under a line that unfolds them."""
    return f"<details><summary>{summary}</summary>{html}</details>"


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
    return upper_first(re.sub(rf"^{re.escape(word)}[.:]? ", "", answer))


def lead_of(tag: str, answer: str, because: str) -> str:
    """Write an opening from its tag: the answer in view, the reasons folded away beneath."""
    return str(PIECES.opening(tag, answer, because))


def folded(summary: str, words: str) -> str:
    """Fold words away under one line; empty for no words."""
    return str(PIECES.folded(summary, words))


@dataclass(frozen=True)
class Page:
    """A piece of a page that a notebook shows: HTML for the eye, words for everything else."""

    html: str
    words: str

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        return {"text/html": f'<div class="bench-page">{self.html}</div>', "text/plain": self.words}


def sentence_page(words: str) -> Page:
    """Show a sentence in a notebook, where there is nothing else to show."""
    return Page(str(PIECES.paragraphs([words], "")), words)


def bullet_page(items: Sequence[str], words: str, *, kind: str = "") -> Page:
    """Show a list in a notebook.

    Parameters
    ----------
    items : sequence of str
        One a bullet.
    words : str
        The same for those who do not see it.
    kind : str
        Class of the list on the page; empty for a plain one.
    """
    return Page(str(PIECES.bullets(items, kind)), words)


def readings_page(thicknesses: Thicknesses, units: UnitChoice) -> Page:
    """Show what was read where, with uncertainty and where it comes from."""
    rows = [
        (
            f"over the {place}" if place.endswith(" staple") else place,
            say_length(read.value, units, uncertainty=read.expanded()),
            read.source,
        )
        for place, read in thicknesses.places().items()
    ]
    words = "; ".join(f"{name} {value}" for name, value, _ in rows)
    return Page(table(("place", "thickness (95 %)", "read with"), rows), words)
