"""The panel of an exercise: what may be committed to, what is kept, and what silly entries get."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as widgets
import pytest

from bench.classroom import Practice
from bench.panels.base import Panel
from bench.panels.exercise import build_exercise_panel
from bench.panels.fields import Field
from bench.practice.shapes import Judgement


class Worked:
    """An exercise in a learner's hands."""

    def __init__(self, name: str, records: Path) -> None:
        self.practice = Practice("Ada Marsh", records)
        self.name, self.panel = name, build_exercise_panel(self.practice, name)

    def button(self, words: str) -> widgets.Button:
        found = [each for each in _all(self.panel.widget) if isinstance(each, widgets.Button)]
        return next(each for each in found if words in each.description)

    def press(self, words: str) -> None:
        assert not self.button(words).disabled, words
        self.button(words).click()

    def go_on(self) -> None:
        """Read the worked example, and take an item of one's own."""
        self.press("read it")
        self.press("Another item")

    def entry(self, key: str) -> Field:
        return self.panel.field(key)

    @property
    def can_commit(self) -> bool:
        return not self.button("Commit").disabled


def _all(widget: widgets.Widget) -> list[widgets.Widget]:
    return [widget, *(inner for child in getattr(widget, "children", ()) for inner in _all(child))]


def is_seen(panel: Panel, key: str) -> bool:
    return panel.field(key).box.layout.display != "none"


def test_a_worked_example_asks_for_no_answer(tmp_path: Path) -> None:
    worked = Worked("two-days", tmp_path)
    assert not is_seen(worked.panel, "reply")
    worked.go_on()
    assert is_seen(worked.panel, "reply")
    assert not worked.can_commit


@pytest.mark.parametrize(
    ("name", "silly", "said"),
    [
        ("two-days", "2pm", "allowed is a time of day, 00:00 to 23:59. Write it like 08:00."),
        ("two-days", "25:00", "allowed is a time of day"),
        ("chamber-hours", "-3", "allowed is 0 h or more"),
        ("chamber-hours", "soon", "allowed is a number"),
        ("reading-thickness", "0,12", "decimal"),
        ("let-go", "60 mm", "%"),
        ("pages-or-leaves", "-5", "allowed is 0 or more"),
        ("sheets-place", "6 12 x", "allowed is"),
        ("sheets-place", "0 6 12", "whole numbers of leaves, from 1"),
        ("sheets-place", "6.5 12", "whole numbers of leaves, from 1"),
    ],
)
def test_a_silly_entry_is_told_at_its_field_and_never_committed(
    name: str, silly: str, said: str, tmp_path: Path
) -> None:
    worked = Worked(name, tmp_path)
    worked.go_on()
    worked.entry("reply").widget.value = {"two-days": "9:30", "sheets-place": "6 12"}.get(name, "1")
    assert worked.can_commit
    worked.entry("reply").widget.value = silly
    assert said in worked.panel.answer + str(
        [each.value for each in _all(worked.entry("reply").box)[1:] if hasattr(each, "value")]
    )
    assert not worked.can_commit
    assert worked.practice.task(name).drawn.item.title in worked.panel.answer  # the item stays in sight
    worked.button("Commit").click()  # as a key that was pressed too late
    assert len(worked.practice.attempts) == 1  # the worked example alone


def test_an_answer_is_kept_once_and_stands_as_it_was_given(tmp_path: Path) -> None:
    worked = Worked("two-days", tmp_path)
    worked.go_on()
    worked.entry("reply").widget.value = "10.05"
    worked.press("Commit")
    worked.button("Commit").click()
    assert [each.answer for each in worked.practice.attempts] == ["", "10:05"]
    assert worked.entry("reply").widget.disabled
    assert worked.entry("words").widget.disabled
    worked.press("Another item")
    assert not worked.entry("reply").widget.disabled
    assert worked.entry("reply").widget.value == ""


def test_a_decision_is_chosen_once_and_its_grounds_are_ticked(tmp_path: Path) -> None:
    worked = Worked("intake-gates", tmp_path)
    worked.go_on()
    worked.entry("reply-tape").widget.value = True
    assert not worked.can_commit  # grounds without a decision
    right = worked.practice.task("intake-gates").solution.right
    assert isinstance(right, frozenset)
    decision = next(key for key in ("treat", "hold", "refer") if key in right)
    worked.panel.fill(
        {"reply": decision, "reply-tape": False, **{f"reply-{key}": True for key in right - {decision}}}
    )
    worked.press("Commit")
    assert worked.practice.attempts[-1].judged is Judgement.RIGHT


def test_who_goes_two_wrong_ways_reads_of_both(tmp_path: Path) -> None:
    worked = Worked("write-the-report", tmp_path)
    worked.go_on()
    right = worked.practice.task("write-the-report").solution.right
    assert isinstance(right, frozenset)
    worked.panel.fill({f"reply-{key}": True for key in (*right, "promise", "worth")})
    worked.press("Commit")
    assert "You also named what the item is worth now" in worked.panel.answer


def test_hints_come_one_by_one_and_are_noted(tmp_path: Path) -> None:
    worked = Worked("chamber-hours", tmp_path)
    worked.go_on()
    hints = worked.practice.exercises["chamber-hours"].hints
    for number in range(len(hints)):
        worked.press("A hint")
        assert worked.panel.answer.count("Hint: ") == number + 1
    assert worked.button("A hint").disabled
    worked.entry("reply").widget.value = "1"
    worked.press("Commit")
    assert worked.practice.attempts[-1].hints == len(hints)
