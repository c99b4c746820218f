"""Where numbers come from: a key in a table becomes a full reference.

``sources.csv`` holds one row a source: ``key``, ``kind`` (standard, handbook, article,
library, web, trade, memory), ``reference``, ``status``, which says in words whether a copy was
read or the value comes from memory, and ``short``, the citation that readers are shown.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from functools import cache
from importlib import resources

from bench.errors import NotFound


@dataclass(frozen=True)
class Reference:
    """One reference and how well it was seen."""

    key: str
    kind: str
    reference: str
    status: str
    short: str


@cache
def _sources() -> dict[str, Reference]:
    text = resources.files("bench").joinpath("sources.csv").read_text(encoding="utf-8")
    return {row["key"]: Reference(**row) for row in csv.DictReader(text.splitlines())}


def cite(key: str) -> Reference:
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


@cache
def _named() -> re.Pattern[str]:
    """Match the keys where they stand for a source, not as words of a sentence."""
    keys = "|".join(re.escape(key) for key in sorted(_sources(), key=len, reverse=True))
    return re.compile(rf"(?<![\w-])(?<!\bfrom )(?<!\bthe )(?:{keys})(?![\w-])")


def say_sources(text: str) -> str:
    """Write where a value comes from as a reader knows it: each key becomes its short citation.

    Examples
    --------
    >>> say_sources("memory"), say_sources("pressure of a thickness gauge, tappi-t411; chosen here")
    ('from memory', 'pressure of a thickness gauge, TAPPI T 411; chosen here')
    >>> say_sources("rates from memory, set by the operator")
    'rates from memory, set by the operator'
    """
    return _named().sub(lambda match: _sources()[match[0]].short, text)


def all_sources() -> tuple[Reference, ...]:
    """Give every source, in the order of the table."""
    return tuple(_sources().values())
