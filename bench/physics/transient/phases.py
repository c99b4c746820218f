"""Phases in sequence: what the stack lies in, for how long, and what is changed between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np

from bench.errors import BadValue
from bench.physics.arrays import Floats, Whole
from bench.physics.saturation import check_celsius
from bench.physics.transient.cells import ITEM, Cut, Kinds, contact_conductance, contents_at
from bench.physics.transient.chamber import Air, Surroundings
from bench.physics.transient.compiled import state_of
from bench.physics.transient.faces import Face, Open
from bench.physics.transient.hysteresis import NO_LAG
from bench.stack import Role, Stack
from bench.units import Q_, Quantity, to_float, to_humidity


@dataclass(frozen=True)
class Rest:
    """The state in which sheets come into the stack.

    Attributes
    ----------
    humidity : Quantity, dimensionless
        At which they rested, 1 to 99 %.
    temperature : Quantity [temperature]
        5 to 65 °C.
    """

    humidity: Quantity = field(default_factory=lambda: Q_(50.0, "percent"))
    temperature: Quantity = field(default_factory=lambda: Q_(22.0, "degC"))

    def __hash__(self) -> int:
        """Give a hash of the plain numbers."""
        return hash(self.numbers)

    @cached_property
    def numbers(self) -> tuple[float, float]:
        """Water activity and temperature in °C."""
        activity = to_humidity(self.humidity, field="humidity of the sheets")
        if not 0.01 <= activity <= 0.99:
            allowed, remedy = "1 to 99 %", "The isotherms are not known nearer to dry or to wet"
            raise BadValue("humidity of the sheets", f"{100 * activity:g} %", allowed, remedy)
        why = "The isotherms of paper are not known there"
        return activity, check_celsius(
            self.temperature, field="temperature of the sheets", low=5.0, high=65.0, why=why
        )


@dataclass(frozen=True)
class Phase:
    """One phase of a treatment.

    Attributes
    ----------
    name : str
        In the words of the bench; unique in its sequence.
    duration : Quantity [time]
        1 s to 60 days.
    air : Air or ClosedChamber
        About open faces and edges.
    top, bottom : Open, SolidBase, Platen, CoolingPlaten or Insulated
        Against what the two faces lie.  A platen that cools goes on as it is through phases that follow
        each other.
    pressure : Quantity [pressure]
        On the stack, 0.05 to 500 kPa; sets the contacts with metal.
    stack : Stack, optional
        If it changes: interleaves put in or taken out, boards swapped.  Cover and leaves go on as
        they are; other sheets go on in their order unless their role is renewed.
    fresh : Rest
        State of every sheet that comes in.
    renew : set of Role
        Sheets of these roles are all fresh.
    edges_open : bool
        Whether head, tail and fore edge exchange with the air (only if the page size is given).
    """

    name: str
    duration: Quantity
    air: Surroundings = field(default_factory=Air)
    top: Face = field(default_factory=Open)
    bottom: Face = field(default_factory=Open)
    pressure: Quantity = field(default_factory=lambda: Q_(0.1, "kPa"))
    stack: Stack | None = None
    fresh: Rest = field(default_factory=Rest)
    renew: frozenset[Role] = frozenset()
    edges_open: bool = True

    def __hash__(self) -> int:
        """Give a hash of what is told fast; two alike in that are compared in full."""
        return hash((self.name, self.seconds, self.renew))

    @cached_property
    def seconds(self) -> float:
        """Duration in s, a plain number."""
        return to_float(self.duration, "s", field=f"duration of {self.name}", low=1.0, high=60 * 86400.0)

    @cached_property
    def contact(self) -> float:
        """Conductance of a contact with metal under its load in W/(m2 K), a plain number."""
        return float(contact_conductance(self.pressure).magnitude)


def check_phases(phases: Sequence[Phase]) -> None:
    """Refuse a sequence without phases, or with two of one name."""
    if not phases:
        raise BadValue("phases", "none", "one or more", "Say what the stack lies in and for how long")
    names = [phase.name for phase in phases]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise BadValue("names of phases", ", ".join(twice), "each name once", "Number them: night 1, night 2")


@lru_cache(maxsize=128)
def fresh_state(cut: Cut, rest: Rest) -> Floats:
    """Build the state of a stack whose every sheet rested at one humidity and temperature."""
    activity, celsius = rest.numbers
    temperatures = np.full(len(cut.slices.mass), celsius)
    return state_of(cut.slices.cells, NO_LAG, contents_at(cut, activity, celsius), temperatures)


def partners(before: Kinds, after: Kinds, renew: frozenset[Role]) -> dict[int, int]:
    """Pair the sheets of the new stack (by index) with those of the old that go on as they are."""
    waiting: dict[tuple[Role, str], list[int]] = {}
    for index, (role, material, _) in enumerate(before):
        waiting.setdefault((role, material), []).append(index)
    pairs: dict[int, int] = {}
    for index, (role, material, _) in enumerate(after):
        queue = waiting.get((role, material), [])
        if queue and role not in renew:
            pairs[index] = queue.pop(0)
    old = set(pairs.values())
    lost = [role for i, (role, *_) in enumerate(before) if role in ITEM and i not in old]
    new = [role for i, (role, *_) in enumerate(after) if role in ITEM and i not in pairs]
    if lost or new:
        came = f"{len(new)} sheets of the item that were not in it, {len(lost)} missing"
        remedy = "Build every stack of a treatment from the same item"
        raise BadValue("change of the stack", came, "the same cover and leaves", remedy)
    return pairs


@dataclass(frozen=True)
class _Moves:
    """Where the cells of the sheets that stay lie in the new stack and in the old (see :func:`_moves`)."""

    here: Whole
    there: Whole
    uneven: tuple[tuple[slice, slice], ...]  # sheets that are cut into another number of cells


@lru_cache(maxsize=32)
def _moves(before: Kinds, after: Kinds, renew: frozenset[Role]) -> _Moves:
    """Find the cells of the sheets that stay; the same for every run of a stack."""
    cells_before, cells_after = _cells(before), _cells(after)
    here, there, uneven = [], [], []
    for new, old in partners(before, after, renew).items():
        pair = cells_after[new], cells_before[old]
        if after[new][2] == before[old][2]:
            here.append(np.arange(pair[0].start, pair[0].stop))
            there.append(np.arange(pair[1].start, pair[1].stop))
        else:
            uneven.append(pair)
    none = np.zeros(0, dtype=np.intp)
    return _Moves(np.concatenate([none, *here]), np.concatenate([none, *there]), tuple(uneven))


def _cells(kinds: Kinds) -> list[slice]:
    ends = np.cumsum([count for *_, count in kinds]).tolist()
    return [slice(end - count, end) for end, (*_, count) in zip(ends, kinds, strict=True)]


def carry_over(
    before: Cut,
    after: Cut,
    state: Floats,
    lag: Floats,
    fresh: Floats,
    renew: frozenset[Role],
) -> tuple[Floats, Floats]:
    """Carry state and hysteresis of the sheets that stay into the new stack; water and heat are conserved."""
    moves = _moves(before.kinds, after.kinds, renew)
    here, there = moves.here, moves.there
    result, held = fresh.copy(), np.zeros(len(after.slices.mass))
    held[here] = lag[there]
    for part, old, new in (
        (0, before.slices.mass, after.slices.mass),
        (1, before.slices.heat, after.slices.heat),
    ):
        source, target = state[part::2], result[part::2]
        target[here] = source[there] * old[there] / new[here]
        for now, then in moves.uneven:  # what such a sheet holds is spread over its new cells
            target[now] = float((source[then] * old[then]).sum()) / float(new[now].sum())
    for now, then in moves.uneven:
        held[now] = lag[then].mean()
    return result, held
