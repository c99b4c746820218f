"""Ranges and how they are carried through a calculation."""

from types import SimpleNamespace

import numpy as np
import pytest

from bench.errors import BadValue, UnitMismatch
from bench.physics.ranges import Range, as_range, join_ends, shares_of, spread
from bench.uncertainty import from_expanded
from bench.units import Q_


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


def test_one_doubtful_input_gives_its_own_limits():
    assert spread(lambda a, b: a / b, a=(2.0, 1.0, 8.0), b=(1.0, 1.0, 1.0)) == pytest.approx((2.0, 1.0, 8.0))


def test_differences_join_as_squares():
    assert spread(lambda a, b: a - b, a=(10, 7, 13), b=(5, 1, 9)) == pytest.approx((5, 0, 10))


def test_an_input_that_lowers_the_result_moves_the_other_end():
    assert spread(lambda a: 1 / a, a=(1.0, 0.5, 4.0)) == pytest.approx((1.0, 0.25, 2.0))


def test_everything_that_carries_limits_is_read():
    plain = as_range(Q_(3, "mm"))
    assert plain.low == plain.value == plain.high
    assert as_range((Q_(3, "mm"), Q_(2, "mm"), Q_(1, "cm"))).high == Q_(1, "cm")
    half_known = SimpleNamespace(value=Q_(3, "mm"), low=None, high=Q_(4, "mm"))
    assert as_range(half_known) == Range(Q_(3, "mm"), Q_(3, "mm"), Q_(4, "mm"))
    measured = as_range(from_expanded(Q_(4.4, "mm"), Q_(0.1, "mm"), cause="caliper"))
    assert (measured.low.to("mm").m, measured.high.to("mm").m) == pytest.approx((4.3, 4.5))


def test_plain_numbers_make_a_range():
    made = Range.of((2.0, 1.0, 3.0), "hour")
    assert as_range(made) is made
    assert made.say("minute") == "120 minute (60 to 180)"


@pytest.mark.parametrize(
    ("numbers", "error", "words"),
    [
        ((Q_(1, "mm"), Q_(2, "mm"), Q_(3, "mm")), BadValue, "range is 1 with 2 to 3"),
        ((Q_(1, "mm"), Q_(0, "g"), Q_(3, "mm")), UnitMismatch, "low end of a range is 0 g"),
        ((1.0, 0.0, 3.0), UnitMismatch, "bare number 1.0"),
    ],
)
def test_ranges_out_of_order_are_refused(numbers, error, words):
    with pytest.raises(error, match=words):
        as_range(numbers)


def test_a_bare_number_is_refused():
    with pytest.raises(UnitMismatch, match=r"bare number 4\.4"):
        as_range(4.4)
