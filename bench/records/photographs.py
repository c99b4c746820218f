"""Photographs beside the tables: files taken in untouched, each with its checksum."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from bench.errors import BadValue
from bench.records import disk
from bench.records.faults import explain_os_error
from bench.records.schema import STAGES
from bench.records.store import Record

Row = TypeVar("Row", bound=Mapping[Any, Any])

FOLDER = "photographs"
KINDS = ("jpg", "jpeg", "png", "tif", "tiff", "webp")
"""Endings of the files that are taken in."""


def checksum(data: bytes) -> str:
    """Give the SHA-256 checksum by which a file is known to be untouched."""
    return hashlib.sha256(data).hexdigest()


def waiting_files(record: Record) -> tuple[str, ...]:
    """Name the image files that lie in the folder of photographs and in no row yet."""
    folder = record.folder / FOLDER
    if not folder.is_dir():
        return ()
    known = {row["file"] for row in record.rows("photographs")}
    found = (path for path in folder.iterdir() if path.suffix.lower().lstrip(".") in KINDS)
    names = sorted(f"{FOLDER}/{path.name}" for path in found if not path.name.startswith("."))
    return tuple(name for name in names if name not in known)


def by_view(rows: Iterable[Row]) -> list[list[Row]]:
    """Put together the photographs of one view in one light, in the order of the stages."""
    views: dict[tuple[str, str], list[Row]] = {}
    for row in sorted(rows, key=lambda row: STAGES.index(row["stage"])):
        views.setdefault((row["view"], str(row["light"])), []).append(row)
    return list(views.values())


def read_file(record: Record, file: str) -> bytes:
    """Read a photograph of a record.

    Raises
    ------
    BadValue
        It is not there.
    RecordError
        It cannot be read.
    """
    data = disk.read_bytes(record.folder / file)
    if data is None:
        remedy = "Put the file back, or choose another"
        raise BadValue("photograph", file, "a file in the folder of the treatment", remedy)
    return data


def keep_file(record: Record, name: str, data: bytes) -> str:
    """Keep a photograph beside the tables, its bytes untouched, and give its place in the folder.

    A file that is there already is never written over: the same bytes are found again, others get a
    number behind their name.

    Parameters
    ----------
    record : Record
        Of the treatment; the file goes into its folder.
    name : str
        As the camera or the operator called it; made plain.
    data : bytes
        The whole file.

    Raises
    ------
    BadValue
        The name has no ending of a photograph.
    RecordError
        The folder cannot be written; nothing was kept.
    """
    stem, ending = _plain(name)
    folder = record.folder / FOLDER
    try:
        folder.mkdir(exist_ok=True)
        path, number = folder / f"{stem}.{ending}", 1
        while path.exists() and path.read_bytes() != data:
            number += 1
            path = folder / f"{stem}-{number}.{ending}"
        if not path.exists():
            disk.replace_file(path, data)
    except OSError as error:
        raise explain_os_error(error, folder, "The photograph was not kept") from error
    return f"{FOLDER}/{path.name}"


def _plain(name: str) -> tuple[str, str]:
    """Take a file name apart into a stem that every system can hold, and its ending."""
    path = Path(name)
    ending = path.suffix.lower().lstrip(".")
    if ending not in KINDS:
        allowed = f"a name that ends in {', '.join(KINDS)}"
        raise BadValue("photograph", repr(name), allowed, "Export the image in one of these formats")
    stem = re.sub(r"[^a-z0-9]+", "-", path.stem.lower()).strip("-")
    return stem[:60] or "photograph", ending
