"""Commands that keep a record sound: check, take over, keep, restore."""

from __future__ import annotations

import argparse
from pathlib import Path

from bench.command_line import (
    FINE,
    FOUND_WRONG,
    Subparsers,
    add_records,
    add_treatment,
    find_treatment,
    say,
    say_progress,
)


def add_check(commands: Subparsers) -> None:
    """Add the command that looks for faults."""
    parser = commands.add_parser(
        "check",
        help="check a folder of records, or one treatment",
        description="Check every table and list each fault with its table, row and column, rows that are not "
        "as they were saved among them. Nothing is written. The exit code is 1 if there is a fault.",
    )
    add_records(parser)
    parser.add_argument("name", metavar="NAME", nargs="?", help="one treatment (default: all of the folder)")
    parser.set_defaults(run=_check)


def _check(options: argparse.Namespace) -> int:
    from bench.records.check import check_records, check_treatment
    from bench.records.faults import only_faults
    from bench.trouble import trouble_file

    if options.name is None:
        found = check_records(options.records, progress=say_progress)
    else:
        found = {options.name: check_treatment(find_treatment(options.records, options.name))}
    for name, faults in found.items():
        say(f"{name}: {'sound' if not faults else f'{len(faults)} to look at'}")
        for fault in faults:
            say(f"    {fault}")
    if not found:
        say(f"No treatment in {options.records}.")
    if trouble_file().exists():
        say(f"Faults of the workbook itself are written down in {trouble_file()}.")
    return FOUND_WRONG if any(only_faults(faults) for faults in found.values()) else FINE


def add_take_over(commands: Subparsers) -> None:
    """Add the command that lets rows count that were changed outside the workbook."""
    parser = commands.add_parser(
        "take-over",
        help="let rows count that were changed outside the workbook",
        description="Let rows that are not as they were saved count as they stand now. The list of saves "
        "notes who says so and why; the tables stay as they are, and a restore point is made first.",
    )
    add_treatment(parser)
    parser.add_argument("--by", required=True, metavar="WHO", help="who decides it")
    parser.add_argument("--why", required=True, metavar="WORDS", help="what was changed, and why")
    parser.set_defaults(run=_take_over)


def _take_over(options: argparse.Namespace) -> int:
    from bench.records.clock import now
    from bench.records.ledger import write_runs
    from bench.records.take_over import take_over

    folder = find_treatment(options.records, options.name)
    taken = take_over(folder, by=options.by, at=now(), why=options.why)
    for each in taken:
        say(f"Taken over: {each.table or 'the list of saves'}, row {write_runs(each.rows)}")
    if not taken:
        say("Every row is as it was saved: there is nothing to take over.")
    return FINE


def add_keep(commands: Subparsers) -> None:
    """Add the command that makes a restore point."""
    parser = commands.add_parser(
        "keep",
        help="make a restore point of a treatment",
        description="Keep the tables of a treatment as they stand, in a plain zip file in its folder "
        "restore_points. Photographs are not in it: they are never changed.",
    )
    add_treatment(parser)
    parser.set_defaults(run=_keep)


def _keep(options: argparse.Namespace) -> int:
    from bench.records import disk
    from bench.records.clock import now
    from bench.records.restore_points import make_restore_point

    folder = find_treatment(options.records, options.name)
    with disk.hold_lock(folder):
        say(f"Kept as {make_restore_point(folder, at=now(), why='on-demand')}")
    return FINE


def add_restore(commands: Subparsers) -> None:
    """Add the command that puts a restore point back."""
    parser = commands.add_parser(
        "restore",
        help="put the tables of a treatment back as a restore point holds them",
        description="Put all tables back as they stood, or none. What stands now becomes a restore point "
        "first, so that this can be undone. Without --by and --why the restore points are listed.",
    )
    add_treatment(parser)
    parser.add_argument("point", metavar="POINT", nargs="?", default="", help="its file (default: the last)")
    parser.add_argument("--by", metavar="WHO", help="who decides it")
    parser.add_argument("--why", metavar="WORDS", help="for what reason")
    parser.set_defaults(run=_restore)


def _restore(options: argparse.Namespace) -> int:
    from bench.records.clock import now
    from bench.records.restore import restore

    folder = find_treatment(options.records, options.name)
    if options.by is None or options.why is None:
        return _list_points(folder)
    point = restore(folder, options.point, by=options.by, at=now(), why=options.why)
    say(f"The tables of {folder.name} stand again as in {point.path.name}.")
    return FINE


def add_merge(commands: Subparsers) -> None:
    """Add the command that brings two copies of a treatment together."""
    parser = commands.add_parser(
        "merge",
        help="bring two copies of a treatment together that went apart",
        description="Add to a treatment what only another copy of its folder holds, as from a tablet and a "
        "desk. The other copy is only read, and a restore point is made first. Where both say something of "
        "the same thing, nothing is written before you say which holds: name the conflict, or all.",
    )
    add_treatment(parser)
    parser.add_argument("other", metavar="FOLDER", type=Path, help="folder of the other copy")
    parser.add_argument("--by", required=True, metavar="WHO", help="who decides it")
    for side in ("here", "there"):
        words = f"conflict in which what stands {side} holds"
        parser.add_argument(f"--{side}", action="append", default=[], metavar="CONFLICT", help=words)
    parser.set_defaults(run=_merge)


def _merge(options: argparse.Namespace) -> int:
    from bench.records.clock import now
    from bench.records.merge import merge

    folder = find_treatment(options.records, options.name)
    answers = {name: side for side in ("here", "there") for name in getattr(options, side)}
    done = merge(folder, options.other, by=options.by, at=now(), answers=answers)
    for conflict in done.open:
        say(f"Which holds? {conflict}")
    if done.open:
        say("Nothing was written. Answer each with --here or --there and its name, or all.")
        return FOUND_WRONG
    listed = ", ".join(f"{count} to {name}" for name, count in done.rows.items())
    said = f"Brought {done.saves} {'save' if done.saves == 1 else 'saves'}: {listed}."
    say(said if done.saves else "The other copy holds nothing more.")
    return FINE


def _list_points(folder: Path) -> int:
    from bench.records.restore_points import list_restore_points

    points = list_restore_points(folder)
    for point in points:
        say(f"{point.path.name}: {point.at.astimezone():%a %d %b %Y %H:%M}, {point.why.replace('-', ' ')}")
    if not points:
        say(f"There is no restore point in {folder} yet.")
    say("Put one back with its name, --by and --why.")
    return FINE
