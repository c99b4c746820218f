"""The journal of a save: all its rows in one file, so that several tables change together or not at all.

A save is done from the moment the journal is in place.  Whatever happens afterwards, a reader sees the
rows (:func:`with_pending`) and the next save or opening puts them into the tables (:func:`finish`).  A
journal that does not fit the tables comes from another copy of the folder: it is kept aside, and told.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from bench.errors import Fault, RecordError
from bench.records import disk
from bench.records.faults import explain_os_error, say_fault
from bench.records.ledger import head_of
from bench.records.schema import FILES, SAVES, SCHEMA_VERSION, TREATMENT, Table
from bench.records.sheet import Sheet, add_rows, faults_of, read_sheet
from bench.records.version import find_version

JOURNAL = "unfinished_save.json"
ASIDE = "unfinished_save_aside_{}.json"


@dataclass(frozen=True)
class Whole:
    """The whole new content of a table, and a digest of the one it replaces (blank if there was none)."""

    was: str
    text: str

    def fits(self, data: bytes | None) -> bool:
        """Tell whether a content is the old or the new one."""
        return digest(data) in (self.was, digest(self.text.encode("utf-8")))


def digest(data: bytes | None) -> str:
    """Give the SHA-256 of a content; blank if there is none."""
    return "" if data is None else hashlib.sha256(data).hexdigest()


@dataclass(frozen=True)
class Pending:
    """One save under way.

    Attributes
    ----------
    save : str
        Its id.
    rows : mapping of table name to rows of text
        A table with no rows only gets the columns that it lacks.
    before : str
        Digest of the save before it; blank if there is none, or if it was not noted.
    version : int
        Of the schema of these rows.
    files : mapping of table name to Whole
        Tables that are replaced as they are, by a restore.
    widens : int
        Of the schema that the tables had before: until all are in place, some are as old.
    """

    save: str
    rows: Mapping[str, Sequence[Mapping[str, str]]]
    before: str = ""
    version: int = SCHEMA_VERSION
    widens: int = SCHEMA_VERSION
    files: Mapping[str, Whole] = field(default_factory=dict)

    def to_bytes(self) -> bytes:
        """Give the content of the journal."""
        content = {
            "schema_version": self.version,
            "save": self.save,
            "before": self.before,
            "widens": self.widens,
            "rows": self.rows,
            "files": {name: [whole.was, whole.text] for name, whole in self.files.items()},
        }
        return json.dumps(content, ensure_ascii=False, indent=1).encode("utf-8")


def read_journal(folder: Path) -> Pending | None:
    """Read the journal of a save that is not yet in all its tables; None if there is none.

    Raises
    ------
    RecordError
        The journal cannot be read, or a newer program wrote it.
    """
    data = disk.read_bytes(folder / JOURNAL)
    return None if data is None else parse_journal(data)


def parse_journal(data: bytes) -> Pending:
    """Read the content of a journal; as :func:`read_journal` otherwise."""
    try:
        content = json.loads(data)
        version, save, rows = content["schema_version"], content["save"], content["rows"]
        before, widens = content.get("before", ""), content.get("widens", version)
        files = {name: Whole(was, text) for name, (was, text) in content.get("files", {}).items()}
        known = set(rows) | set(files) <= set(FILES) and all(
            _holds_columns(row, FILES[name], version) for name, listed in rows.items() for row in listed
        )
        known = known and all(isinstance(text, str) for w in files.values() for text in (w.was, w.text))
        known = known and isinstance(save, str) and isinstance(before, str) and isinstance(widens, int)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        version, save, rows, before, widens, files, known = 0, "", {}, "", 0, {}, False
    if isinstance(version, int) and version > SCHEMA_VERSION:
        came = f"was written by a newer program (schema {version})"
        allowed, remedy = f"schema {SCHEMA_VERSION}", "Open the treatment once with the newer program"
    elif not known:
        came, allowed = "cannot be read", "the journal of one save"
        remedy = "Keep a copy of it, move it out of the folder, and compare it with the tables"
    else:
        whole = {name: [_complete(row, FILES[name]) for row in listed] for name, listed in rows.items()}
        return Pending(save, whole, before, version, widens, files)
    raise RecordError([Fault(JOURNAL, None, None, say_fault(came, allowed, remedy))])


def _holds_columns(row: Mapping[str, object], table: Table, version: int) -> bool:
    needed = {column.name for column in table.columns if column.since <= version}
    return needed <= set(row) <= set(table.header) and all(isinstance(text, str) for text in row.values())


def _complete(row: Mapping[str, str], table: Table) -> dict[str, str]:
    return {name: row.get(name, "") for name in table.header}


def with_pending(
    data: bytes | None, table: Table, pending: Pending | None, *, version: int = SCHEMA_VERSION
) -> bytes | None:
    """Give the content of a table with the rows of a pending save, if it lacks them.

    A table that already holds the save, that cannot be read whole, or that the save does not fit is
    given as it stands.
    """
    whole = pending.files.get(table.name) if pending else None
    if whole is not None:
        return whole.text.encode("utf-8") if whole.fits(data) else data
    rows = pending.rows.get(table.name) if pending else None
    if rows is None or pending is None:
        return data
    sheet = read_sheet(data, table, version=min(version, pending.widens))
    if sheet.faults or sheet.holds_save(pending.save) or _misfit(sheet, pending):
        return data
    return add_rows(data, sheet, rows)


def _misfit(sheet: Sheet, pending: Pending) -> str:
    """Say why a pending save does not go on from a table; empty if it does, or is in it already."""
    rows = pending.rows.get(sheet.table.name, ())
    if not rows or sheet.holds_save(pending.save):
        return ""
    numbers = [int(row["row"]) if row["row"].isdecimal() else 0 for row in rows]
    if numbers != list(range(sheet.last_row + 1, sheet.last_row + 1 + len(rows))):
        return f"{sheet.table.file} has {sheet.last_row} rows, and the save begins with row {rows[0]['row']}"
    if sheet.table is SAVES and pending.before != head_of(sheet):
        return f"it was made after another save than the last one in {sheet.table.file}"
    return ""


def finish(folder: Path) -> str:
    """Put the rows of an unfinished save into their tables; call it under the lock.

    Nothing happens if there is none.  It may be broken off and repeated at any instant.

    Returns
    -------
    str
        Empty, or a sentence if the journal did not fit and was kept aside.

    Raises
    ------
    RecordError
        A table cannot be read whole or the folder cannot be written; the journal stays.
    """
    pending = read_journal(folder)
    remove_temporaries(folder)
    if pending is None:
        return ""
    if pending.files:
        return _finish_whole(folder, pending)
    version = min(find_version(disk.read_bytes(folder / TREATMENT.file)), pending.widens)
    before = {name: disk.read_bytes(folder / FILES[name].file) for name in pending.rows}
    sheets = {name: read_sheet(data, FILES[name], version=version) for name, data in before.items()}
    if faults := faults_of(sheets):
        what = "rows of an unfinished save wait in it for these tables. Mend the tables, then open again."
        raise RecordError([Fault(JOURNAL, None, None, what), *faults])
    after = {name: with_pending(data, FILES[name], pending, version=version) for name, data in before.items()}
    why = next((why for sheet in sheets.values() if (why := _misfit(sheet, pending))), "")
    why = why or next((_unreadable(data, FILES[name]) for name, data in after.items() if data), "")
    if why:
        return _set_aside(folder, why)
    _put_in(folder, {name: data for name, data in after.items() if data and data != before[name]})
    return ""


def _finish_whole(folder: Path, pending: Pending) -> str:
    """Put tables in place that are replaced as they are."""
    now = {name: disk.read_bytes(folder / FILES[name].file) for name in pending.files}
    strange = [name for name, whole in pending.files.items() if not whole.fits(now[name])]
    if strange:
        return _set_aside(folder, f"{FILES[strange[0]].file} is not the one that was to be replaced")
    contents = {name: whole.text.encode("utf-8") for name, whole in pending.files.items()}
    _put_in(folder, {name: data for name, data in contents.items() if data != now[name]})
    return ""


def _put_in(folder: Path, contents: Mapping[str, bytes]) -> None:
    """Write the tables of an unfinished save, then take its journal away."""
    try:
        settle(folder, _prepare(folder, contents))
    except OSError as error:
        remove_temporaries(folder)
        outcome = f"The rows of an unfinished save stay safe in {JOURNAL}, and nothing else was saved"
        raise explain_os_error(error, folder, outcome) from error


def replace_all(folder: Path, save: str, contents: Mapping[str, bytes], version: int) -> str:
    """Replace tables as they are, all of them or none; call it under the lock, with no journal left.

    Parameters
    ----------
    folder : Path
        Of the treatment.
    save : str
        Id of this act.
    contents : mapping of table name to bytes
        The whole new content of each table.
    version : int
        Of the schema that they have, or that the present ones have: the older of both.

    Returns
    -------
    str
        Empty, or a sentence if they are safe in the journal but not yet in place.

    Raises
    ------
    RecordError
        Nothing was replaced.
    """
    files = {
        name: Whole(digest(disk.read_bytes(folder / FILES[name].file)), data.decode("utf-8"))
        for name, data in contents.items()
    }
    return commit(folder, Pending(save, {}, widens=version, files=files), contents)


def _unreadable(data: bytes, table: Table) -> str:
    """Say why a table could not be read with the rows of a save in it; empty if it can."""
    faults = read_sheet(data, table).faults
    return f"{faults[0]}" if faults else ""


def _set_aside(folder: Path, why: str) -> str:
    """Keep a journal that does not fit under another name, and say so."""
    taken = {path.name for path in folder.iterdir()}
    name = next(name for k in range(1, len(taken) + 2) if (name := ASIDE.format(k)) not in taken)
    try:
        disk.rename(folder / JOURNAL, folder / name)
        disk.sync_folder(folder)
    except OSError as error:
        raise explain_os_error(error, folder) from error
    return f"{name}: {say_aside(why.rstrip('.'))}"


def say_aside(why: str = "") -> str:
    """Say of a file that a save lies in it that did not fit the tables."""
    because = f" ({why})" if why else ""
    return (
        f"a save that was broken off in another copy of this folder does not fit its tables"
        f"{because}. Nothing of it was written here. Compare it with the tables, enter again what is "
        "missing, then remove it."
    )


def remove_temporaries(folder: Path) -> None:
    """Remove what an interrupted save left of tables and journal; call it under the lock only."""
    for name in (*(table.file for table in FILES.values()), JOURNAL):
        disk.remove_temporary(folder / name)


def _prepare(folder: Path, contents: Mapping[str, bytes]) -> list[Path]:
    """Write the new contents of tables beside these, and give the files that they will replace."""
    paths = {folder / FILES[name].file: data for name, data in contents.items()}
    for path, data in paths.items():
        disk.write_beside(path, data)
    return list(paths)


def settle(folder: Path, paths: Sequence[Path]) -> None:
    """Put prepared tables in place and take the journal away."""
    for path in paths:
        disk.put_in_place(path)
    disk.sync_folder(folder)
    disk.remove(folder / JOURNAL)
    disk.sync_folder(folder)


def commit(folder: Path, pending: Pending, contents: Mapping[str, bytes]) -> str:
    """Carry out one save; call it under the lock, with no journal left.

    The new tables are written beside the old ones first, so that a full disk is met before anything
    has changed; then the journal is put in place, from when on the save is done; then the tables.

    Parameters
    ----------
    folder : Path
        Of the treatment.
    pending : Pending
        The rows.
    contents : mapping of table name to bytes
        The whole new content of each table that changes.

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
        paths = _prepare(folder, contents)
        disk.replace_file(journal, pending.to_bytes())
    except BaseException as error:
        disk.remove_quietly(journal)
        remove_temporaries(folder)
        if not isinstance(error, OSError):
            raise
        if journal.exists():  # in place, and the disk will not let it go: the save is done after all
            return str(explain_os_error(error, folder, safe))
        raise explain_os_error(error, folder) from error
    try:
        settle(folder, paths)
    except OSError as error:
        return str(explain_os_error(error, folder, safe))
    return ""
