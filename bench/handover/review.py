"""What the record knows about a cycle, gathered for its review."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

import numpy as np

from bench.errors import BenchError
from bench.handover.at_hand import AtHand
from bench.handover.cycles import plans_of
from bench.handover.learning import give_of_block
from bench.item import Format, Item
from bench.physics.contact import pressure_from_word
from bench.physics.ranges import Range
from bench.records import nouns
from bench.records.nouns import planned_values
from bench.records.snapshot import take_snapshot
from bench.records.store import Record
from bench.treatment import facts
from bench.treatment.actual.followed import is_of_logger
from bench.treatment.buffering.choices import USUAL_SHEET, BufferingChoices, planned_load
from bench.treatment.buffering.load import SEED
from bench.treatment.doses import Plans
from bench.treatment.interleaves import LADDER
from bench.treatment.plan import PlannedValue
from bench.treatment.recorded import build_conditions, build_courses, count_consented, gather_measured
from bench.treatment.review import ReviewChoices
from bench.treatment.review.comparison import DefectCourse, Examination
from bench.treatment.review.levers import Conditions
from bench.treatment.review.next_cycle import NextCycle, find_spots, margin_under_load, plan_next_cycle
from bench.uncertainty import Measured
from bench.units import Q_, Quantity

_RESTING = ("rest", "weigh")  # steps after the press, at room conditions
_IN_CYCLE = ("humidity", "buffering", "pressing")
_STAGES = ("cleaning", "humidity", "buffering", "pressing")


@dataclass(frozen=True)
class KnownCycle:
    """Everything that :func:`bench.treatment.review.plan_review` takes, as far as it is recorded.

    Attributes
    ----------
    cycle : int
        Which one it is.
    before, after : Examination
        Before treatment, and at the review of this cycle.
    courses : tuple of DefectCourse
        How each defect looked before treatment and after every cycle.
    planned : tuple of PlannedValue
        Of all stages of this cycle; a name that two stages share carries its stage.
    measured : dict of str to Measured
        By the name of the planned value.
    choices : ReviewChoices
        Conditions of the cycle, consent, rest, and the chances of the next rungs.
    following : NextCycle or None
        What wider spacings would do; None without readings after this cycle.
    plans : mapping of (str, int) to tuple of PlannedValue
        Of chamber and press of every cycle so far.
    is_begun : bool
        Whether anything is recorded of this cycle: a step done, a note in the log, a reading after it.
    """

    cycle: int
    before: Examination
    after: Examination
    courses: tuple[DefectCourse, ...]
    planned: tuple[PlannedValue, ...]
    measured: dict[str, Measured]
    choices: ReviewChoices
    following: NextCycle | None = None
    plans: Plans = field(default_factory=dict)
    is_begun: bool = True


def read_cycle(treatment: AtHand, cycle: int | None = None, *, load: Range | None = None) -> KnownCycle:
    """Gather what is recorded about a cycle.

    Parameters
    ----------
    treatment : AtHand
        Whose record is read, as it stands on the disk now.
    cycle : int, optional
        By default the cycle at hand.
    load : Range [pressure], optional
        Of the next cycle, for the chance that spine and staples stay free; by default as planned
        for this one, else medium.
    """
    record, item = take_snapshot(treatment.latest), treatment.item
    number = cycle or treatment.cycle
    by_stage = {stage: planned_values(record, stage, number) for stage in _STAGES}
    planned, measured = _beside(record, by_stage, number)
    done_with = build_conditions(by_stage)
    after = nouns.examination_of(record, item, stage="review", cycle=number)
    courses = build_courses(record.rows("defects"))
    fitted = give_of_block(treatment, number + 1)
    following = _follow(record, item, after, done_with, courses, by_stage["pressing"], load, number, fitted)
    choices = ReviewChoices(
        done_with=done_with,
        consented_cycles=count_consented(record.rows("decisions")),
        rested=_rested(record, number),
        chances={} if following is None else following.chances,
        hopes={} if following is None else following.hopes,
    )
    return KnownCycle(
        cycle=number,
        before=nouns.examination_of(record, item, stage="intake", cycle=0),
        after=after,
        courses=courses,
        planned=planned,
        measured=measured,
        choices=choices,
        following=following,
        plans=plans_of(record, number),
        is_begun=_is_begun(record, number),
    )


def _is_begun(record: Record, cycle: int) -> bool:
    """Tell whether the record holds anything that happened in a cycle, not only what was planned."""
    done = [row for row in record.rows("steps") if isinstance(row["actual_start"], datetime)]
    happened = [*done, *(row for row in record.rows("log") if not is_of_logger(row))]
    if any(row["stage"] in _IN_CYCLE and int(row["cycle"]) == cycle for row in happened):
        return True
    seen = [*record.rows("readings"), *record.rows("defects")]
    return any(int(row["cycle"]) == cycle for row in seen)


def _beside(
    record: Record, by_stage: Mapping[str, tuple[PlannedValue, ...]], cycle: int
) -> tuple[tuple[PlannedValue, ...], dict[str, Measured]]:
    """Put the planned values of all stages together with what was measured of them."""
    planned: list[PlannedValue] = []
    measured: dict[str, Measured] = {}
    for stage, values in by_stage.items():
        read = nouns.moments_of(record, stage, cycle)
        found = gather_measured(stage, values, read, *nouns.happened(record, stage, cycle))
        taken = {value.key for value in planned}
        for value in values:
            fact = value.fact
            if value.key in taken:  # chamber and press count the same doses
                fact = replace(fact, key=f"{fact.key} ({stage})", label=f"{fact.label} ({stage})")
            planned.append(replace(value, fact=fact))
            if value.key in found:
                measured[fact.key] = found[value.key]
    return tuple(planned), measured


def _rested(record: Record, cycle: int) -> Quantity | None:
    """Give the time from the last work in the press to the last reading at the review, as recorded."""
    ends = [
        row["actual_end"]
        for row in record.rows("steps")
        if (row["stage"], int(row["cycle"])) == ("pressing", cycle)
        and isinstance(row["actual_end"], datetime)
        and not str(row["name"]).startswith(_RESTING)
    ]
    read = [
        row["taken_at"]
        for row in record.rows("readings")
        if row["stage"] == "review" and int(row["cycle"]) == cycle
    ]
    if not ends or not read or max(read) < max(ends):
        return None
    return Q_(round((max(read) - max(ends)).total_seconds() / 3600, 1), "hour")


def _planned_load(pressing: Sequence[PlannedValue]) -> Range:
    """Give the load of the press plan, as wide as it was planned; medium if none was."""
    found = planned_load(pressing, facts.FACE_PRESSURE)
    return found[0] if found else pressure_from_word("medium")


def _follow(
    record: Record,
    item: Item,
    after: Examination,
    done_with: Conditions,
    courses: Sequence[DefectCourse],
    pressing: Sequence[PlannedValue],
    load: Range | None,
    cycle: int,
    fitted: Mapping[str, Any],
) -> NextCycle | None:
    """Work out what wider spacings would do, from the readings after this cycle."""
    if after.thicknesses is None or item.format is Format.SHEET:
        return None
    try:
        choices = BufferingChoices(
            load=load or _planned_load(pressing),
            interval=done_with.interval or LADDER[0],
            sheet=nouns.interleaf_of(record, cycle) or USUAL_SHEET,
            **fitted,
        )
        return plan_next_cycle(
            item,
            after.thicknesses,
            choices,
            find_spots(item, courses, record.rows("defects"), cycle=cycle),
            margin=margin_under_load(item, pressing),
            rng=np.random.default_rng(SEED),
        )
    except BenchError:  # a load or a reading outside what buffering can be planned for
        return None
