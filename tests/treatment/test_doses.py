"""Doses against the laws they read, against their limits, and over several cycles."""

from dataclasses import replace

import pytest

from bench.figures.doses import dose_page, dose_table
from bench.item import Answer, Staple
from bench.physics.exposure import Exposure
from bench.treatment import facts
from bench.treatment.doses import (
    AGEING,
    COATING,
    GLUE,
    LOGGER,
    MOULD,
    NOTHING,
    RUST,
    SIZE,
    TAKEN,
    Account,
    Spent,
    Standing,
    add_up,
    caution_of_ageing,
    caution_of_mould,
    caution_of_rust,
    judge_doses,
    judge_next,
    judge_treatment,
    spend_cycles,
    spend_press,
)
from bench.treatment.plan import PlannedValue, Verdict
from bench.units import MILLIMETRES, Q_
from tests.makers import annual, stapled_issue


def days_at(percent, days=1.0, celsius=22):
    return Exposure(Q_(24 * days, "hour"), Q_(celsius, "degC"), Q_(percent, "percent"))


def dose(doses, name):
    return next(found for found in doses if found.name == name)


def value(fact, number, **more):
    return PlannedValue(fact, Q_(number, fact.unit), **more)


CHAMBER = Spent.during([days_at(98)])
RUSTY = annual(staples=(Staple("upper", Q_(38, "mm"), Q_(8, "mm"), rust=1),))


def test_a_day_in_the_chamber_costs_what_the_sources_say():
    """A day at 98 % RH and 22 °C.

    Days to mould, from memory: half of two days by the strict rule.  ISO 9223 (definition from memory): wet
    all of it.  Michalski's multiplier (from memory): (98/50)^1.3 exp(1e5/8.314 (1/293.15 - 1/295.15)) = 3.2.
    """
    assert CHAMBER.strict == pytest.approx(50)
    assert CHAMBER.wet == CHAMBER.damp == CHAMBER.clock == 24
    assert CHAMBER.first == pytest.approx(3.2, abs=0.05)
    assert CHAMBER.second > CHAMBER.first


def test_what_is_spent_adds_up_like_the_history_itself():
    """The growth index of a spell is within a thousandth of the sum of its halves while it is below 1."""
    one, two = Spent.during([days_at(98, 2)]), CHAMBER + CHAMBER
    for name in ("strict", "milder", "clock", "wet", "damp", "first", "second"):
        assert getattr(two, name) == pytest.approx(getattr(one, name), rel=1e-12)
    assert two.index == pytest.approx(one.index, rel=1e-3)
    assert NOTHING + CHAMBER == CHAMBER


def test_it_is_read_back_from_its_own_planned_values():
    assert Spent.as_planned(CHAMBER.values()) == CHAMBER
    assert Spent.as_planned(CHAMBER.values()[1:]) is None


def test_the_sources_stand_side_by_side_and_a_day_is_within_every_limit():
    doses = judge_doses(CHAMBER.values(), annual())
    assert [len(dose(doses, name).readings) for name in (MOULD, RUST, AGEING)] == [4, 2, 2]
    assert [reading.standing for reading in dose(doses, RUST).readings] == [Standing.WITHIN, None]
    assert dose(doses, AGEING).standing is Standing.WITHIN
    assert Account(doses).say_over() == ""
    assert dose(doses, RUST).readings[1].limit() == ""  # advice on keeping for good: nothing to be over


def test_what_an_item_does_not_have_is_left_out():
    bare = replace(annual(), staples=(), glue="none", cover_coated=Answer.NO)
    names = {found.name for found in judge_doses((*CHAMBER.values(), *cover(90, 60), glue(5, 1, 9)), bare)}
    assert names == {MOULD, AGEING}


def cover(humidity, celsius):
    return (
        value(facts.COVER_HUMIDITY, humidity, limit=Q_(80, "percent")),
        value(facts.COVER_HEAT, celsius, limit=Q_(40, "degC")),
    )


def glue(number, low, high):
    ends = {"low": Q_(low, "delta_degC"), "high": Q_(high, "delta_degC"), "limit": Q_(0, "delta_degC")}
    return value(facts.GLUE_ABOVE, number, **ends)


@pytest.mark.parametrize(
    ("humidity", "celsius", "standing"),
    [(90, 60, Standing.OVER), (90, 39, Standing.WITHIN), (79, 60, Standing.WITHIN)],
)
def test_a_coating_is_harmed_by_damp_and_warmth_together_only(humidity, celsius, standing):
    assert dose(judge_doses(cover(humidity, celsius)), COATING).standing is standing


@pytest.mark.parametrize(
    ("low", "high", "standing"),
    [(1, 9, Standing.OVER), (-5, 9, Standing.MAY_BE), (-9, -1, Standing.WITHIN)],
)
def test_an_interval_is_over_with_all_of_it_and_may_be_over_with_a_part(low, high, standing):
    assert dose(judge_doses([glue((low + high) / 2, low, high)]), GLUE).standing is standing


@pytest.mark.parametrize(
    ("low", "high", "standing"),
    [(-0.9, -0.8, Standing.OVER), (-0.9, 0.0, Standing.MAY_BE), (-0.77, 0.0, Standing.WITHIN)],
)
def test_a_limit_below_zero_is_passed_downwards(low, high, standing):
    ends = {"low": Q_(low, "mm"), "high": Q_(high, "mm"), "limit": Q_(-0.77, "mm")}
    shrinks = value(facts.HEIGHT_GROWS, (low + high) / 2, **ends)
    assert dose(judge_doses([shrinks]), SIZE).standing is standing


def test_a_measured_size_stands_in_place_of_the_expected_one():
    limit = {"limit": Q_(0.5, "percent"), "uncertainty": Q_(0.1, "percent")}
    expected = value(facts.WIDTH_GROWS, 1.0, limit=Q_(0.85, "mm"))
    found = dose(judge_doses([expected, value(facts.CHANGE_OF_WIDTH.of("head"), 0.7, **limit)]), SIZE)
    assert [(r.by, r.standing) for r in found.readings] == [("width, head", Standing.OVER)]
    near = judge_doses([value(facts.CHANGE_OF_WIDTH.of("head"), 0.45, **limit)])
    assert dose(near, SIZE).standing is Standing.MAY_BE


def test_cycles_add_up_and_what_has_no_plan_is_named():
    plans = {
        ("humidity", 1): CHAMBER.values(),
        ("pressing", 1): (CHAMBER + CHAMBER).values(),  # a press plan holds its chamber
        ("humidity", 2): CHAMBER.values(),
    }
    whole = spend_cycles(plans, 3)
    assert whole.wet == 72
    assert whole.unknown == ("the press of cycle 2", "cycle 3")
    account = add_up(whole, (), annual())
    assert account.say_unknown() == "Not counted, because no plan is saved: the press of cycle 2, cycle 3."
    first = judge_treatment({**plans, ("pressing", 1): (*plans["pressing", 1], *cover(90, 60))}, 1)
    assert first.say_unknown() == ""
    assert dose(first.doses, COATING).standing is Standing.OVER
    assert dose(first.doses, RUST).readings[0].value.value.magnitude == 48


def test_of_what_is_not_counted_nothing_is_said_to_be_within():
    """Zero hours because nothing was planned are not zero hours."""
    account = judge_treatment({}, 1, annual())
    assert account.doses == ()
    assert account.say_first().startswith("Within every limit, as far as counted. Not counted")
    page = dose_table(account, MILLIMETRES)
    assert "▲ Not all is counted" in page
    assert "<table" not in page


def test_only_what_one_cycle_uses_up_of_the_time_for_mould_forbids_it():
    """The museum rules (from memory) count damp on end; a dry rest lies between two cycles."""
    long = Spent.during([days_at(98, 2.1)])
    alone = caution_of_mould(add_up(long, ()), long, care_from=50)
    assert alone.verdict is Verdict.STOP
    assert "time for mould is used up" in alone.words
    both = add_up(CHAMBER + CHAMBER + CHAMBER, ())
    shared = caution_of_mould(both, CHAMBER, care_from=50)
    assert shared.verdict is Verdict.CARE
    assert "over the limit of the strict rule of days" in shared.words
    assert "rest dry" in shared.words
    cool = Spent.during([days_at(70, 0.5)])
    assert caution_of_mould(add_up(cool, ()), cool, care_from=50).verdict is Verdict.GO


def test_the_clock_of_wet_stock_alone_asks_for_care():
    spent = Spent.during([days_at(70, 2.1)])
    found = caution_of_mould(add_up(spent, ()), spent, care_from=50)
    assert found.verdict is Verdict.CARE
    assert "meant for water-damaged stock" in found.words


def test_wire_wet_for_more_than_two_days_asks_for_care_and_rusted_wire_before():
    wet, day = Spent.during([days_at(98, 2.1)]), CHAMBER
    levels = [
        [caution_of_rust(add_up(spent, (), item), item)[0].verdict for spent in (day, wet)]
        for item in (annual(), RUSTY)
    ]
    assert levels == [[Verdict.GO, Verdict.CARE], [Verdict.CARE, Verdict.CARE]]
    unstapled = replace(stapled_issue(), staples=())
    assert caution_of_rust(add_up(day, (), unstapled), unstapled) == []


def test_ninety_degrees_for_a_day_cost_more_than_a_year():
    """Hand: exp(1e5/8.314 (1/293.15 - 1/363.15)) = 2.7e3 times as fast at 90 °C by Michalski's law."""
    hot = Spent.during([days_at(50, celsius=90)])
    assert hot.first == pytest.approx(2.7e3, rel=0.05)
    assert caution_of_ageing(add_up(hot, ())).verdict is Verdict.STOP
    assert caution_of_ageing(add_up(CHAMBER, ())).verdict is Verdict.GO
    assert caution_of_ageing(add_up((replace(CHAMBER, second=95.0)), ())).verdict is Verdict.CARE


def test_what_is_over_is_said_before_the_table_and_in_no_red():
    wet = add_up(CHAMBER + CHAMBER + CHAMBER, (), annual())
    over = dose_table(wet, MILLIMETRES)
    assert over.index('<p class="care">mould by') < over.index("<table")
    assert "▲ over the limit" in over
    assert "halt" not in over
    within = dose_table(add_up(CHAMBER, (), annual()), MILLIMETRES)
    assert "▲" not in within
    assert "Within every limit" in within
    assert dose_page(wet).words.startswith("Over a limit: mould")


def test_a_logger_takes_the_place_of_the_chamber_that_a_press_plan_counted():
    """Two days at the same air cost twice one day; so does a press of none after a chamber of two."""
    press, two = Spent.during([days_at(60, 1)]), CHAMBER + CHAMBER
    as_planned = {("humidity", 1): CHAMBER.values(), ("pressing", 1): (CHAMBER + press).values()}
    logged = {**as_planned, (LOGGER, 1): two.values()}
    taken = {**logged, ("pressing", 1): (two + press).values(), (TAKEN, 1): two.values()}
    no_longer = {key: values for key, values in taken.items() if key != (LOGGER, 1)}
    for plans, chamber in ((as_planned, CHAMBER), (logged, two), (taken, two), (no_longer, CHAMBER)):
        found = spend_press(plans, 1)
        for name in ("index", "strict", "milder", "clock", "wet", "damp", "first", "second"):
            assert getattr(found, name) == pytest.approx(getattr(chamber + press, name), abs=1e-9)
        assert found.logged == (("the chamber of cycle 1",) if (LOGGER, 1) in plans else ())
    assert spend_cycles({key: logged[key] for key in logged if key[0] != "pressing"}, 1).wet == two.wet
    again = judge_next(logged, 1, annual())
    assert dose(again.doses, RUST).readings[0].value.value.magnitude == pytest.approx(2 * two.wet)
    said = "Counted by the air that a logger kept, not by the plan: the chamber of cycle 1."
    assert again.say_logged() == said
    assert said in dose_table(again, MILLIMETRES)
    assert judge_treatment(as_planned, 1, annual()).say_logged() == ""
