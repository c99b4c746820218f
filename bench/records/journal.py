"""The journal of a save: all its rows in one file, so that several tables change together or not at all.

A save is done from the moment the journal is in place.  Whatever happens afterwards, a reader sees the
rows (:func:`with_pending`) and the next save or opening puts them into the tables (:func:`finish`).
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from bench.errors import Fault, RecordError
from bench.records import disk
from bench.records.faults import explain_os_error, say_fault
from bench.records.schema import SCHEMA_VERSION, TABLES, Table
from bench.records.sheet import append_lines, read_sheet

JOURNAL = "unfinished_save.json"


@dataclass(frozen=True)
class Pending:
    """The rows of one save, as text by column, for each table."""

    save: str
    rows: Mapping[str, Sequence[Mapping[str, str]]]

    def to_bytes(self) -> bytes:
        """Give the content of the journal."""
        content = {"schema_version": SCHEMA_VERSION, "save": self.save, "rows": self.rows}
        return json.dumps(content, ensure_ascii=False, indent=1).encode("utf-8")


def read_journal(folder: Path) -> Pending | None:
    """Read the journal of a save that is not yet in all its tables; None if there is none.

    Raises
    ------
    RecordError
        The journal cannot be read, or a newer program wrote it.
    """
    data = disk.read_bytes(folder / JOURNAL)
    if data is None:
        return None
    try:
        content = json.loads(data)
        version, save, rows = content["schema_version"], content["save"], content["rows"]
        known = set(rows) <= set(TABLES) and all(
            set(row) == set(TABLES[name].header) for name, listed in rows.items() for row in listed
        )
    except (ValueError, KeyError, TypeError, AttributeError):
        version, save, rows, known = 0, "", {}, False
    if version > SCHEMA_VERSION:
        came = f"was written by a newer program (schema {version})"
        allowed, remedy = f"schema {SCHEMA_VERSION}", "Open the treatment once with the newer program"
    elif not known:
        came, allowed = "cannot be read", "the journal of one save"
        remedy = "Keep a copy of it, move it out of the folder, and compare it with the tables"
    else:
        return Pending(save, rows)
    raise RecordError([Fault(JOURNAL, None, None, say_fault(came, allowed, remedy))])


def with_pending(data: bytes | None, table: Table, pending: Pending | None) -> bytes | None:
    """Give the content of a table with the rows of a pending save, if it lacks them.

    A table that already holds the save, or that cannot be read whole, is given as it stands.
    """
    rows = pending.rows.get(table.name) if pending else None
    if not rows or data is None or pending is None:
        return data
    sheet = read_sheet(data, table)
    if sheet.faults or sheet.holds_save(pending.save):
        return data
    return append_lines(data, sheet, rows)


def finish(folder: Path) -> None:
    """Put the rows of an unfinished save into their tables; call it under the lock.

    Nothing happens if there is none.  It may be broken off and repeated at any instant.

    Raises
    ------
    RecordError
        A table cannot be read whole or the folder cannot be written; the journal stays.
    """
    pending = read_journal(folder)
    disk.remove_temporaries(folder)
    if pending is None:
        return
    before = {name: disk.read_bytes(folder / TABLES[name].file) for name in pending.rows}
    faults = [f for name, data in before.items() for f in read_sheet(data, TABLES[name]).faults]
    if faults:
        what = "rows of an unfinished save wait in it for these tables. Mend the tables, then open again."
        raise RecordError([Fault(JOURNAL, None, None, what), *faults])
    after = {name: with_pending(data, TABLES[name], pending) for name, data in before.items()}
    changed = {
        folder / TABLES[name].file: data for name, data in after.items() if data and data != before[name]
    }
    try:
        for path, data in changed.items():
            disk.write_beside(path, data)
        settle(folder, list(changed))
    except OSError as error:
        disk.remove_temporaries(folder)
        outcome = f"The rows of an unfinished save stay safe in {JOURNAL}, and nothing else was saved"
        raise explain_os_error(error, folder, outcome) from error


def settle(folder: Path, paths: Sequence[Path]) -> None:
    """Put prepared tables in place and take the journal away."""
    for path in paths:
        disk.put_in_place(path)
    disk.sync_folder(folder)
    disk.remove(folder / JOURNAL)
    disk.sync_folder(folder)


def commit(folder: Path, pending: Pending, prepared: Mapping[Path, bytes]) -> str:
    """Carry out one save; call it under the lock, with no journal left.

    The new tables are written beside the old ones first, so that a full disk is met before anything
    has changed; then the journal is put in place, from when on the save is done; then the tables.

    Parameters
    ----------
    folder : Path
    pending : Pending
        The rows.
    prepared : mapping of Path to bytes
        The whole new content of each table.

    Returns
    -------
    str
        Empty, or a sentence if the rows are safe in the journal but not yet in their tables.

    Raises
    ------
    RecordError
        Nothing was saved.
    """
    journal = folder / JOURNAL
    safe = f"The rows are safe in {JOURNAL} and go into the tables at the next save or opening"
    try:
        for path, data in prepared.items():
            disk.write_beside(path, data)
        disk.replace_file(journal, pending.to_bytes())
    except BaseException as error:
        disk.remove_quietly(journal)
        disk.remove_temporaries(folder)
        if not isinstance(error, OSError):
            raise
        if journal.exists():  # in place, and the disk will not let it go: the save is done after all
            return str(explain_os_error(error, folder, safe))
        raise explain_os_error(error, folder) from error
    try:
        settle(folder, list(prepared))
    except OSError as error:
        return str(explain_os_error(error, folder, safe))
    return ""
