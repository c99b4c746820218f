"""What happens to the item of an exercise, as a picture that says what its numbers say."""

import pytest

from bench.classroom import EXERCISES, read_exercises
from bench.figures.chart import Chart
from bench.figures.practice import happens
from bench.practice.markers import MARKERS
from bench.practice.task import Task, set_task
from bench.units import MILLIMETRES

ALL = read_exercises(EXERCISES)


def task_of(name: str) -> Task:
    return set_task(ALL[name], MARKERS, "Ada Marsh", 3)


def drawn_of(task: Task) -> Chart:
    picture = happens(task, MILLIMETRES)
    assert isinstance(picture, Chart)
    return picture


def whole(task: Task, unit: str) -> str:
    return f"{float(task.solution.right.to(unit).magnitude):.0f}"  # type: ignore[union-attr]


def test_the_cold_base_is_drawn_between_the_air_and_the_dew_point():
    task = task_of("chamber-holds")
    picture = drawn_of(task)
    assert f"it is {whole(task, 'percent')} %" in picture.reads
    surface = picture.curves[0]
    assert surface.y[0] == pytest.approx(100.0)  # at the dew point
    assert all(one > other for one, other in zip(surface.y, surface.y[1:], strict=False))


def test_two_days_are_drawn_from_the_latest_start_to_closing_time():
    task = task_of("two-days")
    start = task.solution.facts["latest"].lstrip("0")
    assert start in drawn_of(task).reads
    assert task.solution.facts["closes"] in drawn_of(task).reads


def test_the_growth_is_drawn_as_it_is_told():
    task = task_of("compare-decide")
    assert task.solution.facts["width"].split()[0] in drawn_of(task).reads


@pytest.mark.slow
def test_the_plan_that_is_drawn_says_what_the_answer_says():
    far = task_of("far-leaf")
    assert f"the far leaf is at {whole(far, 'degC')} °C" in drawn_of(far).reads
    night = task_of("let-go")
    assert f"the leaves stand at {whole(night, 'percent')} % RH" in drawn_of(night).reads
    hours = task_of("chamber-hours")
    wanted = float(hours.solution.plan.choices.wanted)
    picture = drawn_of(hours)
    core = next(curve for curve in picture.curves if curve.name == "innermost leaf")
    at = [y for x, y in zip(core.x, core.y, strict=True) if x >= float(hours.solution.right.magnitude) - 0.6]  # type: ignore[union-attr]
    assert at[0] == pytest.approx(wanted, abs=4)
