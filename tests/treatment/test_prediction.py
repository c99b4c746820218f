"""Intervals, exposures and covers as the stages take them from the transient model."""

import numpy as np
import pytest

from bench.item import Answer
from bench.physics.corrosion import wetness_hours
from bench.physics.exposure import Exposure
from bench.physics.isotherms import isotherm_of
from bench.stack import Role, build_item_stack
from bench.treatment.plan import hours
from bench.treatment.prediction import (
    farthest_isotherms,
    join_alike,
    join_ends,
    shares_of,
    with_its_cover,
)
from bench.units import Q_
from tests.makers import annual, annual_readings


def step(time, percent, celsius=22.0):
    return Exposure(hours(time), Q_(celsius, "degC"), Q_(percent, "percent"), Q_(percent / 1000, ""))


def test_ends_join_as_independent_steps_by_hand():
    """3 and 4 upwards make 5; of one cause only the larger step counts."""
    ends = [("a", np.array([13.0])), ("a", np.array([11.0])), ("b", np.array([14.0])), ("b", np.array([9.0]))]
    low, high, squares = join_ends(np.array([10.0]), ends)
    assert (low[0], high[0]) == (pytest.approx(9.0), pytest.approx(15.0))
    assert shares_of(squares) == {"b": pytest.approx(16 / 25), "a": pytest.approx(9 / 25)}


def test_without_ends_the_interval_is_the_value():
    low, high, squares = join_ends(np.array([4.0, 5.0]), [])
    assert (list(low), list(high), squares) == ([4.0, 5.0], [4.0, 5.0], {})
    assert shares_of({}) == {}


def test_a_history_told_in_fewer_steps_keeps_its_time_its_mean_and_its_wet_hours():
    fine = [step(0.25, 70 + 0.5 * n) for n in range(50)]
    coarse = join_alike(fine)
    assert len(coarse) < len(fine) / 2
    assert sum(s.hours for s in coarse) == pytest.approx(12.5)
    mean = sum(s.hours * s.fraction for s in coarse) / 12.5
    assert mean == pytest.approx(sum(s.fraction for s in fine) / 50)
    assert wetness_hours(coarse).magnitude == pytest.approx(wetness_hours(fine).magnitude)
    assert coarse[0].moisture == pytest.approx(coarse[0].fraction / 10)


def test_warm_and_cool_steps_are_not_joined():
    assert len(join_alike([step(1, 70, 22), step(1, 70, 60), step(0, 70, 60)])) == 2


def test_the_farthest_isotherms_take_up_most_and_least():
    low, high = farthest_isotherms("newsprint", 0.5, 0.9, 22.0)
    taken = {n: isotherm_of(n).content(0.9, 22.0) - isotherm_of(n).content(0.5, 22.0) for n in (low, high)}
    assert "newsprint" not in taken
    assert taken[low] < taken[high]


@pytest.mark.parametrize(
    ("coated", "paper", "expected"),
    [
        (Answer.YES, "uncoated cover", "coated cover"),
        (Answer.UNKNOWN, "coated cover", "coated cover"),
        (Answer.NO, "coated cover", "uncoated cover"),
        (Answer.NO, "newsprint", "newsprint"),
    ],
)
def test_the_cover_is_a_barrier_by_what_was_seen_and_not_by_its_name(coated, paper, expected):
    item = annual(cover_paper=paper, cover_coated=coated)
    before = build_item_stack(item, annual_readings())
    after = with_its_cover(before, item)
    assert {layer.material for layer in after.of(Role.COVER)} == {expected}
    assert after.thickness() == before.thickness()
    assert after.mass() == before.mass()
