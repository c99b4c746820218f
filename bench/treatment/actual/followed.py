"""What a logger says of a chamber in place of its plan: how damp the leaves came out, and what it cost.

The numbers are rows of ``log``, saved with the logger's own row.  They count only for as long as what they
were worked out from is still so.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bench.physics.ranges import Range
from bench.treatment import facts
from bench.treatment.actual.observed import Stay, find_stay
from bench.treatment.doses import Spent
from bench.treatment.plan import PlannedValue, by_key, planned_range
from bench.treatment.rows import Row, is_given, number_in, quantity_of, text_of
from bench.units import Q_

LOGGED = "logged: "
"""How the quantity of a row of ``log`` begins that a logger gives; the key of its fact follows."""
FILE, RESTS = f"{LOGGED}file", f"{LOGGED}rests on"
_ENDS = ("", ", low end", ", high end")
_COUNT = "dimensionless"
# How a file is read: with another of these, it says other numbers.
_READING = (
    *("file", "sha256", "place", "time_column", "clock_column", "temperature_column", "humidity_column"),
    *("unit", "dates", "zone", "ahead_min", "correction"),
)

Tables = Mapping[str, Sequence[Row]]


@dataclass(frozen=True)
class FollowedChamber:
    """A chamber as its logger tells it.

    Attributes
    ----------
    cycle : int
        Whose chamber.
    file : str
        Of the logger, inside the folder of the treatment.
    humidity : Range [percent]
        Mean of the leaves when they came out.
    spent : Spent
        In the chamber.
    """

    cycle: int
    file: str
    humidity: Range
    spent: Spent

    @property
    def values(self) -> tuple[PlannedValue, ...]:
        """The numbers that stand in place of those of the plan."""
        return (planned_range(facts.LEAVES_HUMIDITY, self.humidity), *self.spent.values())


def is_of_logger(row: Row) -> bool:
    """Tell whether a row of ``log`` is a number that a logger gives, not something that was noted."""
    return text_of(row, "quantity").startswith(LOGGED)


def rows_of_followed(followed: FollowedChamber, logger: Row, tables: Tables) -> list[dict[str, Any]]:
    """Turn what a logger says of its chamber into rows of ``log``.

    Parameters
    ----------
    followed : FollowedChamber
        As followed just now.
    logger : row
        Of ``loggers``, as it is saved with them.
    tables : mapping of str to rows
        With the plans and steps that it was followed with.

    Returns
    -------
    list of dict
        Empty if it was not read when the item went in and came out: planned times move with the schedule.
    """
    stay = _stay(tables, followed.cycle)
    if stay is None or stay.planned:
        return []
    common = {"stage": "humidity", "cycle": followed.cycle, "at": stay.ends.replace(microsecond=0)}
    found = [
        {**common, "quantity": FILE, "remark": followed.file},
        {**common, "quantity": RESTS, "remark": _digest(tables, followed.cycle, logger)},
    ]
    for quantity, number, unit in _numbers(followed):
        found.append({**common, "quantity": f"{LOGGED}{quantity}", "value": number, "unit": unit or _COUNT})
    return found


def _numbers(followed: FollowedChamber) -> Iterator[tuple[str, float, str]]:
    fact, humidity = facts.LEAVES_HUMIDITY, followed.humidity
    for end, number in zip(_ENDS, (humidity.value, humidity.low, humidity.high), strict=True):
        yield f"{fact.key}{end}", number_in(number, fact.unit), fact.unit
    for value in followed.spent.values():
        yield value.key, number_in(value.value, value.unit), value.unit


def follow_in_use(tables: Tables, cycle: int) -> FollowedChamber | None:
    """Give what a logger says of the chamber of a cycle in place of its plan; None where the plan holds.

    Parameters
    ----------
    tables : mapping of str to rows
        Current rows of ``log``, ``loggers``, ``plans`` and ``steps``.
    cycle : int
        Whose chamber.

    Notes
    -----
    Its numbers rest on the item and chamber of the plan, on the time in the chamber, and on how the file
    is read.  Once one of these is another, they are those of a chamber that never was, and the plan at
    least agrees with itself: the plan's numbers hold until the logger is saved again.  This is told by a
    digest of what they rest on, not by the order of saves, which a merge of two copies of a record mixes.
    Where several loggers stood in a chamber, the last that could be followed counts; one that saw only a
    part, saved after it, says nothing against it.
    """
    rows = {
        text_of(row, "quantity").removeprefix(LOGGED): row
        for row in tables["log"]
        if is_of_logger(row) and (row["stage"], int(row["cycle"])) == ("humidity", cycle)
    }
    if not rows:
        return None
    file, rests = (text_of(rows.get(name.removeprefix(LOGGED), {}), "remark") for name in (FILE, RESTS))
    logger = _logger(tables, cycle, file)
    if logger is None or rests != _digest(tables, cycle, logger):
        return None
    return _read(rows, cycle, file)


def say_out_of_use(tables: Tables, cycle: int) -> str:
    """Say that the numbers of a logger are kept, but no longer in use; else empty."""
    kept = [row for row in tables["log"] if text_of(row, "quantity") == FILE and int(row["cycle"]) == cycle]
    if not kept or follow_in_use(tables, cycle) is not None:
        return ""
    return (
        f"What {text_of(kept[-1], 'remark')} said of the chamber is not in use: its plan, its times, or how "
        "the file is read are others now. The plan counts until this logger is saved again."
    )


def _logger(tables: Tables, cycle: int, file: str) -> Row | None:
    found = (row for row in tables.get("loggers", ()) if (int(row["cycle"]), row["file"]) == (cycle, file))
    return next((row for row in found if row["place"] == "chamber"), None)


def _read(rows: Mapping[str, Row], cycle: int, file: str) -> FollowedChamber | None:
    key = facts.LEAVES_HUMIDITY.key
    if not all(f"{key}{end}" in rows for end in _ENDS):
        return None
    humidity = Range(*(quantity_of(rows[f"{key}{end}"]) for end in _ENDS))
    numbers = (
        PlannedValue(facts.FACTS[name], Q_(float(row["value"]), facts.FACTS[name].unit))
        for name, row in rows.items()
        if name in facts.FACTS and is_given(row["value"])
    )
    spent = Spent.as_planned(by_key(numbers).values())
    return None if spent is None else FollowedChamber(cycle, file, humidity, spent)


def _stay(tables: Tables, cycle: int) -> Stay | None:
    return find_stay(_of_chamber(tables["steps"], cycle))


def _of_chamber(rows: Iterable[Row], cycle: int) -> list[Row]:
    return [row for row in rows if (row["stage"], int(row["cycle"])) == ("humidity", cycle)]


def _digest(tables: Tables, cycle: int, logger: Row) -> str:
    """Give in short what a chamber is followed from: reading of the file, times, numbers of the plan."""
    stay = _stay(tables, cycle)
    times = () if stay is None else (stay.begins.timestamp() // 60, stay.ends.timestamp() // 60)
    planned = sorted(
        f"{text_of(row, 'key') or row['quantity']} {float(row['value']):.6g}"
        for row in _of_chamber(tables["plans"], cycle)
        if is_given(row["value"])
    )
    said = [*(_write(logger, name) for name in _READING), *map(str, times), *planned]
    return hashlib.sha256("\n".join(said).encode()).hexdigest()[:16]


def _write(row: Row, name: str) -> str:
    value = row.get(name)
    if name in ("ahead_min", "correction"):
        return f"{float(value) if is_given(value) else 0.0:.6g}"  # type: ignore[arg-type]
    return text_of(row, name)
