"""What is read of a platen, and the fits of its map, its heating and its cooling."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from bench.errors import BadValue, NotYet
from bench.physics.arrays import Floats
from bench.physics.ranges import REACH, Range
from bench.trials.fitting import LeastSquares, covariance_of, fit_readings
from bench.trials.protocol import Asked, Readings
from bench.trials.thermometer import PROBE
from bench.uncertainty import Component, Measured
from bench.units import Q_

HEATING_BELIEVED = Range.of((20, 8, 50), "min")
"""Until a platen is warm; judgement, no source: no plan reckons with it unless it was measured."""

WITHIN = 2.0  # K of where the platen settles: then it is called warm
EVENED_OUT = 0.7
"""What is left of the spread over the face in the mean over an item, wherever it lies; judgement."""
SCATTER = 0.3  # K, of a probe that stays where it is taped; judgement
ROOM_DRIFTS = 0.5  # K, standard, over two hours; judgement
DAY_TO_DAY = 0.05  # standard, of both times: mains, draught, room; judgement
_LEAST_WARM = 10.0  # K above the room, below which a cooling tells little

SET = Asked("set", "The platen is set to", "temperature", 30.0, 70.0, usual=60.0, group="At the setting")
_PLACES = ("centre", "front left", "front right", "back left", "back right")
MAP = tuple(
    Asked(f"map-{place.replace(' ', '-')}", f"Platen, {place}", "temperature", 20.0, 100.0, 3, tool=PROBE)
    for place in _PLACES
)
ROOM = Asked(
    "room",
    "Room, the same thermometer",
    "temperature",
    10.0,
    40.0,
    3,
    tool=PROBE,
    hint="shaded, at the press",
)
HEATING = tuple(
    Asked(
        f"heating-{minutes}",
        f"Heating, after {minutes} min",
        "temperature",
        5.0,
        100.0,
        is_optional=True,
        tool=PROBE,
        group="" if minutes else "After switching on, at the centre",
    )
    for minutes in (0, 5, 10, 15, 20, 25, 30, 40, 50, 60, 75, 90, 120)
)
COOLING = tuple(
    Asked(
        f"cooling-{minutes}",
        f"Cooling, after {minutes} min",
        "temperature",
        5.0,
        100.0,
        is_optional=True,
        tool=PROBE,
        group="" if minutes else "After switching off, at the centre, closed and empty",
    )
    for minutes in (0, 10, 20, 40, 60, 90, 120)
)


def find_error(readings: Readings) -> tuple[Range, float]:
    """Give what the platen is warmer than it says where an item lies, and its spread over the face in K."""
    places = [readings.measured(asked) for asked in MAP]
    celsius = np.array([float(place.value.to("degC").magnitude) for place in places])
    room = readings.number(ROOM)
    if celsius.mean() < room + _LEAST_WARM:
        allowed = f"{room + _LEAST_WARM:.0f} °C or more"
        raise BadValue(
            "map of the platen", f"{celsius.mean():.0f} °C", allowed, "Heat it to its setting first"
        )
    number = len(celsius)
    scatter = max(float(celsius.std(ddof=1)), 0.1)
    shared = next(part for part in places[0].components if part.cause == PROBE.name)
    components = (
        Component(
            "spread over the face",
            Q_(scatter * math.sqrt(EVENED_OUT**2 + 1 / number), "delta_degC"),
            number - 1.0,
        ),
        shared,
    )
    off = float(celsius.mean()) - readings.number(SET)
    found = Measured(Q_(off, "delta_degC"), components, "map of the platen")
    return Range(found.value, *found.interval()), float(np.ptp(celsius))


def read_series(readings: Readings, asked: tuple[Asked, ...]) -> tuple[Floats, list[Measured]]:
    """Give minutes and readings of a series, as far as it was read."""
    read = [each for each in asked if readings.has(each)]
    minutes = np.array([float(each.key.rpartition("-")[2]) for each in read])
    return minutes, [readings.measured(each) for each in read]


def fit_cooling(readings: Readings) -> LeastSquares | None:
    """Fit log of the half-life, warmth at switching off, and room; None without a reading."""
    minutes, read = read_series(readings, COOLING)
    if not read:
        return None
    if len(read) < 3:
        raise NotYet(
            "readings of the cooling", f"{len(read)}", "3 or more", "Read on until it is nearly cold"
        )
    room = readings.measured(ROOM)
    celsius = np.array([float(each.value.to("degC").magnitude) for each in (*read, room)])
    if celsius[0] < celsius[-1] + _LEAST_WARM or celsius[-2] > celsius[0] - 1.0:
        came = f"{celsius[0]:.0f} to {celsius[-2]:.0f} °C"
        remedy = "Begin with the platen warm, switch it off and read on until it is nearly cold"
        raise BadValue("cooling of the platen", came, "falling, from well above the room", remedy)
    extra = np.r_[np.full(len(read), SCATTER), ROOM_DRIFTS] ** 2
    covariance = covariance_of([*read, room], "degC") + np.diag(extra)

    def model(p: Floats) -> Floats:
        return np.r_[p[2] + p[1] * 2.0 ** (-minutes / math.exp(p[0])), p[2]]

    start = (math.log(45.0), celsius[0] - celsius[-1], celsius[-1])
    return fit_readings(model, start, celsius, covariance)


def half_life_of(cooled: LeastSquares) -> Range:
    """Give the half-life of the next cooling: the fit, and what differs from day to day."""
    wider = cooled.covariance.copy()
    wider[0, 0] += DAY_TO_DAY**2
    return replace(cooled, covariance=wider).range(0, "min", is_factor=True)


def find_heating(readings: Readings) -> Range | None:
    """Give the minutes until it is within 2 K of where it settles.

    Straight lines: that between the readings about it is late if the thermostat cut in between, that
    carried on from the two readings before is early; the truth lies between them.
    """
    minutes, read = read_series(readings, HEATING)
    if not read:
        return None
    celsius = np.array([float(each.value.to("degC").magnitude) for each in read])
    goal = readings.number(MAP[0]) - WITHIN
    above = np.flatnonzero(celsius >= goal)
    if not len(above):
        raise NotYet("heating of the platen", f"{celsius[-1]:.0f} °C", f"{goal:.0f} °C at last", "Read on")
    first = int(above[0])
    if first == 0:
        remedy = "Begin with the platen cold, and read while it warms"
        raise BadValue("heating of the platen", "warm at its first reading", f"below {goal:.0f} °C", remedy)
    times, warm = minutes[first - 1 : first + 1], celsius[first - 1 : first + 1]
    slope = (warm[1] - warm[0]) / (times[1] - times[0])
    late = early = times[0] + (goal - warm[0]) / slope
    if first > 1 and celsius[first - 1] > celsius[first - 2] + SCATTER:
        before = (warm[0] - celsius[first - 2]) / (times[0] - minutes[first - 2])
        slope = max(slope, before)  # the thermostat may have cut in since
        early = times[0] + (goal - warm[0]) / slope
    at = (early + late) / 2
    parts = (math.sqrt(2) * SCATTER / slope, DAY_TO_DAY * at, (late - early) / (2 * math.sqrt(3)))
    doubt = math.hypot(*parts)
    return Range.of((at, max(at - REACH * doubt, 0.0), at + REACH * doubt), "min")
