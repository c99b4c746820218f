"""An exercise in plain lines, as a printed page has it; and which wrong ways an item may do without."""

from dataclasses import replace

import pytest

from bench.classroom import EXERCISES, read_exercises
from bench.errors import BadValue
from bench.practice.markers import MARKERS
from bench.practice.task import set_task
from bench.practice.told import READER, say_reply, say_task
from bench.units import Q_

ALL = read_exercises(EXERCISES)


@pytest.mark.parametrize("name", sorted(ALL))
def test_it_names_the_item_the_answer_and_every_wrong_way(name: str):
    task = set_task(ALL[name], MARKERS, READER, 3)
    first, *ways = say_task(task).splitlines()
    assert first.startswith(f"{task.drawn.item.title}: ")
    assert len(ways) == len(task.ways())
    assert all(line.startswith("  who ") and line.endswith(", wrong") for line in ways)


@pytest.mark.parametrize(
    ("name", "reply", "words"),
    [
        ("pages-or-leaves", Q_(62.0, ""), "62"),
        ("reading-thickness", Q_(0.19, "mm"), "0.19 mm"),
        ("reading-thickness", Q_(-0.0099999, "mm"), "-0.01 mm"),
        ("two-days", Q_(12.5, "hour"), "12:30"),
        ("sheets-place", (6, 12, 18), "6 12 18"),
        ("cleaning-tools", "brush", "soft hair brush"),
        ("intake-gates", frozenset({"tape", "hold"}), "hold; against it: tape"),
        ("intake-gates", frozenset[str](), "none"),
    ],
)
def test_answers_are_written_as_a_person_would(name: str, reply: object, words: str):
    assert say_reply(set_task(ALL[name], MARKERS, READER, 3).question, reply) == words  # type: ignore[arg-type]


def test_an_item_may_do_without_a_way_that_only_some_have_room_for():
    always = replace(MARKERS["tools"], sometimes=frozenset())
    with pytest.raises(BadValue, match="fair item"):  # no surface has all of them at once
        set_task(ALL["cleaning-tools"], {"tools": always}, READER, 3)
    task = set_task(ALL["cleaning-tools"], MARKERS, READER, 3)
    assert {way.key for way in task.ways()} < set(ALL["cleaning-tools"].wrong)
