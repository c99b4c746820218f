"""A hygrometer held over two salts, and a thermometer in melting ice and boiling water.

What is found is a correction near each of the two, with drift until the next check; between them it runs
straight, beyond them that of the nearer holds, and the doubt grows with the distance from the nearest
(:class:`bench.treatment.calibration.Kind`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from bench.errors import BadValue
from bench.physics.ranges import REACH, Range
from bench.physics.salts import salt_humidity
from bench.physics.saturation import boiling_celsius, pressure_at_altitude, pressure_pa
from bench.treatment.actual.seen import AIR_PROBE, HYGROMETER, LEAF_PROBE
from bench.treatment.calibration import HYGROMETERS, THERMOMETERS, Kind
from bench.treatment.measured import (
    HYGROMETER_75,
    HYGROMETER_97,
    THERMOMETER_0,
    THERMOMETER_100,
    Constant,
)
from bench.treatment.plan import Notice, Verdict
from bench.trials.comparing import (
    LAST,
    Against,
    Result,
    Sought,
    conclude,
    find,
    last_time,
    reference,
    say_why,
    shown,
)
from bench.trials.protocol import Asked, Outcome, Protocol, Readings
from bench.uncertainty import Measured
from bench.units import Q_, Quantity, upper_first

_SALT_CARE = Notice(
    "check-salts",
    Verdict.GO,
    "Keep salts off skin, eyes, metal and paper, and away from food: gloves, and the rules of your workshop. A "
    "sensor that touched a salt solution is spoilt.",
)
_BOILING_CARE = Notice(
    "check-boiling",
    Verdict.CARE,
    "Steam and boiling water scald: hold the probe with a clamp, keep your face away, and leave this point out "
    "where you cannot. Only probes made for it go into water.",
)
_BEND = Notice(
    "check-hygrometer-bends",
    Verdict.CARE,
    "The corrections over the two salts differ by {points:.1f} % RH. Between them a straight line is taken: check "
    "over potassium chloride (85 %) too before you trust it in a chamber.",
)
_MUCH_BEND = 5.0  # % RH between the two: judgement


def _check_name(about: str, kind: Kind) -> None:
    if about not in kind.instruments:
        raise BadValue("instrument", repr(about), ", ".join(kind.instruments), "Choose one of these")


def _step(unit: str, low: float, high: float, usual: float) -> Asked:
    return Asked(
        "step",
        "Smallest step that it shows",
        unit,
        low,
        high,
        usual=usual,
        group="The instrument",
        hint="one of its last digit",
    )


def _last(constant: Constant, of: str, span: float) -> Asked:
    return Asked(
        f"{LAST}-{constant.key}",
        f"Correction found last time, {of}",
        constant.unit,
        -span,
        span,
        is_optional=True,
        group="Before" if constant in (HYGROMETER_75, THERMOMETER_0) else "",
        hint="if it was checked half a year or a year ago; its drift is then taken from that",
    )


def _readings_of(about: str, asked: Sequence[Asked], read: Mapping[str, Sequence[float]]) -> Readings:
    by_key = {each.key: each for each in asked}
    return Readings(
        about, {key: tuple(by_key[key].quantity(v) for v in values) for key, values in read.items()}
    )


def _noisy(true: float, step: float, rng: np.random.Generator | None, repeats: int = 5) -> list[float]:
    """Give repeated readings of a value: they scatter by a step, and show whole steps."""
    if rng is None:
        return [true] * repeats
    return list(map(float, np.round((true + rng.normal(0.0, step, repeats)) / step) * step))


def _say(result: Result) -> str:
    return f"{result.say()}"


# --- hygrometer ----------------------------------------------------------------------------------------------

_SALTS = {HYGROMETER_75: "sodium chloride", HYGROMETER_97: "potassium sulphate"}
_AIR_STEP = _step("percent", 0.01, 2.0, 0.1)
_AT = {
    constant: Asked(
        f"temperature-{constant.key}",
        f"Temperature over {salt}",
        "temperature",
        15.0,
        30.0,
        usual=22.0,
        group=upper_first(salt),
        hint="of salt, air and sensor",
    )
    for constant, salt in _SALTS.items()
}
_OVER = {
    constant: Asked(
        f"shown-{constant.key}",
        f"Shown over {salt}",
        "percent",
        40.0,
        100.0,
        most=10,
        hint="after it has come to rest; five readings, ten minutes apart",
    )
    for constant, salt in _SALTS.items()
}
_LAST_HUMIDITY = {constant: _last(constant, f"over {salt}", 15.0) for constant, salt in _SALTS.items()}
# Judgement: warmth that salt and sensor differ by after a day closed up, what a sensor keeps of where it came
# from (its hysteresis, as makers give it), and what it may move in half a year beside a damp chamber.
_APART_K, _HYSTERESIS, _DRIFT, _LEAST_DRIFT = 0.1, 0.5, 1.0, 0.25
_LARGEST = 10.0  # beyond it the set-up is to be doubted first, as for a check against one salt


def _over_salt(salt: str, celsius: Quantity) -> Measured:
    """Give the humidity over a salt with its doubts, in per cent as a plain number."""
    held = salt_humidity(salt, temperature=celsius)
    percent, doubt = (float(each.to("percent").magnitude) for each in (held.humidity, held.uncertainty))
    warm = float(celsius.to("degC").magnitude)
    of_a_kelvin = percent * (1 - pressure_pa(warm) / pressure_pa(warm + 1))
    return reference(
        percent,
        {
            f"humidity over the salt, {salt}": doubt / REACH,
            f"warmth between salt and sensor, {salt}": of_a_kelvin * _APART_K / math.sqrt(3),
            f"hysteresis, {salt}": _HYSTERESIS / math.sqrt(3),
        },
    )


def _sought_humidity(constant: Constant) -> Sought:
    reach = float(HYGROMETER.to("percent").magnitude)
    return Sought(
        constant,
        Range.of((0.0, -reach, reach), "percent"),
        _LARGEST,
        _DRIFT,
        _LEAST_DRIFT,
        "Look for the wrong salt, a dry or flooded tray, a dead sensor, and begin anew.",
    )


def check_over_salts(readings: Readings) -> Outcome:
    """Find the corrections of a hygrometer near 75 and near 97 % RH.

    Parameters
    ----------
    readings : Readings
        ``about`` names the hygrometer.

    Raises
    ------
    NotYet
        A reading is missing.
    BadValue
        A step that no hygrometer has.
    OutOfRange
        A temperature outside 15 to 30 °C, where the doubt of the salts is printed.

    Notes
    -----
    Each salt is one reference, after [greenspan1977]_; nothing is left to compare, so that a wrong salt shows
    only as a large correction.
    """
    _check_name(readings.about, HYGROMETERS)
    step = Q_(readings.number(_AIR_STEP), "percent")
    results = []
    for constant, salt in _SALTS.items():
        celsius = Q_(readings.number(_AT[constant]), "degC")
        seen = shown(readings, _OVER[constant], step)
        error = _over_salt(salt, celsius) - seen
        against = [Against(f"over {salt}", float(seen.value.magnitude), error)]
        results.append(
            find(_sought_humidity(constant), against, last_time(readings, _LAST_HUMIDITY[constant]))
        )
    damp, wet = results
    points = abs(damp.number - wet.number)
    cautions = [_BEND(points=points)] if points > _MUCH_BEND else []
    answer = (
        f"The {readings.about} needs {_say(damp)} near 75 % RH and {_say(wet)} near 97 %, a straight line between. "
        "Below 75 % that of 75 % is kept; its doubt grows by 1 % in 25. Chambers take it near 90 %, readings of "
        "the log as they stand."
    )
    return conclude(readings.about, HYGROMETERS, results, answer, say_why(results), cautions)


def _make_up_hygrometer(
    about: str, truth: Mapping[str, float], rng: np.random.Generator | None = None
) -> Readings:
    assert _AIR_STEP.usual is not None
    read: dict[str, Sequence[float]] = {_AIR_STEP.key: (_AIR_STEP.usual,)}
    for constant, salt in _SALTS.items():
        held = _over_salt(salt, Q_(22.0, "degC"))
        true = float(held.value.magnitude)
        if rng is not None:
            of_salt, warmth, hysteresis = (float(each.u.magnitude) for each in held.components)
            limits = math.sqrt(3) * np.array([warmth, hysteresis])
            true += rng.normal(0.0, of_salt) + float((limits * rng.uniform(-1, 1, 2)).sum())
        read |= {
            _AT[constant].key: (22.0,),
            _OVER[constant].key: _noisy(true - truth[constant.key], _AIR_STEP.usual, rng),
        }
    return _readings_of(about, SALTS.asked, read)


SALTS = Protocol(
    key="hygrometer",
    title="Check a hygrometer over two salts",
    question="How far off is my hygrometer, in a room and in a chamber?",
    takes="half an hour",
    waits="a day over each salt",
    needs=(
        "the hygrometer or logger",
        "table salt without additives (sodium chloride) and potassium sulphate",
        "two small boxes that close tightly, and an insulated bag around them",
        "a thermometer",
    ),
    steps=(
        "Stir each salt with a little water to a slush, with crystals standing in it, in a dish of its own.",
        "Close dish and hygrometer in a small box over table salt, neither touching the other, out of sun and draught.",
        "After a day read humidity and temperature five times, ten minutes apart, without opening.",
        "Let it rest an hour in the room. Close it up over potassium sulphate in the same way.",
        "After a day read five times. Drops on the wall or the sensor: dry it and begin anew.",
        "Enter every reading as it was shown, with the temperature beside the salt.",
    ),
    cautions=(_SALT_CARE(),),
    of="Instrument",
    abouts=lambda: HYGROMETERS.instruments,
    asked=(
        _AIR_STEP,
        *(asked for constant in _SALTS for asked in (_AT[constant], _OVER[constant])),
        *_LAST_HUMIDITY.values(),
    ),
    fit=check_over_salts,
    finds=tuple(_SALTS),
    again_after=182,
    why_again="Sensors drift by about a per cent in half a year, faster where they are often damp.",
    made_up=_make_up_hygrometer,
)

# --- thermometer ---------------------------------------------------------------------------------------------

_PROBE_STEP = _step("delta_degC", 0.001, 1.0, 0.1)
_IN_ICE = Asked(
    "shown-ice",
    "Shown in melting ice",
    "temperature",
    -5.0,
    8.0,
    most=10,
    group="Melting ice",
    hint="deep in the slush, clear of the wall; five readings, stirred between",
)
_IN_STEAM = Asked(
    "shown-boiling",
    "Shown in boiling water",
    "temperature",
    80.0,
    110.0,
    most=10,
    is_optional=True,
    group="Boiling water",
    hint="in a rolling boil, clear of the bottom; may be left out",
)
_PRESSURE = Asked(
    "pressure",
    "Pressure of the air at sea level",
    "hPa",
    940.0,
    1060.0,
    usual=1013.0,
    is_optional=True,
    hint="of the hour, from a weather report of your place",
)
_ALTITUDE = Asked(
    "altitude", "Altitude", "m", -400.0, 4000.0, usual=0.0, is_optional=True, hint="above sea level"
)
_LAST_WARMTH = {
    THERMOMETER_0: _last(THERMOMETER_0, "in ice", 10.0),
    THERMOMETER_100: _last(THERMOMETER_100, "in boiling water", 10.0),
}
# Judgement: ice of tap water, stirred; water that boils unevenly; what a report and a map leave open; what a
# probe moves in a year.
_ICE_K, _BOIL_K, _REPORT_HPA, _MAP_M = 0.1, 0.2, 3.0, 20.0
_WARM_DRIFT, _LEAST_WARM_DRIFT, _LARGEST_WARM = 0.2, 0.05, 5.0
_USUAL_PLACE = (1013.0, 0.0)


def boiling_point(sea_level: float, metres: float) -> Measured:
    """Give where water boils, in °C as a plain number, with its doubts.

    Parameters
    ----------
    sea_level, metres : float
        Pressure reduced to sea level in hPa, and altitude.

    Raises
    ------
    OutOfRange
        A pressure at which nobody works.
    """
    boils = boiling_celsius(100 * pressure_at_altitude(sea_level, metres))
    of_report = abs(boiling_celsius(100 * pressure_at_altitude(sea_level + _REPORT_HPA, metres)) - boils)
    of_map = abs(boiling_celsius(100 * pressure_at_altitude(sea_level, metres + _MAP_M)) - boils)
    third = math.sqrt(3)
    return reference(
        boils,
        {
            "uneven boiling": _BOIL_K / third,
            "pressure of the air": of_report / third,
            "altitude": of_map / third,
        },
    )


def _sought_warmth(about: str, constant: Constant) -> Sought:
    limit = AIR_PROBE if about == THERMOMETERS.instruments[0] else LEAF_PROBE
    reach = float(limit.to("delta_degC").magnitude)
    return Sought(
        constant,
        Range.of((0.0, -reach, reach), "delta_degC"),
        _LARGEST_WARM,
        _WARM_DRIFT,
        _LEAST_WARM_DRIFT,
        "Look for a probe that is not deep enough, a wrong type of probe or a low battery.",
    )


def check_in_ice(readings: Readings) -> Outcome:
    """Find the correction of a thermometer near 0 °C, and near 100 °C where it was read in boiling water.

    Parameters
    ----------
    readings : Readings
        ``about`` names the thermometer.

    Raises
    ------
    NotYet
        A reading is missing; pressure and altitude are needed for boiling water.
    BadValue
        A step that no thermometer has.
    OutOfRange
        A pressure at which nobody works.

    Notes
    -----
    Melting ice is 0.00 °C by old definition of the scale, within 0.001 K; boiling water follows the pressure
    of the air after Hyland and Wexler [ashrae-f1]_.
    """
    _check_name(readings.about, THERMOMETERS)
    step = Q_(readings.number(_PROBE_STEP), "delta_degC")
    results = [_find_warmth(readings, THERMOMETER_0, _IN_ICE, step, _ice())]
    if readings.has(_IN_STEAM):
        boils = boiling_point(readings.number(_PRESSURE), readings.number(_ALTITUDE))
        results.append(_find_warmth(readings, THERMOMETER_100, _IN_STEAM, step, boils))
    said = f"needs {_say(results[0])} near 0 °C"
    rest = "Elsewhere the same is added; its doubt grows by 0.3 K in 100 K."
    if len(results) > 1:
        said += f" and {_say(results[1])} near 100 °C"
        rest = "Between them a straight line is taken, with a doubt that grows by 0.3 K in 100 K."
    answer = f"The {readings.about} {said}. {rest} Contact and place of a probe are doubted as before."
    return conclude(readings.about, THERMOMETERS, results, answer, say_why(results))


def _ice() -> Measured:
    return reference(0.0, {"ice that is not pure or not stirred": _ICE_K / math.sqrt(3)})


def _find_warmth(
    readings: Readings, constant: Constant, asked: Asked, step: Quantity, held: Measured
) -> Result:
    seen = shown(readings, asked, step)
    where = "in melting ice" if constant is THERMOMETER_0 else "in boiling water"
    against = [Against(where, float(seen.value.magnitude), held - seen)]
    last = last_time(readings, _LAST_WARMTH[constant])
    return find(_sought_warmth(readings.about, constant), against, last)


def _make_up_thermometer(
    about: str, truth: Mapping[str, float], rng: np.random.Generator | None = None
) -> Readings:
    assert _PROBE_STEP.usual is not None
    sea, metres = _USUAL_PLACE
    read: dict[str, Sequence[float]] = {_PROBE_STEP.key: (_PROBE_STEP.usual,)}
    read |= {_PRESSURE.key: (sea,), _ALTITUDE.key: (metres,)}
    for constant, asked, held in (
        (THERMOMETER_0, _IN_ICE, _ice()),
        (THERMOMETER_100, _IN_STEAM, boiling_point(sea, metres)),
    ):
        if constant.key not in truth:
            continue
        true = float(held.value.magnitude)
        if rng is not None:
            limits = math.sqrt(3) * np.array([float(each.u.magnitude) for each in held.components])
            true += float((limits * rng.uniform(-1, 1, len(limits))).sum())
        read[asked.key] = _noisy(true - truth[constant.key], _PROBE_STEP.usual, rng)
    return _readings_of(about, ICE.asked, read)


ICE = Protocol(
    key="thermometer",
    title="Check a thermometer in ice",
    question="How far off is my thermometer or thin probe?",
    takes="20 minutes",
    waits="ten minutes in the slush",
    needs=(
        "the thermometer or probe",
        "crushed ice and cold water",
        "an insulated cup",
        "if wished: a pot on a rolling boil",
    ),
    steps=(
        "Fill an insulated cup with crushed ice, and with cold water up to its brim: a slush without pools.",
        "Put the probe deep into it, clear of wall and bottom, stir, and wait until it rests.",
        "Read five times, stirring between. Pour off water and add ice as it melts.",
        "If wished, hang the probe in water on a rolling boil, clear of the bottom, and read five times.",
        "For boiling water note the pressure of the hour from a weather report, and your altitude.",
        "Dry the probe. Enter every reading as it was shown.",
    ),
    cautions=(_BOILING_CARE(),),
    of="Instrument",
    abouts=lambda: THERMOMETERS.instruments,
    asked=(_PROBE_STEP, _IN_ICE, _IN_STEAM, _PRESSURE, _ALTITUDE, *_LAST_WARMTH.values()),
    fit=check_in_ice,
    finds=(THERMOMETER_0, THERMOMETER_100),
    again_after=365,
    why_again="Probes age with heat and kinks, and batteries run low; check at once after a fall.",
    made_up=_make_up_thermometer,
)

__all__ = ["ICE", "SALTS", "boiling_point", "check_in_ice", "check_over_salts"]
