"""What the plans hand to the clock: the steps of every stage, as usual where none is saved."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from datetime import datetime
from typing import Any

from bench.errors import BenchError, NotYet
from bench.handover.at_hand import AtHand
from bench.handover.buffering import planned_interleaves
from bench.handover.cleaning import cleaning_choices
from bench.handover.humidity import usual_humidity
from bench.handover.intake import intake_of
from bench.handover.kept import with_what_stays
from bench.handover.pressing import pressing_choices
from bench.physics.contact import pressure_from_word
from bench.records.nouns import timeline_of
from bench.treatment.buffering import BufferingChoices, plan_buffering
from bench.treatment.buffering.choices import LoadPath
from bench.treatment.cleaning import plan_cleaning
from bench.treatment.clock.schedule import Step, Timeline, WorkingDay, replace_stage
from bench.treatment.intake import Decision, IntakePlan
from bench.treatment.plan import PlannedStep
from bench.treatment.pressing import plan_pressing

_USUAL = WorkingDay()


def usual_steps(
    treatment: AtHand, cycle: int, *, without: Collection[str] = ()
) -> dict[str, tuple[PlannedStep, ...]]:
    """Give the steps of every stage with its usual choices, without those that cannot be planned yet.

    Parameters
    ----------
    treatment : AtHand
        Whose stages are planned.
    cycle : int
        Of the steps.
    without : collection of str
        Stages that are left out because they stand in the schedule already.
    """
    makers: dict[str, Callable[[], Any]] = {
        "intake": lambda: intake_of(treatment),
        "cleaning": lambda: plan_cleaning(
            treatment.item, cleaning_choices(treatment, cycle=cycle), cycle=cycle
        ),
        "humidity": lambda: usual_humidity(treatment, cycle),
        "buffering": lambda: _usual_buffering(treatment, cycle),
        "pressing": lambda: _usual_pressing(treatment, cycle),
    }
    found = {}
    for stage, make in makers.items():
        if stage in without:
            continue
        try:
            steps = make().steps
        except BenchError:
            continue
        if steps:
            found[stage] = steps
    return found


def whole_timeline(
    treatment: AtHand, cycle: int, *, start: datetime, day: WorkingDay = _USUAL
) -> tuple[Timeline, tuple[str, ...]]:
    """Lay out the whole treatment: saved steps, and usual ones for the stages that have none.

    Parameters
    ----------
    treatment : AtHand
        At hand.
    cycle : int
        Whose stages are laid out.
    start : datetime
        When the treatment starts, used if nothing is in the schedule yet.
    day : WorkingDay
        In which steps by hand fall.

    Returns
    -------
    timeline : Timeline
        All steps by the clock.
    proposed : tuple of str
        Names of the stages that stand in it with their usual choices.

    Raises
    ------
    NotYet
        Nothing is saved and nothing can be planned yet.
    """
    timeline = timeline_of(treatment.record)
    steps = timeline.steps if timeline else ()
    proposed = []
    for stage, planned in usual_steps(treatment, cycle, without=_standing(treatment, cycle, steps)).items():
        at = 0 if stage == "intake" else cycle
        timeline = replace_stage(timeline, stage, at, planned, start=start, day=day)
        proposed.append(stage)
    if timeline is None:
        raise NotYet("schedule", "empty", "a plan of one stage", "Describe the item at intake first")
    return timeline, tuple(proposed)


def _standing(treatment: AtHand, cycle: int, steps: Sequence[Step]) -> set[str]:
    """Give the stages that stand in the schedule of a cycle, or that are done already."""
    standing = {step.stage for step in steps if step.cycle == cycle}
    if cycle > 1 or any(row["stage"] == "intake" for row in treatment.record.rows("decisions")):
        standing.add("intake")
    if cycle > 1 or any(step.stage == "cleaning" for step in steps):
        standing.add("cleaning")  # once, before the first cycle
    return standing


def referral_of(treatment: AtHand) -> IntakePlan | None:
    """Give what intake decided, if it refers the item: then no stage is laid out."""
    try:
        plan = intake_of(treatment)
    except BenchError:  # not described yet: nothing is decided
        return None
    return plan if plan.decision is Decision.REFER else None


def _usual_pressing(treatment: AtHand, cycle: int) -> Any:
    choices = with_what_stays(treatment, "pressing", cycle, pressing_choices(treatment, cycle))
    return plan_pressing(treatment.item, treatment.thicknesses(cycle), choices, cycle=cycle)


def _usual_buffering(treatment: AtHand, cycle: int) -> Any:
    planned = planned_interleaves(treatment, cycle)
    choices = BufferingChoices(
        load=pressure_from_word("medium"),
        interval=planned.interval,
        sheets=planned.sheets,
        sheet=planned.sheet,
        path=with_what_stays(treatment, "buffering", cycle, LoadPath()),
    )
    return plan_buffering(treatment.item, treatment.thicknesses(cycle), choices, cycle=cycle)
