"""Fields of a panel: each reads its own entry and says beside itself what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from html import escape
from typing import Any

import ipywidgets as widgets
from pint import PintError

from bench.errors import BadValue
from bench.materials import say_material
from bench.units import Q_, Quantity, UnitChoice, read_in_unit, to_float, unit_label


class Field:
    """A labelled entry with a line beneath it for what is wrong.

    Parameters
    ----------
    key : str
        Name under which the panel passes the value on.
    label : str
        In the words of the bench; errors use it.
    widget : ipywidgets.Widget
        The control.
    hint : str
        A line of help, shown while the entry is sound.
    """

    def __init__(self, key: str, label: str, widget: widgets.Widget, *, hint: str = "") -> None:
        self.key = key
        self.label = label
        self.widget = widget
        self.hint = hint
        widget.description = label
        widget.add_class("bench-field")
        widget.add_class(f"field-{key}")
        self._untouched = True
        self.refused = False
        self._is_used: Callable[[], bool] = lambda: True
        widget.observe(self._touch, names="value")
        self.below = widgets.HTML(self._below(""))
        self.box = widgets.VBox([widget, self.below], layout={"overflow": "visible"})

    def _touch(self, _: object) -> None:
        self._untouched = False

    def _below(self, why: str) -> str:
        if why and self._untouched and self.widget.value == "":
            return f'<span class="hint">needed: {escape(why)}</span>'  # nothing was done wrong yet
        if why:
            return f'<span class="why" role="alert">{escape(why)}</span>'
        return f'<span class="hint">{escape(self.hint)}</span>'

    def explain(self, why: str) -> None:
        """Show why the entry cannot be used; an empty text clears it."""
        self.refused = bool(why)
        shown = self._below(why)
        if self.below.value != shown:
            self.below.value = shown

    def use_while(self, other: Field, holds: Callable[[Any], bool]) -> None:
        """Show this field only while another one stands so; out of sight it holds nothing up."""
        self._is_used = lambda: holds(other.widget.value)
        other.widget.observe(self._follow_use, names="value")
        self._follow_use(None)

    def _follow_use(self, _: object) -> None:
        self.box.layout.display = "" if self.is_used else "none"

    @property
    def is_used(self) -> bool:
        """Whether the entries of other fields ask for this one."""
        return self._is_used()

    def read(self, units: UnitChoice) -> Any:
        """Give the value.

        Raises
        ------
        BenchError
            The entry cannot be used.
        """
        return self.widget.value

    def unused(self) -> Any:
        """Give the value that stands in while the field is not used, whatever was entered."""
        return self.widget.value

    def show_in(self, units: UnitChoice) -> None:
        """Follow the operator's units."""

    def kept(self) -> str:
        """Write the entry as a record keeps it."""
        return _write(self.widget.value)

    def put_back(self, kept: str) -> None:
        """Enter what a record kept; what cannot be entered any more is left out."""
        found = [value for value in self._possible(kept) if _write(value) == kept]
        if found and found[0] != self.widget.value:
            self.hint = f"as saved; proposed: {self._say_proposed() or 'nothing'}"
            self.widget.value = found[0]

    def _possible(self, kept: str) -> Iterable[Any]:
        control = self.widget
        if isinstance(control, widgets.Checkbox):
            return (True, False)
        if isinstance(control, widgets.IntSlider):
            return range(control.min, control.max + 1)
        if isinstance(control, widgets.Dropdown | widgets.ToggleButtons):
            return [option[1] if isinstance(option, tuple) else option for option in control.options]
        return [kept]

    def _say_proposed(self) -> str:
        control = self.widget
        if isinstance(control, widgets.Dropdown | widgets.ToggleButtons):
            return str(control.label)
        return self.kept()


def _write(value: Any) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


def named(materials: Iterable[str]) -> list[tuple[str, str]]:
    """Give materials as options that show grammage and thickness beside the name."""
    return [(say_material(material), material) for material in materials]


class ChoiceField(Field):
    """One of a few options; ``options`` are values, or (label, value) pairs."""

    def __init__(self, key: str, label: str, options: Sequence[Any], value: Any, *, hint: str = "") -> None:
        super().__init__(key, label, widgets.Dropdown(options=list(options), value=value), hint=hint)


class SegmentField(Field):
    """One of two to four options, all in view."""

    def __init__(self, key: str, label: str, options: Sequence[Any], value: Any, *, hint: str = "") -> None:
        control = widgets.ToggleButtons(options=list(options), value=value)
        super().__init__(key, label, control, hint=hint)


class StepField(Field):
    """A whole number on a slider."""

    def __init__(self, key: str, label: str, value: int, low: int, high: int, *, hint: str = "") -> None:
        super().__init__(key, label, widgets.IntSlider(value=value, min=low, max=high), hint=hint)


class TickField(Field):
    """Yes or no."""

    def __init__(self, key: str, label: str, value: bool = False, *, hint: str = "") -> None:
        super().__init__(key, label, widgets.Checkbox(value=value, indent=False), hint=hint)


class TextField(Field):
    """Free text; ``needed`` says in words why it may not stay empty."""

    def __init__(
        self, key: str, label: str, value: str = "", *, needed: str = "", long: bool = False, hint: str = ""
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
        text = super().read(units)
        if not text.isdigit() or not int(text):
            raise BadValue(self.label, repr(text), "a whole number, 1 or more", self._needed)
        return int(text)


class NumberField(Field):
    """A number in a unit that may follow the operator's choice.

    Parameters
    ----------
    value : Quantity or None
        At the start; None leaves the field empty.
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
        hint: str = "",
    ) -> None:
        super().__init__(key, label, widgets.Text(value="", continuous_update=False), hint=hint)
        self._kind = unit
        self._low, self._high = low, high
        self._optional = optional
        self._last = value
        self._shown = ""
        self._name = label
        self._unit = unit
        self.show_in(UnitChoice())

    def _unit_in(self, units: UnitChoice) -> str:
        follows = {"thickness": units.length, "length": units.long_length, "temperature": units.temperature}
        return follows.get(self._kind, self._kind)

    def show_in(self, units: UnitChoice) -> None:
        """Write the last sound value in the operator's unit."""
        self._unit = self._unit_in(units)
        sign = unit_label(self._unit)
        self.widget.description = f"{self._name}, {sign}" if sign else self._name
        if self._last is not None:
            self._shown = f"{float(self._last.to(self._unit).magnitude):.4g}"
            self.widget.value = self._shown

    def read(self, units: UnitChoice) -> Quantity | None:
        """Give the quantity in the unit shown."""
        text = self.widget.value.strip()
        if not text:
            if self._optional:
                self._last = None
                return None
            raise BadValue(self._name, "empty", f"a number of {unit_label(self._unit)}", "Enter the reading")
        if text == self._shown and self._last is not None:
            return self._last.to(self._unit)  # not what rounding left of it
        quantity = read_in_unit(text, self._unit, field=self._name)
        low = None if self._low is None else float(self._low.to(self._unit).magnitude)
        high = None if self._high is None else float(self._high.to(self._unit).magnitude)
        to_float(quantity, self._unit, field=self._name, low=low, high=high)
        self._last = quantity
        return quantity

    def unused(self) -> Quantity | None:
        """Give nothing: a number out of sight counts for nothing."""
        return None

    def kept(self) -> str:
        """Write the quantity in a unit that does not follow the operator."""
        if self._last is None:
            return ""
        unit = self._kept_unit
        return f"{float(self._last.to(unit).magnitude):.9g} {unit}".strip()

    def put_back(self, kept: str) -> None:
        """Enter what a record kept; what is no number of such a unit is left out."""
        number, _, unit = kept.partition(" ")
        try:
            value = None if not kept else Q_(float(number), unit)
            if value is not None:
                value.to(self._kept_unit)
        except (ValueError, PintError):
            return
        if kept != self.kept():
            proposed = f"{self._shown} {unit_label(self._unit)}" if self._last is not None else "nothing"
            self.hint = f"as saved; proposed: {proposed}".strip()
            self._last = value
            if value is None:
                self._shown = self.widget.value = ""

    @property
    def _kept_unit(self) -> str:
        fixed = {"thickness": "mm", "length": "mm", "temperature": "degC", "dimensionless": ""}
        return fixed.get(self._kind, self._kind)


class GroupLabel:
    """A heading between fields; it holds no value."""

    def __init__(self, words: str) -> None:
        self.box = widgets.HTML(f'<span class="group">{escape(words)}</span>')
        self.box.add_class("wide")
