"""Where numbers come from: a key in a table becomes a full reference.

``sources.csv`` holds one row a source: ``key``, ``kind`` (standard, handbook, article,
library, web, trade, memory), ``reference`` and ``status``, which says in words whether a
copy was read or the value comes from memory.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources

from bench.errors import NotFound


@dataclass(frozen=True)
class Source:
    """One reference and how well it was seen."""

    key: str
    kind: str
    reference: str
    status: str


@cache
def _sources() -> dict[str, Source]:
    text = resources.files("bench").joinpath("sources.csv").read_text(encoding="utf-8")
    return {row["key"]: Source(**row) for row in csv.DictReader(text.splitlines())}


def cite(key: str) -> Source:
    """Give the full reference for a key.

    Raises
    ------
    NotFound
        No such key in ``sources.csv``.
    """
    try:
        return _sources()[key]
    except KeyError:
        raise NotFound("source", repr(key), "a key of bench/sources.csv", "Add the reference there") from None


def all_sources() -> tuple[Source, ...]:
    """Give every source, in the order of the table."""
    return tuple(_sources().values())
