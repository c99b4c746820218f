"""An exercise can be worked from what lies on the bench, with pencil and paper, by the rule of its page.

Magnus' formula rounded (6.5 % a kelvin near 16 degrees); the square of the pile, less a part (Crank); equal
times for each half of the way (slowest term of a slab, Carslaw and Jaeger); a mean by mass.  Nothing but the
text of the bench is read here.
"""

import re

import numpy as np
import pytest

from bench.classroom import EXERCISES, read_exercises
from bench.practice.markers import MARKERS
from bench.practice.shapes import Judgement
from bench.practice.task import Task, set_task
from bench.units import Q_

ALL = read_exercises(EXERCISES)
ITEMS = 35


def numbers(task: Task, *names: str) -> list[float]:
    """Give the numbers that lie on the bench under some names."""
    look = dict(task.solution.look)
    return [float(each) for name in names for each in re.findall(r"\d+(?:\.\d+)?", look[name])]


def chamber_holds(task: Task) -> float:
    *salt, air, base = numbers(
        task, "salt in the printed table", "air over the salt", "base, on which the item lies"
    )
    held = float(np.interp(air, salt[1::2], salt[0::2]))
    return held * (1 + 0.065 * (air - base))


def chamber_hours(task: Task) -> float:
    (_, _, earlier) = numbers(task, "an earlier number of the same title")
    return 0.9 * 4 * earlier  # somewhat less than the square


def far_leaf(task: Task) -> float:
    final, half, dwell, room = numbers(
        task, "a scrap block as thick, in this press before", "dwell now", "room, boards and base"
    )
    return room + (final - room) * (1 - 0.5 ** (dwell / half))


def let_go(task: Task) -> float:
    damp, room, drank = numbers(
        task, "leaves from the chamber", "room, sheets and boards", "an earlier night in this press"
    )
    sheets = numbers(task, "sheets")[-1] / 100
    dry = sheets * (1 + drank)
    return (damp + dry * room) / (1 + dry)


@pytest.mark.parametrize(
    ("name", "work", "share"),
    [
        ("chamber-holds", chamber_holds, 1.0),
        ("chamber-hours", chamber_hours, 0.9),  # how much less than the square is felt, not reckoned
        ("far-leaf", far_leaf, 1.0),
        ("let-go", let_go, 1.0),
    ],
)
def test_the_rule_of_the_page_comes_to_a_right_answer(name, work, share):
    right = 0
    for number in range(ITEMS):
        task = set_task(ALL[name], MARKERS, f"Learner {number % 7}", 1 + number // 7)
        answer = Q_(work(task), task.question.unit if task.question.unit != "temperature" else "degC")
        right += task.mark(answer).judged is Judgement.RIGHT
    assert right >= share * ITEMS
