"""The command line: ``python -m bench …``."""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeAlias

from bench import __version__
from bench.errors import BadValue, BenchError, NotFound, RecordError
from bench.lab import WORKBOOK, open_workbook

Subparsers: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"

SAMPLES = Path(__file__).resolve().parent.parent / "sample_records"
FINE, FOUND_WRONG, WRONG_USE = 0, 1, 2
_EPILOG = """\
exit codes:
  0  fine
  1  something was found wrong (a record that cannot be read, a server that did not start)
  2  wrong use of the command (an unknown name, a bad value)
"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        The words after ``python -m bench``; those of this process if left out.
    """
    options = build_parser().parse_args(arguments)
    run: Callable[[argparse.Namespace], int] = options.run
    try:
        return run(options)
    except RecordError as error:
        print(error, file=sys.stderr)
        return FOUND_WRONG
    except BenchError as error:
        print(error, file=sys.stderr)
        return WRONG_USE


def build_parser() -> argparse.ArgumentParser:
    """Build the parser; every command adds itself in a function of its own."""
    parser = argparse.ArgumentParser(
        prog="python -m bench",
        description="Workbook for cleaning, humidifying and pressing paper periodicals.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"bench {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    _add_open(commands)
    return parser


def _add_records(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--records",
        metavar="DIR",
        type=Path,
        default=Path("records"),
        help="folder that holds the treatments, one folder each (default: records)",
    )


def _add_open(commands: Subparsers) -> None:
    parser = commands.add_parser(
        "open",
        help="open the workbook in a browser",
        description="Open the workbook in a browser. It is served on 127.0.0.1 behind a token, to this "
        "machine only, until you stop it with Ctrl-C. Nothing is sent anywhere.",
    )
    _add_records(parser)
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--treatment", metavar="NAME", help="treatment in that folder to work on")
    which.add_argument(
        "--sample",
        metavar="NAME",
        help="invented treatment to try things out on: it is copied into the folder, unless it is there "
        "already, and opened",
    )
    parser.add_argument("--no-browser", action="store_true", help="only print the address")
    parser.add_argument("--port", type=int, metavar="N", help="port to serve on (default: a free one)")
    parser.add_argument(
        "--workbook",
        metavar="DIR",
        type=Path,
        default=WORKBOOK,
        help="folder of notebooks to serve, for a copy of your own (default: the project's)",
    )
    parser.set_defaults(run=_open)


def _open(options: argparse.Namespace) -> int:
    records = _make_folder(options.records)
    treatment = options.treatment
    if options.sample is not None:
        treatment = options.sample
        copy_sample(treatment, records)
    elif treatment is not None and not (records / treatment).is_dir():
        raise NotFound(
            "treatment", repr(treatment), _names(records), "Choose one of these, or another --records"
        )
    return open_workbook(
        records=records,
        treatment=treatment,
        browser=not options.no_browser,
        port=options.port,
        workbook=options.workbook.resolve(),
    )


def copy_sample(name: str, records: Path) -> Path:
    """Copy a sample treatment into a folder of records, unless it is there already.

    Parameters
    ----------
    name : str
        Name of a folder in ``sample_records``.
    records : Path
        Folder that holds the treatments; it exists.

    Returns
    -------
    Path
        Folder of the copy.

    Raises
    ------
    NotFound
        There is no such sample.
    """
    if name not in _folders(SAMPLES):
        raise NotFound("sample", repr(name), _names(SAMPLES), "Choose one of these")
    target = records / name
    if not target.exists():
        # Copied beside it first: a copy that is cut short is never taken for a treatment.
        with tempfile.TemporaryDirectory(prefix=".copy-", dir=records) as unfinished:
            shutil.copytree(SAMPLES / name, Path(unfinished) / name)
            (Path(unfinished) / name).rename(target)
    return target


def _make_folder(records: Path) -> Path:
    try:
        records.mkdir(parents=True, exist_ok=True)
        tempfile.TemporaryFile(dir=records).close()
    except OSError as error:
        came = f"{records} ({error.strerror})"
        raise BadValue("folder for records", came, "a folder that can be written", "Choose another") from None
    return records.resolve()


def _folders(place: Path) -> list[str]:
    if not place.is_dir():
        return []
    return sorted(entry.name for entry in place.iterdir() if entry.is_dir() and entry.name[0] not in "._")


def _names(place: Path) -> str:
    return ", ".join(_folders(place)) or f"none: {place} holds no treatment"


if __name__ == "__main__":
    sys.exit(main())
