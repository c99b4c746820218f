"""The panel of learning: what was found on this bench, to be used in later plans or left."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any

import ipywidgets as widgets

from bench.desk import Treatment
from bench.errors import BenchError, RecordError
from bench.figures.bearing import fit_table
from bench.figures.learning import constant_table, draw_found, learned_lead
from bench.handover.learning import lesson_of
from bench.panels.base import Panel, View
from bench.panels.fields import Shown
from bench.panels.fitted import NO_REASON, decision_fields, is_saved, new_decision, saved_fit
from bench.panels.remembered import Remembered
from bench.progress import Stopped
from bench.records.learned import BENCH, fit_rows
from bench.treatment.learning import Lesson, NothingFound, NotLearned
from bench.units import UnitChoice


@dataclass(frozen=True)
class _EnteredFit:
    """What the findings say, and what was decided on it."""

    lesson: Lesson | NothingFound
    use: bool
    reason: str


def build_learning_panel(treatment: Treatment, *, cycle: int | None = None) -> Panel:
    """Build the panel.

    Parameters
    ----------
    treatment : Treatment
        At hand; findings are gathered over all treatments beside it, the decision is saved with it.
    cycle : int, optional
        The cycle just finished; by default the cycle at hand.
    """
    number = cycle or treatment.cycle
    lesson = Remembered(treatment, lambda: lesson_of(treatment))
    saved = saved_fit(treatment, BENCH, number)

    learn = widgets.Button(description="Learn from them")
    learn.add_class("bench-learn")

    def start(_: object) -> None:
        if not panel.long.is_running:
            learn.disabled = True
            panel.long.start(lambda progress: lesson_of(treatment, progress), end)

    def end(came: Future[Any]) -> None:
        learn.disabled = False
        try:
            came.result()
            lesson.forget()
            panel.refresh()
        except Stopped as stopped:
            panel.tell(f"Stopped, {stopped}. Nothing was learned; what was accepted before stays in use.")
        except (BenchError, RecordError, OSError) as error:
            panel.tell(f"Nothing was learned. {error}")

    learn.on_click(start)

    def work(values: Mapping[str, Any], units: UnitChoice) -> _EnteredFit:
        return _EnteredFit(lesson(), bool(values["use"]), str(values["reason"]))

    def show(entered: _EnteredFit, units: UnitChoice) -> View:
        told = entered.lesson
        if isinstance(told, NothingFound):
            learn.layout.display = "" if isinstance(told, NotLearned) else "none"
            return View(lead=learned_lead(told), save_blocked="There is no fit to decide on yet.")
        learn.layout.display = "none"
        return View(
            lead=learned_lead(told),
            parts=[*draw_found(told), fit_table(told.fit), constant_table(told)],
            cautions=told.cautions,
            save_says="Writes the fit to log, the decision to decisions; later plans here follow it.",
            save_blocked=_say_block(told, entered),
            save_refused=_say_refusal(told, entered),
        )

    def save(entered: _EnteredFit, values: Mapping[str, Any]) -> str:
        return treatment.save(_rows(treatment, entered, number))

    panel = Panel(
        name="learning",
        strip=treatment.heading("learning", number),
        fields=[
            Shown(learn),
            *decision_fields(
                saved, "used, it stands in for the wide ranges in every later plan of buffering on this bench"
            ),
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save this decision",
    )
    return panel


def _say_block(told: Lesson, entered: _EnteredFit) -> str:
    if not told.found():
        return "Nothing was learned, so there is nothing to decide: read more cycles."
    return "" if entered.reason else NO_REASON


def _say_refusal(told: Lesson, entered: _EnteredFit) -> str:
    if entered.use and told.found() and not told.is_explained:
        return "The model does not explain what was found: leave the fit, or find the slip first."
    return ""


def _rows(treatment: Treatment, entered: _EnteredFit, cycle: int) -> dict[str, list[dict[str, Any]]]:
    """Give the rows of fit and decision; what is saved already is not written again."""
    told, at, last = entered.lesson, treatment.now(), saved_fit(treatment, BENCH, cycle)
    assert isinstance(told, Lesson)  # without findings nothing can be saved
    saved: dict[str, list[dict[str, Any]]] = {}
    if not is_saved(last, told.found()):
        words = f"{len(told.findings)} cycles on this bench. {told.answer}"
        saved["log"] = fit_rows(BENCH, cycle, told.found(), words=words, at=at)
    decided = new_decision(treatment, BENCH, cycle, last, use=entered.use, reason=entered.reason, at=at)
    return saved | decided
