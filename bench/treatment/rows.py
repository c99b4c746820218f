"""A row of a record as the treatments see it: a mapping of column to value, a blank being None or NaN."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeAlias

from bench.units import Q_, Quantity

Row: TypeAlias = Mapping[Any, Any]

_UNITS = {"%": "percent", "g/m²": "gsm", "°C": "degC", "°F": "degF", "µm": "um"}


def is_given(value: object) -> bool:
    """Tell a cell of a row from a blank.

    Examples
    --------
    >>> is_given(0.0), is_given("no"), is_given(None), is_given(""), is_given(float("nan"))
    (True, True, False, False, False)
    """
    return value is not None and value != "" and value == value  # NaN and NaT are not equal to themselves


def text_of(row: Row, column: str) -> str:
    """Give a cell as a text; a blank, or a column that is not there, is an empty one."""
    value = row.get(column)
    return str(value) if is_given(value) else ""


def unit_of(text: str) -> str:
    """Turn a unit as written in a record into the registry's name."""
    return _UNITS.get(text, text)


def number_in(quantity: Quantity, unit: str, digits: int = 6) -> float:
    """Give a quantity as the number of a row.

    Parameters
    ----------
    quantity : Quantity
        What is to be written.
    unit : str
        The unit that the row names beside it.
    digits : int
        Significant digits that are kept: six are more than any reading carries, and steady between machines.

    Examples
    --------
    >>> number_in(Q_(1.0, "inch"), "mm"), number_in(Q_(104.18251, "g"), "g")
    (25.4, 104.183)
    """
    return float(f"{float(quantity.to(unit).magnitude):.{digits}g}")


def quantity_of(row: Row) -> Quantity:
    """Give the number of a row of readings, log or plans in the unit that stands beside it."""
    return Q_(float(row["value"]), unit_of(str(row["unit"])))
