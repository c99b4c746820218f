"""A learner's attempts at exercises: rows of a record of her own, beside the treatments."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from bench.errors import BadValue, NotFound, RecordError
from bench.practice.shapes import Judgement
from bench.practice.skills import Attempt
from bench.records.at_hand import PRACTICE
from bench.records.nouns import treatment_row
from bench.records.store import Record, look_at_treatment, open_own
from bench.treatment.rows import text_of

_LONGEST_NAME = 40


def folder_of(records: Path, learner: str) -> Path:
    """Give the folder of a learner's attempts.

    Examples
    --------
    >>> folder_of(Path("r"), "Ödön Fernhollow").name
    '_practice-odon-fernhollow'

    Raises
    ------
    BadValue
        A name without a letter.
    """
    plain = unicodedata.normalize("NFKD", learner).encode("ascii", "ignore").decode().casefold()
    name = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_LONGEST_NAME]
    if not name:
        raise BadValue("Your name", repr(learner), "a name with letters in it", "Enter your name")
    return records / f"{PRACTICE}{name}"


def open_attempts(records: Path, learner: str, *, by: str, at: datetime) -> Record:
    """Open the record of a learner's attempts for saving; it is made with the first one.

    Raises
    ------
    BadValue
        A name without a letter.
    RecordError
        It cannot be read or made.
    """
    return open_own(folder_of(records, learner), learner, by=by, at=at)


def read_attempts(folder: Path) -> tuple[Attempt, ...]:
    """Give a learner's attempts, the first one first; none where nothing was tried yet.

    Raises
    ------
    RecordError
        Her tables cannot be read whole.
    """
    try:
        record = look_at_treatment(folder)
    except NotFound:
        return ()
    learner = str(treatment_row(record)["title"])
    return tuple(_attempt(learner, row) for row in record.rows("attempts"))


def _attempt(learner: str, row: Any) -> Attempt:
    return Attempt(
        learner=learner,
        exercise=str(row["exercise"]),
        skill=str(row["skill"]),
        number=int(row["number"]),
        help=str(row["help"]),
        answer=text_of(row, "answer"),
        judged=Judgement(str(row["judged"])),
        wrong_way=text_of(row, "wrong_way"),
        hints=int(row["hints"]),
        words=text_of(row, "words"),
        at=row["done_at"],
    )


def row_of(attempt: Attempt) -> dict[str, Any]:
    """Give the row that keeps an attempt."""
    return {
        "exercise": attempt.exercise,
        "skill": attempt.skill,
        "number": attempt.number,
        "help": attempt.help,
        "answer": attempt.answer,
        "judged": str(attempt.judged),
        "wrong_way": attempt.wrong_way or None,
        "hints": attempt.hints,
        "words": attempt.words,
        "done_at": attempt.at,
    }


def attempts_of_class(folders: Iterable[Path]) -> tuple[tuple[Attempt, ...], tuple[str, ...]]:
    """Give the attempts of all learners in some folders of records.

    Parameters
    ----------
    folders : iterable of Path
        Folders of records: one where all learners work on one machine, one each in a class.

    Returns
    -------
    attempts : tuple of Attempt
        Learner by learner.
    unread : tuple of str
        Folders of learners that cannot be read, each with the reason: their attempts are missing.
    """
    found: list[Attempt] = []
    unread: list[str] = []
    for folder in folders:
        try:
            learners = sorted(folder.glob(f"{PRACTICE}*"))
        except OSError as error:
            unread.append(f"{folder.name}: {error.strerror or error}")
            continue
        for each in learners:
            try:
                found += read_attempts(each)
            except (RecordError, OSError) as error:
                unread.append(f"{each.name}: {str(error).splitlines()[0]}")
    return tuple(found), tuple(unread)
