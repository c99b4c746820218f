"""The thermometer of the trials at the press, and its check in melting ice."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from bench.errors import BadValue
from bench.treatment.needed import Instrument
from bench.trials.protocol import Asked, Calibrated, Readings
from bench.units import Q_

PROBE = Instrument("thermometer", Q_(2.0, "delta_degC"), Q_(0.1, "delta_degC"))
"""A thermocouple with its meter: tolerance of class 1 or 2 (1.5 or 2.5 K), from memory of IEC 60584-1."""

ICE = Asked(
    "ice",
    "The same thermometer in melting ice",
    "temperature",
    -5.0,
    5.0,
    most=3,
    is_optional=True,
    tool=PROBE,
    group="Thermometer",
    hint="crushed ice and a little water, stirred; it takes most of the thermometer's doubt away",
)
FROM_ICE = 0.5
"""Standard doubt in K of carrying a correction from melting ice to a warm press; judgement."""


_MOST_OFF = 3.0  # K: more is no thermometer to go by, or no melting ice; judgement
_WARM = Q_(50.0, "degC")  # as warm as glue is tried and platens are: where a check of the bench is taken


def check_in_ice(readings: Readings) -> Readings:
    """Give the readings with the thermometer corrected by what it showed in melting ice.

    A thermometer that was calibrated otherwise stays as it was calibrated.

    Raises
    ------
    BadValue
        The reading is so far off that the thermometer is faulty or the ice was not melting.
    """
    if PROBE.name in readings.calibrated or not readings.has(ICE):
        return readings
    shown = np.array([float(each.to("degC").magnitude) for each in readings.read[ICE.key]])
    off = float(shown.mean())
    if abs(off) > _MOST_OFF:
        remedy = "Stir crushed ice with a little water and wait; if it stays, take another thermometer"
        raise BadValue(ICE.label, f"{off:.1f} °C", f"within {_MOST_OFF:.0f} K of 0 °C", remedy)
    step = float(PROBE.step.magnitude)
    scatter = float(shown.std(ddof=1)) if len(shown) > 1 else step
    standard = math.sqrt(scatter**2 / len(shown) + step**2 / 12 + FROM_ICE**2)
    known = Calibrated(Q_(-off, "delta_degC"), Q_(standard, "delta_degC"))
    return replace(readings, calibrated={**readings.calibrated, PROBE.name: known})


def doubt_of_probe(readings: Readings) -> tuple[float, float]:
    """Give correction and standard doubt of the thermometer, K."""
    found = readings.calibrated.get(PROBE.name)
    known = None if found is None else found.near(_WARM)
    if known is None:
        return 0.0, float(PROBE.limit.to("delta_degC").magnitude) / math.sqrt(3)
    return tuple(float(q.to("delta_degC").magnitude) for q in (known.correction, known.standard))  # type: ignore[return-value]


def draw_probe(rng: np.random.Generator | None) -> tuple[float, float]:
    """Make up what a thermometer shows in ice, and how far it is off when warm, K."""
    if rng is None:
        return 0.0, 0.0
    limit = float(PROBE.limit.magnitude)
    cold = float(rng.uniform(-limit, limit))
    return cold, cold + FROM_ICE * float(rng.standard_normal())


def show(celsius: float, rng: np.random.Generator | None, scatter: float) -> float:
    """Make up a reading in °C: scattered and rounded to the step; exact without ``rng``."""
    if rng is None:
        return celsius
    step = float(PROBE.step.magnitude)
    return float(step * round((celsius + scatter * float(rng.standard_normal())) / step))
