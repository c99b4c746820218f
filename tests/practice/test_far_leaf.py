"""How warm the far leaf is: the slab of the textbooks, the stage itself, and each wrong way by number."""

import math

import pytest

from bench.physics.slab import local_uptake
from bench.practice.drawing import draw_item
from bench.practice.markers.far_leaf import MARKER, ToPress, solve
from bench.practice.marking import mark
from bench.practice.shapes import Judgement, Solution
from bench.stack import Role
from bench.treatment.pressing.heat import estimate_heat, slowest_after_dwell, slowest_when_it_stands
from bench.treatment.pressing.run import set_up
from bench.units import Q_

PAPER = (
    0.10  # mm²/s, diffusivity of heat in dry paper: 0.10 W/(m K) over 0.7 g/cm³ and 1.4 J/(g K), from memory
)


@pytest.fixture(scope="module")
def solution() -> Solution:
    return solve(draw_item("any", 4), {})


def celsius_of(solution: Solution) -> dict[str, float]:
    found = {way.key: float(way.answer.to("degC").magnitude) for way in solution.wrong}  # type: ignore[union-attr]
    return found | {"right": float(solution.right.to("degC").magnitude)}  # type: ignore[union-attr]


def test_one_term_of_the_slab_is_the_whole_series_from_a_fifth_on():
    """Incropera, table 5.1 at Bi of infinity: C₁ = 1.2733, ζ₁ = 1.5708; good to 2 % for Fo above 0.2."""
    for fourier in (0.2, 0.3, 0.5, 1.0):
        one_term = 1 - 4 / math.pi * math.exp(-((math.pi / 2) ** 2) * fourier)
        assert local_uptake(fourier, 0.0) == pytest.approx(one_term, abs=0.005)


def test_the_slab_of_the_textbook_comes_near_the_plan(solution: Solution):
    """A slab heated from one face, the other closed: within the doubt of what paper conducts."""
    asked = solution.plan
    assert isinstance(asked, ToPress)
    stack = set_up(asked.item, asked.thicknesses, asked.choices).stack
    layers = [layer for layer in stack.layers if layer.role is not Role.PLATE]
    thick = sum(float(layer.thickness.to("mm").magnitude) * layer.count for layer in layers)
    seconds = float(asked.choices.dwell.to("s").magnitude)
    share = local_uptake(PAPER * seconds / thick**2, 0.0)
    found = celsius_of(solution)
    room = float(asked.choices.room_temperature.to("degC").magnitude)
    slab = room + share * (found["in-the-end"] - room)
    assert room < slab < found["in-the-end"]
    assert found["right"] == pytest.approx(slab, abs=9)


def test_the_short_way_gives_what_the_stage_gives(solution: Solution):
    asked = solution.plan
    run = set_up(asked.item, asked.thicknesses, asked.choices)
    heat = estimate_heat(run)
    whole = heat.slowest.floats("degC", field="far leaf")
    assert slowest_after_dwell(run).floats("degC", field="far leaf") == pytest.approx(whole, abs=0.1)
    stands = float(heat.slowest_final.value.to("degC").magnitude)
    assert float(slowest_when_it_stands(run)[0].magnitude) == pytest.approx(stands, abs=0.1)


def test_it_lies_between_the_room_and_what_it_comes_to_at_last(solution: Solution):
    found = celsius_of(solution)
    room = float(solution.plan.choices.room_temperature.to("degC").magnitude)
    assert room < found["right"] < found["in-the-end"] < found["display"]
    assert found["mean"] == (room + found["display"]) / 2


def test_each_wrong_way_is_known_by_its_number(solution: Solution):
    found = celsius_of(solution)
    for key in ("display", "mean", "in-the-end"):
        marked = mark(MARKER.question, solution, Q_(found[key], "degC"))
        assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, key)
    in_fahrenheit = Q_(32 + 1.8 * found["right"], "degF")
    assert mark(MARKER.question, solution, in_fahrenheit).judged is Judgement.RIGHT
