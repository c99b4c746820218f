"""Two days by the clock round a night's sleep: the latest start today."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from functools import partial
from typing import Any

import numpy as np

from bench.errors import BadValue
from bench.physics.ranges import Range
from bench.practice.drawing import Drawn
from bench.practice.marking import number_of
from bench.practice.shapes import Question, Reply, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.treatment.clock.schedule import Piece, Timeline, WorkingDay, lay_out
from bench.treatment.plan import PlannedStep, hours
from bench.units import Q_, say_clock

WRONG = {
    "forgot-night": "let the work run on into the night, when nobody is there",
    "from-the-morning": "counted the hours of the chamber from the start of work, before the item was in it",
    "no-time-to-take-out": "left no time to take the sheets out at the end of the second day",
}
_MIDNIGHT = datetime(2026, 3, 2, tzinfo=UTC)  # any day: no clock is asked
_HALF = 0.5  # h between starts that are tried; durations are whole halves
_STARTS = 30


@dataclass(frozen=True)
class TwoDays:
    """What has to be done, in hours, and the day in which someone is there.

    Attributes
    ----------
    ready : float
        Hands: surface cleaned, chamber made ready, item in.
    chamber, chamber_late : float
        In the chamber at least, and how much longer it may.
    press : float
        Hands: out, sheets between the leaves, under the platen, beside it until the heat is off.
    cool, cool_late : float
        In the closed press at least, and how much longer these sheets may stay.
    out : float
        Hands: sheets out, dry ones in.
    opens, closes : float
        The working day.
    """

    ready: float
    chamber: float
    chamber_late: float
    press: float
    cool: float
    cool_late: float
    out: float
    opens: float
    closes: float

    @property
    def day(self) -> WorkingDay:
        """The hours in which someone is there."""
        return WorkingDay(_clock(self.opens), _clock(self.closes))

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The steps as the schedule takes them."""
        chamber = hours(self.chamber + self.chamber_late)
        cool = hours(self.cool + self.cool_late)
        return (
            ("humidity", 1, PlannedStep("clean, make the chamber ready, put it in", hours(self.ready), True)),
            ("humidity", 1, PlannedStep("in the chamber", hours(self.chamber), False, at_most=chamber)),
            ("pressing", 1, PlannedStep("out, sheets in, warm press", hours(self.press), True)),
            ("pressing", 1, PlannedStep("cool in the closed press", hours(self.cool), False, at_most=cool)),
            ("pressing", 1, PlannedStep("damp sheets out, dry ones in", hours(self.out), True)),
        )

    def lay(self, start: float) -> Timeline:
        """Lay the steps out from an hour of the first day."""
        return lay_out(self.pieces, start=_MIDNIGHT + timedelta(hours=start), day=self.day)

    def works(self, start: float) -> bool:
        """Tell whether a start at that hour of today keeps every limit and ends on the second day."""
        laid = self.lay(start)
        begins_then = laid.steps[0].planned_start == _MIDNIGHT + timedelta(hours=start)
        in_time = laid.end <= _MIDNIGHT + timedelta(hours=24 + self.closes)
        return begins_then and in_time and not any(step.is_late for step in laid.steps)

    @property
    def starts(self) -> tuple[float, ...]:
        """Hours of the first day at which a start works, the earliest first."""
        tried = (self.opens + k * _HALF for k in range(_STARTS))
        return tuple(hour for hour in tried if hour < self.closes and self.works(hour))


def _clock(hour: float) -> time:
    minutes = round(60 * hour)
    return time(minutes // 60, minutes % 60)


def draw_days(rng: np.random.Generator) -> TwoDays:
    """Draw two days that just go together."""

    def halves(low: float, high: float) -> float:
        return _HALF * int(rng.integers(round(low / _HALF), round(high / _HALF) + 1))

    return TwoDays(
        ready=halves(1.0, 2.0),
        chamber=halves(16.0, 20.0),
        chamber_late=halves(2.0, 3.0),
        press=halves(2.0, 3.0),
        cool=halves(3.0, 5.0),
        cool_late=1.0,
        out=halves(0.5, 1.0),
        opens=halves(8.0, 9.0),
        closes=halves(17.0, 19.0),
    )


_TRIES = 200


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Try every half hour of today on the schedule; the last one that keeps all limits is right."""
    days, starts = _draw_tight(drawn.rng)
    latest = starts[-1]
    end = 24 + days.closes
    after_ready = days.chamber + days.press + days.cool + days.out
    return Solution(
        right=Q_(latest, "hour"),
        holds=Range.of((latest, latest - _HALF, latest), "hour"),
        near=2.0,
        wrong=(
            WrongWay("forgot-night", Q_(days.closes - days.ready, "hour"), _say_night(days)),
            WrongWay("from-the-morning", Q_(latest + days.ready, "hour"), _say_morning(days, latest)),
            WrongWay("no-time-to-take-out", Q_(latest + days.out, "hour"), _say_out(days)),
        ),
        comes_of=partial(_comes_of, days, starts),
        look=(
            *drawn.look,
            ("somebody is there", f"{say_clock(days.opens)} to {say_clock(days.closes)}, both days"),
            ("first, by hand", f"clean, make the chamber ready, put the item in: {_say(days.ready)}"),
            (
                "then it waits",
                f"in the chamber {_say(days.chamber)}, at most {_say(days.chamber_late)} longer",
            ),
            (
                "then, by hand",
                f"out, sheets in, warm press and beside it till the heat is off: {_say(days.press)}",
            ),
            (
                "then it waits",
                f"cooling in the closed press {_say(days.cool)}, at most {_say(days.cool_late)} longer",
            ),
            ("last, by hand", f"damp sheets out and dry ones in: {_say(days.out)}"),
        ),
        steps=(
            "Plan from the end. Damp sheets may not stay in over the second night, so they must be out by "
            f"{say_clock(days.closes)} tomorrow: begin at {say_clock(end - days.out)}.",
            f"Before that {_say(days.cool)} in the press, so it closes and cools from "
            f"{say_clock(end - days.out - days.cool)}; before that {_say(days.press)} by hand.",
            f"So it leaves the chamber at {say_clock(end - days.out - days.cool - days.press)} tomorrow, and "
            f"goes in {_say(days.chamber)} earlier, at {say_clock(end - after_ready)} today.",
            f"Before that {_say(days.ready)} by hand: begin at {say_clock(latest)}.",
            f"Check the night: nothing by hand falls between {say_clock(days.closes)} and "
            f"{say_clock(days.opens)}, "
            "and neither chamber nor press overstays.",
        ),
        facts={
            "latest": say_clock(latest),
            "earliest": say_clock(starts[0]),
            "opens": say_clock(days.opens),
            "closes": say_clock(days.closes),
            "out": _say(days.out),
        },
        plan=Timed(days, latest),
    )


@dataclass(frozen=True)
class Timed:
    """Two days, and when they begin."""

    days: TwoDays
    start: float


def _draw_tight(rng: np.random.Generator) -> tuple[TwoDays, tuple[float, ...]]:
    """Draw days in which the end of the second one decides, and a later start fits only today."""
    for _ in range(_TRIES):
        days = draw_days(rng)
        last = days.closes - days.ready
        room = 24 + last - days.chamber - days.press - days.cool - days.out
        if room > last - 1.5 or abs(room + days.ready - last) < 1 or days.ready == days.out:
            continue
        starts = days.starts
        if starts and starts[-1] == room:
            return days, starts
    remedy = "Let the steps be shorter, or the working day longer"
    raise BadValue("two days", f"{_TRIES} draws", "one in which the work just fits", remedy)


def _say(length: float) -> str:
    return f"{length:g} h"


def _comes_of(days: TwoDays, starts: tuple[float, ...], reply: Reply) -> str:
    """Say what comes of another start."""
    hour = number_of(reply, "hour")
    if not days.opens <= hour < days.closes:
        return f"Nobody is there at {say_clock(hour)} to begin."
    if hour > starts[-1]:
        return _say_night(days)
    late = next((step for step in days.lay(hour).steps if step.is_late), None)
    if late is not None:
        return (
            f"“{late.name}” would last until {late.ends:%H:%M}, longer than it may: it is over while nobody "
            "is there to end it. In the damp mould and rust gain by the hour."
        )
    return f"This start works, but it is not the latest: you could begin as late as {say_clock(starts[-1])}."


def _say_night(days: TwoDays) -> str:
    return (
        f"At {say_clock(days.closes)} tomorrow the work is not done, and the item lies damp, in chamber or "
        f"press, until {say_clock(days.opens)}. A damp night too many is what mould and set-off wait for."
    )


def _say_morning(days: TwoDays, latest: float) -> str:
    return (
        f"The item goes in {_say(days.ready)} after you begin, so everything behind it is {_say(days.ready)} "
        f"late, and the damp sheets are still in at {say_clock(days.closes)}. They stay till morning."
    )


def _say_out(days: TwoDays) -> str:
    return (
        f"The press is ready at {say_clock(days.closes)}, just as you leave: the {_say(days.out)} for the "
        "sheets are not "
        "there. They stay in damp over night, and their pattern with them."
    )


MARKER = Marker(
    question=Question(ReplyKind.CLOCK, "Latest start today"),
    solve=solve,
    wrong=WRONG,
    picture="two-days",
)
