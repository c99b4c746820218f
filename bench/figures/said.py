"""Measured values and their changes in words, in the operator's unit."""

from __future__ import annotations

import re
from collections.abc import Iterator

from bench.treatment.plan import shown_unit
from bench.treatment.review.comparison import (
    Comparison,
    Examination,
    compare_sizes,
    compare_thicknesses,
    subtract_readings,
)
from bench.uncertainty import Measured
from bench.units import Q_, UnitChoice, difference_unit, say

_THIN = Q_(30.0, "mm")  # below it a length is a thickness, said in the unit of thickness


def say_measured(measured: Measured, units: UnitChoice) -> str:
    """Write a measured value in the operator's unit with its expanded uncertainty."""
    value = measured.value
    if value.check("[length]"):
        unit = units.length if abs(value) < _THIN else units.long_length
    elif value.check("[temperature]"):
        unit = units.temperature
    else:
        unit = "percent" if value.check("") else f"{value.units:~P}"
    return _say(measured, unit)


def say_change(change: Measured, units: UnitChoice) -> str:
    """Write a difference with its sign; one of temperature in kelvin, or in degrees Fahrenheit."""
    if change.value.check("[temperature]"):
        words = _say(change, f"delta_{units.temperature}")
    else:
        words = say_measured(change, units)
    return _signed(words)


def say_changes(
    before: Examination, after: Examination, units: UnitChoice
) -> Iterator[tuple[str, str, str, str, str]]:
    """Write everything that was read both times: what, where, before, after, and how it changed."""
    if before.thicknesses is not None and after.thicknesses is not None:
        old, new = before.thicknesses.places(), after.thicknesses.places()
        for place, thicker in compare_thicknesses(before.thicknesses, after.thicknesses).items():
            yield "thickness", place, *_say_both(old[place], new[place], units), say_change(thicker, units)
    for size in compare_sizes(before, after):
        change = f"{say_change(size.change, units)} ({say_change(size.relative, units)})"
        yield size.edge, size.place, *_say_both(size.before, size.after, units), change
    if before.mass is not None and after.mass is not None:
        heavier = subtract_readings(after.mass, before.mass)
        yield "mass", "whole", *_say_both(before.mass, after.mass, units), say_change(heavier, units)


def _say_both(before: Measured, after: Measured, units: UnitChoice) -> tuple[str, str]:
    return say_measured(before, units), say_measured(after, units)


def _signed(change: str) -> str:
    """Put a plus before a change above zero; below it the minus stands there already."""
    is_zero = not re.search("[1-9]", change.split("±")[0])
    return change if change.startswith("−") or is_zero else f"+{change}"


def say_compared(comparison: Comparison, units: UnitChoice) -> tuple[str, str, str]:
    """Write planned, measured and difference, all in the unit in which the plan is shown."""
    unit = shown_unit(comparison.planned.unit, units)
    delta = difference_unit(unit)
    planned = comparison.planned.say(units).replace("-", "−")
    return planned, _say(comparison.measured, unit), _signed(_say(comparison.difference, delta))


def _say(measured: Measured, unit: str) -> str:
    count = float(measured.value.magnitude) if unit in ("", "dimensionless") else 0.5
    if count.is_integer() and not measured.expanded().magnitude:
        return f"{count:.0f}".replace("-", "−")
    return say(measured.value, unit, uncertainty=measured.expanded()).replace("-", "−")
