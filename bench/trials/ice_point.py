"""A thermometer held in melting ice, and if wished in boiling water.

What is found is a correction near each of the two, with drift until the next check; between them it runs
straight, beyond them that of the nearer holds, and the doubt grows with the distance from the nearest
(:class:`bench.treatment.instrument_kinds.InstrumentKind`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from bench.physics.ranges import Range
from bench.physics.saturation import boiling_celsius, pressure_at_altitude
from bench.treatment.actual.seen import AIR_PROBE, LEAF_PROBE
from bench.treatment.instrument_kinds import THERMOMETERS
from bench.treatment.measured import THERMOMETER_0, THERMOMETER_100, Constant
from bench.treatment.plan import Notice, Verdict
from bench.trials.comparing import (
    Against,
    CheckResult,
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
from bench.units import Q_, Quantity

_BOILING_CARE = Notice(
    "check-boiling",
    Verdict.CARE,
    "Steam and boiling water scald: hold the probe with a clamp, keep your face away, and leave this point "
    "out where you cannot. Only probes made for it go into water.",
)

_PROBE_STEP = ask_step("delta_degC", 0.001, 1.0, 0.1)
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
    THERMOMETER_0: ask_last(THERMOMETER_0, 10.0, where=", in ice", group="Before"),
    THERMOMETER_100: ask_last(THERMOMETER_100, 10.0, where=", in boiling water"),
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


def check_in_ice(readings: Readings) -> TrialOutcome:
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
    check_name(readings.about, THERMOMETERS)
    step = Q_(readings.number(_PROBE_STEP), "delta_degC")
    results = [_find_warmth(readings, THERMOMETER_0, _IN_ICE, step, _ice())]
    if readings.has(_IN_STEAM):
        boils = boiling_point(readings.number(_PRESSURE), readings.number(_ALTITUDE))
        results.append(_find_warmth(readings, THERMOMETER_100, _IN_STEAM, step, boils))
    said = f"needs {results[0].say()} near 0 °C"
    rest = "Elsewhere the same is added; its doubt grows by 0.3 K in 100 K."
    if len(results) > 1:
        said += f" and {results[1].say()} near 100 °C"
        rest = "Between them a straight line is taken, with a doubt that grows by 0.3 K in 100 K."
    answer = f"The {readings.about} {said}. {rest} Contact and place of a probe are doubted as before."
    return conclude(readings.about, THERMOMETERS, results, answer, say_why(results))


def _ice() -> Measured:
    return reference(0.0, {"ice that is not pure or not stirred": _ICE_K / math.sqrt(3)})


def _find_warmth(
    readings: Readings, constant: Constant, asked: Asked, step: Quantity, held: Measured
) -> CheckResult:
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
        read[asked.key] = show_noisy(true - truth[constant.key], _PROBE_STEP.usual, rng)
    return readings_of(about, THERMOMETER_CHECK.asked, read)


THERMOMETER_CHECK = Protocol(
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
    cautions=(_BOILING_CARE,),
    of="Instrument",
    abouts=lambda: THERMOMETERS.instruments,
    asked=(_PROBE_STEP, _IN_ICE, _IN_STEAM, _PRESSURE, _ALTITUDE, *_LAST_WARMTH.values()),
    fit=check_in_ice,
    finds=(THERMOMETER_0, THERMOMETER_100),
    believed=lambda about: {
        each.key: _sought_warmth(about, each).before for each in (THERMOMETER_0, THERMOMETER_100)
    },
    again_after=365,
    why_again="Probes age with heat and kinks, and batteries run low; check at once after a fall",
    made_up=_make_up_thermometer,
)

__all__ = ["THERMOMETER_CHECK", "boiling_point", "check_in_ice"]
