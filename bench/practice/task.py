"""A task: an exercise with the item that was drawn for one learner's attempt."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from bench.errors import BadValue
from bench.item import Format
from bench.practice.drawing import KINDS, Drawn, draw_item, seed_of
from bench.practice.exercises import Exercise
from bench.practice.marking import mark
from bench.practice.settings import MarkerSetting
from bench.practice.shapes import Judgement, Marked, Question, Reply, Solution, WrongWay
from bench.treatment.measured import NOTHING_MEASURED, MeasuredHere

Solve = Callable[[Drawn, Mapping[str, Any]], Solution]


@dataclass(frozen=True)
class Marker:
    """What marks an exercise: its question, its way to the answer, and the wrong ways that it knows.

    Attributes
    ----------
    question : Question
        What is asked.
    solve : callable
        ``solve(drawn, settings)`` gives the :class:`bench.practice.shapes.Solution` of an item.
    wrong : mapping of str to str
        Key of each wrong way to what the learner did, as it follows “you”.
    picture : str
        Which picture shows what happens: a key of :data:`bench.figures.practice.PICTURES`; empty for none.
    sometimes : frozenset of str
        Wrong ways that not every item has room for: an item is fair without them.
    settings : tuple of MarkerSetting
        What an exercise may set for it.
    formats : tuple of Format
        Items that it can mark.
    """

    question: Question
    solve: Solve
    wrong: Mapping[str, str]
    picture: str = ""
    sometimes: frozenset[str] = frozenset()
    settings: tuple[MarkerSetting, ...] = ()
    formats: tuple[Format, ...] = tuple(Format)

    @property
    def kinds(self) -> tuple[str, ...]:
        """Kinds of item that an exercise may ask for with it."""
        return tuple(kind for kind, formats in KINDS.items() if set(formats) <= set(self.formats))


class Guidance(StrEnum):
    """How much of the way is shown before an answer is asked for."""

    WORKED = "worked example"
    HALF = "half-worked"
    ALONE = "alone"


def help_for(attempt: int) -> Guidance:
    """Give how much of the way an attempt is shown: the first whole, the second half, then none."""
    return (Guidance.WORKED, Guidance.HALF)[attempt - 1] if attempt <= 2 else Guidance.ALONE


@dataclass(frozen=True)
class Task:
    """An exercise set to a learner.

    Attributes
    ----------
    exercise, marker : Exercise, Marker
        What is trained, and what marks it.
    learner : str
        By name.
    attempt : int
        1 for the first.
    drawn : Drawn
        The invented item.
    solution : Solution
        What is right for it.
    guidance : Guidance or None
        How much of the way is shown, where that does not follow from the attempt.
    """

    exercise: Exercise
    marker: Marker
    learner: str
    attempt: int
    drawn: Drawn
    solution: Solution
    guidance: Guidance | None = None

    @property
    def help(self) -> Guidance:
        """How much of the way is shown."""
        return self.guidance or help_for(self.attempt)

    @property
    def question(self) -> Question:
        """What is asked."""
        return self.marker.question

    @property
    def facts(self) -> Mapping[str, str]:
        """What fills the texts."""
        return {"title": self.drawn.item.title, **self.solution.facts}

    def say(self, text: str) -> str:
        """Fill one of the texts of the exercise with the numbers of this item."""
        return self.exercise.fill(text, self.facts)

    def shown_steps(self) -> tuple[str, ...]:
        """Give the steps of the way that are shown before an answer: all, the first half, or none."""
        steps = self.solution.steps
        half = steps[: (len(steps) + 1) // 2]
        return {Guidance.WORKED: steps, Guidance.HALF: half, Guidance.ALONE: ()}[self.help]

    def ways(self) -> tuple[WrongWay, ...]:
        """Give the wrong ways that the exercise looks for, as they come out for this item."""
        return tuple(way for way in self.solution.wrong if way.key in self.exercise.wrong)

    def say_way(self, way: WrongWay) -> str:
        """Say what a learner did who went a wrong way, as it follows “you”."""
        return self.marker.wrong[way.key]

    def mark(self, reply: Reply) -> Marked:
        """Mark an answer; only the wrong ways that the exercise names are recognised."""
        return mark(self.question, replace(self.solution, wrong=self.ways()), reply)


_TRIES = 60
"""Items that are drawn before an exercise is given up: one in a few is fair."""


def set_task(
    exercise: Exercise,
    markers: Mapping[str, Marker],
    learner: str,
    attempt: int,
    *,
    measured: MeasuredHere = NOTHING_MEASURED,
) -> Task:
    """Draw the item of an attempt, the same one whenever it is asked for.

    Parameters
    ----------
    exercise : Exercise
        As its teacher wrote it.
    markers : mapping of str to Marker
        Those that there are.
    learner : str
        By name.
    attempt : int
        1 for the first.
    measured : MeasuredHere
        What a bench measured of itself, where the teacher has it used.

    Raises
    ------
    BadValue
        No fair item was found: every one of many is right by a wrong way too.
    """
    marker = markers[exercise.marker]
    for number in range(_TRIES):
        seed = seed_of(learner, exercise.name, attempt) + number
        drawn = draw_item(exercise.item, seed, level=attempt - 1, measured=measured)
        task = Task(exercise, marker, learner, attempt, drawn, marker.solve(drawn, exercise.settings))
        if _is_fair(task):
            return task
    own = "".join(
        f", or leave {each.key} as usual" for each in marker.settings if each.key in exercise.settings
    )
    remedy = f"Ask for another kind of item, leave out a wrong way that is right as often as not{own}"
    raise BadValue(exercise.name, "without a fair item", "one where wrong ways lead elsewhere", remedy)


def try_out(name: str, marker: Marker) -> Task:
    """Draw any item for a marker, with no exercise about it: for the names that it fills."""
    exercise = Exercise(name, "", "", marker.kinds[0], name, (), (), (), 0, {}, "", "", "", 0)
    return set_task(exercise, {name: marker}, "", 1)


def _is_fair(task: Task) -> bool:
    """Tell whether each wrong way of the exercise leads to an answer of its own that is not right."""
    ways = task.ways()
    if set(task.exercise.wrong) - {way.key for way in ways} - task.marker.sometimes:
        return False
    return all(is_told(task, way) for way in ways)


def is_told(task: Task, way: WrongWay) -> bool:
    """Tell whether the answer of a wrong way is marked as that way and no other."""
    marked = task.mark(way.answer)
    return marked.judged is Judgement.WRONG and marked.wrong is not None and marked.wrong.key == way.key
