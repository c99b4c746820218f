"""What a press plan may not pass over in silence: the heat of the platen, and where its models end."""

from dataclasses import replace
from datetime import timedelta

import pytest

from bench.errors import BadValue
from bench.physics.ranges import Range
from bench.treatment import facts
from bench.treatment.clock.schedule import lay_out
from bench.treatment.plan import Verdict, hours, minutes
from bench.treatment.pressing.plan import PLATEN_HALF_LIFE, measured_half_life
from bench.units import Q_
from tests.makers import annual, annual_readings, read_thou
from tests.treatment.test_pressing import choices, percent_range, plan
from tests.treatment.test_schedule import at

NO_HEAT_LEFT = measured_half_life(minutes(0))


def minutes_of(quantity):
    return quantity.to("min").magnitude


def thick():
    """A hundred leaves in boards: ten on each side, on felt."""
    item = annual(leaves=200)
    block = replace(annual_readings(), text_block=read_thou(1000, "text block"))
    over = {name: read_thou(1000, f"{name} staple") for name in block.over_staples}
    return item, replace(block, over_staples=over)


@pytest.mark.parametrize("heated", ["one", "both"])
def test_with_the_platen_left_on_cooling_takes_hours(heated):
    """By hand: a plate that loses half of its warmth in 45 min falls from 38 to 5 K in 45 log2(7.6) = 132 min
    alone; the other face helps where it is open, the heat of the stack holds it back.
    """
    cooling = plan(given=choices(heated=heated)).heat.cooling
    assert 60 < minutes_of(cooling.value) < 240
    assert minutes_of(cooling.low) > 40
    assert minutes_of(cooling.high) < 360


def test_without_heat_of_its_own_the_platen_is_the_base_of_before():
    """29 min (15 to 57) was what came out while the platen vanished with its heat."""
    cooling = plan(given=choices(half_life=NO_HEAT_LEFT)).heat.cooling
    assert [minutes_of(x) for x in (cooling.value, cooling.low, cooling.high)] == pytest.approx(
        [29, 15, 57], abs=2
    )


@pytest.mark.parametrize("heated", ["one", "both"])
@pytest.mark.parametrize("end", ["low", "high"])
def test_the_ends_of_the_cooling_are_those_of_runs_with_the_ends(heated, end):
    """The rule by which the ends are stretched, against the model with the other half-life."""
    half_life = getattr(PLATEN_HALF_LIFE, end)
    usual, other = (
        plan(given=choices(heated=heated, half_life=Range(h, h, h))).heat.cooling.value
        for h in (PLATEN_HALF_LIFE.value, half_life)
    )
    stated = plan(given=choices(heated=heated)).heat.cooling
    run = float((other / usual).to("").magnitude)
    told = float((getattr(stated, end) / stated.value).to("").magnitude)
    assert (run < 1) == (end == "low")
    assert (told <= 1.08 * run) if end == "low" else (told >= 0.93 * run)


def test_a_measured_half_life_narrows_the_cooling():
    wide, narrow = (
        plan(given=choices(half_life=h)).heat.cooling
        for h in (PLATEN_HALF_LIFE, measured_half_life(minutes(45)))
    )
    assert narrow.value == wide.value
    assert (narrow.high - narrow.low) < 0.7 * (wide.high - wide.low)


def test_a_short_night_does_not_cut_the_cooling_and_is_told():
    usual, short = plan(), plan(given=choices(night=hours(0.5)))
    assert minutes_of(short.heat.cooling.value) == pytest.approx(
        minutes_of(usual.heat.cooling.value), rel=0.01
    )
    said = [c for c in short.cautions if "over before it has cooled" in c.words]
    assert [c.verdict for c in said] == [Verdict.CARE]
    assert not any("over before it has cooled" in c.words for c in usual.cautions)
    assert [s.name for s in short.steps if "cool" in s.name or "overnight" in s.name] == ["cool under load"]


def test_the_schedule_gives_the_platen_its_time_to_cool():
    found = plan()
    cool = next(step for step in found.steps if step.name == "cool under load")
    left = minutes_of(cool.duration) - minutes_of(found.heat.cooling.value)
    assert 0 <= left < 5
    assert "Heat off, load on" in cool.note
    timeline = lay_out([("pressing", 1, step) for step in found.steps], start=at(2, 14))
    closed = [s for s in timeline.steps if s.name in ("cool under load", "in the press overnight")]
    assert closed[0].ends == closed[1].begins
    assert closed[1].ends - closed[0].begins >= timedelta(hours=14)


@pytest.mark.parametrize("heated", ["one", "both"])
def test_ageing_and_mould_count_the_hours_in_which_the_platen_keeps_it_warm(heated):
    """Found apart from this code, with the heat that a platen keeps: 1.3 to 2.1 times as much ageing."""
    warm, bare = (plan(given=choices(heated=heated, half_life=h)) for h in (PLATEN_HALF_LIFE, NO_HEAT_LEFT))
    for law in ("first", "second"):
        in_press = [getattr(p.spent, law) - getattr(p.choices.chamber, law) for p in (warm, bare)]
        assert 1.3 < in_press[0] / in_press[1] < 2.1
    assert warm.spent.strict > bare.spent.strict


def test_the_plan_says_how_the_platen_is_taken_and_keeps_it():
    for half_life, words, source in (
        (PLATEN_HALF_LIFE, "judgement; measure it", "memory"),
        (measured_half_life(minutes(30)), "30 min (27 to 33) (measured)", "operator"),
    ):
        found = plan(given=choices(half_life=half_life))
        said = next(a for a in found.assumptions if a.name == "heat of the platen")
        assert words in said.words
        kept = found.value(facts.HALF_LIFE)
        assert (kept.value, kept.source, said.source) == (half_life.value.to("min"), source, source)
    cold = plan(given=choices(platen_temperature=None))
    assert not any(a.name == "heat of the platen" for a in cold.assumptions)


def test_a_half_life_that_no_press_has_is_refused():
    with pytest.raises(BadValue, match="half-life of the platen"):
        choices(half_life=measured_half_life(minutes(600)))


@pytest.mark.parametrize("humidity", [98.1, 99.9, 0.5])
def test_an_item_beyond_what_is_known_of_paper_is_refused(humidity):
    with pytest.raises(BadValue, match=rf"humidity of the item is {humidity} %; allowed is 1 to 98 %"):
        choices(item_humidity=percent_range(humidity, 0.5, 100))


@pytest.mark.parametrize(("high", "told"), [(98.0, False), (99.5, True)])
def test_an_interval_beyond_what_is_known_of_paper_is_told(high, told):
    found = plan(given=choices(item_humidity=percent_range(95, 88, high)))
    said = [c for c in found.cautions if "in which paper is known" in c.words]
    assert [c.verdict for c in said] == [Verdict.CARE] * told


def test_a_stack_that_comes_beyond_what_is_known_of_paper_is_told():
    """Heat drives water into the far leaves; without sheets and boards nothing takes it up there."""
    wet = plan(given=choices(item_humidity=percent_range(98, 98, 98), interval=None))
    assert Q_(98, "percent") < wet.water.warm.value <= Q_(100, "percent")
    assert any("beyond what is known of paper" in c.words for c in wet.cautions)
    assert not any("beyond what is known of paper" in c.words for c in plan().cautions)


def test_water_beyond_the_law_of_softening_is_told():
    holds = Range.of((1.6, 1.4, 1.7), "")
    wet = choices(item_humidity=percent_range(98, 98, 98), isotherm_scale=holds, interval=None)
    found = plan(given=wet)
    said = [c.words for c in found.cautions if "how far that softens fibres" in c.words]
    assert len(said) == 1
    assert "known to 25 % only" in said[0]
    dry = plan(given=choices(item_humidity=percent_range(70, 65, 75)))
    assert not any("how far that softens fibres" in c.words for c in dry.cautions)


def test_the_warmest_it_can_become_is_that_of_the_steady_state():
    """Exact limit: over felt no heat leaves, so that every leaf ends as warm as the platen, however thick."""
    item, readings = thick()
    found = plan(item, choices(boards=10, base="insulated"), readings)
    assert found.heat.slowest_final.value.to("degC").magnitude == pytest.approx(60.0, abs=0.1)
    assert minutes_of(found.heat.time.value) > 240


def test_twice_a_long_dwell_is_twice_the_dwell():
    """Four hours, and eight: over felt the far leaf goes on rising between."""
    item, readings = thick()
    own, *_, longer = plan(
        item, choices(boards=10, base="insulated", dwell=minutes(240)), readings
    ).alternatives
    assert longer.celsius > own.celsius + 3


def test_twice_a_long_dwell_is_followed_in_a_thin_stack_too():
    """Its heat stands long before: eight hours under the platen add nothing."""
    own, *_, longer = plan(given=choices(dwell=minutes(240))).alternatives
    assert longer.dwell == minutes(480)
    assert longer.celsius == pytest.approx(own.celsius, abs=0.3)


def test_conditioning_is_followed_beyond_ten_days():
    item, readings = thick()
    conditioning = plan(item, choices(), readings).water.conditioning
    assert conditioning.high > hours(240.5)
    assert conditioning.low < conditioning.value < conditioning.high


@pytest.mark.slow
def test_conditioning_that_is_not_followed_to_its_end_is_told():
    item = annual(leaves=1000)
    readings = replace(annual_readings(), text_block=read_thou(5000, "text block"))
    over = {name: read_thou(5000, f"{name} staple") for name in readings.over_staples}
    found = plan(item, choices(interval=12), replace(readings, over_staples=over))
    assert found.water.conditioning is None
    assert facts.HOURS_TO_CONDITION not in [v.fact for v in found.values]
    assert any("more than 60 days" in c.words for c in found.cautions)


def test_the_fewest_changes_do_not_hang_on_how_many_are_planned():
    given = choices(item_humidity=percent_range(88, 80, 94), release_limit=Q_(57, "percent"))
    found = {n: plan(given=replace(given, changes=n)).water for n in (0, 1, 2, 4, 8)}
    assert len({water.fewest for water in found.values()}) == 1
    assert len({water.needed for water in found.values()}) == 1
    fewest, needed = found[8].fewest, found[8].needed
    assert 2 < fewest < needed  # or no plan above would have had to look beyond itself
