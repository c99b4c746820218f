"""What every field of a panel shares: a labelled entry, and a line beneath it for what is wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from html import escape
from typing import Any, TypeAlias

import ipywidgets as widgets

from bench.errors import BenchError
from bench.panels.slider import Slider
from bench.treatment.entries import write_entry
from bench.units import UnitChoice, say_error

Hint: TypeAlias = str | Callable[[UnitChoice], str]
"""A line of help; one with a number in it is written in the operator's units."""


class Field:
    """A labelled entry with a line beneath for what is wrong.

    A field keeps nothing of what stood in it before: what it gives is read from what it shows.

    Parameters
    ----------
    key : str
        Name under which the panel passes the value on.
    label : str
        In the words of the bench; errors use it.
    widget : ipywidgets.Widget
        The control.
    hint : str or callable
        A line of help, shown while the entry is sound; a callable writes it in the operator's units.
    """

    def __init__(self, key: str, label: str, widget: widgets.Widget, *, hint: Hint = "") -> None:
        self.key = key
        self.label = label
        self.widget = widget
        self.hint: Hint = hint
        self.also_named = ""  # as the errors of a plan may call it
        self._units = UnitChoice()
        widget.description = label
        widget.add_class("bench-field")
        widget.add_class(f"field-{key}")
        self._first = widget.value
        self._is_used: Callable[[], bool] = lambda: True
        self._used_with: list[Field] = []
        self.refused = False
        self.below = widgets.HTML(self._below(""))
        self.box = widgets.VBox([widget, self.below], layout={"overflow": "visible"})

    @property
    def is_empty(self) -> bool:
        """Whether nothing stands in it: then nothing was entered wrongly either."""
        return isinstance(self.widget.value, str) and not self.widget.value.strip()

    def _below(self, why: str) -> str:
        if why and self.is_empty:
            return f'<span class="hint">needed: {escape(why)}</span>'
        if why:
            return f'<span class="why" role="alert">{escape(why)}</span>'
        said = self.hint if isinstance(self.hint, str) else self.hint(self._units)
        return f'<span class="hint">{escape(said)}</span>'

    def explain(self, why: BenchError | None) -> None:
        """Show why the entry cannot be used, in the operator's units; None clears it."""
        self.refused = why is not None
        shown = self._below("" if why is None else say_error(why, self._units, unit=self.unit))
        if self.below.value != shown:
            self.below.value = shown

    @property
    def first(self) -> Any:
        """What its control held at first."""
        return self._first

    @property
    def unit(self) -> str | None:
        """Unit in which a bare number is taken now; None if the field takes no number."""
        return None

    def is_named(self, name: str) -> bool:
        """Tell whether an error that names a field means this one."""
        return name.lower() in (self.key, self.label.lower(), self.also_named or self.key)

    def use_while(self, other: Field, holds: Callable[[Any], bool]) -> None:
        """Show this field only while another one stands so; out of sight it holds nothing up."""
        self._is_used = lambda: other.is_used and holds(other.widget.value)
        other._used_with.append(self)
        other.widget.observe(self._follow_use, names="value")
        self._follow_use(None)

    def _follow_use(self, _: object) -> None:
        self.box.layout.display = "" if self.is_used else "none"
        for entry in self._used_with:
            entry._follow_use(None)

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
        """Give the value that stands in while the field is not used, whatever was entered: the first one."""
        return self._first

    def pick(self, value: Any) -> None:
        """Enter what was picked on a picture; a field to which no picture belongs takes nothing."""

    def show_in(self, units: UnitChoice) -> None:
        """Follow the operator's units."""
        self._units = units

    def kept(self) -> str:
        """Write the entry as a record keeps it."""
        return write_entry(self.widget.value)

    def put_back(self, kept: str) -> None:
        """Enter what a record kept; what cannot be entered any more is left out."""
        found = [value for value in self._possible(kept) if write_entry(value) == kept]
        if found and found[0] != self.widget.value:
            self.hint = f"as saved; proposed: {self._say_proposed() or 'nothing'}"
            self.widget.value = found[0]

    def _possible(self, kept: str) -> Iterable[Any]:
        control = self.widget
        if isinstance(control, widgets.Checkbox):
            return (True, False)
        if isinstance(control, Slider):
            return range(control.min, control.max + 1)
        if isinstance(control, widgets.Dropdown | widgets.ToggleButtons):
            return [option[1] if isinstance(option, tuple) else option for option in control.options]
        return [kept]

    def _say_proposed(self) -> str:
        control = self.widget
        if isinstance(control, widgets.Dropdown | widgets.ToggleButtons):
            return str(control.label)
        return self.kept()
