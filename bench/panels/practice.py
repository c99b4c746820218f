"""Panels for the whole folder of exercises: work any of them, and look at a learner's item again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import ipywidgets as widgets

from bench.classroom import Practice
from bench.errors import BenchError
from bench.figures.page import Page, lead_of, verdict_tag
from bench.figures.practice import (
    answered_part,
    class_page,
    exercises_page,
    item_part,
    markers_page,
    skills_page,
)
from bench.panels.base import Panel, View
from bench.panels.exercise import build_exercise_panel
from bench.panels.fields import ChoiceField, CountField, TextField
from bench.practice.capstone import CAPSTONE, PARTS, title_of
from bench.practice.markers import MARKERS
from bench.practice.skills import Attempt
from bench.practice.task import Task
from bench.practice.told import READER
from bench.treatment.plan import Verdict
from bench.units import UnitChoice, say_count

_NONE = "There is no exercise in the folder."


def show_skills(practice: Practice) -> Page:
    """Show the learner what she can do, skill by skill."""
    return skills_page(practice.learner, practice.exercises, practice.attempts)


def show_exercises(practice: Practice) -> Page:
    """List the exercises, with links to those that have a page, and what to take up next."""
    return exercises_page(practice.exercises, practice.attempts, pages=practice.pages, faults=practice.faults)


def show_class(practice: Practice) -> Page:
    """Show a teacher her class."""
    attempts, unread = practice.class_attempts()
    return class_page(practice.exercises, attempts, unread, MARKERS)


def show_markers() -> Page:
    """List what an exercise can have marked, for whoever writes one."""
    return markers_page(MARKERS)


class ExerciseChooser:
    """Any exercise of the folder, chosen by its title, and its panel beneath.

    Parameters
    ----------
    practice : Practice
        Of the learner.
    """

    def __init__(self, practice: Practice) -> None:
        self._practice = practice
        options = [(each.title, name) for name, each in practice.exercises.items()]
        self.choice = widgets.Dropdown(options=options, description="Exercise")
        self.choice.add_class("bench-choose-exercise")
        self._place = widgets.VBox([])
        self.panel: Panel | None = None
        self.widget = widgets.VBox([self.choice, self._place])
        self.choice.observe(lambda _: self._show(), names="value")
        self._show()

    def _show(self) -> None:
        """Set the exercise that is chosen; one that cannot be set says why in its place."""
        name = self.choice.value
        self.panel = None
        try:
            if name is not None:
                self.panel = build_exercise_panel(self._practice, name)
            shown = widgets.HTML(_NONE) if self.panel is None else self.panel.widget
        except BenchError as error:
            shown = widgets.HTML(lead_of(verdict_tag(Verdict.CARE, "Cannot be set"), f"{error}", ""))
        self._place.children = (shown,)

    def _repr_mimebundle_(self, **_: object) -> dict[str, Any]:
        bundle: dict[str, Any] = self.widget._repr_mimebundle_() or {}
        title = self.choice.label or _NONE
        return {**bundle, "text/plain": f"{len(self.choice.options)} to choose from; chosen: {title}"}


@dataclass(frozen=True)
class _LookedAt:
    """An item as a learner saw it, and what she answered, if she did."""

    task: Task
    attempt: Attempt | None


def build_look_again_panel(practice: Practice) -> Panel:
    """Build the panel in which a teacher looks at any learner's item, and at what was right for it."""
    attempts, _ = practice.class_attempts()
    last = max(attempts, key=lambda each: each.at, default=None)
    exercises = practice.exercises
    known = [*exercises, *(f"{CAPSTONE}{part}" for part in PARTS if part in exercises)]
    first = last.exercise if last is not None and last.exercise in known else next(iter(known), None)

    def work(values: Mapping[str, Any], units: UnitChoice) -> _LookedAt:
        learner, name, number = values["learner"], values["exercise"], values["attempt"]
        own = [
            each
            for each in practice.class_attempts()[0]
            if (each.learner.casefold(), each.exercise, each.number) == (learner.casefold(), name, number)
        ]
        return _LookedAt(practice.task(name, number, learner=learner), own[-1] if own else None)

    def show(seen: _LookedAt, units: UnitChoice) -> View:
        task = seen.task
        tag = verdict_tag(Verdict.GO, f"Attempt {task.attempt}, {task.help}")
        say = f"{task.learner} has {task.drawn.item.title}."
        because = (
            "Drawn from her name, the exercise and the number: the same whenever it is asked for, as long "
        )
        because += "as the exercise, its marker and the copy of the bench beside it stay as they were."
        return View(lead=lead_of(tag, say, because), parts=(answered_part(seen.attempt), item_part(task)))

    return Panel(
        name="look-again",
        strip=["Look again", say_count(len({each.learner for each in attempts}), "learner")],
        fields=[
            TextField("learner", "Learner", READER if last is None else last.learner, needed="Enter a name"),
            ChoiceField("exercise", "Exercise", [(title_of(name, exercises), name) for name in known], first),
            CountField(
                "attempt", "Attempt", "3" if last is None else f"{last.number}", needed="Enter its number"
            ),
        ],
        work=work,
        show=show,
        units=practice.switch,
    )
