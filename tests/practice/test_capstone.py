"""The capstone: all its parts are about one item, nothing is shown, and each can be marked."""

import pytest

from bench.classroom import EXERCISES, Practice, read_exercises
from bench.errors import NotFound
from bench.practice.capstone import CAPSTONE, PARTS, SKILL, set_part
from bench.practice.markers import MARKERS
from bench.practice.shapes import Judgement
from bench.practice.task import Guidance
from bench.practice.told import say_reply

ALL = read_exercises(EXERCISES)


def parts(learner="Ada Marsh", attempt=1):
    return [set_part(part, ALL, MARKERS, learner, attempt) for part in PARTS]


@pytest.mark.parametrize("attempt", [1, 2])
def test_all_parts_are_about_one_item_and_show_nothing(attempt):
    tasks = parts(attempt=attempt)
    assert len({task.drawn.item.title for task in tasks}) == 1
    assert len({(task.drawn.item.leaves, tuple(task.drawn.read_mm["text block"])) for task in tasks}) == 1
    assert {task.help for task in tasks} == {Guidance.ALONE}
    assert all(task.shown_steps() == () for task in tasks)


def test_right_answers_are_right_and_named_ways_are_told():
    for attempt in range(1, 8):
        for task in parts("Bo Fenwright", attempt):
            assert task.mark(task.solution.right).judged is Judgement.RIGHT
            for way in task.ways():
                marked = task.mark(way.answer)
                assert marked.wrong is not None
                assert marked.wrong.key == way.key


def test_the_next_attempt_is_another_item_and_each_is_kept_under_its_own_name(tmp_path):
    practice = Practice("Ada Marsh", tmp_path)
    task = practice.task(CAPSTONE + PARTS[0])
    practice.save(
        task,
        task.mark(task.solution.right),
        answer=say_reply(task.question, task.solution.right),
        hints=0,
        words="",
    )
    (kept,) = practice.attempts
    assert (kept.exercise, kept.skill, kept.number) == (CAPSTONE + PARTS[0], SKILL, 1)
    assert practice.task(CAPSTONE + PARTS[0]).drawn.item != task.drawn.item
    assert practice.task(CAPSTONE + PARTS[1]).drawn.item == task.drawn.item


def test_a_part_that_is_not_in_the_folder_is_named():
    with pytest.raises(NotFound, match="Put its exercise back"):
        set_part(PARTS[0], {}, MARKERS, "Ada Marsh", 1)
