"""Create and open the record of a treatment."""

from __future__ import annotations

import re
import shutil
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from bench.errors import BadValue, NotFound, RecordError
from bench.records import disk, journal
from bench.records.draft import GivenRows, Stamp, draft_rows
from bench.records.faults import explain_os_error
from bench.records.gate import build_save, build_table
from bench.records.ledger import say_differences
from bench.records.record import News, Record, Saved
from bench.records.schema import FILES, SAVES, SCHEMA_VERSION, TREATMENT
from bench.records.sheet import Sheet
from bench.records.snapshot import Snapshot
from bench.records.version import explain_newer, find_version

__all__ = [
    "News",
    "Record",
    "Saved",
    "create_folder",
    "create_treatment",
    "look_at_treatment",
    "open_own",
    "open_record",
]

_Kind = TypeVar("_Kind", bound=Record)
_FOLDER_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,59}", re.ASCII)
_NOT_A_FOLDER = re.compile(r"con|prn|aux|nul|com\d|lpt\d", re.IGNORECASE)  # on Windows
_NEW = ".new-"
_REMEDY = "Choose one such as spring-annual-1"


def open_record(folder: str | Path, *, recover: bool = True) -> Record:
    """Open the record of a treatment.

    A save that was broken off is finished first, if the folder can be written; if not, its rows
    are read from the journal.

    Parameters
    ----------
    folder : str or Path
        The folder with the tables.
    recover : bool
        False to leave even a broken-off save alone, for a look that writes nothing.

    Returns
    -------
    Record
        Its ``notice`` says in a sentence if it can only be read.

    Raises
    ------
    NotFound
        No treatment there.
    """
    return _open(Record, Path(folder), recover=recover)


def look_at_treatment(folder: str | Path) -> Snapshot:
    """Open the record of a treatment as it stands now: nothing is written, and each table is read once.

    Raises
    ------
    NotFound
        No treatment there.
    """
    return _open(Snapshot, Path(folder), recover=False)


def _open(kind: type[_Kind], path: Path, *, recover: bool) -> _Kind:
    content = disk.read_bytes(path / TREATMENT.file)
    if content is None:
        remedy = "Choose a folder that holds treatment.csv; if that file was lost, put it back from a copy"
        raise NotFound("treatment", repr(str(path)), "the folder of a treatment", remedy)
    record = kind(path, schema_version=find_version(content))
    if record.is_newer:
        record.notice = str(explain_newer(record.schema_version))
    elif recover and (path / journal.JOURNAL).exists():
        try:
            with disk.hold_lock(path):
                record.notice = journal.finish(path)
        except RecordError as error:
            record.notice = str(error)
    try:
        record.look_at_all()
        if not record.is_newer:
            broken = "\n".join(map(str, record.sheet(SAVES).faults))
            record.notice = record.notice or broken or say_differences(record.differences())
    except RecordError as error:
        record.notice = record.notice or str(error)
    return record


def create_treatment(
    records_folder: str | Path, treatment_id: str, rows: GivenRows, *, by: str, at: datetime
) -> Record:
    """Start the record of a new treatment: a folder with every table, whole or not at all.

    Parameters
    ----------
    records_folder : str or Path
        Where the treatments are; it is made if it is not there.
    treatment_id : str
        Name of the new folder.
    rows : mapping of table name to rows
        First rows, one ``treatment`` row among them; its id and schema version are filled in.
    by, at : str, datetime
        Who saves and when, with offset.

    Returns
    -------
    Record

    Raises
    ------
    BadValue
        The id is no safe name for a folder or is taken.
    RecordError
        A row is wrong, or the folder cannot be written; nothing is left behind.
    """
    _check_id(treatment_id)
    return create_folder(records_folder, treatment_id, rows, by=by, at=at)


def open_own(folder: Path, title: str, *, by: str, at: datetime) -> Record:
    """Open a record that is no treatment, such as that of the bench; it is made if it is not there.

    Parameters
    ----------
    folder : Path
        Its folder, beside the treatments.
    title : str
        What it is called.
    by, at : str, datetime
        Who makes it and when, if it is not there.

    Raises
    ------
    RecordError
        It cannot be read or made.
    """
    if folder.is_dir():
        return open_record(folder)
    row = {"title": title, "conservator": by, "length_unit": "mm", "temperature_unit": "degC"}
    try:
        return create_folder(folder.parent, folder.name, {"treatment": [row]}, by=by, at=at)
    except BadValue:  # another window made it meanwhile
        return open_record(folder)


def create_folder(
    records_folder: str | Path, treatment_id: str, rows: GivenRows, *, by: str, at: datetime
) -> Record:
    """Start a record as :func:`create_treatment` does, under a name that no treatment can have."""
    stamp = Stamp(by, at)
    known = {"treatment_id": treatment_id, "schema_version": SCHEMA_VERSION}
    first = [{**known, **row} for row in rows.get("treatment", ())]
    if len(first) != 1 or first[0]["treatment_id"] != treatment_id:
        came = f"given {len(first)} times" if len(first) != 1 else repr(first[0]["treatment_id"])
        allowed = f"one, for {treatment_id}"
        raise BadValue("row of the table treatment", came, allowed, "Describe the item in one row")
    drafted = draft_rows({**rows, "treatment": first})
    empty = {name: Sheet(table, table.header) for name, table in FILES.items()}
    _, contents = build_save(drafted, stamp, dict.fromkeys(FILES), empty)
    blank = {
        name: build_table(None, empty[name], ())
        for name, table in FILES.items()
        if name not in contents and not table.may_lack
    }
    files = {FILES[name].file: data for name, data in {**contents, **blank}.items()}
    parent = Path(records_folder)
    try:
        parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise explain_os_error(error, parent) from error
    with disk.hold_lock(parent):
        _write_folder(parent, treatment_id, files)
    return open_record(parent / treatment_id)


def _write_folder(parent: Path, treatment_id: str, contents: Mapping[str, bytes]) -> None:
    building = parent / f"{_NEW}{treatment_id}"
    try:
        if building.exists():  # of one that was cut short, for nobody else holds the lock
            shutil.rmtree(building)
        if any(path.name.casefold() == treatment_id.casefold() for path in parent.iterdir()):
            allowed = f"an id that is not yet in {parent}"
            raise BadValue(
                "treatment id", repr(treatment_id), allowed, "Open that treatment or choose another id"
            )
        building.mkdir()
        for name, data in contents.items():
            disk.write_beside(building / name, data)
            disk.put_in_place(building / name)
        disk.sync_folder(building)
        building.rename(parent / treatment_id)
        disk.sync_folder(parent)
    except OSError as error:
        shutil.rmtree(building, ignore_errors=True)
        raise explain_os_error(error, parent) from error


def _check_id(treatment_id: str) -> None:
    sound = isinstance(treatment_id, str) and _FOLDER_NAME.fullmatch(treatment_id)
    if not sound:
        allowed = "1 to 60 letters without accents, digits, hyphens and underscores, a letter or digit first"
        raise BadValue("name of the folder", repr(treatment_id), allowed, _REMEDY)
    if _NOT_A_FOLDER.fullmatch(treatment_id):
        came = f"{treatment_id!r}, a name that Windows keeps for itself"
        raise BadValue("name of the folder", came, "any other name", _REMEDY)
