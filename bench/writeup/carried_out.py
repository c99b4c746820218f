"""Sections on what was done, by the clock, and on how it came out against the plan."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial

from bench.figures.review import draw_defects, draw_planned_beside_measured, draw_size_changes
from bench.figures.said import say_change, say_compared, say_measured
from bench.records import nouns
from bench.records.schema import STAGES
from bench.treatment.comparison import (
    SEVERITIES,
    Comparison,
    DefectCourse,
    EdgeChange,
    compare_all,
    compare_sizes,
    compare_thicknesses,
    subtract_readings,
)
from bench.treatment.done import is_measured
from bench.treatment.plan import Caution, PlannedValue
from bench.treatment.recorded import Moments, build_courses, build_planned_values, gather_measured
from bench.treatment.review_rules import DEFAULT_RULES
from bench.writeup.blocks import Block, Cautions, Drawing, Facts, Grid, Heading, Missing, Section, Text
from bench.writeup.case import (
    Case,
    Row,
    say_moment,
    say_number,
    say_span,
    say_text,
    say_years,
)
from bench.writeup.planned import cautions_of, plan_groups, say_stage


def write_work(case: Case) -> Section:
    """Say what was done: planned times beside actual ones, what was noted, what was used."""
    blocks: list[Block] = [Heading("Steps"), *_steps(case)]
    blocks += [Heading("Noted during the work"), *_log(case)]
    blocks += [Heading("Materials"), *_materials(case)]
    return Section("work", "What was done", tuple(blocks))


def _steps(case: Case) -> list[Block]:
    rows = [row for row in case.rows["steps"] if row["planned_start"] or row["actual_start"]]
    rows.sort(key=lambda row: (row["actual_start"] or row["planned_start"], row["step"]))
    if not rows:
        return [Missing("No step is recorded.")]
    head = ("Step", "Stage", "Planned", "Actual", "Took")
    cells = tuple(
        (
            row["name"],
            say_stage(row["stage"], row["cycle"]),
            say_span(row["planned_start"], row["planned_end"], year=False),
            say_span(row["actual_start"], row["actual_end"], year=False)
            if row["actual_start"]
            else "not recorded as done",
            say_took(row),
        )
        for row in rows
    )
    years = say_years(row["actual_start"] or row["planned_start"] for row in rows)
    undone = [row["name"] for row in rows if not row["actual_start"]]
    blocks: list[Block] = [Grid(head, cells, caption=f"By the clock, {years}")]
    taken = sum(not is_measured(row["note"]) for row in rows)
    if taken:
        how = "the planned times were taken over, or reckoned back from the end of the work"
        blocks.append(Text(f"{taken} of {len(rows)} actual times were not read off a clock: {how}."))
    if undone:
        count = f"{len(undone)} of {len(rows)} steps"
        blocks.append(Missing(f"{count} are not recorded as done: {'; '.join(dict.fromkeys(undone))}."))
    return blocks


def say_took(row: Row) -> str:
    """Say how long a step took, and by how much that was longer or shorter than planned."""
    start, end = row["actual_start"], row["actual_end"]
    if not (isinstance(start, datetime) and isinstance(end, datetime)):
        return "–"
    took = say_duration(end - start)
    if not is_measured(row["note"]):
        return f"{took}, not measured"
    if not (isinstance(row["planned_start"], datetime) and isinstance(row["planned_end"], datetime)):
        return took
    late = (end - start) - (row["planned_end"] - row["planned_start"])
    if abs(late) < timedelta(minutes=1):
        return f"{took}, as planned"
    return f"{took}, {say_duration(abs(late))} {'longer' if late > timedelta() else 'shorter'}"


def say_duration(length: timedelta) -> str:
    """Write a duration in minutes, or hours and minutes, or from two days on in days and hours.

    Examples
    --------
    >>> say_duration(timedelta(minutes=50)), say_duration(timedelta(hours=22, minutes=5))
    ('50 min', '22 h 5 min')
    """
    minutes = round(length.total_seconds() / 60)
    days, rest = divmod(minutes, 1440) if minutes >= 2880 else (0, minutes)
    hours, minutes = divmod(rest, 60)
    parts = [(days, "d"), (hours, "h"), (0 if days else minutes, "min")]
    return " ".join(f"{number} {unit}" for number, unit in parts if number) or "0 min"


def _log(case: Case) -> list[Block]:
    rows = sorted(case.rows["log"], key=lambda row: row["at"])
    if not rows:
        return [Missing("Nothing was noted during the work.")]
    head = ("When", "Stage", "Read", "Seen or done", "By")
    cells = tuple(
        (
            say_moment(row["at"], year=False),
            say_stage(row["stage"], row["cycle"]),
            f"{row['quantity']} {say_number(row, case.units)}" if row["value"] is not None else "–",
            row["remark"] or "–",
            row["by"],
        )
        for row in rows
    )
    return [Grid(head, cells, caption=f"By the clock, {say_years(row['at'] for row in rows)}")]


def _materials(case: Case) -> list[Block]:
    rows = sorted(case.rows["materials"], key=lambda r: (r["cycle"], STAGES.index(r["stage"])))
    if not rows:
        return [Missing("No materials are recorded.")]
    head = ("Stage", "Kind", "Material", "Lot", "Count", "Thickness", "Grammage", "Note")
    cells = tuple(
        (
            say_stage(row["stage"], row["cycle"]),
            row["kind"],
            row["material"],
            say_text(row["lot"]),
            "–" if row["count"] is None else str(row["count"]),
            say_number({"value": row["thickness_um"], "unit": "um"}, case.units),
            say_number({"value": row["grammage_gsm"], "unit": "gsm"}, case.units),
            say_use(case, row),
        )
        for row in rows
    )
    return [Grid(head, cells, frozenset({4, 5, 6}))]


def say_use(case: Case, row: Row) -> str:
    """Write the note of a material; a plan names materials before they are used, and it is said so."""
    steps = case.of("steps", stage=row["stage"], cycle=row["cycle"])
    used = any(step["actual_start"] for step in steps) or not steps
    notes = [row["note"] or "", "" if used else "planned, not recorded as used"]
    return "; ".join(note for note in notes if note) or "–"


def write_predictions(case: Case) -> Section:
    """Hold every planned number against what was measured."""
    blocks: list[Block] = []
    unmeasured: list[tuple[str, str]] = []
    for (stage, cycle), rows in plan_groups(case).items():
        if stage in ("intake", "review"):
            continue
        compared, left = compare_stage(case, stage, cycle, rows)
        # What carries no doubt was chosen or counted, not predicted.
        predicted = [value.name for value in left if value.uncertainty is not None]
        if predicted:
            unmeasured.append((say_stage(stage, cycle), "; ".join(predicted)))
        if compared:
            blocks.append(Heading(say_stage(stage, cycle).capitalize()))
            blocks.append(Drawing(draw_planned_beside_measured(compared, case.units)))
            blocks.append(_comparison_grid(compared, case))
    if not blocks:
        blocks.append(Missing("Nothing that was planned was measured."))
    if unmeasured:
        blocks += [Heading("Predicted, but not measured"), Facts(tuple(unmeasured))]
    return Section("predictions", "Predictions beside measurements", tuple(blocks))


def compare_stage(
    case: Case, stage: str, cycle: int, rows: list[Row]
) -> tuple[tuple[Comparison, ...], tuple[PlannedValue, ...]]:
    """Compare the numbers of one plan with the readings and the log of that stage and cycle."""
    planned = build_planned_values(rows)
    logged = case.of("log", stage=stage, cycle=cycle)
    before, number = nouns.before_cycle(cycle)
    read = Moments(
        before=partial(case.read, stage=before, cycle=number),
        stage=partial(case.read, stage=stage, cycle=cycle),
        review=partial(case.read, stage="review", cycle=cycle),
    )
    return compare_all(planned, gather_measured(stage, planned, read, logged))


def _comparison_grid(compared: tuple[Comparison, ...], case: Case) -> Grid:
    head = ("Quantity", "Planned", "Measured", "Difference", "Within the doubt of both")
    cells = tuple((c.name, *say_compared(c, case.units), c.agreement.value) for c in compared)
    return Grid(head, cells, frozenset({1, 2, 3}))


def write_result(case: Case) -> Section:
    """Say what became of every defect, of the size and of the thickness, and what was decided."""
    courses = build_courses(case.rows["defects"])
    blocks: list[Block] = [Heading("Defects before and after"), *_defects(courses)]
    blocks += [Heading("Size and thickness"), *_sizes(case)]
    blocks += [Heading("Decision at review"), *_review(case)]
    return Section("result", "Result", tuple(blocks))


def _defects(courses: tuple[DefectCourse, ...]) -> list[Block]:
    if not courses:
        return [Missing("No defects are listed, so no change can be told.")]
    seen = [c for c in courses if len(c.sightings) > 1]
    if not seen:
        return [Missing("No defect was looked at again after treatment.")]
    head = ("Defect", "Before", "After", "Change")
    cells = tuple(_course_cells(course) for course in courses)
    blocks: list[Block] = [Drawing(draw_defects(courses)), Grid(head, cells)]
    left = [c.name for c in courses if len(c.sightings) == 1]
    if left:
        blocks.append(Missing(f"Not looked at again: {'; '.join(left)}."))
    return blocks


def _course_cells(course: DefectCourse) -> tuple[str, ...]:
    before = f"{course.before.severity} {SEVERITIES[course.before.severity]}"
    if len(course.sightings) == 1:
        return course.name, before, "not looked at again", "–"
    after = "; ".join(f"cycle {s.cycle}: {s.severity} {SEVERITIES[s.severity]}" for s in course.sightings[1:])
    change = course.before.severity - course.last.severity
    words = "no change" if not change else f"{abs(change)} {'better' if change > 0 else 'worse'}"
    return course.name, before, after, words


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
    sizes = size_changes(case)
    blocks: list[Block] = []
    head = ("Place", "Before", "After", "Change", "Relative")
    cells: list[tuple[str, ...]] = [
        (
            size.name,
            say_measured(size.before, case.units),
            say_measured(size.after, case.units),
            say_change(size.change, case.units),
            say_change(size.relative, case.units),
        )
        for size in sizes
    ]
    if sizes:
        rules = DEFAULT_RULES
        growth, shortening = rules.most_growth.value, rules.most_shortening.value
        picture = draw_size_changes(sizes, case.units, growth_limit=growth, shortening_limit=shortening)
        blocks.append(Drawing(picture))
    else:
        blocks.append(Missing("Width and height were not read at one place before and after treatment."))
    if before.thicknesses is not None and after.thicknesses is not None:
        changes = compare_thicknesses(before.thicknesses, after.thicknesses)
        old = case.read("thickness", stage="intake", cycle=0)
        new = case.read("thickness", stage="review", cycle=cycle)
        cells += [
            (
                f"thickness, {place}",
                say_measured(old[place], case.units),
                say_measured(new[place], case.units),
                say_change(change, case.units),
                "–",
            )
            for place, change in changes.items()
        ]
    else:
        blocks.append(Missing("The thickness was not read both before and after treatment."))
    if before.mass is not None and after.mass is not None:
        masses = (say_measured(mass, case.units) for mass in (before.mass, after.mass))
        heavier = subtract_readings(after.mass, before.mass)
        cells.append(("mass", *masses, say_change(heavier, case.units), "–"))
    if cells:
        blocks.append(Grid(head, tuple(cells), frozenset({1, 2, 3, 4})))
    return blocks


def _review(case: Case) -> list[Block]:
    rows = [r for r in case.of("decisions", stage="review") if not r["decision"].startswith("consent")]
    if not rows:
        return [Missing("No decision at review is recorded.")]
    rows.sort(key=lambda row: row["decided_at"])
    return [Facts(tuple((f"After cycle {row['cycle']}", _say_decision(row)) for row in rows))]


def _say_decision(row: Row) -> str:
    """Write a decision with its reason, once where the reason begins with the decision."""
    reason = say_text(row["reason"])
    return reason if reason.lower().startswith(row["decision"].lower()) else f"{row['decision']}: {reason}"


def write_cautions(case: Case) -> Section:
    """Collect the cautions of every plan once, with the stages they belong to."""
    stages: dict[Caution, list[str]] = {}
    for (stage, cycle), rows in plan_groups(case).items():
        for caution in cautions_of(rows):
            stages.setdefault(caution, []).append(say_stage(stage, cycle))
    if not stages:
        return Section("cautions", "Cautions", (Text("The plans carry no cautions."),))
    told = tuple(
        Caution(c.verdict, f"{c.words} ({'; '.join(dict.fromkeys(where))})", c.source)
        for c, where in stages.items()
    )
    return Section("cautions", "Cautions", (Cautions(told),))
