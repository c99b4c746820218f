"""The chamber as a logger kept its air: held against the plan in words, and followed by the model.

From outside: air that never changes is that of a machine; what lies between two airs comes out between them;
an interval of 95 % holds the truth of 95 benches in 100.
"""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np
import pytest

from bench.errors import BadValue
from bench.treatment.actual.logged import LoggedAir
from bench.treatment.actual.observed import Stay, find_stay
from bench.treatment.humidity import HumidityChoices, Source, logged_words, plan_humidity
from bench.treatment.humidity.logged import (
    HYGROMETER,
    follow_as_logged,
    hold_against_plan,
    phases_as_logged,
    read_bins,
)
from bench.treatment.humidity.uptake import set_up
from bench.treatment.plan import Verdict
from bench.units import MILLIMETRES, Q_
from tests.benchmarks.bench_coverage import IN_CHAMBER, draw_inputs, follow_all, items

pytestmark = pytest.mark.slow

IN = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)
HOURS = 12
STAY = Stay(IN, IN + timedelta(hours=HOURS))
KIND = "square-bound, side-stapled"
FAHRENHEIT = replace(MILLIMETRES, temperature="degF")


@cache
def planned(given=None, kind=KIND):
    item, readings = items()[kind]
    source = {} if given is None else {"source": Source.GIVEN, "given_humidity": Q_(given, "percent")}
    choices = HumidityChoices(planned=Q_(HOURS, "hour"), **source)
    return plan_humidity(item, readings, choices), set_up(item, readings, choices)


def air_of(percent, *, celsius=22.0, begins=-1.0, ends=HOURS + 1.0, step=60):
    """Give air whose humidity is a function of the hours since the item went in."""
    seconds = np.arange(3600 * begins, 3600 * ends + 1, step)
    percents = np.array([percent(second / 3600) for second in seconds], float)
    begin = IN + timedelta(seconds=float(seconds[0]))
    return LoggedAir(begin, seconds - seconds[0], np.full(len(seconds), celsius), percents)


def as_planned(hour):
    moments = planned()[0].moments
    return np.interp(hour, [m.hours for m in moments], [float(m.air.value.magnitude) for m in moments])


def told(percent=as_planned, stay=STAY, **more):
    return hold_against_plan(*planned(), air_of(percent, **more), stay)


# --- the model with that air -------------------------------------------------------------------------


@pytest.mark.parametrize("kind", list(items()))
def test_air_that_never_changes_is_that_of_a_machine(kind):
    """The exact limit: the tolerance of a step moves the activity by about 0.001."""
    plan, setting = planned(85.0, kind)
    followed = hold_against_plan(plan, setting, air_of(lambda hour: 85.0), STAY).followed
    for found, wanted in ((followed.end_mean, plan.end.mean), (followed.end_core, plan.end.core)):
        assert float(found.value.magnitude) == pytest.approx(float(wanted.value.magnitude), abs=0.15)
    assert followed.spent.wet == pytest.approx(plan.spent.wet, abs=0.5)  # steps of a run are as long


def test_a_slow_drift_comes_out_between_its_two_ends():
    plan, setting = planned(85.0)
    ends = [
        hold_against_plan(plan, setting, air_of(air), STAY).followed.end_core.value
        for air in (lambda hour: 80.0, lambda hour: 80.0 + 10 * hour / HOURS, lambda hour: 90.0)
    ]
    assert ends[0] < ends[1] < ends[2]


def test_parts_keep_the_mean_of_the_air_over_time():
    """A saw-tooth, which no part of the time cuts evenly; its mean is known beforehand."""
    air = air_of(lambda hour: 80 + 8 * (hour % 1), step=7)
    bins = read_bins(air.between(STAY.begins, STAY.ends), STAY)
    few = bins.without_likes()
    for each in (bins, few):
        assert np.average(each.percent, weights=np.diff(each.edges)) == pytest.approx(84.0, abs=0.02)
    assert len(few.percent) <= len(bins.percent) == 48


BENCHES, LEAST, MOST = 200, 0.90, 0.99


def chance_of_passing(coverage):
    """Give the chance that an interval of such a coverage passes, by the normal law of a share."""
    spread = math.sqrt(coverage * (1 - coverage) / BENCHES)
    return 0.5 * (1 + math.erf((coverage - LEAST) / spread / math.sqrt(2)))


def test_two_hundred_benches_tell_six_in_seven_from_nineteen_in_twenty():
    assert chance_of_passing(0.85) < 0.03
    assert chance_of_passing(0.95) > 0.99


@pytest.mark.parametrize("kind", list(items()))
def test_intervals_hold_the_truth_of_invented_benches(kind):
    """The air stood off the logger by its doubt, the same all the time, and the inputs by theirs."""
    _, setting = planned(None, kind)
    rng = np.random.default_rng(20261129)
    stood = air_of(lambda hour: 84 + 4 * math.sin(hour / 2))
    bins = read_bins(stood.between(STAY.begins, STAY.ends), STAY)
    stated = follow_as_logged(setting, bins)
    doubt = float(HYGROMETER.magnitude) / 1.96
    few, courses = bins.without_likes(), []
    for inputs in draw_inputs(setting.inputs, IN_CHAMBER, BENCHES, rng):
        phases = phases_as_logged(setting, few, doubt * rng.standard_normal())
        courses.append(replace(setting.course, inputs=inputs, phases=phases))
    histories = follow_all(courses)
    for place, band in (("mean", stated.end_mean), (setting.place, stated.end_core)):
        low, high = band.floats("percent", field=place)[1:]
        truths = np.array([100 * history.series("activity", place)[-1] for history in histories])
        inside = float(np.mean((truths >= low) & (truths <= high)))
        assert LEAST <= inside <= MOST, (place, inside)


# --- in words ----------------------------------------------------------------------------------------


def test_a_chamber_that_stood_as_planned_says_so():
    found = told()
    assert found.off == ()
    assert logged_words.judge(found) is Verdict.GO
    words = logged_words.answer(found)
    assert words.startswith("The chamber stood as planned")
    assert "as warm as planned" in words
    assert len(words.split()) <= 50


def test_a_lid_that_leaks_is_told_with_its_time_and_its_doubt():
    found = told(lambda hour: as_planned(hour) - (7.0 if hour > 5 else 0.0))
    (off,) = found.off
    assert off.begins == pytest.approx(5.0, abs=0.3)
    assert off.is_to_the_end
    words = logged_words.answer(found)
    assert words.startswith("From 5.0 h on the chamber stood 7 % (")
    assert "lower than planned: look at lid and source." in words
    assert logged_words.judge(found) is Verdict.CARE
    assert found.followed.end_core.value < found.plan.end.core.value


def test_a_look_in_is_no_failing_of_the_chamber():
    assert told(lambda hour: as_planned(hour) - (30.0 if 5 < hour < 5.2 else 0.0)).off == ()


def test_what_lasts_for_a_while_is_told_with_its_end():
    found = told(lambda hour: as_planned(hour) - (9.0 if 4 < hour < 8 else 0.0))
    assert logged_words.answer(found).startswith("From 4.0 to 8.0 h the chamber stood 9 % (")


@pytest.mark.parametrize(
    ("units", "words"), [(MILLIMETRES, "3.0 K (2.0 to 4.0)"), (FAHRENHEIT, "5.4 °F (3.6 to 7.2)")]
)
def test_warmer_air_is_told_in_the_operators_unit(units, words):
    assert f"It was {words} warmer than planned." in logged_words.answer(told(celsius=25.0), units)


def test_a_gap_is_named_with_its_times():
    air = air_of(as_planned)
    keep = ~((air.seconds > 3600 * 4) & (air.seconds < 3600 * 5.1))
    gone = LoggedAir(air.begin, air.seconds[keep], air.celsius[keep], air.percent[keep])
    found = hold_against_plan(*planned(), gone, STAY)
    assert "Nothing was read from Mon 02 Mar 13:00 to Mon 02 Mar 14:06" in logged_words.because(found)
    assert found.followed is not None


def test_leaves_are_not_followed_through_hours_that_nobody_read():
    found = told(begins=3.0)
    said = logged_words.because(found)
    assert found.followed is None
    assert "The logger begins 3 h after the item went in" in said
    assert "The leaves are not followed: nothing was read for 25 % of the time." in said
    assert "came to" not in logged_words.answer(found)


def test_a_logger_that_ends_before_the_item_came_out_says_so():
    found = told(ends=10.0)
    assert found.hours == pytest.approx(10.0, abs=0.1)
    said = logged_words.because(found)
    assert "The logger ends at Mon 02 Mar 20:00, 2 h before the item came out" in said


def test_hours_beyond_what_is_known_of_paper_are_named():
    found = told(lambda hour: 99.5 if 6 < hour < 8 else as_planned(hour))
    said = logged_words.because(found)
    assert "Above 98 % RH for 2 h in all, from Mon 02 Mar 16:01 to Mon 02 Mar 18:00" in said
    assert float(found.followed.core[:, 2].max()) <= 98.0


def test_air_that_the_model_does_not_hold_for_is_refused_in_words_and_still_told():
    found = told(celsius=2.0)
    assert found.followed is None
    assert "air temperature" in found.refused
    assert logged_words.answer(found).startswith("The chamber stood as planned")


def test_another_year_reads_nothing_of_the_stay():
    late = Stay(IN + timedelta(days=365), IN + timedelta(days=365, hours=HOURS))
    with pytest.raises(BadValue, match="Check the zone and the clock of the logger"):
        told(stay=late)


# --- from when to when -------------------------------------------------------------------------------


def steps(**times):
    row = {"planned_start": None, "actual_start": None, "note": ""}
    return [
        {**row, "name": "in the chamber", "planned_start": IN, "actual_start": times.get("went_in")},
        {
            **row,
            "name": "take it out and weigh it",
            "planned_start": IN + timedelta(hours=HOURS),
            "actual_start": times.get("came_out"),
        },
    ]


def test_times_that_were_touched_come_before_those_that_were_planned():
    later = IN + timedelta(minutes=20)
    assert find_stay(steps()) == Stay(STAY.begins, STAY.ends, ("begin", "end"))
    assert find_stay(steps(went_in=later)) == Stay(later, STAY.ends, ("end",))
    assert find_stay(steps(went_in=later, came_out=later + timedelta(hours=9))).planned == ()
    assert find_stay([]) is None


def test_times_that_are_only_planned_are_said():
    found = told(stay=find_stay(steps()))
    assert "both only as planned" in logged_words.because(found)
    assert logged_words.judge(found) is Verdict.CARE
