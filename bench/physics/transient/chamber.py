"""The air about the stack: the room, or a closed chamber as a balance of its water."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeAlias

from bench.physics import saturation
from bench.physics.ranges import RangeLike, as_range
from bench.physics.saturation import VAPOUR_CONSTANT, ZERO_CELSIUS, check_celsius
from bench.physics.vapour import STILL_AIR_FILM
from bench.units import Q_, Quantity, to_float, to_humidity

_CHECK = "Check the temperature and its unit: the isotherms of paper are known in this range"


@dataclass(frozen=True)
class Air:
    """Air of a steady temperature and humidity, such as that of a room.

    Attributes
    ----------
    temperature : Quantity [temperature]
        5 to 65 °C.
    humidity : Quantity, dimensionless
        Relative, 0 to 100 %.
    """

    temperature: Quantity = field(default_factory=lambda: Q_(22.0, "degC"))
    humidity: Quantity = field(default_factory=lambda: Q_(50.0, "percent"))

    @cached_property
    def numbers(self) -> tuple[float, float]:
        """Temperature in °C and vapour pressure in Pa."""
        celsius = check_celsius(self.temperature, field="air temperature", low=5.0, high=65.0, why=_CHECK)
        return celsius, to_humidity(self.humidity) * saturation.pressure_pa(celsius)


@dataclass(frozen=True)
class ClosedChamber:
    r"""A closed chamber whose humidity is an answer and not a setting.

    .. math:: \frac{V}{R_v T} \frac{dp}{dt} = \beta_s A_s (p_s - p) - \dot m_{item}
              - n \frac{V}{R_v T} (p - p_{room})

    Attributes
    ----------
    volume : Quantity [length**3]
        Of the air in it, 0.1 litre to 10 m3.
    source_humidity : Quantity, dimensionless
        That over the salt slurry, felt or water at rest.
    source_area : Quantity [area]
        Wet area.
    film : Quantity or range [length/time]
        Vapour transfer at the source.
    leak : Quantity [1/time]
        Changes of air with the room, 0 to 100 an hour.
    start_humidity : Quantity, dimensionless, or None
        Of the air when the lid closes; that of the room without it.
    room : Air
        Outside; the chamber has its temperature.
    """

    volume: Quantity
    source_humidity: Quantity
    source_area: Quantity
    film: RangeLike = STILL_AIR_FILM
    leak: Quantity = field(default_factory=lambda: Q_(0.0, "1/hour"))
    start_humidity: Quantity | None = None
    room: Air = field(default_factory=Air)

    def numbers(
        self, area: float, film_factor: float
    ) -> tuple[tuple[float, float, float, float, float], float]:
        """Give the chamber per area of the item's face, as the equations want it, and its first pressure."""
        celsius, outside = self.room.numbers
        full = saturation.pressure_pa(celsius)
        vapour = VAPOUR_CONSTANT * (celsius + ZERO_CELSIUS)
        volume = to_float(self.volume, "m^3", field="volume of the chamber", low=1e-4, high=10.0)
        wet = to_float(self.source_area, "m^2", field="area of the source", low=1e-4, high=10.0)
        speed = as_range(self.film).floats("m/s", field="film of the source", low=5e-6, high=0.1)[0]
        leak = to_float(self.leak, "1/s", field="leak of the chamber", low=0.0, high=100 / 3600)
        capacity = volume / vapour / area
        supply = film_factor * speed * wet / vapour / area
        source = to_humidity(self.source_humidity, field="humidity of the source") * full
        first = outside if self.start_humidity is None else to_humidity(self.start_humidity) * full
        return (supply, source, leak * capacity, outside, capacity), first


Surroundings: TypeAlias = Air | ClosedChamber
