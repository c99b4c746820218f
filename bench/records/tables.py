"""All tables of a folder at once, for acts that concern the record as a whole."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from bench.errors import RecordError
from bench.records import disk
from bench.records.schema import FILES, SCHEMA_VERSION
from bench.records.sheet import Sheet, faults_of, read_sheet


def read_files(folder: Path) -> dict[str, bytes | None]:
    """Read the bytes of every table, the list of saves among them; None for one that is not there."""
    return {name: disk.read_bytes(folder / table.file) for name, table in FILES.items()}


def read_sheets(files: Mapping[str, bytes | None], *, version: int = SCHEMA_VERSION) -> dict[str, Sheet]:
    """Read every table strictly.

    Raises
    ------
    RecordError
        One cannot be read whole; every fault of all of them.
    """
    sheets = {name: read_sheet(files[name], table, version=version) for name, table in FILES.items()}
    if faults := faults_of(sheets):
        raise RecordError(faults)
    return sheets
