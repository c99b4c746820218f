"""Times that cannot be are refused; those that hardly can are asked about; the bench has its minutes."""

from dataclasses import replace
from datetime import datetime, timedelta, timezone

import pytest

from bench.errors import BadValue
from bench.treatment.buffering.bench_time import caution_of_bench
from bench.treatment.clock.schedule import lay_out
from bench.treatment.clock.times import (
    ask_if_before,
    ask_if_late,
    ask_if_long,
    caution_of_gap,
    check_day_past,
    check_past,
)
from bench.treatment.facts import MINUTES_OPEN
from bench.treatment.plan import PlannedStep, PlannedValue, Verdict, hours, minutes
from bench.units import Q_

CET = timezone(timedelta(hours=1))
NOW = datetime(2026, 3, 4, 12, 0, 40, tzinfo=CET)
BEGAN = datetime(2026, 3, 2, 9, 0, 25, tzinfo=CET)
OPEN = PlannedValue(MINUTES_OPEN, Q_(20.0, "min"), Q_(6.0, "min"))


def at(day, hour, minute=0):
    return datetime(2026, 3, day, hour, minute, tzinfo=CET)


def test_what_was_done_was_done_by_now():
    with pytest.raises(BadValue, match="Actual end is 2026-03-05 09:00, which is to come; allowed is by now"):
        check_past(at(5, 9), NOW, "Actual end")
    for fine in (None, at(4, 12), at(4, 12, 1)):
        check_past(fine, NOW, "Actual end")


def test_a_consent_of_a_year_to_come_is_refused():
    with pytest.raises(BadValue, match=r"Agreed on is 2031-03-02, which is to come; .*Check the year"):
        check_day_past("2031-03-02", NOW, "Agreed on")
    check_day_past("2026-03-04", NOW, "Agreed on")
    check_day_past("", NOW, "Agreed on")


def test_a_time_before_the_record_is_asked_about_and_may_be_right():
    with pytest.raises(BadValue, match=r"before this record was begun; .*tick “These times are right”"):
        ask_if_before(at(1, 9), BEGAN, "Actual start", sure=False)
    ask_if_before(at(1, 9), BEGAN, "Actual start", sure=True)
    ask_if_before(at(2, 9), BEGAN, "Actual start", sure=False)  # the same minute


def test_work_by_hand_over_a_night_is_asked_about_and_a_wait_is_not():
    with pytest.raises(BadValue, match="23 h after the start"):
        ask_if_long(at(2, 10), at(3, 9), "Actual end", hands=True, sure=False)
    ask_if_long(at(2, 10), at(3, 9), "Actual end", hands=True, sure=True)
    ask_if_long(at(2, 10), at(3, 9), "Actual end", hands=False, sure=False)


def test_readings_of_intake_entered_late_are_asked_when_they_were_taken():
    with pytest.raises(BadValue, match="Read at is just now, after the treatment began on 2026-03-03 10:00"):
        ask_if_late(None, at(3, 10), NOW)
    assert ask_if_late(at(2, 9), at(3, 10), NOW) == at(2, 9)
    assert ask_if_late(None, None, NOW) == NOW


@pytest.mark.parametrize(
    ("sheets", "level"), [(4, None), (8, Verdict.GO), (12, Verdict.GO), (20, Verdict.CARE)]
)
def test_the_sheets_are_held_against_the_minutes_on_the_bench(sheets, level):
    """20 min, at least 14: 4 sheets take 11, 8 take 17, 12 take 23, 20 take 35."""
    assert [caution.verdict for caution in caution_of_bench(sheets, OPEN)] == ([level] if level else [])


def test_without_a_humidity_plan_nothing_is_held_against():
    assert caution_of_bench(12, None) == ()


def test_a_night_between_chamber_and_sheets_is_told():
    pieces = [
        ("humidity", 1, PlannedStep("in the chamber", hours(3), False)),
        ("humidity", 1, PlannedStep("take it out", minutes(10), True)),
        ("buffering", 1, PlannedStep("put 4 interleaves", minutes(9), True)),
    ]
    assert caution_of_gap(lay_out(pieces, start=at(2, 9)), 1, OPEN) == ()
    (late,) = caution_of_gap(lay_out(pieces, start=at(2, 16, 45)), 1, OPEN)
    assert late.verdict is Verdict.CARE
    assert "12.4 h from “take it out” until the sheets are in" in late.words
    assert caution_of_gap(lay_out(pieces, start=at(2, 16, 45)), 1, None) == ()


@pytest.mark.parametrize(("minutes_open", "said"), [(0.4, "24 s"), (0.002, "less than 1 s"), (1.2, "1 min")])
def test_a_time_below_a_minute_is_never_said_as_none(minutes_open, said):
    short = replace(OPEN, value=minutes(minutes_open), uncertainty=minutes(0.1))
    pieces = [
        ("humidity", 1, PlannedStep("take it out", minutes(15), True)),
        ("buffering", 1, PlannedStep("put 4 interleaves", minutes(20), True)),
    ]
    (gap,) = caution_of_gap(lay_out(pieces, start=at(2, 9)), 1, short)
    (bench,) = caution_of_bench(12, short)
    for words in (gap.words, bench.words):
        assert f"in about {said}" in words
        assert " 0 min" not in words
