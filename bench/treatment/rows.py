"""A row of a record as the treatments see it: a mapping of column to value, a blank being None or NaN."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bench.units import Q_, Quantity

Row = Mapping[Any, Any]


def is_given(value: object) -> bool:
    """Tell a value from a blank."""
    return value is not None and value != "" and value == value  # NaN and NaT are not equal to themselves


def text_of(row: Row, name: str) -> str:
    """Give the text of a column; empty for a blank, or where there is no such column."""
    return str(row[name]) if is_given(row.get(name)) else ""


def quantity_of(row: Row) -> Quantity:
    """Give the number of a row with its unit."""
    return Q_(float(row["value"]), "" if row["unit"] == "dimensionless" else str(row["unit"]))
