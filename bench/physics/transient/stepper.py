r"""An adaptive, linearly implicit stepper on LAPACK's banded factorisation (plain numbers).

Rodas3 of Sandu and others: third order with an error estimate of second order, L-stable, four stages,
three evaluations, one factorisation a step [sandu1997]_.  The chamber's vapour pressure borders the
band: it is eliminated by one more right-hand side, so that the band stays as narrow as the stack's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

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
    airs, air_rates : list of float
    counts : list of array
        What has crossed since the start of the phase, in the order of ``COUNTS``.
    lags : list of array
        Hysteresis of each cell.
    """

    times: list[float] = field(default_factory=list)
    states: list[Floats] = field(default_factory=list)
    rates: list[Floats] = field(default_factory=list)
    airs: list[float] = field(default_factory=list)
    air_rates: list[float] = field(default_factory=list)
    counts: list[Floats] = field(default_factory=list)
    lags: list[Floats] = field(default_factory=list)
    rejected: int = 0


def integrate(
    equations: Equations,
    state: Floats,
    air: float,
    *,
    start: float,
    end: float,
    tolerance: float,
    track: Track,
    counts: Floats,
    watch: Callable[[float], None] | None = None,
    first_step: float = _FIRST_STEP,
) -> tuple[Floats, float, Floats]:
    """Carry a state from one time to another and note every step in the track.

    ``watch`` hears the time after each step and may raise :class:`Stopped`.
    """
    weights = np.tile([1 / (tolerance * CONTENT_SCALE), 1 / (tolerance * KELVIN_SCALE)], equations.count)
    air_weight = 1 / (tolerance * PASCAL_SCALE)
    seconds, step = start, min(first_step, end - start)
    if equations.lag is not None:
        equations.lag.leaves = equations.at(seconds, state, air).rates[0::2] < 0
    point, slope = equations.linear(seconds, state, air)
    tried = False  # the other branch of the hysteresis, for this step
    if not track.times:
        _note(track, seconds, state, air, point, counts, equations)
    for _ in range(_MOST_STEPS):
        with np.errstate(over="ignore", invalid="ignore"):  # a step far too long; it is refused just below
            trial = try_step(equations, point, slope, seconds, state, air, step)
            error = _size(trial.error * weights, trial.air_error * air_weight)
        # Not a number counts as too far.
        factor = min(6.0, max(0.2, 0.85 * error ** (-1 / _ORDER))) if error > 0 else 6.0
        if not error <= 1.0:
            track.rejected += 1
            step *= factor if error == error else 0.2
            if step < 1e-9:
                break
            continue
        if equations.lag is not None and not tried:
            turned = equations.lag.turned(trial.change[0::2], 3 * tolerance * CONTENT_SCALE)
            if bool(turned.any()):
                tried = True
                equations.lag.leaves = equations.lag.leaves ^ turned
                point, slope = equations.linear(seconds, state, air)
                continue
        tried = False
        state = state + trial.change
        air, counts = air + trial.air_change, counts + trial.counts
        seconds = end if end - seconds - step < 1e-9 * end else seconds + step
        if equations.lag is not None:
            equations.lag = equations.lag.moved_to(state[0::2])
        point, slope = equations.linear(seconds, state, air)
        _note(track, seconds, state, air, point, counts, equations)
        if watch is not None:
            watch(seconds)
        if seconds >= end:
            return state, air, counts
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
    track: Track,
    seconds: float,
    state: Floats,
    air: float,
    point: Point,
    counts: Floats,
    equations: Equations,
) -> None:
    track.times.append(seconds)
    track.states.append(state)
    track.rates.append(point.rates)
    track.airs.append(air)
    track.air_rates.append(point.air)
    track.counts.append(counts)
    track.lags.append(equations.lag.value if equations.lag is not None else _NONE)


def _size(error: Floats, air_error: float) -> float:
    return max(float(np.sqrt(error @ error / len(error))), abs(air_error))


@dataclass
class Trial:
    """One step, not yet accepted: what changes, and how far it may be out."""

    change: Floats
    error: Floats
    air_change: float
    air_error: float
    counts: Floats


def try_step(
    eq: Equations, point: Point, slope: Slope, seconds: float, state: Floats, air: float, step: float
) -> Trial:
    """Try one step from a point whose slope is known."""
    shift = 1 / (_GAMMA * step)
    matrix = -slope.band
    matrix[2 * SPARE] += shift
    factors, pivots, _ = dgbtrf(matrix, SPARE, SPARE, overwrite_ab=1)
    chamber, moving = eq.outside.chamber, eq.outside.rate != (0.0, 0.0)
    response, corner, air_row = _NONE, 1.0, _NONE
    if chamber is not None:
        signs = _SIGNS / chamber[4]
        air_row = signs @ slope.count_rows
        response, _ = dgbtrs(factors, SPARE, SPARE, slope.air_column, pivots)
        corner = shift - float(signs @ slope.count_column) - float(air_row @ response)
    stages, counted = np.empty((4, len(state))), np.empty((4, 8))
    airs = np.zeros(4)
    now = point
    for i in range(4):
        if _NEW[i]:
            lifted = air + float(_A[i, :i] @ airs[:i]) if chamber is not None else air
            now = eq.at(seconds + _ALPHA[i] * step, state + _A[i, :i] @ stages[:i], lifted)
        side = now.rates if i == 0 else now.rates + (_C[i, :i] / step) @ stages[:i]
        if moving and _TIME[i]:
            side = side + (_TIME[i] * step) * slope.by_time
        stage, _ = dgbtrs(factors, SPARE, SPARE, side, pivots)
        if chamber is not None:
            side_air = now.air + float(_C[i, :i] @ airs[:i]) / step
            airs[i] = (side_air + float(air_row @ stage)) / corner
            stage = stage + airs[i] * response
        stages[i], counted[i] = stage, now.counts
    # What crosses follows the same four stages; nothing depends on it, so it is done at once.
    counted += stages @ slope.count_rows.T
    if chamber is not None:
        counted += airs[:, None] * slope.count_column
    if moving:
        counted += (step * _TIMES)[:, None] * slope.count_by_time
    crossed = step * (_CROSSING @ counted)
    return Trial(_M @ stages, stages[3], float(_M @ airs), float(airs[3]), crossed)


_TIMES = np.array(_TIME)
# Weights of the four stages in what crosses: the stages' own recurrence, solved once.
_CROSSING = _M @ np.linalg.inv(np.eye(4) / _GAMMA - np.pad(_C, ((0, 0), (0, 1))))
_NONE = np.zeros(1)  # no hysteresis, for every cell
_SIGNS = np.array([-1.0, -1.0, -1.0, 0.0, 0.0, 0.0, 1.0, -1.0])
