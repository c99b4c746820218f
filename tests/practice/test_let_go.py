"""What the night leaves: water is kept, the stage itself, and each wrong way by number."""

import pytest

from bench.practice.drawing import draw_item
from bench.practice.markers.let_go import MARKER, solve
from bench.practice.marking import mark
from bench.practice.shapes import Judgement, Solution
from bench.stack import Role
from bench.treatment.pressing.run import set_up
from bench.treatment.pressing.water import estimate_water, mean_after_night
from bench.units import Q_


@pytest.fixture(scope="module")
def solution() -> Solution:
    return solve(draw_item("saddle-stitched", 4), {})


def percent_of(solution: Solution) -> dict[str, float]:
    found = {way.key: float(way.answer.to("percent").magnitude) for way in solution.wrong}  # type: ignore[union-attr]
    return found | {"right": float(solution.right.to("percent").magnitude)}  # type: ignore[union-attr]


def test_the_leaves_end_between_the_room_and_what_sheets_alone_would_leave(solution: Solution):
    """Conservation of water: boards drink besides, and nothing in a closed press is drier than it came."""
    found = percent_of(solution)
    assert found["by-the-clock"] < found["right"] < found["sheets-alone"] < found["forgot-night"]


def test_sheets_alone_share_the_water_by_mass(solution: Solution):
    asked = solution.plan
    stack = set_up(asked.item, asked.thicknesses, asked.choices).stack
    sheets, leaves = (
        float(stack.mass(*roles).to("g").magnitude) for roles in ((Role.INTERLEAF,), (Role.LEAF, Role.COVER))
    )
    damp, room = (
        float(given.to("percent").magnitude)
        for given in (asked.choices.item_humidity.value, asked.choices.room_humidity)
    )
    expected = (leaves * damp + sheets * room) / (leaves + sheets)
    assert percent_of(solution)["sheets-alone"] == pytest.approx(expected)


def test_the_short_way_gives_what_the_stage_gives(solution: Solution):
    asked = solution.plan
    run = set_up(asked.item, asked.thicknesses, asked.choices)
    water = estimate_water(run)
    whole = water.rest.floats("percent", field="after the night")
    assert mean_after_night(run).floats("percent", field="after the night") == pytest.approx(whole, abs=0.3)
    assert water.needed is not None
    said = {0: "let it go", 1: "takes 1 change of"}.get(water.needed, f"takes {water.needed} changes of")
    assert said in solution.facts["needed"]


def test_each_wrong_way_is_known_by_its_number(solution: Solution):
    found = percent_of(solution)
    for key in ("by-the-clock", "forgot-night", "sheets-alone"):
        marked = mark(MARKER.question, solution, Q_(found[key], "percent"))
        assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, key)
    assert mark(MARKER.question, solution, Q_(found["right"] / 100, "")).judged is Judgement.RIGHT
