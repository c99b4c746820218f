"""Intervals, exposures and covers as the stages take them from the transient model."""

import pytest

from bench.item import Answer
from bench.physics.corrosion import assess_staples
from bench.physics.exposure import Exposure
from bench.stack import Role, build_item_stack
from bench.treatment.plan import hours
from bench.treatment.prediction import (
    join_alike,
    with_its_cover,
)
from bench.units import Q_
from tests.makers import annual, annual_readings


def step(time, percent, celsius=22.0):
    return Exposure(hours(time), Q_(celsius, "degC"), Q_(percent, "percent"), Q_(percent / 1000, ""))


def test_a_history_told_in_fewer_steps_keeps_its_time_its_mean_and_its_wet_hours():
    fine = [step(0.25, 70 + 0.5 * n) for n in range(50)]
    coarse = join_alike(fine)
    assert len(coarse) < len(fine) / 2
    assert sum(s.hours for s in coarse) == pytest.approx(12.5)
    mean = sum(s.hours * s.fraction for s in coarse) / 12.5
    assert mean == pytest.approx(sum(s.fraction for s in fine) / 50)
    wet = [assess_staples(steps).wetness.magnitude for steps in (coarse, fine)]
    assert wet[0] == pytest.approx(wet[1])
    assert coarse[0].moisture == pytest.approx(coarse[0].fraction / 10)


def test_warm_and_cool_steps_are_not_joined():
    assert len(join_alike([step(1, 70, 22), step(1, 70, 60), step(0, 70, 60)])) == 2


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
