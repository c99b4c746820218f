r"""An adaptive, linearly implicit stepper (plain numbers).

Rodas3 of Sandu and others: third order with an error estimate of second order, L-stable, four stages,
three evaluations, one factorisation a step [sandu1997]_.  The matrix is block tridiagonal, two by two; the
chamber's vapour pressure borders it and is eliminated by one more right-hand side.  Stacks side by side
are carried on together, by steps that are short enough for each of them.  The loops are in
:mod:`bench.physics.transient.compiled`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from bench.errors import OutOfRange
from bench.physics.arrays import Floats
from bench.physics.transient.compiled import DONE, STUCK, Lag, Noted, advance
from bench.physics.transient.equations import Equations, as_airs

_FIRST_STEP = 0.5  # s
_MOST_STEPS = 20_000
_AT_ONCE = 24  # steps for which room is made at a time


@dataclass
class Track:
    """Every accepted step of one phase, its start first.

    Attributes
    ----------
    times : array, shape (steps,), s from the start of the phase
        When each step ended.
    states, rates : array, shape (steps, 2 n)
        Content and temperature of each cell, and how they change.
    airs : array, shape (steps, stacks)
        Vapour pressure of the air about each stack, Pa.
    lags : array, shape (steps, n)
        Hysteresis of each cell.
    crossed : array, shape (2, n)
        Water and heat that have come to each cell from outside since the start of the phase.
    aired : array, shape (stacks,)
        Vapour pressure of the air, summed over the time since then, Pa s.
    """

    times: Floats = field(default_factory=lambda: np.zeros(0))
    states: Floats = field(default_factory=lambda: np.zeros((0, 2)))
    rates: Floats = field(default_factory=lambda: np.zeros((0, 2)))
    airs: Floats = field(default_factory=lambda: np.zeros((0, 1)))
    lags: Floats = field(default_factory=lambda: np.zeros((0, 1)))
    crossed: Floats = field(default_factory=lambda: np.zeros((2, 1)))
    aired: Floats = field(default_factory=lambda: np.zeros(1))

    def add(self, parts: Sequence[Noted]) -> None:
        """Add steps to those before."""
        known = [Noted(self.times, self.states, self.rates, self.airs, self.lags)] if len(self.times) else []
        columns = zip(*known, *parts, strict=True)
        self.times, self.states, self.rates, self.airs, self.lags = (np.concatenate(c) for c in columns)

    def parted(self, cells: Sequence[int]) -> list[Track]:
        """Give each of the stacks side by side a track of its own."""
        found, first = [], 0
        for number, count in enumerate(cells):
            part, pair = slice(first, first + count), slice(2 * first, 2 * (first + count))
            found.append(
                Track(
                    self.times,
                    self.states[:, pair],
                    self.rates[:, pair],
                    self.airs[:, number],
                    self.lags[:, part],
                    self.crossed[:, part],
                    self.aired[number : number + 1],
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
    first_step: float = _FIRST_STEP,
) -> tuple[Floats, Floats]:
    """Carry a state from one time to another and note every step in the track.

    Parameters
    ----------
    equations : Equations
        Of one stack or of several side by side.
    state : array, shape (2 n,)
        Content and temperature of each cell.
    air : float or array, shape (stacks,)
        Vapour pressure of the air about each stack, Pa.
    start, end : float
        s
    tolerance : float or array, shape (stacks,)
        Of a step.
    track : Track
        In which the steps are noted.
    first_step : float
        s

    Returns
    -------
    state, air
        At the end.
    """
    state, air = np.array(state, dtype=np.float64), as_airs(air)
    lag, rates = equations.lag, equations.at(start, state, air).rates
    if len(lag.most):  # where nothing has moved yet, both branches of the hysteresis have the same rates
        lag = Lag(lag.most, lag.start.copy(), lag.value.copy(), rates[0::2] < 0)
    each = np.array(np.broadcast_to(np.asarray(tolerance, dtype=np.float64), air.shape))
    parts = []
    if not len(track.times):
        track.crossed, track.aired = np.zeros((2, equations.count)), np.zeros(len(air))
        parts.append(_note(start, state, rates, air, lag))
    clock = np.array([start, min(first_step, end - start)])
    totals = (track.crossed, track.aired)
    for _ in range(0, _MOST_STEPS, _AT_ONCE):
        noted = _room(len(state), len(air))
        accepted, ended = advance(
            equations.cells, equations.rim, lag, each, state, air, clock, end, totals, noted
        )
        parts.append(Noted(*(part[:accepted] for part in noted)))
        if ended == DONE:
            track.add(parts)
            return state, air
        if ended == STUCK:
            break
    raise OutOfRange(
        "time step",
        f"{clock[1]:.1e} s",
        "more",
        "The stack left the range of its isotherms: look for a flooded layer",
    )


def _room(unknowns: int, stacks: int) -> Noted:
    """Make room for some steps."""
    return Noted(
        np.zeros(_AT_ONCE),
        np.zeros((_AT_ONCE, unknowns)),
        np.zeros((_AT_ONCE, unknowns)),
        np.zeros((_AT_ONCE, stacks)),
        np.zeros((_AT_ONCE, unknowns // 2)),
    )


def _note(seconds: float, state: Floats, rates: Floats, air: Floats, lag: Lag) -> Noted:
    """Note the start."""
    held = lag.value if len(lag.most) else np.zeros(len(state) // 2)
    return Noted(np.array([seconds]), *(row[None].copy() for row in (state, rates, air, held)))
