"""The panel of an exercise: what may be committed to, what is kept, and what silly entries get."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as widgets
import pytest

from bench.classroom import Practice
from bench.panels.base import Panel
from bench.panels.exercise import build_exercise_panel
from bench.panels.fields import Field
from bench.practice.capstone import CAPSTONE, PARTS
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

    def refuses(self) -> bool:
        """Press Commit, and tell whether nothing was kept, and why was said."""
        kept = len(self.practice.attempts)
        self.button("Commit").click()
        return len(self.practice.attempts) == kept and "Nothing was kept" in self.panel.status


def _all(widget: widgets.Widget) -> list[widgets.Widget]:
    return [widget, *(inner for child in getattr(widget, "children", ()) for inner in _all(child))]


def is_seen(panel: Panel, key: str) -> bool:
    return panel.field(key).box.layout.display != "none"


def test_a_worked_example_asks_for_no_answer(tmp_path: Path) -> None:
    worked = Worked("two-days", tmp_path)
    assert not is_seen(worked.panel, "reply")
    worked.go_on()
    assert is_seen(worked.panel, "reply")
    assert worked.refuses()
    assert "give your answer first" in worked.panel.status


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
        ("pages-or-leaves", "40.5", "a whole number"),
        ("staple-decides", "1e9", "a whole number, 0 to 9999"),
    ],
)
def test_a_silly_entry_is_told_at_its_field_and_never_committed(
    name: str, silly: str, said: str, tmp_path: Path
) -> None:
    worked = Worked(name, tmp_path)
    worked.go_on()
    worked.entry("reply").widget.value = {"two-days": "9:30", "sheets-place": "6 12"}.get(name, "1")
    worked.entry("reply").widget.value = silly
    assert said in worked.panel.answer + str(
        [each.value for each in _all(worked.entry("reply").box)[1:] if hasattr(each, "value")]
    )
    assert worked.refuses()
    assert worked.practice.task(name).drawn.item.title in worked.panel.answer  # the item stays in sight


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
    assert worked.refuses()  # grounds without a decision
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


def test_an_item_that_another_window_answered_counts_once(tmp_path: Path) -> None:
    one = Worked("two-days", tmp_path)
    one.go_on()
    other = Worked("two-days", tmp_path)
    for each in (one, other):
        each.entry("reply").widget.value = "10:00"
    one.press("Commit")
    assert other.refuses()
    assert "answered in another window" in other.panel.status
    other.press("Another item")
    assert other.panel._strip()[2] == "attempt 3"


def test_a_part_of_the_capstone_opens_when_those_before_it_are_answered(tmp_path: Path) -> None:
    practice = Practice("Ada Marsh", tmp_path)
    first, second, third = (build_exercise_panel(practice, f"{CAPSTONE}{part}") for part in PARTS[:3])
    assert "First commit to an answer above: Count leaves, not pages." in second.answer
    assert practice.task(f"{CAPSTONE}{PARTS[1]}").solution.look[-1][1] not in second.answer
    assert not is_seen(second, "reply")
    first.field("reply").widget.value = "40"
    next(e for e in _all(first.widget) if isinstance(e, widgets.Button) and "Commit" in e.description).click()
    assert is_seen(second, "reply")
    assert "First commit" not in second.answer
    assert "First commit to an answer above: Decide whether to treat" in third.answer


@pytest.mark.parametrize(("unit", "said"), [("um", "1000 times too small"), ("thou", "39 times too small")])
def test_a_length_in_another_unit_is_a_slip_of_the_unit_and_no_wrong_way(
    unit: str, said: str, tmp_path: Path
) -> None:
    worked = Worked("reading-thickness", tmp_path)
    worked.go_on()
    right = worked.practice.task("reading-thickness").solution.right
    worked.entry("reply").widget.value = f"{float(right.magnitude):.3f} {unit}"  # type: ignore[union-attr]
    worked.press("Commit")
    assert said in worked.panel.answer
    assert worked.practice.attempts[-1].wrong_way == ""


@pytest.mark.parametrize("text", ["6, 12, 18", "6,12,18", "6;12;18", "18 12 6"])
def test_leaves_may_be_parted_as_people_do(text: str, tmp_path: Path) -> None:
    worked = Worked("sheets-place", tmp_path)
    worked.go_on()
    worked.entry("reply").widget.value = text
    worked.press("Commit")
    assert sorted(worked.practice.attempts[-1].answer.split()) == ["12", "18", "6"]
