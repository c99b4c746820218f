"""Times that cannot be, or hardly: refused, or asked about in one sentence.

Times are passed in; nothing here looks at a clock.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

from bench.errors import BadValue
from bench.treatment.clock.schedule import Timeline, in_hours
from bench.treatment.plan import Caution, Notice, PlannedValue, Verdict
from bench.units import say_minutes

SURE = "These times are right"
"""Label of the tick that answers a question about times."""

CONFIRMED = "its times were asked about and confirmed"
"""Note of a step whose times looked wrong and were said to be right."""

_SLACK = timedelta(minutes=1)  # a field gives minutes, a clock seconds
_LONG_OPEN = 120.0  # minutes between chamber and sheets after which the item is no longer damp: judgement
_LONG_WORK = timedelta(hours=12)  # work by hand that lasts longer is most often a wrong day: judgement

_LIES = (
    "By this clock it takes {lies} from “{step}” until the sheets are in, but in about "
    "{open} out of the chamber the first leaf loses 5 % RH. "
)
_LIES_LONG = Notice(
    "lies-open-for-hours",
    Verdict.CARE,
    f"{_LIES}Start at another time, so that the sheets go in at once.",
    "memory",
)
_LIES_OPEN = Notice(
    "lies-open",
    Verdict.GO,
    f"{_LIES}Keep it closed under polyester film, and have the sheets ready before it comes out.",
    "memory",
)


def check_past(moment: datetime | None, now: datetime, field: str) -> None:
    """Refuse a time that lies ahead: what was done was done by now.

    Raises
    ------
    BadValue
        It does, by more than a minute.
    """
    if moment is not None and moment > now + _SLACK:
        came, allowed = f"{_say(moment)}, which is to come", f"by now, {_say(now)}"
        raise BadValue(field, came, allowed, "Enter it once it is done; look at day and year")


def check_day_past(day: str, now: datetime, field: str) -> None:
    """Refuse a day, year-month-day, that lies ahead; an empty one is not known.

    Raises
    ------
    BadValue
        It does.
    """
    if day and date.fromisoformat(day) > now.date():
        came, allowed = f"{day}, which is to come", f"today, {now.date().isoformat()}, or earlier"
        raise BadValue(field, came, allowed, "Check the year")


def ask_if_before(moment: datetime | None, began: datetime, field: str, *, sure: bool) -> None:
    """Ask about a time before the record was begun; it may be true, so a tick answers it.

    Raises
    ------
    BadValue
        It is not said to be right yet.
    """
    if moment is not None and moment < began - _SLACK and not sure:
        came = f"{_say(moment)}, before this record was begun"
        raise BadValue(field, came, f"{_say(began)} or later", _remedy())


def ask_if_long(
    started: datetime | None, ended: datetime | None, field: str, *, hands: bool, sure: bool
) -> None:
    """Ask about work by hand that would have lasted more than half a day.

    Raises
    ------
    BadValue
        It is not said to be right yet.
    """
    if started is None or ended is None or not hands or sure:
        return
    if ended - started > _LONG_WORK:
        came = f"{_say(ended)}, {in_hours(ended - started):.0f} h after the start"
        raise BadValue(field, came, f"at most {_say(started + _LONG_WORK)} for work by hand", _remedy())


ACTUAL_START, ACTUAL_END = "Actual start", "Actual end"
"""Labels of the fields in which the times of a step are entered."""


def ask_about_step(
    timeline: Timeline,
    step: str,
    started: datetime | None,
    ended: datetime | None,
    *,
    began: datetime,
    now: datetime,
    sure: bool,
) -> None:
    """Refuse times of a step that cannot be, and ask about those that hardly can.

    Parameters
    ----------
    timeline : Timeline
        As it stands.
    step : str
        Its id.
    started, ended : datetime or None
        Its actual start and its actual end, as entered.
    began : datetime
        When the record was begun.
    now : datetime
        With offset.
    sure : bool
        Whether they are said to be right.

    Raises
    ------
    BadValue
        A time that lies ahead, or one that is asked about and not said to be right yet.
    """
    for moment, label in ((started, ACTUAL_START), (ended, ACTUAL_END)):
        check_past(moment, now, label)
        ask_if_before(moment, began, label, sure=sure)
    known = next((each for each in timeline.steps if each.step == step), None)
    if known is not None:
        ask_if_long(started or known.actual_start, ended, ACTUAL_END, hands=known.hands, sure=sure)


def _remedy() -> str:
    return f"Check the day; if it is so, tick “{SURE}”"


def first_damp(timeline: Timeline | None) -> datetime | None:
    """Give when the item was first changed by the treatment: the first step after cleaning that began."""
    steps = timeline.steps if timeline else ()
    begun = [s.actual_start for s in steps if s.stage not in ("intake", "cleaning") and s.actual_start]
    return min(begun, default=None)


def ask_if_late(taken: datetime | None, treated: datetime | None, now: datetime) -> datetime:
    """Give when readings of intake were taken, and ask if the item had been treated by then.

    Parameters
    ----------
    taken : datetime or None
        As entered; None for just now.
    treated : datetime or None
        As :func:`first_damp` gives it.
    now : datetime
        With offset.

    Raises
    ------
    BadValue
        The item had been in the chamber: these are not readings before treatment.
    """
    check_past(taken, now, "Read at")
    at = taken or now
    if treated is not None and at > treated:
        came = f"{'just now' if taken is None else _say(at)}, after the treatment began on {_say(treated)}"
        remedy = "If they were read before, say when; if not, enter them at the review"
        raise BadValue("Read at", came, "a time before it for readings of intake", remedy)
    return at


def caution_of_gap(timeline: Timeline, cycle: int, may_lie_open: PlannedValue | None) -> tuple[Caution, ...]:
    """Hold the time between chamber and sheets, by the clock, against the minutes that the item may lie open.

    Parameters
    ----------
    timeline : Timeline
        As it stands.
    cycle : int
        Which one is looked at.
    may_lie_open : PlannedValue or None
        From the humidity plan; None if it was not planned.
    """
    out = [s for s in timeline.steps if (s.stage, s.cycle) == ("humidity", cycle) and s.hands]
    sheets = [s for s in timeline.steps if (s.stage, s.cycle) == ("buffering", cycle)]
    if may_lie_open is None or not out or not sheets or sheets[-1].actual_end is not None:
        return ()
    minutes_open = float(may_lie_open.value.to("min").magnitude)
    lies = (sheets[-1].ends - out[-1].begins).total_seconds() / 60
    if lies <= minutes_open:
        return ()
    step, limit = out[-1].name, say_minutes(minutes_open)
    if lies > _LONG_OPEN:
        return (_LIES_LONG(lies=f"{lies / 60:.1f} h", step=step, open=limit),)
    return (_LIES_OPEN(lies=say_minutes(lies), step=step, open=limit),)


def _say(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"
