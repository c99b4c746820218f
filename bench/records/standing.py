"""A record held against itself: its current rows as the one function that raises flags takes them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bench.errors import BenchError
from bench.item import Item
from bench.records import nouns
from bench.records.bench_record import measured_beside
from bench.records.clock import now
from bench.records.schema import TABLES
from bench.records.snapshot import take_snapshot
from bench.records.store import Record
from bench.treatment.calibration import CHECKS, CORRECTION
from bench.treatment.measured import Accepted
from bench.treatment.resting import MEASURED, NO_LONGER, Tables
from bench.treatment.rows import number_in
from bench.treatment.standing import Flag, raise_flags, say_flags
from bench.units import UnitChoice

__all__ = ["CORRECTION", "NO_LONGER", "flags_of", "item_or_none", "overlay", "read_tables", "say_flags"]

TABLES_READ = (
    "treatment",
    "staples",
    "readings",
    "tests",
    "defects",
    "decisions",
    "plans",
    "steps",
    "log",
    "loggers",
    "materials",
)


def read_tables(record: Record) -> Tables:
    """Read the current rows of the tables that plans rest on, and the checks that readings carry.

    Raises
    ------
    RecordError
        A table cannot be read whole.
    """
    found = {name: record.rows(name) for name in TABLES_READ}
    measured = measured_beside(record.folder, now())
    return {
        **found,
        MEASURED: [_row_of(each) for each in measured],
        CHECKS: nouns.checks_of(record).rows,
    }


def _row_of(each: Accepted) -> dict[str, Any]:
    unit = each.constant.unit
    value = number_in(each.value.value, unit)
    return {
        "key": each.constant.key,
        "about": each.about,
        "value": value,
        "unit": unit,
        "stages": each.constant.stages,
    }


def overlay(tables: Tables, rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> Tables:
    """Give the tables as they will stand once some rows are saved.

    Parameters
    ----------
    tables : mapping of str to rows
        As :func:`read_tables` gives them.
    rows : mapping of str to rows
        As they are handed to a save; a version of the treatment replaces the one before it.
    """
    found = dict(tables)
    for name, new in rows.items():
        if name not in tables:
            continue
        gone = {row["replaces"] for row in new if "replaces" in row}
        if name == "treatment" and new:
            gone |= {row["row"] for row in tables[name]}
        blank = dict.fromkeys(TABLES[name].header)
        found[name] = [row for row in tables[name] if row["row"] not in gone]
        found[name] = [*found[name], *({**blank, **row} for row in new)]
    return found


def item_or_none(record: Record) -> Item | None:
    """Give the item, or None while it is not described."""
    try:
        return nouns.item_of(record)
    except BenchError:
        return None


def flags_of(record: Record, units: UnitChoice | None = None) -> tuple[Flag, ...]:
    """Tell which saved plans of a record are out of date and where sheets do not add up.

    Raises
    ------
    RecordError
        A table cannot be read whole.
    """
    record = take_snapshot(record)
    return raise_flags(read_tables(record), item_or_none(record), units=units or nouns.units_of(record))
