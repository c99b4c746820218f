"""What holds of every exercise in the folder: it can be drawn and solved, and marks right and wrong ways."""

import re
from typing import Any

import pytest

from bench.classroom import EXERCISES, read_exercises
from bench.practice.checking import DRAWS
from bench.practice.markers import MARKERS
from bench.practice.shapes import Judgement, Reply, ReplyKind
from bench.practice.task import Guidance, Task, set_task
from bench.sources import say_sources
from bench.units import Q_

ALL = read_exercises(EXERCISES)
EVERY = pytest.mark.parametrize("name", sorted(ALL))
MARKER = pytest.mark.parametrize("name", sorted(MARKERS))
FEW = 25


def tasks(name: str, count: int) -> list[Task]:
    """Attempts of several learners, worked, half-worked and alone."""
    return [set_task(ALL[name], MARKERS, f"Learner {n % 7}", 1 + n // 7) for n in range(count)]


def check(task: Task) -> None:
    solution = task.solution
    if task.question.kind is ReplyKind.TEXT:
        assert task.mark("some words").judged is Judgement.READ
    else:
        assert task.mark(solution.right).judged is Judgement.RIGHT
    ways = {way.key for way in task.ways()}
    assert set(task.exercise.wrong) - task.marker.sometimes <= ways <= set(task.exercise.wrong)
    for way in task.ways():
        marked = task.mark(way.answer)
        assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, way.key), way.key
        assert way.harm.endswith(".")
        assert 4 <= len(way.harm.split()) <= 60
    assert 2 <= len(solution.steps) <= 7
    assert solution.look
    for text in (task.exercise.look, task.exercise.question, task.exercise.explain, *task.exercise.hints):
        said = task.say(text)
        assert "{" not in said
        assert not re.search(r"\bnan\b|\binf\b|None", said)


@EVERY
def test_it_marks_right_answers_and_its_wrong_ways(name: str):
    for task in tasks(name, FEW):
        check(task)


@pytest.mark.slow
@EVERY
def test_it_can_be_drawn_many_times(name: str):
    titles = set()
    for task in tasks(name, DRAWS):
        check(task)
        titles.add((task.drawn.item.title, task.drawn.item.leaves))
    assert len(titles) > DRAWS / 3  # learners get items of their own


@EVERY
def test_the_same_learner_comes_back_to_her_item(name: str):
    one, other = (set_task(ALL[name], MARKERS, "Ada Marsh", 3) for _ in range(2))
    assert (one.drawn.item, one.drawn.read_mm, one.solution.right) == (
        other.drawn.item,
        other.drawn.read_mm,
        other.solution.right,
    )


@EVERY
def test_nothing_before_the_answer_gives_it_away(name: str):
    """What lies on the bench names no right answer in words, nor a number that only the way gives."""
    for task in tasks(name, FEW):
        if task.help is not Guidance.ALONE or task.question.kind is not ReplyKind.NUMBER:
            continue
        look = " ".join(value for _, value in task.solution.look)
        assert task.solution.steps[-1] not in look
        assert task.shown_steps() == ()


@EVERY
def test_it_is_written_as_exercises_are(name: str):
    exercise = ALL[name]
    assert 10 <= exercise.minutes <= 30
    assert len(exercise.hints) >= 2
    assert exercise.sources
    assert all(say_sources(source) for source in exercise.sources)
    assert "common practice" in exercise.explain or "source" in exercise.explain or exercise.sources
    assert exercise.title[0].isupper()
    assert not exercise.title.endswith(".")


def some_other_answers(task: Task) -> list[Reply]:
    """Answers of the right kind that nobody foresaw."""
    right = task.solution.right
    if task.question.kind is ReplyKind.PLACES:
        assert isinstance(right, tuple)
        places = [int(place) for place in right]
        return [
            (1,),
            tuple(places[1:]),
            tuple(place + 2 for place in places),
            (*places, 500),
            (2, 2, *places),
        ]
    found: Any = right
    return [Q_(share * found.magnitude, found.units) for share in (0.1, 0.3, 0.6, 1.3, 1.7, 3.1, 500.0)]


@EVERY
def test_no_wrong_answer_goes_without_saying_what_comes_of_it(name: str):
    """A choice is covered option by option, ticks are told one by one, all else by what the marker says."""
    for task in tasks(name, FEW):
        if task.question.kind is ReplyKind.CHOICE:
            known = {way.answer for way in task.ways()}
            assert known == {key for key, _ in task.question.options} - {task.solution.right}
        if not task.question.kind.is_measured and task.question.kind is not ReplyKind.PLACES:
            continue
        for reply in some_other_answers(task):
            marked = task.mark(reply)
            if marked.judged is Judgement.RIGHT:
                continue
            said = marked.wrong.harm if marked.wrong else marked.comes
            assert said.endswith(".")
            assert 4 <= len(said.split()) <= 60
            assert not re.search(r"\bnan\b|\binf\b|None|\b0\.0+ (mm|h|K)\b|\b0 (more|points|K)\b", said), said


@MARKER
def test_a_marker_names_its_wrong_ways_as_they_follow_you(name: str):
    for key, words in MARKERS[name].wrong.items():
        assert re.fullmatch(r"[a-z][a-z-]+", key)
        assert not words.endswith(".")
        assert words[0].islower()
