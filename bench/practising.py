"""The command for learners and their teachers: practise, or check exercises."""

from __future__ import annotations

import argparse
import os
import sys
import time
from pathlib import Path

from bench.command_line import FINE, FOUND_WRONG, Subparsers, add_records, make_folder, say
from bench.errors import NotFound
from bench.lab import FIRST_OF_PRACTICE, WORKBOOK, open_workbook


def add_practise(commands: Subparsers) -> None:
    """Add the command that opens the exercises, or checks them."""
    parser = commands.add_parser(
        "practise",
        help="practise with exercises that mark themselves, or check exercises",
        description="Open the exercises in a browser, for one learner on this machine. They are served on "
        "127.0.0.1 behind a token, to this machine only, until you stop it with Ctrl-C. Nothing is sent "
        "anywhere. With --check nothing is opened: every exercise of a folder is drawn many times and each "
        "fault is told; the exit code is 1 if there is one.",
    )
    parser.add_argument(
        "--learner", metavar="NAME", help="who practises (default: you are asked; else Apprentice)"
    )
    add_records(parser)
    parser.add_argument(
        "--exercises",
        metavar="DIR",
        type=Path,
        help="folder of exercises of your own; they come beside the workbook's",
    )
    parser.add_argument(
        "--check",
        metavar="DIR",
        type=Path,
        nargs="?",
        const=WORKBOOK / "practice",
        help="check the exercises of a folder (default: the workbook's), and open nothing",
    )
    parser.add_argument("--no-browser", action="store_true", help="only print the address")
    parser.add_argument("--port", type=int, metavar="N", help="port to serve on (default: a free one)")
    parser.add_argument(
        "--as-root", action="store_true", help="serve it as the superuser too, in a container of your own"
    )
    parser.set_defaults(run=_practise)


def _practise(options: argparse.Namespace) -> int:
    if options.check is not None:
        return check_folder(_find_exercises(options.check))
    from bench.records.attempts import folder_of

    exercises = None if options.exercises is None else _find_exercises(options.exercises)
    records = make_folder(options.records)
    learner = options.learner or _ask_who()
    folder_of(records, learner)  # a name without a letter is refused before anything is served
    return open_workbook(
        records=records,
        learner=learner,
        exercises=exercises,
        browser=not options.no_browser,
        port=options.port,
        as_root=options.as_root,
        first=FIRST_OF_PRACTICE,
    )


def _ask_who() -> str:
    """Give the name of the learner: as the machine knows it, as it is typed, or a stand-in."""
    from bench.classroom import NOBODY

    named = os.environ.get("BENCH_LEARNER", "").strip()
    if named:
        return named
    if not sys.stdin.isatty():
        return NOBODY
    try:
        return input(f"Who practises? Your name, or Enter for {NOBODY}: ").strip() or NOBODY
    except EOFError:
        return NOBODY


def _find_exercises(folder: Path) -> Path:
    if not folder.is_dir():
        remedy = "Make it and put an exercise in it, or name another folder"
        raise NotFound("folder of exercises", str(folder), "a folder that exists", remedy)
    return folder.resolve()


def check_folder(folder: Path) -> int:
    """Check every exercise of a folder, tell each fault in a sentence, and give the exit code.

    Parameters
    ----------
    folder : Path
        It exists.
    """
    from bench.classroom import look_at_exercises
    from bench.practice.checking import DRAWS, check_exercise
    from bench.practice.markers import MARKERS
    from bench.units import say_count

    sound, wrong = look_at_exercises(folder)
    faults = {name: [f"{fault}" for fault in each] for name, each in wrong.items()}
    for name in sorted({*sound, *wrong}):
        start = time.perf_counter()
        if name in sound:
            faults[name] = list(check_exercise(sound[name], MARKERS))
        said = f"sound, {DRAWS} items in {time.perf_counter() - start:.1f} s"
        say(f"{name}: {said if not faults[name] else say_count(len(faults[name]), 'fault')}")
        for fault in faults[name]:
            say(f"    {fault}")
    if not faults:
        say(f"No exercise in {folder}. Copy one of the workbook's and change it.")
    return FOUND_WRONG if any(faults.values()) else FINE
