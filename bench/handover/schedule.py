"""What the plans hand to the clock: the steps of every stage, as usual where none is saved."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any

from bench.errors import BenchError
from bench.handover.at_hand import AtHand
from bench.handover.buffering import planned_interleaves
from bench.handover.cleaning import cleaning_choices
from bench.handover.humidity import usual_humidity
from bench.handover.intake import intake_of
from bench.handover.pressing import pressing_choices
from bench.physics.contact import pressure_from_word
from bench.treatment.buffering import BufferingChoices, plan_buffering
from bench.treatment.cleaning import plan_cleaning
from bench.treatment.plan import PlannedStep
from bench.treatment.pressing import plan_pressing


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
        "pressing": lambda: plan_pressing(
            treatment.item, treatment.thicknesses(cycle), pressing_choices(treatment, cycle), cycle=cycle
        ),
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


def _usual_buffering(treatment: AtHand, cycle: int) -> Any:
    planned = planned_interleaves(treatment, cycle)
    choices = BufferingChoices(
        load=pressure_from_word("medium"),
        interval=planned.interval,
        sheets=planned.sheets,
        sheet=planned.sheet,
    )
    return plan_buffering(treatment.item, treatment.thicknesses(cycle), choices, cycle=cycle)
