r"""Jars of water that lose vapour, through air alone and through a sheet: their readings and their model.

What a jar loses in a time *t* passes the air above the water, the sheet and the film of air outside one after
the other, each taken as a layer of still air:

.. math:: L + \frac{m}{2 \rho A} + S + F = \frac{K t}{m}, \qquad
          K = A\,\delta\,P \ln\frac{P - \varphi p_s(T_a)}{P - p_s(T_w)}

with the permeability :math:`\delta` of still air (Schirmer), the gap *L* at the beginning, which grows as
water is lost, and Stefan's flow in the logarithm (diffusion tube, [incropera]_). An open jar has no *S*,
and gives *F*. Valid for a sheet between damp air and that of a room of 15 to 75 %, as in a chamber; paper
beneath a coating lets more through the damper it is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bench.errors import BadValue
from bench.physics.arrays import Floats
from bench.physics.ranges import Range
from bench.physics.saturation import pressure_pa
from bench.physics.vapour import air_permeability
from bench.treatment.needed import Instrument, instruments_for
from bench.trials.protocol import Asked, Readings
from bench.trials.reading import BALANCE, THERMOMETER, value_and_doubt
from bench.units import Q_

AIR_PASCAL = 101325.0  # of the air; 5 % less on a hill changes the result by a tenth of a per cent
WATER = 0.998  # g/cm3
HYGROMETER = Instrument("hygrometer", Q_(3.0, "percent"), Q_(1.0, "percent"))
"""A common one, checked against a salt or not: common practice, no source."""
RULE = instruments_for("width")[1]
CALIPER = instruments_for("thickness")[0]

# What cannot be averaged away, as standard uncertainties: judgement, no source.
PERMEABILITY = 0.03  # of still air, by which published laws differ
RIM = 0.2  # mm of the mouth of a jar, which is not quite round, and of the seal
MENISCUS = 0.5  # mm of a gap, at each jar by itself
UNLIKE = 0.15  # of the film of air, by which it differs from jar to jar
FILM = Range.of((10.0, 4.0, 25.0), "mm")
"""Film of air over the mouth of a jar as still air: 1 to 6 mm/s, from memory.  The open jar finds it."""
SHALLOWEST, DEEPEST = 5.0, 25.0
"""Gaps, mm, for which the air in the jar is still.  Damp air is lighter and rises; water that evaporates
cools the air above it and holds it down.  At 25 mm and half humidity Rayleigh's number is about 1,900 by
the vapour, less 900 by the warmth; it goes with the third power of the gap, and air turns over above 1,100
(free edge, from memory)."""


@dataclass(frozen=True)
class Jar:
    """One jar, and what is read of it."""

    key: str
    words: str
    is_optional: bool = False

    def asked(self) -> tuple[Asked, ...]:
        """Give gap, water temperature, and the masses before and after."""
        return (
            Asked(
                f"{self.key}_gap",
                f"{self.words}: from rim down to the water",
                "mm",
                SHALLOWEST,
                DEEPEST,
                most=4,
                tool=RULE,
                group=self.words,
                hint="at the beginning, at several places: 10 to 20 mm",
                is_optional=self.is_optional,
            ),
            Asked(
                f"{self.key}_water",
                f"{self.words}: temperature of the water",
                "temperature",
                15,
                30,
                most=4,
                tool=THERMOMETER,
                hint="wire under the sheet, or infrared on the glass at the water; it is cooler than the air",
                is_optional=self.is_optional,
            ),
            Asked(
                f"{self.key}_before",
                f"{self.words}: at the beginning",
                "g",
                20,
                2000,
                most=3,
                tool=BALANCE,
                is_optional=self.is_optional,
            ),
            Asked(
                f"{self.key}_after",
                f"{self.words}: at the end",
                "g",
                20,
                2000,
                most=3,
                tool=BALANCE,
                is_optional=self.is_optional,
            ),
        )


JARS = (
    Jar("sheet", "Jar under the sheet"),
    Jar("open", "Open jar"),
    Jar("deep", "Open jar with less water", is_optional=True),
)
MOUTH = Asked(
    "mouth",
    "Inner diameter of the mouth",
    "mm",
    30,
    120,
    most=6,
    tool=CALIPER,
    group="All jars",
    hint="alike",
)
HOURS = Asked("hours", "Time between the weighings", "hour", 4, 240, usual=24, hint="from beginning to end")
AIR = Asked(
    "air", "Temperature of the air", "temperature", 15, 30, most=6, tool=THERMOMETER, group="The room"
)
HUMIDITY = Asked(
    "humidity", "Humidity of the air", "percent", 15, 75, most=12, tool=HYGROMETER, hint="over the time"
)
ASKED = (MOUTH, HOURS, AIR, HUMIDITY, *(asked for jar in JARS for asked in jar.asked()))


def stefan_flux(permeability: float, length: float, wet: float, dry: float) -> float:
    r"""Give the vapour that passes still air, with the flow that it sets up itself.

    Parameters
    ----------
    permeability : float
        Of still air, kg/(m s Pa).
    length : float
        Of the way, m.
    wet, dry : float
        Pressure of vapour at its ends, Pa.

    Returns
    -------
    float
        kg/(m2 s).

    Notes
    -----
    .. math:: j = \frac{\delta P}{L} \ln\frac{P - p_d}{P - p_w}

    One or two per cent more than Fick's law at room temperature.
    """
    return permeability * AIR_PASCAL / length * math.log((AIR_PASCAL - dry) / (AIR_PASCAL - wet))


@dataclass(frozen=True)
class Around:
    """What all jars share.

    Attributes
    ----------
    mouth, hours : float
        Diameter in mm; time between the weighings.
    air, humidity : float
        Temperature of the air in °C, and its humidity as a fraction.
    """

    mouth: float
    hours: float
    air: float
    humidity: float

    @property
    def area(self) -> float:
        """Of a mouth, m2."""
        return math.pi / 4 * (self.mouth / 1000) ** 2

    def grams_by_mm(self, water: float) -> float:
        """Give what a jar with water of a temperature loses, times all that is in the way, g mm."""
        pressures = pressure_pa(water), self.humidity * pressure_pa(self.air)
        if pressures[0] <= pressures[1]:
            allowed = "warm enough that vapour leaves it"
            remedy = "Read the temperature of the water and the humidity of the air again"
            raise BadValue("temperature of the water", f"{water:.1f} °C", allowed, remedy)
        permeability = air_permeability((water + self.air) / 2)
        return 1e6 * self.area * 3600 * self.hours * stefan_flux(permeability, 1.0, *pressures)

    def sunk(self, lost: float) -> float:
        """Give by how much a loss in g lowers the water, mm."""
        return lost / WATER / (self.area * 1e4) * 10


@dataclass(frozen=True)
class JarSeen:
    """One jar as it was read.

    Attributes
    ----------
    jar : Jar
        Which one.
    gap : float
        Of air above the water, half-way through the time, mm.
    water, lost : float
        Temperature of the water in °C; what was lost, g.
    way : float
        All that was in the way of the vapour, as still air, mm.
    own : float
        Standard uncertainty that gap and loss give the way, mm.
    """

    jar: Jar
    gap: float
    water: float
    lost: float
    way: float
    own: float


def look_at(readings: Readings, around: Around, jar: Jar) -> JarSeen:
    """Work out what was in the way of the vapour of one jar.

    Raises
    ------
    BadValue
        A jar that lost nothing, or water that gives no vapour off.
    """
    gap, water, before, after = (readings.measured(asked) for asked in jar.asked())
    lost_by = before - after
    (lost, u_lost), (celsius, _) = value_and_doubt(lost_by, "g"), value_and_doubt(water, "degC")
    if lost <= 0:
        remedy = "Take the heavier mass at the beginning; weigh jar, water and sheet together"
        raise BadValue(f"{jar.words}: loss", f"{lost:.2f} g", "above 0 g", remedy)
    way = around.grams_by_mm(celsius) / lost
    depth, u_gap = value_and_doubt(gap, "mm")
    own = math.hypot(u_gap, MENISCUS, way * u_lost / lost)
    return JarSeen(jar, depth + around.sunk(lost) / 2, celsius, lost, way, own)


def covariance_of_ways(readings: Readings, around: Around, seen: Sequence[JarSeen]) -> Floats:
    """Give the covariance of what was in the way, mm²: doubts of each jar, and those that all jars share."""
    ways = np.array([one.way for one in seen])
    film = max(film_of(seen), float(FILM.low.magnitude))
    total = np.diag([one.own**2 + (UNLIKE * film) ** 2 for one in seen])
    _, u_mouth = value_and_doubt(readings.measured(MOUTH), "mm")
    air, water = readings.measured(AIR), [readings.measured(one.jar.asked()[1]) for one in seen]
    shifts = [ways * PERMEABILITY, ways * 2 * math.hypot(u_mouth, RIM) / around.mouth]
    humidity = readings.measured(HUMIDITY)
    for component in humidity.components:
        step = float(component.u.to("percent").magnitude) / 100
        shifts.append(_slope(seen, lambda d: replace(around, humidity=around.humidity + d)) * step)
    for component in air.components:
        step = float(component.u.to("delta_degC").magnitude)
        shift = _slope(seen, lambda d: replace(around, air=around.air + d)) * step
        if component.cause == THERMOMETER.name:  # the water was read with the same one
            shift += np.array([_by_water(around, one) for one in seen]) * step
        shifts.append(shift)
    for number, (one, each) in enumerate(zip(seen, water, strict=True)):
        for component in each.components:
            if component.cause != THERMOMETER.name:
                single = np.zeros(len(seen))
                single[number] = _by_water(around, one) * float(component.u.to("delta_degC").magnitude)
                shifts.append(single)
    for shift in shifts:
        total += np.outer(shift, shift)
    return np.asarray(total)


def film_of(seen: Sequence[JarSeen]) -> float:
    """Give what the first open jar has in the way beside its gap, mm."""
    opened = next(one for one in seen if one.jar is not JARS[0])
    return opened.way - opened.gap


_STEP = 0.01


def _slope(seen: Sequence[JarSeen], changed: Callable[[float], Around]) -> Floats:
    """Give how what was in the way changes with something that all jars share."""
    high, low = (
        np.array([changed(way * _STEP).grams_by_mm(one.water) / one.lost for one in seen]) for way in (1, -1)
    )
    return np.asarray((high - low) / (2 * _STEP))


def _by_water(around: Around, one: JarSeen) -> float:
    """Give how what was in the way changes with the temperature of the water, mm/K."""
    high, low = (around.grams_by_mm(one.water + way * _STEP) for way in (1, -1))
    return (high - low) / (2 * _STEP) / one.lost
