"""A choice of the operator, declared once where its stage keeps it.

The declaration stands as the default of a field in the choices of a stage (:func:`number`, :func:`steps`,
:func:`tick`, :func:`one_of`, :func:`by_hand`).  It yields the check of the value, the control on the panel
(:mod:`bench.panels.declared`), the row in the record and how it comes back, the line in the report and the
table in the glossary.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, fields, replace
from enum import Enum, auto
from typing import Any, TypeAlias, TypeVar

from bench.errors import BadValue, BenchError
from bench.materials import say_material
from bench.treatment.entries import Entry, read_amount, write_entry
from bench.units import Q_, Quantity, UnitChoice, lower_first, own_unit, read_count, to_float, unit_label

Option: TypeAlias = tuple[str, Any]
NONE = "none"
"""How a control shows that there is none of something; a choice keeps None."""


def _as_it_is(value: Any) -> Any:
    return value


class Control(Enum):
    """How a choice is asked for."""

    NUMBER = auto()
    STEPS = auto()
    TICK = auto()
    SEGMENT = auto()
    LIST = auto()
    BY_HAND = auto()


@dataclass(frozen=True)
class Choice:
    """One thing that the operator chooses.

    Attributes
    ----------
    key : str
        Of its field on the panel, and by which the record finds it again.
    label : str
        What people read beside it.
    control : Control
        How it is asked for.
    unit : str
        ``"thickness"``, ``"length"`` and ``"temperature"`` follow the operator; empty without one.
    low, high : float or None
        Closed range, in the unit that does not follow the operator.
    options : callable
        Gives pairs of words and value, where it is one of several.
    hint : str
        A line of help.
    group : str
        Heading that begins with it.
    is_optional : bool
        Whether it may be left empty.
    is_first : bool
        Whether a usual cycle asks for it; the others are folded away.
    stays : bool
        Whether it is what the bench has, and stays from cycle to cycle.
    most : float or None
        Most that a plan is made for, where a control offers less.
    shown, taken : callable
        From the value that is kept to the one on the control, and back, where they differ: the stage checks
        such a value itself.
    """

    key: str
    label: str
    control: Control
    unit: str = ""
    low: float | None = None
    high: float | None = None
    options: Callable[[], Sequence[Option]] = tuple
    hint: str = ""
    group: str = ""
    is_optional: bool = False
    is_first: bool = False
    stays: bool = False
    most: float | None = None
    shown: Callable[[Any], Any] = _as_it_is
    taken: Callable[[Any], Any] = _as_it_is

    @property
    def name(self) -> str:
        """As errors call it."""
        return lower_first(self.label)

    @property
    def ends(self) -> tuple[Quantity | None, Quantity | None]:
        """Ends of the range, as quantities."""
        unit = own_unit(self.unit)
        low, high = (None if end is None else Q_(float(end), unit) for end in (self.low, self.high))
        return low, high

    def check(self, value: Any) -> None:
        """Check a value that is kept.

        Parameters
        ----------
        value : object
            As the choices of the stage hold it.

        Raises
        ------
        BadValue
            It is outside the range, or none of the options.
        UnitMismatch
            It has no unit, or one of another kind.
        """
        if self.shown is not _as_it_is or (value is None and self.is_optional):
            return
        if self.control is Control.NUMBER:
            to_float(value, own_unit(self.unit), field=self.name, low=self.low, high=self.high)
        elif self.control is Control.STEPS:
            self._check_step(value)
        elif self.control is Control.TICK and not isinstance(value, bool):
            raise BadValue(self.name, repr(value), "yes or no", "Tick it or leave it")
        elif self.control in (Control.SEGMENT, Control.LIST):
            known = self.options()
            if value not in [option for _, option in known]:
                allowed = "; ".join(words for words, _ in known)
                raise BadValue(self.name, repr(value), allowed, "Choose one of these")

    def _write(self, value: Quantity, units: UnitChoice) -> str:
        unit = units.unit_for(self.unit)
        return f"{_plain(value, unit)} {unit_label(unit)}".strip()

    def _check_step(self, value: Any) -> None:
        low, high = self.low or 0.0, self.most or self.high or 0.0
        if not isinstance(value, int) or not low <= value <= high:
            raise BadValue(self.name, value, f"{low:g} to {high:g}", "Count them again")

    def read(self, kept: str) -> Any:
        """Read an entry as the choices of the stage hold it.

        Parameters
        ----------
        kept : str
            As a record keeps it; empty if the field was left empty.

        Raises
        ------
        BadValue
            It is none of the options, or no number of such a unit.
        """
        if self.control in (Control.NUMBER, Control.STEPS):
            return self.taken(self._read_number(kept))
        known = [("yes", True), ("no", False)] if self.control is Control.TICK else self.options()
        found = [option for _, option in known if write_entry(option) == kept]
        if not found:
            raise BadValue(self.name, repr(kept), "one of its options", "Choose it again")
        return self.taken(found[0])

    def _read_number(self, kept: str) -> Any:
        if not kept and self.is_optional:
            return None
        if self.control is Control.STEPS:
            return read_count(kept, field=self.name, low=0, remedy="Choose it again")
        return read_amount(kept, self.unit, field=self.name)

    def say_kept(self, value: Any, units: UnitChoice) -> str:
        """Say a value as the choices of the stage hold it; a dash for none and for what is asked by hand.

        Parameters
        ----------
        value : object
            Such as the default of its field.
        units : UnitChoice
            Of the operator.
        """
        shown = self.shown(value)
        if shown is None or self.control is Control.BY_HAND:
            return "–"
        if self.control is Control.NUMBER:
            return self._write(shown, units)
        return self.say(write_entry(shown), units)

    def say_allowed(self, units: UnitChoice) -> str:
        """Say what may be chosen: the range, or the options.

        Parameters
        ----------
        units : UnitChoice
            Of the operator.
        """
        if self.control is Control.TICK:
            return "yes or no"
        if options := self.options():
            return "; ".join(words for words, _ in options)
        if self.control is Control.STEPS:
            return f"{self.low:g} to {self.high:g} {unit_label(self.unit)}".strip()
        low, high = self.ends
        if low is None or high is None:
            return "–"
        unit = units.unit_for(self.unit)
        return f"{_plain(low, unit)} to {self._write(high, units)}"

    def say(self, kept: str, units: UnitChoice) -> str:
        """Say an entry as a record keeps it in words and in the operator's units.

        Parameters
        ----------
        kept : str
            ``"40 degC"``, ``"6"``, ``"yes"`` or the value of an option; empty if it was left empty.
        units : UnitChoice
            Of the operator.
        """
        if not kept:
            return "left empty"
        if self.control is Control.NUMBER:
            return self._write(read_amount(kept, self.unit, field=self.name), units)
        if self.control is Control.STEPS:
            return f"{kept} {unit_label(self.unit)}".strip()
        words = {write_entry(option): words for words, option in self.options()}
        return words.get(kept, kept)


def _plain(value: Quantity, unit: str) -> str:
    number = float(value.to(unit).magnitude)
    return f"{number:.4g}" if abs(number) < 1000 else f"{number:.0f}"


def offer(names: Iterable[str]) -> list[Option]:
    """Give materials as options that show grammage and thickness beside the name."""
    return [(say_material(name), name) for name in names]


def _declare(default: Any, choice: Choice) -> Any:
    return field(default=default, metadata={"choice": choice})


def number(default: Any, key: str, label: str, unit: str, **more: Any) -> Any:
    """Declare a number with a unit; the other arguments are those of :class:`Choice`."""
    return _declare(default, Choice(key, label, Control.NUMBER, unit, **more))


def steps(default: Any, key: str, label: str, low: int, high: int, **more: Any) -> Any:
    """Declare a whole number on a slider."""
    return _declare(default, Choice(key, label, Control.STEPS, low=low, high=high, **more))


def tick(default: Any, key: str, label: str, **more: Any) -> Any:
    """Declare a yes or no."""
    return _declare(default, Choice(key, label, Control.TICK, **more))


def one_of(default: Any, key: str, label: str, options: Sequence[Option], **more: Any) -> Any:
    """Declare one of a few, all of them in view."""
    return _declare(default, Choice(key, label, Control.SEGMENT, options=lambda: options, **more))


def listed(default: Any, key: str, label: str, options: Callable[[], Sequence[Option]], **more: Any) -> Any:
    """Declare one of a list, which is looked up when it is asked for."""
    return _declare(default, Choice(key, label, Control.LIST, options=options, **more))


def by_hand(default: Any, key: str, label: str, **more: Any) -> Any:
    """Declare what a panel asks for in a way of its own, and checks with it."""
    return _declare(default, Choice(key, label, Control.BY_HAND, **more))


def declared(kind: type) -> dict[str, Choice]:
    """Give the choices declared in a class, by the name of the attribute that keeps each, in order."""
    found = {each.name: each.metadata.get("choice") for each in fields(kind)}
    return {name: choice for name, choice in found.items() if choice is not None}


T = TypeVar("T")


def with_entries(choices: T, entries: Iterable[Entry]) -> T:
    """Give choices with what was entered in place of what was proposed.

    Parameters
    ----------
    choices : object
        Of a stage: a dataclass with declarations.
    entries : iterable of Entry
        What is asked by hand, and what can be read no more, is left out, as on the panel.
    """
    found = {}
    for name, choice in declared(type(choices)).items():
        for entry in entries:
            if choice.control is not Control.BY_HAND and entry.is_of(choice.key, choice.label):
                with suppress(BenchError):
                    found[name] = choice.read(entry.kept)
    return replace(choices, **found)  # type: ignore[type-var]


def staying(kind: type) -> dict[str, str]:
    """Give the labels of what stays from cycle to cycle, by key."""
    return {choice.key: choice.label for choice in declared(kind).values() if choice.stays}


def check(choices: object) -> None:
    """Check every declared choice.

    Parameters
    ----------
    choices : object
        Of a stage: a dataclass with declarations.

    Raises
    ------
    BadValue, UnitMismatch
        As :meth:`Choice.check` says, for the first that cannot be used.
    """
    for name, choice in declared(type(choices)).items():
        choice.check(getattr(choices, name))
