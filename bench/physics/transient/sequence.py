"""Follow a stack through its phases, or several side by side."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import pairwise, zip_longest
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.physics.saturation import ZERO_CELSIUS
from bench.physics.transient.cells import LEAST_CAPACITY, Cut, cut_stack, platen_layer
from bench.physics.transient.chamber import ClosedChamber, read_air
from bench.physics.transient.equations import REFERENCE, WATER_HEAT, Equations, Outside
from bench.physics.transient.faces import CoolingPlaten, Face, Sides, SolidBase, read_face
from bench.physics.transient.history import History, PhaseHistory
from bench.physics.transient.hysteresis import NO_LAG, start_lag
from bench.physics.transient.inputs import USUAL, Inputs
from bench.physics.transient.phases import Change, Phase, Rest, carry_over, check_phases, fresh_state
from bench.physics.transient.stepper import Track, integrate
from bench.stack import Role, Stack
from bench.units import Q_, Quantity

Floats = NDArray[np.float64]

TOLERANCE = 3e-4
"""Of a step: 0.003 % in moisture content, 6 mK.  Activities are then right to about 0.0003."""


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

    @property
    def setting(self) -> CourseSetting:
        """All but the phases."""
        isotherms = tuple((self.isotherms or {}).items())
        return CourseSetting(
            self.stack,
            self.start,
            self.inputs,
            self.page,
            isotherms,
            self.tolerance,
            self.cells_per_sheet,
        )


def simulate(
    stack: Stack,
    phases: Iterable[Phase],
    *,
    start: Rest | None = None,
    inputs: Inputs | None = None,
    **options: Any,
) -> History:
    r"""Follow moisture and heat through a stack, phase after phase.

    Parameters
    ----------
    stack : Stack
        At the start, top first.
    phases : iterable of Phase
        In order.
    start, inputs, **options
        See :class:`Course`; 50 % RH and 22 °C without a start.

    Returns
    -------
    History

    Raises
    ------
    NotFound, BadValue
        As in :func:`bench.physics.transient.cells.cut_stack`; no phases, or two of one name.
    OutOfRange
        A platen above 100 °C, or the stack left the range of its isotherms.

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
    return simulate_together([course])[0]


def simulate_together(courses: Iterable[Course]) -> tuple[History, ...]:
    """Follow several courses side by side: the same answers as one by one, in a fraction of the time.

    Parameters
    ----------
    courses : iterable of Course
        They need not have the same phases; those whose next phase takes equally long go through it
        together.

    Returns
    -------
    tuple of History
        In the order of the courses.

    Raises
    ------
    NotFound, BadValue, OutOfRange
        As in :func:`simulate`.
    """
    given = tuple(courses)
    company = Company.begin(tuple(course.setting for course in given))
    for phases in in_turn(given):
        company = company.through(phases)
    return company.histories


def in_turn(courses: Sequence[Course]) -> Iterator[tuple[Phase | None, ...]]:
    """Give the first phase of every course, then the second; None where a course is at its end."""
    return zip_longest(*(course.phases for course in courses))


class CourseSetting(NamedTuple):
    """All of a :class:`Course` but its phases."""

    stack: Stack
    start: Rest
    inputs: Inputs
    page: tuple[Quantity, Quantity] | None
    isotherms: tuple[tuple[Role, str], ...]
    tolerance: float
    cells_per_sheet: int


def slowest_warming(course: Course) -> Quantity:
    r"""Bound the time constant with which the stack of a course warms or cools in its last phase.

    Returns
    -------
    Quantity [s]
        From the upper face to the lower: :math:`\tau = \sum_i C_i R_i`, the heat capacity of each cell with
        its water times the resistance between it and what lies at the upper face.  No constant of such a
        chain is longer (Elmore's delay of a ladder of resistances and capacities, from memory); water that
        evaporates and condenses on its way is not in it.

    Raises
    ------
    BadValue
        No heat passes the upper face.
    """
    return Q_(_slowest(course.setting, course.phases[-1]), "s")


@lru_cache(maxsize=32)
def _slowest(setting: CourseSetting, phase: Phase) -> float:
    entered = _Followed(setting, setting.stack).enter(phase)
    slices, face = entered.cut.slices, entered.equations.outside.heat[0]
    if face <= 0:
        raise BadValue("upper face", "insulated", "a face that heat passes", "Ask of a stack under a platen")
    water = np.where(slices.wet, WATER_HEAT * slices.mass * entered.state[0::2], 0.0)
    resistance = 1 / face + np.concatenate([[0.0], np.cumsum(1 / slices.conductance)])
    return float((slices.heat + water) @ resistance)


@dataclass(frozen=True, eq=False)  # compared by identity: it is what was found, not what was asked
class Company:
    """Courses side by side, as they stand between two phases; from one such place many ways lead on."""

    members: tuple[_Followed, ...]

    @staticmethod
    def begin(settings: Iterable[CourseSetting]) -> Company:
        """Give them before their first phase."""
        return Company(tuple(_Followed(setting, setting.stack) for setting in settings))

    def through(self, phases: Sequence[Phase | None]) -> Company:
        """Take each through its next phase; one without a phase stays where it is.

        Parameters
        ----------
        phases : sequence of Phase or None
            One for each.  Those that take equally long are followed together.
        """
        groups: dict[tuple[float, bool], list[tuple[int, _EnteredPhase]]] = {}
        for number, (one, phase) in enumerate(zip(self.members, phases, strict=True)):
            if phase is not None:
                groups.setdefault((phase.seconds, one.lags), []).append((number, one.enter(phase)))
        members = list(self.members)
        for (seconds, lags), group in groups.items():
            tracks = _carry_on([one for _, one in group], seconds, lags)
            for (number, entered), track in zip(group, tracks, strict=True):
                members[number] = entered.leave(track)
        return Company(tuple(members))

    @cached_property
    def histories(self) -> tuple[History, ...]:
        """What is done of each."""
        return tuple(History(one.done) for one in self.members)


@dataclass(frozen=True, eq=False)
class _Followed:
    """A course on its way, between two phases: what is done of it, and the stack as it is."""

    setting: CourseSetting
    stack: Stack
    done: tuple[PhaseHistory, ...] = ()
    now: float = 0.0

    @property
    def lags(self) -> bool:
        """Whether there is hysteresis."""
        return self.numbers["hysteresis"] > 0

    @cached_property
    def numbers(self) -> dict[str, float]:
        """The inputs in SI units."""
        return self.setting.inputs.middle()

    def enter(self, phase: Phase) -> _EnteredPhase:
        """Go into a phase: cut the stack, carry the state over."""
        setting = self.setting
        stack = phase.stack or self.stack
        numbers = tuple(self.numbers.items())
        faces = _weighed(phase.top), _weighed(phase.bottom)
        pressed = _pressed(stack, *(_capacity(face) for face in faces))
        cut = _cut(pressed, numbers, phase.contact, setting.page, setting.isotherms, setting.cells_per_sheet)
        sides, outside = _outside(phase, faces, cut, self.numbers)
        held, change = np.zeros(len(cut.slices.mass)), Change()
        if self.done:
            last, fresh = self.done[-1], _warmed(fresh_state(cut, phase.fresh), faces, self.numbers)
            state, held, change = carry_over(
                last.cut, cut, last.track.states[-1], last.track.lags[-1], fresh, phase.renew
            )
        else:
            state = _warmed(fresh_state(cut, setting.start), faces, self.numbers)
        return _EnteredPhase(
            self, phase, stack, cut, sides, Equations(cut.slices, outside), state, held, change
        )


@dataclass(frozen=True, eq=False)
class _EnteredPhase:
    """A course in a phase."""

    before: _Followed
    phase: Phase
    stack: Stack
    cut: Cut
    sides: tuple[Sides, Sides]
    equations: Equations
    state: Floats
    held: Floats
    change: Change

    def leave(self, track: Track) -> _Followed:
        """Come out of the phase with the steps it took."""
        known = self.before
        done = PhaseHistory(self.phase, self.cut, self.equations, track, known.now, self.change)
        return _Followed(known.setting, self.stack, (*known.done, done), known.now + self.phase.seconds)

    def piece(self, first: float, last: float) -> Equations:
        """Give the equations for a part of the phase in which the program of a platen runs straight."""
        if not any(len(side.times) > 1 for side in self.sides):
            return self.equations
        return Equations(self.cut.slices, _piece(self.equations.outside, self.sides, first, last))


@lru_cache(maxsize=128)
def _cut(
    stack: Stack,
    numbers: tuple[tuple[str, float], ...],
    contact: float,
    page: tuple[Quantity, Quantity] | None,
    isotherms: tuple[tuple[Role, str], ...],
    cells_per_sheet: int,
) -> Cut:
    """Cut a stack; one that was cut before, in this course or in another, is not cut again."""
    return cut_stack(
        stack,
        dict(numbers),
        contact=contact,
        page=page,
        isotherms=dict(isotherms),
        cells_per_sheet=cells_per_sheet,
    )


def _carry_on(group: Sequence[_EnteredPhase], seconds: float, lags: bool) -> list[Track]:
    """Take courses through phases that take equally long."""
    state = np.concatenate([one.state for one in group])
    held = np.concatenate([one.held for one in group])
    air = np.array([one.equations.outside.air_pressure for one in group])
    tolerance = np.array([one.before.setting.tolerance for one in group])
    cells = [len(one.cut.slices.mass) for one in group]
    most = np.repeat([one.before.numbers["hysteresis"] for one in group], cells)
    track = Track()
    for first, last in _pieces([side for one in group for side in one.sides], seconds):
        equations = Equations.beside([one.piece(first, last) for one in group])
        equations.lag = start_lag(most, state[0::2], held) if lags else NO_LAG
        state, air = integrate(equations, state, air, start=first, end=last, tolerance=tolerance, track=track)
        held = track.lags[-1]
    return track.parted(cells)


def _weighed(face: Face) -> Face:
    """Give a face as it is; a platen that keeps no heat to speak of is a base."""
    if isinstance(face, CoolingPlaten) and face.capacity < LEAST_CAPACITY:
        return SolidBase(face.loss)
    return face


def _capacity(face: Face) -> float:
    """Give the heat that a platen at a face keeps, J/(m2 K); 0 at any other face."""
    return face.capacity if isinstance(face, CoolingPlaten) else 0.0


@lru_cache(maxsize=32)
def _pressed(stack: Stack, above: float, below: float) -> Stack:
    """Give a stack with the platens that keep so much heat; one and the same is cut once."""
    if not above and not below:
        return stack
    return stack.between(*([platen_layer(keeps)] if keeps else [] for keeps in (above, below)))


def _warmed(state: Floats, faces: tuple[Face, Face], numbers: Mapping[str, float]) -> Floats:
    """Give the state of what comes in, with platens as warm as they were switched off."""
    warm = [(end, face) for end, face in zip((1, -1), faces, strict=True) if isinstance(face, CoolingPlaten)]
    if not warm:
        return state
    state = state.copy()
    for end, face in warm:  # metal holds no water: its enthalpy is its temperature above 23 °C
        state[end] = face.celsius + numbers["platen_error"] - (REFERENCE - ZERO_CELSIUS)
    return state


def _outside(
    phase: Phase, faces: tuple[Face, Face], cut: Cut, numbers: Mapping[str, float]
) -> tuple[tuple[Sides, Sides], Outside]:
    celsius, pressure, room = read_air(phase.air)
    contact = phase.contact * numbers["contact_factor"]
    both = []
    for face, end in zip(faces, (0, -1), strict=True):
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
