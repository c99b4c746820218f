"""How warm a platen really is, how long it takes to get there, and how long it keeps its warmth."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from bench.errors import BadValue, NotYet
from bench.physics.ranges import REACH, Range
from bench.physics.transient.faces import LONGEST_HALF_LIFE
from bench.physics.transient.inputs import PLATEN, limits_of
from bench.treatment.measured import PLATEN_ERROR, PLATEN_HALF_LIFE, PLATEN_HEATING, PRESS
from bench.treatment.plan import Caution, Notice, Verdict
from bench.treatment.pressing.plan import PLATEN_HALF_LIFE as HALF_LIFE_BELIEVED
from bench.trials.fitting import LeastSquares, covariance_of, fit_readings
from bench.trials.protocol import Asked, Found, Outcome, Point, Protocol, Readings, Shown
from bench.trials.thermometer import ICE, PROBE, check_in_ice, draw_probe, show
from bench.uncertainty import Component, Measured
from bench.units import Q_, Quantity

HEATING_BELIEVED = Range.of((20, 8, 50), "min")
"""Until a platen is warm; judgement, no source: no plan reckons with it unless it was measured."""

_WITHIN = 2.0  # K of where the platen settles: then it is called warm
_SCATTER = 0.3  # K, of a probe that stays where it is taped; judgement
_ROOM_DRIFTS = 0.5  # K, standard, over two hours; judgement
_DAY_TO_DAY = 0.05  # standard, of both times: mains, draught, room; judgement
_UNEVEN = 5.0  # K between the warmest and the coldest place; judgement
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

_MISFIT = Notice(
    "trial-platen-misfit",
    Verdict.STOP,
    "The cooling does not follow one half-life: the readings miss it by {misfit:.1f} times their doubt. Was the "
    "press opened, or did the probe come off? Tape it anew and read again.",
)
_TOO_FAR = Notice(
    "trial-platen-too-far",
    Verdict.STOP,
    "The platen is {error:+.0f} K off what it says; the model of the press follows {most:.0f} K at most. Have the "
    "thermostat seen to before anything is pressed warm.",
)
_TOO_SLOW = Notice(
    "trial-platen-half-life",
    Verdict.STOP,
    "A half-life of {minutes:.0f} min is none that a press has (1 to {most:.0f} min). Check that the heat was off.",
)
_IS_UNEVEN = Notice(
    "trial-platen-uneven",
    Verdict.CARE,
    "The face differs by {spread:.0f} K from place to place: lay the item where it is most even, and turn the pack "
    "half-way.",
)
_NOT_IN_ICE = Notice(
    "trial-platen-probe",
    Verdict.CARE,
    "The thermometer was not checked: most of what the platen seems to be off may be its own error. Read it in "
    "melting ice.",
)
_WITHOUT = Notice("trial-platen-without", Verdict.GO, "Not found, since too little was read: {what}.")


def fit(readings: Readings) -> Outcome:
    """Find how far the platen is off, its half-life, and the time until it is warm.

    Raises
    ------
    NotYet
        The map, the setting or the room is missing, or a series was begun and not read to its end.
    BadValue
        A platen that is no warmer than the room, or a series that runs the wrong way.

    Notes
    -----
    Cooling is Newton's, :math:`T = T_{room} + A\\,2^{-t/t_{1/2}}`: a lump that loses heat in proportion to its
    warmth [incropera]_, good while it is closed and empty.  The error of one thermometer is in the room as in
    the platen and cancels.  Each interval is that of the next warm pressing, at any place of the face: the
    spread over the face, and 5 % from day to day (judgement), are in it.
    """
    readings = check_in_ice(readings)
    error, spread = _error(readings)
    found = [Found(PLATEN_ERROR, error, PLATEN)]
    missing: list[str] = []
    cooled = _cool(readings)
    if cooled is None:
        missing.append(PLATEN_HALF_LIFE.label)
    else:
        found.append(Found(PLATEN_HALF_LIFE, _half_life(cooled), HALF_LIFE_BELIEVED))
    heating = _heating(readings)
    if heating is None:
        missing.append(PLATEN_HEATING.label)
    else:
        found.append(Found(PLATEN_HEATING, heating, HEATING_BELIEVED))
    return Outcome(
        _answer(found),
        _because(readings, spread, cooled),
        tuple(found),
        _shown(readings, cooled),
        tuple(_judge(readings, error, spread, cooled, missing)),
    )


def _error(readings: Readings) -> tuple[Range, float]:
    """Give what the platen is warmer than it says, at any place of it, and its spread over the face in K."""
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
            "spread over the face", Q_(scatter * math.sqrt(1 + 1 / number), "delta_degC"), number - 1.0
        ),
        shared,
    )
    off = float(celsius.mean()) - readings.number(SET)
    found = Measured(Q_(off, "delta_degC"), components, "map of the platen")
    return Range(found.value, *found.interval()), float(np.ptp(celsius))


def _series(readings: Readings, asked: tuple[Asked, ...]) -> tuple[np.ndarray, list[Measured]]:
    """Give minutes and readings of a series, as far as it was read."""
    read = [each for each in asked if readings.has(each)]
    minutes = np.array([float(each.key.rpartition("-")[2]) for each in read])
    return minutes, [readings.measured(each) for each in read]


def _cool(readings: Readings) -> LeastSquares | None:
    """Fit log of the half-life, warmth at switching off, and room; None without a reading."""
    minutes, read = _series(readings, COOLING)
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
    extra = np.r_[np.full(len(read), _SCATTER), _ROOM_DRIFTS] ** 2
    covariance = covariance_of([*read, room], "degC") + np.diag(extra)

    def model(p: np.ndarray) -> np.ndarray:
        return np.r_[p[2] + p[1] * 2.0 ** (-minutes / math.exp(p[0])), p[2]]

    start = (math.log(45.0), celsius[0] - celsius[-1], celsius[-1])
    return fit_readings(model, start, celsius, covariance)


def _half_life(cooled: LeastSquares) -> Range:
    wider = cooled.covariance.copy()
    wider[0, 0] += _DAY_TO_DAY**2
    return replace(cooled, covariance=wider).range(0, "min", is_factor=True)


def _heating(readings: Readings) -> Range | None:
    """Give the minutes until it is within 2 K of where it settles.

    Straight lines: that between the readings about it is late if the thermostat cut in between, that carried on
    from the two readings before is early; the truth lies between them.
    """
    minutes, read = _series(readings, HEATING)
    if not read:
        return None
    celsius = np.array([float(each.value.to("degC").magnitude) for each in read])
    goal = readings.number(MAP[0]) - _WITHIN
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
    if first > 1 and celsius[first - 1] > celsius[first - 2] + _SCATTER:
        before = (warm[0] - celsius[first - 2]) / (times[0] - minutes[first - 2])
        slope = max(slope, before)  # the thermostat may have cut in since
        early = times[0] + (goal - warm[0]) / slope
    at = (early + late) / 2
    parts = (math.sqrt(2) * _SCATTER / slope, _DAY_TO_DAY * at, (late - early) / (2 * math.sqrt(3)))
    doubt = math.hypot(*parts)
    return Range.of((at, max(at - REACH * doubt, 0.0), at + REACH * doubt), "min")


def _answer(found: list[Found]) -> str:
    error = found[0].value
    warmer = float(error.value.magnitude)
    low, high = (f"{float(end.magnitude):+.1f}" for end in (error.low, error.high))
    words = [
        f"The platen is {abs(warmer):.1f} K {'warmer' if warmer >= 0 else 'colder'} than it says ({low} to {high})."
    ]
    for each in found[1:]:
        said = each.value.say("min")
        half = each.constant is PLATEN_HALF_LIFE
        words.append(
            f"Off, it loses half of its warmth in {said}." if half else f"It takes {said} to get warm."
        )
    return " ".join([*words, "Plans of the press reckon with this."])


def _because(readings: Readings, spread: float, cooled: LeastSquares | None) -> str:
    checked = "checked" if PROBE.name in readings.calibrated else "not checked"
    words = [f"The five places lie {spread:.1f} K apart; the thermometer was {checked}."]
    if cooled is not None and cooled.dof:
        words.append(
            f"The cooling misses one half-life by {cooled.misfit:.1f} times the doubt of its readings."
        )
    words.append("The doubt comes from the face, the thermometer, and 5 % from day to day.")
    return " ".join(words)


def _judge(
    readings: Readings, error: Range, spread: float, cooled: LeastSquares | None, missing: list[str]
) -> list[Caution]:
    cautions: list[Caution] = []
    off, most = float(error.value.magnitude), limits_of("platen_error")[1]
    if max(abs(float(end.magnitude)) for end in (error.low, error.high)) > most:
        cautions.append(_TOO_FAR(error=off, most=most))
    if cooled is not None:
        minutes, longest = math.exp(cooled.values[0]), float(LONGEST_HALF_LIFE.magnitude)
        if cooled.misfit > 2:
            cautions.append(_MISFIT(misfit=cooled.misfit))
        if not 1 <= minutes <= longest or float(_half_life(cooled).high.magnitude) > longest:
            cautions.append(_TOO_SLOW(minutes=minutes, most=longest))
    if spread > _UNEVEN:
        cautions.append(_IS_UNEVEN(spread=spread))
    if PROBE.name not in readings.calibrated:
        cautions.append(_NOT_IN_ICE())
    if missing:
        cautions.append(_WITHOUT(what="; ".join(missing)))
    return cautions


def _shown(readings: Readings, cooled: LeastSquares | None) -> Shown:
    points: list[Point] = []
    curves: dict[str, tuple[tuple[float, float], ...]] = {}
    doubt = REACH * _SCATTER
    if cooled is not None:
        minutes, read = _series(readings, COOLING)
        points = [
            Point(float(t), float(each.value.to("degC").magnitude), doubt, float(fitted), "cooling")
            for t, each, fitted in zip(minutes, read, cooled.fitted, strict=False)
        ]
        log_half, warmth, room = (float(value) for value in cooled.values)
        curves["cooling"] = tuple(
            (float(t), room + warmth * 2.0 ** (-float(t) / math.exp(log_half)))
            for t in np.linspace(0.0, float(minutes[-1]), 41)
        )
    minutes, read = _series(readings, HEATING)
    heated = [
        (float(t), float(each.value.to("degC").magnitude)) for t, each in zip(minutes, read, strict=True)
    ]
    points += [Point(t, celsius, doubt, celsius, "heating") for t, celsius in heated]
    if heated:
        curves["heating"] = tuple(heated)
    return Shown(("time", "min"), ("platen", "degC"), tuple(points), curves)


def made_up(about: str, truth: Mapping[str, float], rng: np.random.Generator | None) -> Readings:
    """Make up the readings of a press with that truth; it heats with constant power until it is warm."""
    setting, room = 60.0, 21.0
    cold, warm = draw_probe(rng)
    spread = 0.0 if rng is None else float(np.exp(0.4 * rng.standard_normal()))
    days = (1.0, 1.0) if rng is None else tuple(np.exp(_DAY_TO_DAY * rng.standard_normal(2)))
    mean = setting + truth[PLATEN_ERROR.key] - (0.0 if rng is None else spread * float(rng.standard_normal()))
    half, heating = truth[PLATEN_HALF_LIFE.key] * days[0], truth[PLATEN_HEATING.key] * days[1]
    places = [mean + (0.0 if rng is None else spread * float(rng.standard_normal())) for _ in MAP]
    drift = 0.0 if rng is None else _ROOM_DRIFTS * float(rng.standard_normal())
    rise = (places[0] - _WITHIN - room) / (
        1 - 2.0 ** (-heating / half)
    )  # it would end at, without thermostat

    def reads(celsius: float) -> tuple[Quantity, ...]:
        return (Q_(show(celsius + warm, rng, _SCATTER), "degC"),)

    def heated(minutes: float) -> float:
        return min(room + rise * (1 - 2.0 ** (-minutes / half)), places[0])

    read: dict[str, tuple[Quantity, ...]] = {
        SET.key: (Q_(setting, "degC"),),
        ICE.key: (Q_(show(cold, rng, 0.1), "degC"),),
        ROOM.key: reads(room + drift),
    }
    read |= {asked.key: reads(celsius) for asked, celsius in zip(MAP, places, strict=True)}
    for asked in HEATING:
        read[asked.key] = reads(heated(float(asked.key.rpartition("-")[2])))
    for asked in COOLING:
        minutes = float(asked.key.rpartition("-")[2])
        read[asked.key] = reads(room + (places[0] - room) * 2.0 ** (-minutes / half))
    return Readings(about, read)


PLATEN_TRIAL = Protocol(
    key="platen",
    title="Map a platen, and time its heating and cooling",
    question="How warm is my platen really, and how long does it take to get warm and to get cold?",
    takes="40 min",
    waits="4 h",
    needs=(
        "a thermocouple, or an infrared thermometer and matt tape on the metal",
        "heat-proof tape and a scrap of felt to cover the probe",
        "crushed ice, a clock, heat-proof gloves",
    ),
    steps=(
        "Read the thermometer in stirred, melting ice. Tape the probe to the centre of the cold platen under a scrap "
        "of felt, and read the room.",
        "Switch on at your usual setting, nothing in the press, and read at the minutes asked until it no longer "
        "rises. Stay with it.",
        "Wait half an hour more, so that the whole platen has settled.",
        "Read the centre and four places a thumb's length from the corners, once or three times each; bare metal "
        "fools an infrared thermometer, so aim at matt tape.",
        "Move the probe back to the centre, close the press empty, switch off, and read at 0, 10, 20, 40, 60, 90 and "
        "120 min. Do not open it.",
        "Read the room again. Enter all readings as shown; corrections are made here.",
    ),
    cautions=(
        Notice(
            "trial-platen-burns",
            Verdict.GO,
            "The metal burns within seconds at 60 °C: gloves, leads clear of hinges and platen. Stop at any smell, smoke or "
            "damaged cable, and when it climbs past 75 °C. Rules of the workshop and of the maker come before this "
            "page.",
            "memory",
        ),
        Notice(
            "trial-platen-empty",
            Verdict.GO,
            "Nothing that matters is in the press. A probe between the platens needs felt on both sides, or it marks the "
            "metal.",
        ),
    ),
    of="Press",
    abouts=lambda: (PRESS,),
    asked=(ICE, SET, *MAP, ROOM, *HEATING, *COOLING),
    fit=fit,
    finds=(PLATEN_ERROR, PLATEN_HALF_LIFE, PLATEN_HEATING),
    again_after=365,
    why_again="Thermostats drift, and heating mats age.",
    made_up=made_up,
)
"""Platen map and its times."""


def befores(about: str) -> dict[str, Range]:
    """Give what is believed of each constant without the trial, by its key."""
    return {
        PLATEN_ERROR.key: PLATEN,
        PLATEN_HALF_LIFE.key: HALF_LIFE_BELIEVED,
        PLATEN_HEATING.key: HEATING_BELIEVED,
    }
