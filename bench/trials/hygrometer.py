"""A hygrometer held over two salts: one for the room, one for the chamber.

What is found is a correction near each of the two, with drift until the next check; between them it runs
straight, beyond them that of the nearer holds, and the doubt grows with the distance from the nearest
(:class:`bench.treatment.instrument_kinds.InstrumentKind`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from bench.physics.ranges import REACH, Range
from bench.physics.salts import salt_humidity
from bench.physics.saturation import pressure_pa
from bench.treatment.actual.seen import HYGROMETER
from bench.treatment.instrument_kinds import HYGROMETERS
from bench.treatment.measured import HYGROMETER_75, HYGROMETER_97, Constant
from bench.treatment.plan import Notice, Verdict
from bench.trials.comparing import (
    Against,
    Sought,
    conclude,
    find,
    last_time,
    reference,
    say_why,
    shown,
)
from bench.trials.protocol import Asked, Protocol, Readings, TrialOutcome
from bench.trials.references import ask_last, ask_step, check_name, readings_of, show_noisy
from bench.uncertainty import Measured
from bench.units import Q_, Quantity, upper_first

_SALT_CARE = Notice(
    "check-salts",
    Verdict.GO,
    "Keep salts off skin, eyes, metal and paper, and away from food: gloves, and the rules of your workshop. "
    "A sensor that touched a salt solution is spoilt.",
)
_BEND = Notice(
    "check-hygrometer-bends",
    Verdict.CARE,
    "The corrections over the two salts differ by {points:.1f} % RH. Between them a straight line is taken: "
    "check over potassium chloride (85 %) too before you trust it in a chamber.",
)
_MUCH_BEND = 5.0  # % RH between the two: judgement

_SALTS = {HYGROMETER_75: "sodium chloride", HYGROMETER_97: "potassium sulphate"}
_AIR_STEP = ask_step("percent", 0.01, 2.0, 0.1)
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
        105.0,
        most=10,
        hint="after it has come to rest; five readings, ten minutes apart",
    )
    for constant, salt in _SALTS.items()
}
_LAST_HUMIDITY = {
    constant: ask_last(
        constant, 15.0, where=f", over {salt}", group="Before" if salt == "sodium chloride" else ""
    )
    for constant, salt in _SALTS.items()
}
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


def check_over_salts(readings: Readings) -> TrialOutcome:
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
    check_name(readings.about, HYGROMETERS)
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
        f"The {readings.about} needs {damp.say()} near 75 % RH and {wet.say()} near 97 %, a straight line "
        "between. Below 75 % that of 75 % is kept; its doubt grows by 1 % in 25. Plans of a chamber take "
        "it near 90 %."
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
            _OVER[constant].key: show_noisy(true - truth[constant.key], _AIR_STEP.usual, rng),
        }
    return readings_of(about, HYGROMETER_CHECK.asked, read)


HYGROMETER_CHECK = Protocol(
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
        "Close dish and hygrometer in a small box over table salt, not touching, out of sun and draught.",
        "After a day read humidity and temperature five times, ten minutes apart, without opening.",
        "Let it rest an hour in the room. Close it up over potassium sulphate in the same way.",
        "After a day read five times. Drops on the wall or the sensor: dry it and begin anew.",
        "Enter every reading as it was shown, with the temperature beside the salt.",
    ),
    cautions=(_SALT_CARE,),
    of="Instrument",
    abouts=lambda: HYGROMETERS.instruments,
    asked=(
        _AIR_STEP,
        *(asked for constant in _SALTS for asked in (_AT[constant], _OVER[constant])),
        *_LAST_HUMIDITY.values(),
    ),
    fit=check_over_salts,
    finds=tuple(_SALTS),
    believed=lambda _: {constant.key: _sought_humidity(constant).before for constant in _SALTS},
    again_after=182,
    why_again="Sensors drift by about a per cent in half a year, faster where they are often damp",
    made_up=_make_up_hygrometer,
)

__all__ = ["HYGROMETER_CHECK", "check_over_salts"]
