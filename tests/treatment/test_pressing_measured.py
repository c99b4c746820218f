"""What a press plan does with what its bench measured: the answer moves, narrows, and is told."""

from datetime import date

import pytest

from bench.errors import BadValue
from bench.item import Format
from bench.physics.ranges import Range
from bench.treatment.measured import (
    GLUE_SOFTENS,
    LEAF_HEAT,
    PLATEN_ERROR,
    PLATEN_HALF_LIFE,
    PLATEN_HEATING,
    PRESS,
    Accepted,
)
from bench.treatment.plan import minutes
from bench.treatment.pressing.heat import estimate_heat
from bench.treatment.pressing.measured import taken_here
from bench.treatment.pressing.plan import PLATEN_HALF_LIFE as BELIEVED
from bench.treatment.pressing.plan import measured_half_life, read_half_life
from bench.treatment.pressing.run import set_up
from bench.units import Q_
from tests.makers import annual, annual_readings
from tests.treatment.test_pressing import choices, plan

ERROR = Range.of((5, 4, 6), "delta_degC")
HALF_LIFE = Range.of((38.04, 34, 42), "min")


def accepted(constant, value, about=PRESS, *, is_due=False):
    return Accepted(constant, about, value, date(2026, 3, 2), date(2027, 3, 2), is_due)


def heat(*measured, **more):
    return estimate_heat(set_up(annual(), annual_readings(), choices(measured=measured, **more)))


def celsius(range_):
    return range_.floats("degC", field="leaf")


def width(range_):
    _, low, high = celsius(range_)
    return high - low


@pytest.fixture(scope="module")
def usual():
    return heat()


def test_a_platen_that_is_warmer_than_it_says_warms_the_leaves_in_proportion(usual):
    """Conduction is linear (Carslaw and Jaeger): 43 K of rise in place of 38 K, everywhere."""
    found = heat(accepted(PLATEN_ERROR, ERROR))
    for name in ("top", "slowest"):
        before, after = celsius(getattr(usual, name))[0], celsius(getattr(found, name))[0]
        assert after - 22 == pytest.approx((before - 22) * 43 / 38, rel=0.01)


def test_a_platen_that_is_known_better_narrows_the_warmest_leaf(usual):
    """The warmest leaf hangs on the platen most: 3 K either way before, 1 K then."""
    found = heat(accepted(PLATEN_ERROR, Range.of((0, -1, 1), "delta_degC")))
    assert celsius(found.top)[0] == pytest.approx(celsius(usual.top)[0])
    assert width(found.top) < 0.8 * width(usual.top)


def test_a_stack_that_passes_heat_badly_stays_cooler_and_takes_longer(usual):
    paper = annual().text_paper
    found = heat(accepted(LEAF_HEAT, Range.of((1.5, 1.35, 1.65), ""), paper))
    assert celsius(found.slowest)[0] < celsius(usual.slowest)[0] - 1
    assert found.time.value > 1.1 * usual.time.value
    assert "how well the stack passes heat, as measured" in found.doubts
    assert "how well paper and board conduct heat" not in found.doubts


def test_measured_as_reckoned_it_narrows_and_does_not_move(usual):
    found = heat(accepted(LEAF_HEAT, Range.of((1.0, 0.9, 1.1), ""), annual().text_paper))
    assert celsius(found.slowest)[0] == pytest.approx(celsius(usual.slowest)[0], abs=0.1)  # other company
    assert width(found.slowest) < width(usual.slowest)
    spread = [float((each.high / each.low).to("").magnitude) for each in (found.time, usual.time)]
    assert spread[0] < 0.95 * spread[1]  # what the far side loses counts most


def test_what_was_measured_of_another_paper_changes_nothing(usual):
    assert heat(accepted(LEAF_HEAT, Range.of((1.5, 1.35, 1.65), ""), "coated text")) == usual


def test_a_cold_press_takes_nothing_of_the_heat():
    measured = (
        accepted(PLATEN_ERROR, ERROR),
        accepted(PLATEN_HEATING, Range.of((25, 22, 28), "min")),
        accepted(LEAF_HEAT, Range.of((1.5, 1.35, 1.65), ""), annual().text_paper),
    )
    cold = choices(measured=measured, platen_temperature=None)
    assert taken_here(annual(), cold) == ()
    assert taken_here(annual(), choices(measured=measured)) == measured
    assert (
        set_up(annual(), annual_readings(), cold).inputs
        == set_up(annual(), annual_readings(), choices(platen_temperature=None)).inputs
    )


def test_a_platen_hotter_than_anything_known_is_refused_and_one_as_cold_as_the_room_is_cold():
    """70 °C is the most: set to 60, and 12 K warmer than it says, it is 72."""
    hotter = (accepted(PLATEN_ERROR, Range.of((12, 11, 13), "delta_degC")),)
    with pytest.raises(BadValue, match="measured to be off"):
        choices(measured=hotter)
    assert choices(measured=hotter, platen_temperature=Q_(58, "degC")).is_warm
    colder = (accepted(PLATEN_ERROR, Range.of((-12, -13, -11), "delta_degC")),)
    assert not choices(measured=colder, platen_temperature=Q_(34, "degC")).is_warm
    assert choices(platen_temperature=Q_(34, "degC")).is_warm


def test_a_half_life_is_named_unless_the_operator_entered_another():
    measured = (accepted(PLATEN_HALF_LIFE, HALF_LIFE),)
    assert taken_here(annual(), choices(measured=measured, half_life=HALF_LIFE)) == measured
    assert taken_here(annual(), choices(measured=measured, half_life=measured_half_life(minutes(60)))) == ()


def test_a_half_life_that_was_proposed_keeps_its_interval_and_another_gets_its_own():
    assert read_half_life(minutes(38.0), HALF_LIFE) == HALF_LIFE
    assert read_half_life(minutes(40.0), HALF_LIFE) == measured_half_life(minutes(40.0))
    assert read_half_life(minutes(38.0), BELIEVED) == measured_half_life(minutes(38.0))
    assert read_half_life(None, BELIEVED) == BELIEVED
    assert read_half_life(None, HALF_LIFE) == BELIEVED


@pytest.fixture(scope="module")
def bound():
    """An annual bound with hot melt, whose bench measured glue and heating."""
    return annual(glue="EVA hot melt")


def test_the_glue_as_measured_decides_on_its_margin_and_another_glue_does_not(bound):
    measured = accepted(GLUE_SOFTENS, Range.of((46, 42, 50), "degC"), "EVA hot melt")
    other = accepted(GLUE_SOFTENS, Range.of((46, 42, 50), "degC"), "PVAc")
    heating = accepted(PLATEN_HEATING, Range.of((25, 22, 28), "min"), is_due=True)
    before, after = (
        plan(bound, choices(measured=(other,))),
        plan(bound, choices(measured=(measured, heating))),
    )
    assert before.glue.softening == plan(bound).glue.softening
    assert after.glue.softening == measured.value
    assert after.glue.margin.value > before.glue.margin.value
    widths = [float((p.glue.margin.high - p.glue.margin.low).magnitude) for p in (before, after)]
    assert widths[1] < 0.5 * widths[0]
    said = [each.words for each in after.assumptions]
    assert measured.say() in said
    assert other.say() not in [each.words for each in before.assumptions]
    step = after.steps[0]
    assert step.duration == minutes(30)
    assert "warm after 25 min (22 to 28)" in step.note
    assert before.steps[0].duration == minutes(10)
    assert any("Due to be measured again" in caution.words for caution in after.cautions)


def test_a_glue_says_nothing_of_an_item_without_a_square_spine():
    measured = (accepted(GLUE_SOFTENS, Range.of((46, 42, 50), "degC"), "EVA hot melt"),)
    folded = annual(glue="EVA hot melt", format=Format.SADDLE_STITCHED)
    assert taken_here(folded, choices(measured=measured)) == ()
    assert taken_here(annual(glue="EVA hot melt"), choices(measured=measured)) == measured
