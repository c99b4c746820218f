"""The sentences of the chapters on sheets and press are true of the plan at hand, whatever the item."""

from dataclasses import replace

import numpy as np
import pytest

from bench.figures.buffering import draw_intervals, draw_load, hand_page
from bench.figures.pressing import draw_changes, draw_stack, water_page
from bench.figures.pressing import hand_page as heat_by_hand
from bench.figures.slip import draw_slip
from bench.item import Answer, Format, Thicknesses, typical_thicknesses
from bench.materials import look_up
from bench.physics.contact import pressure_from_word
from bench.stack import Role
from bench.treatment.buffering import explained as sheets
from bench.treatment.buffering import plan_buffering
from bench.treatment.buffering.choices import BufferingChoices, LoadPath
from bench.treatment.buffering.load import weigh_spacings
from bench.treatment.plan import Verdict
from bench.treatment.pressing import explained as press
from bench.treatment.pressing import plan_pressing
from bench.units import MILLIMETRES, Q_, THOUSANDTHS
from tests.makers import annual, annual_readings, read_thou, stapled_issue
from tests.treatment.test_pressing import choices as press_choices
from tests.treatment.test_pressing import percent_range

THIN = {
    "title": "The Fen Lane Broadside",
    "format": Format.SHEET,
    "leaves": 1,
    "cover_leaves": 0,
    "staples": (),
    "glue": "none",
    "cover_coated": Answer.NO,
}


def sheet():
    return annual(**THIN)


def buffer(item, readings, cycle=1, **changes):
    facts = {"load": pressure_from_word("medium"), "load_words": "medium", **changes}
    choices = BufferingChoices(**facts)
    loads = weigh_spacings(item, readings, choices, rng=np.random.default_rng(1), samples=200)
    return plan_buffering(item, readings, choices, loads=loads, cycle=cycle)


@pytest.fixture(scope="module")
def bound():
    return buffer(annual(), annual_readings(), cycle=2, interval=8)


@pytest.fixture(scope="module")
def single():
    return buffer(sheet(), typical_thicknesses(sheet()))


@pytest.fixture(scope="module")
def thin_fold():
    """A self-cover issue so thin that nothing stops short of its fold: the staples carry it all."""
    item = stapled_issue(leaves=8, cover_leaves=0)
    over = {name: read_thou(40.0, f"{name} staple") for name in ("upper", "lower")}
    readings = Thicknesses(read_thou(30.0, "text block"), over)
    return item, readings, buffer(item, readings, interval=8)


def test_a_typical_single_sheet_has_no_spine_to_read(single):
    """No rise of a spine edge is drawn for it, which could be more than it is thick."""
    assert (
        single.answer == "Lay a sheet of copy paper 24 lb on each face, larger than the item on every side."
    )
    assert "no spine and no staple" in single.because
    assert "Read the thickness over the spine" not in single.because


def test_what_is_bought_is_said_of_each_item(bound, single, thin_fold):
    item, _, thin = thin_fold
    said = sheets.say_bought(annual(), bound)
    assert said.startswith(
        "Spine and staples carry nothing: the 4 sheets that stop short raise the text block."
    )
    assert "The 2 sheets at the covers add no clearance" in said
    assert "the load rests on the whole face" in sheets.say_bought(sheet(), single)
    said = sheets.say_bought(item, thin)
    assert "no sheet stops short of it to raise the text block" in said
    assert "The 3 sheets at the fold" in said
    assert "Next to nothing of the load reaches the text block" in said
    assert "cover" not in said


def test_an_item_without_staples_is_not_told_of_staples():
    glued = annual(format=Format.GLUED, staples=(), glue="PVAc")
    readings = Thicknesses(read_thou(173.5, "text block"), {}, spine_edge=read_thou(175.0, "spine edge"))
    said = sheets.say_bought(glued, buffer(glued, readings))
    assert said.startswith("The spine carries nothing")
    assert "staple" not in said


def test_nothing_is_blamed_on_stops_that_are_not_there(thin_fold):
    words = " ".join(caution.words for caution in thin_fold[2].cautions)
    assert "its spine or staples carry it" in words
    assert "stops" not in words


def test_the_rules_agree_or_the_words_say_which_is_stricter(bound, single, thin_fold):
    assert sheets.say_rules(bound).startswith("Both rules pass this plan")
    assert "neither rule applies" in sheets.say_rules(single)
    assert sheets.say_rules(thin_fold[2]).startswith("Both rules reject this plan")


def test_sums_by_hand_are_those_of_the_trade():
    """Common practice, no source: 173.5 thou come to 208 with seven sheets, read within 1.1."""
    plan = buffer(annual(), annual_readings(), interval=6)
    found = sheets.sum_by_hand(annual_readings(), plan)
    assert (found.sheets, found.to_fold, found.place) == (8 - 1, 2, "upper staple")
    sheet_thou = look_up("copy paper 24 lb", "thickness").value.to("thou").magnitude
    assert (found.block + found.gain).to("thou").magnitude == pytest.approx(208, abs=1.1)
    assert found.clearance.to("thou").magnitude == pytest.approx(173.5 + 5 * sheet_thou - 178.5)
    page = hand_page(found, plan, THOUSANDTHS)
    assert "thou" in page.words
    assert "mm" not in page.words


def test_a_sheet_has_a_gain_and_no_clearance(single):
    found = sheets.sum_by_hand(typical_thicknesses(sheet()), single)
    assert (found.sheets, found.place, found.clearance) == (2, "", None)
    assert "clearance" not in hand_page(found, single, MILLIMETRES).words
    assert "no section to draw" in draw_load(sheet(), single).words
    assert "thickness says nothing" in draw_intervals(single).words


def test_both_ways_to_press_are_told_apart_whichever_was_chosen(bound, single):
    rng = np.random.default_rng
    level = sheets.compare_platens(annual(), annual_readings(), bound, rng=rng(1), samples=200)
    tilting = buffer(annual(), annual_readings(), cycle=2, interval=8, path=LoadPath(even=True))
    loose = sheets.compare_platens(annual(), annual_readings(), tilting, rng=rng(1), samples=200)
    assert level == loose
    assert [words.split(":")[0] for words in level] == ["Platen kept level", "Loose weights"]
    assert "both press it alike" in sheets.compare_platens(sheet(), annual_readings(), single, rng=rng(1))[0]
    stops = buffer(annual(), annual_readings(), interval=8, load=None, path=LoadPath(stops=Q_(5, "mm")))
    assert "Stops set the height" in sheets.compare_platens(annual(), annual_readings(), stops, rng=rng(1))[0]


def test_a_chance_is_told_with_what_its_draws_can_know(bound, single):
    """Wilson's interval of 4 in 200: 0.8 to 5.0 % (worked out by hand)."""
    assert "a count of 2 % may stand for 0.8 to 5.0 %" in sheets.say_draws(bound.loads)
    assert sheets.say_draws(single.loads) == ""


def test_the_slip_is_that_of_the_plan_and_none_when_it_says_stop(bound, single, thin_fold):
    slip = draw_slip(annual(), bound)
    assert "cycle 2: 6 sheets" in slip.words
    assert slip.html.count('class="box"') == 6
    stopped = draw_slip(thin_fold[0], thin_fold[2])
    assert thin_fold[2].verdict is Verdict.STOP
    assert 'class="box"' not in stopped.html
    assert "The plan says stop" in stopped.words
    assert "one sheet on each face" in draw_slip(sheet(), single).html
    assert "Count leaves" not in draw_slip(sheet(), single).html


@pytest.fixture(scope="module")
def pressed():
    return plan_pressing(annual(), annual_readings(), press_choices())


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"boards": 1, "cards": 0},
        {"boards": 4, "plate": None, "release": None},
        {"platen_temperature": Q_(45, "degC"), "interval": None},
        {"heated": "both"},
        {"base": "insulated"},
    ],
)
def test_the_end_by_hand_is_where_the_heat_ends(changes):
    """Resistances in series, which know nothing of the solver, against four hours of it."""
    plan = plan_pressing(annual(), annual_readings(), press_choices(**changes))
    planned = plan.heat.slowest_final.value.to("degC").magnitude
    assert press.end_by_hand(plan).to("degC").magnitude == pytest.approx(planned, abs=0.7)
    assert "By hand" in heat_by_hand(plan, MILLIMETRES).words


def test_a_layer_resists_as_its_thickness_over_its_conduction(pressed):
    """Two boards of 24 pt (0.61 mm) at 0.09 W/(m K): 13.6 thousandths of m2 K/W on each side."""
    boards = next(part for part in press.list_resistances(pressed) if part.words.startswith("boards"))
    by_hand = 2 * 0.61e-3 / 0.09
    assert boards.above.to("m^2*K/W").magnitude == pytest.approx(by_hand, rel=0.01)
    assert boards.below.to("m^2*K/W").magnitude == pytest.approx(by_hand, rel=0.01)


def test_a_cold_press_has_no_heat_to_explain():
    plan = plan_pressing(annual(), annual_readings(), press_choices(platen_temperature=None))
    assert press.say_lag(plan) == press.say_best_way(plan, MILLIMETRES) == press.COLD
    assert (press.list_resistances(plan), press.end_by_hand(plan)) == ((), None)
    assert heat_by_hand(plan, MILLIMETRES).words == press.COLD


def test_more_time_is_said_to_bring_what_it_brings(pressed):
    heat = pressed.heat
    left = (heat.slowest_final.value - heat.slowest.value).to("delta_degC").magnitude
    assert f"More time adds at most {left:.0f} K" in press.say_lag(pressed)
    longer = plan_pressing(annual(), annual_readings(), press_choices(dwell=Q_(4, "hour")))
    assert "More time adds less than 1 K" in press.say_lag(longer)


def test_what_does_most_is_read_off_the_ways_compared(pressed):
    assert press.say_best_way(pressed, MILLIMETRES).startswith("“Both sides hot” does most")
    both = plan_pressing(annual(), annual_readings(), press_choices(heated="both", dwell=Q_(4, "hour")))
    assert press.say_best_way(both, MILLIMETRES).startswith("None of these ways")


def test_every_gram_is_found_again_in_items_without_cover_or_interleaves(pressed):
    """A self-cover has no part called cover; the balance closes all the same."""
    own = stapled_issue(cover_leaves=0)
    bare = plan_pressing(own, typical_thicknesses(own), press_choices(interval=None))
    assert "cover" not in bare.water.gains
    assert water_page(bare).words.endswith("in all 0.00 g")
    assert water_page(pressed).words.endswith("in all 0.00 g")
    assert press.say_store(bare).startswith("No interleaves take water here")
    assert f"The {pressed.interleaves} sheets weigh" in press.say_store(pressed)
    assert draw_changes(bare) is None
    assert "interleaves (blue)" not in draw_stack(bare).reads


def test_a_sheet_is_told_of_its_faces():
    plan = plan_pressing(sheet(), typical_thicknesses(sheet()), press_choices())
    damp, lies, glue = press.say_taken_over(sheet(), plan)
    assert damp.startswith("The sheet comes out")
    assert lies == "A sheet of copy paper 24 lb lies on each face."
    assert glue == ""
    assert "A sheet (blue) lies on each face" in draw_stack(plan).reads
    assert plan.stack.of(Role.LEAF)[0].count == 1


def test_no_drying_is_claimed_of_changes_that_bring_none():
    """An item drier than its fresh sheets grows damper with each change."""
    dry = press_choices(item_humidity=percent_range(40, 38, 42))
    plan = plan_pressing(annual(), annual_readings(), dry)
    assert plan.water.changes[-1].value > plan.water.rest.value
    assert "brings them down" not in draw_changes(plan).reads


def test_a_release_is_never_said_to_make_the_rest_needless(pressed):
    assert "Rest it under weight all the same" in press.say_release(pressed)
    damp = replace(pressed, water=replace(pressed.water, release=None))
    assert "Ten days under weight do not bring it below" in press.say_release(damp)


def test_the_growth_is_that_of_the_width_at_hand(pressed):
    """A width of 168 mm grows by 0.25 to 1 % across the grain: 0.4 to 1.7 mm [munoz-vinas2009]."""
    words = press.say_growth(annual(), pressed)
    assert "(0.4 to 1.7)" in words
    assert "on a width of 168 mm" in words


def test_a_self_cover_is_not_told_of_covers():
    own = stapled_issue(cover_leaves=0)
    readings = Thicknesses(read_thou(66.0, "text block"), {"upper": read_thou(66.0, "upper staple")})
    found = buffer(own, readings, interval=3)
    assert found.verdict is not Verdict.STOP
    assert "one in front, one behind, one after every 2 or 3 leaves" in found.answer
    assert "one under each cover" in buffer(stapled_issue(), readings, interval=3).answer
