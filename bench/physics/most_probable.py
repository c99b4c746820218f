"""The most probable values of some constants, from what was measured and what was believed before.

One fit for weighings and for findings after pressing, on plain numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from bench.physics.arrays import Floats

_ROUNDS = 25
_SMALL = 1e-3  # of the sum of squares, in standard uncertainties: nobody could tell the two fits apart
_DAMPING = 1e-3  # at the start; a round that is lost takes ten times as much


@dataclass(frozen=True)
class Belief:
    """What is believed of some constants before anything is measured.

    Attributes
    ----------
    values, doubts : array (k,)
        Most likely values and their standard uncertainties.
    low, high : array (k,)
        How far each may go.
    steps : array (k,)
        By which each is moved to find a slope.
    """

    values: Floats
    doubts: Floats
    low: Floats
    high: Floats
    steps: Floats


@dataclass(frozen=True)
class MostProbable:
    """The most probable point.

    Attributes
    ----------
    values : array (k,)
        The point itself.
    covariance : array (k, k)
        Inverse of the matrix of second derivatives there.
    slopes : array (n, k)
        Of what is predicted there, in standard uncertainties of what was measured.
    predicted : array (n,)
        What would be measured there.
    """

    values: Floats
    covariance: Floats
    slopes: Floats
    predicted: Floats


def find_most_probable(
    predict: Callable[[Floats], Floats], measured: Floats, trust: Floats, belief: Belief
) -> MostProbable:
    r"""Find the most probable constants under normal doubts.

    Parameters
    ----------
    predict : callable
        Takes points (k, m), gives what would be measured at each (n, m), all worked out together.
    measured : array (n,)
        What was read.
    trust : array (n, n)
        Inverse of the covariance of what was measured.
    belief : Belief
        What was believed before.

    Returns
    -------
    MostProbable

    Notes
    -----
    .. math:: \min_\theta (y - f(\theta))^T U^{-1} (y - f(\theta))
              + \sum_i \frac{(\theta_i - \theta_{0,i})^2}{s_i^2}

    by Gauss and Newton, damped where a step does not pay (Levenberg), held within the bounds.  Slopes are
    chords over steps that a noisy or kinked prediction does not hide.  A general solver that takes slopes to
    be exact (``scipy.optimize.least_squares``) stopped short here where findings contradict each other, and
    took more predictions elsewhere.

    Examples
    --------
    >>> one = np.array([1.0])
    >>> belief = Belief(0 * one, one, -9 * one, 9 * one, 0.1 * one)
    >>> found = find_most_probable(lambda points: points, 2 * one, np.eye(1), belief)
    >>> print(f"{found.values[0]:.2f} ± {found.covariance[0, 0] ** 0.5:.2f}")
    1.00 ± 0.71
    """
    root, prior = np.linalg.cholesky(trust).T, np.diag(belief.doubts**-2.0)

    def look(point: Floats) -> _Looked:
        steps = np.where(point + belief.steps > belief.high, -belief.steps, belief.steps)
        there, *beside = predict(np.column_stack([point, point[:, None] + np.diag(steps)])).T
        slopes = root @ ((np.array(beside) - there).T / steps)
        return _Looked(
            point, there, root @ (measured - there), slopes, (point - belief.values) / belief.doubts
        )

    here, damping = look(belief.values), _DAMPING
    for _ in range(_ROUNDS):
        hessian = here.slopes.T @ here.slopes + prior
        uphill = here.slopes.T @ here.misfit - here.shift / belief.doubts
        step = np.linalg.solve(hessian + damping * np.diag(np.diag(hessian)), uphill)
        tried = look(np.clip(here.point + step, belief.low, belief.high))
        won = here.cost - tried.cost
        here, damping = (tried, damping / 5) if won >= 0 else (here, 10 * damping)
        if abs(won) < _SMALL:
            break
    covariance = np.asarray(np.linalg.inv(here.slopes.T @ here.slopes + prior), dtype=np.float64)
    return MostProbable(here.point, covariance, here.slopes, here.predicted)


@dataclass(frozen=True)
class _Looked:
    """A point that was tried: what is predicted there, and how far that and the point itself are off."""

    point: Floats
    predicted: Floats
    misfit: Floats
    slopes: Floats
    shift: Floats

    @property
    def cost(self) -> float:
        """Sum of squares, in standard uncertainties."""
        return float(self.misfit @ self.misfit + self.shift @ self.shift)
