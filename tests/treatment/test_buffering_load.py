"""The buffering plan by where the load goes: the trade's story, both rules, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest

from bench.errors import BadValue
from bench.figures.buffering import load_table
from bench.item import Format, Thicknesses
from bench.physics.contact import pressure_from_word
from bench.physics.ranges import Range
from bench.treatment import facts
from bench.treatment.buffering import plan_buffering
from bench.treatment.buffering.choices import PACKS, BufferingChoices, LoadPath, planned_load
from bench.treatment.buffering.load import (
    decide_by_load,
    find_spacing,
    say_guard,
    say_unfit,
    weigh_spacings,
)
from bench.treatment.interleaves import place_interleaves, spacings_of
from bench.treatment.plan import Verdict
from bench.units import Q_
from tests.makers import annual, annual_readings, read_thou, stapled_issue


def choices(**changes):
    return replace(BufferingChoices(load=pressure_from_word("medium"), load_words="medium"), **changes)


def weigh(item=None, readings=None, chosen=None, *, samples=500):
    rng = np.random.default_rng(1)
    return weigh_spacings(
        item or annual(), readings or annual_readings(), chosen or choices(), rng=rng, samples=samples
    )


@pytest.fixture(scope="module")
def loads():
    return weigh(samples=2000)


@pytest.fixture(scope="module")
def low_spine():
    """A text block so low that few sheets leave spine and staples to carry."""
    return Thicknesses(
        read_thou(173.5, "text block"),
        {"upper": read_thou(186.5, "upper staple"), "lower": read_thou(184, "lower staple")},
        spine_edge=read_thou(187, "spine edge"),
    )


def test_the_trade_example_is_recommended_as_practised_with_a_strip_unpressed(loads):
    """Common practice, no source: 173.5 over the block, 178.5 and 172.5 over the staples; every six is
    conservative, leaves a strip with its defects, and has not crushed a spine.
    """
    plan = plan_buffering(annual(), annual_readings(), choices(), loads=loads)
    assert plan.recommended == 6
    assert plan.verdict is Verdict.GO
    assert plan.value(facts.CHANCE_LOADED).value.to("percent").magnitude < 0.1
    strip = plan.value(facts.UNPRESSED_WIDTH)
    assert 5 < strip.low.to("mm").magnitude < strip.value.to("mm").magnitude < 30
    low, high = plan.chosen.thickness.interval()
    assert low.to("thou").magnitude <= 208 <= high.to("thou").magnitude
    assert "practice widens only one step a cycle" in plan.because
    assert "A strip of" in plan.answer


def test_wider_spacings_narrow_the_strip_and_never_lower_the_chance(loads):
    strips = [float(load.unpressed.value.to("mm").magnitude) for load in loads]
    chances = [load.chance for load in loads]
    assert strips == sorted(strips, reverse=True)
    assert chances == sorted(chances)


@pytest.mark.parametrize(("cycle", "most"), [(1, 6), (2, 8), (3, 10), (7, 10)])
def test_the_recommendation_never_exceeds_the_step_of_the_cycle(loads, cycle, most):
    assert (
        plan_buffering(annual(), annual_readings(), choices(), loads=loads, cycle=cycle).recommended == most
    )


def test_the_fewest_sheets_under_the_accepted_chance_are_recommended(low_spine):
    found = weigh(readings=low_spine)
    decision = decide_by_load(found, 6, 0.02, widest=10)
    fewer = [load for load in found if load.intervals and load.sheets.count < decision.by_chance.sheets.count]
    assert decision.by_chance.chance <= 0.02
    assert decision.recommended < 10
    assert all(load.chance > 0.02 for load in fewer if min(load.intervals) <= 10)
    assert "it would be" in decision.words


def test_without_a_good_spacing_the_least_bad_is_named_and_the_plan_warns(low_spine):
    hard = choices(load=pressure_from_word("firm"), interval=12)
    readings = replace(low_spine, text_block=read_thou(150, "text block"))
    plan = plan_buffering(annual(), readings, hard, loads=weigh(readings=readings, chosen=hard))
    assert "as the least bad" in plan.because
    assert plan.verdict is Verdict.STOP
    assert any("beyond its limit" in caution.words for caution in plan.cautions)


def test_both_rules_are_said_where_they_disagree(low_spine):
    over = {"upper": read_thou(181, "upper staple"), "lower": read_thou(178, "lower staple")}
    readings = replace(low_spine, over_staples=over, spine_edge=read_thou(182, "spine edge"))
    found = weigh(readings=readings)
    decision = decide_by_load(found, 8, 0.02, widest=8)
    assert decision.recommended == 8
    assert decision.by_guard.sheets.count == find_spacing(found, 6).sheets.count
    assert "The guard band is stricter: over the spine edge" in say_guard(decision, 0.02)
    assert say_guard(decide_by_load(found, 6, 0.02, widest=8), 0.02) == ""


def test_a_spacing_wider_than_recommended_is_the_operators_own_and_said(loads):
    plan = plan_buffering(annual(), annual_readings(), choices(interval=9), loads=loads)
    assert any("wider than the 6 recommended" in caution.words for caution in plan.cautions)
    assert plan.chosen.interval == 9


def test_the_numbers_of_the_load_stand_beside_those_of_thickness(loads):
    plan = plan_buffering(annual(), annual_readings(), choices(), loads=loads)
    names = [value.label for value in plan.values]
    assert len(names) == len(set(names))
    assert {
        "clearance over upper staple",
        "chance that spine and staples stay free",
        "pressure on spine",
        "pressure on upper staple",
        "pressure where sheets end",
        "pressure on text block",
        "width left unpressed",
        "paper used",
        "water the sheets take up",
    } <= set(names)
    assert all(value.limit_source for value in plan.values if value.limit is not None)


def test_the_same_generator_gives_the_same_plan():
    first, second = weigh(), weigh()
    assert [load.chances for load in first] == [load.chances for load in second]
    assert first[0].spine == second[0].spine


def strip(pack, *, even):
    load = find_spacing(weigh(chosen=choices(path=LoadPath(pack=pack, even=even))), 6)
    return load.unpressed.value.to("mm").magnitude


@pytest.mark.slow
def test_boards_matter_where_the_load_is_loose_and_hardly_under_a_level_platen():
    usual, thin, stiff, soft = PACKS
    assert strip(soft, even=True) < strip(thin, even=True) < strip(usual, even=True)
    assert strip(usual, even=True) < strip(stiff, even=True)
    assert strip(stiff, even=False) == pytest.approx(strip(soft, even=False), rel=0.01)


def test_loose_weights_tilt_onto_the_spine():
    loose = find_spacing(weigh(chosen=choices(path=LoadPath(even=True))), 6)
    assert loose.chance > 0.5 > find_spacing(weigh(), 6).chance


def test_a_strip_over_the_spine_brings_load_back_to_it():
    bare = find_spacing(weigh(), 6)
    shimmed = LoadPath(shim=Q_(0.8, "mm"), shim_width=Q_(10, "mm"))
    filled = find_spacing(weigh(chosen=choices(path=shimmed)), 6)
    assert filled.spine.value > bare.spine.value


def test_saddle_stitched_needs_a_light_load_or_close_sheets():
    item = stapled_issue()
    readings = Thicknesses(
        read_thou(76, "text block"),
        {"upper": read_thou(82.5, "upper staple"), "lower": read_thou(81, "lower staple")},
        spine_edge=read_thou(80, "spine edge"),
    )
    light = choices(load=pressure_from_word("light"))
    plan = plan_buffering(item, readings, light, loads=weigh(item, readings, light))
    assert plan.chosen.sheets == 5
    assert plan.decision.by_chance.group == 4
    assert find_spacing(plan.loads, 8).chance > 0.5


def test_a_sheet_has_no_spine_to_load():
    sheet = annual(format=Format.SHEET, leaves=1, cover_leaves=0, staples=(), glue="none")
    readings = Thicknesses(read_thou(8, "text block"))
    plan = plan_buffering(sheet, readings, choices(), loads=weigh(sheet, readings))
    assert plan.decision.words == "A single sheet has neither spine nor staple to load."
    assert "width left unpressed" not in [value.label for value in plan.values]


def test_sheets_thicker_than_the_stops_leave_are_refused_in_words():
    tight = choices(path=LoadPath(stops=Q_(0.3, "mm")))
    with pytest.raises(BadValue, match=r"gap of the press is 0\.3 mm; allowed is more than the sheets alone"):
        weigh(chosen=tight)


def test_a_spacing_whose_sheets_do_not_fit_is_refused_and_wider_ones_are_kept():
    tight = choices(interval=4, path=LoadPath(stops=Q_(1.0, "mm")))
    readings = Thicknesses(read_thou(20, "text block"), {"upper": read_thou(20, "upper staple")})
    found = weigh(annual(), readings, tight)
    assert min(load.group for load in found) > 4
    with pytest.raises(BadValue, match="leaves between sheets is 4; allowed is sheets that fit"):
        plan_buffering(annual(), readings, tight, loads=found)


def test_no_load_is_refused_in_words():
    with pytest.raises(BadValue, match="load is 0 kPa; allowed is above zero"):
        weigh(chosen=choices(load=Range(Q_(0, "kPa"), Q_(0, "kPa"), Q_(0, "kPa"))))


def test_readings_that_contradict_each_other_are_refused_in_words():
    wrong = Thicknesses(read_thou(173.5, "text block"), {"upper": read_thou(17.85, "upper staple")})
    with pytest.raises(BadValue, match="The readings contradict each other"):
        weigh(readings=wrong)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"pack": "felt"}, "boards on each side"),
        ({"even": True, "stops": Q_(4, "mm")}, "only under a level platen"),
        ({"shim": Q_(0.5, "mm")}, "half described"),
        ({"stops": Q_(0, "mm")}, "gap of the press is 0 mm"),
    ],
)
def test_an_impossible_way_of_pressing_is_refused(changes, words):
    with pytest.raises(BadValue, match=words):
        LoadPath(**changes)


def test_a_balanced_plan_is_weighed_among_the_spacings_chosen_and_judged(loads):
    """Between every 6 and every 5 leaves a number of sheets that no spacing comes to, or beyond them all."""
    between = next(load for load in loads if not load.intervals)
    own = choices(sheets=between.sheets.count)
    plan = plan_buffering(annual(), annual_readings(), own, loads=loads)
    assert plan.decision.chosen is between
    assert plan.value(facts.SHEETS).value.magnitude == between.sheets.count
    assert "it takes the fewest" in plan.because or "practice widens" in plan.because
    few = choices(sheets=4)
    found = weigh(chosen=few)
    assert found[-1].sheets.count == 4
    sparse = plan_buffering(annual(), annual_readings(), few, loads=found)
    assert sparse.decision.chosen is found[-1]
    assert any("4 sheets are fewer than the" in caution.words for caution in sparse.cautions)


def test_a_balanced_plan_is_recommended_where_no_spacing_does_with_so_few(loads):
    """Taken from real results, the chance of the spacings raised: only the balanced one stays good."""
    between = next(k for k, load in enumerate(loads) if not load.intervals)
    spoilt = [
        replace(load, chances=dict.fromkeys(load.chances, 0.0 if k == between else 0.3))
        for k, load in enumerate(loads)
    ]
    decision = decide_by_load(spoilt, 6, 0.02, widest=8)
    assert decision.by_chance is spoilt[between]
    assert decision.recommended == spoilt[between].group
    assert f"{spoilt[between].sheets.count} sheets spread evenly" in decision.words
    assert "they are the fewest sheets" in decision.words


def test_a_folded_issue_of_few_leaves_is_offered_closer_spacings():
    """Exact: in 16 leaves every 4 to every 7 come to the same 2 sheets beside the 3 at the fold."""
    issue = stapled_issue()
    leaves = replace(issue, leaves=16)
    assert spacings_of(leaves)[0] == 2
    assert len({len(place_interleaves(leaves, n)) for n in (4, 5, 6, 7)}) == 1
    assert len(place_interleaves(leaves, 3)) > len(place_interleaves(leaves, 4))
    assert spacings_of(annual())[0] == 4


def set_by_height(millimetres, **more):
    path = LoadPath(stops=Q_(millimetres, "mm"))
    return BufferingChoices(load=None, load_words="the press set by height", path=path, **more)


def test_a_press_set_by_height_finds_the_height_that_its_load_had():
    """Inverse: closed to where a known load had brought the platen, the load is found again."""
    sure = Range(*3 * (Q_(8.0, "kPa"),))
    known = weigh(chosen=choices(load=sure))
    six = find_spacing(known, 6)
    assert six.load.value.to("kPa").magnitude == pytest.approx(8)
    heights = np.linspace(5.1, 5.6, 11)
    loads = [find_load(height) for height in heights]
    assert loads == sorted(loads, reverse=True)  # the wider the room the lighter the load
    assert min(loads) < 8 < max(loads)


def find_load(height):
    found = find_spacing(weigh(chosen=set_by_height(float(height)), samples=100), 6)
    return float(found.load.value.to("kPa").magnitude)


def test_a_press_set_by_height_says_which_load_follows_and_warns():
    own = set_by_height(5.2)
    plan = plan_buffering(annual(), annual_readings(), own, loads=weigh(chosen=own))
    load = plan.value(facts.LOAD)
    assert load.low < load.value < load.high
    assert load.high > 3 * load.value  # a tenth of a millimetre decides
    assert any("The load was not measured" in caution.words for caution in plan.cautions)
    assert plan.verdict is not Verdict.GO


@pytest.mark.parametrize(
    ("height", "words"),
    [
        (4.8, "it would crush the item"),
        (7.0, "so little room that the press reaches item and sheets"),
        (0.7, "neither paper nor boards are crushed"),
    ],
)
def test_a_height_that_cannot_be_gets_a_sentence(height, words):
    own = set_by_height(height)
    with pytest.raises(BadValue, match=f"gap of the press is {height:g}0* mm.*{words}"):
        plan_buffering(annual(), annual_readings(), own, loads=weigh(chosen=own, samples=200))


def test_a_height_alone_needs_the_room_and_the_balance():
    with pytest.raises(BadValue, match="gap of the press is empty"):
        BufferingChoices(load=None)
    with pytest.raises(BadValue, match="load is not known"):
        plan_buffering(annual(), annual_readings(), set_by_height(5.4))


@pytest.mark.parametrize("word", ["light", "medium", "firm"])
def test_a_load_known_by_a_word_is_read_back_with_the_range_of_the_word(word):
    plan = plan_buffering(
        annual(), annual_readings(), choices(load=pressure_from_word(word), load_words=word)
    )
    assert planned_load(saved(plan)) == (pressure_from_word(word), word)
    assert planned_load(saved(plan), facts.FACE_PRESSURE) is None


def test_a_measured_load_is_read_back_as_wide_as_it_was():
    given = Range(*(Q_(n, "kPa") for n in (6.0, 5.0, 7.5)))
    plan = plan_buffering(annual(), annual_readings(), choices(load=given, load_words="12 kg on top"))
    assert planned_load(plan.values) == (given, "12 kg on top")
    load, words = planned_load(saved(plan))
    assert words == "12 kg on top"
    assert load.high.magnitude == pytest.approx(7.5)
    assert load.low.magnitude == pytest.approx(6 * 6 / 7.5)


def saved(plan):
    """Values as a record from before version 3 gives them back: without their ends."""
    return [replace(value, low=None, high=None) for value in plan.values]


def test_stops_that_carry_the_load_themselves_are_said():
    """Room of 7 mm for an item of 4.4 mm with seven sheets of an eighth of a millimetre (exact: 5.3 mm)."""
    high = choices(path=LoadPath(stops=Q_(7.0, "mm")))
    plan = plan_buffering(annual(), annual_readings(), high, loads=weigh(chosen=high, samples=200))
    assert plan.verdict is Verdict.STOP
    assert any("the stops carry it" in caution.words for caution in plan.cautions)


def test_plans_that_the_press_does_not_reach_or_crushes_are_never_recommended():
    """Logic: what is not pressed is not loaded either, which is no merit of few sheets."""
    own = set_by_height(5.2, interval=6)
    loads = weigh(chosen=own)
    most, fewest = loads[0], loads[-1]
    assert (say_unfit(most), say_unfit(fewest)) == ("crushed", "not pressed")
    assert fewest.chance == 0
    decision = decide_by_load(loads, 6, 0.02, widest=10)
    assert say_unfit(decision.by_chance) == ""
    table = load_table(loads)
    assert "not pressed" in table
    assert "crushed" in table
