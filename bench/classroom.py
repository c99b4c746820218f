"""The classroom: what a page of practice needs at its start, the learner, her attempts and the exercises.

The learner is named by ``BENCH_LEARNER``, or by the account under which a class works, or by herself.
Attempts are kept in the folder of records, or where ``BENCH_ATTEMPTS`` says, so that a teacher can read them
and nothing else; without either what is tried is kept in a scratch folder and thrown away.  A teacher's own
exercises are those of the folder that ``BENCH_EXERCISES`` names; they come beside the workbook's.
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
from bench.leftovers import own as own_folder
from bench.leftovers import sweep
from bench.panels.base import UnitSwitch
from bench.practice.capstone import CAPSTONE, PARTS, set_part
from bench.practice.exercises import Exercise, read_exercise
from bench.practice.markers import MARKERS
from bench.practice.shapes import Marked
from bench.practice.skills import Attempt
from bench.practice.task import Task, set_task
from bench.records import disk
from bench.records.at_hand import BENCH_FOLDER
from bench.records.attempts import attempts_of_class, folder_of, open_attempts, read_attempts, row_of
from bench.records.bench_record import accepted_of, look_at_trials
from bench.records.clock import now
from bench.treatment.measured import NOTHING_MEASURED, MeasuredHere

EXERCISES = Path(__file__).resolve().parent.parent / "workbook" / "practice"
NOBODY = "Apprentice"
_SCRATCH = "bench-practice-"


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
    own : Path, optional
        Another folder of exercises: one of a name that both have is taken from here.
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
        own: Path | None = None,
        is_scratch: bool = False,
        clock: Callable[[], datetime] | None = None,
    ) -> None:
        self.learner, self.records = learner, records
        self.folders = (exercises,) if own is None else (exercises, own)
        self.is_scratch = is_scratch
        self.now = clock or now
        self.switch = UnitSwitch()

    def __repr__(self) -> str:
        kept = "nothing is kept" if self.is_scratch else "attempts are kept"
        return f"Practice of {self.learner}, {kept}"

    @cached_property
    def _read(self) -> tuple[dict[str, Exercise], tuple[Fault, ...]]:
        found: dict[str, Exercise] = {}
        faults: list[Fault] = []
        for folder in self.folders:
            sound, wrong = look_at_exercises(folder)
            found |= sound
            faults += [fault for each in wrong.values() for fault in each]
        return found, tuple(faults)

    @property
    def exercises(self) -> dict[str, Exercise]:
        """Every exercise that can be worked, by its name; the others are in :attr:`faults`."""
        return self._read[0]

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What is missing or wrong in exercises that can therefore not be worked."""
        return self._read[1]

    @property
    def attempts(self) -> tuple[Attempt, ...]:
        """What this learner has tried, the first attempt first."""
        return read_attempts(folder_of(self.records, self.learner))

    @property
    def measured(self) -> MeasuredHere:
        """What a bench measured of itself, where its record lies in a folder of exercises.

        A teacher puts a copy of ``_bench`` there, so that every learner's items reckon with the same numbers,
        and those of an earlier attempt come out as they were until another copy is put in its place.

        Raises
        ------
        RecordError
            That copy cannot be read: without it learners would reckon with other numbers, untold.
        """
        for folder in reversed(self.folders):
            if (folder / BENCH_FOLDER).is_dir():
                return accepted_of(look_at_trials(folder / BENCH_FOLDER), self.now())
        return NOTHING_MEASURED

    def task(self, name: str, attempt: int | None = None, *, learner: str = "") -> Task:
        """Set an exercise: the attempt that comes next, or any that is asked for, of any learner.

        Raises
        ------
        NotFound
            No exercise of that name.
        BadValue
            No fair item could be drawn.
        """
        if name.startswith(CAPSTONE):
            return self._part(name, attempt, learner or self.learner)
        if name not in self.exercises:
            allowed = ", ".join(sorted(self.exercises)) or "none here"
            raise NotFound("exercise", repr(name), allowed, "Choose one of these")
        number = attempt or 1 + sum(each.exercise == name for each in self.attempts)
        who = learner or self.learner
        return set_task(self.exercises[name], MARKERS, who, number, measured=self.measured)

    def _part(self, name: str, attempt: int | None, learner: str) -> Task:
        tried = sum(each.exercise == name for each in self.attempts)
        part = name.removeprefix(CAPSTONE)
        return set_part(part, self.exercises, MARKERS, learner, attempt or 1 + tried, measured=self.measured)

    def is_answered(self, task: Task) -> bool:
        """Tell whether an item has an answer already, such as one from another window."""
        return any(
            (each.exercise, each.number) == (task.exercise.name, task.attempt) for each in self.attempts
        )

    def waits_for(self, task: Task) -> str:
        """Give the title of the part of the capstone that comes before an item; empty if it may be worked.

        A part shows what the one before it asks for, such as the count of leaves.
        """
        name = task.exercise.name
        if not name.startswith(CAPSTONE):
            return ""
        before = PARTS[: PARTS.index(name.removeprefix(CAPSTONE))]
        done = {each.exercise.removeprefix(CAPSTONE) for each in self.attempts if each.number == task.attempt}
        open_ = [part for part in before if part in self.exercises and part not in done]
        return self.exercises[open_[0]].title if open_ else ""

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

    @property
    def pages(self) -> frozenset[str]:
        """Names of the exercises that have a page of their own in the workbook."""
        return frozenset(path.stem for path in self.folders[0].glob("*.ipynb")) & set(self.exercises)

    def class_attempts(self) -> tuple[tuple[Attempt, ...], tuple[str, ...]]:
        """Give the attempts of the whole class, and what of it cannot be read."""
        return attempts_of_class(class_folders(self.records))


def look_at_exercises(folder: Path) -> tuple[dict[str, Exercise], dict[str, tuple[Fault, ...]]]:
    """Read every exercise of a folder, each file that ends in ``.md``: those that are sound, and all faults.

    Returns
    -------
    exercises : dict of str to Exercise
        By name, in the order of the work.
    faults : dict of str to tuple of Fault
        By the name of the exercise that they are in.
    """
    found: dict[str, Exercise] = {}
    faults: dict[str, tuple[Fault, ...]] = {}
    for path in sorted(folder.glob("*.md")):
        try:
            text = (disk.read_bytes(path) or b"").decode("utf-8-sig")
            found[path.stem] = read_exercise(text, path.stem, MARKERS)
        except RecordError as error:
            faults[path.stem] = error.faults
        except UnicodeDecodeError:
            what = "is no plain text in UTF-8; save it so in your editor"
            faults[path.stem] = (Fault(path.name, None, None, what),)
        except OSError as error:
            faults[path.stem] = (Fault(path.name, None, None, f"cannot be read ({error.strerror})"),)
    in_order = sorted(found.values(), key=lambda each: (each.place, each.name))
    return {each.name: each for each in in_order}, faults


def read_exercises(folder: Path) -> dict[str, Exercise]:
    """Read every exercise of a folder.

    Raises
    ------
    RecordError
        Everything that is missing or wrong, in all of them.
    """
    found, faults = look_at_exercises(folder)
    if faults:
        raise RecordError([fault for each in faults.values() for fault in each])
    return found


def class_folders(records: Path) -> list[Path]:
    """Give the folders of a class: all in the folder that ``BENCH_CLASS`` names, else one's own."""
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
    named = os.environ.get("BENCH_ATTEMPTS")
    folder = Path(named) if named else records_folder()
    own = os.environ.get("BENCH_EXERCISES")
    exercises = Path(own) if own else None
    name = learner or learner_named() or NOBODY
    if folder is not None:
        return Practice(name, folder, own=exercises)
    sweep(_SCRATCH)
    home = Path(tempfile.mkdtemp(prefix=_SCRATCH))
    own_folder(home)
    return Practice(name, home, own=exercises, is_scratch=True)
