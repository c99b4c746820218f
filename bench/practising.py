"""The command for learners and their teachers: practise, or check exercises."""

from __future__ import annotations

import argparse
import os
import re
import sys
import time
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from bench.command_line import FINE, FOUND_WRONG, Subparsers, add_records, make_folder, say
from bench.errors import NotFound
from bench.lab import FIRST_OF_PRACTICE, WORKBOOK, open_workbook

if TYPE_CHECKING:
    from bench.practice.exercises import Exercise


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


_MISNAMED = re.compile(r"\.md\.\w+$|\.(MD|Md|mD|markdown)$")


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
    from bench.classroom import EXERCISES, look_at_exercises
    from bench.practice.checking import check_exercise
    from bench.practice.markers import MARKERS
    from bench.units import say_count

    sound, wrong = look_at_exercises(folder)
    usual = {} if folder.resolve() == EXERCISES.resolve() else look_at_exercises(EXERCISES)[0]
    faults = {name: [f"{fault}" for fault in each] for name, each in wrong.items()}
    for name in sorted({*sound, *wrong}):
        start = time.perf_counter()
        if name in sound:
            faults[name] = list(check_exercise(sound[name], MARKERS, tell=partial(_say_progress, name)))
        seconds = time.perf_counter() - start
        said = (
            say_count(len(faults[name]), "fault") if faults[name] else _say_sound(sound[name], usual, seconds)
        )
        say(f"{name}: {said}")
        for fault in faults[name]:
            say(f"    {fault}")
    misnamed = [path.name for path in sorted(folder.iterdir()) if _MISNAMED.search(path.name)]
    for path in misnamed:
        say(f"{path} is not looked at: the name of an exercise ends in .md, in small letters. Rename it.")
    if not faults and not misnamed:
        say(f"No exercise in {folder}. Copy one of the workbook's and change it.")
    return FOUND_WRONG if misnamed or any(faults.values()) else FINE


def _say_progress(name: str, number: int) -> None:
    """Say on a terminal how far the check has come; what is said is written over."""
    if sys.stderr.isatty() and number % 10 == 0:
        print(f"\r{name}: {number} items …", end="\r", file=sys.stderr, flush=True)


def _say_sound(exercise: Exercise, usual: Mapping[str, Exercise], seconds: float) -> str:
    """Say that an exercise is sound, and what of it its teacher should know."""
    from bench.practice.checking import DRAWS

    said = f"sound, {DRAWS} items in {seconds:.1f} s"
    if exercise.name in usual:
        said += "; it takes the place of the workbook's own of that name"
    if usual and exercise.skill not in {each.skill for each in usual.values()}:
        said += f"; “{exercise.skill}” is a skill that none of the workbook's own trains"
    return said
