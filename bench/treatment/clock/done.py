"""Record in one go that steps were done: at their planned times, or one after the other up to an end.

Such times were not read off a clock, and the note of each step says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from bench.errors import BadValue
from bench.treatment.clock.schedule import Step, Timeline, WorkingDay, lay_again
from bench.treatment.clock.times import check_past

TAKEN_OVER = "done as planned: the planned times were taken over, not measured"
RECKONED = "done one after the other up to the end stated: the times between were reckoned, not measured"
BEGIN_RECKONED = "its start was reckoned back from its end, not measured"

ENDED_AT = "Ended at"
"""Label of the field in which the end of a stage is entered."""

_USUAL = WorkingDay()


def is_measured(note: str | None) -> bool:
    """Tell from the note of a step whether its actual times were read off a clock.

    Examples
    --------
    >>> is_measured("Same light as before"), is_measured(f"Same light as before; {TAKEN_OVER}")
    (True, False)
    """
    return not (note or "").endswith((TAKEN_OVER, RECKONED, BEGIN_RECKONED))


def take_over_plan(timeline: Timeline, last: str, *, now: datetime, day: WorkingDay = _USUAL) -> Timeline:
    """Mark every open step up to and with one as done at its planned times.

    Parameters
    ----------
    timeline : Timeline
        As it stands.
    last : str
        Id of the last step that was done, e.g. ``"s05"``.
    now : datetime
        With offset; what lies later has not been done.
    day : WorkingDay
        For the steps that are still to come.

    Returns
    -------
    Timeline
        The note of each such step says that its times are the planned ones.

    Raises
    ------
    BadValue
        No such step, or its planned end lies ahead.
    """
    upto = timeline.place_of(last)
    if timeline.steps[upto].planned_end > now:
        came = f"planned to end at {timeline.steps[upto].planned_end:%Y-%m-%d %H:%M}, which is to come"
        remedy = "Choose an earlier step, move the start, or enter its times one by one"
        raise BadValue(
            "Done as planned, up to and with", came, f"an end by now, {now:%Y-%m-%d %H:%M}", remedy
        )
    steps = [
        _close(step, step.begins, step.planned_end, TAKEN_OVER) if _is_open(step, upto, k) else step
        for k, step in enumerate(timeline.steps)
    ]
    return lay_again(steps, day)


def _is_open(step: Step, upto: int, place: int) -> bool:
    return place <= upto and step.actual_end is None


def end_stage(
    timeline: Timeline,
    stage: str,
    cycle: int,
    *,
    ended: datetime,
    now: datetime,
    day: WorkingDay = _USUAL,
) -> Timeline:
    """Mark the open steps of a stage as done, one after the other, the last of them at a stated time.

    Parameters
    ----------
    timeline : Timeline
        As it stands.
    stage, cycle : str, int
        Whose steps they are; without an open one nothing changes.
    ended : datetime
        With offset; when the last of them ended.
    now : datetime
        With offset.
    day : WorkingDay
        For the steps that are still to come.

    Returns
    -------
    Timeline
        Each step lasts as long as planned, reckoned back from the end; its note says so.

    Raises
    ------
    BadValue
        An end that lies ahead, or before what was done earlier left room for the steps.
    """
    check_past(ended, now, ENDED_AT)
    steps = list(timeline.steps)
    found = [k for k, s in enumerate(steps) if (s.stage, s.cycle, s.actual_end) == (stage, cycle, None)]
    end = ended
    for place in reversed(found):
        begin = steps[place].actual_start or end - steps[place].least
        steps[place] = _close(steps[place], begin, end, RECKONED)
        end = begin
    if found:
        _check_room(steps[: found[0]], steps[found[0]])
    return lay_again(steps, day) if found else timeline


def _check_room(before: Sequence[Step], first: Step) -> None:
    """Refuse times that reach back before the end of what was done earlier."""
    last = max((step.actual_end for step in before if step.actual_end), default=None)
    if last is not None and first.begins < last:
        came = f"too early: reckoned back from it the work began at {first.begins:%Y-%m-%d %H:%M}"
        remedy = "Enter the times one by one in the schedule panel of 05"
        raise BadValue(ENDED_AT, came, f"a begin from {last:%Y-%m-%d %H:%M} on", remedy)


def _close(step: Step, begin: datetime, end: datetime, how: str) -> Step:
    return replace(step.noted(how), actual_start=begin, actual_end=max(begin, end))
