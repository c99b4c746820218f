"""The one unit registry, the signs of its units, and the units that an operator chooses."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeAlias

import numpy as np
import pint
from pint.util import UnitsContainer

from bench.errors import BadValue

_NUMBERS = (float, int, np.float64)
_PLAIN = (*_NUMBERS, np.ndarray)


class _Quantity(pint.UnitRegistry.Quantity):
    """A quantity that is made at once of a plain number and a unit read before.

    The library looks into every number for types that it cannot wrap and reads the unit once more, eight
    times the work: a moved control makes some thousands.
    """

    def __new__(cls, value: Any, units: Any = None) -> Any:
        """Make a quantity; what is not plain goes the library's own way."""
        if type(value) in _PLAIN:
            if type(units) is str:
                units = _container_of(cls, units)
            if type(units) is UnitsContainer:
                made = object.__new__(cls)
                made._magnitude, made._units = value, units
                return made
        return super().__new__(cls, value, units)

    def __eq__(self, other: Any) -> Any:
        """Compare; plain numbers in one unit at once."""
        is_alike = type(other) is type(self) and other._units is self._units
        if is_alike and type(self._magnitude) in _NUMBERS and type(other._magnitude) in _NUMBERS:
            return self._magnitude == other._magnitude
        return super().__eq__(other)

    __hash__ = pint.UnitRegistry.Quantity.__hash__

    def to(self, other: Any = None, *contexts: Any, **more: Any) -> Any:
        """Convert; what is in the unit already is only copied."""
        if type(other) is str and not contexts and _container_of(type(self), other) is self._units:
            return type(self)(self._magnitude, self._units)
        return super().to(other, *contexts, **more)


def _container_of(kind: Any, name: str) -> Any:
    """Give the unit of that name as a quantity of this kind holds it."""
    return kind._REGISTRY.container_of(name)


class _Registry(pint.UnitRegistry[Any]):
    """A registry that reads each name of a unit once.

    The library reads a name with a prefix (kPa) anew each time, which costs more than most of what is
    then done with it: a moved control names units some two thousand times.
    """

    Quantity = _Quantity

    def __init__(self, **how: Any) -> None:
        self._read: dict[tuple[str, bool | None, bool | None], Any] = {}
        self._containers: dict[str, Any] = {}
        super().__init__(**how)

    def define(self, definition: Any) -> None:
        """Add a unit; names read before may mean something else now."""
        self._read.clear()
        self._containers.clear()
        super().define(definition)

    def parse_units_as_container(
        self, input_string: str, as_delta: bool | None = None, case_sensitive: bool | None = None
    ) -> Any:
        """Read the name of a unit, or give what it was read as before."""
        key = (input_string, as_delta, case_sensitive)
        if key not in self._read:
            self._read[key] = super().parse_units_as_container(input_string, as_delta, case_sensitive)
        return self._read[key]

    def container_of(self, name: str) -> Any:
        """Give the unit of that name as a quantity holds it."""
        if name not in self._containers:
            self._containers[name] = self.parse_units(name)._units
        return self._containers[name]


def _build_registry() -> pint.UnitRegistry[Any]:
    """Build the registry; the cache on disk makes the second start ten times faster."""
    try:
        registry: pint.UnitRegistry[Any] = _Registry(cache_folder=":auto:")
    except OSError:  # no place for a cache (a read-only home): slower, not broken
        registry = _Registry()
    registry.define("caliper_point = 0.001 inch")  # board thickness: 24 pt is 24 thousandths
    registry.define("gsm = gram / meter ** 2")  # grammage, ISO 536
    registry.formatter.default_format = "~P"
    return registry


ureg = _build_registry()
pint.set_application_registry(ureg)
Quantity: TypeAlias = pint.Quantity[Any]
Q_ = ureg.Quantity


# Signs of units that are not called by their sign, units in which values differ, and names for a sentence.
_LABELS = {
    "caliper_point": "pt",
    "inch": "in",
    "um": "µm",
    "degC": "°C",
    "degF": "°F",
    "percent": "%",
    "gsm": "g/m²",
    "cm^2": "cm²",
    "cm ** 2": "cm²",
    "cm^2/min": "cm²/min",
    "hour": "h",
    "delta_degC": "K",
    "delta_degF": "°F",
    "dimensionless": "",
}
_DIFFERENCES = {"degC": "delta_degC", "°C": "delta_degC", "degF": "delta_degF", "°F": "delta_degF"}
_NAMES = {"inch": "inches", "thou": "thousandths of an inch"}


def name_of(quantity: Any) -> str:
    """Write the full name of a quantity's unit, each once: writing it costs more than checking a number."""
    return _spell(quantity._units)


@lru_cache(maxsize=256)
def _spell(units: UnitsContainer) -> str:
    return f"{ureg.Unit(units):D}"


def unit_label(unit: str) -> str:
    """Give the sign that screens show for a unit of this package."""
    return _LABELS.get(unit, unit)


def difference_unit(unit: str) -> str:
    """Give the unit in which two values of a unit differ: a doubt of 2 K of a temperature in °C.

    Examples
    --------
    >>> difference_unit("degC"), difference_unit("mm")
    ('delta_degC', 'mm')
    """
    return _DIFFERENCES.get(unit, unit)


def unit_name(unit: str) -> str:
    """Give the name of a unit as a sentence has it, where its sign would be read as a word.

    Examples
    --------
    >>> unit_name("inch"), unit_name("mm")
    ('inches', 'mm')
    """
    return _NAMES.get(unit, unit_label(unit))


@dataclass(frozen=True)
class UnitChoice:
    """The units an operator works in; one choice for the whole workbook.

    Attributes
    ----------
    length : str
        ``"thou"`` (thousandths of an inch), ``"mm"`` or ``"um"``: for thickness.
    temperature : str
        ``"degC"`` or ``"degF"``.
    """

    length: str = "mm"
    temperature: str = "degC"

    def __post_init__(self) -> None:
        if self.length not in ("thou", "mm", "um"):
            raise BadValue("unit of thickness", self.length, "thou, mm or um", "Choose one of these")
        if self.temperature not in ("degC", "degF"):
            raise BadValue("unit of temperature", self.temperature, "degC or degF", "Choose one of these")

    @property
    def long_length(self) -> str:
        """Unit for widths and places on the page: inches for those who read thousandths."""
        return "inch" if self.length == "thou" else "mm"

    def unit_for(self, kind: str) -> str:
        """Give the unit in which the operator works with a kind of quantity.

        Parameters
        ----------
        kind : str
            ``"thickness"``, ``"length"`` or ``"temperature"``; any other is a unit that stays what it is.
        """
        follows = {"thickness": self.length, "length": self.long_length, "temperature": self.temperature}
        return follows.get(kind, kind)


def own_unit(kind: str) -> str:
    """Give the unit of a kind of quantity that does not follow the operator.

    Examples
    --------
    >>> own_unit("temperature"), own_unit("kPa")
    ('degC', 'kPa')
    """
    own = {"thickness": "mm", "length": "mm", "temperature": "degC", "dimensionless": ""}
    return own.get(kind, kind)


MILLIMETRES = UnitChoice("mm", "degC")
THOUSANDTHS = UnitChoice("thou", "degF")
