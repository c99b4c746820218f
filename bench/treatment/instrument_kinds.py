"""Which instruments are checked alike, and how what a check found carries over to their other readings."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bench.physics.ranges import REACH, Range
from bench.treatment.measured import (
    BALANCE_CORRECTION,
    HYGROMETER_75,
    HYGROMETER_97,
    LENGTH_CORRECTION,
    THERMOMETER_0,
    THERMOMETER_100,
    Constant,
)
from bench.treatment.needed import instruments_for
from bench.units import difference_unit


@dataclass(frozen=True)
class InstrumentKind:
    """Instruments that are checked alike, and how what was found carries over to other readings.

    Attributes
    ----------
    instruments : tuple of str
        As readings name them, the usual one first.
    unit, delta : str
        Of what they show, and of its differences.
    points : mapping of Constant to float
        What a check finds, and near which reading in ``unit``; the first is always found.
    grows : float
        Standard uncertainty a unit of distance from the nearest point.
    is_share : bool
        Whether what is found is a share of what is shown: a line through zero.
    least : mapping of str to float
        By the instrument: standard uncertainty that is left whatever a share says, in ``unit``.
    """

    instruments: tuple[str, ...]
    unit: str
    points: Mapping[Constant, float]
    grows: float = 0.0
    is_share: bool = False
    least: Mapping[str, float] | None = None

    @property
    def delta(self) -> str:
        """Unit of differences."""
        return difference_unit(self.unit)

    def points_near(self, found: Mapping[str, Range], value: float) -> tuple[float, float]:
        """Give correction and standard uncertainty near a reading, in ``unit``.

        Notes
        -----
        Straight between two points, beyond them as at the nearer one; to its doubt is added that of what lies
        between, in proportion to the distance from the nearest point.
        """
        known = [(spot, found[each.key]) for each, spot in self.points.items() if each.key in found]
        spots = [spot for spot, _ in known]
        corrections = [float(each.value.to(self.delta).magnitude) for _, each in known]
        doubts = [standard_of(each, self.delta) for _, each in known]
        own = float(np.interp(value, spots, np.square(doubts)))  # no less than of independent ends
        away = self.grows * min(abs(value - spot) for spot in spots)
        return float(np.interp(value, spots, corrections)), math.hypot(math.sqrt(own), away)

    def share_near(self, found: Mapping[str, Range], value: float, instrument: str) -> tuple[float, float]:
        """Give correction and standard uncertainty of a share of a reading, in ``unit``."""
        share = found[next(iter(self.points)).key]
        part, doubt = (float(share.value.to("").magnitude), standard_of(share, "dimensionless"))
        return part * value, math.hypot(doubt * value, (self.least or {}).get(instrument, 0.0))


def standard_of(found: Range, unit: str) -> float:
    """Give the standard uncertainty of a range: the wider half of its interval."""
    value, low, high = found.floats(unit, field="correction")
    return max(high - value, value - low) / REACH


def _names(quantity: str) -> tuple[str, ...]:
    return tuple(each.name for each in instruments_for(quantity))


def _one_step(quantity: str) -> dict[str, float]:
    """Give one step taken as a limit: how far a scale bends between its weights; judgement."""
    return {each.name: float(each.step.magnitude) / math.sqrt(3) for each in instruments_for(quantity)}


# How the doubt grows away from the points is judgement: makers of calipers allow some hundredths more for a
# long reading than for a short one, those of hygrometers a point more towards the ends of their scale, those
# of thermocouples half a per cent of what they show; all from memory.
LENGTHS = InstrumentKind(_names("thickness"), "mm", {LENGTH_CORRECTION: 0.0}, grows=1e-4)
MASSES = InstrumentKind(
    _names("mass"), "g", {BALANCE_CORRECTION: 0.0}, is_share=True, least=_one_step("mass")
)
HYGROMETERS = InstrumentKind(
    ("hygrometer", "data logger"), "percent", {HYGROMETER_75: 75.3, HYGROMETER_97: 97.4}, grows=0.04
)
THERMOMETERS = InstrumentKind(
    ("thermometer", "thin probe"), "degC", {THERMOMETER_0: 0.0, THERMOMETER_100: 100.0}, grows=0.003
)
KINDS = (LENGTHS, MASSES, HYGROMETERS, THERMOMETERS)


def kind_of(instrument: str) -> InstrumentKind | None:
    """Give the kind of an instrument; None for one that is never checked, such as a rule."""
    return next((kind for kind in KINDS if instrument in kind.instruments), None)
