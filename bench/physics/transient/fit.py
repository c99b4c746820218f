r"""Weighing beats guessing: the transport ratio and the isotherm's scale from weighings.

The predicted gain in mass is held against what the balance read; the two unknowns are found on their
logarithms, with what was believed before as one more observation each.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from bench.errors import BadValue
from bench.physics.arrays import Floats
from bench.physics.most_probable import Belief, find_most_probable
from bench.physics.ranges import REACH, Range
from bench.physics.transient.history import History
from bench.physics.transient.inputs import SCALE_BELIEF, Inputs, limits_of
from bench.physics.transient.phases import Phase
from bench.physics.transient.sequence import Course, simulate_together
from bench.stack import Stack
from bench.units import Q_, Quantity, to_float

_STEP = 0.02  # over the logarithm: wide enough for the error of the model's own steps
_FITTED = ("transport_ratio", "isotherm_scale")


@dataclass(frozen=True)
class Weighing:
    """One weighing of the item.

    Attributes
    ----------
    when : Quantity [time]
        Since the start of the first phase.
    mass : Quantity [mass]
        As read.
    """

    when: Quantity
    mass: Quantity


@dataclass(frozen=True)
class Fit:
    """What the weighings say.

    Attributes
    ----------
    transport_ratio, isotherm_scale : Range, dimensionless
        With the ends of 95 %.
    residuals : tuple of Quantity [g]
        Read less predicted, in the order of the weighings.
    misfit : float
        Root mean square of the residuals over the standard uncertainty of a weighing; about 1 if the
        model is right, above 2 where there is a slip in the readings or in the phases.
    """

    transport_ratio: Range
    isotherm_scale: Range
    residuals: tuple[Quantity, ...]
    misfit: float


def fit_weighings(
    stack: Stack,
    phases: Iterable[Phase],
    weighings: Sequence[Weighing],
    *,
    uncertainty: Quantity,
    inputs: Inputs | None = None,
    shared: Floats | None = None,
    **options: Any,
) -> Fit:
    r"""Find the transport ratio and the scale of the isotherm from weighings of the item.

    Parameters
    ----------
    stack, phases, inputs, **options
        As in :func:`bench.physics.transient.sequence.simulate`.
    weighings : sequence of Weighing
        The first is the mass before water moved; two or more later ones say something of the ratio.
    uncertainty : Quantity [mass]
        Standard uncertainty of one weighing, handling among it; above 0.
    shared : array of (n - 1, n - 1), g², optional
        Covariance that all else which is not known adds to the gains; nothing without it.

    Returns
    -------
    Fit

    Raises
    ------
    BadValue
        Fewer than three weighings.
    OutOfRange
        The stack left the range of its isotherms.

    Notes
    -----
    .. math:: \min_{\ln r,\,\ln s} \sum_i \frac{(\Delta m_i - \Delta m(t_i; r, s))^2}{2\,u^2}
              + \frac{(\ln r - \ln r_0)^2}{u_r^2} + \frac{(\ln s)^2}{u_s^2}

    Gains since the first weighing are compared, so that the dry mass and an offset of the balance drop
    out; a gain has twice the variance of a weighing.  The range of the transport ratio given is read as
    the 95 % belief before.  With :math:`V` shared, the first sum becomes
    :math:`d^T (2 u^2 I + V)^{-1} d` with the differences :math:`d`: least squares of correlated
    readings [gum]_.
    """
    known, given = inputs or Inputs(), tuple(phases)
    if len(weighings) < 3:
        raise BadValue("weighings", len(weighings), "three or more", "Weigh before, and at least twice later")
    u = to_float(uncertainty, "g", field="uncertainty of a weighing", low=1e-4, high=100.0) * math.sqrt(2)
    read = np.array([to_float(w.mass, "g", field="mass", low=0.1, high=1e5) for w in weighings])
    gains = read[1:] - read[0]
    noise = u**2 * np.eye(len(gains))
    trust = np.asarray(np.linalg.inv(noise if shared is None else noise + shared), dtype=np.float64)
    times = [weighing.when for weighing in weighings]

    def predict(points: Floats) -> Floats:
        courses = [Course(stack, given, inputs=_with(known, logs), **options) for logs in points.T]
        return np.stack([read_gains(history, times) for history in simulate_together(courses)], axis=1)

    belief = _believe(known)
    found = find_most_probable(predict, gains, trust, belief)
    off = gains - found.predicted
    misfit = math.sqrt(float(off @ trust @ off) / len(off))
    reach = REACH * np.sqrt(np.diag(found.covariance)) * max(1.0, misfit)
    ends = (np.clip(found.values + way * reach, belief.low, belief.high) for way in (-1, 1))
    ratio, scale = (Range.of(numbers, "") for numbers in zip(*np.exp([found.values, *ends]), strict=True))
    return Fit(ratio, scale, tuple(Q_(float(residual), "g") for residual in off), misfit)


def _believe(inputs: Inputs) -> Belief:
    """Give what is believed of the two constants, over their logarithms."""
    value, low, high = inputs.triples["transport_ratio"]
    values = np.log([value, inputs.triples["isotherm_scale"][0]])
    doubts = np.array([max(1e-6, math.log(high / low) / (2 * REACH)), math.log(SCALE_BELIEF) / REACH])
    hair = 1e-9  # so that what is at an end is still allowed once it is no logarithm any more
    least, most = np.log([limits_of(name) for name in _FITTED]).T
    return Belief(values, doubts, least + hair, most - hair, np.full(2, _STEP))


def _with(inputs: Inputs, logs: Floats) -> Inputs:
    ratio, scale = (Q_(float(value), "") for value in np.exp(logs))
    return replace(inputs, transport_ratio=ratio, isotherm_scale=scale)


def read_gains(history: History, times: Sequence[Quantity]) -> Floats:
    """Read the gains since the first of some times, g."""
    masses = history.item_mass()
    read = np.array([float(history.at(masses, when).to("g").magnitude) for when in times])
    return np.asarray(read[1:] - read[0])
