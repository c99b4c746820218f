"""How far a staple stands: the doubt of the answer by hand after the GUM, and each wrong way by number."""

import math
from dataclasses import replace

import numpy as np
import pytest

from bench.item import Format, Item, Staple
from bench.practice.drawing import Drawn
from bench.practice.markers.clearance import MARKER, solve
from bench.practice.marking import mark
from bench.practice.shapes import Judgement
from bench.units import Q_

# Readings in mm, five at a place, as a bench would write them.
BLOCK = (6.40, 6.42, 6.41, 6.39, 6.43)
UPPER = (6.60, 6.62, 6.58, 6.61, 6.59)
LOWER = (6.50, 6.52, 6.51, 6.49, 6.48)
LIMIT, STEP = 0.02, 0.01  # mm, of the caliper that the exercise names
T_8 = 2.31  # Student's t, 95 %, 8 degrees of freedom: GUM table G.2


def drawn(**read: tuple[float, ...]) -> Drawn:
    staples = tuple(Staple(name, Q_(at, "mm"), Q_(7, "mm")) for name, at in (("upper", 55), ("lower", 180)))
    size = Q_(170, "mm"), Q_(260, "mm")
    item = Item("Mossgate Lantern, no. 7", Format.SIDE_STAPLED, *size, leaves=58, staples=staples)
    shown = {"text block": BLOCK, "upper staple": UPPER, "lower staple": LOWER} | read
    return Drawn(item, {}, shown, np.random.default_rng(1), level=2)


def by_hand(block: tuple[float, ...], over: tuple[float, ...]) -> tuple[float, float, float]:
    """Give rise, standard uncertainty and effective degrees of freedom with a pencil."""
    repeat = [np.std(read, ddof=1) / math.sqrt(5) for read in (block, over)]  # GUM 4.2.3
    caliper = LIMIT / math.sqrt(3)  # GUM 4.3.7, at each place
    shown = STEP / math.sqrt(12)  # GUM F.2.2.1, at each place
    variance = sum(u**2 for u in repeat) + 2 * caliper**2 + 2 * shown**2  # GUM 5.1.2, difference
    dof = variance**2 / sum(u**4 / 4 for u in repeat)  # Welch and Satterthwaite, GUM G.4.1
    return float(np.mean(over) - np.mean(block)), math.sqrt(variance), dof


def test_the_answer_and_its_doubt_are_those_of_the_pencil():
    rise, standard, dof = by_hand(BLOCK, UPPER)
    solution = solve(drawn(), {})
    assert solution.holds is not None
    value, low, high = solution.holds.floats("mm", field="rise")
    assert value == pytest.approx(rise, abs=1e-9) == pytest.approx(0.19, abs=1e-9)
    assert dof > 30  # so that the caliper's limits, not the scatter, decide the factor: below 2.04
    factor = (high - low) / 2 / standard
    assert 1.96 <= factor <= 2.04
    assert high - value == pytest.approx(value - low, rel=1e-9)


def test_few_and_scattered_readings_cost_a_larger_factor():
    """Where scatter is all of the doubt, two places of five readings leave 8 degrees of freedom."""
    wild = {"text block": (5.4, 6.4, 7.4, 5.9, 6.9), "upper staple": (8.4, 9.4, 10.4, 8.9, 9.9)}
    solution = solve(drawn(**wild), {})
    rise, standard, dof = by_hand(wild["text block"], wild["upper staple"])
    assert dof == pytest.approx(8.0, rel=1e-2)
    assert solution.holds is not None
    value, low, high = solution.holds.floats("mm", field="rise")
    assert value == pytest.approx(rise)
    assert (high - low) / 2 == pytest.approx(T_8 * standard, rel=5e-3)


def test_the_highest_staple_decides_whichever_it_is():
    swapped = solve(drawn(**{"upper staple": LOWER, "lower staple": UPPER}), {})
    assert swapped.right == solve(drawn(), {}).right
    assert swapped.facts["highest"] == "lower"


@pytest.mark.parametrize(
    ("millimetres", "way"),
    [(0.14, "mean-of-staples"), (0.09, "lower-staple"), (6.60, "staple-alone")],
)
def test_wrong_ways_are_told_by_their_numbers(millimetres: float, way: str):
    """Upper 0.19 mm, lower 0.09 mm above the block: their mean is 0.14 mm."""
    marked = mark(MARKER.question, solve(drawn(), {}), Q_(millimetres, "mm"))
    assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, way)


def test_the_same_answer_is_right_in_thousandths_of_an_inch():
    solution = solve(drawn(), {})
    assert mark(MARKER.question, solution, Q_(0.19 / 0.0254, "thou")).judged is Judgement.RIGHT
    assert mark(MARKER.question, solution, Q_(0.25, "mm")).judged is not Judgement.RIGHT


def test_harm_grows_with_what_was_missed():
    harms = {way.key: way.harm for way in solve(drawn(), {}).wrong}
    assert "0.05 mm too little" in harms["mean-of-staples"]
    assert "0.10 mm too little" in harms["lower-staple"]


def test_a_reading_of_nothing_is_refused():
    with pytest.raises(ValueError, match="above zero"):
        solve(replace(drawn(), read_mm={"text block": (0.0,), "upper staple": UPPER}), {})
