"""What the bench measured of paper, cover and release sheet moves and narrows the plans that it is about."""

from dataclasses import replace
from datetime import date

import pytest

from bench.item import Answer
from bench.physics.contact import pressure_from_word
from bench.physics.ranges import Range
from bench.physics.transient.cells import cut_stack
from bench.physics.transient.inputs import AS_PUBLISHED, HYSTERESIS, Inputs
from bench.physics.vapour import COVER_AS_AIR
from bench.treatment import measured
from bench.treatment.humidity import HumidityChoices, plan_humidity, uptake
from bench.treatment.measured import Accepted
from bench.treatment.pressing import PressingChoices, plan_pressing, run
from bench.treatment.weighing.through import Through
from bench.units import Q_
from tests.makers import annual, annual_readings

COATED = annual(cover_coated=Answer.YES)
SCALE = Range.of((1.2, 1.1, 1.3), "")
LAG = Range.of((0.014, 0.011, 0.017), "")
COVER = Range.of((12, 9, 15), "mm")
RELEASE = Range.of((45, 40, 50), "mm")


def accepted(constant, about, value):
    return (Accepted(constant, about, value, date(2026, 3, 2), date(2029, 3, 2)),)


HELD = accepted(measured.ISOTHERM_SCALE, "newsprint", SCALE)
STAYS = accepted(measured.HYSTERESIS, "newsprint", LAG)
TIGHT = accepted(measured.COVER_AS_AIR, "coated cover", COVER)
NON_STICK = accepted(measured.RELEASE_AS_AIR, "silicone release paper", RELEASE)
OTHERS = (
    accepted(measured.ISOTHERM_SCALE, "coated text", SCALE)
    + accepted(measured.HYSTERESIS, "uncoated writing", LAG)
    + accepted(measured.COVER_AS_AIR, "uncoated cover", COVER)
    + accepted(measured.RELEASE_AS_AIR, "spun polyester", RELEASE)
)


def chamber(item=COATED, **changes):
    return plan_humidity(item, annual_readings(), HumidityChoices(**changes))


def press_choices(**changes):
    damp = Range.of((90, 85, 95), "percent")
    return PressingChoices(
        load=pressure_from_word("medium"), load_words="medium", item_humidity=damp, **changes
    )


def press(item=COATED, **changes):
    return plan_pressing(item, annual_readings(), press_choices(**changes))


def width(found, unit):
    _, low, high = found.floats(unit, field="found")
    return high - low


def inputs_in_press(item=COATED, **changes):
    return run.set_up(item, annual_readings(), press_choices(**changes)).inputs


def inputs_in_chamber(item=COATED, **changes):
    return uptake.set_up(item, annual_readings(), HumidityChoices(**changes)).inputs


def test_what_is_about_another_material_changes_nothing():
    assert inputs_in_press(measured=OTHERS) == inputs_in_press()
    assert inputs_in_chamber(measured=OTHERS) == inputs_in_chamber()


def test_a_paper_that_holds_more_takes_more_water_and_the_plan_knows_it_better():
    before, after = chamber(), chamber(measured=HELD)
    assert after.water.value > 1.15 * before.water.value
    assert width(after.water, "g") < 0.7 * width(before.water, "g")
    assert after.hours_core.value > before.hours_core.value


def test_the_night_is_narrower_where_the_paper_is_known():
    before, after = press(), press(measured=HELD + STAYS)
    assert width(after.water.rest, "percent") < width(before.water.rest, "percent")
    assert after.water.rest.value != before.water.rest.value


def test_weighings_and_the_operator_come_before_the_trial():
    own = Range.of((0.9, 0.85, 0.95), "")
    for inputs_of in (inputs_in_press, inputs_in_chamber):
        weighed = inputs_of(measured=HELD, isotherm_scale=own, weighed="this one")
        assert weighed.triples["isotherm_scale"][0] == 0.9
        told = inputs_of(measured=HELD, isotherm_scale=own)
        assert told.triples["isotherm_scale"][0] == 0.9
        assert inputs_of(measured=HELD).triples["isotherm_scale"][0] == 1.2
        assert inputs_of().triples["isotherm_scale"][0] == AS_PUBLISHED.value.magnitude


def test_a_cover_that_the_operator_knows_is_left_as_told():
    told = Range.of((30, 20, 40), "mm")
    assert inputs_in_chamber(measured=TIGHT, cover_as_air=told).cover_as_air == told
    assert inputs_in_chamber(measured=TIGHT).cover_as_air == COVER


def test_hysteresis_is_that_of_the_paper():
    for inputs_of in (inputs_in_press, inputs_in_chamber):
        assert inputs_of(measured=STAYS).hysteresis == LAG
        assert inputs_of().hysteresis == HYSTERESIS


def test_a_cover_that_is_coated_lets_through_what_was_measured():
    before, after = chamber(), chamber(measured=TIGHT)
    assert after.hours_core.value < before.hours_core.value
    assert width(after.hours_core, "hour") < width(before.hours_core, "hour")


@pytest.mark.parametrize("coated", [Answer.NO, Answer.UNKNOWN])
def test_a_cover_that_may_be_bare_is_not_taken_for_the_one_that_was_measured(coated):
    item = annual(cover_coated=coated)
    for inputs_of in (inputs_in_press, inputs_in_chamber):
        assert inputs_of(item, measured=TIGHT) == inputs_of(item)


def test_a_release_sheet_is_told_from_the_cover_once_either_is_measured():
    assert inputs_in_press().release_as_air is None
    assert inputs_in_press(measured=NON_STICK).release_as_air == RELEASE
    assert inputs_in_press(measured=NON_STICK).cover_as_air == COVER_AS_AIR
    assert inputs_in_press(measured=TIGHT).cover_as_air == COVER
    assert inputs_in_press(measured=TIGHT).release_as_air == COVER_AS_AIR


def test_alike_by_themselves_or_together_they_hold_back_as_much():
    setting = run.set_up(COATED, annual_readings(), press_choices())
    together = Inputs()
    apart = Inputs(release_as_air=COVER_AS_AIR)
    tighter = Inputs(release_as_air=RELEASE)
    cuts = [cut_stack(setting.stack, inputs.middle(), contact=140.0) for inputs in (together, apart, tighter)]
    assert (cuts[0].slices.half_vapour == cuts[1].slices.half_vapour).all()
    changed = cuts[2].slices.half_vapour != cuts[0].slices.half_vapour
    sheets = [sheet for sheet in cuts[2].sheets if changed[sheet.cells].any()]
    assert {sheet.role.name for sheet in sheets} == {"RELEASE"}
    assert len(sheets) == 2


def test_each_is_a_doubt_of_its_own_then():
    words = {cause for cause, _ in run.set_up(COATED, annual_readings(), press_choices())._courses}
    assert "how tight cover and release sheet are" in words
    setting = run.set_up(COATED, annual_readings(), press_choices(measured=NON_STICK + TIGHT))
    words = {cause for cause, _ in setting._courses}
    assert {"how tight the cover is", "how tight the release sheet is"} <= words
    assert "how tight cover and release sheet are" not in words


def test_a_press_that_is_weighed_has_the_release_sheet_too():
    given = press_choices(measured=NON_STICK)
    pressing = run.set_up(COATED, annual_readings(), given)
    setting = uptake.set_up(COATED, annual_readings(), HumidityChoices(measured=NON_STICK))
    assert Through(setting, pressing, Q_(1, "day")).inputs.release_as_air == RELEASE
    bare = replace(setting, item=annual(cover_coated=Answer.NO))
    assert Through(bare, pressing, Q_(1, "day")).inputs.release_as_air == RELEASE


def test_what_was_taken_is_listed_once_and_in_place_of_what_the_books_say():
    here = HELD + STAYS + TIGHT + NON_STICK
    for plan_of, keys in (
        (chamber, ["isotherm-scale", "hysteresis", "cover-as-air"]),
        (press, ["isotherm-scale", "hysteresis", "cover-as-air", "release-as-air"]),
    ):
        before, after = plan_of().assumptions, plan_of(measured=here + OTHERS).assumptions
        assert [one.key for one in after if one.key.startswith("measured:")] == [
            f"measured: {key}" for key in keys
        ]
        named = {one.name for one in after}
        assert "water held by this paper" in {one.name for one in before} - named
        assert "coated cover" not in named
        assert "transport of vapour" in named
