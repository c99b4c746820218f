"""The classroom: what a page of practice needs at its start, the learner, her attempts and the exercises.

The learner is named by ``BENCH_LEARNER``, or by the account under which a class works, or by herself.
Without a folder of records what is tried is kept in a scratch folder and thrown away.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Mapping
from datetime import datetime
from functools import cached_property
from pathlib import Path

from bench.desk import records_folder
from bench.errors import Fault, NotFound, RecordError
from bench.leftovers import own, sweep
from bench.panels.base import UnitSwitch
from bench.practice.exercises import Exercise, read_exercise
from bench.practice.markers import MARKERS
from bench.practice.shapes import Marked
from bench.practice.skills import Attempt
from bench.practice.task import Task, set_task
from bench.records import disk
from bench.records.attempts import attempts_of_class, folder_of, open_attempts, read_attempts, row_of
from bench.records.bench_record import measured_beside
from bench.records.clock import now
from bench.treatment.measured import NOTHING_MEASURED, MeasuredHere

EXERCISES = Path(__file__).resolve().parent.parent / "workbook" / "practice"
NOBODY = "Apprentice"
_SCRATCH = "bench-practice-"
_OWN_BENCH = "own-bench.txt"
"""In the folder of exercises: where it stands, exercises reckon with what the bench measured of itself."""


class Practice:
    """One learner at her exercises.

    Parameters
    ----------
    learner : str
        By name.
    records : Path
        Folder of records.
    exercises : Path
        Folder of exercises.
    is_scratch : bool
        Whether attempts are thrown away.
    clock : callable
        Gives the time; this machine's by default.
    """

    def __init__(
        self,
        learner: str,
        records: Path,
        *,
        exercises: Path = EXERCISES,
        is_scratch: bool = False,
        clock: Callable[[], datetime] | None = None,
    ) -> None:
        self.learner, self.records, self.folder = learner, records, exercises
        self.is_scratch = is_scratch
        self.now = clock or now
        self.switch = UnitSwitch()

    def __repr__(self) -> str:
        kept = "nothing is kept" if self.is_scratch else "attempts are kept"
        return f"Practice of {self.learner}, {kept}"

    @cached_property
    def exercises(self) -> dict[str, Exercise]:
        """Every exercise of the folder by its name.

        Raises
        ------
        RecordError
            An exercise has a part missing or wrong; all of it, in all files.
        """
        return read_exercises(self.folder)

    @property
    def attempts(self) -> tuple[Attempt, ...]:
        """What this learner has tried, the first attempt first."""
        return read_attempts(folder_of(self.records, self.learner))

    @property
    def measured(self) -> MeasuredHere:
        """What the bench measured of itself, where the teacher has exercises reckon with it."""
        if not (self.folder / _OWN_BENCH).is_file():
            return NOTHING_MEASURED
        return measured_beside(self.records / "any", self.now())

    def task(self, name: str, attempt: int | None = None) -> Task:
        """Set an exercise: the attempt that comes next, or any that is asked for.

        Raises
        ------
        NotFound
            No exercise of that name.
        BadValue
            No fair item could be drawn.
        """
        if name not in self.exercises:
            allowed = ", ".join(sorted(self.exercises)) or "none here"
            raise NotFound("exercise", repr(name), allowed, "Choose one of these")
        tried = sum(each.exercise == name for each in self.attempts)
        return set_task(
            self.exercises[name], MARKERS, self.learner, attempt or tried + 1, measured=self.measured
        )

    def save(self, task: Task, marked: Marked, *, answer: str, hints: int, words: str) -> Attempt:
        """Keep an attempt.

        Raises
        ------
        RecordError
            It could not be written; nothing was.
        """
        attempt = Attempt(
            learner=self.learner,
            exercise=task.exercise.name,
            skill=task.exercise.skill,
            number=task.attempt,
            help=str(task.help),
            answer=answer,
            judged=marked.judged,
            wrong_way=marked.wrong.key if marked.wrong else "",
            hints=hints,
            words=words,
            at=self.now(),
        )
        record = open_attempts(self.records, self.learner, by=self.learner, at=attempt.at)
        record.save({"attempts": [row_of(attempt)]}, by=self.learner, at=attempt.at)
        return attempt

    def class_attempts(self) -> tuple[tuple[Attempt, ...], tuple[str, ...]]:
        """Give the attempts of the whole class, and what of it cannot be read."""
        return attempts_of_class(class_folders(self.records))


def read_exercises(folder: Path) -> dict[str, Exercise]:
    """Read every exercise of a folder: files that end in ``.md`` and begin with front matter.

    Raises
    ------
    RecordError
        Everything that is missing or wrong, in all of them.
    """
    found: dict[str, Exercise] = {}
    faults: list[Fault] = []
    for path in sorted(folder.glob("*.md")):
        content = disk.read_bytes(path) or b""
        try:
            text = content.decode("utf-8-sig", errors="replace")
            found[path.stem] = read_exercise(text, path.stem, MARKERS)
        except RecordError as error:
            faults += error.faults
    if faults:
        raise RecordError(faults)
    return found


def class_folders(records: Path) -> list[Path]:
    """Give the folders of records of a class: all in the folder that ``BENCH_CLASS`` names, else one's own."""
    named = os.environ.get("BENCH_CLASS")
    if not named:
        return [records]
    return [path for path in sorted(Path(named).iterdir()) if path.is_dir()] if Path(named).is_dir() else []


def learner_named(environment: Mapping[str, str] = os.environ) -> str:
    """Give the learner's name as the machine or the class knows it; empty if neither does."""
    return environment.get("BENCH_LEARNER") or environment.get("JUPYTERHUB_USER") or ""


def open_practice(learner: str = "") -> Practice:
    """Open the practice of a learner.

    Parameters
    ----------
    learner : str
        By name; by default as the machine or the class knows her, else an apprentice without a name.
    """
    folder = records_folder()
    name = learner or learner_named() or NOBODY
    if folder is not None:
        return Practice(name, folder)
    sweep(_SCRATCH)
    home = Path(tempfile.mkdtemp(prefix=_SCRATCH))
    own(home)
    return Practice(name, home, is_scratch=True)
