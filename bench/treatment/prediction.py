"""Runs of the transient model as the stages need them: kept, joined to intervals, told as exposures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bench.item import Answer, Item
from bench.physics.corrosion import WET_ABOVE
from bench.physics.exposure import Exposure
from bench.physics.ranges import Range, Triple, join_ends, shares_of
from bench.physics.transient import Course, History, Phase, simulate_together
from bench.physics.transient.history import HistoryStep
from bench.physics.transient.sequence import Company, CourseSetting, in_turn
from bench.stack import Role, Stack
from bench.treatment.plan import Assumption
from bench.units import Q_

Floats = NDArray[np.float64]

LIKELY, LOOSE = 1e-3, 3e-3
"""Tolerance of a step for the likely values and for the ends of an interval: activities are then right to
about 0.001 and 0.003, far within the doubts, and a panel answers at once."""

COVER_UNKNOWN = Range.of((10, 0, 60), "mm")
"""Cover of which it is not known whether it is coated, as still air: from none to tight."""

COATED_COVER = "coated cover"
"""What a cover that is or may be coated counts as."""

_WET = float(WET_ABOVE.to("").magnitude)  # no step may reach across it
_ALIKE, _WARMTH = 0.015, 2.0  # steps of a history that differ by less are told as one


def follow_together(courses: Sequence[Course]) -> tuple[History, ...]:
    """Run the model on courses side by side, or go on from where the very same ones were taken before.

    Stacks side by side share their steps, so that one is out in the fourth digit if its company changes:
    it is the whole company that is kept after each phase, and the same question always gets the same answer.
    """
    company = _begin(tuple(course.setting for course in courses))
    for phases in in_turn(courses):
        company = _through(company, phases)
    return company.histories


@lru_cache(maxsize=24)
def _begin(settings: tuple[CourseSetting, ...]) -> Company:
    return Company.begin(settings)


@lru_cache(maxsize=160)  # some ten plans of a press
def _through(company: Company, phases: tuple[Phase | None, ...]) -> Company:
    return company.through(phases)


@lru_cache(maxsize=6)
def follow_once(courses: tuple[Course, ...]) -> tuple[History, ...]:
    """Run the model on courses of many short phases: kept whole, not phase by phase.

    Parameters
    ----------
    courses : tuple of Course
        Side by side.
    """
    return tuple(simulate_together(courses))


def follow(course: Course) -> History:
    """Run the model on one course, or give the run that was made before."""
    return follow_together((course,))[0]


def follow_named(courses: Sequence[tuple[str, Course]]) -> tuple[tuple[str, History], ...]:
    """Run the model on courses side by side, each with the cause for which it is run."""
    histories = follow_together(tuple(course for _, course in courses))
    return tuple((cause, history) for (cause, _), history in zip(courses, histories, strict=True))


def join_runs(found: Sequence[tuple[str, float]]) -> tuple[Triple, dict[str, float]]:
    """Join one number of runs to an interval, as :func:`bench.physics.ranges.join_ends` does.

    Parameters
    ----------
    found : sequence of (str, float)
        The number of the likely run first, then of each run with an input at its end, with the cause.  What
        ranges over factors comes as its logarithm.

    Returns
    -------
    interval : (float, float, float)
        The likely number, and both ends.
    shares : dict of str to float
        What the doubt comes from.
    """
    (_, likely), *ends = [(cause, np.array([number])) for cause, number in found]
    low, high, squares = join_ends(likely, ends)
    return (float(likely[0]), float(low[0]), float(high[0])), shares_of(squares)


def leaves_as(paper: str | None) -> dict[Role, str] | None:
    """Have the leaves follow the isotherm of another paper, or their own."""
    return {Role.LEAF: paper} if paper else None


def assume_transport(ratio: Range, scale: Range | None, weighed: str) -> tuple[Assumption, ...]:
    """Say what is taken as given of the two constants that weighing finds, and where they come from.

    Parameters
    ----------
    ratio, scale : Range, dimensionless
        Transport of vapour over that in still air; water held over that of the published isotherm, None where
        this bench measured it and says so elsewhere.
    weighed : str
        Title of the item whose weighings gave them; empty if they are as published.
    """
    words = f"{ratio.say('')} of that in still air"
    if scale is None:
        return (Assumption("transport of vapour", words, "nilsson1993"),)
    if not weighed:
        fits = f"{scale.say('')} times its isotherm, as far as published fits of whole papers lie apart"
        return (
            Assumption("transport of vapour", words, "nilsson1993"),
            Assumption("water held by this paper", fits, "ashrae-regain"),
        )
    origin = f"from weighings of {weighed}"
    held = f"{scale.say('')} times the water of the published isotherm, {origin}"
    return (
        Assumption("transport of vapour", f"{words}, {origin}", "reading"),
        Assumption("water held by this paper", held, "reading"),
    )


def assume_unread(unread: Sequence[str]) -> tuple[Assumption, ...]:
    """Name the treatments of a bench whose weighings could not be read: a fit accepted there is not used."""
    if not unread:
        return ()
    words = f"not read: {', '.join(unread)}; a fit accepted there is not used, check the records"
    return (Assumption("weighings on this bench", words, "reading"),)


def with_its_cover(stack: Stack, item: Item) -> Stack:
    """Give the stack a cover that is a barrier to vapour if the item's is or may be coated."""
    if not item.cover_leaves:
        return stack
    name = "uncoated cover" if item.cover_coated is Answer.NO else COATED_COVER
    barrier = {COATED_COVER, "uncoated cover"}
    layers = tuple(
        replace(layer, material=name)
        if layer.role is Role.COVER and (name == COATED_COVER or layer.material in barrier)
        else layer
        for layer in stack.layers
    )
    return replace(stack, layers=layers)


def join_alike(steps: Sequence[Exposure | HistoryStep]) -> tuple[Exposure, ...]:
    """Tell a history in fewer steps: neighbours nearly alike become one, at their mean over time.

    A step never reaches across 80 % RH, so that the hours of wetness stay what they are.
    """
    found: list[list[Exposure | HistoryStep]] = []
    for step in steps:
        if step.hours == 0:
            continue
        first = found[-1][0] if found else None
        if (
            first is not None
            and abs(step.fraction - first.fraction) < _ALIKE
            and abs(step.celsius - first.celsius) < _WARMTH
            and (step.fraction > _WET) == (first.fraction > _WET)
        ):
            found[-1].append(step)
        else:
            found.append([step])
    return tuple(_mean(group) for group in found)


def _mean(group: list[Exposure | HistoryStep]) -> Exposure:
    hours = np.array([step.hours for step in group])
    whole = float(hours.sum())
    columns = [(s.celsius, s.fraction, s.moisture or 0.0) for s in group]
    celsius, fraction, moisture = (float(x) for x in hours @ np.array(columns) / whole)
    known = all(step.moisture is not None for step in group)
    return Exposure(
        Q_(whole, "hour"),
        Q_(celsius, "degC"),
        Q_(min(1.0, fraction), ""),
        Q_(moisture, "") if known else None,
    )
