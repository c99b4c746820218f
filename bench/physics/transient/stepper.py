r"""An adaptive, linearly implicit stepper on LAPACK's banded factorisation (plain numbers).

Rodas3 of Sandu and others: third order with an error estimate of second order, L-stable, four stages,
three evaluations, one factorisation a step [sandu1997]_.  The chamber's vapour pressure borders the
band: it is eliminated by one more right-hand side, so that the band stays as narrow as the stack's.
Stacks side by side are carried on together, by steps that are short enough for each of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dgbtrf, dgbtrs

from bench.errors import OutOfRange
from bench.physics.transient.equations import SPARE, Equations, Point, Slope

Floats = NDArray[np.float64]

# Coefficients in the form that needs no product with the Jacobian.
_GAMMA = 0.5
_A = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 0.0], [2.0, 0.0, 0.0], [2.0, 0.0, 1.0]])
_C = np.array([[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [1.0, -1.0, 0.0], [1.0, -1.0, -8 / 3]])
_M = np.array([2.0, 0.0, 1.0, 1.0])
_ALPHA = (0.0, 0.0, 1.0, 1.0)
_TIME = (0.5, 1.5, 0.0, 0.0)
_NEW = (False, False, True, True)
_ORDER = 3.0

CONTENT_SCALE, KELVIN_SCALE, PASCAL_SCALE = 0.1, 20.0, 6000.0
_FIRST_STEP = 0.5  # s
_MOST_STEPS = 20_000


class Stopped(Exception):
    """The caller asked to stop."""


@dataclass
class Track:
    """Every accepted step of one phase.

    Attributes
    ----------
    times : list of float, s from the start of the phase
    states, rates : list of array, shape (2 n,)
    airs : list of array, shape (stacks,)
    lags : list of array
        Hysteresis of each cell.
    crossed : array, shape (2, n)
        Water and heat that have come to each cell from outside since the start of the phase.
    aired : array, shape (stacks,)
        Vapour pressure of the air, summed over the time since then, Pa s.
    """

    times: Sequence[float] | Floats = field(default_factory=list)
    states: Sequence[Floats] | Floats = field(default_factory=list)
    rates: Sequence[Floats] | Floats = field(default_factory=list)
    airs: Sequence[Floats] | Floats = field(default_factory=list)
    lags: Sequence[Floats] | Floats = field(default_factory=list)
    crossed: Floats = field(default_factory=lambda: np.zeros((2, 1)))
    aired: Floats = field(default_factory=lambda: np.zeros(1))
    rejected: int = 0

    def parted(self, cells: Sequence[int]) -> list[Track]:
        """Give each of the stacks side by side a track of its own."""
        series = [np.array(part) for part in (self.states, self.rates, self.airs, self.lags)]
        found, first = [], 0
        for number, count in enumerate(cells):
            part, pair = slice(first, first + count), slice(2 * first, 2 * (first + count))
            states, rates, airs, lags = series
            lag = lags if lags.shape[1] == 1 else lags[:, part]
            found.append(
                Track(
                    np.array(self.times),
                    states[:, pair],
                    rates[:, pair],
                    airs[:, number],
                    lag,
                    self.crossed[:, part],
                    self.aired[number : number + 1],
                    self.rejected,
                )
            )
            first += count
        return found


def integrate(
    equations: Equations,
    state: Floats,
    air: Floats | float,
    *,
    start: float,
    end: float,
    tolerance: Floats | float,
    track: Track,
    watch: Callable[[float], None] | None = None,
    first_step: float = _FIRST_STEP,
) -> tuple[Floats, Floats]:
    """Carry a state from one time to another and note every step in the track.

    Parameters
    ----------
    equations : Equations
        Of one stack or of several side by side.
    state : array, shape (2 n,)
    air : float or array, shape (stacks,)
        Vapour pressure of the air about each stack, Pa.
    start, end : float
        s
    tolerance : float or array, shape (stacks,)
    track : Track
    watch : callable, optional
        Hears the time after each step and may raise :class:`Stopped`.
    first_step : float
        s

    Returns
    -------
    state, air
        At the end.
    """
    measure = _Measure(equations, tolerance)
    air = np.atleast_1d(np.asarray(air, dtype=np.float64))
    seconds, step = start, min(first_step, end - start)
    if equations.lag is not None:
        equations.lag.leaves = equations.at(seconds, state, air).rates[0::2] < 0
    point, slope = equations.linear(seconds, state, air)
    tried = False  # the other branch of the hysteresis, for this step
    if not track.times:
        track.crossed, track.aired = np.zeros((2, equations.count)), np.zeros(len(air))
        _note(track, seconds, state, air, point, equations)
    for _ in range(_MOST_STEPS):
        with np.errstate(over="ignore", invalid="ignore"):  # a step far too long; it is refused just below
            trial = try_step(equations, point, slope, seconds, state, air, step)
            error = measure(trial)
        # Not a number counts as too far.
        factor = min(6.0, max(0.2, 0.85 * error ** (-1 / _ORDER))) if error > 0 else 6.0
        if not error <= 1.0:
            track.rejected += 1
            step *= factor if error == error else 0.2
            if step < 1e-9:
                break
            continue
        if equations.lag is not None and not tried:
            turned = equations.lag.turned(trial.change[0::2], 3 * CONTENT_SCALE * measure.of_cells)
            if bool(turned.any()):
                tried = True
                equations.lag.leaves = equations.lag.leaves ^ turned
                point, slope = equations.linear(seconds, state, air)
                continue
        tried = False
        state, air = state + trial.change, air + trial.air_change
        track.crossed, track.aired = track.crossed + trial.crossed, track.aired + trial.aired
        seconds = end if end - seconds - step < 1e-9 * end else seconds + step
        if equations.lag is not None:
            equations.lag = equations.lag.moved_to(state[0::2])
        is_last = seconds >= end  # nothing follows that would need the slope
        if is_last:
            point = equations.at(seconds, state, air)
        else:
            point, slope = equations.linear(seconds, state, air)
        _note(track, seconds, state, air, point, equations)
        if watch is not None:
            watch(seconds)
        if is_last:
            return state, air
        left = end - seconds
        step = min(step * factor, left)
        if step < left < 1.5 * step:
            step = left / 2
    raise OutOfRange(
        "time step",
        f"{step:.1e} s",
        "more",
        "The stack left the range of its isotherms: look for a flooded layer",
    )


def _note(
    track: Track, seconds: float, state: Floats, air: Floats, point: Point, equations: Equations
) -> None:
    notes = (seconds, state, point.rates, air, _NONE if equations.lag is None else equations.lag.value)
    for part, note in zip(
        (track.times, track.states, track.rates, track.airs, track.lags), notes, strict=True
    ):
        cast(list[Any], part).append(note)


class _Measure:
    """The error of a step against what is allowed, in the stack where it is largest."""

    def __init__(self, equations: Equations, tolerance: Floats | float) -> None:
        self._rim = equations.rim
        self._is_single, self._has_chamber = len(self._rim.cells) == 1, equations.has_chamber
        each = np.broadcast_to(np.asarray(tolerance, dtype=np.float64), self._rim.cells.shape)
        self.of_cells = np.repeat(each, self._rim.cells)
        self._weights = (1 / (self.of_cells[:, None] * [CONTENT_SCALE, KELVIN_SCALE])).reshape(-1)
        self._air_weights = 1 / (each * PASCAL_SCALE)

    def __call__(self, trial: Trial) -> float:
        """Give the root of the mean square; 1 is what is allowed."""
        error = trial.error * self._weights
        if self._is_single:
            mean = float(error @ error) / len(error)
        else:
            sums = np.add.reduceat(error * error, 2 * self._rim.first)
            mean = float((sums / (2 * self._rim.cells)).max())
        air = float(np.abs(trial.air_error * self._air_weights).max()) if self._has_chamber else 0.0
        return max(math.sqrt(mean), air)


@dataclass
class Trial:
    """One step, not yet accepted: what changes, and how far it may be out."""

    change: Floats
    error: Floats
    air_change: Floats
    air_error: Floats
    crossed: Floats
    aired: Floats


def try_step(
    eq: Equations,
    point: Point,
    slope: Slope,
    seconds: float,
    state: Floats,
    air: Floats | float,
    step: float,
) -> Trial:
    """Try one step from a point whose slope is known."""
    shift = 1 / (_GAMMA * step)
    matrix = -slope.band
    matrix[2 * SPARE] += shift
    factors, pivots, _ = dgbtrf(matrix, SPARE, SPARE, overwrite_ab=1)
    border = _Border(eq, slope, shift, factors, pivots) if eq.has_chamber else None
    stages, crossings = np.empty((4, len(state))), np.empty((4, 2, eq.count))
    airs, lifts = np.zeros((2, 4, len(eq.rim.cells)))
    now = point
    for i in range(4):
        if _NEW[i]:
            if border is not None:
                lifts[i] = _A[i, :i] @ airs[:i]
            now = eq.at(seconds + _ALPHA[i] * step, state + _A[i, :i] @ stages[:i], air + lifts[i])
        side = now.rates if i == 0 else now.rates + (_C[i, :i] / step) @ stages[:i]
        if eq.is_moving and _TIME[i]:
            side = side + (_TIME[i] * step) * slope.by_time
        stage, _ = dgbtrs(factors, SPARE, SPARE, side, pivots)
        if border is not None:
            airs[i], stage = border.solve(stage, now.air + (_C[i, :i] / step) @ airs[:i])
        stages[i], crossings[i] = stage, now.crossing
    crossed = _cross(eq, slope, step, stages, crossings, airs)
    if border is None:
        return Trial(_M @ stages, stages[3], airs[0], airs[0], crossed, step * np.asarray(air))
    aired = step * (air + _CROSSING @ (lifts + airs))
    return Trial(_M @ stages, stages[3], _M @ airs, airs[3], crossed, aired)


class _Border:
    """The vapour pressures of the chambers, each of which borders the band of its own stack."""

    def __init__(self, eq: Equations, slope: Slope, shift: float, factors: Floats, pivots: Floats) -> None:
        self._rim = rim = eq.rim
        supply, _, leak, _, capacity = rim.chambers
        by_cells = slope.crossing[0].T.reshape(-1)
        per_cell = rim.each(capacity)
        self._row = -by_cells / (per_cell if len(rim.cells) == 1 else np.repeat(per_cell, 2))
        self._response, _ = dgbtrs(factors, SPARE, SPARE, slope.by_air, pivots)
        by_air = -(supply + leak + rim.sums(rim.vapour)) / capacity
        self._corner = shift - by_air - self._sums(self._row * self._response)

    def _sums(self, values: Floats) -> Floats:
        return np.asarray(np.add.reduceat(values, 2 * self._rim.first))

    def solve(self, stage: Floats, side: Floats) -> tuple[Floats, Floats]:
        """Give what the pressures and the cells do in a stage, from what the band alone gives."""
        airs = (side + self._sums(self._row * stage)) / self._corner
        each = airs if len(airs) == 1 else np.repeat(airs, 2 * self._rim.cells)
        return airs, stage + each * self._response


def _cross(
    eq: Equations, slope: Slope, step: float, stages: Floats, crossings: Floats, airs: Floats
) -> Floats:
    """Give what crosses into each cell in a step: it follows the same stages, and nothing depends on it."""
    cells = _CROSSING @ stages
    found = (_CROSSING @ crossings.reshape(4, -1)).reshape(2, -1)
    found += slope.crossing[:, 0] * cells[0::2] + slope.crossing[:, 1] * cells[1::2]
    if eq.has_chamber:
        found += slope.crossing_by_air * eq.rim.each(_CROSSING @ airs)
    if eq.is_moving:
        found[1] += step * _CROSSING_TIME * eq.rim.warming
    return np.asarray(step * found)


# Weights of the four stages in what crosses: the stages' own recurrence, solved once.
_CROSSING = _M @ np.linalg.inv(np.eye(4) / _GAMMA - np.pad(_C, ((0, 0), (0, 1))))
_CROSSING_TIME = float(_CROSSING @ np.array(_TIME))
_NONE = np.zeros(1)  # no hysteresis, for every cell
