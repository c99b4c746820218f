"""Readings of a trial, checked against what its fields allow."""

from __future__ import annotations

from collections.abc import Iterable

from bench.errors import NotYet
from bench.trials.protocol import Asked, Readings
from bench.uncertainty import Measured
from bench.units import difference_unit, to_float


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
    >>> from bench.units import Q_
    >>> print(value_and_doubt(Measured(Q_(23.0, "degC")), "degC"))
    (23.0, 0.0)
    """
    value = float(measured.value.to(unit).magnitude)
    if not measured.components:
        return value, 0.0
    return value, float(measured.standard.to(difference_unit(unit)).magnitude)
