"""How quantities are read: what the trade means, and what is refused in which words."""

from __future__ import annotations

import math
import re
from datetime import time
from functools import lru_cache

import pint

from bench.errors import BadValue, BenchError, UnitMismatch
from bench.units.registry import Q_, Quantity, name_of, unit_label, unit_name
from bench.units.saying import Amount, Told

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
    "[mass]": {"g": "g", "kg": "kg", "mg": "mg", "oz": "oz", "lb": "lb", "lbs": "lb"},
    "[time]": {
        "s": "s",
        "min": "min",
        "minute": "min",
        "minutes": "min",
        "h": "hour",
        "hour": "hour",
        "hours": "hour",
        "d": "day",
        "day": "day",
        "days": "day",
    },
    "": {"%": "percent", "percent": "percent", "": "dimensionless"},
    "[pressure]": {"pa": "Pa", "kpa": "kPa", "psi": "psi", "bar": "bar"},
    "[force]": {"n": "N", "kn": "kN", "lbf": "lbf", "kgf": "kgf"},
    "[grammage]": {"gsm": "gsm", "g/m2": "gsm", "g/m²": "gsm"},
}
_NUMBER = re.compile(r"^\s*([-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?)\s*(.*?)\s*$")
_FRACTION = re.compile(r"^\s*(?:([0-9]{1,6})(?:\s+|\s*-\s*))?([0-9]{1,6})/([0-9]{1,6})(?![0-9])\s*(.*?)\s*$")
_SIGNS = str.maketrans(
    {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
    | {"⁄": "/", "″": '"', "”": '"', "−": "-"}
)
_SHOWN = 40  # characters of an entry that an error repeats
_NOISE = 1e-9  # of a limit: what converting a unit may add or take away


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
    allowed = f"a number with a unit ({known})"
    if "," in text:
        raise BadValue(field, _repeat(text), allowed, _cure_comma(text))
    found = _split_number(text, has_fractions=dimension == "[length]")
    if found is None:
        raise BadValue(field, _repeat(text), allowed, "Write it like 4.41 mm, with a decimal point")
    number, word = found
    unit = words.get(word.lower())
    if unit is None:
        came = _repeat(text) if word else f"the bare number {text.strip()}"
        raise UnitMismatch(field, came, f"a value in {known}", "Add the unit that the instrument shows")
    return Q_(number, unit)


def _repeat(text: str) -> str:
    """Give an entry as an error repeats it: the begin of a long one."""
    return repr(text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…")


def read_count(text: str, *, field: str, low: int, remedy: str) -> int:
    """Read a whole number of things that were counted.

    Parameters
    ----------
    text : str
        As it was entered.
    field : str
        Name of the field, for the error.
    low : int
        The least that is allowed; the most is 999 999.
    remedy : str
        What to count.

    Raises
    ------
    BadValue
        Anything but the digits 0 to 9, or out of range.

    Examples
    --------
    >>> read_count(" 40 ", field="sheets", low=1, remedy="Count them")
    40
    """
    text = text.strip()
    if not re.fullmatch(r"[0-9]{1,6}", text) or int(text) < low:
        came = _repeat(text) if text else "empty"
        raise BadValue(field, came, f"a whole number, {low} or more", remedy)
    return int(text)


def read_time(text: str, *, field: str) -> time:
    """Read a time of day as a clock shows it.

    Raises
    ------
    BadValue
        Anything else.

    Examples
    --------
    >>> read_time("8:05", field="Day begins")
    datetime.time(8, 5)
    """
    found = re.fullmatch(r"([0-9]{1,2})[:.]([0-9]{2})", text.strip())
    if found is None or int(found[1]) > 23 or int(found[2]) > 59:
        came = _repeat(text) if text.strip() else "empty"
        raise BadValue(field, came, "a time of day, 00:00 to 23:59", "Write it like 08:00")
    return time(int(found[1]), int(found[2]))


def _split_number(text: str, *, has_fractions: bool) -> tuple[float, str] | None:
    """Give the number at the start of a text and the word after it; None if there is no number."""
    text = text.translate(_SIGNS)
    if has_fractions and (rule := _FRACTION.match(text)):
        whole, upper, lower, word = rule.groups()
        if not 0 < int(upper) < int(lower):
            return None
        return int(whole or 0) + int(upper) / int(lower), word
    match = _NUMBER.match(text)
    number = float(match[1]) if match else math.inf
    return (number, match[2]) if match and math.isfinite(number) else None


def brings_unit(text: str) -> bool:
    """Tell whether a number is written with a unit of its own.

    Examples
    --------
    >>> brings_unit("6 5/8 in"), brings_unit("6 5/8")
    (True, False)
    """
    found = _split_number(text, has_fractions=True)
    return found is not None and bool(found[1])


def _cure_comma(text: str) -> str:
    """Say what to type in place of a number with commas, which are never guessed at."""
    text = text.strip()
    bare = text.replace(",", "")
    if text.count(",") > 1:
        return "Write one number, without commas"
    if "." in text:
        return f"Write {bare}, without a comma"
    remedy = f"Write {text.replace(',', '.')}, with a decimal point"
    if re.search(r",\d{3}(?!\d)", text):  # as thousands are set apart
        remedy += f", or {bare} without a comma"
    return remedy


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
    name = unit_name(unit)
    allowed = f"a number of {name}" if name else "a number"
    if "," in text:
        came = f"{text!r}, with {'commas' if text.count(',') > 1 else 'a comma'}"
        raise BadValue(field, came, allowed, _cure_comma(text))
    dimension = _dimension_of(unit)
    is_length = dimension == "[length]"
    found = _split_number(text, has_fractions=is_length)
    if found is None:
        like = "6 5/8 or 6.625" if unit == "inch" else "4.41"
        raise BadValue(field, _repeat(text), allowed, f"Write it like {like}, with a decimal point")
    number, word = found
    if not word and "/" in text and unit != "inch":
        remedy = f"Write {text.strip()} in, if it was read off a rule in inches"
        raise BadValue(field, _repeat(text), allowed, remedy)
    if not word or word == unit_label(unit):
        return Q_(number, unit)
    if dimension is None or not name:
        raise BadValue(field, _repeat(text), allowed, "Write the number alone")
    return parse_quantity(text, field=field, dimension=dimension).to(unit)


def read_numbers(text: str, unit: str, *, field: str) -> tuple[Quantity, ...]:
    """Read several numbers: one or more blanks, a semicolon or a new line stand between them.

    A comma with a blank after it separates too; any other comma is refused, never guessed at.

    Parameters
    ----------
    text : str
        For example ``"4.40 4.42; 4.41"``, or in inches ``"6 5/8 6 11/16"``.
    unit : str
        In which they are taken.
    field : str
        Name of the field, for the error.

    Returns
    -------
    tuple of Quantity
        In that unit.

    Raises
    ------
    BadValue
        A word that is no number, or a comma within one.

    Examples
    --------
    >>> [float(n.magnitude) for n in read_numbers("6 5/8; 6.5, 6 1/2", "inch", field="Readings")]
    [6.625, 6.5, 6.5]
    """
    words = re.sub(r",(?=\s)|;", " ", text.translate(_SIGNS))
    if unit == "inch":
        words = re.sub(r"(?<![\d./])(\d+)\s+(?=\d+/\d)", r"\1-", words)  # 6 5/8 is one reading
    return tuple(_read_word(word, unit, field) for word in words.split())


def _read_word(word: str, unit: str, field: str) -> Quantity:
    allowed = "numbers with a decimal point and blanks between"
    if "," in word:
        apart = " ".join(part for part in word.split(",") if part)
        remedy = f"Put a blank between readings, like {apart}"
        if word.count(",") == 1:
            remedy = (
                f"Write {word.replace(',', '.')}, with a decimal point, or {apart} if these are two readings"
            )
        raise BadValue(field, repr(word), allowed, remedy)
    if word.isalpha():
        raise BadValue(
            field, repr(word), allowed, f"Write the numbers alone: they are taken in {unit_name(unit)}"
        )
    try:
        return read_in_unit(word, unit, field=field)
    except BenchError:
        raise BadValue(field, repr(word), allowed, "Write them like 4.40 4.42 4.41") from None


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
    factor = _factor(name_of(quantity), unit)
    if factor is not None:
        value = float(quantity.magnitude * factor)
    else:
        value = _convert(_as_the_trade_means(quantity, unit), unit, field)
    if not math.isfinite(value):
        raise BadValue(field, f"{value}", f"a finite number of {unit_label(unit)}", remedy)
    if low is not None and value < low:
        if value < low - _NOISE * abs(low):
            raise BadValue(field, _tell_refused(value, unit, low), _tell_limits(low, high, unit), remedy)
        return float(low)
    if high is not None and value > high:
        if value > high + _NOISE * abs(high):
            raise BadValue(field, _tell_refused(value, unit, high), _tell_limits(low, high, unit), remedy)
        return float(high)
    return value


@lru_cache(maxsize=1024)
def _factor(name: str, unit: str) -> float | None:
    """Give what a magnitude is multiplied by; None if more is to be said or done than that.

    The library works the same factor out at each conversion: a moved control asks some ten thousand times.
    """
    if name in _LOOK_ALIKES:
        return None
    try:
        zero, one = (float(Q_(number, name).to(unit).magnitude) for number in (0.0, 1.0))
    except (pint.DimensionalityError, pint.OffsetUnitCalculusError):
        return None
    return None if zero else one


def _convert(quantity: Quantity, unit: str, field: str) -> float:
    try:
        return float(quantity.to(unit).magnitude)
    except pint.DimensionalityError:
        cure = _say_cure(quantity, unit)
        raise UnitMismatch(field, f"{quantity:~P}", f"a value in {unit}", cure) from None


def _tell_refused(value: float, unit: str, limit: float) -> Told:
    """Write a refused value; one close to its limit is rounded away from it, never onto it."""
    side = int(math.copysign(1, value - limit)) if math.isclose(value, limit, rel_tol=1e-4) else 0
    return Told("{}", Amount(Q_(value, unit), unit, side, fine=5e-6))


def _tell_limits(low: float | None, high: float | None, unit: str) -> Told:
    """Write the ends of a range so that what is written is allowed."""
    least = None if low is None else Amount(Q_(low, unit), unit, 1, bare=high is not None)
    most = None if high is None else Amount(Q_(high, unit), unit, -1)
    if least is not None and most is not None:
        return Told("{} to {}", least, most)
    return Told("{} or more", least) if least is not None else Told("at most {}", *([most] if most else []))


def _as_the_trade_means(quantity: Quantity, unit: str) -> Quantity:
    """Read mil and point as thousandths of an inch where a length is wanted."""
    meant = _LOOK_ALIKES.get(name_of(quantity))
    if meant is None or not Q_(1, unit).is_compatible_with("m"):
        return quantity
    return Q_(quantity.magnitude, meant)


def _say_cure(quantity: Quantity, unit: str) -> str:
    name = name_of(quantity)
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
