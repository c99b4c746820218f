"""How quantities and lists are written: with the digits they deserve, in the unit of whoever reads."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal

from bench.errors import BenchError, build_sentence
from bench.units.registry import Q_, Quantity, UnitChoice, difference_unit, unit_label

_ROUNDING = {-1: ROUND_FLOOR, 0: ROUND_HALF_EVEN, 1: ROUND_CEILING}
_DIGITS = 7  # of a number that is written in full
_LONG = 1e7  # above it a number is written with its power of ten


def write_number(value: float, *, within: float, towards: int = 0) -> str:
    """Write a number with as few decimals as keep it within a distance of itself.

    Parameters
    ----------
    value : float
        What is written.
    within : float
        Largest distance from the value to what is written.
    towards : int
        -1 never writes more than the value, 1 never less, 0 the nearest.

    Examples
    --------
    >>> write_number(173.2283, within=0.002), write_number(258.75, within=0.02)
    ('173.23', '258.75')
    >>> write_number(23.62205, within=0.001, towards=-1), write_number(1.18110, within=0.001, towards=1)
    ('23.622', '1.182')
    """
    if not math.isfinite(value) or abs(value) >= _LONG:
        return f"{value:g}"
    exact = Decimal(f"{value:.12g}")  # without the noise of a conversion
    shown = exact
    for places in range(13):
        shown = exact.quantize(Decimal(1).scaleb(-places), rounding=_ROUNDING[towards])
        if abs(shown - exact) <= Decimal(within):
            break
    return f"{shown:f}" if shown else "0"


@dataclass(frozen=True)
class Amount:
    """A quantity within a sentence.

    Attributes
    ----------
    quantity : Quantity
        How much.
    unit : str
        In which the code writes it.
    towards : int
        Which way it is rounded: a limit so that what is written is allowed, what was refused so that it
        never reads like the limit.
    fine : float
        Largest rounding, as a part of the value, where it has many digits.
    bare : bool
        Without its unit, before another amount that brings it.
    """

    quantity: Quantity
    unit: str
    towards: int = 0
    fine: float = 5e-5
    bare: bool = False

    def write(self, unit: str) -> str:
        """Write it in a unit."""
        value = float(self.quantity.to(unit).magnitude)
        number = write_number(value, within=1e-9 * abs(value))
        if len(number.strip("-0.").replace(".", "")) > _DIGITS:
            number = write_number(value, within=self.fine * abs(value), towards=self.towards)
        return number if self.bare else f"{number} {unit_label(unit)}".strip()


class Told(str):
    """Words with amounts in them: a text in the units of the code that can be said in others.

    Parameters
    ----------
    words : str
        With a pair of braces for each amount.
    *amounts : Amount
        In the order of the braces.

    Examples
    --------
    >>> told = Told("at most {}, the height", Amount(Q_(254.0, "mm"), "mm"))
    >>> told, told.in_units(lambda unit: "inch")
    ('at most 254 mm, the height', 'at most 10 in, the height')
    """

    _words: str
    _amounts: tuple[Amount, ...]

    def __new__(cls, words: str, *amounts: Amount) -> Told:
        """Write the text in the units of the code."""
        told = super().__new__(cls, words.format(*(amount.write(amount.unit) for amount in amounts)))
        told._words, told._amounts = words, amounts
        return told

    def in_units(self, choose: Callable[[str], str]) -> str:
        """Write the text in the unit that is chosen for each unit of the code."""
        return self._words.format(*(amount.write(choose(amount.unit)) for amount in self._amounts))


def say_count(number: int, one: str, many: str = "") -> str:
    """Say how many there are of a thing.

    Parameters
    ----------
    number : int
        How many.
    one : str
        What one of them is called.
    many : str
        What several are called; by default the same with an s.

    Examples
    --------
    >>> say_count(1, "leaf", "leaves"), say_count(3, "row")
    ('1 leaf', '3 rows')
    """
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def upper_first(words: str) -> str:
    """Begin a sentence with a capital; the rest stays as it is."""
    return words[:1].upper() + words[1:]


def lower_first(words: str) -> str:
    """Begin a sentence inside another one; the rest stays as it is."""
    return words[:1].lower() + words[1:]


def join_words(words: Sequence[str]) -> str:
    """Join words as a sentence does.

    Examples
    --------
    >>> join_words(["brush", "suction", "sponge"]), join_words(["brush"])
    ('brush, suction and sponge', 'brush')
    """
    *first, last = words or [""]
    return f"{', '.join(first)} and {last}" if first else last


def say_minutes(value: float) -> str:
    """Write a time in whole minutes, or in seconds below one: a time that passes is never said as none.

    Examples
    --------
    >>> say_minutes(17.2), say_minutes(0.6), say_minutes(0.002), say_minutes(0.0)
    ('17 min', '36 s', 'less than 1 s', '0 min')
    """
    if value <= 0 or value >= 0.9917:  # what rounds to 60 s is a minute
        return f"{value:.0f} min"
    return f"{60 * value:.0f} s" if 60 * value >= 0.5 else "less than 1 s"


def say_clock(hours: float) -> str:
    """Write hours, counted from any midnight, as a clock shows them.

    Examples
    --------
    >>> say_clock(8.5), say_clock(24 + 17.999)
    ('08:30', '18:00')
    """
    minutes = round(60 * hours) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def say_error(error: BenchError, units: UnitChoice, *, unit: str | None = None) -> str:
    """Write the sentence of an error in the operator's units.

    Parameters
    ----------
    error : BenchError
        As it was raised.
    units : UnitChoice
        Of the operator.
    unit : str, optional
        Of the field beside which it will stand; taken where it measures the same.

    Examples
    --------
    >>> from bench.units import THOUSANDTHS, to_float
    >>> try:
    ...     to_float(Q_(120.0, "degC"), "degC", field="platen temperature", low=0.0, high=100.0)
    ... except BenchError as error:
    ...     print(say_error(error, THOUSANDTHS))
    platen temperature is 248 °F; allowed is 32 to 212 °F. Check the reading and its unit.
    """

    def choose(own: str) -> str:
        if unit is not None and Q_(1, own).is_compatible_with(unit):
            return unit
        return _usual_unit(own, units)

    value, allowed, remedy = (
        part.in_units(choose) if isinstance(part, Told) else part
        for part in (error.value, error.allowed, error.remedy)
    )
    return build_sentence(error.field, value, allowed, remedy)


def _usual_unit(unit: str, units: UnitChoice) -> str:
    """Give the unit in which an operator reads what the code has in this one."""
    if unit in ("thou", "um"):
        return units.length
    if unit in ("m", "cm", "mm", "inch"):
        return units.long_length
    return units.temperature if unit in ("degC", "degF", "kelvin") else unit


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


def say_minutes_range(value: float, low: float, high: float) -> str:
    """Write minutes with the interval they may lie in; below one in seconds.

    Examples
    --------
    >>> say_minutes_range(4.2, 2.6, 6.8), say_minutes_range(0.4, 0.1, 3.0)
    ('4 min (3 to 7)', '24 s (6 to 180)')
    """
    if value >= 1:
        return say_range(value, low, high, "min")
    return say_range(60 * value, 60 * low, 60 * high, "s")


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
        delta = difference_unit(unit)
        spread = float(uncertainty.to(delta).magnitude)
    return say_value(value, spread, unit_label(unit))


def say_whole(quantity: Quantity, unit: str) -> str:
    """Write a quantity in a unit to a whole number, as a temperature is set or felt.

    Examples
    --------
    >>> say_whole(Q_(60, "degC"), "degF")
    '140 °F'
    """
    return f"{float(quantity.to(unit).magnitude):.0f} {unit_label(unit)}"


def say_length(quantity: Quantity, units: UnitChoice, *, uncertainty: Quantity | None = None) -> str:
    """Write a thickness in the operator's unit."""
    return say(quantity, units.length, uncertainty=uncertainty)
