"""What all commands share: exit codes, plain output, and how a treatment is named."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path
from typing import TypeAlias

from bench.errors import BadValue, NotFound

Subparsers: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"
FINE, FOUND_WRONG, WRONG_USE = 0, 1, 2
_WORTH_SAYING = 100  # treatments to be read
# What a terminal would take for a command to itself, but for the end of a line.
_CONTROL = {code: "\N{REPLACEMENT CHARACTER}" for code in (*range(32), *range(127, 160)) if code != 10}


def say(words: object, *, to_errors: bool = False) -> None:
    """Print words that may come from a record: what would steer the terminal is shown as a sign instead."""
    print(str(words).translate(_CONTROL), file=sys.stderr if to_errors else sys.stdout)


def say_progress(done: int, of: int) -> None:
    """Say how far the reading of many treatments is, to somebody who watches."""
    if of > _WORTH_SAYING and sys.stderr.isatty():
        end = "\n" if done == of else ""
        print(f"\rReading: {done} of {of} ...", end=end, file=sys.stderr, flush=True)


def make_output_safe() -> None:
    """Let a terminal of few letters show what it has none for as an escape, instead of ending there."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")


def close_output() -> int:
    """Write out what is still to be printed, and give the exit code: a full disk or a closed pipe is told."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:  # the reader had enough, such as head
        _drop_output()
    except OSError as error:
        _drop_output()
        say(f"The output could not be written ({error.strerror or error}).", to_errors=True)
        return FOUND_WRONG
    return FINE


def _drop_output() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def add_records(parser: argparse.ArgumentParser) -> None:
    """Add the option that names the folder of records."""
    parser.add_argument(
        "--records",
        metavar="DIR",
        type=Path,
        default=Path("records"),
        help="folder that holds the treatments, one folder each (default: records)",
    )


def add_treatment(parser: argparse.ArgumentParser) -> None:
    """Add what names one treatment: the folder of records, and its own folder in it."""
    add_records(parser)
    parser.add_argument("name", metavar="NAME", help="treatment, by the name of its folder")


def make_folder(records: Path) -> Path:
    """Give a folder for records as a full path; it is made if it is not there.

    Raises
    ------
    BadValue
        It cannot be made or written.
    """
    try:
        records.mkdir(parents=True, exist_ok=True)
        tempfile.TemporaryFile(dir=records).close()
    except OSError as error:
        came = f"{records} ({error.strerror})"
        raise BadValue("folder for records", came, "a folder that can be written", "Choose another") from None
    return records.resolve()


def find_treatment(records: Path, name: str) -> Path:
    """Give the folder of a treatment; a name never leads out of the folder of records.

    Raises
    ------
    NotFound
        There is none of that name.
    """
    if name not in folders_in(records):
        remedy = "Choose one of these, or another --records"
        raise NotFound("treatment", repr(name), names_in(records), remedy)
    return records / name


def folders_in(place: Path) -> list[str]:
    """List the folders of a place, hidden ones left out."""
    if not place.is_dir():
        return []
    return sorted(entry.name for entry in place.iterdir() if entry.is_dir() and entry.name[0] not in "._")


def names_in(place: Path) -> str:
    """List the folders of a place in words."""
    return ", ".join(folders_in(place)) or f"none: {place} holds no treatment"
