"""Fields of a panel: each reads its own entry and says beside itself what is wrong with it."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from html import escape
from typing import Any

import ipywidgets as widgets
from traitlets import TraitError

from bench.errors import BadValue, BenchError
from bench.panels.field import Field, Hint
from bench.panels.slider import Slider
from bench.treatment.entries import read_amount
from bench.units import (
    Q_,
    Quantity,
    UnitChoice,
    brings_unit,
    difference_unit,
    own_unit,
    read_count,
    read_in_unit,
    to_float,
    unit_label,
    unit_name,
    write_number,
)

__all__ = [
    "ChoiceField",
    "CountField",
    "Field",
    "GroupLabel",
    "Hint",
    "NumberField",
    "SegmentField",
    "StepField",
    "TextField",
    "TickField",
]

# What may be rounded away where a value is written in another unit: less than instruments here show.
_FINE = {"thickness": Q_(5e-5, "mm"), "length": Q_(2e-3, "mm"), "temperature": Q_(5e-3, "delta_degC")}
_FINE_INCH = 5e-4  # a caliper reads thousandths of an inch


class ChoiceField(Field):
    """One of a few options; ``options`` are values, or (label, value) pairs."""

    def __init__(self, key: str, label: str, options: Sequence[Any], value: Any, *, hint: Hint = "") -> None:
        super().__init__(key, label, widgets.Dropdown(options=list(options), value=value), hint=hint)

    def pick(self, value: Any) -> None:
        """Choose what a picked region stands for, if it is among the options."""
        with suppress(TraitError):  # it is not
            self.widget.value = value


class SegmentField(Field):
    """One of two to four options, all in view."""

    def __init__(self, key: str, label: str, options: Sequence[Any], value: Any, *, hint: Hint = "") -> None:
        control = widgets.ToggleButtons(options=list(options), value=value)
        super().__init__(key, label, control, hint=hint)


class StepField(Field):
    """A whole number on a slider, or typed beside it."""

    def __init__(self, key: str, label: str, value: int, low: int, high: int, *, hint: Hint = "") -> None:
        super().__init__(key, label, Slider(value=value, min=low, max=high), hint=hint)

    def read(self, units: UnitChoice) -> int:
        """Give the number."""
        value, low, high = self.widget.value, self.widget.min, self.widget.max
        if not isinstance(value, int) or not low <= value <= high:
            came = "empty" if self.is_empty else value if isinstance(value, int) else repr(value)
            raise BadValue(self.label, came, f"a whole number, {low} to {high}", "Enter one of these")
        return value

    def pick(self, value: Any) -> None:
        """Take the step nearest to what was picked on a picture."""
        number = round(float(value.magnitude))
        self.widget.value = min(max(number, self.widget.min), self.widget.max)


class TickField(Field):
    """Yes or no."""

    def __init__(self, key: str, label: str, value: bool = False, *, hint: Hint = "") -> None:
        super().__init__(key, label, widgets.Checkbox(value=value, indent=False), hint=hint)


class TextField(Field):
    """Free text; ``needed`` says in words why it may not stay empty."""

    def __init__(
        self, key: str, label: str, value: str = "", *, needed: str = "", long: bool = False, hint: Hint = ""
    ) -> None:
        control = widgets.Textarea(value=value, rows=3) if long else widgets.Text(value=value)
        control.continuous_update = False
        super().__init__(key, label, control, hint=hint)
        self._needed = needed

    def read(self, units: UnitChoice) -> Any:
        """Give the text, without blanks at its ends."""
        text = self.widget.value.strip()
        if self._needed and not text:
            raise BadValue(self.label, "empty", "some words", self._needed)
        return str(text)


class CountField(TextField):
    """A whole number, 1 or more, that is counted; ``needed`` says what to count."""

    def read(self, units: UnitChoice) -> int:
        """Give the number."""
        return read_count(self.widget.value, field=self.label, low=1, remedy=self._needed)


@dataclass(frozen=True)
class _Converted:
    """What was typed before units were switched: it comes back when they are switched back."""

    typed: str
    unit: str
    shown: str  # as the program wrote it in another unit


class NumberField(Field):
    """A number in a unit that may follow the operator's choice.

    What it gives hangs on the text and the unit that it shows, and on nothing that stood in it before.  The
    number under which the proposal is shown means the proposal; any other means itself.

    Parameters
    ----------
    value : Quantity or None
        Proposed at the start; None leaves the field empty.
    unit : str
        ``"thickness"``, ``"length"`` or ``"temperature"`` follow the operator; otherwise a fixed unit.
    low, high : Quantity, optional
        Closed range allowed.
    optional : bool
        An empty field gives None instead of an error.
    """

    def __init__(
        self,
        key: str,
        label: str,
        value: Quantity | None,
        unit: str,
        *,
        low: Quantity | None = None,
        high: Quantity | None = None,
        optional: bool = False,
        hint: Hint = "",
    ) -> None:
        self._converted: _Converted | None = None
        super().__init__(key, label, widgets.Text(value="", continuous_update=False), hint=hint)
        self._name = label
        self._kind = unit
        self._low, self._high = low, high
        self._optional = optional
        self.widget.observe(self._forget_typed, names="value")
        self._proposed: Quantity | None = None
        self._unit = self._units.unit_for(self._kind)
        self._label()
        self._propose(value)

    @property
    def unit(self) -> str:
        """Unit in which a bare number is taken now."""
        return self._unit

    def is_named(self, name: str) -> bool:
        """Tell whether an error that names a field means this one."""
        return super().is_named(name) or name.lower() == self._name.lower()

    def _forget_typed(self, _: object) -> None:
        if self._converted is not None and self._converted.shown != self.widget.value:
            self._converted = None

    def _label(self) -> None:
        sign = unit_label(self._unit)
        self.widget.description = f"{self._name}, {sign}" if sign else self._name

    def _propose(self, value: Quantity | None) -> None:
        """Take what the field shows of a value as the proposal: no digits stay behind it."""
        if value is not None:
            value = Q_(float(self._write_in(value, own_unit(self._kind))), own_unit(self._kind))
        self._proposed, self._converted = value, None
        self.widget.value = "" if value is None else self._write_in(value, self._unit)

    def _within(self, value: Quantity, unit: str) -> float:
        """Give what may be rounded away where a number is written in a unit."""
        if unit == "inch":
            return _FINE_INCH
        fine = _FINE.get(self._kind)
        if fine is None:
            return 5e-5 * abs(float(value.to(unit).magnitude))
        return float(fine.to(difference_unit(unit)).magnitude)

    def write(self, value: Quantity) -> str:
        """Write a value as the field would show it now."""
        return self._write_in(value, self._unit)

    def _write_in(self, value: Quantity, unit: str) -> str:
        """Write a value in a unit; one that is allowed never leaves the range by rounding."""
        number, within = float(value.to(unit).magnitude), self._within(value, unit)
        low, high = self._limits(unit)
        text = write_number(number, within=within)
        if low is not None and float(text) < low <= number:
            return write_number(number, within=within, towards=1)
        if high is not None and float(text) > high >= number:
            return write_number(number, within=within, towards=-1)
        return text

    def _limits(self, unit: str) -> tuple[float | None, float | None]:
        low, high = (
            None if end is None else float(end.to(unit).magnitude) for end in (self._low, self._high)
        )
        return low, high

    def show_in(self, units: UnitChoice) -> None:
        """Write what stands in the field in the operator's unit; what is no number stays as it is."""
        super().show_in(units)
        unit = units.unit_for(self._kind)
        if unit == self._unit:
            return
        text = self._convert(self.widget.value, unit)
        self._unit = unit
        self._label()
        self.widget.value = text

    def _convert(self, text: str, unit: str) -> str:
        before = self._converted or _Converted(text, self._unit, text)
        if before.unit == unit:
            self._converted = None
            return before.typed
        shown = self._turn(before.typed, before.unit, unit)
        if shown is None:
            return text
        self._converted = _Converted(before.typed, before.unit, shown)
        return shown

    def _turn(self, text: str, unit: str, other: str) -> str | None:
        """Write a text of one unit in another; None if it brings its own, or is no number of that kind."""
        value = None if brings_unit(text) else self._take(text, unit)
        return None if value is None else self._write_in(value, other)

    def _take(self, text: str, unit: str) -> Quantity | None:
        """Read a text, within the range or not; None if it is no number of the unit's kind."""
        try:
            return self._read_text(text, unit)
        except BenchError:
            return None

    def _read_text(self, text: str, unit: str) -> Quantity:
        found = read_in_unit(text, unit, field=self._name)
        proposed = self._proposed
        if proposed is not None and float(found.magnitude) == float(self._write_in(proposed, unit)):
            return proposed
        return found

    def read(self, units: UnitChoice) -> Quantity | None:
        """Give the quantity: the proposal, or the number in the unit shown."""
        text = self.widget.value.strip()
        if not text:
            if self._optional:
                return None
            name = unit_name(self._unit)
            allowed = f"a number of {name}" if name else "a number"
            raise BadValue(self._name, "empty", allowed, "Enter the reading")
        quantity = self._read_text(text, self._unit)
        low, high = self._limits(self._unit)
        to_float(quantity, self._unit, field=self._name, low=low, high=high)
        return quantity

    def unused(self) -> Quantity | None:
        """Give the proposal."""
        return self._proposed

    def kept(self) -> str:
        """Write the quantity as it was typed, in a unit that does not follow the operator."""
        text, unit = self.widget.value, self._unit
        if self._converted is not None:
            text, unit = self._converted.typed, self._converted.unit
        if not text.strip():
            return ""
        value = self._take(text, unit)
        if value is None:
            value = self._proposed
        return "" if value is None else self._write_kept(value)

    def pick(self, value: Any) -> None:
        """Enter a quantity that was picked on a picture, in the unit shown."""
        self.widget.value = self.write(value)

    def _write_kept(self, value: Quantity) -> str:
        unit = own_unit(self._kind)
        return f"{float(value.to(unit).magnitude):.9g} {unit}".strip()

    def put_back(self, kept: str) -> None:
        """Enter what a record kept; what is no number of such a unit is left out."""
        try:
            value = read_amount(kept, self._kind, field=self._name) if kept else None
        except BenchError:
            return
        if kept == self.kept():
            return
        before = self._proposed
        self.hint = lambda units: f"as saved; proposed: {self._say_in(before, units)}"
        self._propose(value)

    def _say_in(self, value: Quantity | None, units: UnitChoice) -> str:
        if value is None:
            return "nothing"
        unit = units.unit_for(self._kind)
        return f"{self._write_in(value, unit)} {unit_label(unit)}".strip()


class GroupLabel:
    """A heading between fields; it holds no value."""

    box: widgets.Widget

    def __init__(self, words: str) -> None:
        self.box = widgets.HTML(f'<span class="group">{escape(words)}</span>')
        self.box.add_class("wide")


class Shown(GroupLabel):
    """A control between fields that enters its values through them."""

    def __init__(self, control: widgets.Widget) -> None:
        self.box = control
        self.box.add_class("wide")
