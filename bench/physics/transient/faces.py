"""What a face of the stack can lie against: air, a solid base, a platen, nothing.

A plate with mass is a layer of the stack; the face beyond it is open, a base or a platen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

from bench.errors import BadValue, OutOfRange
from bench.physics.ranges import Range, RangeLike, as_range
from bench.physics.saturation import VAPOUR_CONSTANT
from bench.physics.transient.equations import REFERENCE
from bench.physics.vapour import LEWIS, STILL_AIR_FILM
from bench.units import Q_, Quantity, to_float

RADIATION = Q_(5.0, "W/m^2/K")
"""Exchange of heat by radiation with walls near room temperature: 4 eps sigma T**3, eps 0.9."""
BASE_FILM = Range.of((8, 4, 15), "W/m^2/K")
"""Loss of a base plate to a room through its free side, air and radiation; from memory."""


@dataclass(frozen=True)
class Open:
    """A face open to the air through a film: on a rack, on mesh, under a lid, in a fan's wind.

    Attributes
    ----------
    film : Quantity or range [length/time]
        Vapour transfer, 0.05 to 100 mm/s; see :func:`bench.physics.vapour.vapour_film`.
    radiation : Quantity [W/(m**2 K)]
        Heat by radiation, 0 to 10; that by air follows from the film (Lewis).
    """

    film: RangeLike = STILL_AIR_FILM
    radiation: Quantity = RADIATION


@dataclass(frozen=True)
class SolidBase:
    """A face on a solid base: no vapour passes, heat is lost through it to the room.

    Attributes
    ----------
    loss : Quantity or range [W/(m**2 K)]
        From the base to the room, 0.1 to 1e7.
    """

    loss: RangeLike = BASE_FILM


@dataclass(frozen=True)
class Platen:
    """A face against a platen: no vapour passes, and the platen follows its program.

    Attributes
    ----------
    temperatures : tuple of Quantity [temperature]
        At the ``times``, straight lines between, held after the last; 0 to 100 °C.
    times : tuple of Quantity [time]
        From the start of the phase, rising, the first 0.
    """

    temperatures: tuple[Quantity, ...]
    times: tuple[Quantity, ...] = (Q_(0.0, "s"),)

    def program(self) -> tuple[list[float], list[float]]:
        """Give times in s and temperatures in °C, checked."""
        times = [to_float(t, "s", field="time of the platen", low=0.0) for t in self.times]
        warm = [
            to_float(t, "degC", field="platen temperature", low=-20.0, high=300.0) for t in self.temperatures
        ]
        if len(times) != len(warm) or not times or times[0] != 0 or sorted(set(times)) != times:
            came = f"{len(warm)} temperatures at {len(times)} times"
            remedy = "Give one time for each temperature, the first 0"
            raise BadValue(
                "program of the platen", came, "as many times as temperatures, rising from 0", remedy
            )
        if max(warm) > 100 or min(warm) < 0:
            remedy = "Water in the paper would boil or freeze"
            raise OutOfRange("platen temperature", f"{max(warm):g} °C", "0 to 100 °C", remedy)
        return times, warm


LONGEST_HALF_LIFE = Q_(300, "min")


@dataclass(frozen=True)
class CoolingPlaten:
    r"""A face against a platen that was switched off: it gives its heat to the room and to the stack.

    .. math:: c \frac{dT_p}{dt} = -h (T_p - T_{room}) - \text{what flows into the stack},
              \qquad c = h \, t_{1/2} / \ln 2

    It is one lump in series with its contact.  Without heat of its own it is a :class:`SolidBase`; if it is
    heavy beside the stack, the stack follows its own exponential.

    Attributes
    ----------
    temperature : Quantity [temperature]
        When it is switched off, at the start of the first phase of this face; 0 to 100 °C.
    half_life : Quantity [time]
        In which it loses half of its warmth above the room by itself, 0 to 300 min.
    loss : Quantity or range [W/(m**2 K)]
        From the platen to the room, 0.1 to 1e7.
    """

    temperature: Quantity
    half_life: Quantity
    loss: RangeLike = BASE_FILM

    @cached_property
    def celsius(self) -> float:
        """Its temperature when it is switched off, °C."""
        return to_float(self.temperature, "degC", field="platen temperature", low=0.0, high=100.0)

    @cached_property
    def capacity(self) -> float:
        """Heat that it keeps, J/(m2 K)."""
        longest = float(LONGEST_HALF_LIFE.magnitude)
        minutes = to_float(self.half_life, "min", field="half-life of the platen", low=0.0, high=longest)
        return read_loss(self.loss) * 60 * minutes / math.log(2)


def read_loss(loss: RangeLike) -> float:
    """Read what a base or a platen loses to the room, W/(m2 K)."""
    return as_range(loss).floats("W/m^2/K", field="loss of the base", low=0.1, high=1e7)[0]


@dataclass(frozen=True)
class Insulated:
    """A face through which nothing passes, or the middle of a stack that is alike on both sides."""


Face: TypeAlias = Open | SolidBase | Platen | CoolingPlaten | Insulated


@dataclass(frozen=True)
class Sides:
    """A face as plain numbers (SI): conductances of vapour and heat, and the program there."""

    vapour: float
    heat: float
    times: tuple[float, ...]
    celsius: tuple[float, ...]


def read_face(
    face: Face,
    *,
    half_vapour: float,
    half_heat: float,
    air_celsius: float,
    contact: float,
    film_factor: float,
    platen_error: float,
) -> Sides:
    """Turn a face into conductances from what lies there to the middle of the outermost cell.

    Air and room are equally warm.  Of a platen that cools the outermost cell is the platen itself.
    """
    if isinstance(face, Open):
        film = film_factor * as_range(face.film).floats("m/s", field="film of air", low=5e-6, high=100.0)[0]
        radiation = to_float(face.radiation, "W/m^2/K", field="radiation", low=0.0, high=10.0)
        resistance = VAPOUR_CONSTANT * REFERENCE / film + half_vapour
        heat = 1 / (1 / (film * LEWIS + radiation) + half_heat)
        return Sides(1 / resistance, heat, (0.0,), (air_celsius,))
    if isinstance(face, SolidBase):
        loss = read_loss(face.loss)
        return Sides(0.0, 1 / (1 / contact + 1 / loss + half_heat), (0.0,), (air_celsius,))
    if isinstance(face, CoolingPlaten):
        return Sides(0.0, 1 / (1 / read_loss(face.loss) + half_heat), (0.0,), (air_celsius,))
    if isinstance(face, Platen):
        times, warm = face.program()
        shifted = tuple(t + platen_error for t in warm)
        return Sides(0.0, 1 / (1 / contact + half_heat), tuple(times), shifted)
    return Sides(0.0, 0.0, (0.0,), (air_celsius,))
