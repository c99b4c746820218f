"""Pfeiffer's law and the thinning, fitted to a pile of scrap as it was read."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bench.errors import BadValue
from bench.physics.arrays import Floats
from bench.physics.bearing.knowns import Assumed
from bench.physics.contact import HIGHEST_KPA, STANDARD_GRAVITY
from bench.physics.ranges import REACH, Range
from bench.treatment.measured import K1, K2, THINNING
from bench.trials.fitting import LeastSquares, covariance_of, factor_of, fit_readings, read_pooled
from bench.trials.pile_asked import AGAIN, FOOT, REST, SECOND, ZERO
from bench.trials.protocol import Asked, Readings
from bench.uncertainty import Measured

BELIEVED = Assumed()

# Doubts that reading again does not average away.  All are judgement: no published figure was found.
EDGE_MM = 1.0  # by how much leaves stand out beyond the foot, or fall short of it, at most
WEIGHTS = 0.01  # standard, of the scale on which the weights were checked
SETTLING_MM = 0.008  # standard: the foot finds another seat under every load
ANOTHER_PILE = {"k1": 0.15, "k2": 0.08}  # standard, of the logarithm: the block against the scrap
ANOTHER_THINNING = 0.25  # standard, as a part: another pile, another load within a factor of two or so
ROOM = 0.003  # standard, of the thickness: a room some 5 % RH damper or drier at the second reading


def believed_of(about: str) -> dict[str, Range]:
    """Give what plans believe of its constants without the trial, of any paper alike."""
    return {K1.key: BELIEVED.k1, K2.key: BELIEVED.k2, THINNING.key: BELIEVED.thinning}


@dataclass(frozen=True)
class Pile:
    """What was read of the pile in one state.

    Attributes
    ----------
    levels : tuple of int
        Kilograms on the foot.
    pressures, heights : array (n,)
        kPa, and mm without plate and foot.
    covariance : array (n, n)
        Of the heights, mm2.
    """

    levels: tuple[int, ...]
    pressures: Floats
    heights: Floats
    covariance: Floats


def pressure_under(readings: Readings, kilograms: float) -> float:
    """Give the pressure under a weight, kPa."""
    rest = readings.number(REST) if readings.has(REST) else 0.0
    if kilograms + rest <= 0:
        remedy = "Weigh foot and tray, or leave the reading under them out"
        raise BadValue(
            REST.label.lower(), f"{rest:g} kg", "above zero, where it was read under them alone", remedy
        )
    area = math.pi * (readings.number(FOOT) * 1e-3) ** 2 / 4
    pressure = (kilograms + rest) * STANDARD_GRAVITY / area * 1e-3
    if pressure > HIGHEST_KPA:
        remedy = "Take a larger foot: paper is crushed there"
        raise BadValue(
            "pressure on the pile", f"{pressure:.0f} kPa", f"at most {HIGHEST_KPA:.0f} kPa", remedy
        )
    return pressure


def read_pile(readings: Readings, asked: Mapping[int, Asked]) -> Pile:
    """Give the heights of the pile: every reading less the one without it, so that the caliper cancels."""
    known = {level: one for level, one in asked.items() if readings.has(one)}
    zero, *found = read_pooled(readings, (ZERO, *known.values()))
    heights: list[Measured] = [one - zero for one in found]
    values = np.array([float(one.value.to("mm").magnitude) for one in heights])
    for level, value in zip(known, values, strict=True):
        if value < 0.3:
            remedy = "Enter plate, pile and foot together, and the same without the pile"
            raise BadValue(
                f"thickness of the pile under {level} kg", f"{value:.2f} mm", "0.3 mm or more", remedy
            )
    spread = covariance_of(heights, "mm") + np.eye(len(heights)) * SETTLING_MM**2
    return Pile(tuple(known), np.array([pressure_under(readings, m) for m in known]), values, spread)


def strain(pressures: Floats, k1: float) -> Floats:
    """Give Pfeiffer's strain times K2, ``ln(1 + p / K1)``, for pressures and K1 in kPa."""
    return np.log1p(pressures / k1)


def fit_law(readings: Readings, pile: Pile) -> LeastSquares:
    """Fit height, K1 and K2 (as logarithms) and the error that all pressures share."""
    foot = readings.number(FOOT)
    shared = math.hypot(2 * EDGE_MM / foot / math.sqrt(3), WEIGHTS)

    def model(point: Floats) -> Floats:
        height, k1, k2, error = np.exp(point)
        return np.asarray(height * (1 - strain(pile.pressures * error, k1) / k2))

    believed = [_belief(K1.key), _belief(K2.key)]
    wide = [
        (value, math.hypot(u, ANOTHER_PILE[key]))
        for key, (value, u) in zip(("k1", "k2"), believed, strict=True)
    ]
    start = [math.log(1.03 * pile.heights[0]), believed[0][0], believed[1][0], 0.0]
    return fit_readings(model, start, pile.heights, pile.covariance, believed=[None, *wide, (0.0, shared)])


def _belief(key: str) -> tuple[float, float]:
    """Give median and standard uncertainty of the logarithm of what is believed of a constant."""
    constant = {"k1": K1, "k2": K2}[key]
    value, low, high = getattr(BELIEVED, key).floats(constant.unit, field=constant.label)
    return math.log(value), math.log(high / low) / (2 * REACH)


def find_constants(fit: LeastSquares) -> dict[str, Range]:
    """Give K1 and K2 of the paper: those of the pile, with what another pile of it may differ by."""
    found = {}
    for number, (key, unit) in enumerate((("k1", K1.unit), ("k2", K2.unit)), start=1):
        centre, u0 = _belief(key)
        wide = u0**2 + ANOTHER_PILE[key] ** 2
        gain = u0**2 / wide
        middle = centre + gain * (float(fit.values[number]) - centre)
        u = math.sqrt(gain**2 * float(fit.covariance[number, number]) + gain * ANOTHER_PILE[key] ** 2)
        found[key] = Range.of((factor_of(middle + k * REACH * u) for k in (0, -1, 1)), unit)
    return found


def find_thinning(readings: Readings) -> Range | None:
    r"""Give the thinning; None where it was not read.

    Notes
    -----
    .. math:: s = 1 - T_{again} / T_{second}

    both dry, under 1 kg, with the same caliper: as :class:`bench.physics.bearing.knowns.Assumed` has it, the
    text block before and after pressing read with one gauge.  Before is the *second* dry loading: what the
    first one flattens for good a caliper flattens too, before anything is treated.  Joined with what is
    believed over a grid, since it cannot be below zero.
    """
    if not (readings.has(AGAIN) and readings.has(SECOND[1])):
        return None
    zero, before, after = read_pooled(readings, (ZERO, SECOND[1], AGAIN))
    (tall, left), spread = _heights(zero, before, after)
    share = 100 * (1 - left / tall)
    slope = np.array([left / tall, -1.0]) * 100 / tall
    variance = float(slope @ spread @ slope) + (100 * ROOM) ** 2
    if share < -4 * math.sqrt(variance) - 0.5 or share > 30:
        remedy = "Let it dry two days in the same room, seat the foot, and read it again"
        raise BadValue("thinning of the pile", f"{share:.1f} %", "about 0 to 30 %", remedy)
    value, low, high = BELIEVED.thinning.floats("percent", field="thinning")
    grid = np.linspace(0.0, 40.0, 8001)
    u = np.where(grid > value, high - value, value - low) / REACH
    prior = np.exp(-0.5 * ((grid - value) / u) ** 2) / u * grid[1] / math.sqrt(2 * math.pi)
    prior[0] += 0.025  # what would lie below zero: no thinning at all
    sigma = np.sqrt(variance + (ANOTHER_THINNING * grid) ** 2)
    likely = prior * np.exp(-0.5 * ((share - grid) / sigma) ** 2) / sigma
    part = np.cumsum(likely) / likely.sum()
    return Range.of((float(np.interp(p, part, grid)) for p in (0.5, 0.025, 0.975)), "percent")


def _heights(zero: Measured, before: Measured, after: Measured) -> tuple[Floats, Floats]:
    heights = (before - zero, after - zero)
    values = np.array([float(one.value.to("mm").magnitude) for one in heights])
    if (values < 0.3).any():
        remedy = "Enter plate, pile and foot together"
        raise BadValue("thickness of the pile", f"{values.min():.2f} mm", "0.3 mm or more", remedy)
    return values, covariance_of(heights, "mm") + np.eye(2) * SETTLING_MM**2
