"""Cleaning: order of tools, what a test forbids, time, and where work does not pay."""

import math

import pytest

from bench.errors import BadValue, NotFound
from bench.item import Answer, Format
from bench.physics.ranges import Range
from bench.sources import cite
from bench.treatment.cleaning.planning import CleaningChoices, plan_cleaning, say_time
from bench.treatment.cleaning.surfaces import Surface, SurfaceState, find_soiled, surface_area
from bench.treatment.cleaning.tools import TOOLS, tool, tools_for
from bench.treatment.cleaning.words import NO_PASS, check_by_hand, say_listed
from bench.treatment.conditions import Condition, Kind
from bench.treatment.intake import Decision
from bench.treatment.intake.condition_terms import Help
from bench.treatment.intake.defects import Defect
from bench.treatment.intake.spot_tests import Result
from bench.treatment.plan import Verdict
from bench.units import Q_
from tests.makers import annual

PLAIN = annual(cover_coated=Answer.NO)
COATED = annual(cover_coated=Answer.YES)
DIRTY_COVER = SurfaceState(Surface.COVER_OUTSIDE, soil=3, unprinted=0.5)


def plan(item=PLAIN, surfaces=(DIRTY_COVER,), rub_test=Result.PASS, **more):
    return plan_cleaning(item, CleaningChoices(tuple(surfaces), rub_test=rub_test, **more))


def tools_of(result):
    return [p.tool.id for p in result.passes]


def test_tools_go_from_the_gentlest_to_the_strongest():
    """The order brush, sponge, rubber sponge, ground vinyl, block: common practice, no source."""
    assert tools_of(plan()) == ["brush", "suction", "rubber sponge", "vinyl crumbs", "vinyl block"]
    assert [t.order for t in TOOLS] == sorted(t.order for t in TOOLS)


def test_a_coated_cover_gets_no_eraser():
    assert tools_of(plan(COATED)) == ["brush", "suction", "soft sponge", "rubber sponge"]


def test_a_cover_of_unknown_coating_is_cleaned_as_coated():
    assert tools_of(plan(annual(cover_coated=Answer.UNKNOWN))) == tools_of(plan(COATED))


def test_newsprint_leaves_never_get_an_eraser():
    """Sizing protects against abrasion by erasers [pearlstein1982, seen as cited]; newsprint has none."""
    assert all("vinyl" not in t.id for t in tools_for(Surface.LEAVES, coated=False))
    leaves = SurfaceState(Surface.LEAVES, soil=3, share=0.1, unprinted=1.0)
    assert tools_of(plan(surfaces=[leaves])) == ["brush", "suction", "rubber sponge"]


@pytest.mark.parametrize("result", [Result.FAIL, Result.DOUBT, Result.NOT_DONE])
def test_nothing_rubs_before_the_rub_test_has_passed(result):
    found = plan(rub_test=result)
    assert tools_of(found) == ["brush", "suction"]
    assert found.verdict is Verdict.CARE
    assert f"the dry rub test is “{result}”: nothing that rubs" in dict(found.work[0].left_out).values()


def test_intake_can_leave_only_the_brush():
    brush = Condition(Kind.BRUSH_ONLY, ("cleaning",), "Nothing but a soft brush on the leaves", "leaves")
    leaves = SurfaceState(Surface.LEAVES, soil=3, share=0.1, unprinted=1.0)
    found = plan(surfaces=[DIRTY_COVER, leaves], conditions=(brush,))
    assert [p.tool.id for p in found.passes if p.surface is Surface.LEAVES] == ["brush", "suction"]
    assert "vinyl block" in tools_of(found)  # the cover is not meant


def test_spores_are_sucked_up_before_a_brush_stirs_them():
    """Ordinary vacuum cleaners blow spores out again [rubber-sponge, seen]; hence HEPA and a screen."""
    mould = Condition(Kind.SCREENED_SUCTION, ("cleaning",), "HEPA suction through a screen first")
    found = plan(surfaces=[SurfaceState(Surface.COVER_OUTSIDE, soil=1)], conditions=(mould,))
    assert tools_of(found) == ["suction", "brush"]


@pytest.mark.parametrize("decision", [Decision.HOLD, Decision.REFER])
def test_nothing_begins_unless_intake_decided_to_treat(decision):
    found = plan(decision=decision)
    assert (found.verdict, found.passes, found.steps) == (Verdict.STOP, (), ())
    assert found.answer == f"Do not clean: intake says {decision}."


@pytest.mark.parametrize(("soil", "expected"), [(0, []), (1, ["brush"])])
def test_little_soil_needs_little(soil, expected):
    state = SurfaceState(Surface.COVER_OUTSIDE, soil=soil, unprinted=1.0)
    assert tools_of(plan(surfaces=[state])) == expected


@pytest.mark.parametrize(
    ("soil", "unprinted", "gain"),
    [(0, 1.0, "none"), (2, 0.1, "hardly any"), (2, 0.2, "some"), (1, 1.0, "plain"), (3, 0.5, "plain")],
)
def test_unprinted_light_areas_show_the_soil(soil, unprinted, gain):
    """Common practice, no source: soil shows most where the paper is light and bare."""
    assert SurfaceState(Surface.COVER_OUTSIDE, soil, unprinted=unprinted).gain == gain


def test_where_print_hides_the_soil_only_loose_dirt_goes_and_the_words_say_why():
    """Loose dirt goes in any case: dirt becomes muddy and sets when humidified [surface-dirt, seen]."""
    found = plan(surfaces=[SurfaceState(Surface.COVER_OUTSIDE, soil=2, unprinted=0.1)])
    assert tools_of(found) == ["brush", "suction"]
    assert "print hides it, so more than the suction does not pay" in found.because
    assert found.passes[0].why == "loose dirt sets into damp fibres"


def test_the_operator_may_stop_at_a_gentler_tool():
    assert tools_of(plan(strongest="rubber sponge")) == ["brush", "suction", "rubber sponge"]


def test_areas_follow_from_the_trimmed_size():
    """168 x 257 mm is 431.76 cm2 a face: two outside, 36 leaves with two faces each."""
    thick = Q_(5, "mm")
    face = 16.8 * 25.7
    assert surface_area(PLAIN, Surface.COVER_OUTSIDE, thick).to("cm^2").magnitude == pytest.approx(2 * face)
    assert surface_area(PLAIN, Surface.LEAVES, thick).to("cm^2").magnitude == pytest.approx(72 * face)
    edges = (2 * 16.8 + 25.7) * 0.5
    assert surface_area(PLAIN, Surface.EDGES, thick).to("cm^2").magnitude == pytest.approx(edges)


def test_erasers_are_kept_to_the_unprinted_part():
    found = {p.tool.id: p for p in plan().passes}
    assert found["vinyl block"].area.magnitude == pytest.approx(0.5 * found["brush"].area.magnitude)


def test_time_is_a_minute_of_handling_and_area_over_rate_by_hand():
    """863.52 cm2 at 200 cm2/min is 4.3 min, and one minute to take the tool up: 5.3 min."""
    found = plan(surfaces=[SurfaceState(Surface.COVER_OUTSIDE, soil=1)])
    assert found.time.value.to("min").magnitude == pytest.approx(1 + 863.52 / 200)


def test_one_tool_a_factor_two_unsure_gives_the_hand_calculated_interval():
    """u(ln t) = ln 2 / sqrt 3 = 0.400; as log-normal sigma = sqrt(ln(1 + 0.16)) = 0.385; t times or
    over exp(1.96 x 0.385) = 2.13."""
    found = plan(surfaces=[SurfaceState(Surface.COVER_OUTSIDE, soil=1)])
    sigma = math.sqrt(math.log(1 + (math.log(2) / math.sqrt(3)) ** 2))
    assert sigma == pytest.approx(0.385, abs=5e-4)
    ratio = found.time.high.to("min").magnitude / found.time.value.to("min").magnitude
    assert ratio == pytest.approx(2.13, abs=5e-3)
    assert found.time.value.to("min").magnitude / found.time.low.to("min").magnitude == pytest.approx(ratio)


def test_two_surfaces_with_one_tool_share_its_doubt_and_two_tools_do_not():
    one = plan(surfaces=[SurfaceState(Surface.COVER_OUTSIDE, soil=1)])
    same = plan(surfaces=[SurfaceState(s, soil=1) for s in (Surface.COVER_OUTSIDE, Surface.COVER_INSIDE)])
    more = plan(COATED)

    def spread(found):
        return (found.time.high / found.time.value).to("").magnitude

    assert spread(same) == pytest.approx(spread(one))
    assert spread(more) < spread(one)


def test_an_own_rate_counts_instead_and_narrows_the_interval():
    state = SurfaceState(Surface.COVER_OUTSIDE, soil=1)
    own = plan(surfaces=[state], rates={"brush": Q_(100, "cm^2/min")})
    assert own.time.value.to("min").magnitude == pytest.approx(1 + 8.6352)
    assert own.time.high / own.time.value < 2


def test_the_sum_of_the_steps_is_the_time_and_the_set_up():
    found = plan()
    hands = sum(step.duration.to("min").magnitude for step in found.steps)
    assert hands == pytest.approx(math.ceil(found.time.value.to("min").magnitude) + 25)
    assert all(step.hands for step in found.steps)


def test_every_tool_names_its_stop_signs_and_its_source():
    for each in TOOLS:
        assert each.stops
        assert each.leaves_behind
        assert cite(each.source).key == each.source
    assert any("colour on the tool" in c.words for c in plan().cautions)


def test_dust_mask_and_mould_are_always_said():
    words = " ".join(c.words for c in plan().cautions)
    assert "mask" in words
    assert "mould" in words


@pytest.mark.parametrize(
    ("facts", "message"),
    [
        ({"soil": 4}, "soil of cover, outside is 4"),
        ({"soil": 1, "share": 1.2}, "share to clean of cover, outside is 120 %; allowed is 0 to 100 %"),
        ({"soil": 1, "unprinted": -0.1}, "unprinted share of cover, outside is -10 %"),
    ],
)
def test_impossible_states_are_refused(facts, message):
    with pytest.raises(BadValue, match=message):
        SurfaceState(Surface.COVER_OUTSIDE, **facts)


def test_a_surface_given_twice_and_an_impossible_rate_are_refused():
    with pytest.raises(BadValue, match="each surface once"):
        CleaningChoices((DIRTY_COVER, DIRTY_COVER))
    with pytest.raises(BadValue, match="rate of soft hair brush is 0"):
        CleaningChoices((DIRTY_COVER,), rates={"brush": Q_(0, "cm^2/min")})
    with pytest.raises(NotFound, match="tool is 'steel wool'"):
        tool("steel wool")


def test_a_short_time_is_said_to_the_minute_and_a_long_one_to_five():
    assert say_time(Range.of((5.3, 2.4, 11.3), "min")) == "about 5 min (2 to 10 min)"


def soiled(face, term="dirty", *, severity=2, leaf="1", size=(60, 80), **more):
    sides = dict(zip(("width", "height"), (Q_(side, "mm") for side in size), strict=True))
    place = {"x": Q_(10, "mm"), "y": Q_(10, "mm"), **sides}
    return Defect("d1", term, face, leaf=leaf, severity=severity, **place, **more)


THICK = Q_(5, "mm")


@pytest.mark.parametrize(
    ("face", "surface"),
    [
        ("back cover, outside", Surface.COVER_OUTSIDE),
        ("front cover, inside", Surface.COVER_INSIDE),
        ("verso", Surface.LEAVES),
        ("tail edge", Surface.EDGES),
        ("spine", Surface.SPINE),
    ],
)
def test_a_listed_soiled_place_is_found_on_its_surface(face, surface):
    found = find_soiled(PLAIN, [soiled(face)], THICK)
    assert found.keys() == {surface}
    assert found[surface].soil == 2


def test_its_share_is_its_boxes_over_the_surface_in_full_percent():
    """Two boxes of 48 cm2 on two faces of 16.8 by 25.7 cm: 96 / 863.5 is 11.1 %, so 12."""
    found = find_soiled(PLAIN, [soiled("back cover, outside"), soiled("front cover, outside")], THICK)
    assert found[Surface.COVER_OUTSIDE].share == pytest.approx(0.12)
    tiny = find_soiled(PLAIN, [soiled("recto", size=(5, 5))], THICK)
    assert tiny[Surface.LEAVES].share == 0.01


def test_what_does_not_come_off_dry_is_gone_or_out_of_scope_is_not_counted():
    """Foxing is in the paper; the operator's own word on a defect goes before the rule."""
    left = [
        soiled("recto", "foxing"),
        soiled("recto", severity=0),
        soiled("recto", in_scope=False),
        soiled("recto", helped_by=Help.NONE),
    ]
    assert find_soiled(PLAIN, left, THICK) == {}
    assert find_soiled(PLAIN, [soiled("recto", "stain", helped_by=Help.CLEAN)], THICK)


def test_an_edge_of_a_sheet_belongs_to_its_faces():
    sheet = annual(format=Format.SHEET, leaves=1, cover_leaves=0, staples=(), glue="none")
    assert find_soiled(sheet, [soiled("tail edge")], THICK).keys() == {Surface.LEAVES}


def test_a_listed_place_without_soil_is_never_called_clean():
    listed = {Surface.EDGES: "d1, dusty, fore edge"}
    idle = plan(surfaces=[SurfaceState(Surface.EDGES, soil=0)], listed=listed)
    assert idle.verdict is Verdict.CARE
    assert idle.answer == "Not decided: soiled places are listed, but no soil is entered for them."
    elsewhere = plan(listed=listed)
    assert "Listed as soiled, but no soil is entered there: d1, dusty, fore edge." in [
        c.words for c in elsewhere.cautions
    ]
    entered = plan(surfaces=[SurfaceState(Surface.EDGES, soil=1)], listed=listed)
    assert not any("Listed as soiled" in c.words for c in entered.cautions)


@pytest.mark.parametrize(
    ("surface", "by_hand"),
    [
        (Surface.COVER_OUTSIDE, 2 * 16.8 * 25.7),
        (Surface.COVER_INSIDE, 2 * 16.8 * 25.7),
        (Surface.LEAVES, 2 * 36 * 16.8 * 25.7),
        (Surface.EDGES, (2 * 16.8 + 25.7) * 0.5),
        (Surface.SPINE, 25.7 * 0.5),
    ],
)
def test_the_pencil_and_the_plan_agree_on_the_first_pass(surface, by_hand):
    """A fifth of the surface at 200 cm2 a minute with the brush, and a minute of handling."""
    found = plan(surfaces=[SurfaceState(surface, soil=1, share=0.2)])
    lines = check_by_hand(PLAIN, found)
    expected = f"{0.2 * by_hand:.0f} cm², {1 + 0.2 * by_hand / 200:.1f} min."
    assert lines[0].count(expected) == 2
    assert lines[1] == "The brush does all of it: its time may be off by a factor of 2.13 either way."


def test_a_sum_over_tools_is_surer_than_its_least_sure_part():
    """One tool a factor of 2 unsure: 2.13; three tools: the time of the whole, over its likely value."""
    found = plan(surfaces=[SurfaceState(Surface.EDGES, soil=2, unprinted=1.0)])
    whole = (found.time.high / found.time.value).to("").magnitude
    assert 1 < whole < 2.13
    words = f"alone the time may be off by a factor of 2.13 either way, with all 3 tools by {whole:.2f}"
    assert words in check_by_hand(PLAIN, found)[1]


def test_without_a_pass_there_is_nothing_to_divide_by():
    """A self-cover has no outside of a cover: area, time and interval of it are nought."""
    bare = annual(cover_leaves=0)
    found = plan_cleaning(bare, CleaningChoices((SurfaceState(Surface.COVER_OUTSIDE, soil=1),)))
    assert check_by_hand(bare, found) == (NO_PASS,)
    assert say_listed(found) == "No defect is listed that dry cleaning could help."
