"""A row of a record as the treatments see it: a mapping of column to value, a blank being None or NaN."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Row = Mapping[Any, Any]


def is_given(value: object) -> bool:
    """Tell a value from a blank."""
    return value is not None and value != "" and value == value  # NaN and NaT are not equal to themselves


def text_of(row: Row, column: str) -> str:
    """Give what stands in a column as text; empty where it is blank or the row has no such column."""
    return str(row[column]) if is_given(row.get(column)) else ""
