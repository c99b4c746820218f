"""Defects and pressure: whether enough arrives where a crease or a dent lies, and what may relax."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from bench.item import Item
from bench.physics.bearing.results import Bearing
from bench.physics.softening import Margin
from bench.units import Q_, Quantity, to_float

# Chance of enough pressure from which a spot counts as pressed, and below which as left out.  Chosen here.
_REACHED, _LEFT_OUT = 0.8, 0.2


class Hope(StrEnum):
    """How likely a crease or dent relaxes."""

    LIKELY = "likely"
    POSSIBLE = "possible"
    UNLIKELY = "unlikely"


@dataclass(frozen=True)
class Spot:
    """A place of a defect.

    Attributes
    ----------
    name : str
        ``"d1"``, ``"crease at the spine"``, ...
    from_spine : Quantity
        Of its middle.
    width : Quantity
        Across, spine to fore edge; the pressure is that of its least pressed part.
    """

    name: str
    from_spine: Quantity
    width: Quantity = field(default_factory=lambda: Q_(0.0, "mm"))


@dataclass(frozen=True)
class SpotJudgement:
    """What to expect of one spot.

    Attributes
    ----------
    spot : Spot
        The place.
    pressure : Quantity
        Median at its least pressed part.
    reached : float
        Chance that enough pressure arrives there.
    hope : Hope
        How likely it relaxes.
    why : str
        In half a sentence.
    """

    spot: Spot
    pressure: Quantity
    reached: float
    hope: Hope
    why: str

    @property
    def words(self) -> str:
        """What to expect and why, in a sentence."""
        chance = f"{100 * self.reached:.0f} %"
        return (
            f"{self.spot.name}: {self.hope.value} to relax, because {self.why} "
            f"(chance of enough pressure {chance})."
        )


def judge_spots(
    item: Item, bearing: Bearing, spots: Sequence[Spot], margin: Margin
) -> tuple[SpotJudgement, ...]:
    """Judge where enough pressure arrives and what may relax there.

    Parameters
    ----------
    item : Item
        For its width.
    bearing : Bearing
        Of the plan of sheets.
    spots : sequence of Spot
        Where the defects lie.
    margin : Margin
        Of the fibres while the load is on (:func:`bench.physics.softening.fibre_margin`).

    Returns
    -------
    tuple of SpotJudgement

    Raises
    ------
    BadValue, UnitMismatch
        A spot beside the item.

    Notes
    -----
    A plain rule, chosen here and not measured: *likely* where pressure is nearly sure and the fibres
    are soft; *unlikely* where pressure hardly arrives or the fibres are stiff; *possible* between.
    Pressure between staples; a spot beside a wire is marked rather than helped by it.
    """
    width = float(item.width.to("mm").magnitude)
    return tuple(_judge(spot, width, bearing, margin) for spot in spots)


def _judge(spot: Spot, width: float, bearing: Bearing, margin: Margin) -> SpotJudgement:
    middle = to_float(spot.from_spine, "mm", field=f"{spot.name} from spine", low=0, high=width)
    half = 0.5 * to_float(spot.width, "mm", field=f"width of {spot.name}", low=0, high=width)
    curve = bearing.curve
    places = curve.places.to("mm").magnitude
    asked = np.linspace(max(middle - half, 0.0), min(middle + half, width), 9)
    pressure = np.interp(asked, places, curve.pressure.to("kPa").magnitude, left=0.0)
    reached = float(np.interp(asked, places, curve.reached, left=0.0).min())
    if reached >= _REACHED and margin.verdict == "soft":
        hope, why = Hope.LIKELY, "enough pressure is nearly sure there, and the fibres are soft"
    elif reached <= _LEFT_OUT:
        hope, why = Hope.UNLIKELY, "hardly any pressure arrives there"
    elif margin.verdict == "stiff":
        hope, why = Hope.UNLIKELY, "the fibres stay stiff"
    elif margin.verdict == "soft":
        hope, why = Hope.POSSIBLE, "the fibres are soft, but pressure there is not sure"
    else:
        hope, why = Hope.POSSIBLE, "the fibres may not be soft enough"
        if reached < _REACHED:
            why += ", and pressure there is not sure"
    least = Q_(float(pressure.min()), "kPa")
    return SpotJudgement(spot, least, reached, hope, why)
