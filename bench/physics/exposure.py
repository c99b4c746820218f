"""What an item has been through: a history of temperature and humidity in plain steps.

Mould, corrosion and ageing all read the same history.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from bench.errors import BadValue
from bench.units import Q_, Quantity, to_float, to_humidity

_LONGEST_HOURS = 24 * 36525.0  # a century: beyond it the unit is wrong


@dataclass(frozen=True)
class Exposure:
    """One step of a history, at constant temperature and humidity.

    Attributes
    ----------
    duration : Quantity [time]
        0 to a century.
    temperature : Quantity [temperature]
        Of the item, -40 to 100 °C.
    humidity : Quantity, dimensionless
        Relative humidity *at the item*, inside the stack if it is in one; 0 to 100 %.
    moisture_content : Quantity, dimensionless, optional
        Water over dry mass, if it is known apart from the humidity (a stack heated so fast that
        its water stays in it); 0 to 0.5.
    """

    duration: Quantity
    temperature: Quantity
    humidity: Quantity
    moisture_content: Quantity | None = None

    def __post_init__(self) -> None:
        to_float(self.duration, "hour", field="duration", low=0.0, high=_LONGEST_HOURS)
        to_float(self.temperature, "degC", field="temperature", low=-40.0, high=100.0)
        to_humidity(self.humidity)
        if self.moisture_content is not None:
            to_float(self.moisture_content, "", field="moisture content", low=0.0, high=0.5)

    @cached_property
    def hours(self) -> float:
        """Duration in hours, a plain number."""
        return float(self.duration.to("hour").magnitude)

    @cached_property
    def celsius(self) -> float:
        """Temperature in °C, a plain number."""
        return float(self.temperature.to("degC").magnitude)

    @cached_property
    def fraction(self) -> float:
        """Relative humidity from 0 to 1, a plain number."""
        return float(self.humidity.to("").magnitude)

    @cached_property
    def moisture(self) -> float | None:
        """Moisture content as a plain number, or None if it follows from the humidity."""
        return None if self.moisture_content is None else float(self.moisture_content.to("").magnitude)


def read_history(history: Iterable[Exposure]) -> tuple[Exposure, ...]:
    """Give a history as a tuple, in the order of time.

    Raises
    ------
    BadValue
        Something in it is not an :class:`Exposure`.
    """
    steps = tuple(history)
    for step in steps:
        if not isinstance(step, Exposure):
            raise BadValue(
                "history", repr(step), "steps of duration, temperature and humidity", "Build them as Exposure"
            )
    return steps


def hours_above(steps: Iterable[Exposure], fraction: float, celsius: float = -math.inf) -> Quantity:
    """Add up the hours that are damper than a relative humidity (0 to 1) and warmer than a temperature."""
    return Q_(math.fsum(s.hours for s in steps if s.fraction > fraction and s.celsius > celsius), "hour")
