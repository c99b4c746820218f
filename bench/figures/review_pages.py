"""The review in tables: readings before and after, what each rule says, the rules themselves."""

from __future__ import annotations

from collections.abc import Sequence

from bench.figures.buffering import load_table, say_loads
from bench.figures.page import Page, drop_word, lead_of, verdict_tag
from bench.figures.page import table as plain_table
from bench.figures.said import say_change, say_compared, say_measured
from bench.sources import say_sources
from bench.treatment.review import ReviewPlan
from bench.treatment.review.comparison import (
    Comparison,
    Examination,
    compare_sizes,
    compare_thicknesses,
    subtract_readings,
)
from bench.treatment.review.judges import Outcome
from bench.treatment.review.next_cycle import NextCycle
from bench.treatment.review.rules import ReviewDecision, Rules
from bench.units import UnitChoice, unit_label

_DECISIONS = {decision: decision.value.capitalize() for decision in ReviewDecision}


def table(head: Sequence[str], rows: Sequence[Sequence[object]], *, words: bool = False) -> str:
    """Write a table whose columns are as wide as their words ask, also in the cells of a notebook."""
    return plain_table(head, rows, words=words).replace("<table", '<table style="table-layout:auto"', 1)


def review_lead(plan: ReviewPlan) -> str:
    """Write the opening of a review: the decision as sign, word and colour, answer and reason."""
    word = _DECISIONS[plan.decision]
    return lead_of(verdict_tag(plan.verdict, word), drop_word(plan.answer, word), plan.because)


def decision_page(plan: ReviewPlan) -> Page:
    """Show the decision with its answer and reason."""
    return Page(review_lead(plan), f"{plan.decision.value}: {plan.answer}")


def change_rows(before: Examination, after: Examination, units: UnitChoice) -> list[tuple[str, ...]]:
    """Give place, before, after and change for everything that was read both times."""
    rows: list[tuple[str, ...]] = []
    if before.thicknesses is not None and after.thicknesses is not None:
        old, new = before.thicknesses.places(), after.thicknesses.places()
        changes = compare_thicknesses(before.thicknesses, after.thicknesses)
        rows += [
            (
                f"thickness, {place}",
                say_measured(old[place], units),
                say_measured(new[place], units),
                say_change(change, units),
            )
            for place, change in changes.items()
        ]
    for size in compare_sizes(before, after):
        change = f"{say_change(size.change, units)} ({say_change(size.relative, units)})"
        rows.append((size.name, say_measured(size.before, units), say_measured(size.after, units), change))
    if before.mass is not None and after.mass is not None:
        heavier = subtract_readings(after.mass, before.mass)
        masses = (say_measured(mass, units) for mass in (before.mass, after.mass))
        rows.append(("mass", *masses, say_change(heavier, units)))
    return rows


def change_table(before: Examination, after: Examination, units: UnitChoice) -> str:
    """Write the readings before and after side by side."""
    rows = change_rows(before, after, units)
    if not rows:
        return '<p class="because">Nothing was read both before and after yet.</p>'
    return table(("read (95 %)", "before", "after", "change"), rows)


def change_page(before: Examination, after: Examination, units: UnitChoice) -> Page:
    """Show the readings before and after side by side."""
    rows = change_rows(before, after, units)
    words = "; ".join(f"{name} {change}" for name, *_, change in rows)
    return Page(change_table(before, after, units), words or "Nothing was read both before and after yet.")


def comparison_table(comparisons: Sequence[Comparison], units: UnitChoice) -> str:
    """Write planned beside measured, with the difference and the word for it."""
    if not comparisons:
        return '<p class="because">Nothing that was planned was measured yet.</p>'
    rows = [(c.label, *say_compared(c, units), c.agreement.value) for c in comparisons]
    return table(("quantity", "planned", "measured", "difference", "within the uncertainty"), rows)


def comparison_page(comparisons: Sequence[Comparison], units: UnitChoice) -> Page:
    """Show planned beside measured."""
    words = "; ".join(f"{c.label}: {c.agreement}" for c in comparisons)
    words = words or "Nothing that was planned was measured yet."
    return Page(comparison_table(comparisons, units), words)


def outcome_table(outcomes: Sequence[Outcome]) -> str:
    """Write what each rule says, with its reason."""
    rows = [(o.rule, o.word, o.reason, say_sources(o.source)) for o in outcomes]
    return table(("rule", "says", "because", "source"), rows, words=True)


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
    return Page(table(("rule", "threshold", "words", "source"), told, words=True), words)


def next_cycle_table(following: NextCycle) -> str:
    """Write the next cycle's spacings by where the load goes, the next rung marked."""
    rung = next((load for load in following.loads if following.interval in load.intervals), None)
    marked = load_table(following.loads, picked=rung)
    return marked.replace("(chosen)", "(next rung)")


def next_cycle_page(following: NextCycle | None) -> Page:
    """Show what wider spacings would do."""
    if following is None:
        return Page('<p class="because">Read the thickness after this cycle first.</p>', "not read yet")
    return Page(next_cycle_table(following), say_loads(following.loads))


def spot_table(following: NextCycle) -> str:
    """Write of each defect whether the next cycle would reach it, and why."""
    if following.margin is None:
        return '<p class="because">Warmth and damp of the press were not planned: no defect is judged.</p>'
    if not following.spots:
        return '<p class="because">No defect with a place is left that pressing could help.</p>'
    rows = [
        (spot.spot.name, spot.hope.value, f"{100 * spot.reached:.0f} %", spot.why) for spot in following.spots
    ]
    return table(("defect", "relaxes", "chance of enough pressure", "because"), rows, words=True)


def spot_page(following: NextCycle | None) -> Page:
    """Show which defects the next cycle would reach."""
    if following is None:
        return next_cycle_page(following)
    words = " ".join(spot.words for spot in following.spots) or "no defect judged"
    return Page(spot_table(following), words)
