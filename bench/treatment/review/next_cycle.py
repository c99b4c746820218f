"""The next cycle: where the load would go with wider spacings, and which defects it would reach."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from bench.errors import BenchError
from bench.item import Item, Thicknesses
from bench.physics.bearing.results import Bearing
from bench.physics.bearing.spots import Hope, Spot, SpotJudgement, judge_spots
from bench.physics.ranges import Range
from bench.physics.softening import Margin, fibre_margin
from bench.physics.sorption import moisture_content
from bench.treatment import facts
from bench.treatment.buffering.choices import BufferingChoices
from bench.treatment.buffering.load import find_spacing, weigh_spacings
from bench.treatment.intake.defects import spine_side
from bench.treatment.interleaves import LADDER
from bench.treatment.plan import PlannedValue, by_key
from bench.treatment.review.comparison import DefectCourse
from bench.treatment.review.judges import next_rung
from bench.units import Q_, Quantity

# Planned values of the press that say how warm and how damp the leaves are under load.
WARMTH, DAMP = facts.FAR_LEAF, facts.NIGHT_HUMIDITY

DAMPEST = Q_(98.0, "percent")
"""Relative humidity up to which the moisture of the leaves is reckoned."""


@dataclass(frozen=True)
class NextCycle:
    """What wider spacings would do, given the readings after the last cycle.

    Attributes
    ----------
    interval : int
        Leaves between sheets for which the defects are judged: the next rung of the ladder.
    loads : tuple of Bearing
        Of the rungs of the ladder and the balanced plans between.
    spots : tuple of SpotJudgement
        Of each defect that pressing could help.
    margin : Margin or None
        Of the fibres, as warm and damp as in the last cycle; None if that was not planned.
    """

    interval: int
    loads: tuple[Bearing, ...]
    spots: tuple[SpotJudgement, ...] = ()
    margin: Margin | None = None

    @property
    def chances(self) -> dict[int, float]:
        """Chance that spine and staples are not loaded beyond their limits, by leaves between sheets."""
        return {i: 1 - load.chance for load in self.loads for i in load.intervals}

    @property
    def hopes(self) -> dict[str, Hope]:
        """How likely each judged defect relaxes, by its name."""
        return {spot.spot.name: spot.hope for spot in self.spots}


def plan_next_cycle(
    item: Item,
    thicknesses: Thicknesses,
    choices: BufferingChoices,
    spots: Sequence[Spot],
    *,
    margin: Margin | None,
    rng: np.random.Generator,
    samples: int = 500,
) -> NextCycle:
    """Work out what the rungs of the ladder would do in the next cycle.

    Parameters
    ----------
    item : Item
    thicknesses : Thicknesses
        Read after the last cycle.
    choices : BufferingChoices
        Of the last cycle; the rung after its spacing is what the defects are judged for.
    spots : sequence of Spot
        Of :func:`find_spots`.
    margin : Margin or None
        Of :func:`margin_under_load`; without it no defect is judged.
    rng : numpy.random.Generator
    samples : int

    Returns
    -------
    NextCycle

    Raises
    ------
    BadValue, OutOfRange
        As :func:`bench.treatment.buffering.load.weigh_spacings`.
    """
    interval = next_rung(choices.interval) or choices.interval
    loads = weigh_spacings(
        item, thicknesses, choices, rng=rng, intervals=(*LADDER, interval), samples=samples
    )
    judged: tuple[SpotJudgement, ...] = ()
    if margin is not None:
        judged = judge_spots(item, find_spacing(loads, interval), spots, margin)
    return NextCycle(interval, loads, judged, margin)


def find_spots(
    item: Item, courses: Iterable[DefectCourse], rows: Iterable[Mapping[str, Any]], *, cycle: int
) -> list[Spot]:
    """Say how far from the spine each defect lies that pressing could help.

    Parameters
    ----------
    item : Item
    courses : iterable of DefectCourse
        Those that are gone, out of scope, or that pressing cannot help are left out.
    rows : iterable of mappings
        Of the table ``defects``; the last one with a place counts.
    cycle : int
        The cycle just finished.

    Returns
    -------
    list of Spot
        A defect on the spine lies at the spine; one on an edge lies along the whole width and is
        left out, as is one without a place.
    """
    placed = {str(row["defect"]): row for row in rows if _is_number(row.get("x_mm"))}
    found = []
    for course in courses:
        row = placed.get(course.defect)
        seen = course.after(cycle) or course.before
        if row is None or not course.counts or seen.severity == 0:
            continue
        place = _from_spine(item, str(row["face"]), float(row["x_mm"]), _width(row))
        if place is not None:
            found.append(Spot(course.name, *place))
    return found


def _from_spine(item: Item, face: str, left: float, width: float) -> tuple[Quantity, Quantity] | None:
    """Give middle and width of a defect, from the spine, within the page."""
    if face.endswith("edge"):
        return None
    if face == "spine":
        return Q_(0.0, "mm"), Q_(0.0, "mm")
    page = float(item.width.to("mm").magnitude)
    start, end = left, left + width
    if spine_side(face) == "right":
        start, end = page - end, page - start
    start, end = max(start, 0.0), min(end, page)
    return (Q_((start + end) / 2, "mm"), Q_(end - start, "mm")) if end >= start else None


def _width(row: Mapping[str, Any]) -> float:
    return float(row["width_mm"]) if _is_number(row.get("width_mm")) else 0.0


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and value == value


def margin_under_load(item: Item, planned: Iterable[PlannedValue]) -> Margin | None:
    """Tell how soft the fibres were planned to be under load, from the plan of the press.

    Parameters
    ----------
    item : Item
        For its paper.
    planned : iterable of PlannedValue

    Returns
    -------
    Margin or None
        None if warmth or damp was not planned, or lies outside what the models hold for.

    Notes
    -----
    Limits of the humidity beyond :data:`DAMPEST` count as that: nearer to saturation no isotherm holds,
    and wetter fibres are only softer, so that nothing is promised that way.
    """
    known = by_key(planned)
    warmth, damp = known.get(WARMTH.key), known.get(DAMP.key)
    if warmth is None or damp is None:
        return None
    try:
        ends = _ends(damp)
        water = [moisture_content(item.text_paper, min(end, DAMPEST)) for end in ends]
        content = Range(water[0].value, water[1].low, water[2].high)
        return fibre_margin(temperature=Range(*_ends(warmth)), moisture_content=content)
    except BenchError:
        return None


def _ends(value: PlannedValue) -> tuple[Quantity, Quantity, Quantity]:
    """Give value, low and high in the unit of the value."""
    low, high = (end.to(value.unit) for end in value.ends)
    return value.value.to(value.unit), low, high
