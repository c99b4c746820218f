r"""The loops of the model, compiled: rates, derivatives and steps for every cell (plain numbers, SI).

What they compute is written down in :mod:`bench.physics.transient.equations` (rates),
:mod:`~bench.physics.transient.hysteresis` and :mod:`~bench.physics.transient.stepper` (the step).  They
are compiled by numba at their first call, and kept on the disk beside this file for later ones.  All of them
stand in this one file, and take numbers of other files as arguments, because what is kept is made
anew when *this* file changes and not when another does.

Unknowns of cell *i* are its moisture content, at ``2 i``, and its enthalpy, at ``2 i + 1``.  A cell feels
its neighbours only, so that the matrix of a step is block tridiagonal, two by two, and is solved from
one end to the other and back.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from bench.physics.arrays import Flags, Floats, Whole
from bench.physics.compiling import compiled, part_of_compiled

REFERENCE = 296.15  # K, 23 °C; enthalpy of dry matter and of liquid water is zero here
VAPOUR_HEAT = 1860.0  # J/(kg K), vapour; the heat of evaporation then falls by 2.32 kJ/(kg K)
EVAPORATION = 2.4464e6  # J/kg at 23 °C, between 2453.5 at 20 and 2441.7 at 25 °C (CoolProp)
GROWTH = 0.81 / REFERENCE  # of the permeability of air, T to the 0.81 made straight; 0.2 % out at 60 °C

_SCAN = 3.0  # a scanning curve is this much steeper than the isotherm at its start; no source
CONTENT_SCALE, KELVIN_SCALE, PASCAL_SCALE = 0.1, 20.0, 6000.0
_SHORTEST = 1e-9  # s

# Rodas3, in the form that needs no product with the Jacobian.
_GAMMA, _ORDER = 0.5, 3.0
_A = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 0.0], [2.0, 0.0, 0.0], [2.0, 0.0, 1.0]])
_C = np.array([[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [1.0, -1.0, 0.0], [1.0, -1.0, -8 / 3]])
_M = np.array([2.0, 0.0, 1.0, 1.0])
_ALPHA = np.array([0.0, 0.0, 1.0, 1.0])
_TIME = np.array([0.5, 1.5, 0.0, 0.0])
# Weights of the four stages in what crosses: the stages' own recurrence, solved once.
_CROSSING = _M @ np.linalg.inv(np.eye(4) / _GAMMA - np.pad(_C, ((0, 0), (0, 1))))
_CROSSING_TIME = float(_CROSSING @ _TIME)

RUNNING, DONE, STUCK = 0, 1, 2
"""How :func:`advance` ended: room for steps is used up, the end is reached, no step is short enough."""


class Cells(NamedTuple):
    """What the cells of a row store, hold and pass on; see :class:`bench.physics.transient.equations.Slices`.

    Attributes
    ----------
    mass, heat : array, shape (n,)
        Dry mass, and its heat capacity.
    vapour, conductance : array, shape (n - 1,)
        Conductances between neighbours, of vapour and of heat.
    omega, kappa : array, shape (n,)
        Heat of the water held, and of sorption, over the dry heat capacity.
    start, last : int array, shape (n,)
        First row of the cell's isotherm, and how many follow it.
    per_step, inverse : array, shape (n,)
        Rows per unit of content; 1/K of the isotherm's own temperature.
    cubics : array, shape (rows, 16)
        The tables of the isotherms, one after another.
    saturation : array
        ln p_sat as a polynomial in 1/T - 1/T_r, lowest power first.
    """

    mass: Floats
    heat: Floats
    vapour: Floats
    conductance: Floats
    omega: Floats
    kappa: Floats
    start: Whole
    last: Whole
    per_step: Floats
    inverse: Floats
    cubics: Floats
    saturation: Floats


class Rim(NamedTuple):
    """What every cell exchanges with what lies outside, faces and edges together.

    Attributes
    ----------
    vapour, heat : array, shape (n,)
        Conductance to the air and to the temperature outside.
    warmth, warming : array, shape (n,)
        Heat that comes in while the cell is at 23 °C, W/m2, and its change in W/(m2 s).
    lift : array, shape (n,)
        Enthalpy of the vapour that crosses while the cell is at 23 °C, J/kg.
    first, cells : int array, shape (stacks,)
        First cell of each stack and how many it has.
    chambers : array, shape (5, stacks)
        Supply, pressure of the source, leak, pressure of the room, capacity; endless where the air does
        not change.
    """

    vapour: Floats
    heat: Floats
    warmth: Floats
    warming: Floats
    lift: Floats
    first: Whole
    cells: Whole
    chambers: Floats


class Lag(NamedTuple):
    """Hysteresis of every cell; empty arrays where there is none.

    Attributes
    ----------
    most, start, value : array, shape (n,)
        Largest lag; content and lag at the start of the step.
    leaves : bool array, shape (n,)
        Whether the cell gives water off in this step.
    """

    most: Floats
    start: Floats
    value: Floats
    leaves: Flags


class Point(NamedTuple):
    """The rates that belong to one state.

    Attributes
    ----------
    rates : array, shape (2 n,)
        Of content and of temperature, cell by cell.
    crossing : array, shape (2, n)
        Water and heat that come to each cell from outside.
    air : array, shape (stacks,)
        Change of the chambers' vapour pressure, Pa/s.
    """

    rates: Floats
    crossing: Floats
    air: Floats


class Slope(NamedTuple):
    """The derivatives of a :class:`Point`: rates in the rows of a block, unknowns in its columns.

    Attributes
    ----------
    own, before, after : array, shape (n, 2, 2)
        Of a cell's rates, by its own unknowns, those of the cell before it and of the cell after it.
    by_air, by_time : array, shape (2 n,)
        By the pressure in the own chamber, and by time where a platen is on the move.
    crossing : array, shape (2, 2, n)
        Of what crosses, by the cell's own unknowns.
    crossing_by_air : array, shape (2, n)
        Of what crosses, by the pressure in the own chamber.
    """

    own: Floats
    before: Floats
    after: Floats
    by_air: Floats
    by_time: Floats
    crossing: Floats
    crossing_by_air: Floats


class Trial(NamedTuple):
    """One step, not yet accepted: what changes, and how far it may be out."""

    change: Floats
    error: Floats
    air_change: Floats
    air_error: Floats
    crossed: Floats
    aired: Floats


class Noted(NamedTuple):
    """The accepted steps of :func:`advance`, a row each."""

    times: Floats
    states: Floats
    rates: Floats
    airs: Floats
    lags: Floats


@part_of_compiled
def _held(lag: Lag, i: int, content: float) -> tuple[float, float]:
    """Give the lag of a cell where its content has moved to, and how it changes with the content."""
    if len(lag.most) == 0:
        return 0.0, 0.0
    moved = content - lag.start[i]
    steep = _SCAN / lag.most[i]
    if lag.leaves[i]:
        room = (lag.most[i] - lag.value[i]) * math.exp(min(steep * moved, 30.0))
        return lag.most[i] - room, -steep * room
    room = lag.value[i] * math.exp(min(-steep * moved, 30.0))
    return room, -steep * room


@part_of_compiled
def _cubics(c: Floats, part: float) -> tuple[float, float, float, float]:
    """Read activity, the two terms of its warming and the integral heat from a row of the isotherm."""
    return (
        c[0] + part * (c[4] + part * (c[8] + part * c[12])),
        c[1] + part * (c[5] + part * (c[9] + part * c[13])),
        c[2] + part * (c[6] + part * (c[10] + part * c[14])),
        c[3] + part * (c[7] + part * (c[11] + part * c[15])),
    )


@part_of_compiled
def _rises(c: Floats, part: float) -> tuple[float, float, float, float]:
    """Give how the four change along the row."""
    return (
        c[4] + part * (2 * c[8] + part * 3 * c[12]),
        c[5] + part * (2 * c[9] + part * 3 * c[13]),
        c[6] + part * (2 * c[10] + part * 3 * c[14]),
        c[7] + part * (2 * c[11] + part * 3 * c[15]),
    )


@part_of_compiled
def _find(cells: Cells, i: int, held: float) -> tuple[int, float]:
    """Give the row of the isotherm in which a cell stands, and how far along it; the ends are carried on."""
    place = held * cells.per_step[i]
    inside = place if place > 0.0 else 0.0  # not a number counts as the start: the step is refused
    row = int(inside) if inside < cells.last[i] else cells.last[i]
    return cells.start[i] + row, place - row


@part_of_compiled
def _log_pressure(c: Floats, z: float) -> tuple[float, float]:
    """Give ln p_sat and its derivative at a place 1/T - 1/T_r."""
    value, rise = c[-1], 0.0
    for power in range(len(c) - 2, -1, -1):
        rise = rise * z + value
        value = value * z + c[power]
    return value, rise


@part_of_compiled
def _activity(cells: Cells, i: int, content: float, enthalpy: float, lag: float) -> tuple[float, float]:
    """Give temperature above 23 °C and water activity of a cell."""
    row, part = _find(cells, i, content - lag)
    activity, first, second, heat = _cubics(cells.cubics[row], part)
    theta = (enthalpy + cells.kappa[i] * heat) / (1 + cells.omega[i] * content)
    y = cells.inverse[i] - 1 / (theta + REFERENCE)
    return theta, activity * math.exp(y * (first + y * second))


@part_of_compiled
def _pressure(cells: Cells, i: int, content: float, enthalpy: float, lag: float) -> tuple[float, float]:
    """Give temperature above 23 °C and vapour pressure of a cell."""
    theta, activity = _activity(cells, i, content, enthalpy, lag)
    z = 1 / (theta + REFERENCE) - 1 / REFERENCE
    return theta, activity * math.exp(_log_pressure(cells.saturation, z)[0])


@part_of_compiled
def _slopes(
    cells: Cells, i: int, content: float, enthalpy: float, lag: tuple[float, float]
) -> tuple[float, float, float, float, float, float]:
    """Give both, and the derivatives of each by content and by enthalpy."""
    row, part = _find(cells, i, content - lag[0])
    activity, first, second, heat = _cubics(cells.cubics[row], part)
    more, more_first, more_second, more_heat = _rises(cells.cubics[row], part)
    per = cells.per_step[i] * (1 - lag[1])
    share = 1 / (1 + cells.omega[i] * content)
    theta = (enthalpy + cells.kappa[i] * heat) * share
    inverse = 1 / (theta + REFERENCE)
    y = cells.inverse[i] - inverse
    log_pressure, rise = _log_pressure(cells.saturation, inverse - 1 / REFERENCE)
    warming, full = math.exp(y * (first + y * second)), math.exp(log_pressure)
    pressure, factor = activity * warming * full, warming * full
    by_theta = pressure * inverse**2 * (first + 2 * y * second - rise)
    by_content = per * factor * (more + activity * y * (more_first + y * more_second))
    warm = share * (cells.kappa[i] * per * more_heat - cells.omega[i] * theta)
    return theta, pressure, warm, share, by_content + by_theta * warm, by_theta * share


@compiled
def climate(cells: Cells, states: Floats, lags: Floats) -> tuple[Floats, Floats]:
    """Give temperature in °C and water activity, shape (times, n); states (times, 2 n), lags (times, n)."""
    times, n = states.shape[0], states.shape[1] // 2
    celsius, activity = np.empty((times, n)), np.empty((times, n))
    for t in range(times):
        for i in range(n):
            theta, a = _activity(cells, i, states[t, 2 * i], states[t, 2 * i + 1], lags[t, i])
            celsius[t, i], activity[t, i] = theta + 23.0, a
    return celsius, activity


@compiled
def state_of(cells: Cells, lag: Lag, content: Floats, celsius: Floats) -> Floats:
    """Build the state, shape (2 n,), from moisture content and temperature in °C."""
    n = len(content)
    state = np.empty(2 * n)
    for i in range(n):
        row, part = _find(cells, i, content[i] - _held(lag, i, content[i])[0])
        heat = cells.kappa[i] * _cubics(cells.cubics[row], part)[3]
        state[2 * i] = content[i]
        state[2 * i + 1] = (celsius[i] - 23.0) * (1 + cells.omega[i] * content[i]) - heat
    return state


@part_of_compiled
def _flow(cells: Cells, rim: Rim, seconds: float, air: Floats, theta: Floats, pressure: Floats) -> Point:
    """Give the rates where temperature and vapour pressure of every cell are known."""
    n = len(theta)
    rates, crossing, change = np.empty(2 * n), np.empty((2, n)), np.empty(len(air))
    for k in range(len(air)):
        total = 0.0
        for i in range(rim.first[k], rim.first[k] + rim.cells[k]):
            gain = rim.vapour[i] * (air[k] - pressure[i])
            heat = rim.warmth[i] + rim.warming[i] * seconds - rim.heat[i] * theta[i]
            heat += gain * (rim.lift[i] + (VAPOUR_HEAT / 2) * theta[i])
            crossing[0, i], crossing[1, i] = gain, heat
            rates[2 * i], rates[2 * i + 1] = gain, heat
            total += gain
        supply, source, leak = rim.chambers[0, k], rim.chambers[1, k], rim.chambers[2, k]
        into = supply * (source - air[k]) - leak * (air[k] - rim.chambers[3, k])
        change[k] = (into - total) / rim.chambers[4, k]
    for i in range(n - 1):
        both = theta[i] + theta[i + 1]
        water = cells.vapour[i] * (1 + (GROWTH / 2) * both) * (pressure[i] - pressure[i + 1])
        warmth = cells.conductance[i] * (theta[i] - theta[i + 1])
        warmth += water * (EVAPORATION + (VAPOUR_HEAT / 2) * both)
        rates[2 * i] -= water
        rates[2 * i + 1] -= warmth
        rates[2 * i + 2] += water
        rates[2 * i + 3] += warmth
    for i in range(n):
        rates[2 * i] /= cells.mass[i]
        rates[2 * i + 1] /= cells.heat[i]
    return Point(rates, crossing, change)


@compiled
def at(cells: Cells, rim: Rim, lag: Lag, seconds: float, state: Floats, air: Floats) -> Point:
    """Give the rates at a time, a state of the cells and a vapour pressure of the air."""
    n = len(cells.mass)
    theta, pressure = np.empty(n), np.empty(n)
    for i in range(n):
        content = state[2 * i]
        theta[i], pressure[i] = _pressure(cells, i, content, state[2 * i + 1], _held(lag, i, content)[0])
    return _flow(cells, rim, seconds, air, theta, pressure)


@compiled
def linear(
    cells: Cells, rim: Rim, lag: Lag, seconds: float, state: Floats, air: Floats
) -> tuple[Point, Slope]:
    """Give the rates with their derivatives, at the start of a step."""
    n = len(cells.mass)
    theta, pressure = np.empty(n), np.empty(n)
    warm, push = np.empty((n, 2)), np.empty((n, 2))
    for i in range(n):
        content = state[2 * i]
        found = _slopes(cells, i, content, state[2 * i + 1], _held(lag, i, content))
        theta[i], pressure[i], warm[i, 0], warm[i, 1], push[i, 0], push[i, 1] = found
    point = _flow(cells, rim, seconds, air, theta, pressure)
    own, before, after = np.zeros((n, 2, 2)), np.zeros((n, 2, 2)), np.zeros((n, 2, 2))
    crossing, crossing_by_air = np.empty((2, 2, n)), np.empty((2, n))
    by_air, by_time = np.empty(2 * n), np.empty(2 * n)
    for i in range(n):
        lift = rim.lift[i] + (VAPOUR_HEAT / 2) * theta[i]
        crossing_by_air[0, i], crossing_by_air[1, i] = rim.vapour[i], rim.vapour[i] * lift
        by_air[2 * i], by_air[2 * i + 1] = rim.vapour[i] / cells.mass[i], rim.vapour[i] * lift / cells.heat[i]
        by_time[2 * i], by_time[2 * i + 1] = 0.0, rim.warming[i] / cells.heat[i]
        carried = (VAPOUR_HEAT / 2) * point.crossing[0, i] - rim.heat[i]
        for u in range(2):
            crossing[0, u, i] = -rim.vapour[i] * push[i, u]
            crossing[1, u, i] = lift * crossing[0, u, i] + carried * warm[i, u]
            own[i, 0, u] += crossing[0, u, i]
            own[i, 1, u] += crossing[1, u, i]
        if i == n - 1:
            break
        both = theta[i] + theta[i + 1]
        step = pressure[i] - pressure[i + 1]
        flow = cells.vapour[i] * (1 + (GROWTH / 2) * both)
        pull = (GROWTH / 2) * cells.vapour[i] * step
        latent = EVAPORATION + (VAPOUR_HEAT / 2) * both
        extra = (VAPOUR_HEAT / 2) * flow * step
        for u in range(2):  # of the flow from this cell to the next, by the unknowns of either
            water_here = flow * push[i, u] + pull * warm[i, u]
            water_there = pull * warm[i + 1, u] - flow * push[i + 1, u]
            heat_here = latent * water_here + (extra + cells.conductance[i]) * warm[i, u]
            heat_there = latent * water_there + (extra - cells.conductance[i]) * warm[i + 1, u]
            own[i, 0, u] -= water_here
            own[i, 1, u] -= heat_here
            after[i, 0, u], after[i, 1, u] = -water_there, -heat_there
            before[i + 1, 0, u], before[i + 1, 1, u] = water_here, heat_here
            own[i + 1, 0, u] += water_there
            own[i + 1, 1, u] += heat_there
    for i in range(n):
        for u in range(2):
            for block in (own, before, after):
                block[i, 0, u] /= cells.mass[i]
                block[i, 1, u] /= cells.heat[i]
    return point, Slope(own, before, after, by_air, by_time, crossing, crossing_by_air)


@part_of_compiled
def _factor(slope: Slope, shift: float) -> tuple[Floats, Floats, Floats]:
    """Eliminate, cell after cell, in ``shift - slope``: inverses of what is left, and the way down and up."""
    n = len(slope.own)
    inverse, down, up = np.empty((n, 2, 2)), np.zeros((n, 2, 2)), np.zeros((n, 2, 2))
    for i in range(n):
        a, b = shift - slope.own[i, 0, 0], -slope.own[i, 0, 1]
        c, d = -slope.own[i, 1, 0], shift - slope.own[i, 1, 1]
        if i > 0:
            for r in range(2):
                for k in range(2):
                    left, right = slope.before[i, r, 0], slope.before[i, r, 1]
                    down[i, r, k] = -left * inverse[i - 1, 0, k] - right * inverse[i - 1, 1, k]
            over = slope.after[i - 1]
            a += down[i, 0, 0] * over[0, 0] + down[i, 0, 1] * over[1, 0]
            b += down[i, 0, 0] * over[0, 1] + down[i, 0, 1] * over[1, 1]
            c += down[i, 1, 0] * over[0, 0] + down[i, 1, 1] * over[1, 0]
            d += down[i, 1, 0] * over[0, 1] + down[i, 1, 1] * over[1, 1]
        per = 1 / (a * d - b * c)
        inverse[i, 0, 0], inverse[i, 0, 1] = d * per, -b * per
        inverse[i, 1, 0], inverse[i, 1, 1] = -c * per, a * per
        for r in range(2):
            for k in range(2):
                up[i, r, k] = -(
                    inverse[i, r, 0] * slope.after[i, 0, k] + inverse[i, r, 1] * slope.after[i, 1, k]
                )
    return inverse, down, up


@part_of_compiled
def _solve(factors: tuple[Floats, Floats, Floats], side: Floats, found: Floats) -> None:
    """Solve for one right-hand side, shape (2 n,), into ``found``."""
    inverse, down, up = factors
    n = len(inverse)
    w, h = side[0], side[1]
    found[0], found[1] = w, h
    for i in range(1, n):
        w, h = (
            side[2 * i] - down[i, 0, 0] * w - down[i, 0, 1] * h,
            side[2 * i + 1] - down[i, 1, 0] * w - down[i, 1, 1] * h,
        )
        found[2 * i], found[2 * i + 1] = w, h
    w = h = 0.0
    for i in range(n - 1, -1, -1):
        left, right = found[2 * i], found[2 * i + 1]
        w, h = (
            inverse[i, 0, 0] * left + inverse[i, 0, 1] * right - up[i, 0, 0] * w - up[i, 0, 1] * h,
            inverse[i, 1, 0] * left + inverse[i, 1, 1] * right - up[i, 1, 0] * w - up[i, 1, 1] * h,
        )
        found[2 * i], found[2 * i + 1] = w, h


@compiled
def try_step(
    cells: Cells,
    rim: Rim,
    lag: Lag,
    point: Point,
    slope: Slope,
    seconds: float,
    state: Floats,
    air: Floats,
    step: float,
) -> Trial:
    """Try one step from a point whose slope is known.

    The vapour pressure of a chamber borders the blocks of its stack; it is eliminated by one more
    right-hand side.
    """
    n, stacks, shift = len(cells.mass), len(air), 1 / (_GAMMA * step)
    factors = _factor(slope, shift)
    row, response, corner = _border(cells, rim, slope, shift, factors)
    stages, crossings = np.empty((4, 2 * n)), np.empty((4, 2, n))
    airs, lifts = np.zeros((4, stacks)), np.zeros((4, stacks))
    now, side, above = point, np.empty(2 * n), np.empty(stacks)
    for s in range(4):
        if s >= 2:  # the first two stages stand at the start of the step
            _combine(_A[s], 1.0, stages, s, state, side)
            _combine(_A[s], 1.0, airs, s, air, above)
            for k in range(stacks):
                lifts[s, k] = above[k] - air[k]
            now = at(cells, rim, lag, seconds + _ALPHA[s] * step, side, above)
        _combine(_C[s], 1 / step, stages, s, now.rates, side)
        _combine(_C[s], 1 / step, airs, s, now.air, above)
        for j in range(2 * n):
            side[j] += _TIME[s] * step * slope.by_time[j]
        _solve(factors, side, stages[s])
        for q in range(2):
            for i in range(n):
                crossings[s, q, i] = now.crossing[q, i]
        for k in range(stacks):
            if rim.chambers[4, k] == np.inf:
                continue
            for j in range(2 * rim.first[k], 2 * (rim.first[k] + rim.cells[k])):
                above[k] += row[j] * stages[s, j]
            airs[s, k] = above[k] / corner[k]
            for j in range(2 * rim.first[k], 2 * (rim.first[k] + rim.cells[k])):
                stages[s, j] += airs[s, k] * response[j]
    change, air_change, aired = np.zeros(2 * n), np.zeros(stacks), np.empty(stacks)
    _combine(_M, 1.0, stages, 4, np.zeros(2 * n), change)
    _combine(_M, 1.0, airs, 4, np.zeros(stacks), air_change)
    for k in range(stacks):
        aired[k] = air[k]
        for s in range(4):
            aired[k] += _CROSSING[s] * (lifts[s, k] + airs[s, k])
        aired[k] *= step
    crossed = _cross(rim, slope, step, stages, crossings, airs)
    return Trial(change, stages[3], air_change, airs[3], crossed, aired)


@part_of_compiled
def _combine(weights: Floats, per: float, stages: Floats, count: int, start: Floats, found: Floats) -> None:
    """Write into ``found`` what some stages, each with its weight, add to a start."""
    for j in range(len(start)):
        value = start[j]
        for s in range(count):
            value += weights[s] * per * stages[s, j]
        found[j] = value


@part_of_compiled
def _border(
    cells: Cells, rim: Rim, slope: Slope, shift: float, factors: tuple[Floats, Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """Give what the chambers need: their row, what the cells do when their pressure rises, their corner."""
    n, stacks = len(cells.mass), len(rim.cells)
    row, corner = np.zeros(2 * n), np.ones(stacks)
    response = np.zeros(2 * n)
    if min(rim.chambers[4]) == np.inf:
        return row, response, corner
    _solve(factors, slope.by_air, response)
    for k in range(stacks):
        capacity = rim.chambers[4, k]
        through, answered = rim.chambers[0, k] + rim.chambers[2, k], 0.0
        for i in range(rim.first[k], rim.first[k] + rim.cells[k]):
            through += rim.vapour[i]
            for u in range(2):
                row[2 * i + u] = -slope.crossing[0, u, i] / capacity
                answered += row[2 * i + u] * response[2 * i + u]
        corner[k] = shift + through / capacity - answered
    return row, response, corner


@part_of_compiled
def _cross(rim: Rim, slope: Slope, step: float, stages: Floats, crossings: Floats, airs: Floats) -> Floats:
    """Give what crosses into each cell in a step: it follows the same stages, and nothing depends on it."""
    found = np.zeros((2, crossings.shape[2]))
    for s in range(4):
        for k in range(len(rim.cells)):
            for i in range(rim.first[k], rim.first[k] + rim.cells[k]):
                for q in range(2):
                    found[q, i] += _CROSSING[s] * (
                        crossings[s, q, i]
                        + slope.crossing[q, 0, i] * stages[s, 2 * i]
                        + slope.crossing[q, 1, i] * stages[s, 2 * i + 1]
                        + slope.crossing_by_air[q, i] * airs[s, k]
                    )
    for i in range(found.shape[1]):
        found[0, i] *= step
        found[1, i] = step * (found[1, i] + step * _CROSSING_TIME * rim.warming[i])
    return found


@part_of_compiled
def _measure(rim: Rim, tolerance: Floats, trial: Trial) -> float:
    """Give the error of a step over what is allowed, in the stack where it is largest; 1 is allowed."""
    worst = 0.0
    for k in range(len(rim.cells)):
        total = 0.0
        for i in range(rim.first[k], rim.first[k] + rim.cells[k]):
            total += (trial.error[2 * i] / CONTENT_SCALE) ** 2
            total += (trial.error[2 * i + 1] / KELVIN_SCALE) ** 2
        of_cells = math.sqrt(total / (2 * rim.cells[k])) / tolerance[k]
        of_air = abs(trial.air_error[k]) / (PASCAL_SCALE * tolerance[k])
        for error in (of_cells, of_air):
            if error != error:  # not a number: a step far too long
                return error
            worst = max(worst, error)
    return worst


@part_of_compiled
def _turn(rim: Rim, lag: Lag, tolerance: Floats, change: Floats) -> bool:
    """Have cells that have plainly moved against their branch take the other; tell whether any did."""
    found = False
    for k in range(len(rim.cells)):
        least = 3 * CONTENT_SCALE * tolerance[k]
        for i in range(rim.first[k], rim.first[k] + rim.cells[k]):
            if (change[2 * i] < 0) != lag.leaves[i] and abs(change[2 * i]) > least:
                lag.leaves[i] = not lag.leaves[i]
                found = True
    return found


@part_of_compiled
def _move(lag: Lag, state: Floats) -> None:
    """Begin a new step; where the content turned within the last one the lag stays within its bounds."""
    for i in range(len(lag.most)):
        content = state[2 * i]
        lag.value[i] = min(max(_held(lag, i, content)[0], 0.0), lag.most[i])
        lag.leaves[i] = content < lag.start[i]
        lag.start[i] = content


@part_of_compiled
def _add(what: Floats, to: Floats) -> None:
    for i in range(len(what)):
        to[i] += what[i]


@compiled
def advance(
    cells: Cells,
    rim: Rim,
    lag: Lag,
    tolerance: Floats,
    state: Floats,
    air: Floats,
    clock: Floats,
    end: float,
    totals: tuple[Floats, Floats],
    noted: Noted,
) -> tuple[int, int]:
    """Carry a state on until the end, or until the room for its steps is used up.

    Parameters
    ----------
    cells, rim, lag : Cells, Rim, Lag
        The lag is carried on in place.
    tolerance : array, shape (stacks,)
        Of a step.
    state, air : array, shape (2 n,) and (stacks,)
        Carried on in place.
    clock : array, shape (2,)
        Seconds now, and the step to try next; carried on in place.
    end : float
        s
    totals : (array of shape (2, n), array of shape (stacks,))
        What has crossed, and the pressure summed over time; carried on in place.
    noted : Noted
        Room for the steps, all zero.

    Returns
    -------
    accepted, ended : int
        Steps, and one of :data:`RUNNING`, :data:`DONE`, :data:`STUCK`.
    """
    crossed, aired = totals
    seconds, step = clock[0], clock[1]
    point, slope = linear(cells, rim, lag, seconds, state, air)
    accepted, rejected, tried = 0, 0, False  # tried: the other branch of the hysteresis, for this step
    while accepted < len(noted.times):
        trial = try_step(cells, rim, lag, point, slope, seconds, state, air, step)
        error = _measure(rim, tolerance, trial)
        factor = min(6.0, max(0.2, 0.85 * error ** (-1 / _ORDER))) if error > 0 else 6.0
        if not error <= 1.0:  # not a number counts as too far
            rejected += 1
            step *= factor if error == error else 0.2
            if step < _SHORTEST or rejected > 100 * len(noted.times):
                clock[0], clock[1] = seconds, step
                return accepted, STUCK
            continue
        if len(lag.most) and not tried and _turn(rim, lag, tolerance, trial.change):
            tried = True
            point, slope = linear(cells, rim, lag, seconds, state, air)
            continue
        tried = False
        _add(trial.change, state)
        _add(trial.air_change, air)
        _add(trial.crossed[0], crossed[0])
        _add(trial.crossed[1], crossed[1])
        _add(trial.aired, aired)
        seconds = end if end - seconds - step < 1e-9 * end else seconds + step
        _move(lag, state)
        if seconds >= end:  # nothing follows that would need the slope
            point = at(cells, rim, lag, seconds, state, air)
        else:
            point, slope = linear(cells, rim, lag, seconds, state, air)
        noted.times[accepted] = seconds
        _add(state, noted.states[accepted])
        _add(point.rates, noted.rates[accepted])
        _add(air, noted.airs[accepted])
        _add(lag.value, noted.lags[accepted])
        accepted += 1
        left = end - seconds
        step = min(step * factor, left)
        if step < left < 1.5 * step:
            step = left / 2
        clock[0], clock[1] = seconds, step
        if left <= 0.0:
            return accepted, DONE
    return accepted, RUNNING
