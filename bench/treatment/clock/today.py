"""Today: what is to be done now, next and late across all open treatments, at a given time.

Nothing here looks at a clock or a file: the time is passed in, so that an answer is right however long
nobody asked.  A touch gives a new timeline; who saves it is no concern of this module.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from bench.errors import BadValue
from bench.treatment.clock.done import BEGIN_RECKONED
from bench.treatment.clock.schedule import Step, Timeline, record_actual

GRACE = timedelta(minutes=5)
"""A step is neither early nor late within it; chosen here."""
EARLY_LOOK = timedelta(minutes=15)
"""A look so long before a planned look-in counts as that one; chosen here."""
SOON = timedelta(hours=12)
"""What is due within it is next, what is due after it is later; chosen here."""
_DAMP = ("buffering", "pressing")  # stages in which a damp item is not left lying for the sake of a plan


class Urgency(StrEnum):
    """How soon somebody must be there; the most urgent first."""

    LATE = "late"
    NOW = "now"
    NEXT = "next"
    LATER = "later"
    NOTHING = "nothing planned"


@dataclass(frozen=True)
class OpenTreatment:
    """A treatment as it goes into the day.

    Attributes
    ----------
    key, title : str
        By which it is known, and what it is.
    timeline : Timeline or None
        None if nothing was planned yet.
    stands : str
        Where it stands in words, for one without steps.
    """

    key: str
    title: str
    timeline: Timeline | None
    stands: str = ""


@dataclass(frozen=True)
class Job:
    """What one treatment asks for at a moment.

    Attributes
    ----------
    key, title, stands : str
        As in :class:`OpenTreatment`.
    urgency : Urgency
    under_way : Step or None
        What goes on now; a wait counts as begun when the step before it ended.
    begun : datetime or None
        Since when.
    look : Step or None
        The look-in that comes next.
    coming : Step or None
        The next step at which somebody must be there.
    due : datetime or None
        When somebody must do something next: the end of a step by hand, a look-in or the next step.
    at_latest : datetime or None
        When the wait before the next step has lasted as long as it may.
    is_too_long : bool
        Whether that is past.
    passed : tuple of Step
        Steps by hand of which nothing is recorded though a later one has begun.
    """

    key: str
    title: str
    urgency: Urgency
    stands: str = ""
    under_way: Step | None = None
    begun: datetime | None = None
    look: Step | None = None
    coming: Step | None = None
    due: datetime | None = None
    at_latest: datetime | None = None
    is_too_long: bool = False
    passed: tuple[Step, ...] = ()

    @property
    def is_by_hand(self) -> bool:
        """Whether somebody is at work on it now."""
        return self.under_way is not None and self.under_way.hands

    @property
    def at(self) -> Step | None:
        """The step that what is seen now belongs to."""
        return self.under_way or self.look or self.coming


def look_at_all(treatments: Iterable[OpenTreatment], now: datetime) -> tuple[Job, ...]:
    """Give what every treatment asks for, the most urgent first.

    What may come to harm stands before what is merely late: an item that lies too long, then work in hand and
    damp leaves that wait for their sheets or their press.

    Parameters
    ----------
    treatments : iterable of OpenTreatment
    now : datetime
        With offset.
    """
    jobs = [look_at(each, now) for each in treatments]
    return tuple(sorted(jobs, key=lambda job: (_rank(job), job.due or now, job.title)))


def _rank(job: Job) -> int:
    is_due = job.urgency in (Urgency.LATE, Urgency.NOW)
    if job.is_too_long:
        return 0
    if job.is_by_hand or (is_due and job.at is not None and job.at.stage in _DAMP):
        return 1
    return 2 + list(Urgency).index(job.urgency)


def look_at(treatment: OpenTreatment, now: datetime) -> Job:
    """Give what one treatment asks for at a moment."""
    steps = treatment.timeline.steps if treatment.timeline else ()
    place = _last_begun(steps)
    here = place if _is_under_way(steps, place) else place + 1 if _waits_at(steps, place + 1) else None
    under_way = None if here is None else steps[here]
    begun = None if under_way is None else under_way.actual_start or _begins_wait(steps, here or 0)
    rest = [step for step in steps[(place if here is None else here) + 1 :] if step.actual_start is None]
    coming = next((step for step in rest if step.hands and not step.if_present), None)
    until = rest.index(coming) if coming else len(rest)
    look = next((step for step in rest[:until] if step.if_present), None)
    job = Job(treatment.key, treatment.title, Urgency.NOTHING, treatment.stands)
    if under_way is None and coming is None and look is None:
        return job
    due = _due(under_way, look, coming, before=steps[place] if place >= 0 else None)
    waits = [s for s in (under_way, *rest[:until]) if s is not None and not s.hands]
    at_latest = _at_latest(waits[-1], begun if waits[-1] is under_way else None) if waits else None
    job = replace(
        job,
        under_way=under_way,
        begun=begun,
        look=look,
        coming=coming,
        due=due,
        at_latest=at_latest,
        is_too_long=at_latest is not None and now > at_latest,
        passed=tuple(s for s in steps[: max(place, 0)] if s.hands and not s.if_present and not s.actual_end),
    )
    return replace(job, urgency=_urgency(job, now))


def _last_begun(steps: Sequence[Step]) -> int:
    return max((k for k, step in enumerate(steps) if step.actual_start), default=-1)


def _is_under_way(steps: Sequence[Step], place: int) -> bool:
    return place >= 0 and steps[place].actual_end is None


def _waits_at(steps: Sequence[Step], place: int) -> bool:
    """Tell whether a wait stands at a place whose turn it is: what was before it is done, or was nothing."""
    if not 0 <= place < len(steps) or steps[place].hands:
        return False
    return place == 0 or steps[place - 1].actual_end is not None


def _begins_wait(steps: Sequence[Step], place: int) -> datetime:
    return (steps[place - 1].actual_end if place else None) or steps[place].planned_start


def _due(
    under_way: Step | None, look: Step | None, coming: Step | None, *, before: Step | None
) -> datetime | None:
    """Give when somebody must do something next."""
    if under_way is not None and under_way.hands:
        return under_way.begins + under_way.least
    planned = [step.planned_start for step in (look, coming) if step]
    if not planned:
        return under_way.ends if under_way else None
    ended = before.actual_end if before is not None and before.hands else None
    if under_way is None and ended and coming is not None and coming.stage in _DAMP:
        return min(ended, *planned)  # damp and in the hand: at once, whatever the day says
    return min(planned)


def _at_latest(wait: Step, begun: datetime | None) -> datetime | None:
    """Give when the last wait before the next step has lasted as long as it may."""
    return (begun or wait.begins) + wait.at_most if wait.at_most else None


def _urgency(job: Job, now: datetime) -> Urgency:
    if job.is_too_long:
        return Urgency.LATE
    if job.due is None:
        return Urgency.LATER
    if now > job.due + GRACE:
        return Urgency.LATE
    if job.is_by_hand or now >= job.due - GRACE:
        return Urgency.NOW
    return Urgency.NEXT if job.due - now <= SOON else Urgency.LATER


def begin_step(step: str, timeline: Timeline, at: datetime) -> Timeline:
    """Let a step begin: the wait before it ends, and look-ins and waits that were passed over are taken out.

    Parameters
    ----------
    step : str
        Its id.
    timeline : Timeline
    at : datetime
        With offset.

    Raises
    ------
    BadValue
        No such step, one that has begun, or a time before an earlier step ended.
    """
    return record_actual(_make_way(timeline, step, at), step, started=at)


_AGAIN = "Look at the page again: it was touched twice, or another window was quicker"


def finish_step(step: str, timeline: Timeline, at: datetime) -> Timeline:
    """Let a step end, and the wait after it begin.

    A step that was never entered as begun began as long before as it was planned to take; its note says
    that this was reckoned.

    Raises
    ------
    BadValue
        No such step, one that has ended, or a time before an earlier step ended.
    """
    known = timeline.steps[_place(timeline, step)]
    if known.actual_end is not None:
        raise BadValue("step", f"{known.name!r}, done already", "one that is not done", _AGAIN)
    if known.actual_start is None:
        timeline = _begin_reckoned(timeline, step, at)
    return _begin_wait_after(record_actual(timeline, step, ended=at), step, at)


def _begin_wait_after(timeline: Timeline, step: str, at: datetime) -> Timeline:
    after = _place(timeline, step) + 1
    if not _waits_at(timeline.steps, after) or timeline.steps[after].actual_start is not None:
        return timeline
    return record_actual(timeline, timeline.steps[after].step, started=at)


def _begin_reckoned(timeline: Timeline, step: str, at: datetime) -> Timeline:
    known = timeline.steps[_place(timeline, step)]
    before = timeline.steps[: _place(timeline, step)]
    bounds = [moment for s in before for moment in (s.actual_start, s.actual_end) if moment]
    timeline = begin_step(step, timeline, max([at - known.least, *bounds]))
    note = f"{known.note}; {BEGIN_RECKONED}" if known.note else BEGIN_RECKONED
    steps = [replace(s, note=note) if s.step == step else s for s in timeline.steps]
    return replace(timeline, steps=tuple(steps))


def look_in(timeline: Timeline, at: datetime) -> Timeline:
    """Enter a look-in; one that no plan asked for then leaves the timeline as it is.

    The planned look-in that is due, or soon due, counts as done at that moment: the wait before it ends
    and the one after it begins.
    """
    job = look_at(OpenTreatment("", "", timeline), at)
    if job.look is None or job.is_by_hand or at < job.look.planned_start - EARLY_LOOK:
        return timeline
    step = job.look.step
    looked = record_actual(_make_way(timeline, step, at), step, started=at, ended=at)
    return _begin_wait_after(looked, step, at)


def end_wait(timeline: Timeline, at: datetime) -> Timeline:
    """Let the wait under way end, where no step comes after it."""
    job = look_at(OpenTreatment("", "", timeline), at)
    if job.under_way is None or job.under_way.hands:
        return timeline
    ended = _ended(job.under_way, job.begun, at)
    return record_actual(timeline, ended.step, started=ended.actual_start, ended=at)


def _make_way(timeline: Timeline, step: str, at: datetime) -> Timeline:
    """End the wait before a step, and take out what was passed over between the two.

    Nothing is laid out anew in between: a look-in late in the day would be dropped as it is entered.
    """
    place = _place(timeline, step)
    steps = list(timeline.steps)
    if steps[place].actual_start is not None:
        raise BadValue("step", f"{steps[place].name!r}, begun already", "one that is to come", _AGAIN)
    last = _last_begun(steps[:place])
    first = last if _is_under_way(steps, last) else last + 1
    if first < place and not steps[first].hands and (steps[first].actual_start or _waits_at(steps, first)):
        steps[first] = _ended(steps[first], steps[first].actual_start or _begins_wait(steps, first), at)
    kept = [
        s
        for k, s in enumerate(steps)
        if not (first <= k < place and s.actual_start is None and (s.if_present or not s.hands))
    ]
    return replace(timeline, steps=tuple(kept))


def _ended(wait: Step, begun: datetime | None, at: datetime) -> Step:
    start = wait.actual_start or min(begun or wait.planned_start, at)
    if at < start:
        came, allowed = (moment.isoformat(timespec="minutes") for moment in (at, start))
        raise BadValue("actual end", came, f"{allowed} or later", f"“{wait.name}” began only then")
    return replace(wait, actual_start=start, actual_end=at)


def _place(timeline: Timeline, step: str) -> int:
    names = [s.step for s in timeline.steps]
    if step not in names:
        remedy = "Look at the page again: the schedule was changed meanwhile"
        raise BadValue("step", repr(step), ", ".join(names), remedy)
    return names.index(step)
