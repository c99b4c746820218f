"""Two days round a night: the latest start by pencil, the schedule, and each wrong way by number."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from bench.practice.drawing import draw_item
from bench.practice.markers import two_days
from bench.practice.markers.two_days import MARKER, TwoDays, draw_days, solve
from bench.practice.marking import mark
from bench.practice.shapes import Judgement, Solution
from bench.units import Q_, say_clock

# 9 to 18; by hand 1.5 h, 2 h and 0.5 h; 18 h in the chamber and 4 h in the press at least.
# Common practice, no source; by pencil: 18 - 0.5 - 4 - 2 = 11:30 tomorrow, less 18 h is 17:30 today, less
# 1.5 h is 16:00.
DAYS = TwoDays(
    ready=1.5,
    chamber=18.0,
    chamber_late=3.0,
    press=2.0,
    cool=4.0,
    cool_late=1.0,
    out=0.5,
    opens=9.0,
    closes=18.0,
)
LATEST = 16.0


@pytest.fixture
def solution(monkeypatch: pytest.MonkeyPatch) -> Solution:
    tight = replace(DAYS, chamber=20.0, chamber_late=1.0)  # two hours earlier: 14:00
    monkeypatch.setattr(two_days, "draw_days", lambda rng: tight)
    return solve(draw_item("any", 1), {})


def test_the_latest_start_is_that_of_the_pencil():
    assert DAYS.starts[-1] == LATEST


def test_half_an_hour_later_the_sheets_stay_in_over_night():
    laid = DAYS.lay(LATEST + 0.5)
    assert not DAYS.works(LATEST + 0.5)
    assert laid.end - DAYS.lay(LATEST).end > timedelta(hours=15)
    assert [caution.key for caution in laid.cautions] == ["lasts-too-long"]


def test_too_early_the_chamber_waits_too_long_for_somebody():
    """In by 10:30 it is ready at 4:30, and nobody is there before 9: 22.5 h, and 21 are allowed."""
    assert DAYS.starts[0] == 10.5  # in at 12:00, out at 9:00 after 21 h
    assert not DAYS.works(9.0)


def test_every_start_between_works_too():
    halves = (DAYS.starts[-1] - DAYS.starts[0]) / 0.5
    assert len(DAYS.starts) == halves + 1


def test_nothing_by_hand_falls_into_the_night():
    for start in DAYS.starts:
        for step in DAYS.lay(start).steps:
            if step.hands:
                assert DAYS.day.start <= step.begins.time() <= step.ends.time() <= DAYS.day.end


def test_a_clock_is_written_as_clocks_show_it():
    assert [say_clock(hour) for hour in (8.5, 24 + 17.5, 0)] == ["08:30", "17:30", "00:00"]


@pytest.mark.parametrize("seed", range(20))
def test_what_is_drawn_is_a_working_day_and_whole_half_hours(seed: int):
    days = draw_days(np.random.default_rng(seed))
    assert 7 < days.closes - days.opens < 11
    assert all(2 * length == int(2 * length) for length in vars(days).values())


def test_each_wrong_way_is_known_by_its_number(solution: Solution):
    by_key = {"forgot-night": 18 - 1.5, "from-the-morning": 14 + 1.5, "no-time-to-take-out": 14 + 0.5}
    assert solution.right == Q_(14, "hour")
    for key, hour in by_key.items():
        marked = mark(MARKER.question, solution, Q_(hour, "hour"))
        assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, key)
    assert mark(MARKER.question, solution, Q_(13.75, "hour")).judged is Judgement.RIGHT


@pytest.mark.parametrize(
    ("hour", "comes"),
    [
        (11.0, "This start works, but it is not the latest: you could begin as late as 14:00."),
        (9.0, "“in the chamber” would last until 09:00"),  # in at 10:30, ready at 6:30, at most until 7:30
        (7.0, "Nobody is there at 07:00"),
        (17.5, "At 18:00 tomorrow the work is not done"),
    ],
)
def test_any_other_start_is_followed_by_the_schedule(hour: float, comes: str, solution: Solution):
    marked = mark(MARKER.question, solution, Q_(hour, "hour"))
    assert marked.judged is Judgement.WRONG
    assert marked.wrong is None
    assert comes in marked.comes
