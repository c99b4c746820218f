"""Put the tables of a treatment back as a restore point holds them."""

from __future__ import annotations

import zipfile
from datetime import datetime
from pathlib import Path

from bench.errors import Fault, NotFound, RecordError
from bench.records import disk, journal
from bench.records.draft import Stamp
from bench.records.faults import say_fault
from bench.records.ledger import SaveChain, name_save
from bench.records.restore_points import RestorePoint, list_restore_points, make_restore_point
from bench.records.schema import FILES, SAVES, TREATMENT
from bench.records.sheet import Sheet, add_rows
from bench.records.tables import read_sheets
from bench.records.take_over import check_reason
from bench.records.version import find_version, refuse_newer

_LARGEST = 200_000_000
"""Bytes of one table in a restore point: more is no table of a treatment."""


def find_restore_point(folder: Path, name: str) -> RestorePoint:
    """Give the restore point with a name, or the last one for an empty name.

    Raises
    ------
    NotFound
        There is none of that name.
    """
    points = list_restore_points(folder)
    found = [point for point in points if point.path.name == name or not name]
    if not found:
        names = ", ".join(point.path.name for point in points) or "none, for none was made yet"
        raise NotFound("restore point", repr(name) if name else "not there", names, "Choose one of these")
    return found[-1]


def restore(
    folder: str | Path, name: str = "", *, by: str, at: datetime, why: str, wait: float = 10.0
) -> RestorePoint:
    """Put the tables back as they stood, all of them or none; the present ones become a restore point.

    Parameters
    ----------
    folder : str or Path
        Of the treatment.
    name : str
        Of the restore point; empty for the last one.
    by, at : str, datetime
        Who restores, and when, with offset.
    why : str
        Goes into the list of saves.
    wait : float
        Seconds to wait for another notebook that is saving.

    Returns
    -------
    RestorePoint
        The one that was put back.

    Raises
    ------
    NotFound, BadValue
        No such point; no name or no reason.
    RecordError
        The point is damaged, a newer program keeps the record, or the folder cannot be written.
    """
    stamp, path = Stamp(by, at), Path(folder)
    note = check_reason(why)
    point = find_restore_point(path, name)
    data = _read_point(point)
    version = find_version(data[TREATMENT.name])
    sheets = _read_strictly(point, data, version)
    with disk.hold_lock(path, wait=wait):
        refuse_newer(disk.read_bytes(path / TREATMENT.file))
        journal.finish(path)
        make_restore_point(path, at=at, why="before-restore")
        # A table that there was not yet stands empty again, with its header; one that may lack stays away.
        contents = {
            name: content or add_rows(None, sheets[name], ())
            for name, content in data.items()
            if content or not FILES[name].may_lack or (path / FILES[name].file).exists()
        }
        save = name_save(f"restore {point.path.name} {stamp.saved_at} {note}")
        saves = sheets[SAVES.name]
        if saves.rows:  # a record from before the list of saves stays one
            said = f"Put back as in {point.path.name}. {note}"
            lines = SaveChain(saves).add({}, save=save, by=stamp.name, saved_at=stamp.saved_at, note=said)
            contents[SAVES.name] = add_rows(contents[SAVES.name], saves, lines)
        older = min(version, find_version(disk.read_bytes(path / TREATMENT.file)))
        journal.replace_all(path, save, contents, older)
    return point


def _read_point(point: RestorePoint) -> dict[str, bytes | None]:
    """Read the tables in a restore point, with the rows of a save that waited when it was made."""
    try:
        with zipfile.ZipFile(point.path) as file:
            sizes = {info.filename: info.file_size for info in file.infolist()}
            if any(size > _LARGEST for size in sizes.values()):
                raise zipfile.BadZipFile("a table is larger than any can be")
            names = [*(table.file for table in FILES.values()), journal.JOURNAL]
            data = {name: file.read(name) for name in names if name in sizes}
    except (zipfile.BadZipFile, OSError, RuntimeError, NotImplementedError, EOFError) as error:
        what = say_fault(f"cannot be read ({error})", "a restore point as it was made", "Choose another one")
        raise RecordError([Fault(point.path.name, None, None, what)]) from error
    waiting = data.get(journal.JOURNAL)
    pending = None if waiting is None else journal.parse_journal(waiting)
    version = find_version(data.get(TREATMENT.file))
    return {
        name: journal.with_pending(data.get(table.file), table, pending, version=version)
        for name, table in FILES.items()
    }


def _read_strictly(point: RestorePoint, data: dict[str, bytes | None], version: int) -> dict[str, Sheet]:
    """Read the tables strictly; a restore point with a fault is not put back."""
    try:
        return read_sheets(data, version=version)
    except RecordError as error:
        what = "holds a table that cannot be read"
        raise RecordError([Fault(point.path.name, None, None, what), *error.faults]) from error
