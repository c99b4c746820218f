"""Least squares of a trial, with the doubts of its readings and what they share."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from bench.errors import BadValue
from bench.physics.arrays import Floats
from bench.physics.ranges import Range
from bench.trials.protocol import Asked, Readings
from bench.uncertainty import Component, Measured, coverage_factor
from bench.units import Q_, difference_unit

Model = Callable[[Floats], Floats]


@dataclass(frozen=True)
class LeastSquares:
    """What a fit gave.

    Attributes
    ----------
    values : array (p,)
        Of the parameters.
    covariance : array (p, p)
        Of them, widened where the readings scatter more than their doubts say.
    fitted : array (n,)
        What the model gives for each reading.
    misfit : float
        Root of the weighted squares over the degrees of freedom (Birge's ratio); nan without any left.
    dof : int
        Readings, and beliefs, over parameters.
    """

    values: Floats
    covariance: Floats
    fitted: Floats
    misfit: float
    dof: int

    def range(self, number: int, unit: str, *, is_factor: bool = False) -> Range:
        """Give a parameter with its interval of 95 %; a factor was fitted as its logarithm."""
        value, u = float(self.values[number]), math.sqrt(float(self.covariance[number, number]))
        factor = coverage_factor(self.dof if self.misfit > 1 else math.inf)
        ends = (value, value - factor * u, value + factor * u)
        return Range.of(map(factor_of, ends) if is_factor else ends, unit)


def read_pooled(readings: Readings, asked: Sequence[Asked]) -> tuple[Measured, ...]:
    """Give what was read at several places, the scatter taken from all of them together.

    Two or three readings at one place scatter little by chance; where all are taken with one instrument on
    the like of a thing, the pooled standard deviation (GUM H.5 [gum]_, from memory) says more.

    Parameters
    ----------
    readings : Readings
        Of the trial.
    asked : sequence of Asked
        Read alike, all in one unit and with one tool.

    Returns
    -------
    tuple of Measured
        In the same order; as they are where nothing was read twice.

    Raises
    ------
    NotYet
        One was not read.
    """
    found = [readings.measured(each) for each in asked]
    counts = [len(readings.read[each.key]) for each in asked]
    delta = difference_unit(asked[0].plain_unit)
    own = [float(one.components[0].u.to(delta).magnitude) for one in found]
    dof = sum(count - 1 for count in counts)
    if not dof:
        return tuple(found)
    squares = sum((n - 1) * n * u**2 for n, u in zip(counts, own, strict=True))
    pooled = math.sqrt(squares / dof)
    return tuple(
        Measured(
            one.value,
            (
                Component(one.components[0].cause, Q_(pooled / math.sqrt(n), delta), float(dof)),
                *one.components[1:],
            ),
            one.source,
        )
        for one, n in zip(found, counts, strict=True)
    )


_FAR = 1e9  # from any reading
_HOPELESS = 1e5  # standard uncertainties off: no slip of a hand, but of a unit
_LARGEST = 50.0  # of a logarithm: no constant of a bench is known within e to the fiftieth


def factor_of(logarithm: float) -> float:
    """Give the factor of which the logarithm was fitted.

    Raises
    ------
    BadValue
        Readings that say nothing of it: its interval has no end.
    """
    if not abs(logarithm) <= _LARGEST:
        remedy = "Look for a slip in them, and read again"
        raise BadValue(
            "readings", "too far apart to tell anything", "readings that agree with each other", remedy
        )
    return math.exp(logarithm)


def covariance_of(read: Sequence[Measured], unit: str) -> Floats:
    """Give the covariance of readings in a unit: causes of one name are shared, others are not.

    Returns
    -------
    array (n, n)
    """
    delta = difference_unit(unit)
    causes: dict[str, Floats] = {}
    for number, each in enumerate(read):
        for component in each.components:
            row = causes.setdefault(component.cause, np.zeros(len(read)))
            row[number] += float(component.u.to(delta).magnitude)
    total = np.zeros((len(read), len(read)))
    for row in causes.values():
        total += np.outer(row, row)
    return total


def fit_readings(
    model: Model,
    start: Sequence[float],
    read: Floats,
    covariance: Floats,
    *,
    believed: Sequence[tuple[float, float] | None] = (),
) -> LeastSquares:
    """Fit a model to readings by least squares, weighted with their covariance (JCGM 102 [gum]_).

    Parameters
    ----------
    model : callable
        Parameters (p,) to what would be read (n,); a parameter that is a factor enters as its logarithm.
    start : sequence of float
        Where to begin.
    read : array (n,)
        What was read.
    covariance : array (n, n)
        Of the readings, as :func:`covariance_of` gives it.
    believed : sequence of (value, standard uncertainty) or None, optional
        What is known of each parameter beforehand; it counts as one reading more.

    Returns
    -------
    LeastSquares

    Raises
    ------
    BadValue
        Fewer readings and beliefs than parameters, or readings that no fit comes near.

    Notes
    -----
    The covariance of the parameters is that of the linear model at the solution.  It is multiplied by the
    square of Birge's ratio where that is above one: scatter that the doubts do not explain is not left out.
    """
    from scipy.optimize import least_squares  # a second to import

    begin = np.asarray(start, float)
    known = [(i, *belief) for i, belief in enumerate(believed) if belief is not None]
    dof = len(read) + len(known) - len(begin)
    if dof < 0:
        allowed = f"{len(begin) - len(known)} or more"
        raise BadValue("readings", f"{len(read)}", allowed, "Read at more places, and enter all of them")
    lower = np.linalg.cholesky(covariance)

    def left(parameters: Floats) -> Floats:
        with np.errstate(all="ignore"):  # far from any solution a model may leave what numbers can hold
            given = np.nan_to_num(np.asarray(model(parameters)), nan=_FAR, posinf=_FAR, neginf=-_FAR)
        off = np.linalg.solve(lower, given - read)
        prior = [(parameters[i] - value) / u for i, value, u in known]
        return np.r_[off, prior]

    found = least_squares(left, begin, x_scale="jac", method="lm")
    if not found.success or not np.isfinite(found.x).all():
        raise BadValue("readings", "without a fit", "such as the model can give", "Look for a slip in them")
    if np.abs(found.fun).max(initial=0.0) > _HOPELESS:
        raise BadValue(
            "readings", "far from any fit", "such as the model can give", "Look for a slip in them"
        )
    misfit = math.sqrt(float((found.fun**2).sum()) / dof) if dof else math.nan
    spread = np.linalg.pinv(found.jac.T @ found.jac) * (misfit**2 if misfit > 1 else 1.0)
    return LeastSquares(found.x, spread, np.asarray(model(found.x)), misfit, dof)
