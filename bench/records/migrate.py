"""Bring a record of an older schema to the one of this program, at the first save."""

from __future__ import annotations

from pathlib import Path

from bench.records import disk, journal
from bench.records.draft import Stamp, stamp_rows
from bench.records.gate import build_table
from bench.records.ledger import SaveChain, is_as_saved, marks_of, rows_by_save
from bench.records.restore_points import make_restore_point
from bench.records.schema import SAVES, SCHEMA_VERSION, STAMPS, TABLES, TREATMENT
from bench.records.sheet import Row, Sheet, Sheets
from bench.records.tables import read_files, read_sheets
from bench.records.version import find_version, refuse_newer


def bring_up(folder: Path, stamp: Stamp) -> bool:
    """Bring a record to the present schema if it is older; call it under the lock, with no journal left.

    Returns
    -------
    bool
        Whether it was older.

    Raises
    ------
    RecordError
        A newer program keeps it, or as for :func:`migrate`.
    """
    treatment = disk.read_bytes(folder / TREATMENT.file)
    refuse_newer(treatment)
    version = find_version(treatment)
    if version == SCHEMA_VERSION:
        return False
    migrate(folder, stamp, version)
    journal.finish(folder)
    return True


def migrate(folder: Path, stamp: Stamp, version: int) -> str:
    """Widen the tables, begin the list of saves, and note the new version; call it under the lock.

    A restore point is made first.  What was saved before goes into the list of saves if it still agrees
    with the id of its save; what does not is left out, and is told of as changed.

    Parameters
    ----------
    folder : Path
        Of the treatment.
    stamp : Stamp
        Of the save that asks for it.
    version : int
        Of the record as it stands.

    Returns
    -------
    str
        Empty, or a sentence if it is safe in the journal but not yet in the tables.

    Raises
    ------
    RecordError
        A table cannot be read whole, or the folder cannot be written; everything is as it was.
    """
    data = read_files(folder)
    sheets = read_sheets(data, version=version)
    make_restore_point(folder, at=stamp.at, why=f"before-schema-{SCHEMA_VERSION}")
    rows: dict[str, list[dict[str, str]]] = {name: [] for name in TABLES}
    used = {str(row.values["save"]) for sheet in sheets.values() for row in sheet.rows}
    last = {name: sheet.last_row for name, sheet in sheets.items()}
    save, stamped = stamp_rows({"treatment": _new_version(sheets["treatment"])}, stamp, last, used)
    rows |= stamped
    chain = SaveChain(sheets[SAVES.name])
    listed = _list_saves({name: sheets[name] for name in TABLES}, chain)
    own = chain.add(marks_of(stamped), save=save, by=stamp.name, saved_at=stamp.saved_at)
    rows[SAVES.name] = [*listed, *own]
    contents = {name: build_table(data[name], sheets[name], added) for name, added in rows.items()}
    changed = {name: content for name, content in contents.items() if content != data[name]}
    return journal.commit(folder, journal.Pending(save, rows, widens=version), changed)


def _new_version(treatment: Sheet) -> list[dict[str, str]]:
    """Give the last description of the item once more, as one of the present schema."""
    if not treatment.current:
        return []
    row = treatment.current[-1]
    text = {name: row.cells.get(name, "") for name in treatment.table.header if name not in STAMPS}
    return [{**text, "replaces": str(row.number), "schema_version": str(SCHEMA_VERSION)}]


def _list_saves(sheets: Sheets, chain: SaveChain) -> list[dict[str, str]]:
    """Write the lines of the saves that were made before there was a list of them."""
    lines = []
    for save, rows in rows_by_save(sheets).items():
        if not is_as_saved(rows, save):
            continue
        first: Row = next(iter(rows.values()))[0]
        marks = {(name, row.number): row.mark for name, listed in rows.items() for row in listed}
        lines += chain.add(marks, save=save, by=first.cells["by"], saved_at=first.cells["saved_at"])
    return lines
