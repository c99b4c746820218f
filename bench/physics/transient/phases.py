"""Phases in sequence: what the stack lies in, for how long, and what is changed between."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.physics.saturation import check_celsius
from bench.physics.transient.cells import Cut, Sheet, contents_at
from bench.physics.transient.chamber import Air, Surroundings
from bench.physics.transient.equations import Equations
from bench.physics.transient.faces import Face, Open
from bench.stack import Role, Stack
from bench.units import Q_, Quantity, to_float, to_humidity

Floats = NDArray[np.float64]


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

    def numbers(self) -> tuple[float, float]:
        """Give water activity and temperature in °C."""
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
    top, bottom : Open, SolidBase, Platen or Insulated
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

    @property
    def seconds(self) -> float:
        """Duration in s, a plain number."""
        return to_float(self.duration, "s", field=f"duration of {self.name}", low=1.0, high=60 * 86400.0)


def check_phases(phases: Iterable[Phase]) -> tuple[Phase, ...]:
    """Give the phases as a tuple; names must differ."""
    given = tuple(phases)
    if not given:
        raise BadValue("phases", "none", "one or more", "Say what the stack lies in and for how long")
    names = [phase.name for phase in given]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise BadValue("names of phases", ", ".join(twice), "each name once", "Number them: night 1, night 2")
    return given


@dataclass(frozen=True)
class Change:
    """What a change of the stack took out and brought in, per area of the face (kg/m2, J/m2)."""

    water_in: float = 0.0
    water_out: float = 0.0
    heat_in: float = 0.0
    heat_out: float = 0.0


def fresh_state(cut: Cut, equations: Equations, rest: Rest) -> Floats:
    """Build the state of a stack whose every sheet rested at one humidity and temperature."""
    activity, celsius = rest.numbers()
    count = len(cut.slices.mass)
    warm = np.full(count, celsius)
    return equations.state_of(contents_at(cut, np.full(count, activity), warm), warm)


def partners(before: Cut, after: Cut, renew: frozenset[Role]) -> dict[int, int]:
    """Pair the sheets of the new stack (by index) with those of the old that go on as they are."""
    waiting: dict[tuple[Role, str], list[int]] = {}
    for index, sheet in enumerate(before.sheets):
        waiting.setdefault(_kind(sheet), []).append(index)
    pairs: dict[int, int] = {}
    for index, sheet in enumerate(after.sheets):
        queue = waiting.get(_kind(sheet), [])
        if queue and sheet.role not in renew:
            pairs[index] = queue.pop(0)
    kept = {before.sheets[old].role.value: 0 for old in pairs.values()}
    lost = [s for i, s in enumerate(before.sheets) if s.of_item and i not in pairs.values()]
    new = [s for i, s in enumerate(after.sheets) if s.of_item and i not in pairs]
    if lost or new:
        came = f"{len(new)} sheets of the item that were not in it, {len(lost)} missing"
        remedy = "Build every stack of a treatment from the same item"
        raise BadValue("change of the stack", came, f"the same cover and leaves ({kept})", remedy)
    return pairs


def _kind(sheet: Sheet) -> tuple[Role, str]:
    return sheet.role, sheet.material


def carry_over(
    before: Cut,
    after: Cut,
    state: Floats,
    lag: Floats,
    fresh: Floats,
    renew: frozenset[Role],
) -> tuple[Floats, Floats, Change]:
    """Carry the state of the sheets that stay into the new stack; water and heat are conserved.

    Returns the new state, the new hysteresis and what left and came with the sheets that changed.
    """
    pairs = partners(before, after, renew)
    result, held = fresh.copy(), np.zeros(len(after.slices.mass))
    stayed = []
    water, heat = _stores(before, state)
    for new, old in pairs.items():
        here, there = after.sheets[new].cells, before.sheets[old].cells
        _carry_sheet(before, after, there, here, state, result)
        held[here] = lag[there] if len(held[here]) == len(lag[there]) else lag[there].mean()
        stayed.append(there)
    kept_water = sum(float(water[there].sum()) for there in stayed)
    kept_heat = sum(float(heat[there].sum()) for there in stayed)
    new_water, new_heat = (float(part.sum()) for part in _stores(after, result))
    change = Change(
        water_in=new_water - kept_water,
        water_out=float(water.sum()) - kept_water,
        heat_in=new_heat - kept_heat,
        heat_out=float(heat.sum()) - kept_heat,
    )
    return result, held, change


def _carry_sheet(before: Cut, after: Cut, there: slice, here: slice, state: Floats, result: Floats) -> None:
    """Copy one sheet; if its cells differ in mass, what it holds is spread over the new ones."""
    for part, old, new in (
        (0, before.slices.mass, after.slices.mass),
        (1, before.slices.heat, after.slices.heat),
    ):
        source, target = state[part::2][there], result[part::2]
        if len(old[there]) == len(new[here]):
            target[here] = source * old[there] / new[here]
        else:
            target[here] = float((source * old[there]).sum()) / float(new[here].sum())


def _stores(cut: Cut, state: Floats) -> tuple[Floats, Floats]:
    s = cut.slices
    return np.where(s.wet, state[0::2] * s.mass, 0.0), state[1::2] * s.heat
