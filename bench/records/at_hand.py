"""Which treatment of a folder of records is at hand: the one that the notebooks open."""

from __future__ import annotations

from pathlib import Path

from bench.records import disk
from bench.records.faults import explain_os_error

AT_HAND = ".at-hand"
BENCH_FOLDER = "_bench"
"""Beside the treatments: the record of the bench itself.  No treatment can be called so."""
PRACTICE = "_practice-"
"""How the folder of a learner's attempts begins."""


def take_to_hand(records: Path, treatment: str) -> None:
    """Name the treatment that the notebooks open from now on.

    Raises
    ------
    RecordError
        The folder cannot be written.
    """
    path = records / AT_HAND
    try:
        disk.replace_file(path, f"{treatment}\n".encode())
    except OSError as error:
        raise explain_os_error(error, path) from error


def find_at_hand(records: Path) -> str | None:
    """Give the name of the treatment at hand; None if none was chosen or it is gone."""
    content = disk.read_bytes(records / AT_HAND)
    name = content.decode("utf-8", errors="replace").strip() if content else ""
    return name if is_within(records, name) else None


def is_within(records: Path, name: str) -> bool:
    """Tell whether a name is that of a folder in the folder of records, and leads to no other place."""
    is_plain = name not in ("", ".", "..") and Path(name).name == name
    return is_plain and (records / name).is_dir()


def bench_of(folder: Path) -> Path:
    """Give the folder of the bench's own record for the folder of a treatment."""
    return folder.parent / BENCH_FOLDER
