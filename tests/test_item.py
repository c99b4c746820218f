"""The item, its count and its readings."""

import pytest

from bench.errors import BadValue
from bench.item import Staple, count_leaves, judge_leaf_count, typical_thicknesses
from bench.units import Q_
from tests.makers import annual, annual_readings, read_thou, stapled_issue


def test_pages_are_two_to_a_leaf():
    assert count_leaves(72, counted_as="pages") == 36
    assert count_leaves(36, counted_as="leaves") == 36


def test_an_odd_page_count_is_refused():
    with pytest.raises(BadValue, match="count of pages is 71; allowed is an even number"):
        count_leaves(71, counted_as="pages")


@pytest.mark.parametrize("count", [0, -4, 12.5, True])
def test_a_count_must_be_a_whole_number(count):
    with pytest.raises(BadValue, match="count is"):
        count_leaves(count, counted_as="leaves")


def test_what_was_counted_is_never_assumed():
    with pytest.raises(BadValue, match="Say which was counted: a leaf is two pages"):
        count_leaves(36, counted_as="unknown")


def test_the_trade_example_fits_36_leaves_and_not_72():
    """Common practice, no source: 173.5 thousandths, and *page* in its count means a leaf."""
    block = annual_readings().text_block
    assert judge_leaf_count(annual(), block).fits
    twice = judge_leaf_count(annual(leaves=72), block)
    assert not twice.fits
    assert "pages were counted as leaves" in twice.words


def test_half_the_leaves_points_to_leaves_taken_for_pages():
    halved = judge_leaf_count(annual(leaves=18), annual_readings().text_block)
    assert not halved.fits
    assert "leaves were counted as pages" in halved.words


def test_millimetres_taken_for_thousandths_are_told_as_a_slip_of_the_unit():
    """4.41 mm is 173.5 thousandths; entered as 4.41 thousandths it is thinner than any cover."""
    block = annual_readings().text_block
    slipped = judge_leaf_count(annual(), block.times(0.0254))
    assert slipped.is_other_unit
    assert "thinner than the cover alone" in slipped.words
    assert "millimetres were entered as thousandths" in slipped.words
    other = judge_leaf_count(annual(), block.times(1 / 0.0254))
    assert other.is_other_unit
    assert "thousandths of an inch were entered as millimetres" in other.words


def test_a_thickness_that_no_slip_explains_is_not_explained():
    third = judge_leaf_count(annual(), annual_readings().text_block.times(0.2))
    assert not third.fits
    assert not third.is_other_unit
    assert "count again, read again" in third.words


def test_a_saddle_stitched_item_has_leaves_in_pairs():
    with pytest.raises(BadValue, match="leaves of a saddle-stitched item is 15"):
        stapled_issue(leaves=15)


def test_the_highest_staple_is_taken_never_the_mean():
    """A staple may read lower than the text block (the wire pinches the paper)."""
    name, value = annual_readings().highest_staple
    assert name == "upper"
    assert value.value.to("thou").magnitude == pytest.approx(178.5)


def test_high_places_name_staple_and_spine():
    from dataclasses import replace

    read = replace(annual_readings(), spine_edge=read_thou(176, "spine edge"))
    assert set(read.high_places()) == {"upper staple", "spine edge"}


def test_without_a_caliper_the_doubt_is_wide_and_said():
    typical = typical_thicknesses(annual())
    measured = annual_readings()
    assert "not measured" in typical.text_block.source
    assert typical.text_block.expanded() > 20 * measured.text_block.expanded()
    low, high = typical.text_block.interval()
    assert low < measured.text_block.value < high


def test_a_place_beyond_the_page_is_refused():
    with pytest.raises(
        BadValue, match="lower staple from head is 400 mm; allowed is at most the height, 257 mm"
    ):
        annual(staples=(Staple("lower", Q_(400, "mm"), Q_(8, "mm")),))


def test_an_absurd_size_is_refused():
    with pytest.raises(BadValue, match=r"width is 16800 mm; allowed is 30 to 600 mm"):
        annual(width=Q_(16.8, "m"))
