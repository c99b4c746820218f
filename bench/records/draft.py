"""Rows to be saved: from what a panel hands over to checked text, and to what the store adds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bench.errors import BadValue, Fault, RecordError
from bench.records.faults import NewRowFault, say_fault
from bench.records.ledger import digest_rows
from bench.records.rules import Found, check_row
from bench.records.schema import LONGEST_TEXT, STAMPS, TABLES, Table
from bench.records.sheet import Sheet
from bench.records.values import CellFault, guard_text, parse_cell, write_cell

GivenRows = Mapping[str, Sequence[Mapping[str, object]]]
TextRow = dict[str, str]


@dataclass(frozen=True)
class Stamp:
    """Who saved and when, checked."""

    by: str
    at: datetime

    def __post_init__(self) -> None:
        if not isinstance(self.at, datetime) or self.at.tzinfo is None or self.at.utcoffset() is None:
            came = self.at.isoformat() if isinstance(self.at, datetime) else repr(self.at)
            remedy = "Give the time of the save with its offset, such as 2026-11-25T10:40+01:00"
            raise BadValue("time of the save", came, "a time with its offset from UTC", remedy)
        if not isinstance(self.by, str) or not self.by.strip() or len(self.by) > LONGEST_TEXT:
            came = repr(self.by) if isinstance(self.by, str) and self.by.strip() else "empty"
            raise BadValue("name of who saves", came, "a name", "Name the conservator of the treatment")

    @property
    def name(self) -> str:
        """Who saved, as it stands in a cell."""
        return guard_text(self.by)

    @property
    def saved_at(self) -> str:
        """When, as it stands in a cell."""
        return self.at.isoformat()


def draft_rows(given: GivenRows) -> dict[str, list[TextRow]]:
    """Check rows against the schema and write their cells as text.

    Parameters
    ----------
    given : mapping of table name to rows
        Each row a mapping of column to value; it may carry ``replaces``.

    Returns
    -------
    dict of table name to rows of text
        In the order of the schema, without tables that got no rows.

    Raises
    ------
    RecordError
        With every fault of every row at once.
    BadValue
        There is nothing to save.
    """
    faults: list[Fault] = [
        Fault(str(name), None, None, say_fault("is not a table of a record", ", ".join(TABLES), "Choose one"))
        for name in given
        if name not in TABLES
    ]
    drafted: dict[str, list[TextRow]] = {}
    for name, table in TABLES.items():
        for number, row in enumerate(given.get(name, ()), start=1):
            text, found = _draft_row(table, row)
            drafted.setdefault(name, []).append(text)
            faults += [NewRowFault(table.file, number, column, what) for column, what in found]
    if faults:
        raise RecordError(faults)
    if not drafted:
        raise BadValue("rows to save", "nothing", "one row or more", "Enter something first")
    return drafted


def _draft_row(table: Table, row: Mapping[str, object]) -> tuple[TextRow, Found]:
    """Write the cells of a row, and say which of them cannot be saved."""
    found: Found = []
    for name in row:
        if name in STAMPS:
            what = say_fault("is given", "a row without it", "Leave it out: the store fills it in")
            found.append((name, what))
        elif name not in table.header:
            own = ", ".join(column.name for column in table.own)
            what = say_fault("is not a column of this table", own, "Choose one of these")
            found.append((str(name), what))
    text: TextRow = {}
    values: dict[str, Any] = {}
    for column in table.columns:
        if column.name in STAMPS:
            continue
        try:
            text[column.name] = write_cell(column, row.get(column.name))
            values[column.name] = parse_cell(column, text[column.name])
        except CellFault as fault:
            found.append((column.name, fault.what))
    return text, found or check_row(table, values)


def find_wrong_replacements(rows: Sequence[TextRow], sheet: Sheet) -> list[Fault]:
    """List new rows that replace a row that is not there, or that is replaced already."""
    replaced = {row.replaces: row for row in sheet.rows if row.replaces is not None}
    numbers = {row.number for row in sheet.rows}
    faults: list[Fault] = []
    taken: set[int] = set()
    for number, text in enumerate(rows, start=1):
        if not text["replaces"]:
            continue
        target = int(text["replaces"])
        came = f"is {target}"
        if target in replaced:
            other = replaced[target]
            came = (
                f"is {target}, which row {other.number} replaced already, saved by {other.values['by']} "
                f"at {other.values['saved_at'].isoformat()}"
            )
            what = say_fault(came, "a current row", f"Read the table again and replace row {other.number}")
        elif target not in numbers:
            last = f"a row from 1 to {sheet.last_row}" if numbers else "blank while the table is empty"
            what = say_fault(came, last, "Name the row that is wrong")
        elif target in taken:
            what = say_fault(f"{came} in two new rows", "each row replaced once", "Leave one of them out")
        else:
            taken.add(target)
            continue
        faults.append(NewRowFault(sheet.table.file, number, "replaces", what))
    return faults


def stamp_rows(
    drafted: Mapping[str, Sequence[TextRow]], stamp: Stamp, last: Mapping[str, int], used: set[str]
) -> tuple[str, dict[str, list[TextRow]]]:
    """Give rows their numbers, time, name and the id of their save.

    The id is a digest of the rows themselves, so that the same work gives the same files.

    Parameters
    ----------
    drafted : mapping of table name to rows of text
        As :func:`draft_rows` gives them.
    stamp : Stamp
        Who saves, and when.
    last : mapping of table name to int
        Highest row number of each table.
    used : set of str
        Ids that must not come again.

    Returns
    -------
    tuple of the id and the complete rows
    """
    stamped: dict[str, list[TextRow]] = {}
    for name, rows in drafted.items():
        stamped[name] = [
            {"row": str(last[name] + k), "saved_at": stamp.saved_at, "by": stamp.name, **row}
            for k, row in enumerate(rows, start=1)
        ]
    save = digest_rows(stamped, 0)
    salt = 0
    while save in used:
        salt += 1
        save = digest_rows(stamped, salt)
    return save, {name: [{**row, "save": save} for row in rows] for name, rows in stamped.items()}
