"""What is to be done today, as pieces of a page: a card for each treatment, and how long there is still."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from bench.figures.page import caution_list, verdict_tag
from bench.figures.schedule import say_when
from bench.figures.templates import PIECES
from bench.treatment.clock.done import is_measured
from bench.treatment.clock.schedule import Step
from bench.treatment.clock.today import Job, Urgency
from bench.treatment.plan import Caution, Verdict
from bench.units import upper_first

_TICK = 5  # s; seconds are shown in steps of as many
_EVERY_SECOND = timedelta(minutes=20)  # what is nearer is counted in seconds
_HOURS, _DAYS = timedelta(hours=10), timedelta(hours=48)


def say_span(span: timedelta) -> str:
    """Write how long something is still, or was, as finely as somebody at the bench needs it.

    Examples
    --------
    >>> say_span(timedelta(seconds=577)), say_span(timedelta(minutes=125)), say_span(timedelta(hours=75))
    ('9 min 35 s', '2 h 5 min', '3 days')
    """
    seconds = max(0, int(span.total_seconds()))
    if span < _EVERY_SECOND:
        minutes, rest = divmod(seconds, 60)
        rest -= rest % _TICK
        return f"{minutes} min {rest} s" if minutes else f"{rest} s"
    if span < _HOURS:
        hours, rest = divmod(seconds // 60, 60)
        return f"{hours} h {rest} min" if hours else f"{rest} min"
    return f"{seconds // 3600} h" if span < _DAYS else f"{span.days} days"


def say_clock(moment: datetime, now: datetime) -> str:
    """Write a moment by the clock of the room, with its day if that is another."""
    there = moment.astimezone(now.tzinfo)
    return f"{there:%H:%M}" if there.date() == now.date() else say_when(there)


def _at(moment: datetime, now: datetime) -> str:
    said = say_clock(moment, now)
    return f"at {said}" if len(said) == len("00:00") else f"on {said}"


def say_left(moment: datetime, now: datetime) -> str:
    """Write a moment with the time that is left until it, or that has gone by since."""
    past = now - moment
    said = _at(moment, now)
    if past >= timedelta(minutes=1):
        gone = past if past >= _EVERY_SECOND else timedelta(minutes=int(past.total_seconds() // 60))
        return f"{said}, {say_span(gone)} ago".replace(" min 0 s", " min")
    return f"{said}, now" if past >= timedelta() else f"{said}, in {say_span(-past)}"


def urgency_tag(job: Job) -> str:
    """Write how urgent a treatment is, as sign, word and colour."""
    if job.is_too_long:
        return verdict_tag(Verdict.STOP, "Too long")
    if job.urgency is Urgency.LATE:
        return verdict_tag(Verdict.CARE, "Late")
    if job.urgency is Urgency.NOW:
        return verdict_tag(Verdict.GO, "Now")
    return str(PIECES.tag("idle", "○", upper_first(job.urgency.value)))


def job_card(job: Job, now: datetime, cautions: Sequence[Caution] = ()) -> str:
    """Write the card of a treatment: how urgent, what goes on, what comes, by when."""
    says, more = say_job(job, now), _more(job, now)
    return str(PIECES.job(urgency_tag(job), job.title, _where(job.at), says, more, caution_list(cautions)))


def _where(step: Step | None) -> str:
    if step is None:
        return ""
    return f"{step.stage}, cycle {step.cycle}" if step.cycle else step.stage


def say_job(job: Job, now: datetime) -> str:
    """Say in a sentence or two what goes on with a treatment and what is to be done next."""
    if job.urgency is Urgency.NOTHING:
        return f"Nothing to do by the clock. {job.stands}".strip()
    if job.is_by_hand and job.under_way and job.due:
        ends = "should have ended" if job.urgency is Urgency.LATE else "ends"
        return f"{upper_first(job.under_way.name)}: under way; {ends} {say_left(job.due, now)}."
    waits = ""
    if job.under_way and job.begun:
        since = (
            f"since {say_clock(job.begun, now)}" if job.begun <= now else f"from {say_clock(job.begun, now)}"
        )
        waits = f"{upper_first(job.under_way.name)} {since}. "
    return f"{waits}{_say_next(job, now)}".strip()


def _say_next(job: Job, now: datetime) -> str:
    step = job.look or job.coming
    if step is None or job.due is None:
        return f"Ends {say_left(job.due, now)}." if job.due else ""
    was = "was due " if job.urgency is Urgency.LATE and job.due < now else ""
    return f"{upper_first(step.name)}: {was}{say_left(job.due, now)}."


def _more(job: Job, now: datetime) -> Iterable[str]:
    step = job.under_way if job.is_by_hand else job.look or job.coming
    if step is not None and step.note and is_measured(step.note):
        yield f"{step.note}." if not step.note.endswith(".") else step.note
    if job.is_too_long and job.at_latest and job.coming:
        yield f"It may last until {say_clock(job.at_latest, now)}, which is past: {job.coming.name} now."
    elif job.at_latest is not None and job.coming:
        yield f"{upper_first(job.coming.name)} by {say_clock(job.at_latest, now)} at the latest."
    elif job.coming is not None and (job.is_by_hand or job.look is not None):
        yield f"Then: {job.coming.name}."
    if job.passed:
        named = "; ".join(step.name for step in job.passed)
        yield f"Passed over, with nothing written down: {named}. The schedule panel of 05 takes its time."


def say_day(jobs: Sequence[Job], now: datetime) -> str:
    """Say the whole day in absolute times, for where no page is drawn and nothing can be counted down."""
    said = [f"{job.title}: {job.urgency.value}" + _say_due(job, now) for job in jobs]
    return (
        f"{now:%A} {now.day} {now:%B %Y}. " + "; ".join(said) + "." if said else "There is no treatment yet."
    )


def _say_due(job: Job, now: datetime) -> str:
    step = job.under_way if job.is_by_hand else job.look or job.coming
    return f", {step.name} at {say_clock(job.due, now)}" if step and job.due else ""


def day_lead(jobs: Sequence[Job], now: datetime) -> str:
    """Write the opening of the page: what comes first, and how much waits behind it."""
    return str(PIECES.paragraphs([_say_day_first(jobs, now)], "say"))


def _say_day_first(jobs: Sequence[Job], now: datetime) -> str:
    if not jobs:
        return "There is no treatment yet: start one on the first page."
    busy = sum(job.urgency in (Urgency.LATE, Urgency.NOW) for job in jobs)
    if busy:
        count = "One treatment needs" if busy == 1 else f"{busy} treatments need"
        return f"{count} somebody now."
    coming = [(job.due, job) for job in jobs if job.due is not None]
    if not coming:
        return "Nothing to do now."
    due, first = min(coming, key=lambda found: found[0])
    return f"Nothing to do now. Next: {first.title}, {say_left(due, now)}."
