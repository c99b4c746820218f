"""The whole answer: the trade's own example, limits, and what must hold whatever the constants.

Common practice, no source: readings of 173.5 thousandths of an inch over the text block, 178.5 and
172.5 over the two staples, 208 with interleaves (36 leaves).  One sheet every six leaves is called
conservative, leaves some defects along the spine and has not crushed a spine; eight leaves, then ten,
are the next steps.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from bench.errors import BadValue
from bench.item import Format, Prong, Staple, Thicknesses
from bench.physics.bearing.answers import compare_spacings, estimate_bearing
from bench.physics.bearing.knowns import Assumed, Press, draw_values
from bench.physics.bearing.plates import build_pack
from bench.physics.bearing.results import Limits, recommend_plan, say_bearing
from bench.physics.bearing.zones import (
    WIRE,
    Sheets,
    Shim,
    count_sheets,
    lay_out,
    section_places,
    section_profile,
)
from bench.physics.contact import LOAD_WORDS
from bench.physics.ranges import Range
from bench.treatment.interleaves import place_interleaves
from bench.uncertainty import exactly, guard_band
from bench.units import Q_
from tests.makers import annual, annual_readings, read_thou, stapled_issue
from tests.oracles.one_section import solve_section
from tests.oracles.whole_face import CROWN, face_strips, solve_face


def rng():
    return np.random.default_rng(20)


@pytest.fixture(scope="module")
def plans():
    found = compare_spacings(annual(), annual_readings(), Press(), rng=rng(), intervals=range(4, 13))
    return {plan.sheets.count: plan for plan in found}


def of(plans, interval):
    return next(plan for plan in plans.values() if interval in plan.intervals)


# --- the trade's story -----------------------------------------------------------------------------


def test_seven_sheets_read_208(plans):
    """173.5 and seven sheets against the 208 that were read, which is to half a thousandth."""
    read = Q_(173.5, "thou") + of(plans, 6).gain.value
    assert of(plans, 6).sheets.count == 7
    assert read.to("thou").m == pytest.approx(208, abs=1.5)


def test_every_six_leaves_is_conservative(plans):
    """Has not crushed a spine: no sample of 2000 touches spine or staple at medium load."""
    plan = of(plans, 6)
    assert plan.chance < 1e-3
    assert plan.spine.high.m == 0
    assert all(plan.is_clear(place) for place in plan.clearance)


def test_every_six_leaves_leaves_a_strip_along_the_spine(plans):
    """Some defects along the spine stay: beyond the staples, at 8 mm, hardly any pressure arrives."""
    plan = of(plans, 6)
    assert plan.unpressed.low > Q_(8, "mm")
    assert plan.unpressed.high < Q_(30, "mm")


def test_eight_and_ten_are_the_next_steps(plans):
    """Each rung presses closer to the spine, and the chance of loading it stays at about 2 % and under."""
    widths = [of(plans, interval).unpressed.value.to("mm").m for interval in (6, 8, 10)]
    assert widths[0] > widths[1] > widths[2]
    assert of(plans, 8).chance < 0.005
    assert of(plans, 10).chance < 0.03


def test_twelve_and_no_sheets_are_too_few(plans):
    assert 0.02 < of(plans, 12).chance < 0.5
    bare = estimate_bearing(annual(), annual_readings(), Sheets(0, 2), Press(), rng=rng(), samples=400)
    assert bare.chance > 0.8
    assert bare.spine.value > 5 * bare.block.value


def test_the_lower_staple_pinches_its_paper_and_is_the_safer_one(plans):
    """It reads below the text block, so it is cleared by more than the upper."""
    for plan in plans.values():
        assert plan.clearance["lower staple"].value > plan.clearance["upper staple"].value
        assert plan.chances["lower staple"] <= plan.chances["upper staple"]


def test_the_recommended_plan_is_the_fewest_sheets_within_the_risk(plans):
    best, why = recommend_plan(tuple(plans.values()))
    assert best.chance <= 0.02
    assert all(plan.chance > 0.02 for plan in plans.values() if plan.sheets.count < best.sheets.count)
    assert f"{best.sheets.count} sheets" in why
    cautious, _ = recommend_plan(tuple(plans.values()), Limits(accepted_risk=0.0005))
    assert cautious.sheets.count > best.sheets.count


def test_the_accepted_risk_is_the_one_that_was_chosen(plans):
    """Four sheets are too many by a third, so five it is."""
    risk = 0.75 * plans[4].chance
    best, _ = recommend_plan(tuple(plans.values()), Limits(accepted_risk=risk))
    assert best.sheets.count == 5


def test_a_pressed_staple_has_no_room_left():
    """Where the wire carries, the boards have sunk below its free height."""
    bare = estimate_bearing(annual(), annual_readings(), Sheets(0, 2), Press(), rng=rng(), samples=400)
    assert bare.staples["upper"].low.m > 0
    assert bare.clearance["upper staple"].high.m < 0


def test_more_sheets_never_bring_the_platen_closer(plans):
    """Monotone in the sheets, sample by sample the same doubts."""
    ordered = [plans[count] for count in sorted(plans)]
    for fewer, more in pairwise(ordered):
        assert more.chance <= fewer.chance
        assert more.clearance["spine edge"].value > fewer.clearance["spine edge"].value


def test_every_plan_between_is_there_once(plans):
    """Eight sheets are a balanced plan that no spacing asks for."""
    assert sorted(plans) == [4, 5, 6, 7, 8, 9, 10]
    assert plans[8].intervals == ()
    assert plans[8].group == 6


def test_the_text_block_carries_the_load(plans):
    """Conservation: 2/3 of the width at nearly the load on the face, the rest by what is unpressed."""
    plan = of(plans, 6)
    load = plan.load.value.to("kPa").m
    assert load < plan.block.value.to("kPa").m < 1.25 * load
    lost = plan.unpressed.value / Q_(168, "mm")
    assert plan.block.value.to("kPa").m * (1 - lost.to("").m) == pytest.approx(load, rel=0.07)


# --- guard bands -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("conformance", "z"), [(0.8, 0.8416), (0.9, 1.2816), (0.95, 1.6449), (0.975, 1.96), (0.99, 2.3263)]
)
def test_guard_band_is_z_times_the_doubt(conformance, z):
    """[jcgm106]: g = z u, one-sided; z calculated with scipy."""
    assert guard_band(Q_(10, "um"), conformance).to("um").m == pytest.approx(10 * z, abs=5e-4)


def test_a_clearance_within_its_guard_band_is_not_enough(plans):
    """[jcgm106]: accept where the clearance is at least z u; 98 % asks for z = 2.054."""
    plan = of(plans, 12)
    assert plan.clearance["upper staple"].value < plan.guard["upper staple"]
    assert not plan.is_clear("upper staple")
    tight = estimate_bearing(
        annual(),
        annual_readings(),
        plan.sheets,
        Press(),
        rng=rng(),
        limits=Limits(accepted_risk=0.2),
        samples=500,
    )
    assert tight.guard["upper staple"] < plan.guard["upper staple"]


# --- limits and invariants -------------------------------------------------------------------------


def known_press(**changes):
    load = Q_(4, "kPa")
    return Press(load=Range(load, load, load), **changes)


def test_staples_on_a_face_press_as_in_their_section():
    """Strips of one plate against the section at the platen height of the face; boards hand on a little."""
    item, read = annual(), annual_readings()
    sheets = Sheets(0, 2)
    values = draw_values(item, read, sheets, known_press(), Assumed(), rng=None)
    layout = lay_out(item, read)
    across = section_places(layout, fine=1e-3, coarse=12e-3, reach=16e-3)
    face = solve_face(across, face_strips(layout, coarse=40e-3), layout, sheets, values)
    assert face.balance.unbalance < 1e-9
    full = section_profile(across, layout, sheets, values, staple="upper")
    profile = full.part(0)
    one = {name: float(values[name][0]) for name in ("bending", "give")}
    base = section_profile(across, layout, sheets, values)
    between = base.part(0)
    level = solve_section(across, between, one, load=4e3 * layout.width)
    gap = 2 * (level.balance.platen - 1e-3)
    section = solve_section(across, profile, one, gap=gap)
    row = int(np.argmin(np.abs(across - 8e-3)))
    assert face.staples["upper"] == pytest.approx(section.pressure[row] * WIRE * CROWN, rel=0.1)
    assert face.staples["upper"] > face.staples["lower"]
    assert (face.pressure * face.share).sum() == pytest.approx(4e3 * 0.168 * 0.257, rel=1e-9)


def test_a_sheet_is_pressed_evenly():
    """Exact limit: one zone, no step: pressure is the load everywhere, and nothing stays unpressed."""
    item = annual(format=Format.SHEET, leaves=1, cover_leaves=0, staples=())
    read = Thicknesses(exactly(Q_(0.2, "mm")))
    plan = estimate_bearing(item, read, count_sheets(item, 6), known_press(), rng=rng(), samples=100)
    assert plan.curve.pressure.to("kPa").m == pytest.approx(np.full(len(plan.curve.places), 4.0), rel=1e-6)
    assert plan.unpressed.high.m == 0
    assert plan.chances == {}
    assert "stay unpressed" in say_bearing(plan)


@pytest.mark.parametrize("format_", list(Format))
@pytest.mark.parametrize("interval", [4, 6, 8])
def test_counts_agree_with_the_placement_of_sheets(format_, interval):
    """Two ways to count: this one, and the list of places that the slip prints."""
    item = stapled_issue() if format_ is Format.SADDLE_STITCHED else annual(format=format_)
    sheets = count_sheets(item, interval)
    places = place_interleaves(item, interval)
    assert sheets.count == len(places)
    if format_ is not Format.SHEET:
        assert sheets.to_fold == sum(place.reach.startswith("to the") for place in places)


def test_units_make_no_difference():
    """The same readings in millimetres and in thousandths of an inch."""
    item = annual()
    thou = Thicknesses(exactly(Q_(173.5, "thou")), {"upper": exactly(Q_(178.5, "thou"))})
    metric = Thicknesses(exactly(Q_(4.4069, "mm")), {"upper": exactly(Q_(4.5339, "mm"))})
    first, second = (
        estimate_bearing(item, read, Sheets(2, 2), Press(), rng=rng(), samples=200) for read in (thou, metric)
    )
    assert first.unpressed.value.to("mm").m == pytest.approx(second.unpressed.value.to("mm").m, rel=1e-9)
    assert first.chance == second.chance


def test_the_same_generator_gives_the_same_answer():
    first, second = (
        estimate_bearing(annual(), annual_readings(), Sheets(2, 2), Press(), rng=rng(), samples=200)
        for _ in range(2)
    )
    assert first.spine == second.spine
    assert first.chances == second.chances


def test_a_proud_prong_is_loaded_before_a_flush_one():
    proud = annual(staples=tuple(replace(staple, prong=Prong.PROUD) for staple in annual().staples))
    flush = estimate_bearing(annual(), annual_readings(), Sheets(3, 2), Press(), rng=rng(), samples=400)
    stuck = estimate_bearing(proud, annual_readings(), Sheets(3, 2), Press(), rng=rng(), samples=400)
    assert stuck.chances["upper staple"] > flush.chances["upper staple"] + 0.1


def test_a_saddle_stitched_item_is_highest_at_its_fold():
    read = Thicknesses(
        read_thou(75, "text block"),
        {"upper": read_thou(78, "upper staple"), "lower": read_thou(77, "lower staple")},
        spine_edge=read_thou(80, "spine edge"),
    )
    plans = compare_spacings(stapled_issue(), read, Press(), rng=rng(), intervals=(4, 8), samples=400)
    many, few = plans
    assert (many.sheets.inner, few.sheets.inner) == (2, 0)
    assert few.spine.value > 10 * few.block.value
    assert many.chance < 0.1


# --- boards and other load paths ---------------------------------------------------------------------


def test_boards_matter_where_nothing_rigid_backs_them():
    """Under even load softer boards press the spine strip and leave less of it out."""
    soft, hard = build_pack(("card 90 lb index", 1)), build_pack(("backing board 42 pt", 3))
    plans = [
        estimate_bearing(
            annual(), annual_readings(), Sheets(5, 2), Press(even=True, pack=pack), rng=rng(), samples=300
        )
        for pack in (soft, hard)
    ]
    assert plans[0].unpressed.value < plans[1].unpressed.value
    plate = Press(even=True, plate=Q_(3.2, "mm"))
    stiff = estimate_bearing(annual(), annual_readings(), Sheets(5, 2), plate, rng=rng(), samples=300)
    assert stiff.unpressed.value > plans[1].unpressed.value


def test_a_spine_outside_the_platen_is_not_pressed():
    out = Press(outside=Q_(10, "mm"))
    plan = estimate_bearing(annual(), annual_readings(), Sheets(0, 2), out, rng=rng(), samples=200)
    assert plan.spine.high.m == 0
    assert plan.chance == 0
    assert plan.unpressed.low >= Q_(10, "mm")


def test_a_shim_over_the_spine_loads_it():
    shim = Press(shim=Shim(Q_(0.6, "mm"), Q_(8, "mm")))
    plan = estimate_bearing(annual(), annual_readings(), Sheets(5, 2), shim, rng=rng(), samples=300)
    assert plan.chances["spine"] > 0.5


def test_stops_take_the_load_that_would_go_too_far():
    gap = Range(Q_(5.1, "mm"), Q_(5.05, "mm"), Q_(5.15, "mm"))
    free = Press(load=LOAD_WORDS["firm"])
    stopped = Press(load=LOAD_WORDS["firm"], gap=gap)
    plans = [
        estimate_bearing(annual(), annual_readings(), Sheets(2, 2), press, rng=rng(), samples=400)
        for press in (free, stopped)
    ]
    assert plans[1].chance < 0.05 < plans[0].chance
    assert plans[1].block.value < plans[0].block.value


# --- refusals ----------------------------------------------------------------------------------------


def test_sheets_thicker_than_the_gap_are_refused():
    tight = Press(load=None, gap=Range(Q_(0.5, "mm"), Q_(0.5, "mm"), Q_(0.5, "mm")))
    with pytest.raises(
        BadValue, match=r"gap of the press is 0.5 mm; allowed is more than the sheets alone, 0.8"
    ):
        estimate_bearing(annual(), annual_readings(), Sheets(5, 2), tight, rng=rng())


def test_readings_that_contradict_are_refused():
    """A staple ten times the text block is a reading in the wrong unit."""
    wrong = Thicknesses(exactly(Q_(4.4, "mm")), {"upper": exactly(Q_(44, "mm"))})
    with pytest.raises(BadValue, match=r"thickness at upper staple is 10 times.*contradict each other"):
        estimate_bearing(annual(), wrong, Sheets(5, 2), Press(), rng=rng())


def test_zero_load_and_no_load_are_refused():
    with pytest.raises(BadValue, match="load is 0 kPa; allowed is above zero"):
        Press(load=Range(Q_(0, "kPa"), Q_(0, "kPa"), Q_(0, "kPa")))
    with pytest.raises(BadValue, match="load is not given"):
        Press(load=None)


def test_a_press_set_far_too_tight_is_refused():
    """1 mm for more than 5 mm of paper: beyond the laws of paper in every sample."""
    tight = Press(load=None, gap=Range(Q_(1, "mm"), Q_(1, "mm"), Q_(1, "mm")))
    with pytest.raises(BadValue, match=r"gap of the press is 1\.00 mm.*Open the press"):
        estimate_bearing(annual(), annual_readings(), Sheets(5, 2), tight, rng=rng(), samples=100)


def test_no_spacing_fits_a_single_leaf():
    with pytest.raises(BadValue, match="Choose more leaves between sheets"):
        compare_spacings(annual(leaves=1), annual_readings(), Press(), rng=rng(), intervals=(4,))


def test_a_staple_without_a_reading_is_guessed_widely():
    """Without its reading the clearance over a staple is less sure."""
    item = annual(staples=(*annual().staples, Staple("middle", Q_(128, "mm"), Q_(8, "mm"))))
    plan = estimate_bearing(item, annual_readings(), Sheets(5, 2), Press(), rng=rng(), samples=400)
    assert plan.guard["middle staple"] > 0.9 * plan.guard["upper staple"]
