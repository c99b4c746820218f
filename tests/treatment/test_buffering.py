"""Buffering against the trade's own measurements and exact limits."""

from dataclasses import replace

import pytest

from bench.errors import BadValue
from bench.figures.slip import draw_slip
from bench.item import Format, Prong, Staple, Thicknesses, typical_thicknesses
from bench.physics.contact import pressure_from_word
from bench.treatment import facts
from bench.treatment.buffering.planning import (
    BufferingChoices,
    plan_buffering,
    recommend_interval,
    say_chance,
)
from bench.treatment.interleaves import LADDER, balance_groups, group_leaves, place_interleaves
from bench.treatment.plan import Verdict
from bench.units import MILLIMETRES, Q_, THOUSANDTHS
from tests.makers import annual, annual_readings, read_thou, stapled_issue


def choices(**changes):
    return replace(BufferingChoices(load=pressure_from_word("medium"), load_words="medium"), **changes)


def test_the_trade_example_gains_30_to_35_thousandths():
    """Common practice, no source: one sheet of 24 lb under each cover and one after every six
    leaves brought 173.5 thousandths to 208, a gain given as 30 to 35.
    """
    plan = plan_buffering(annual(), annual_readings(), choices())
    gain = plan.chosen.gain.value.to("thou").magnitude
    assert plan.chosen.sheets == 7
    assert 30 <= gain <= 35
    low, high = plan.chosen.thickness.interval()
    assert low.to("thou").magnitude <= 208 <= high.to("thou").magnitude


def test_counting_pages_as_leaves_would_contradict_the_trade_example():
    """If *page* meant a page, a sheet after every six pages would gain twice as much."""
    plan = plan_buffering(annual(), annual_readings(), choices(interval=3))
    assert plan.chosen.gain.value.to("thou").magnitude > 50


def test_the_trade_ladder_is_told_by_the_numbers():
    """Common practice, no source: every 6 is conservative, then 8, then 10."""
    found = {
        a.interval: a.chance for a in plan_buffering(annual(), annual_readings(), choices()).alternatives
    }
    assert LADDER == (6, 8, 10)
    assert found[6] > found[8] > found[10]
    assert found[6] > 0.99
    assert found[10] > 0.9


@pytest.mark.parametrize("leaves", [1, 5, 36, 37, 40, 41, 52, 97])
@pytest.mark.parametrize("interval", [1, 4, 6, 12])
def test_groups_are_balanced_for_any_leaf_count(leaves, interval):
    groups = balance_groups(leaves, interval)
    assert sum(groups) == leaves
    assert max(groups) <= interval
    assert max(groups) - min(groups) <= 1
    assert (len(groups) - 1) * interval < leaves  # no group could be saved


def test_square_bound_cover_sheets_reach_the_fold_and_the_others_stop_at_the_staples():
    places = place_interleaves(annual(), 6)
    assert [p.after_leaf for p in places] == [0, 6, 12, 18, 24, 30, 36]
    assert [p.reach for p in places] == [
        "to the spine fold",
        *["stops at the staples"] * 5,
        "to the spine fold",
    ]


def test_glued_only_stops_short_of_the_glue():
    places = place_interleaves(annual(format=Format.GLUED, staples=()), 6)
    assert {p.reach for p in places[1:-1]} == {"stops short of the glue"}


def test_saddle_stitched_has_a_sheet_at_the_centre_spread_and_is_symmetric():
    item = stapled_issue()
    places = [p.after_leaf for p in place_interleaves(item, 6)]
    assert places == [0, 4, 8, 12, 16]
    assert places == [item.leaves - p for p in reversed(places)]
    assert "over the prongs" in place_interleaves(item, 6)[2].reach


def test_a_single_sheet_gets_one_on_each_face():
    item = annual(format=Format.SHEET, leaves=1, cover_leaves=0, staples=(), glue="none")
    assert len(place_interleaves(item, 6)) == 2


def test_more_interleaves_than_leaves_are_refused():
    with pytest.raises(BadValue, match="interleaves is 5; allowed is at most 4, the leaves of the item"):
        place_interleaves(annual(leaves=4), 1)


def test_clearance_is_the_difference_of_readings_plus_the_inner_sheets():
    """By hand, without load: 173.5 + 7 × 4.8 − (178.5 + 2 × 4.8) = 19.0 thousandths."""
    no_load = choices(load=replace(pressure_from_word("medium"), value=Q_(0, "kPa"), low=Q_(0, "kPa")))
    from bench.treatment.buffering.planning import _loaded, _sheet_thickness
    from bench.uncertainty import exactly

    sheet = _sheet_thickness(no_load.sheet)
    block = annual_readings().text_block + sheet.times(7)
    high = annual_readings().over_staples["upper"] + sheet.times(2)
    clear = _loaded(block, exactly(Q_(0.0, ""))) - high
    assert clear.value.to("thou").magnitude == pytest.approx(19.0, abs=1e-9)


def test_the_plan_uses_the_highest_staple():
    plan = plan_buffering(annual(), annual_readings(), choices())
    assert plan.chosen.tightest[0] == "upper staple"
    lower_only = Thicknesses(annual_readings().text_block, {"lower": annual_readings().over_staples["lower"]})
    easier = plan_buffering(annual(), lower_only, choices())
    assert easier.chosen.tightest[1].value > plan.chosen.tightest[1].value


def test_more_sheets_never_lower_the_chance():
    chances = [a.chance for a in plan_buffering(annual(), annual_readings(), choices()).alternatives]
    assert chances == sorted(chances, reverse=True)


def test_a_proud_prong_stops_the_plan():
    item = annual(staples=(Staple("upper", Q_(38, "mm"), Q_(8, "mm"), prong=Prong.PROUD),))
    plan = plan_buffering(item, annual_readings(), choices())
    assert plan.verdict is Verdict.STOP
    assert "goes through the cover" in plan.cautions[0].words


def test_a_staple_far_above_the_text_block_is_refused_by_the_numbers():
    high = Thicknesses(read_thou(173.5, "text block"), {"upper": read_thou(230, "upper staple")})
    plan = plan_buffering(annual(), high, choices(interval=12))
    assert plan.chosen.chance < 0.5
    assert plan.verdict is Verdict.STOP
    assert "Do not press it like this. The chance of loading the upper staple" in plan.answer
    assert "below the upper staple" in plan.because


def test_typical_values_are_said_aloud():
    plan = plan_buffering(annual(), typical_thicknesses(annual()), choices())
    assert any("typical values" in c.words for c in plan.cautions)
    assert plan.verdict is not Verdict.GO


def test_no_reading_over_spine_or_staples_is_said():
    only = Thicknesses(annual_readings().text_block)
    plan = plan_buffering(annual(), only, choices())
    assert "the clearance is not known" in plan.answer


def test_the_words_follow_the_units():
    thou = plan_buffering(annual(), annual_readings(), choices(), units=THOUSANDTHS)
    mm = plan_buffering(annual(), annual_readings(), choices(), units=MILLIMETRES)
    assert "thou above" in thou.because
    assert "mm above" in mm.because
    assert thou.chosen.chance == mm.chosen.chance


def test_recommendation_never_exceeds_the_step_of_the_ladder():
    table = plan_buffering(annual(), annual_readings(), choices()).alternatives
    assert recommend_interval(table, 0.02) == 6
    assert recommend_interval(table, 0.02, widest=8) == 8


def test_chances_are_not_overstated():
    assert say_chance(1.0) == "more than 99.9 %"
    assert say_chance(0.0) == "less than 0.1 %"
    assert say_chance(0.915) in {"91 %", "92 %"}


@pytest.mark.parametrize("risk", [0.0, 0.5, -1.0])
def test_an_unusable_risk_is_refused(risk):
    with pytest.raises(BadValue, match="accepted chance"):
        choices(accepted_risk=risk)


@pytest.mark.parametrize("sheets", range(4, 13))
def test_a_balanced_plan_puts_in_as_many_sheets_as_asked_in_groups_that_differ_by_one(sheets):
    """Any number of sheets: groups add up to the leaves and differ by one leaf at most (exact)."""
    item = annual()
    groups = group_leaves(item, 6, sheets)
    assert sum(groups) == item.leaves
    assert max(groups) - min(groups) <= 1
    places = place_interleaves(item, 6, sheets)
    assert len(places) == sheets
    assert [p.reach for p in places].count("to the spine fold") == 2


def test_a_balanced_plan_of_a_folded_item_is_alike_in_both_halves():
    item = stapled_issue()
    places = [place.after_leaf for place in place_interleaves(item, 6, 7)]
    assert item.leaves // 2 in places
    assert [item.leaves - leaf for leaf in reversed(places)] == places
    with pytest.raises(BadValue, match="sheets in all is 8; allowed is an odd number"):
        place_interleaves(item, 6, 8)


@pytest.mark.parametrize("sheets", [0, 1, 99, 4.5])
def test_a_number_of_sheets_that_cannot_be_is_refused(sheets):
    with pytest.raises(BadValue, match=r"sheets in all is .* allowed is a whole number from 2 to"):
        plan_buffering(annual(), annual_readings(), choices(sheets=sheets))


def test_a_balanced_plan_stands_among_the_spacings_and_the_slip_counts_to_it():
    asked = next(n for n in range(4, 12) if n not in {a.sheets for a in plain_alternatives()})
    plan = plan_buffering(annual(), annual_readings(), choices(sheets=asked))
    assert plan.chosen.is_balanced
    assert plan.value(facts.SHEETS).value.magnitude == asked
    assert plan.value(facts.SPACING).value.magnitude == plan.chosen.interval
    assert [a.sheets for a in plan.alternatives] == sorted(
        (a.sheets for a in plan.alternatives), reverse=True
    )
    slip = draw_slip(annual(), plan)
    assert slip.html.count('class="box"') == asked
    assert f"{asked} sheets of" in slip.words


def plain_alternatives():
    return plan_buffering(annual(), annual_readings(), choices()).alternatives


def test_a_chance_of_one_half_of_loading_a_staple_is_a_stop_and_not_a_care():
    """Readings near enough that the staple is loaded about every second time: no risk to take."""
    near = Thicknesses(read_thou(173.5, "text block"), {"upper": read_thou(207, "upper staple")})
    plan = plan_buffering(annual(), near, choices(interval=6))
    assert 0.1 < 1 - plan.chosen.chance < 0.95
    assert plan.verdict is Verdict.STOP
