"""Follow a stack through its phases, or several side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.physics.transient.cells import Cut, cut_stack
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


@dataclass(frozen=True)
class Course:
    """A stack and what it goes through: all that a run of the model needs.

    Attributes
    ----------
    stack : Stack
        At the start, top first.
    phases : tuple of Phase
        In order; the state is carried over, and water is conserved where the stack changes.
    start : Rest
        At which the whole stack rested before.
    inputs : Inputs
        What is not known well; its middle values are used.
    page : (Quantity, Quantity) or None
        Width and height of the page, for the exchange at the open edges; none without it.
    isotherms : mapping of Role to str or None
        Materials whose isotherm is used in place of the role's own.
    tolerance : float
        Of one step, 1e-8 to 0.01; see :data:`TOLERANCE`.
    cells_per_sheet : int
        Factor on the number of cells (for checks of convergence).
    """

    stack: Stack
    phases: tuple[Phase, ...]
    start: Rest = field(default_factory=Rest)
    inputs: Inputs = USUAL
    page: tuple[Quantity, Quantity] | None = field(default=None, hash=False)
    isotherms: Mapping[Role, str] | None = field(default=None, hash=False)
    tolerance: float = TOLERANCE
    cells_per_sheet: int = 1

    def __post_init__(self) -> None:
        if not 1e-8 <= self.tolerance <= 0.01:
            raise BadValue("tolerance", self.tolerance, "1e-8 to 0.01", "Leave it at its default")
        check_phases(self.phases)


def simulate(
    stack: Stack,
    phases: Iterable[Phase],
    *,
    start: Rest | None = None,
    inputs: Inputs | None = None,
    progress: Callable[[float], None] | None = None,
    stop: Callable[[], bool] | None = None,
    **options: Any,
) -> History:
    r"""Follow moisture and heat through a stack, phase after phase.

    Parameters
    ----------
    stack : Stack
    phases : iterable of Phase
    start, inputs, **options
        See :class:`Course`; 50 % RH and 22 °C without a start.
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
    course = Course(stack, tuple(phases), start or Rest(), inputs or USUAL, **options)
    return simulate_together([course], progress=progress, stop=stop)[0]


def simulate_together(
    courses: Iterable[Course],
    *,
    progress: Callable[[float], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> tuple[History, ...]:
    """Follow several courses side by side: the same answers as one by one, in a fraction of the time.

    Parameters
    ----------
    courses : iterable of Course
        They need not have the same phases; those whose next phase takes equally long go through it
        together.
    progress, stop : callable, optional
        As in :func:`simulate`.

    Returns
    -------
    tuple of History
        In the order of the courses.

    Raises
    ------
    NotFound, BadValue, UnitMismatch, OutOfRange, Stopped
    """
    given = [_Followed(course) for course in courses]
    whole = sum(phase.seconds for one in given for phase in one.phases)
    before = 0.0
    for number in range(max((len(one.phases) for one in given), default=0)):
        groups: dict[tuple[float, bool], list[_Followed]] = {}
        for one in given:
            if number < len(one.phases):
                groups.setdefault((one.phases[number].seconds, one.lags), []).append(one)
        for (seconds, _), group in groups.items():

            def watch(now: float, done: float = before, count: int = len(group)) -> None:
                if progress is not None:
                    progress(min(1.0, (done + count * now) / whole))
                if stop is not None and stop():
                    raise Stopped

            _carry_on(group, seconds, watch)
            before += len(group) * seconds
    return tuple(History(tuple(one.done), _cautions(one.done)) for one in given)


class _Followed:
    """A course on its way: what is done of it, and the phase that it is in."""

    def __init__(self, course: Course) -> None:
        self.course, self.phases = course, course.phases
        self.numbers = course.inputs.middle()
        self.done: list[PhaseHistory] = []
        self._stack, self._now = course.stack, 0.0
        self._cuts: list[tuple[Stack, float, Cut]] = []
        self._fresh: list[tuple[Cut, Rest, Floats]] = []

    @property
    def lags(self) -> bool:
        """Whether there is hysteresis."""
        return self.numbers["hysteresis"] > 0

    def enter(self) -> None:
        """Go into the next phase: cut the stack, carry the state over."""
        self.phase = phase = self.phases[len(self.done)]
        self._stack = phase.stack or self._stack
        self.cut = self._cut(self._stack, phase.contact)
        self.sides, self.outside = _outside(phase, self.cut, self.numbers)
        self.equations = Equations(self.cut.slices, self.outside)
        count = len(self.cut.slices.mass)
        if self.done:
            last = self.done[-1]
            lag = np.broadcast_to(last.track.lags[-1], (len(last.cut.slices.mass),))
            fresh = self._rested(phase.fresh)
            self.state, self.held, self.change = carry_over(
                last.cut, self.cut, last.track.states[-1], lag, fresh, phase.renew
            )
        else:
            self.state, self.held = self._rested(self.course.start), np.zeros(count)
            self.change = Change()

    def leave(self, track: Track) -> None:
        """Come out of the phase with the steps it took."""
        self.done.append(PhaseHistory(self.phase, self.cut, self.equations, track, self._now, self.change))
        self._now += self.phase.seconds

    def piece(self, first: float, last: float) -> Equations:
        """Give the equations for a part of the phase in which the program of a platen runs straight."""
        if not any(len(side.times) > 1 for side in self.sides):
            return self.equations
        return Equations(self.cut.slices, _piece(self.outside, self.sides, first, last))

    def _cut(self, stack: Stack, contact: float) -> Cut:
        """Cut a stack; one that goes on under the same load is cut once."""
        for known, touch, cut in self._cuts:
            if known is stack and touch == contact:
                return cut
        course = self.course
        cut = cut_stack(
            stack,
            self.numbers,
            contact=contact,
            page=course.page,
            isotherms=course.isotherms,
            cells_per_sheet=course.cells_per_sheet,
        )
        self._cuts.append((stack, contact, cut))
        return cut

    def _rested(self, rest: Rest) -> Floats:
        for cut, known, state in self._fresh:
            if cut is self.cut and known == rest:
                return state
        state = fresh_state(self.cut, self.equations, rest)
        self._fresh.append((self.cut, rest, state))
        return state


def _carry_on(group: list[_Followed], seconds: float, watch: Callable[[float], None]) -> None:
    """Take courses through phases that take equally long."""
    for one in group:
        one.enter()
    state = np.concatenate([one.state for one in group])
    held = np.concatenate([one.held for one in group])
    air = np.array([one.outside.air_pressure for one in group])
    tolerance = np.array([one.course.tolerance for one in group])
    cells = [len(one.cut.slices.mass) for one in group]
    most = np.repeat([one.numbers["hysteresis"] for one in group], cells)
    track = Track()
    for first, last in _pieces([side for one in group for side in one.sides], seconds):
        equations = Equations.beside([one.piece(first, last) for one in group])
        equations.lag = Lag(most, state[0::2].copy(), held, held > 0) if group[0].lags else None
        state, air = integrate(
            equations, state, air, start=first, end=last, tolerance=tolerance, track=track, watch=watch
        )
        held = track.lags[-1] if group[0].lags else held
    for one, part in zip(group, track.parted(cells), strict=True):
        one.leave(part)


def _outside(phase: Phase, cut: Cut, numbers: Mapping[str, float]) -> tuple[tuple[Sides, Sides], Outside]:
    celsius, pressure, room = read_air(phase.air)
    contact = phase.contact * numbers["contact_factor"]
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


def _pieces(sides: Iterable[Sides], end: float) -> list[tuple[float, float]]:
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
