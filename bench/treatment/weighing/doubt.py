r"""What weighings leave in doubt, when film, cover and source are not known either.

A tight cover and a tight pile look alike to a balance.  A fit that holds the cover at its middle value
is therefore surer than it should be of the pile, while hours told from both as if each were free are less
sure than they should be.  Both are put right by one joint reckoning to the first order.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bench.physics.ranges import REACH, Range
from bench.physics.transient import Fit, History, Weighing, hours_until
from bench.physics.transient.fit import read_gains
from bench.physics.transient.inputs import INPUT_WORDS, SCALE_BELIEF, limits_of
from bench.treatment.humidity.plan import Moment
from bench.treatment.humidity.uptake import Run, Setting
from bench.units import Q_, Quantity

Floats = NDArray[np.float64]

_FITTED = {name: limits_of(name) for name in ("transport_ratio", "isotherm_scale")}


@dataclass(frozen=True)
class Left:
    """What is known after weighing.

    Attributes
    ----------
    ratio, scale : Range, dimensionless
        Transport ratio and isotherm scale, with what film, cover and source add to their doubt.
    hours : Range [hour] or None
        Until the innermost leaf of this item is damp enough; None if it never is.
    moments : tuple of Moment
        The predicted course, its gain with the interval that the weighings leave.
    """

    ratio: Range
    scale: Range
    hours: Range | None
    moments: tuple[Moment, ...]


def what_is_left(
    after: Setting, fit: Fit, believed: Range, weighings: Sequence[Weighing], doubt: Quantity
) -> Left:
    r"""Work out what the weighings leave in doubt.

    Parameters
    ----------
    after : Setting
        With the constants that were fitted, and their interval with all else at its middle.
    fit : Fit
        Of these weighings.
    believed : Range, dimensionless
        Transport ratio before.
    weighings : sequence of Weighing
        In the order of time.
    doubt : Quantity [mass]
        Standard uncertainty of one weighing.

    Notes
    -----
    .. math:: C = \left(\frac{J^T J}{2 u^2} + P\right)^{-1}, \qquad u_y^2 = a^T (C + p\,p^T)\, a

    with :math:`J` the change of the gains read by each cause, in its standard deviations, :math:`P` what
    was believed of each before, :math:`a` the change of an answer :math:`y`, and :math:`p` the step that
    would bring the causes that were not fitted to where the residuals want them, taken as one more doubt:
    the law of propagation with correlated inputs [gum]_.  Slopes are chords between the ends of
    each cause, so it holds only roughly where an answer bends much between them.
    """
    joint = join_doubts(after.runs, fit, believed, [w.when for w in weighings], doubt)
    # The fit has not moved film, cover and source: how far they pull is counted as doubt.
    joint = replace(joint, covariance=joint.known + np.outer(joint.pull, joint.pull))
    ratio, scale = joint.constants(fit)
    return Left(ratio, scale, hours_left(after, joint), _moments(after, joint))


@dataclass(frozen=True)
class Joint:
    """All doubts as weighings leave them, a standard deviation of each cause at a time.

    Attributes
    ----------
    slopes : Slopes
        How an answer moves with each cause.
    covariance : array
        Of the causes, in units of their standard deviations.
    known : array
        The same before anything is added for causes that were not moved.
    jacobian : array, g
        Change of the gains read by each cause.
    pull : array
        Step that would bring the causes that were not fitted to where the residuals want them.
    """

    slopes: Slopes
    covariance: Floats
    known: Floats
    jacobian: Floats
    pull: Floats

    def reach(self, read: Callable[[History], Floats]) -> Floats:
        """Give the half-width of 95 % of what is read of a history."""
        slope = self.slopes(read)
        return np.asarray(REACH * np.sqrt(np.einsum("ij,jk,ik->i", slope, self.covariance, slope)))

    def constants(self, fit: Fit) -> tuple[Range, Range]:
        """Give transport ratio and isotherm scale with the doubt that all causes leave."""
        causes = (_name(cause) for cause in self.slopes.causes)
        wider = dict(zip(causes, np.sqrt(np.diag(self.covariance)), strict=True))
        ratio, scale = (
            _spread(getattr(fit, name), self.slopes.sigmas[name] * float(wider.get(name, 1.0)), ends)
            for name, ends in _FITTED.items()
        )
        return ratio, scale

    def kept(self, runs: Sequence[Run]) -> Joint:
        """Give the same for other runs that vary only some of the causes."""
        causes = [cause for cause in self.slopes.causes if any(run.cause == cause for run in runs)]
        places = [self.slopes.causes.index(cause) for cause in causes]
        part = np.ix_(places, places)
        return Joint(
            replace(self.slopes, runs=tuple(runs), causes=causes),
            self.covariance[part],
            self.known[part],
            self.jacobian[:, places],
            self.pull[places],
        )


def join_doubts(
    runs: Sequence[Run], fit: Fit, believed: Range, times: Sequence[Quantity], doubt: Quantity
) -> Joint:
    """Join the doubts of a fit and of what was not fitted to the first order; see :func:`what_is_left`."""
    slopes = Slopes.of(runs, {name: _sigma(getattr(fit, name)) for name in _FITTED})
    jacobian = slopes(lambda h: read_gains(h, times))
    noise = math.sqrt(2) * float(doubt.to("g").magnitude) * max(1.0, fit.misfit)
    prior = {"transport_ratio": _sigma(believed), "isotherm_scale": math.log(SCALE_BELIEF) / REACH}
    names = [_name(cause) for cause in slopes.causes]
    trust = [(slopes.sigmas[name] / prior[name]) ** 2 if name in _FITTED else 1.0 for name in names]
    weights = jacobian.T @ jacobian / noise**2 + np.diag(trust)
    known = np.asarray(np.linalg.inv(weights), dtype=np.float64)
    fitted = np.array([name in _FITTED for name in names])
    residuals = np.array([float(r.to("g").magnitude) for r in fit.residuals])
    pull = known @ np.where(fitted, 0.0, jacobian.T @ residuals / noise**2)
    return Joint(slopes, known, known, jacobian, np.asarray(pull))


def shared_doubts(runs: Sequence[Run], times: Sequence[Quantity]) -> Floats:
    """Give the covariance of gains, g², that the causes which are not fitted bring to all of them."""
    others = [run for run in runs if _name(run.cause) not in _FITTED]
    slopes = Slopes.of(others, {})(lambda h: read_gains(h, times))
    return np.asarray(slopes @ slopes.T, dtype=np.float64)


def settle(joint: Joint, fit: Fit, doubt: Quantity) -> Floats:
    """Give how far each cause that is not fitted is moved by a fit in which all gains share its doubt.

    In standard deviations of the causes; the constants that are fitted are where they are.
    """
    noise = 2 * float(doubt.to("g").magnitude) ** 2
    loose = np.array([_name(cause) not in _FITTED for cause in joint.slopes.causes])
    part = np.where(loose, joint.jacobian, 0.0)
    residuals = np.array([float(r.to("g").magnitude) for r in fit.residuals])
    weights = noise * np.eye(len(residuals)) + part @ part.T
    return np.asarray(part.T @ np.linalg.solve(weights, residuals), dtype=np.float64)


@dataclass(frozen=True)
class Slopes:
    """How an answer moves with each cause, a standard deviation of it at a time."""

    runs: tuple[Run, ...]
    causes: list[str]
    sigmas: dict[str, float]

    @classmethod
    def of(cls, runs: Sequence[Run], sigmas: dict[str, float]) -> Slopes:
        """Give the slopes between runs, with the standard deviations of the constants that are fitted."""
        return cls(tuple(runs), list(dict.fromkeys(run.cause for run in runs if run.cause)), sigmas)

    def __call__(self, read: Callable[[History], Floats]) -> Floats:
        """Give the slopes of what is read of a history, shape (numbers read, causes)."""
        return np.stack([self._slope(cause, read) for cause in self.causes], axis=1)

    def _slope(self, cause: str, read: Callable[[History], Floats]) -> Floats:
        runs = [run for run in self.runs if run.cause == cause]
        if len(runs) == 1:
            runs = [self.runs[0], *runs]
        first, last = runs[0], runs[-1]
        return (read(last.history) - read(first.history)) / self._between(cause, first, last)

    def _between(self, cause: str, first: Run, last: Run) -> float:
        """Give the standard deviations between two runs."""
        name = _name(cause)
        if name in _FITTED:
            ends = [run.inputs.middle()[name] for run in (first, last)]
            return math.log(ends[1] / ends[0]) / self.sigmas[name]
        return REACH if first.cause == "" else 2 * REACH


def _name(cause: str) -> str:
    return next((name for name, words in INPUT_WORDS.items() if words == cause), cause)


def _sigma(found: Range) -> float:
    _, low, high = found.floats("", field="width")
    return math.log(high / low) / (2 * REACH)


def _spread(found: Range, sigma: float, ends: tuple[float, float]) -> Range:
    value = float(found.value.magnitude)
    factor = math.exp(REACH * sigma)
    low, high = min(value, max(ends[0], value / factor)), max(value, min(ends[1], value * factor))
    return Range(Q_(value, ""), Q_(low, ""), Q_(high, ""))


def hours_left(after: Setting, joint: Joint) -> Range | None:
    """Estimate the hours until the innermost leaf is damp enough, as the weighings leave them."""
    wanted, longest = after.choices.wanted_humidity, float(after.likely.hours.magnitude[-1])
    likely = hours_until(after.likely, wanted, place=after.place)
    if likely is None:
        return None

    def read(history: History) -> Floats:
        found = hours_until(history, wanted, place=after.place)
        return np.log([longest if found is None else max(1e-3, float(found.magnitude))])

    factor = math.exp(float(joint.reach(read)[0]))
    value = float(likely.to("hour").magnitude)
    return Range.of((value, value / factor, value * factor), "hour")


def _moments(after: Setting, joint: Joint) -> tuple[Moment, ...]:
    """Give the course, the gain alone with the interval that is left."""
    moments = after.moments(after.water())
    times = [Q_(0.0, "hour"), *(Q_(moment.hours, "hour") for moment in moments)]
    middle = read_gains(after.likely, times)
    reach = joint.reach(lambda h: read_gains(h, times))
    ends = zip(middle, np.maximum(0.0, middle - reach), middle + reach, strict=True)
    ranges = [Range(*(Q_(float(number), "g") for number in numbers)) for numbers in ends]
    return tuple(replace(moment, gain=gain) for moment, gain in zip(moments, ranges, strict=True))
