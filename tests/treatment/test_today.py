"""Today: what is due at a given time, and what a touch does to the clock."""

from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.errors import BadValue
from bench.treatment.clock.done import is_measured
from bench.treatment.clock.schedule import lay_out
from bench.treatment.clock.today import (
    OpenTreatment,
    Urgency,
    begin_step,
    end_wait,
    finish_step,
    look_at,
    look_at_all,
    look_in,
)
from bench.treatment.humidity.words import IN_CHAMBER, TAKE_OUT
from bench.treatment.plan import PlannedStep, hours, minutes

CET = timezone(timedelta(hours=1))


def at(day, hour, minute=0, second=0):
    return datetime(2026, 3, day, hour, minute, second, tzinfo=CET)


def piece(name, length, *, stage="humidity", cycle=1, **more):
    return (stage, cycle, PlannedStep(name, length, **more))


def chamber(start=None):
    """Put in, a look after 45 min, five more hours, take out, then interleave."""
    pieces = [
        piece("put in", minutes(10), hands=True),
        piece(IN_CHAMBER, minutes(45), hands=False),
        piece("look in, 45 min", minutes(5), hands=True, if_present=True, note="Look for drops"),
        piece(IN_CHAMBER, hours(5), hands=False, at_most=hours(7)),
        piece(TAKE_OUT, minutes(10), hands=True),
        piece("put 8 interleaves", minutes(15), stage="buffering", hands=True),
    ]
    return lay_out(pieces, start=start or at(2, 9))


def job(timeline, now):
    return look_at(OpenTreatment("a", "A", timeline), now)


def name(step):
    return None if step is None else step.name


def test_before_the_start_the_first_step_comes_next_then_now_then_late():
    timeline = chamber()
    assert job(timeline, at(1, 9)).urgency is Urgency.LATER
    assert job(timeline, at(2, 8)).urgency is Urgency.NEXT
    assert job(timeline, at(2, 8, 57)).urgency is Urgency.NOW
    assert job(timeline, at(2, 9, 5)).urgency is Urgency.NOW
    late = job(timeline, at(2, 9, 6))
    assert (late.urgency, late.due, name(late.coming)) == (Urgency.LATE, at(2, 9), "put in")


def test_done_begins_the_wait_and_says_when_to_look_in():
    timeline = finish_step("s01", begin_step("s01", chamber(), at(2, 9, 4)), at(2, 9, 20))
    assert [s.actual_start for s in timeline.steps[:2]] == [at(2, 9, 4), at(2, 9, 20)]
    now = job(timeline, at(2, 9, 30))
    assert (name(now.under_way), name(now.look), name(now.coming)) == (
        IN_CHAMBER,
        "look in, 45 min",
        TAKE_OUT,
    )
    assert (now.due, now.begun) == (at(2, 10, 5), at(2, 9, 20))


def test_a_look_in_that_is_due_ends_one_wait_and_begins_the_next():
    timeline = finish_step("s01", begin_step("s01", chamber(), at(2, 9)), at(2, 9, 10))
    looked = look_in(timeline, at(2, 9, 58))
    assert [s.actual_end for s in looked.steps[1:3]] == [at(2, 9, 58)] * 2
    assert looked.steps[3].actual_start == at(2, 9, 58)
    assert name(job(looked, at(2, 10)).coming) == TAKE_OUT
    assert job(looked, at(2, 10)).look is None


def test_a_look_in_that_no_plan_asked_for_moves_nothing():
    timeline = finish_step("s01", begin_step("s01", chamber(), at(2, 9)), at(2, 9, 10))
    assert look_in(timeline, at(2, 9, 30)) == timeline


def test_taking_out_ends_the_wait_and_leaves_nothing_open_behind_it():
    timeline = finish_step("s01", begin_step("s01", chamber(), at(2, 9)), at(2, 9, 10))
    timeline = begin_step("s05", timeline, at(2, 14, 30))
    assert [s.step for s in timeline.steps] == ["s01", "s02", "s05", "s06"]
    assert timeline.steps[1].actual_end == at(2, 14, 30)
    assert job(timeline, at(2, 14, 31)).passed == ()


def test_what_comes_out_damp_is_due_at_once_even_after_the_bench_day():
    """By the working day the sheets would wait for eight in the morning; the leaves would not."""
    timeline = chamber(start=at(2, 13, 30))
    timeline = finish_step("s01", begin_step("s01", timeline, at(2, 13, 30)), at(2, 13, 40))
    timeline = finish_step("s05", begin_step("s05", timeline, at(2, 19, 50)), at(2, 20, 0))
    assert timeline.steps[-1].planned_start == at(3, 8)
    assert job(timeline, at(2, 20, 1)).due == at(2, 20, 0)
    assert job(timeline, at(2, 20, 1)).urgency is Urgency.NOW


def test_a_wait_that_lasts_too_long_says_so_also_where_looks_were_missed():
    timeline = finish_step("s01", begin_step("s01", chamber(), at(2, 9)), at(2, 9, 10))
    latest = timeline.steps[3].planned_start + timedelta(hours=7)
    assert job(timeline, latest).at_latest == latest
    assert not job(timeline, latest).is_too_long
    late = job(timeline, latest + timedelta(minutes=1))
    assert (late.is_too_long, late.urgency) == (True, Urgency.LATE)


def test_done_without_begun_reckons_the_start_and_says_so():
    timeline = finish_step("s01", chamber(), at(2, 11))
    assert timeline.steps[0].actual_start == at(2, 10, 50)
    assert not is_measured(timeline.steps[0].note)
    timeline = finish_step("s05", timeline, at(2, 11, 5))  # not before the wait began
    assert timeline.steps[2].actual_start == at(2, 11)


def test_a_second_touch_and_an_impossible_time_are_refused_in_a_sentence():
    begun = begin_step("s01", chamber(), at(2, 9))
    with pytest.raises(BadValue, match="begun already"):
        begin_step("s01", begun, at(2, 9, 1))
    done = finish_step("s01", begun, at(2, 9, 10))
    with pytest.raises(BadValue, match="done already"):
        finish_step("s01", done, at(2, 9, 11))
    with pytest.raises(BadValue, match="the schedule was changed meanwhile"):
        finish_step("s77", done, at(2, 9, 11))
    with pytest.raises(BadValue, match="actual end is 2026-03-02T09:05"):
        begin_step("s05", done, at(2, 9, 5))


def test_a_wait_with_nothing_after_it_can_be_ended():
    timeline = lay_out([piece("wait for the follow-up", hours(2), hands=False)], start=at(2, 9))
    assert job(timeline, at(2, 10)).due == at(2, 11)
    assert end_wait(timeline, at(2, 11)).steps[0].actual_end == at(2, 11)
    assert job(end_wait(timeline, at(2, 11)), at(2, 12)).urgency is Urgency.NOTHING


def test_a_step_by_hand_that_was_passed_over_is_named():
    timeline = finish_step("s05", chamber(), at(2, 15))
    assert [name(step) for step in job(timeline, at(2, 15, 1)).passed] == ["put in"]


def test_the_most_urgent_treatment_stands_first():
    late, soon = chamber(), chamber(start=at(2, 14))
    done = lay_out([piece("rest", hours(2), hands=False)], start=at(1, 9))
    treatments = [
        OpenTreatment("idle", "Idle", None),
        OpenTreatment("soon", "Soon", soon),
        OpenTreatment("over", "Over", end_wait(done, at(1, 11))),
        OpenTreatment("late", "Late", late),
    ]
    found = look_at_all(treatments, at(2, 12))
    assert [each.key for each in found] == ["late", "soon", "idle", "over"]


def test_work_in_hand_and_damp_leaves_stand_before_what_is_merely_late():
    hand = begin_step("s01", chamber(), at(2, 11, 55))
    damp = finish_step("s01", begin_step("s01", chamber(start=at(1, 9)), at(1, 9)), at(1, 9, 10))
    damp = finish_step("s05", begin_step("s05", damp, at(2, 11, 40)), at(2, 11, 50))
    treatments = [
        OpenTreatment("late", "Late", chamber()),
        OpenTreatment("hand", "Hand", hand),
        OpenTreatment("damp", "Damp", damp),
    ]
    assert [each.key for each in look_at_all(treatments, at(2, 12))] == ["damp", "hand", "late"]


def test_the_hour_means_the_same_in_every_zone():
    timeline = chamber()
    assert job(timeline, at(2, 9, 3)) == job(timeline, at(2, 9, 3).astimezone(UTC))


@given(st.lists(st.tuples(st.sampled_from(["touch", "look"]), st.integers(1, 300)), max_size=12))
def test_any_order_of_touches_keeps_the_clock_in_order(touches):
    """Whatever is touched when, what happened never runs backwards, and a wait is never left open behind."""
    timeline, now = chamber(), at(2, 9)
    for what, later in touches:
        now += timedelta(minutes=later)
        here = job(timeline, now)
        if what == "look":
            timeline = look_in(timeline, now)
        elif here.is_by_hand:
            timeline = finish_step(here.under_way.step, timeline, now)
        elif here.coming is not None:
            timeline = begin_step(here.coming.step, timeline, now)
    done = [s for s in timeline.steps if s.actual_start]
    assert all(a.actual_end is not None and a.actual_end <= b.actual_start for a, b in pairwise(done))
    assert all(s.actual_start <= now for s in done)
