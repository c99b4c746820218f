"""The panel of learning: what was found on this bench, to be used in later plans or left."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from bench.desk import Treatment
from bench.figures.learning import constant_table, draw_found, found_table, learned_lead
from bench.figures.style import Picture
from bench.panels.base import Panel, View
from bench.panels.fields import GroupLabel, SegmentField, TextField
from bench.panels.found import lesson_of
from bench.panels.stages import Remembered
from bench.records.learned import BENCH, Learned, decision_row, fit_rows, fits_of
from bench.treatment.learning import CONSTANTS, Lesson, NothingFound, say_constant
from bench.units import UnitChoice


@dataclass(frozen=True)
class _Entered:
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
    last = Remembered(treatment, lambda: _saved_fit(treatment, number))
    saved = last()

    def work(values: Mapping[str, Any], units: UnitChoice) -> _Entered:
        return _Entered(lesson(), bool(values["use"]), str(values["reason"]))

    def show(entered: _Entered, units: UnitChoice) -> View:
        told = entered.lesson
        if isinstance(told, NothingFound):
            return View(lead=learned_lead(told), save_blocked="There is no fit to decide on yet.")
        return View(
            lead=learned_lead(told),
            parts=[_picture(told), found_table(told), constant_table(told)],
            cautions=told.cautions,
            save_says="Writes the fit to log, the decision to decisions; later plans here follow it.",
            save_blocked=_say_block(entered),
        )

    def save(entered: _Entered, values: Mapping[str, Any]) -> str:
        return treatment.save(_rows(treatment, entered, number))

    return Panel(
        name="learning",
        strip=treatment.heading("learning", number),
        fields=[
            GroupLabel("The decision"),
            SegmentField(
                "use",
                "This fit",
                [("leave it", False), ("use it", True)],
                saved is not None and saved.is_accepted,
                hint="used, it stands in for the wide ranges in every later plan of buffering on this bench",
            ),
            TextField("reason", "Why", saved.reason if saved else "", hint="needed to save"),
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save this decision",
    )


def _saved_fit(treatment: Treatment, cycle: int) -> Learned | None:
    return next((fit for fit in fits_of(treatment.record, BENCH) if fit.cycle == cycle), None)


def _picture(lesson: Lesson) -> Picture:
    drawn = draw_found(lesson)
    assert isinstance(drawn, Picture)  # something was found
    return drawn


def _say_block(entered: _Entered) -> str:
    assert isinstance(entered.lesson, Lesson)  # without findings the panel stops before
    if entered.use and not entered.lesson.is_explained:
        return "The model does not explain what was found: leave the fit, or find the slip first."
    if entered.use and not entered.lesson.found():
        return "Nothing was learned that could be used: leave it, and read more cycles."
    return "" if entered.reason else "Say why it is used or left; nothing is saved without a reason."


def _rows(treatment: Treatment, entered: _Entered, cycle: int) -> dict[str, list[dict[str, Any]]]:
    """Give the rows of fit and decision; what is saved already is not written again."""
    told, at, last = entered.lesson, treatment.now(), _saved_fit(treatment, cycle)
    assert isinstance(told, Lesson)  # without findings nothing can be saved
    saved: dict[str, list[dict[str, Any]]] = {}
    if last is None or not _is_same(last, told):
        words = f"{len(told.findings)} cycles on this bench. {told.answer}"
        saved["log"] = fit_rows(BENCH, cycle, told.found(), words=words, at=at)
    use, reason = entered.use, entered.reason
    if last is None or last.decided_at is None or (last.is_accepted, last.reason) != (use, reason):
        by = treatment.conservator
        saved["decisions"] = [decision_row(BENCH, cycle, use=use, reason=reason, by=by, at=at)]
    return saved


def _is_same(saved: Learned, told: Lesson) -> bool:
    """Tell whether a saved fit is this one, as it is shown."""
    now = told.found()
    return saved.found.keys() == now.keys() and all(
        say_constant(saved.found[name], unit) == say_constant(now[name][0], unit)
        for name, _, unit in CONSTANTS
        if name in now
    )
