"""The hours in a chamber: between the pile and its square (Crank), and each wrong way by number."""

import pytest

from bench.practice.drawing import draw_item
from bench.practice.markers.chamber_hours import MARKER, ToChamber, solve
from bench.practice.marking import mark
from bench.practice.shapes import Judgement, Solution
from bench.units import Q_


@pytest.fixture(scope="module")
def solution() -> Solution:
    return solve(draw_item("square-bound", 5), {})


def hours_of(solution: Solution) -> dict[str, float]:
    found = {way.key: float(way.answer.to("hour").magnitude) for way in solution.wrong}  # type: ignore[union-attr]
    return found | {"right": float(solution.right.to("hour").magnitude)}  # type: ignore[union-attr]


def test_twice_the_leaves_take_more_than_twice_and_less_than_four_times_as_long(solution: Solution):
    """Crank 1975: in a plane sheet the time goes with L², what lies outside of it with L."""
    found = hours_of(solution)
    assert isinstance(solution.plan, ToChamber)
    leaves = solution.plan.item.leaves
    share = leaves / (leaves // 2)
    assert found["in-proportion"] < found["right"] < share * found["in-proportion"]


def test_a_thicker_block_comes_nearer_to_the_square():
    """The film of air is a fixed resistance: the thicker the pile, the less it counts."""
    ratios = []
    for seed in (1, 3, 5, 12, 20, 31):
        solution = solve(draw_item("square-bound", seed), {})
        found = hours_of(solution)
        ratios.append((solution.plan.item.leaves, found["right"] / found["in-proportion"]))
    ratios.sort()
    assert ratios[-1][0] > 1.3 * ratios[0][0]
    assert ratios[-1][1] > ratios[0][1]


def test_the_outer_leaves_are_there_long_before(solution: Solution):
    found = hours_of(solution)
    assert found["outer-leaves"] < 0.5 * found["right"]


def test_each_wrong_way_is_known_by_its_number(solution: Solution):
    found = hours_of(solution)
    assert found["a-day"] == 24.0
    for key in ("outer-leaves", "a-day", "in-proportion"):
        marked = mark(MARKER.question, solution, Q_(found[key], "hour"))
        assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, key)
    minutes = Q_(60 * found["right"], "min")
    assert mark(MARKER.question, solution, minutes).judged is Judgement.RIGHT


def test_a_teacher_sets_how_well_the_paper_is_known():
    """What is known less well gives a wider interval, with the same likely hours."""
    settings = ({"transport_known_to": 1.1, "water_known_to": 1.02}, {"transport_known_to": 1.5})
    narrow, wide = (solve(draw_item("square-bound", 5), each) for each in settings)
    assert narrow.holds is not None
    assert wide.holds is not None
    first, last = (each.holds.floats("hour", field="hours") for each in (narrow, wide))  # type: ignore[union-attr]
    assert first[0] == pytest.approx(last[0], rel=2e-3)
    assert first[2] / first[1] < 0.8 * last[2] / last[1]
