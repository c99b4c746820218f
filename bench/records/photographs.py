"""Photographs of a record, put together for those who look at them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

from bench.records.schema import STAGES

Row = TypeVar("Row", bound=Mapping[Any, Any])


def by_view(rows: Iterable[Row]) -> list[list[Row]]:
    """Put together the photographs of one view in one light, in the order of the stages."""
    views: dict[tuple[str, str], list[Row]] = {}
    for row in sorted(rows, key=lambda row: STAGES.index(row["stage"])):
        views.setdefault((row["view"], str(row["light"])), []).append(row)
    return list(views.values())
