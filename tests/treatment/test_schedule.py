"""The schedule by the clock."""

from datetime import datetime, timedelta, timezone
from itertools import pairwise

import pytest

from bench.errors import BadValue
from bench.treatment.clock.done import end_stage, is_measured, take_over_plan
from bench.treatment.clock.schedule import (
    WorkingDay,
    begin_of,
    find_better_start,
    lay_out,
    propose_start,
    record_actual,
    replace_stage,
    start_better,
)
from bench.treatment.plan import PlannedStep, hours, minutes

CET = timezone(timedelta(hours=1))


def at(day, hour, minute=0):
    return datetime(2026, 3, day, hour, minute, tzinfo=CET)


def wait(name, least, at_most=None):
    return ("humidity", 1, PlannedStep(name, hours(least), hands=False, at_most=at_most))


def hands(name, length=30, **more):
    return ("humidity", 1, PlannedStep(name, minutes(length), hands=True, **more))


CHAMBER = [hands("put in"), wait("chamber", 22, hours(24)), hands("take out")]


def test_steps_follow_each_other_without_a_gap():
    steps = lay_out(CHAMBER, start=at(2, 9)).steps
    assert [s.planned_start for s in steps] == [at(2, 9), at(2, 9, 30), at(3, 8)]
    assert all(a.planned_end == b.planned_start for a, b in pairwise(steps))


def test_a_wait_that_ends_at_night_stretches_to_the_morning_and_says_so():
    timeline = lay_out([hands("put in"), wait("chamber", 12, hours(14)), hands("take out")], start=at(2, 15))
    assert timeline.steps[1].planned_end == at(3, 8)
    assert "16.5 h, longer than the 14.0 h" in timeline.cautions[0].words


def test_a_start_is_proposed_whose_wait_ends_in_time():
    pieces = [hands("put in"), wait("chamber", 12, hours(14)), hands("take out")]
    start = propose_start(pieces, earliest=at(2, 15))
    assert lay_out(pieces, start=start).cautions == ()
    assert start == at(2, 17, 30)


def test_a_better_start_comes_after_this_half_hour_and_only_before_the_work_has_begun():
    late = lay_out([hands("put in"), wait("chamber", 12, hours(15)), hands("take out")], start=at(2, 9))
    assert late.cautions
    day = WorkingDay()
    better = find_better_start(late, day=day, now=at(2, 10, 10))
    assert better == start_better(late, day=day, now=at(2, 10, 10)).start
    assert better >= at(2, 10, 30)
    begun = record_actual(late, "s01", started=at(2, 9))
    assert start_better(begun, day=day, now=at(2, 10, 10)) is begun
    assert find_better_start(begun, day=day, now=at(2, 10, 10)) is None
    fits = lay_out(CHAMBER, start=at(2, 9))
    assert find_better_start(fits, day=day, now=at(2, 8)) is None


def test_a_look_in_outside_the_day_is_left_out():
    pieces = [hands("put in"), wait("a", 2), hands("look in", 5, if_present=True), wait("b", 9), hands("out")]
    assert "look in" in [s.name for s in lay_out(pieces, start=at(2, 9)).steps]
    assert "look in" not in [s.name for s in lay_out(pieces, start=at(2, 18)).steps]


def test_a_late_start_moves_later_steps_and_keeps_the_plan_beside_it():
    timeline = lay_out(CHAMBER, start=at(2, 9))
    moved = record_actual(timeline, "s01", started=at(2, 11), ended=at(2, 11, 40))
    assert (moved.steps[0].planned_start, moved.steps[0].actual_start) == (at(2, 9), at(2, 11))
    assert moved.steps[1].planned_start == at(2, 11, 40)
    assert moved.steps[2].planned_start == at(3, 9, 40)


def test_a_step_under_way_keeps_its_start_and_the_next_waits_for_it():
    timeline = record_actual(lay_out(CHAMBER, start=at(2, 9)), "s02", started=at(2, 12))
    assert timeline.steps[2].planned_start == at(3, 10)


def test_times_that_run_backwards_are_refused():
    timeline = record_actual(lay_out(CHAMBER, start=at(2, 9)), "s01", started=at(2, 9), ended=at(2, 9, 40))
    with pytest.raises(
        BadValue, match=r"actual end is 2026-03-02T09:00\+01:00; allowed is .*10:00.* or later"
    ):
        record_actual(timeline, "s02", started=at(2, 10), ended=at(2, 9))
    with pytest.raises(BadValue, match="An earlier step was entered as ending later"):
        record_actual(timeline, "s02", started=at(2, 9, 10))
    with pytest.raises(BadValue, match="a time with its offset"):
        record_actual(timeline, "s02", started=datetime(2026, 3, 2, 10))
    with pytest.raises(BadValue, match="step is 's99'"):
        record_actual(timeline, "s99", started=at(2, 10))


def test_a_working_day_must_start_before_it_ends():
    from datetime import time

    with pytest.raises(BadValue, match="working day"):
        WorkingDay(time(20), time(8))
    with pytest.raises(BadValue, match="steps is empty"):
        lay_out([], start=at(2, 9))


def test_a_wait_is_one_wait_where_its_look_in_is_left_out():
    look = hands("look in", 5, if_present=True)
    pieces = [hands("put in"), wait("chamber", 2), look, wait("chamber", 9, hours(12)), hands("out")]
    evening = lay_out(pieces, start=at(2, 18))
    assert [s.name for s in evening.steps] == ["put in", "chamber", "out"]
    assert evening.steps[1].least == timedelta(hours=11)
    assert evening.steps[1].at_most == timedelta(hours=14)
    assert [s.step for s in evening.steps] == ["s01", "s02", "s03"]


def test_a_plan_made_later_does_not_start_in_the_past():
    done = record_actual(lay_out(CHAMBER[:1], start=at(2, 9)), "s01", started=at(2, 9), ended=at(2, 9, 30))
    planned = [PlannedStep("press", minutes(30), hands=True)]
    later = replace_stage(done, "pressing", 1, planned, start=at(2, 9), not_before=at(4, 10))
    assert later.steps[-1].planned_start == at(4, 10)
    assert later.steps[0].planned_end == at(2, 9, 30)
    ahead = replace_stage(lay_out(CHAMBER[:1], start=at(20, 9)), "pressing", 1, planned, start=at(20, 9))
    assert ahead.steps[-1].planned_start == at(20, 9, 30)


def test_a_later_plan_does_not_lay_an_earlier_stage_into_the_past():
    """The chamber of a second cycle was overdue as soon as its sheets were planned."""
    done = record_actual(lay_out(CHAMBER[:1], start=at(2, 9)), "s01", started=at(2, 9), ended=at(2, 9, 30))
    chamber, sheets = ([PlannedStep(name, minutes(30), hands=True)] for name in ("chamber", "sheets"))
    now = {"start": at(2, 9), "not_before": at(4, 10)}
    planned = replace_stage(done, "humidity", 2, chamber, **now)
    both = replace_stage(planned, "buffering", 2, sheets, **now)
    assert [s.planned_start for s in both.steps[1:]] == [at(4, 10), at(4, 10, 30)]


def test_planned_times_are_taken_over_up_to_a_step_and_say_so():
    timeline = take_over_plan(lay_out(CHAMBER, start=at(2, 9)), "s02", now=at(3, 9))
    done, waited, out = timeline.steps
    assert (done.actual_start, done.actual_end, waited.actual_end) == (at(2, 9), at(2, 9, 30), at(3, 8))
    assert not is_measured(done.note)
    assert out.actual_start is None


def test_a_stage_ends_at_a_stated_time_and_is_reckoned_back():
    steps = end_stage(
        lay_out([hands("a", 10), hands("b", 20)], start=at(2, 9)),
        "humidity",
        1,
        ended=at(2, 12),
        now=at(2, 13),
    ).steps
    assert [s.actual_start for s in steps] == [at(2, 11, 30), at(2, 11, 40)]
    assert [s.actual_end for s in steps] == [at(2, 11, 40), at(2, 12)]


def test_a_stage_cannot_reach_back_before_what_was_done_earlier():
    pieces = [("cleaning", 1, PlannedStep("clean", minutes(60), hands=True)), hands("a", 30)]
    timeline = record_actual(lay_out(pieces, start=at(2, 9)), "s01", started=at(2, 9), ended=at(2, 11))
    with pytest.raises(BadValue, match="the work began at 2026-03-02 10:45"):
        end_stage(timeline, "humidity", 1, ended=at(2, 11, 15), now=at(2, 12))
    with pytest.raises(BadValue, match="Enter it once it is done"):
        end_stage(timeline, "humidity", 1, ended=at(2, 15), now=at(2, 12))


def test_what_was_done_is_not_planned_again():
    timeline = take_over_plan(lay_out(CHAMBER, start=at(2, 9)), "s01", now=at(2, 10))
    again = replace_stage(timeline, "humidity", 1, [piece[2] for piece in CHAMBER], start=at(2, 9))
    assert [s.name for s in again.steps] == ["put in", "chamber", "take out"]


def test_a_stage_begins_where_the_schedule_has_it():
    """Not at the start of the treatment, which lies days before the second cycle."""
    first = lay_out([*CHAMBER, ("pressing", 1, PlannedStep("press", hours(1), True))], start=at(2, 9))
    both = replace_stage(first, "humidity", 2, [CHAMBER[0][2]], start=at(2, 9))
    assert begin_of(both, "humidity", 1, start=at(1, 8)) == at(2, 9)
    assert begin_of(both, "humidity", 2, start=at(1, 8)) == both.steps[-1].planned_start


def test_a_stage_that_is_not_laid_out_begins_when_what_precedes_it_ends():
    first = lay_out(CHAMBER, start=at(2, 9))
    assert begin_of(first, "buffering", 1, start=at(1, 8)) == first.end
    assert begin_of(first, "cleaning", 1, start=at(1, 8)) == at(1, 8)
    assert begin_of(None, "humidity", 1, start=at(1, 8)) == at(1, 8)
