"""Follow a stack through its phases."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.physics.transient.cells import Cut, contact_conductance, cut_stack
from bench.physics.transient.chamber import ClosedChamber, read_air
from bench.physics.transient.equations import Equations, Outside
from bench.physics.transient.faces import Sides, read_face
from bench.physics.transient.history import History, PhaseHistory
from bench.physics.transient.hysteresis import Lag
from bench.physics.transient.inputs import USUAL, Inputs
from bench.physics.transient.phases import Change, Phase, Rest, carry_over, check_phases, fresh_state
from bench.physics.transient.stepper import Stopped, Track, integrate
from bench.stack import Role, Stack
from bench.units import Quantity

Floats = NDArray[np.float64]

TOLERANCE = 3e-4
"""Of a step: 0.003 % in moisture content, 6 mK.  Activities are then right to about 0.0003."""

_ABOVE = (
    "Above 99 % RH somewhere in the stack: no isotherm holds there, and water may stand as liquid. "
    "Do not rely on the numbers of that time."
)
_NEAR = (
    "Above 90 % RH the published isotherms are carried on past their data and disagree widely: "
    "weigh the item to know what it took up."
)


def simulate(
    stack: Stack,
    phases: Iterable[Phase],
    *,
    start: Rest | None = None,
    inputs: Inputs | None = None,
    page: tuple[Quantity, Quantity] | None = None,
    isotherms: Mapping[Role, str] | None = None,
    tolerance: float = TOLERANCE,
    cells_per_sheet: int = 1,
    progress: Callable[[float], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> History:
    r"""Follow moisture and heat through a stack, phase after phase.

    Parameters
    ----------
    stack : Stack
        At the start, top first.
    phases : iterable of Phase
        In order; the state is carried over, and water is conserved where the stack changes.
    start : Rest, optional
        At which the whole stack rested before; 50 % RH and 22 °C without it.
    inputs : Inputs, optional
        What is not known well; its middle values are used.
    page : (Quantity, Quantity), optional
        Width and height of the page, for the exchange at the open edges; none without it.
    isotherms : mapping of Role to str, optional
        Materials whose isotherm is used in place of the role's own.
    tolerance : float
        Of one step, 1e-8 to 0.01; see :data:`TOLERANCE`.
    cells_per_sheet : int
        Factor on the number of cells (for checks of convergence).
    progress : callable, optional
        Hears the share of the whole time that is done, 0 to 1.
    stop : callable, optional
        Asked after every step; True ends the calculation with :class:`Stopped`.

    Returns
    -------
    History

    Raises
    ------
    NotFound, BadValue, UnitMismatch, OutOfRange
    Stopped
        The caller asked for it.

    Notes
    -----
    Equations in :mod:`bench.physics.transient.equations`: vapour diffuses down its pressure, fibre
    and vapour are in balance at every place, heat is conducted and carried by the vapour, and
    sorption sets it free.  Left out: liquid water, swelling, water held by the air in the pores
    (a thousandth of that in the fibre), flow of air.  Valid for 5 to 65 °C in the stack and up to
    99 % RH; a caution says where it went beyond.

    Examples
    --------
    >>> from bench.units import Q_
    >>> from bench.stack import Layer
    >>> from bench.physics.transient.chamber import Air
    >>> block = Stack((Layer(Role.LEAF, "newsprint", 36, Q_(0.12, "mm"), Q_(52, "gsm")),), Q_(0.043, "m^2"))
    >>> day = Phase("chamber", Q_(24, "hour"), Air(Q_(22, "degC"), Q_(98, "percent")))
    >>> history = simulate(block, [day])
    >>> print(f"{history.humidity('middle leaf')[-1].magnitude:.0f} %")
    97 %
    """
    given, numbers = check_phases(phases), (inputs or USUAL).middle()
    if not 1e-8 <= tolerance <= 0.01:
        raise BadValue("tolerance", tolerance, "1e-8 to 0.01", "Leave it at its default")
    whole = sum(phase.seconds for phase in given)
    done: list[PhaseHistory] = []
    now = 0.0
    cuts: list[tuple[Stack, Quantity, Cut]] = []
    for phase in given:

        def watch(seconds: float, before: float = now) -> None:
            if progress is not None:
                progress(min(1.0, (before + seconds) / whole))
            if stop is not None and stop():
                raise Stopped

        current = phase.stack or (stack if not done else _latest(done, stack))
        # A stack that goes on under the same load is cut once.
        cut = next((c for s, load, c in cuts if s is current and load == phase.pressure), None)
        if cut is None:
            cut = cut_stack(
                current,
                numbers,
                pressure=phase.pressure,
                page=page,
                isotherms=isotherms,
                cells_per_sheet=cells_per_sheet,
            )
            cuts.append((current, phase.pressure, cut))
        done.append(_follow(phase, cut, done, start or Rest(), numbers, now, tolerance, watch))
        now += phase.seconds
    return History(tuple(done), _cautions(done))


def _latest(done: list[PhaseHistory], stack: Stack) -> Stack:
    return next((p.phase.stack for p in reversed(done) if p.phase.stack is not None), stack)


def _follow(
    phase: Phase,
    cut: Cut,
    done: list[PhaseHistory],
    start: Rest,
    numbers: Mapping[str, float],
    now: float,
    tolerance: float,
    watch: Callable[[float], None],
) -> PhaseHistory:
    sides, outside = _outside(phase, cut, numbers)
    equations = Equations(cut.slices, outside)
    if done:
        last = done[-1]
        fresh = fresh_state(cut, equations, phase.fresh)
        lag = np.broadcast_to(last.track.lags[-1], (len(last.cut.slices.mass),))
        state, held, change = carry_over(last.cut, cut, last.track.states[-1], lag, fresh, phase.renew)
    else:
        state, held, change = fresh_state(cut, equations, start), np.zeros(len(cut.slices.mass)), Change()
    air = outside.air_pressure
    most = numbers["hysteresis"]
    track = Track()
    counts = np.zeros(8)
    for first, last_time in _pieces(sides, phase.seconds):
        equations = Equations(cut.slices, _piece(outside, sides, first, last_time))
        if most > 0:
            equations.lag = Lag(np.full(len(held), most), state[0::2].copy(), held, held > 0)
        state, air, counts = integrate(
            equations,
            state,
            air,
            start=first,
            end=last_time,
            tolerance=tolerance,
            track=track,
            counts=counts,
            watch=watch,
        )
        held = track.lags[-1] if most > 0 else held
    return PhaseHistory(phase, cut, equations, track, now, change)


def _outside(phase: Phase, cut: Cut, numbers: Mapping[str, float]) -> tuple[tuple[Sides, Sides], Outside]:
    celsius, pressure, room = read_air(phase.air)
    contact = float(contact_conductance(phase.pressure).magnitude) * numbers["contact_factor"]
    both = []
    for face, end in ((phase.top, 0), (phase.bottom, -1)):
        both.append(
            read_face(
                face,
                half_vapour=float(cut.slices.half_vapour[end]),
                half_heat=float(cut.slices.half_heat[end]),
                air_celsius=celsius,
                room_celsius=room,
                contact=contact,
                film_factor=numbers["film_factor"],
                platen_error=numbers["platen_error"],
            )
        )
    top, bottom = both
    chamber = None
    if isinstance(phase.air, ClosedChamber):
        chamber, pressure = phase.air.numbers(cut.area, numbers["film_factor"])
    outside = Outside(
        vapour=(top.vapour, bottom.vapour),
        heat=(top.heat, bottom.heat),
        celsius=(top.celsius[0], bottom.celsius[0]),
        air_celsius=celsius,
        air_pressure=pressure,
        edges=phase.edges_open,
        chamber=chamber,
    )
    return (top, bottom), outside


def _pieces(sides: tuple[Sides, Sides], end: float) -> list[tuple[float, float]]:
    """Cut the phase where a platen's program bends."""
    bends = sorted({t for side in sides for t in side.times if 0 < t < end})
    marks = [0.0, *bends, end]
    return list(pairwise(marks))


def _piece(outside: Outside, sides: tuple[Sides, Sides], first: float, last: float) -> Outside:
    """Give the outside for one straight piece of the program; time counts from the start of the phase."""
    at, rate = [], []
    for side in sides:
        begin, end = (float(np.interp(t, side.times, side.celsius)) for t in (first, last))
        slope = (end - begin) / (last - first)
        at.append(begin - slope * first)
        rate.append(slope)
    return replace(outside, celsius=(at[0], at[1]), rate=(rate[0], rate[1]))


def _cautions(done: list[PhaseHistory]) -> tuple[str, ...]:
    highest = max(float(p.climate[1][:, p.cut.slices.wet].max()) for p in done)
    found = []
    if highest > 0.90:
        found.append(_NEAR)
    if highest > 0.99:
        found.append(_ABOVE)
    return tuple(found)
