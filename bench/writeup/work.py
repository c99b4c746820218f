"""Sections on what was done: the steps with their times, what was seen, what was used."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from bench.records.schema import STAGES
from bench.treatment.actual.acts import WORKING, kind_of
from bench.treatment.actual.followed import is_of_logger
from bench.treatment.actual.seen import LOOKED_IN
from bench.treatment.cleaning.log import tools_logged
from bench.treatment.clock.done import is_measured
from bench.units import join_words, upper_first
from bench.writeup.blocks import Block, Grid, Heading, Missing, Section, Text, listing
from bench.writeup.case import Case, Row, say_date, say_moment, say_number, say_span, say_years
from bench.writeup.words import say_cycles, say_stage

_TOOL = "cleaning tool"  # how a plan of cleaning names the kind of its materials
Places = dict[tuple[str, int], list[Row]]


def write_work(case: Case) -> Section:
    """Say what was done, cycle by cycle: every kind of step with its time, what was seen, what was used."""
    blocks: list[Block] = [*_done(case), *_undone(case)]
    blocks += [Heading("Seen and read during the work"), *_log(case), *_logged(case)]
    blocks += [Heading("Materials and tools"), *_materials(case)]
    return Section("work", "What was done", tuple(blocks))


def _by_place(rows: Sequence[Row]) -> Places:
    """Put steps together by stage and cycle, in the order in which they began."""
    places: Places = {}
    for row in sorted(rows, key=lambda r: (r["actual_start"] or r["planned_start"], r["step"])):
        places.setdefault((row["stage"], int(row["cycle"])), []).append(row)
    return places


def steps_of(case: Case) -> list[Row]:
    """Give the steps that have a time, planned or actual."""
    return [row for row in case.rows["steps"] if row["planned_start"] or row["actual_start"]]


def _done(case: Case) -> list[Block]:
    done = _by_place([row for row in steps_of(case) if row["actual_start"]])
    if not steps_of(case):
        return [Missing("No step is recorded.")]
    cells: list[tuple[str, ...]] = []
    for (stage, cycle), rows in done.items():
        cells.append((upper_first(say_stage(stage, cycle)),))
        kinds: dict[str, list[Row]] = {}
        for row in rows:
            kinds.setdefault(kind_of(row["name"]), []).append(row)
        cells += [_kind_cells(kind, of_kind) for kind, of_kind in kinds.items()]
    if not cells:
        return [Text("Nothing yet: none of the planned steps is recorded as begun.")]
    years = say_years(row["actual_start"] for rows in done.values() for row in rows)
    return [Grid(("Step", "When", "In all"), tuple(cells), caption=f"Times in {years}")]


def _kind_cells(kind: str, rows: Sequence[Row]) -> tuple[str, ...]:
    """Tell the steps of one kind in a row: how often, from when to when, how long in all."""
    ends = [row["actual_end"] for row in rows]
    over = all(isinstance(end, datetime) for end in ends)
    often = f"{kind}, {len(rows)} times" if len(rows) > 1 else rows[0]["name"]
    when = say_span(rows[0]["actual_start"], max(ends) if over else None, year=False)
    return often, when, say_took(rows) if over else "end not recorded"


def say_took(rows: Sequence[Row]) -> str:
    """Say how long ended steps took in all, and by how much that was longer or shorter than planned."""
    took = sum((row["actual_end"] - row["actual_start"] for row in rows), start=timedelta())
    if not all(is_measured(row["note"]) for row in rows):
        return f"{say_duration(took)}, not read off a clock"
    if not all(row["planned_start"] and row["planned_end"] for row in rows):
        return say_duration(took)
    planned = sum((row["planned_end"] - row["planned_start"] for row in rows), start=timedelta())
    late = took - planned
    if abs(late) < timedelta(minutes=1):
        return f"{say_duration(took)}, as planned"
    return f"{say_duration(took)}, {say_duration(abs(late))} {'longer' if late > timedelta() else 'shorter'}"


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


def _undone(case: Case) -> list[Block]:
    """Name what is overdue and what is still to come; stages that were never begun are named as such."""
    past: list[str] = []
    coming: list[str] = []
    whole: dict[int, list[str]] = {}
    for (stage, cycle), rows in _by_place(steps_of(case)).items():
        # A wait is no work, and a look-in may be left out at night.
        left = [r for r in rows if not r["actual_start"] and r["hands"] == "yes" and r["optional"] != "yes"]
        is_late = [row for row in left if not _is_to_come(row, case)]
        if is_late and stage in WORKING and not any(row["actual_start"] for row in rows):
            whole.setdefault(cycle, []).append(say_stage(stage))
            continue
        past += [row["name"] for row in is_late]
        coming += [f"{r['name']} ({say_date(r['planned_start'])})" for r in left if _is_to_come(r, case)]
    past = [f"{join_words(names)}, {say_cycles([cycle])}" for cycle, names in whole.items()] + past
    blocks: list[Block] = [Missing(f"Planned, but not recorded as done: {'; '.join(past)}.")] if past else []
    return [*blocks, Text(f"Still to come: {'; '.join(coming)}.")] if coming else blocks


def _is_to_come(row: Row, case: Case) -> bool:
    start = row["planned_start"]
    return case.at is not None and start is not None and start > case.at


def write_steps(case: Case) -> Section:
    """List every step with planned and actual times."""
    rows = steps_of(case)
    cells: list[tuple[str, ...]] = []
    for (stage, cycle), steps in _by_place(rows).items():
        cells.append((upper_first(say_stage(stage, cycle)),))
        cells += [
            (
                row["name"],
                say_span(row["planned_start"], row["planned_end"], year=False),
                say_span(row["actual_start"], row["actual_end"], year=False)
                if row["actual_start"]
                else "not recorded as done",
                say_took([row]) if row["actual_start"] and row["actual_end"] else "–",
            )
            for row in steps
        ]
    years = say_years(row["actual_start"] or row["planned_start"] for row in rows)
    head = ("Step", "Planned", "Done", "Took")
    table = Grid(head, tuple(cells), caption=f"Times in {years}")
    return listing("steps", "Every step, planned and done", table)


def _log(case: Case) -> list[Block]:
    """Write what was seen and read, one row for everything of one moment."""
    noted = [row for row in case.rows["log"] if not is_of_logger(row)]
    rows = sorted(noted, key=lambda row: row["at"])
    if not rows:
        return [Missing("Nothing was noted during the work.")]
    moments: dict[tuple[object, str, int], list[Row]] = {}
    for row in rows:
        moments.setdefault((row["at"], row["stage"], int(row["cycle"])), []).append(row)
    cells = tuple(
        (
            say_moment(at, year=False),
            say_stage(stage, cycle),
            upper_first("; ".join(said for row in seen if (said := _say_seen(row, case)))) or "–",
        )
        for (at, stage, cycle), seen in moments.items()
    )
    who = join_words(list(dict.fromkeys(str(row["by"]) for row in rows)))
    caption = f"Noted by {who}, {say_years(row['at'] for row in rows)}"
    return [Grid(("When", "Stage", "Seen and read"), cells, caption=caption)]


def _logged(case: Case) -> list[Block]:
    """Write a line for each logger that is kept: where it stood, when, what it said beside the plan."""
    rows = sorted(case.rows["loggers"], key=lambda row: row["first_reading"])
    return [Text(_say_logger(row)) for row in rows]


def _say_logger(row: Row) -> str:
    where = f"Logger in the {row['place']}, cycle {int(row['cycle'])}"
    when = f"{say_moment(row['first_reading'])} to {say_moment(row['last_reading'])}"
    said = f" {row['said']}" if row["said"] else ""
    return f"{where}: {int(row['readings']):,} readings, {when} ({row['file']}).{said}"


def _say_seen(row: Row, case: Case) -> str:
    if row["quantity"] == LOOKED_IN and not row["remark"]:
        return "looked in"
    number = f"{row['quantity']} {say_number(row, case.units)}" if row["value"] is not None else ""
    return "; ".join(said for said in (number, row["remark"] or "") if said)


def _materials(case: Case) -> list[Block]:
    """List what was used, several cycles in one row, then in a sentence what was only planned."""
    rows = sorted(case.rows["materials"], key=lambda r: (STAGES.index(r["stage"]), r["cycle"]))
    if not rows:
        return [Missing("No materials are recorded.")]
    found: dict[tuple[str, ...], list[int]] = {}
    for row in rows:
        if is_used(case, row):
            found.setdefault(_material_cells(case, row), []).append(int(row["cycle"]))
    cells = tuple(
        (*words, f"{say_stage(stage)}, {say_cycles(cycles)}".removesuffix(", "), note)
        for (*words, stage, note), cycles in found.items()
    )
    blocks: list[Block] = [Grid(("Material", "Number", "Used for", "Note"), cells)] if cells else []
    if cells and not any(row["lot"] for row in rows):
        blocks.append(Text("No lot numbers are recorded."))
    left = [str(row["material"]) for row in rows if not is_used(case, row)]
    if left:
        words = f"Planned, but not recorded as used: {join_words(list(dict.fromkeys(left)))}."
        blocks.append(Text(words))
    return blocks


def _material_cells(case: Case, row: Row) -> tuple[str, ...]:
    sizes = [
        say_number({"value": row[name], "unit": unit}, case.units)
        for name, unit in (("thickness_um", "um"), ("grammage_gsm", "gsm"))
        if row[name] is not None
    ]
    origin = [f"{words} {row[name]}" for name, words in (("lot", "lot"), ("supplier", "from")) if row[name]]
    more = f" ({', '.join([*sizes, *origin])})" if sizes or origin else ""
    name = f"{row['kind']}: {row['material']}{more}"
    count = "–" if row["count"] is None else str(row["count"])
    return name, count, row["stage"], row["note"] or "–"


def is_used(case: Case, row: Row) -> bool:
    """Tell whether a material was used: a tool by the log, anything else by the steps of its stage."""
    if row["stage"] == "cleaning" and row["kind"] == _TOOL:
        return row["material"] in tools_logged(case.rows["log"])
    steps = case.of("steps", stage=row["stage"], cycle=row["cycle"])
    return any(step["actual_start"] for step in steps) or not steps
