"""Sections on how it came out: measured against planned, before and after, and what remains."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from bench.figures.review import draw_defects, draw_size_changes
from bench.figures.said import say_changes, say_compared
from bench.records import nouns
from bench.records.schema import STAGES
from bench.treatment import facts
from bench.treatment.facts import Fact
from bench.treatment.plan import PlannedValue
from bench.treatment.recorded import build_planned_values, gather_measured
from bench.treatment.review.comparison import (
    SEVERITIES,
    Comparison,
    DefectCourse,
    EdgeChange,
    compare_all,
    compare_sizes,
)
from bench.treatment.review.rules import DEFAULT_RULES
from bench.units import join_words, upper_first
from bench.writeup.agreed import is_decision, say_decision, sorted_decisions
from bench.writeup.blocks import (
    Block,
    Bullets,
    Drawing,
    Facts,
    Grid,
    Heading,
    Missing,
    Photographs,
    Section,
    Text,
)
from bench.writeup.case import Case, Row
from bench.writeup.pictures import show, sort_photographs
from bench.writeup.words import AGREEMENTS, say_cycles

# What should be measured of each stage that was carried out: any one of the names of a row will do.
_MATTERS: dict[str, tuple[tuple[Fact, ...], ...]] = {
    "humidity": ((facts.CHAMBER_HUMIDITY, facts.HYGROMETER_SHOWS), (facts.MASS_GAIN,)),
    "buffering": ((facts.THICKNESS_WITH_SHEETS,),),
    "pressing": ((facts.MIDDLE_LEAF, facts.NEAR_LEAF, facts.FAR_LEAF),),
}
_AS_PLANNED = (
    "“As planned” means that the difference is no larger than the uncertainty of both, at a level of "
    "confidence of about 95 %."
)


def write_predictions(case: Case) -> Section:
    """Set what was measured beside what was planned, and name in a sentence what was not measured."""
    cells: dict[tuple[int, str], list[tuple[str, ...]]] = {}
    left: dict[str, list[int]] = {}
    for (stage, cycle), rows in case.plans.items():
        if stage in ("intake", "review"):
            continue
        compared = compare_stage(case, stage, cycle, rows)
        for each in compared:
            row = _comparison_cells(each, cycle, case)
            cells.setdefault((STAGES.index(stage), each.planned.fact.name), []).append(row)
        if case.was_done(stage, cycle):
            for name in _unmeasured(stage, rows, compared):
                left.setdefault(name, []).append(cycle)
    blocks: list[Block] = []
    if cells:
        head = ("Quantity", "Cycle", "Planned", "Measured", "Difference", "Result")
        ordered = tuple(_merge_first(sorted(cells.items(), key=lambda found: found[0][0])))
        blocks += [Grid(head, ordered, frozenset({2, 3, 4})), Text(_AS_PLANNED)]
    elif any(act.stage != "cleaning" for act in case.acts):
        blocks.append(Missing("Nothing that was planned was measured."))
    else:
        blocks.append(Text("Nothing whose outcome is predicted was carried out."))
    if left and cells:
        said = [f"{name} ({say_cycles(cycles)})" for name, cycles in left.items()]
        blocks.append(Missing(f"Not measured: {'; '.join(said)}."))
    return Section("predictions", "Measured against the plan", tuple(blocks))


def _merge_first(
    found: Iterable[tuple[tuple[int, str], list[tuple[str, ...]]]],
) -> Iterable[tuple[str, ...]]:
    """Write the name of a quantity once, in the first of its rows."""
    for (_, name), rows in found:
        for number, row in enumerate(rows):
            yield ("" if number else upper_first(name), *row)


def _comparison_cells(compared: Comparison, cycle: int, case: Case) -> tuple[str, ...]:
    return (str(cycle), *say_compared(compared, case.units), AGREEMENTS[compared.agreement])


def compare_stage(case: Case, stage: str, cycle: int, rows: list[Row]) -> tuple[Comparison, ...]:
    """Compare a plan with the readings, the log and the times of that stage and cycle."""
    planned: tuple[PlannedValue, ...] = build_planned_values(rows)
    logged = case.of("log", stage=stage, cycle=cycle)
    read = nouns.moments_of(case.record, stage, cycle)
    done = case.of("steps", stage=stage, cycle=cycle)
    return compare_all(planned, gather_measured(stage, planned, read, logged, done))[0]


def _unmeasured(stage: str, rows: Sequence[Row], compared: Sequence[Comparison]) -> list[str]:
    planned = {value.key for value in build_planned_values(rows)}
    measured = {each.planned.key for each in compared}
    found = []
    for wanted in _MATTERS.get(stage, ()):
        known = [fact for fact in wanted if fact.key in planned]
        if known and not any(fact.key in measured for fact in wanted):
            found.append(known[0].name)
    return found


def write_result(case: Case) -> Section:
    """Say what became of every defect, of the size and of the thickness, and what was decided."""
    title = "What changed, and what did not"
    courses = case.courses
    seen = any(len(course.sightings) > 1 for course in courses)
    if not (seen or case.of("readings", stage="review") or case.of("decisions", stage="review")):
        words = "Nothing has been looked at, measured or decided again since."
        return Section("result", title, (*show_after(case), Missing(words)))
    blocks: list[Block] = [*show_after(case)]
    blocks += [Heading("Defects before and after"), *_defects(courses)]
    blocks += [Heading("Size, thickness and mass"), *_sizes(case)]
    blocks += [Heading("Decided at review"), *_review(case)]
    return Section("result", title, tuple(blocks))


def show_after(case: Case) -> list[Photographs]:
    """Show each view before and after treatment beside each other, then what was taken later only."""
    shown = sort_photographs(case)
    pairs = [show(case, *pair) for pair in shown.pairs]
    return [*pairs, show(case, *shown.after)] if shown.after else pairs


def _defects(courses: tuple[DefectCourse, ...]) -> list[Block]:
    if not courses:
        return [Missing("No defects are listed, so no change can be told.")]
    seen = [c for c in courses if len(c.sightings) > 1]
    if not seen:
        return [Missing("No defect was looked at again after treatment.")]
    cycles = sorted({s.cycle for c in courses for s in c.sightings[1:]})
    after = ("After",) if len(cycles) == 1 else tuple(f"After cycle {cycle}" for cycle in cycles)
    cells = tuple(_course_cells(course, cycles) for course in courses)
    grid = Grid(("Defect", "Before", *after, "Change"), cells)
    blocks: list[Block] = [Drawing(draw_defects(courses)), grid]
    left = [say_defect(c) for c in courses if len(c.sightings) == 1]
    return [*blocks, Missing(f"Not looked at again: {'; '.join(left)}.")] if left else blocks


def _course_cells(course: DefectCourse, cycles: Sequence[int]) -> tuple[str, ...]:
    before = SEVERITIES[course.before.severity]
    after = [SEVERITIES[seen.severity] if seen else "–" for seen in map(course.after, cycles)]
    return say_defect(course), before, *after, say_turn(course)


def say_defect(course: DefectCourse) -> str:
    """Name a defect by its term and place, without the number it has in the record."""
    return f"{course.term}, {course.face}"


def say_turn(course: DefectCourse) -> str:
    """Say in a word what became of a defect."""
    if len(course.sightings) == 1:
        return "not looked at again"
    change = course.before.severity - course.last.severity
    return "unchanged" if not change else "better" if change > 0 else "worse"


def last_review_cycle(case: Case) -> int:
    """Give the last cycle after which anything was read at review; 0 if none."""
    return max((int(r["cycle"]) for r in case.of("readings", stage="review")), default=0)


def size_changes(case: Case) -> tuple[EdgeChange, ...]:
    """Give the change of width and height from before treatment to the last review."""
    cycle = last_review_cycle(case)
    if not cycle:
        return ()
    return compare_sizes(case.examination("intake", 0), case.examination("review", cycle))


def _sizes(case: Case) -> list[Block]:
    cycle = last_review_cycle(case)
    if not cycle:
        return [Missing("Nothing was read again after treatment.")]
    before, after = case.examination("intake", 0), case.examination("review", cycle)
    sizes = compare_sizes(before, after)
    blocks: list[Block] = []
    if sizes:
        rules = DEFAULT_RULES
        growth, shortening = rules.most_growth.value, rules.most_shortening.value
        picture = draw_size_changes(sizes, case.units, growth_limit=growth, shortening_limit=shortening)
        blocks.append(Drawing(picture))
    else:
        blocks.append(Missing("Width and height were not read at one place before and after treatment."))
    if before.thicknesses is None or after.thicknesses is None:
        blocks.append(Missing("The thickness was not read both before and after treatment."))
    edges = {size.edge for size in sizes}
    cells = sorted(say_changes(before, after, case.units), key=lambda row: row[0] not in edges)
    if cells:
        head = ("Reading", "Place", "Before", "After", "Change")
        blocks.append(Grid(head, merge_places(cells), frozenset({2, 3, 4})))
    checks = case.say_checks("review")
    return [*blocks, Text(checks)] if checks else blocks


def merge_places(cells: Iterable[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """Put rows that differ in their place alone into one row.

    Examples
    --------
    >>> merge_places([("width", "cover", "3"), ("width", "leaf 1", "3"), ("height", "cover", "3")])
    (('width', 'cover, leaf 1', '3'), ('height', 'cover', '3'))
    """
    found: dict[tuple[str, ...], list[str]] = {}
    for name, place, *values in cells:
        found.setdefault((name, *values), []).append(place)
    return tuple((name, ", ".join(places), *values) for (name, *values), places in found.items())


def _review(case: Case) -> list[Block]:
    rows = [row for row in sorted_decisions(case) if row["stage"] == "review" and is_decision(row)]
    if not rows:
        return [Missing("No decision at review is recorded.")]
    return [Facts(tuple((f"After cycle {row['cycle']}", say_decision(row)) for row in rows))]


def write_left(case: Case) -> Section:
    """Say which defects remain, and why they were left where that is known."""
    courses = case.courses
    left = say_left(courses, bool(case.acts), SEVERITIES)
    nothing = "Nothing of what was listed." if courses else "No defect is listed."
    return Section("left", "What remains", (Bullets(left) if left else Text(nothing),))


def say_left(courses: Sequence[DefectCourse], treated: bool, grades: Sequence[str]) -> tuple[str, ...]:
    """Say which defects remain, each with its grade in these words and with why it was left."""
    return tuple(
        f"{upper_first(say_defect(course))}: {grades[course.last.severity]}"
        + ("" if course.in_scope else "; left alone, as agreed")
        + ("" if len(course.sightings) > 1 or not treated else "; not looked at again")
        + "."
        for course in courses
        if course.last.severity
    )


def say_outcome(case: Case) -> str:
    """Say in a sentence what became of the defects."""
    courses = case.courses
    seen = [course for course in courses if len(course.sightings) > 1]
    if not courses:
        return "No defects are listed, so it cannot be said what changed."
    if not seen:
        return "No defect has been looked at again yet, so it cannot be said what changed."
    turns = [say_turn(course) for course in seen]
    said = [
        f"{count} {'looks' if count == 1 else 'look'} {word}"
        for word in ("better", "unchanged", "worse")
        if (count := turns.count(word))
    ]
    unseen = len(courses) - len(seen)
    said += [f"{unseen} {'was' if unseen == 1 else 'were'} not looked at again"] if unseen else []
    of = f"Of {len(courses)} defects" if len(courses) > 1 else "Of one defect"
    worse = "" if "worse" in turns else "; none looks worse"
    return f"{of}, {join_words(said)}{worse}."
