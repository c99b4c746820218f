"""What a cycle is done with, and the rule that a repeat changes one thing at most.

Softness (interleaves and padding), load, moisture and heat are the levers.  If two are moved at
once, nobody can say which of them helped and which harmed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import pint

from bench.errors import BadValue
from bench.treatment import facts
from bench.treatment.facts import Fact
from bench.treatment.plan import PlannedValue
from bench.units import Q_, Quantity, to_float


class Lever(StrEnum):
    """The one thing that a repeat may change."""

    SOFTNESS = "softness"
    LOAD = "load"
    MOISTURE = "moisture"
    HEAT = "heat"


@dataclass(frozen=True)
class LeverSetting:
    """One thing that a cycle is done with, and the lever that moves it.

    Attributes
    ----------
    lever : Lever
        The one that a change of it moves.
    words : str
        As a sentence names it.
    saved_as : Fact or None
        As what a review saves it for the next cycle; None for a word, which stays in the sentence.
    ends : tuple of (float, float) or None
        Lowest and highest that a cycle can have been done with, in the unit of what is saved; None for
        what is no quantity.
    """

    lever: Lever
    words: str
    saved_as: Fact | None = None
    ends: tuple[float, float] | None = None


SETTINGS = {
    "interval": LeverSetting(Lever.SOFTNESS, "leaves between sheets", facts.NEXT_SPACING),
    "padding": LeverSetting(Lever.SOFTNESS, "padding"),
    "pressure": LeverSetting(Lever.LOAD, "pressure", facts.NEXT_PRESSURE, (0, 500)),
    "humidity": LeverSetting(Lever.MOISTURE, "chamber humidity", facts.NEXT_HUMIDITY, (0, 100)),
    "time_in_chamber": LeverSetting(Lever.MOISTURE, "time in the chamber", facts.NEXT_HOURS, (0, 1000)),
    "platen": LeverSetting(Lever.HEAT, "platen temperature", facts.NEXT_PLATEN, (0, 150)),
    "dwell": LeverSetting(Lever.HEAT, "dwell", facts.NEXT_DWELL, (0, 10_000)),
}
"""By their fields in :class:`Conditions`."""

NEXT = {name: setting.saved_as for name, setting in SETTINGS.items() if setting.saved_as is not None}
"""As what a review saves each condition of the next cycle."""


@dataclass(frozen=True)
class Conditions:
    """What a cycle is done with; what is None was not recorded and counts as unchanged.

    Attributes
    ----------
    interval : int or None
        Leaves between sheets (softness).
    padding : str
        Felt, blotter, board, ... next to the item, from inside out (softness).
    pressure : Quantity or None
        On the face (load).
    humidity, time_in_chamber : Quantity or None
        Moisture.
    platen, dwell : Quantity or None
        Heat.
    """

    interval: int | None = None
    padding: str = ""
    pressure: Quantity | None = None
    humidity: Quantity | None = None
    time_in_chamber: Quantity | None = None
    platen: Quantity | None = None
    dwell: Quantity | None = None

    def __post_init__(self) -> None:
        if self.interval is not None and (not isinstance(self.interval, int) or self.interval < 1):
            remedy = "Choose a spacing, such as 6"
            raise BadValue("leaves between sheets", self.interval, "a whole number, 1 or more", remedy)
        for name, setting in SETTINGS.items():
            value = getattr(self, name)
            if value is not None and setting.ends and setting.saved_as:
                low, high = setting.ends
                to_float(value, setting.saved_as.unit, field=name.replace("_", " "), low=low, high=high)


def find_changes(done_with: Conditions, proposal: Conditions) -> tuple[Lever, ...]:
    """Say which levers a proposal moves, each named once."""
    return tuple(dict.fromkeys(SETTINGS[name].lever for name in _moved(done_with, proposal)))


def _moved(old: Conditions, new: Conditions) -> list[str]:
    """Name the fields in which conditions differ."""
    return [name for name in SETTINGS if _differ(getattr(old, name), getattr(new, name))]


def _differ(old: object, new: object) -> bool:
    if old is None or new is None or old == "" or new == "":
        return False
    if not (isinstance(old, pint.Quantity) and isinstance(new, pint.Quantity)):
        return bool(old != new)
    first = float(old.magnitude)
    return abs(first - float(new.to(old.units).magnitude)) > 1e-9 * max(1.0, abs(first))


def check_one_change(done_with: Conditions, proposal: Conditions) -> Lever | None:
    """Give the one lever that a proposal moves, or None.

    Raises
    ------
    BadValue
        It moves two or more.
    """
    moved = find_changes(done_with, proposal)
    if len(moved) > 1:
        keep = " and ".join(moved[1:])
        remedy = f"Keep {keep} as in the last cycle, or keep {moved[0]}, and change the other one later"
        raise BadValue("changes for the next cycle", " and ".join(moved), "one thing at a time", remedy)
    return moved[0] if moved else None


def next_values(conditions: Conditions) -> tuple[PlannedValue, ...]:
    """Give what a review decided for the next cycle as planned values; what is not known is left out."""
    known = {fact: getattr(conditions, name) for name, fact in NEXT.items()}
    return tuple(
        PlannedValue(fact, Q_(float(v), "") if isinstance(v, int) else v, source="decided at review")
        for fact, v in known.items()
        if v is not None
    )


def read_next(values: Iterable[PlannedValue]) -> Conditions:
    """Read back what :func:`next_values` gave, from the planned values of a saved review."""
    names = {fact.key: name for name, fact in NEXT.items()}
    return gather_conditions((names[value.key], value.value) for value in values if value.key in names)


def gather_conditions(found: Iterable[tuple[str, Quantity]]) -> Conditions:
    """Put conditions together from their names and the numbers that a record keeps; the last one counts."""
    known: dict[str, Any] = dict(found)
    if "interval" in known:
        known["interval"] = round(float(known["interval"].magnitude))
    return Conditions(**known)


def say_change(old: Conditions, new: Conditions, changed: Lever | None) -> str:
    """Say what changes from one cycle to the next."""
    if changed is None:
        return "Everything as in the last cycle."
    said = [
        f"{SETTINGS[n].words} {say_condition(getattr(new, n))} instead of {say_condition(getattr(old, n))}"
        for n in _moved(old, new)
    ]
    return f"Only the {changed} changes: {', '.join(said)}; everything else as in the last cycle."


def say_condition(value: object) -> str:
    """Write one condition in the unit in which it was given."""
    return f"{value:.4g~P}" if isinstance(value, pint.Quantity) else str(value)
