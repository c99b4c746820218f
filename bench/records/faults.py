"""Faults of a record in finer grades: a note that stops nothing, and a fault in a row not yet saved."""

from __future__ import annotations

import errno
from dataclasses import dataclass
from pathlib import Path

from bench.errors import Fault, RecordError


@dataclass(frozen=True)
class Note(Fault):
    """Something odd that a careful reader wants to know; nothing is stopped by it."""


@dataclass(frozen=True)
class NewRowFault(Fault):
    """Something wrong in a row that was to be saved; ``row`` counts the rows given, from 1."""

    def __str__(self) -> str:
        place = f"{self.table} new row {self.row}"
        if self.column:
            place += f" column {self.column}"
        return f"{place}: {self.what}"


def say_fault(came: str, allowed: str, remedy: str) -> str:
    """Build the sentence of a fault: what came, what is allowed, what to do."""
    return f"{came}; allowed is {allowed}. {remedy}."


def only_faults(found: list[Fault]) -> list[Fault]:
    """Leave out the notes."""
    return [fault for fault in found if not isinstance(fault, Note)]


def explain_os_error(error: OSError, folder: Path, outcome: str = "Nothing was saved") -> RecordError:
    """Turn what the operating system answered into one sentence with a remedy.

    Parameters
    ----------
    error : OSError
        As it was raised.
    folder : Path
        The folder that was to be written.
    outcome : str
        What this means for the rows, as a sentence without its full stop.

    Returns
    -------
    RecordError
        To be raised by the caller.
    """
    answer = error.strerror or type(error).__name__
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        what = (
            f"the disk is full or its quota is used up ({answer}). {outcome}: free some room and save again."
        )
    elif error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        what = (
            f"the folder cannot be written ({answer}). {outcome}: close programs that hold its files, "
            "ask for the right to write there, or choose another folder for the records."
        )
    elif error.errno in (errno.ENOENT, errno.ENOTDIR):
        what = (
            f"the folder is not there any more ({answer}). {outcome}: look whether it was moved or renamed."
        )
    else:
        what = f"the disk answered “{answer}”. {outcome}: check the disk, then save again."
    return RecordError([Fault(str(folder), None, None, what)])
