"""Errors that a person at the bench can act on.

Every error carries its facts as attributes and builds one sentence from them: which
field, what came, what is allowed, what to do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


def build_sentence(field: str, value: object, allowed: object, remedy: object) -> str:
    """Say which field, what came, what is allowed, what to do."""
    limit = f"; allowed is {allowed}" if allowed else ""
    return f"{field} is {value}{limit}. {remedy}."


class BenchError(ValueError):
    """An input that cannot be used, told in one sentence.

    Parameters
    ----------
    field : str
        Name of the field in the words of the bench, e.g. ``"relative humidity"``.
    value : object
        What came, as the user would recognise it, with its unit.
    allowed : str
        What is allowed, e.g. ``"0 to 100 %"``; empty where nothing else could stand there.
    remedy : str
        What to do next, as a sentence without its full stop.
    """

    def __init__(self, field: str, value: object, allowed: str, remedy: str) -> None:
        self.field = field
        self.value = value
        self.allowed = allowed
        self.remedy = remedy
        super().__init__(build_sentence(field, value, allowed, remedy))


class BadValue(BenchError):
    """A value that no careful observer could have read: negative, absurd, or not a number."""


class NotYet(BadValue):
    """Something that an earlier step gives first: nothing was entered wrongly."""


class UnitMismatch(BenchError):
    """A value whose unit measures something else, or a bare number where a unit is needed."""


class OutOfRange(BenchError):
    """A sound value outside the range in which a model or a table is valid."""


class NotFound(BenchError):
    """A name that no table holds: a material, a salt, a treatment, a source."""


@dataclass(frozen=True)
class Fault:
    """One thing wrong in a record: where it stands and what is wrong."""

    table: str
    row: int | None
    column: str | None
    what: str

    def __str__(self) -> str:
        place = self.table
        if self.row is not None:
            place += f" row {self.row}"
        if self.column:
            place += f" column {self.column}"
        return f"{place}: {self.what}"


class RecordError(Exception):
    """A record that cannot be read or written as it stands; lists every fault at once."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))
