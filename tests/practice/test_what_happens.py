"""What an exercise shows once an answer is committed: a picture or a table, and words."""

import re
from html import unescape

import pytest

from bench.classroom import EXERCISES, read_exercises
from bench.figures.chart import Chart
from bench.figures.practice import PICTURES, happens, look_part, marked_lead, told_part
from bench.practice.markers import MARKERS
from bench.practice.task import set_task
from bench.units import MILLIMETRES

ALL = read_exercises(EXERCISES)
PICTURED = sorted(name for name, each in ALL.items() if MARKERS[each.marker].picture)


def test_every_picture_that_a_marker_names_can_be_drawn():
    assert {MARKERS[ALL[name].marker].picture for name in PICTURED} <= set(PICTURES)


@pytest.mark.parametrize("name", PICTURED)
def test_a_picture_shows_the_item_at_hand(name: str):
    shown = []
    for attempt in (3, 4, 5):
        part = happens(set_task(ALL[name], MARKERS, "Ada Marsh", attempt), MILLIMETRES)
        assert part is not None
        text = str(part.parts) if isinstance(part, Chart) else str(part)
        assert len(text) > 100
        shown.append(text)
    assert len(set(shown)) > 1


@pytest.mark.parametrize("name", sorted(ALL))
def test_what_went_wrong_is_told_in_few_words(name: str):
    task = set_task(ALL[name], MARKERS, "Bo Fenwright", 3)
    for way in task.ways():
        lead = unescape(re.sub("<[^>]+>", " ", marked_lead(task, task.mark(way.answer))))
        assert task.say_way(way) in lead
        assert len(lead.split()) <= 75
    assert "<li>" in told_part(task, task.mark(task.solution.right), "an answer")
    assert task.drawn.item.title in look_part(task, 0)


def test_who_goes_two_wrong_ways_at_once_is_told_of_both():
    task = set_task(ALL["write-the-report"], MARKERS, "Bo Fenwright", 3)
    right = task.solution.right
    assert isinstance(right, frozenset)
    marked = task.mark((right | {"promise", "worth"}) - {"before"})
    first, second = (task.say_way(way) for way in marked.ways)
    assert {first, second} == {task.marker.wrong[key] for key in ("promised", "named-a-value")}
    assert first in marked_lead(task, marked)
    told = unescape(told_part(task, marked, "an answer"))
    assert f"You also {second}." in told
    assert "Missing: how it was before" in told
