"""Take back a save: nothing is deleted, new rows put back what stood before it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from bench.errors import BadValue
from bench.records.nouns import said_in
from bench.records.rules import TAKEN_BACK
from bench.records.schema import TABLES
from bench.records.store import Record
from bench.treatment.rows import Row, is_given, text_of
from bench.units import unit_label

_TABLES = ("steps", "log", "readings")
_LATELY = timedelta(hours=12)  # how long a touch is offered to be taken back after the page was opened anew


def rows_back(record: Record, save: str) -> dict[str, list[dict[str, Any]]]:
    """Give the rows that put back what stood before a save.

    A step gets the times again that it had.  A row of log or readings is replaced by one under the
    quantity ``taken back``, which no plan reads; it keeps in words what it said.

    Parameters
    ----------
    record : Record
        Of the treatment.
    save : str
        Id of the save.

    Returns
    -------
    dict of table to rows

    Raises
    ------
    BadValue
        Something that the save wrote was changed since.
    """
    found = {table: _back(record, table, save) for table in _TABLES}
    return {table: rows for table, rows in found.items() if rows}


def _back(record: Record, table: str, save: str) -> list[dict[str, Any]]:
    history = {row["row"]: row for row in record.all_rows(table)}
    current = record.rows(table)
    made = {"steps": _step_back, "log": _log_back, "readings": _reading_back}[table]
    rows = []
    for written in (row for row in history.values() if row["save"] == save):
        now = _stands_as(current, table, written)
        rows.append({**made(written, history.get(written["replaces"])), "replaces": int(now["row"])})
    return rows


def _stands_as(current: Sequence[Row], table: str, written: Row) -> Row:
    """Give the current row that says what was written; it may be a later one that was itself taken back."""
    names = [column.name for column in TABLES[table].own]
    for row in current:
        if all(
            row[name] == written[name] or not (is_given(row[name]) or is_given(written[name]))
            for name in names
        ):
            return row
    allowed = "what still stands as it was written"
    remedy = "Correct it where it was entered: the schedule panel of 05 takes each time by itself"
    raise BadValue("take back", f"something in {table} that was changed since", allowed, remedy)


def _step_back(written: Row, old: Row | None) -> dict[str, Any]:
    if old is None:
        raise BadValue("take back", "a step that is new", "a step that stood before", "Save its plan again")
    return said_in(old)


def _log_back(written: Row, old: Row | None) -> dict[str, Any]:
    common = {name: written[name] for name in ("stage", "cycle", "at")}
    return {**common, "quantity": TAKEN_BACK, "remark": f"{TAKEN_BACK}: {_say(written)}"}


def _reading_back(written: Row, old: Row | None) -> dict[str, Any]:
    said = f"{TAKEN_BACK}: {_say(written)}, {written['place']}"
    return {**said_in(written), "quantity": TAKEN_BACK, "note": said}


def _say(row: Row) -> str:
    number = f"{row['value']:g}" if is_given(row["value"]) else ""
    remark = text_of(row, "remark")
    if not number and remark:
        return remark  # the quantity is a key then
    parts = [text_of(row, "quantity"), number, unit_label(text_of(row, "unit")), remark]
    return " ".join(filter(None, parts))


def say_save(record: Record, save: str) -> str:
    """Say in words what a touch wrote, e.g. ``begun: heat under load``."""
    rows = {row["row"]: row for row in record.all_rows("steps")}
    ends, begins = [], []  # each with whether it is a wait, so that a step by hand comes first
    for row in rows.values():
        if row["save"] != save:
            continue
        before = rows.get(row["replaces"], {"actual_start": None, "actual_end": None})
        if is_given(row["actual_end"]) and not is_given(before["actual_end"]):
            ends.append((row["hands"] != "yes", row["name"]))
        elif is_given(row["actual_start"]) and not is_given(before["actual_start"]):
            begins.append((row["hands"] != "yes", row["name"]))
    said = _say_times(ends, begins)
    written = [_say(row) for table in ("log", "readings") for row in _rows_of(record, table, save)]
    return "; ".join([*said, *([f"written down: {', '.join(written)}"] if written else [])])


def _say_times(ends: list[tuple[bool, str]], begins: list[tuple[bool, str]]) -> list[str]:
    """Say what was touched; the wait that it ended or began goes without saying."""
    if ends and not min(ends)[0]:
        return [f"done: {min(ends)[1]}"]
    if begins:
        return [f"begun: {min(begins)[1]}"]
    return [f"done: {min(ends)[1]}"] if ends else []


def _rows_of(record: Record, table: str, save: str) -> list[Row]:
    return [row for row in record.all_rows(table) if row["save"] == save]


def find_last_touch(record: Record, now: datetime) -> tuple[datetime, str] | None:
    """Give when the last save of a record was made, and its id.

    None unless it was made lately and wrote nothing but times, log or readings.
    """
    saves: dict[str, tuple[datetime, set[str]]] = {}
    for table in TABLES:
        for row in record.all_rows(table):
            saves.setdefault(str(row["save"]), (row["saved_at"], set()))[1].add(table)
    if not saves:
        return None
    save = max(saves, key=lambda name: saves[name][0])
    at, tables = saves[save]
    is_only = sum(moment == at for moment, _ in saves.values()) == 1
    if not (is_only and tables <= set(_TABLES) and now - at < _LATELY) or _is_back(record, save):
        return None
    try:
        rows_back(record, save)
    except BadValue:
        return None
    return at, save


def _is_back(record: Record, save: str) -> bool:
    """Tell whether a save took another one back, or only moved what was planned."""
    if any(row["quantity"] == TAKEN_BACK for t in ("log", "readings") for row in _rows_of(record, t, save)):
        return True
    return not say_save(record, save)
