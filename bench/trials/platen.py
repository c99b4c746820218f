"""How warm a platen really is, how long it takes to get there, and how long it keeps its warmth."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from bench.physics.ranges import REACH, Range
from bench.physics.transient.faces import LONGEST_HALF_LIFE
from bench.physics.transient.inputs import PLATEN, limits_of
from bench.treatment.measured import PLATEN_ERROR, PLATEN_HALF_LIFE, PLATEN_HEATING, PRESS
from bench.treatment.plan import Caution, Notice, Verdict
from bench.treatment.pressing.plan import PLATEN_HALF_LIFE as HALF_LIFE_BELIEVED
from bench.trials.fitting import LeastSquares
from bench.trials.platen_readings import (
    COOLING,
    DAY_TO_DAY,
    EVENED_OUT,
    HEATING,
    HEATING_BELIEVED,
    MAP,
    ROOM,
    ROOM_DRIFTS,
    SCATTER,
    SET,
    WITHIN,
    find_error,
    find_heating,
    fit_cooling,
    half_life_of,
    read_series,
)
from bench.trials.protocol import FitPoint, FitShown, Found, Protocol, Readings, TrialOutcome
from bench.trials.thermometer import ICE, PROBE, check_in_ice, draw_probe, show
from bench.units import Q_, Quantity

_UNEVEN = 5.0  # K between the warmest and the coldest place; judgement

_MISFIT = Notice(
    "trial-platen-misfit",
    Verdict.STOP,
    "The cooling does not follow one half-life: the readings miss it by {misfit:.1f} times their doubt. Was "
    "the "
    "press opened, or did the probe come off? Tape it anew and read again.",
)
_TOO_FAR = Notice(
    "trial-platen-too-far",
    Verdict.STOP,
    "The platen is {error:+.0f} K off what it says; the model of the press follows {most:.0f} K at most. "
    "Have the "
    "thermostat seen to before anything is pressed warm.",
)
_TOO_SLOW = Notice(
    "trial-platen-half-life",
    Verdict.STOP,
    "A half-life of {minutes:.0f} min is none that a press has (1 to {most:.0f} min). Check that the heat "
    "was off.",
)
_IS_UNEVEN = Notice(
    "trial-platen-uneven",
    Verdict.CARE,
    "The face differs by {spread:.0f} K from place to place: lay the item where it is most even, and turn "
    "the pack "
    "half-way.",
)
_NOT_IN_ICE = Notice(
    "trial-platen-probe",
    Verdict.CARE,
    "The thermometer was not checked: most of what the platen seems to be off may be its own error. Read it "
    "in "
    "melting ice.",
)
_OVERSHOT = Notice(
    "trial-platen-overshot",
    Verdict.CARE,
    "While heating it was read {over:.0f} K above where it settles: look whether a reading is a slip. If it "
    "is not, lay nothing in before it has settled.",
)
_MOST_OVER = 5.0  # K: a thermostat swings by a few kelvins; from memory
_WITHOUT = Notice("trial-platen-without", Verdict.GO, "Not found, since too little was read: {what}.")


def fit(readings: Readings) -> TrialOutcome:
    r"""Find how far the platen is off, its half-life, and the time until it is warm.

    Raises
    ------
    NotYet
        The map, the setting or the room is missing, or a series was begun and not read to its end.
    BadValue
        A platen that is no warmer than the room, or a series that runs the wrong way.

    Notes
    -----
    Cooling is Newton's, :math:`T = T_{room} + A\,2^{-t/t_{1/2}}`: a lump that loses heat in proportion to
    its warmth [incropera]_, good while it is closed and empty.  The error of one
    its warmth [incropera]_, good while it is closed and empty.  The error of one thermometer is in room and
    platen alike and cancels.  Each interval is that of the next warm pressing, wherever the item lies: the
    spread over the face, and 5 % from day to day (judgement), are in it.
    """
    readings = check_in_ice(readings)
    error, spread = find_error(readings)
    found = [Found(PLATEN_ERROR, error, PLATEN)]
    missing: list[str] = []
    cooled = fit_cooling(readings)
    if cooled is None:
        missing.append(PLATEN_HALF_LIFE.label)
    else:
        found.append(Found(PLATEN_HALF_LIFE, half_life_of(cooled), HALF_LIFE_BELIEVED))
    heating = find_heating(readings)
    if heating is None:
        missing.append(PLATEN_HEATING.label)
    else:
        found.append(Found(PLATEN_HEATING, heating, HEATING_BELIEVED))
    return TrialOutcome(
        _answer(found),
        _because(readings, spread, cooled),
        tuple(found),
        _shown(readings, cooled),
        tuple(_judge(readings, error, spread, cooled, missing)),
    )


def _answer(found: list[Found]) -> str:
    error = found[0].value
    warmer = float(error.value.magnitude)
    low, high = (f"{float(end.magnitude):+.1f}" for end in (error.low, error.high))
    words = [
        f"The platen is {abs(warmer):.1f} K {'warmer' if warmer >= 0 else 'colder'} than it says ({low} to "
        f"{high})."
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
        if not 1 <= minutes <= longest or float(half_life_of(cooled).high.magnitude) > longest:
            cautions.append(_TOO_SLOW(minutes=minutes, most=longest))
    if spread > _UNEVEN:
        cautions.append(_IS_UNEVEN(spread=spread))
    over = max((readings.number(asked) for asked in HEATING if readings.has(asked)), default=-math.inf)
    if over - readings.number(MAP[0]) > _MOST_OVER:
        cautions.append(_OVERSHOT(over=over - readings.number(MAP[0])))
    if PROBE.name not in readings.calibrated:
        cautions.append(_NOT_IN_ICE())
    if missing:
        cautions.append(_WITHOUT(what="; ".join(missing)))
    return cautions


def _shown(readings: Readings, cooled: LeastSquares | None) -> FitShown:
    points: list[FitPoint] = []
    curves: dict[str, tuple[tuple[float, float], ...]] = {}
    doubt = REACH * SCATTER
    if cooled is not None:
        minutes, read = read_series(readings, COOLING)
        points = [
            FitPoint(float(t), float(each.value.to("degC").magnitude), doubt, float(fitted), "cooling")
            for t, each, fitted in zip(minutes, read, cooled.fitted, strict=False)
        ]
        log_half, warmth, room = (float(value) for value in cooled.values)
        curves["cooling"] = tuple(
            (float(t), room + warmth * 2.0 ** (-float(t) / math.exp(log_half)))
            for t in np.linspace(0.0, float(minutes[-1]), 41)
        )
    minutes, read = read_series(readings, HEATING)
    heated = [
        (float(t), float(each.value.to("degC").magnitude)) for t, each in zip(minutes, read, strict=True)
    ]
    points += [FitPoint(t, celsius, doubt, celsius, "heating") for t, celsius in heated]
    if heated:
        curves["heating"] = tuple(heated)
    return FitShown(("time", "min"), ("platen", "degC"), tuple(points), curves)


def made_up(about: str, truth: Mapping[str, float], rng: np.random.Generator | None) -> Readings:
    """Make up the readings of a press with that truth; it heats with constant power until it is warm."""
    setting, room = 60.0, 21.0
    cold, warm = draw_probe(rng)
    spread = 0.0 if rng is None else float(np.exp(0.4 * rng.standard_normal()))
    days = (1.0, 1.0) if rng is None else tuple(np.exp(DAY_TO_DAY * rng.standard_normal(2)))
    mean = setting + truth[PLATEN_ERROR.key]
    if rng is not None:
        mean -= EVENED_OUT * spread * float(rng.standard_normal())
    half, heating = truth[PLATEN_HALF_LIFE.key] * days[0], truth[PLATEN_HEATING.key] * days[1]
    places = [mean + (0.0 if rng is None else spread * float(rng.standard_normal())) for _ in MAP]
    drift = 0.0 if rng is None else ROOM_DRIFTS * float(rng.standard_normal())
    rise = (places[0] - WITHIN - room) / (1 - 2.0 ** (-heating / half))  # it would end at, without thermostat

    def reads(celsius: float) -> tuple[Quantity, ...]:
        return (Q_(show(celsius + warm, rng, SCATTER), "degC"),)

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


PLATEN_MAP = Protocol(
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
        "Read the thermometer in stirred, melting ice. Tape the probe to the centre of the cold platen under "
        "a scrap "
        "of felt, and read the room.",
        "Switch on at your usual setting, nothing in the press, and read at the minutes asked until it no "
        "longer "
        "rises. Stay with it.",
        "Wait half an hour more, so that the whole platen has settled.",
        "Read the centre and four places a thumb's length from the corners, once or three times each; bare "
        "metal "
        "fools an infrared thermometer, so aim at matt tape.",
        "Move the probe back to the centre, close the press empty, switch off, and read at 0, 10, 20, 40, "
        "60, 90 and "
        "120 min. Do not open it.",
        "Read the room again. Enter all readings as shown; corrections are made here.",
    ),
    cautions=(
        Notice(
            "trial-platen-burns",
            Verdict.GO,
            "The metal burns within seconds at 60 °C: gloves, leads clear of hinges and platen. Stop at any "
            "smell, smoke or "
            "damaged cable, and when it climbs past 75 °C. Rules of the workshop and of the maker come "
            "before this "
            "page.",
            "memory",
        ),
        Notice(
            "trial-platen-empty",
            Verdict.GO,
            "Nothing that matters is in the press. A probe between the platens needs felt on both sides, or "
            "it marks the "
            "metal.",
        ),
    ),
    of="Press",
    abouts=lambda: (PRESS,),
    asked=(ICE, SET, *MAP, ROOM, *HEATING, *COOLING),
    fit=fit,
    finds=(PLATEN_ERROR, PLATEN_HALF_LIFE, PLATEN_HEATING),
    believed=lambda _: {
        PLATEN_ERROR.key: PLATEN,
        PLATEN_HALF_LIFE.key: HALF_LIFE_BELIEVED,
        PLATEN_HEATING.key: HEATING_BELIEVED,
    },
    again_after=365,
    why_again="Thermostats drift, and heating mats age",
    made_up=made_up,
)
"""Platen map and its times."""
