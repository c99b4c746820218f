"""One list of readings for intake and review: what is asked before is what is compared after."""

import pytest

from bench.item import Format, Item, Staple
from bench.treatment.needed import instruments_for, needed_readings, say_needed, still_needed
from bench.uncertainty import from_expanded
from bench.units import Q_
from tests.makers import annual, stapled_issue

ONE = from_expanded(Q_(168, "mm"), Q_(0.2, "mm"), cause="rule")


def reader(**places):
    return lambda quantity: {place: ONE for place in places.get(quantity, ())}


def said(needed):
    return [f"{each.quantity} {each.place}" for each in needed]


def test_a_stapled_item_is_read_at_its_staples_its_spine_its_cover_and_a_named_leaf():
    assert said(needed_readings(annual())) == [
        "thickness text block",
        "thickness upper staple",
        "thickness lower staple",
        "thickness spine edge",
        "width front cover",
        "width leaf 10",
        "height front cover",
        "height leaf 10",
        "mass whole item",
    ]


@pytest.mark.parametrize(
    ("leaves", "cover", "places"),
    [(4, 2, ["front cover", "leaf 4"]), (16, 0, ["leaf 1", "leaf 10"]), (2, 0, ["leaf 1", "leaf 2"])],
)
def test_the_leaf_inside_is_one_that_the_item_has(leaves, cover, places):
    item = stapled_issue(leaves=leaves, cover_leaves=cover)
    assert [each.place for each in needed_readings(item) if each.quantity == "width"] == places


def test_a_single_sheet_is_read_once_and_has_no_spine():
    sheet = Item("A sheet", Format.SHEET, Q_(243, "mm"), Q_(389, "mm"), 1, cover_leaves=0)
    assert said(needed_readings(sheet)) == [
        "thickness text block",
        "width leaf 1",
        "height leaf 1",
        "mass whole item",
    ]


def test_another_leaf_serves_as_well_as_the_one_proposed():
    read = reader(width=("front cover", "leaf 12"), height=("back cover",))
    left = said(still_needed(stapled_issue(), read))
    assert "width leaf 10" not in left
    assert "height front cover" not in left
    assert "height leaf 10" in left


def test_review_asks_for_what_was_read_before_and_for_nothing_else():
    before = reader(width=("leaf 12",), height=("leaf 12",), mass=("whole item",))
    item = stapled_issue(staples=(Staple("upper", Q_(60, "mm"), Q_(0, "mm")),))
    sizes = [each for each in said(needed_readings(item, before)) if not each.startswith("thickness")]
    assert sizes == ["width leaf 12", "height leaf 12", "mass whole item"]
    left = said(still_needed(item, reader(width=("leaf 10",)), before))
    assert "width leaf 12" in left  # like is compared with like
    assert "mass whole item" not in said(needed_readings(item, reader()))


def test_what_is_missing_is_one_sentence():
    everything = reader(
        thickness=("text block", "upper staple", "lower staple", "spine edge"),
        width=("front cover", "leaf 10"),
        height=("front cover", "leaf 10"),
        mass=("whole item",),
    )
    assert still_needed(annual(), everything) == ()
    assert say_needed(()) == ""
    assert say_needed(needed_readings(annual())) == (
        "Still to be read: thickness (text block, upper staple, lower staple, spine edge), "
        "width (front cover, leaf 10), height (front cover, leaf 10) and mass."
    )


def test_no_mass_is_read_with_a_caliper_and_no_size_on_a_balance():
    units = {"thickness": "mm", "width": "mm", "height": "mm", "unpressed width": "mm", "mass": "g"}
    for quantity, unit in units.items():
        for tool in instruments_for(quantity):
            assert tool.limit.check(Q_(1, unit).dimensionality)
            assert tool.step.check(Q_(1, unit).dimensionality)
    of_mass, of_thickness = ({tool.name for tool in instruments_for(q)} for q in ("mass", "thickness"))
    assert not of_mass & of_thickness
