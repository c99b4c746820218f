"""The command line: ``python -m bench …``."""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

from bench import __version__
from bench.command_line import (
    FINE,
    FOUND_WRONG,
    WRONG_USE,
    Subparsers,
    add_records,
    add_treatment,
    close_output,
    find_treatment,
    folders_in,
    make_folder,
    make_output_safe,
    names_in,
    say,
    say_progress,
)
from bench.errors import BadValue, BenchError, NotFound, RecordError
from bench.lab import WORKBOOK, open_workbook
from bench.mending import add_check, add_keep, add_merge, add_restore, add_take_over
from bench.practising import add_practise

SAMPLES = Path(__file__).resolve().parent.parent / "sample_records"
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
    make_output_safe()
    options = build_parser().parse_args(arguments)
    run: Callable[[argparse.Namespace], int] = options.run
    try:
        code = run(options)
    except RecordError as error:
        say(error, to_errors=True)
        code = FOUND_WRONG
    except BenchError as error:
        say(error, to_errors=True)
        code = WRONG_USE
    except OSError as error:  # a pipe that was closed, a full device, a folder that may not be read
        code = FOUND_WRONG
        if not isinstance(error, BrokenPipeError):
            where = f"{error.filename}: " if error.filename else ""
            say(f"{where}{error.strerror or error}. Nothing more was done.", to_errors=True)
    return max(code, close_output())


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
    work = (_add_open, _add_new, _add_list, _add_report)
    for add in (*work, add_check, add_take_over, add_keep, add_restore, add_merge, add_practise):
        add(commands)
    return parser


def _add_open(commands: Subparsers) -> None:
    parser = commands.add_parser(
        "open",
        help="open the workbook in a browser",
        description="Open the workbook in a browser. It is served on 127.0.0.1 behind a token, to this "
        "machine only, until you stop it with Ctrl-C. Nothing is sent anywhere.",
    )
    add_records(parser)
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
    parser.add_argument(
        "--as-root", action="store_true", help="serve it as the superuser too, in a container of your own"
    )
    parser.set_defaults(run=_open)


def _open(options: argparse.Namespace) -> int:
    records = make_folder(options.records)
    treatment = options.treatment
    if options.sample is not None:
        treatment = options.sample
        copy_sample(treatment, records)
    elif treatment is not None:
        find_treatment(records, treatment)
    if treatment is not None:
        from bench.records.at_hand import take_to_hand

        take_to_hand(records, treatment)
    return open_workbook(
        records=records,
        treatment=treatment,
        browser=not options.no_browser,
        port=options.port,
        workbook=options.workbook.resolve(),
        as_root=options.as_root,
    )


def _add_new(commands: Subparsers) -> None:
    parser = commands.add_parser(
        "new",
        help="start a new treatment",
        description="Start the record of a new treatment: a folder of tables that open in any spreadsheet. "
        "What is not known yet is filled in by the intake notebook.",
    )
    add_records(parser)
    parser.add_argument("name", metavar="NAME", help="name of its folder, such as spring-annual-1")
    parser.add_argument("--title", required=True, help="title of the item, as the owner calls it")
    parser.add_argument("--conservator", required=True, help="who is responsible for the treatment")
    parser.add_argument("--owner", default="", help="whose the item is")
    parser.add_argument(
        "--start", metavar="TIME", help="when work is to begin, such as 2026-03-02T09:00+01:00 (default: now)"
    )
    parser.add_argument("--length-unit", choices=("thou", "mm", "um"), default="mm", help="default: mm")
    parser.add_argument("--temperature-unit", choices=("degC", "degF"), default="degC", help="default: degC")
    parser.set_defaults(run=_new)


def _new(options: argparse.Namespace) -> int:
    from bench.records.clock import now
    from bench.records.store import create_treatment

    records = make_folder(options.records)
    start = now() if options.start is None else _read_time(options.start)
    description = {
        "title": options.title,
        "owner": options.owner,
        "conservator": options.conservator,
        "planned_start": start,
        "length_unit": options.length_unit,
        "temperature_unit": options.temperature_unit,
    }
    rows = {"treatment": [{key: value for key, value in description.items() if value != ""}]}
    record = create_treatment(records, options.name, rows, by=options.conservator, at=now())
    _refresh_register(records)
    say(f"Started {record.folder}")
    say(f"Go on with: {_call()} open --records {options.records} --treatment {options.name}")
    return FINE


def _call() -> str:
    """Give how this program was called, so that the line can be typed again as it stands."""
    python = Path(sys.executable)
    here = python.relative_to(Path.cwd()) if python.is_relative_to(Path.cwd()) else python
    return f"{here} -m bench"


def _read_time(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise BadValue("start", repr(text), "a time with its offset", "Write it like 2026-03-02T09:00+01:00")
    return moment


def _add_list(commands: Subparsers) -> None:
    parser = commands.add_parser(
        "list",
        help="list the treatments, where each stands and what is due",
        description="List the treatments of a folder: the stage each has reached, the next step and when "
        "it is due. A record that cannot be read is listed with its fault, and the exit code is then 1.",
    )
    add_records(parser)
    parser.set_defaults(run=_list)


def _list(options: argparse.Namespace) -> int:
    from bench.records.clock import now
    from bench.records.register import list_treatments, say_due

    frame = list_treatments(options.records, progress=say_progress)
    if frame.empty:
        say(f"No treatment in {options.records}. Start one with: {_call()} new NAME --title …")
        return FINE
    for row in frame.to_dict("records"):
        due = say_due(row["due_at"], now())
        due = due if due.startswith("overdue") else f"due {due}"
        say(f"{row['treatment_id']}: {row['title']}")
        decided = f", last decision: {row['last_decision']}" if row["last_decision"] else ""
        say(f"    stands at {row['stage_reached']}{decided}")
        say(f"    {due}: {row['next_step']}" if row["next_step"] else "    nothing is due")
        for name in ("fault", "caution"):
            if row[name]:
                say(f"    {name}: {row[name]}")
    return FOUND_WRONG if frame["fault"].any() else FINE


def _add_report(commands: Subparsers) -> None:
    parser = commands.add_parser(
        "report",
        help="write the treatment report",
        description="Write the report of one treatment as one HTML file that opens offline and prints, and "
        "as Markdown. An earlier report is never written over.",
    )
    add_treatment(parser)
    parser.add_argument(
        "--out", metavar="DIR", type=Path, help="folder for the files (default: the treatment's own)"
    )
    parser.add_argument(
        "--for",
        dest="audience",
        choices=("record", "owner"),
        default="record",
        help="the whole record, or the short form for the owner, one or two pages (default: record)",
    )
    parser.set_defaults(run=_report)


def _report(options: argparse.Namespace) -> int:
    from bench.records.clock import now
    from bench.records.nouns import treatment_row
    from bench.records.store import open_record
    from bench.writeup.report import write_report

    folder = find_treatment(options.records, options.name)
    record = open_record(folder)
    by = str(treatment_row(record).get("conservator", "not named"))
    out = folder if options.out is None else make_folder(options.out)
    for path in write_report(record, out=out, at=now(), by=by, audience=options.audience):
        say(f"Wrote {path}")
    return FINE


def _refresh_register(records: Path) -> None:
    """Bring the index up to date; a folder that cannot take it does not stop the work."""
    from bench.records.register import rebuild_register

    try:
        rebuild_register(records)
    except RecordError as error:
        say(error, to_errors=True)


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
    if name not in folders_in(SAMPLES):
        raise NotFound("sample", repr(name), names_in(SAMPLES), "Choose one of these")
    target = records / name
    if not target.exists():
        # Copied beside it first: a copy that is cut short is never taken for a treatment.
        with tempfile.TemporaryDirectory(prefix=".copy-", dir=records) as unfinished:
            shutil.copytree(SAMPLES / name, Path(unfinished) / name)
            (Path(unfinished) / name).rename(target)
    return target


if __name__ == "__main__":
    sys.exit(main())
