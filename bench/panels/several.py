"""A field that takes one reading or several, with blanks between."""

from __future__ import annotations

from collections.abc import Sequence

from bench.errors import BadValue, BenchError
from bench.panels.field import Hint
from bench.panels.fields import NumberField
from bench.units import Quantity, UnitChoice, own_unit, read_numbers, to_float


class SeveralField(NumberField):
    """Readings of one quantity, in a unit that may follow the operator's choice.

    Parameters
    ----------
    value : sequence of Quantity
        What was read before and is shown at first; may be empty.
    most : int
        Readings that it takes.

    Notes
    -----
    The others are those of :class:`bench.panels.fields.NumberField`.
    """

    def __init__(
        self,
        key: str,
        label: str,
        value: Sequence[Quantity],
        unit: str,
        *,
        low: Quantity,
        high: Quantity,
        most: int = 1,
        optional: bool = False,
        hint: Hint = "",
    ) -> None:
        super().__init__(key, label, None, unit, low=low, high=high, optional=optional, hint=hint)
        self._most = most
        self.enter(value)

    def enter(self, values: Sequence[Quantity]) -> None:
        """Enter what was read before: the numbers under which it is shown mean it, in every unit."""
        self._before = tuple(values)
        self.widget.value = self._write_before(self._unit)

    def _write_before(self, unit: str) -> str:
        own = own_unit(self._kind)
        if unit == own:
            return " ".join(f"{float(each.to(own).magnitude):.6g}" for each in self._before)
        return " ".join(self._write_in(each, unit) for each in self._before)

    def _read_all(self, text: str, unit: str) -> tuple[Quantity, ...]:
        if text == self._write_before(unit):
            return self._before
        return read_numbers(text, unit, field=self._name)

    def _turn(self, text: str, unit: str, other: str) -> str | None:
        try:
            values = self._read_all(text, unit)
        except BenchError:
            return None
        if values is self._before:
            return self._write_before(other)
        return " ".join(self._write_in(value, other) for value in values)

    def kept(self) -> str:
        """Write the readings as they stand."""
        return str(self.widget.value).strip()

    def read(self, units: UnitChoice) -> tuple[Quantity, ...]:  # type: ignore[override]
        """Give the readings; none where the field may stay empty."""
        text = self.widget.value.strip()
        if not text:
            if self._optional:
                return ()
            raise BadValue(self._name, "empty", "one reading or more", "Enter the reading")
        values = self._read_all(text, self._unit)
        if len(values) > self._most:
            allowed = "one" if self._most == 1 else f"at most {self._most}"
            raise BadValue(self._name, f"{len(values)} readings", allowed, "Take the others out")
        low, high = self._limits(self._unit)
        for value in values:
            to_float(value, self._unit, field=self._name, low=low, high=high)
        return values
