"""Readings of a trial of moisture, checked against what their fields allow, and numbers with intervals."""

from __future__ import annotations

from collections.abc import Iterable

from scipy import special

from bench.errors import NotYet
from bench.physics.ranges import REACH, Range
from bench.treatment.needed import Instrument, instruments_for
from bench.trials.protocol import Asked, Readings
from bench.uncertainty import Measured
from bench.units import Q_, difference_unit, to_float

BALANCE = instruments_for("mass")[0]
THERMOMETER = Instrument("thermometer", Q_(1.0, "delta_degC"), Q_(0.1, "delta_degC"))
"""A thermocouple or a room thermometer: common practice, no source."""


def check_readings(readings: Readings, asked: Iterable[Asked]) -> None:
    """Check that all that is needed was read, and that each reading is within its range.

    Raises
    ------
    NotYet
        Something that may not stay empty was not read.
    BadValue
        A reading outside the range of its field.
    UnitMismatch
        A reading of another kind.
    """
    for each in asked:
        for reading in readings.read.get(each.key, ()):
            to_float(reading, each.plain_unit, field=each.label, low=each.low, high=each.high)
        if not (each.is_optional or readings.has(each)):
            raise NotYet(each.label, "not read yet", "", "Read it and enter it")


def value_and_doubt(measured: Measured, unit: str) -> tuple[float, float]:
    """Give a value and its standard uncertainty as plain numbers in a unit, doubts of a temperature in K.

    Examples
    --------
    >>> print(value_and_doubt(Measured(Q_(23.0, "degC")), "degC"))
    (23.0, 0.0)
    """
    value = float(measured.value.to(unit).magnitude)
    if not measured.components:
        return value, 0.0
    return value, float(measured.standard.to(difference_unit(unit)).magnitude)


def range_above_zero(value: float, u: float, unit: str) -> Range:
    """Give the interval of what cannot be less than zero: a normal distribution, cut off there.

    Parameters
    ----------
    value, u : float
        As fitted, with its standard uncertainty; the value may lie below zero.
    unit : str
        Of both.

    Returns
    -------
    Range
        Its value the median of what is left; it begins at zero where the whole distribution would.

    Examples
    --------
    >>> print(range_above_zero(10.0, 1.0, "mm").say("mm"))
    10.0 mm (8.0 to 12.0)
    """
    below = float(special.ndtr(-value / u))
    middle, high = (value + u * float(special.ndtri(below + share * (1 - below))) for share in (0.5, 0.975))
    return Range.of((middle, max(0.0, min(value - REACH * u, middle)), high), unit)
