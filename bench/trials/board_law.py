"""The bending stiffness of a board, fitted to the heights of its tip."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from bench.errors import BadValue
from bench.physics.arrays import Floats
from bench.physics.bearing.cantilever import sink_by_own_mass, sink_by_tip_load
from bench.physics.contact import STANDARD_GRAVITY
from bench.physics.ranges import REACH, Range
from bench.treatment.measured import BOARD_BENDING
from bench.trials.board_asked import (
    DOWN,
    DOWN_LOADED,
    EDGE,
    FREE,
    LENGTH,
    MASS,
    TIP_MASS,
    UP,
    UP_LOADED,
    WIDTH,
)
from bench.trials.fitting import LeastSquares, covariance_of, fit_readings, read_pooled
from bench.trials.protocol import Asked, Readings

# Doubts that reading again does not average away: judgement, no published figure was found.
CLAMP_MM = 1.0  # standard: where a clamped board really begins to bend
PLACE_MM = 1.5  # standard: where the small mass really pulls
ANOTHER_BOARD = 0.08  # standard, of the logarithm: another board of the lot, and another day's humidity
MOST_SUNK = 0.2  # of the free length: refused beyond


@dataclass(frozen=True)
class Cantilever:
    """A board as it stands out.

    Attributes
    ----------
    free, width : float
        Of the part that stands out, m.
    areal, force : float
        Weight per area, N/m2, and of the small mass, N.
    """

    free: float
    width: float
    areal: float
    force: float

    def own(self, bending: float, clamp: float = 0.0) -> float:
        """Give how far it sinks by its own mass, m; it begins to bend by ``clamp`` further in."""
        return sink_by_own_mass(self.areal, self.free + clamp, bending)

    def loaded(self, bending: float, clamp: float = 0.0, place: float = 0.0) -> float:
        """Give how much the small mass adds, m; it pulls nearer to the clamp by ``place``."""
        at = self.free + clamp - place
        return sink_by_tip_load(self.force, self.width, at, bending) * (1 + 1.5 * place / at)


def setting_of(readings: Readings) -> Cantilever:
    """Give how the board stood out; BadValue where more of it is free than there is."""
    free, length, width = (1e-3 * readings.number(asked) for asked in (FREE, LENGTH, WIDTH))
    if free >= length:
        came, allowed = f"{1e3 * free:.0f} mm", f"less than the whole board, {1e3 * length:.0f} mm"
        raise BadValue(FREE.label.lower(), came, allowed, "Measure from the clamp to the tip")
    areal = 1e-3 * readings.number(MASS) * STANDARD_GRAVITY / (length * width)
    return Cantilever(free, width, areal, 1e-3 * readings.number(TIP_MASS) * STANDARD_GRAVITY)


def fit_beam(readings: Readings, setting: Cantilever, tips: tuple[Asked, ...]) -> LeastSquares:
    """Fit height of the clamp, warp, stiffness (its logarithm), and where it begins and the mass pulls."""
    read = read_pooled(readings, (EDGE, *tips))
    heights = np.array([1e-3 * float(one.value.to("mm").magnitude) for one in read])
    signs = np.array([-1.0 if tip in (DOWN, DOWN_LOADED) else 1.0 for tip in tips])
    hung = np.array([tip in (UP_LOADED, DOWN_LOADED) for tip in tips])

    def model(point: Floats) -> Floats:
        edge, warp, log_bending, clamp, place = point
        bending = math.exp(log_bending)
        sunk = setting.own(bending, clamp) + hung * setting.loaded(bending, clamp, place)
        return np.r_[edge, edge + signs * warp - sunk]

    added = heights[1 + tips.index(UP)] - heights[1 + tips.index(UP_LOADED)]
    begin = math.log(setting.loaded(1.0) / max(added, 1e-5))
    long_rule = math.hypot(1e-3 * CLAMP_MM, float(readings.measured(FREE).standard.to("m").magnitude))
    believed = [None, None, None, (0.0, long_rule), (0.0, 1e-3 * PLACE_MM)]
    spread = covariance_of(read, "m")
    return fit_readings(model, [heights[0], 0.0, begin, 0.0, 0.0], heights, spread, believed=believed)


def check_sinking(readings: Readings, setting: Cantilever, law: LeastSquares) -> float:
    """Give the most that the tip sinks as a part of the free length, or refuse it."""
    bending = math.exp(float(law.values[2]))
    part = (setting.own(bending) + setting.loaded(bending)) / setting.free
    if not part <= MOST_SUNK:
        came, allowed = f"{100 * part:.0f} % of the free length", f"at most {100 * MOST_SUNK:.0f} %"
        raise BadValue(
            "sinking of the tip", came, allowed, "Clamp it with less of it free, or take a lighter mass"
        )
    return part


def find_stiffness(readings: Readings, law: LeastSquares, part: float) -> Range:
    """Give the stiffness with its interval; where the tip sinks far the law itself adds to the doubt."""
    middle, own = float(law.values[2]), float(law.covariance[2, 2])
    hung = readings.measured(TIP_MASS)
    grams = float((hung.standard / hung.value).to("").magnitude)
    u = math.sqrt(own + ANOTHER_BOARD**2 + part**4 + grams**2)
    return Range.of((math.exp(middle + k * REACH * u) for k in (0, -1, 1)), BOARD_BENDING.unit)
