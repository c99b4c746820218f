"""The review in tables: readings before and after, what each rule says, the rules themselves."""

from __future__ import annotations

from collections.abc import Sequence

from bench.figures.buffering import load_table, say_loads
from bench.figures.page import Page, drop_word, lead_of, table, verdict_tag
from bench.figures.said import say_changes, say_compared
from bench.figures.templates import PIECES
from bench.sources import say_sources
from bench.treatment.review import ReviewPlan
from bench.treatment.review.comparison import Comparison, Examination
from bench.treatment.review.judges import Outcome
from bench.treatment.review.next_cycle import NextCycle
from bench.treatment.review.rules import Rules
from bench.units import UnitChoice, unit_label, upper_first

_NOT_READ = "Nothing was read both before and after yet."
_NOT_MEASURED = "Nothing that was planned was measured yet."


def review_lead(plan: ReviewPlan) -> str:
    """Write the opening of a review: the decision as sign, word and colour, answer and reason."""
    word = upper_first(plan.decision.value)
    return lead_of(verdict_tag(plan.verdict, word), drop_word(plan.answer, word), plan.because)


def _hint(words: str) -> str:
    return str(PIECES.paragraphs([words], "because"))


def _change_rows(before: Examination, after: Examination, units: UnitChoice) -> list[tuple[str, ...]]:
    """Give what, before, after and change for everything that was read both times."""
    return [
        (what if what == "mass" else f"{what}, {place}", *said)
        for what, place, *said in say_changes(before, after, units)
    ]


def change_table(before: Examination, after: Examination, units: UnitChoice) -> str:
    """Write the readings before and after side by side."""
    rows = _change_rows(before, after, units)
    return table(("read (95 %)", "before", "after", "change"), rows, fit=True) if rows else _hint(_NOT_READ)


def change_page(before: Examination, after: Examination, units: UnitChoice) -> Page:
    """Show the readings before and after side by side."""
    said = [f"{name} {change}" for name, *_, change in _change_rows(before, after, units)]
    return Page(change_table(before, after, units), "; ".join(said) or _NOT_READ)


def comparison_table(comparisons: Sequence[Comparison], units: UnitChoice) -> str:
    """Write planned beside measured, with the difference and the word for it."""
    if not comparisons:
        return _hint(_NOT_MEASURED)
    rows = [(c.label, *say_compared(c, units), c.agreement.value) for c in comparisons]
    return table(("quantity", "planned", "measured", "difference", "within the uncertainty"), rows, fit=True)


def comparison_page(comparisons: Sequence[Comparison], units: UnitChoice) -> Page:
    """Show planned beside measured."""
    said = [f"{c.label}: {c.agreement}" for c in comparisons]
    return Page(comparison_table(comparisons, units), "; ".join(said) or _NOT_MEASURED)


def outcome_table(outcomes: Sequence[Outcome]) -> str:
    """Write what each rule says, with its reason."""
    rows = [(o.rule, o.word, o.reason, say_sources(o.source)) for o in outcomes]
    return table(("rule", "says", "because", "source"), rows, words=True, fit=True)


def outcome_page(plan: ReviewPlan) -> Page:
    """Show what each rule says, with its reason."""
    said = "; ".join(f"{o.rule}: {o.word}" for o in plan.outcomes)
    return Page(outcome_table(plan.outcomes), said)


def rules_page(rules: Rules) -> Page:
    """Show the rules with their thresholds and sources, as they stand."""
    rows = []
    for name, rule in rules.thresholds().items():
        unit = f"{rule.value.units}"
        shown = f"{float(rule.value.magnitude):g} {unit_label(unit)}".strip()
        rows.append((name, shown, rule.words, rule.source))
    rows.append(("new marks that stop", "", ", ".join(rules.stop_marks), "memory"))
    rows.append(("new marks that refer", "", ", ".join(rules.refer_marks), "memory"))
    ladder = ", then ".join(str(rung) for rung in rules.ladder)
    rows.append(("ladder", ladder, "Leaves between sheets, one rung a cycle.", "common-practice"))
    words = "; ".join(f"{name} {value}".strip() for name, value, *_ in rows)
    told = [(*row, say_sources(source)) for *row, source in rows]
    return Page(table(("rule", "threshold", "words", "source"), told, words=True, fit=True), words)


def next_cycle_table(following: NextCycle) -> str:
    """Write the next cycle's spacings by where the load goes, the next rung marked."""
    rung = next((load for load in following.loads if following.interval in load.intervals), None)
    return load_table(following.loads, picked=rung, mark="next rung")


def next_cycle_page(following: NextCycle | None) -> Page:
    """Show what wider spacings would do."""
    if following is None:
        return Page(_hint("Read the thickness after this cycle first."), "not read yet")
    return Page(next_cycle_table(following), say_loads(following.loads))


def spot_table(following: NextCycle) -> str:
    """Write of each defect whether the next cycle would reach it, and why."""
    if following.margin is None:
        return _hint("Warmth and damp of the press were not planned: no defect is judged.")
    if not following.spots:
        return _hint("No defect with a place is left that pressing could help.")
    rows = [
        (spot.spot.name, spot.hope.value, f"{100 * spot.reached:.0f} %", spot.why) for spot in following.spots
    ]
    return table(("defect", "relaxes", "chance of enough pressure", "because"), rows, words=True, fit=True)


def spot_page(following: NextCycle | None) -> Page:
    """Show which defects the next cycle would reach."""
    if following is None:
        return next_cycle_page(following)
    words = " ".join(spot.words for spot in following.spots) or "no defect judged"
    return Page(spot_table(following), words)
