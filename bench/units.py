"""The one unit registry, the trade's own units, and how quantities are read and written.

Relative humidity is a dimensionless quantity in code (``Q_(98, "percent")`` or
``Q_(0.98, "")``) and percent on screens.  Temperatures are ``Q_(25, "degC")``, differences
of temperature are in kelvin.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeAlias

import pint

from bench.errors import BadValue, UnitMismatch


class _Registry(pint.UnitRegistry[Any]):
    """A registry that reads each name of a unit once.

    The library reads a name with a prefix (kPa) anew each time, which costs more than most of what is
    then done with it: a moved control names units some two thousand times.
    """

    def __init__(self, **how: Any) -> None:
        self._read: dict[tuple[str, bool | None, bool | None], Any] = {}
        super().__init__(**how)

    def define(self, definition: Any) -> None:
        """Add a unit; names read before may mean something else now."""
        self._read.clear()
        super().define(definition)

    def parse_units_as_container(
        self, input_string: str, as_delta: bool | None = None, case_sensitive: bool | None = None
    ) -> Any:
        """Read the name of a unit, or give what it was read as before."""
        key = (input_string, as_delta, case_sensitive)
        if key not in self._read:
            self._read[key] = super().parse_units_as_container(input_string, as_delta, case_sensitive)
        return self._read[key]


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

# What a unit word means where the dimension makes it plain.  Pint reads some of these as
# an angle (mil), a volume (pt), a mass (lb of basis weight) or nothing at all.
_LENGTH_WORDS = {
    "mil": "thou",
    "mils": "thou",
    "thou": "thou",
    "thousandth": "thou",
    "thousandths": "thou",
    "pt": "caliper_point",
    "point": "caliper_point",
    "points": "caliper_point",
    '"': "inch",
    "in": "inch",
    "inch": "inch",
    "inches": "inch",
    "mm": "mm",
    "cm": "cm",
    "um": "um",
    "µm": "um",
    "μm": "um",
}
# The same, for a unit that was already read by the registry: what it took it for, what was meant.
_LOOK_ALIKES = {"mil": "thou", "pint": "caliper_point", "point": "caliper_point"}
_WORDS = {
    "[length]": _LENGTH_WORDS,
    "[temperature]": {
        "c": "degC",
        "°c": "degC",
        "degc": "degC",
        "f": "degF",
        "°f": "degF",
        "degf": "degF",
        "k": "kelvin",
    },
    "[mass]": {"g": "g", "kg": "kg", "mg": "mg", "oz": "oz", "lb": "lb"},
    "[time]": {
        "s": "s",
        "min": "min",
        "minutes": "min",
        "h": "hour",
        "hours": "hour",
        "d": "day",
        "days": "day",
    },
    "": {"%": "percent", "percent": "percent", "": "dimensionless"},
    "[pressure]": {"pa": "Pa", "kpa": "kPa", "psi": "psi", "bar": "bar"},
    "[force]": {"n": "N", "kn": "kN", "lbf": "lbf", "kgf": "kgf"},
    "[grammage]": {"gsm": "gsm", "g/m2": "gsm", "g/m²": "gsm"},
}
_NUMBER = re.compile(r"^\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$")


def parse_quantity(text: str, *, field: str, dimension: str) -> Quantity:
    """Read a number with its unit as the bench writes it.

    Parameters
    ----------
    text : str
        For example ``"173.5 thou"``, ``"5 mil"``, ``"24 pt"``, ``"60 °C"``, ``"98 %"``.
    field : str
        Name of the field, for the error.
    dimension : str
        One of ``"[length]"``, ``"[temperature]"``, ``"[mass]"``, ``"[time]"``,
        ``"[pressure]"``, ``"[force]"``, ``"[grammage]"``, or ``""`` for a plain ratio.

    Returns
    -------
    Quantity
        In the unit that was written.

    Raises
    ------
    BadValue
        No number could be read (a decimal comma among them: it is never guessed).
    UnitMismatch
        The unit is missing or measures something else.

    Examples
    --------
    >>> print(parse_quantity("5 mil", field="sheet thickness", dimension="[length]").to("um"))
    127.0 µm
    """
    words = _WORDS[dimension]
    known = ", ".join(dict.fromkeys(unit_label(unit) for unit in words.values() if unit_label(unit)))
    match = _NUMBER.match(text)
    if match is None or "," in text:
        raise BadValue(
            field,
            repr(text),
            f"a number with a unit ({known})",
            "Write it like 4.41 mm, with a decimal point",
        )
    number, word = match.groups()
    unit = words.get(word.lower())
    if unit is None:
        came = repr(text) if word else f"the bare number {number}"
        raise UnitMismatch(field, came, f"a value in {known}", "Add the unit that the instrument shows")
    return Q_(float(number), unit)


def read_in_unit(text: str, unit: str, *, field: str) -> Quantity:
    """Read what stands in a field: a bare number is in the unit of the field, or it brings its own.

    Parameters
    ----------
    text : str
        For example ``"4.41"`` or ``"173.5 thou"``.
    unit : str
        Of the field.
    field : str
        Name of the field, for the error.

    Returns
    -------
    Quantity
        In the unit of the field.

    Raises
    ------
    BadValue
        No number; a comma, which is never guessed at, is told with what to type.
    UnitMismatch
        A unit of another kind.

    Examples
    --------
    >>> print(read_in_unit("173.5 thou", "mm", field="thickness").round(3))
    4.407 mm
    """
    label = unit_label(unit)
    allowed = f"a number of {label}" if label else "a number"
    match = _NUMBER.match(text)
    if "," in text:
        remedy = f"Write {text.replace(',', '.')}, with a decimal point"
        if re.search(r",\d{3}(?!\d)", text):  # as thousands are set apart
            remedy += f", or {text.replace(',', '')} without a comma"
        raise BadValue(field, f"{text!r}, with a comma", allowed, remedy)
    if match is None:
        raise BadValue(field, repr(text), allowed, "Write it like 4.41, with a decimal point")
    number, word = match.groups()
    if not word or word == label:
        return Q_(float(number), unit)
    dimension = _dimension_of(unit)
    if dimension is None:
        raise BadValue(field, repr(text), allowed, "Write the number alone")
    return parse_quantity(text, field=field, dimension=dimension).to(unit)


def _dimension_of(unit: str) -> str | None:
    """Find the kind of a unit among those whose words are known."""
    known = Q_(1, unit)
    if known.is_compatible_with("gsm"):
        return "[grammage]"
    return next((d for d in _WORDS if d != "[grammage]" and known.check(d or "[]")), None)


def to_float(
    quantity: Quantity,
    unit: str,
    *,
    field: str,
    low: float | None = None,
    high: float | None = None,
    remedy: str = "Check the reading and its unit",
) -> float:
    """Check a quantity at the boundary of a calculation and give its plain value.

    Parameters
    ----------
    quantity : Quantity
        A scalar with a unit.
    unit : str
        The unit wanted; its dimension is the one allowed.
    field : str
        Name of the field, for the error.
    low, high : float, optional
        Closed range allowed, in ``unit``.
    remedy : str
        What to do if the value is refused.

    Returns
    -------
    float

    Raises
    ------
    UnitMismatch
        A bare number, or a unit of another kind.
    BadValue
        Not finite, or outside the range.
    """
    if not isinstance(quantity, pint.Quantity):
        raise UnitMismatch(
            field, f"the bare number {quantity!r}", f"a value in {unit}", "Give the unit with the number"
        )
    quantity = _as_the_trade_means(quantity, unit)
    try:
        value = float(quantity.to(unit).magnitude)
    except pint.DimensionalityError:
        cure = _say_cure(quantity, unit)
        raise UnitMismatch(field, f"{quantity:~P}", f"a value in {unit}", cure) from None
    label = unit_label(unit)
    if not math.isfinite(value):
        raise BadValue(field, f"{value}", f"a finite number of {label}", remedy)
    if (low is not None and value < low) or (high is not None and value > high):
        if low is not None and high is not None:
            allowed = f"{low:.4g} to {high:.4g} {label}"
        else:
            allowed = f"{low:.4g} {label} or more" if low is not None else f"at most {high:.4g} {label}"
        raise BadValue(field, f"{value:g} {label}".strip(), allowed.strip(), remedy)
    return value


def _as_the_trade_means(quantity: Quantity, unit: str) -> Quantity:
    """Read mil and point as thousandths of an inch where a length is wanted."""
    meant = _LOOK_ALIKES.get(name_of(quantity.units))
    if meant is None or not Q_(1, unit).is_compatible_with("m"):
        return quantity
    return Q_(quantity.magnitude, meant)


@lru_cache(maxsize=256)
def name_of(unit: Any) -> str:
    """Write the full name of a unit, each once: writing it costs more than checking a number."""
    return f"{unit:D}"


def _say_cure(quantity: Quantity, unit: str) -> str:
    name = name_of(quantity.units)
    if Q_(1, unit).is_compatible_with("gsm") and name == "pound":
        return "A basis weight in pounds needs its basis size; give g/m² or both"
    if name in _LOOK_ALIKES:
        return f"Write {_LOOK_ALIKES[name]} if a thickness was meant, else a unit of the kind that is allowed"
    return "Use a unit of that kind"


def to_humidity(quantity: Quantity, *, field: str = "relative humidity") -> float:
    """Check a relative humidity and give it as a fraction from 0 to 1.

    A value between 100 and 10 000 % most often lost its decimal point or its percent sign;
    the error says so instead of guessing.
    """
    remedy = "If 98 % was meant, write 98 % and not 98 as a plain ratio, and look for a lost decimal point"
    percent = to_float(quantity, "percent", field=field, low=0.0, high=100.0, remedy=remedy)
    return percent / 100.0


def unit_label(unit: str) -> str:
    """Give the sign that screens show for a unit of this package."""
    labels = {
        "thou": "thou",
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
        "": "",
    }
    return labels.get(unit, unit)


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


MILLIMETRES = UnitChoice("mm", "degC")
THOUSANDTHS = UnitChoice("thou", "degF")


def say_value(value: float, uncertainty: float | None, label: str) -> str:
    """Write a value with as many digits as its uncertainty carries.

    The uncertainty is rounded up to two significant digits below 3 and one above (so the
    rounding never claims more than a sixth too much), and the value to the same place.
    Without an uncertainty three significant digits are shown, and of nothing a plain 0.

    Examples
    --------
    >>> say_value(4.4069, 0.0213, "mm")
    '4.407 ± 0.022 mm'
    >>> say_value(173.5, 0.84, "thou")
    '173.5 ± 0.9 thou'
    """
    if uncertainty is None or uncertainty <= 0 or not math.isfinite(uncertainty):
        digits = 0 if value == 0 else max(0, 2 - math.floor(math.log10(abs(value))))
        return f"{value:.{digits}f} {label}".strip()
    exponent = math.floor(math.log10(uncertainty))
    lead = uncertainty / 10**exponent
    decimals = -exponent + (1 if lead < 3 else 0)
    step = 10.0**-decimals
    rounded = math.ceil(uncertainty / step - 1e-9) * step
    shown = round(value / step) * step
    places = max(0, decimals)
    return f"{shown:.{places}f} ± {rounded:.{places}f} {label}".strip()


def say_range(value: float, low: float, high: float, label: str) -> str:
    """Write a value with the interval it may lie in, with as many digits as the interval carries.

    Examples
    --------
    >>> say_range(26.9, 12.04, 61.5, "h")
    '27 h (12 to 62)'
    >>> say_range(0.512, 0.21, 0.83, "g")
    '0.5 g (0.2 to 0.8)'
    >>> say_range(-0.4, -39, 46, "K")
    '0 K (-39 to 46)'
    """
    half = (high - low) / 2
    if half <= 0:
        return say_value(value, None, label)
    largest = max(abs(value), abs(low), abs(high))
    most = max(0, 2 - math.floor(math.log10(largest)))  # never more than three significant digits
    places = min(most, max(0, -math.floor(math.log10(half / 2))))
    numbers = [f"{number:z.{places}f}" for number in (value, low, high)]  # z: no minus before a zero
    if numbers[1] == numbers[2]:
        return f"{numbers[0]} {label}".strip()
    return f"{numbers[0]} {label}".strip() + f" ({numbers[1]} to {numbers[2]})"


def say(quantity: Quantity, unit: str, *, uncertainty: Quantity | None = None) -> str:
    """Write a quantity in a unit, with its expanded uncertainty if there is one.

    Parameters
    ----------
    quantity : Quantity
        The value.
    unit : str
        The unit to show.
    uncertainty : Quantity, optional
        Expanded uncertainty; for a temperature it is a difference (kelvin).
    """
    value = float(quantity.to(unit).magnitude)
    spread = None
    if uncertainty is not None:
        delta = {"degC": "delta_degC", "degF": "delta_degF"}.get(unit, unit)
        spread = float(uncertainty.to(delta).magnitude)
    return say_value(value, spread, unit_label(unit))


def say_length(quantity: Quantity, units: UnitChoice, *, uncertainty: Quantity | None = None) -> str:
    """Write a thickness in the operator's unit."""
    return say(quantity, units.length, uncertainty=uncertainty)


def say_temperature(quantity: Quantity, units: UnitChoice) -> str:
    """Write a temperature to the nearest degree in the operator's unit."""
    value = float(quantity.to(units.temperature).magnitude)
    return f"{value:.0f} {unit_label(units.temperature)}"
