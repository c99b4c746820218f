"""The schedule: planned steps laid out by the clock, and moved on by what really happened.

Times are passed in; nothing here looks at a clock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta

from bench.errors import BadValue
from bench.treatment.plan import Caution, Notice, Plan, PlannedStep, Verdict
from bench.units import Q_, Quantity


@dataclass(frozen=True)
class WorkingDay:
    """The hours in which someone can be at the bench."""

    start: time = time(8, 0)
    end: time = time(20, 0)

    def __post_init__(self) -> None:
        if self.start >= self.end:
            came = f"{self.start:%H:%M} to {self.end:%H:%M}"
            raise BadValue("working day", came, "a start before its end", "Give both by the 24 hour clock")


_MISSED = "left out, because it falls outside the day: "  # note of a wait, kept by the record

_UNSEEN = Notice(
    "nobody-looks-in",
    Verdict.CARE,
    "“{step}” goes on for {lasts:.0f} h with nobody to look at it: these fall outside the day and "
    "are left out of the schedule ({looks}). Start earlier in the day, or come in and log what you see.",
)
_LASTED = Notice(
    "lasted-too-long",
    Verdict.CARE,
    "“{step}” lasted {lasts:.1f} h, longer than the {limit:.1f} h it may last.",
)
_LATE = Notice(
    "lasts-too-long",
    Verdict.CARE,
    "By this clock “{step}” lasts {lasts:.1f} h, longer than the {limit:.1f} h it may last, "
    "because nobody is there to end it. Start at another time or be there.",
)

# The order of the stages within a cycle; cleaning comes once, before the first.
STAGES = ("intake", "cleaning", "humidity", "buffering", "pressing", "review", "writeup")


def turn_of(stage: str, cycle: int) -> tuple[int, int]:
    """Give the place of a stage in the order of the work: cycle by cycle, stage by stage."""
    return cycle, STAGES.index(stage)


@dataclass(frozen=True)
class Step:
    """One step with its planned and actual times.

    Attributes
    ----------
    step : str
        ``"s01"``, ``"s02"``, ... in order.
    stage, cycle, name, note : str, int, str, str
        Which stage asks for it and what it is.
    hands : bool
        Whether someone must be there.
    planned_start, planned_end : datetime
        As laid out, with offset.
    actual_start, actual_end : datetime or None
        As it happened.
    least, at_most : timedelta and timedelta or None
        How short and how long it may be.
    """

    step: str
    stage: str
    cycle: int
    name: str
    hands: bool
    planned_start: datetime
    planned_end: datetime
    least: timedelta
    at_most: timedelta | None = None
    actual_start: datetime | None = None
    actual_end: datetime | None = None
    note: str = ""
    if_present: bool = False

    @property
    def begins(self) -> datetime:
        """When it began, or is planned to begin."""
        return self.actual_start or self.planned_start

    @property
    def ends(self) -> datetime:
        """When it ended, or is planned to end."""
        return self.actual_end or self.planned_end

    @property
    def lasts(self) -> timedelta:
        """How long it lasted, or is planned to last."""
        return self.ends - self.begins

    @property
    def turn(self) -> tuple[int, int]:
        """The place of its stage in the order of the work."""
        return turn_of(self.stage, self.cycle)

    @property
    def is_late(self) -> bool:
        """Tell whether a step lasts longer than it may."""
        return self.at_most is not None and self.lasts > self.at_most

    @property
    def is_unseen(self) -> bool:
        """Tell whether look-ins during a wait that is to come were left out."""
        return self.note.startswith(_MISSED) and self.actual_end is None

    def noted(self, words: str) -> Step:
        """Give the same step with words added to its note."""
        return replace(self, note=f"{self.note}; {words}" if self.note else words)


@dataclass(frozen=True)
class Timeline:
    """All steps of a treatment by the clock, with what the clock makes risky."""

    steps: tuple[Step, ...]
    cautions: tuple[Caution, ...] = ()

    @property
    def start(self) -> datetime:
        """When the first step starts."""
        return self.steps[0].begins

    @property
    def end(self) -> datetime:
        """When the last step ends."""
        return self.steps[-1].ends

    @property
    def hands_on(self) -> timedelta:
        """Time that someone must be there."""
        return sum((step.lasts for step in self.steps if step.hands), start=timedelta())

    def place_of(self, step: str, *, remedy: str = "Choose one of the steps of this schedule") -> int:
        """Give the place of a step among all.

        Parameters
        ----------
        step : str
            Its id, e.g. ``"s03"``.
        remedy : str
            What to do where there is none.

        Raises
        ------
        BadValue
            No such step.
        """
        names = [each.step for each in self.steps]
        if step not in names:
            raise BadValue("step", repr(step), ", ".join(names), remedy)
        return names.index(step)


def _timedelta(quantity: Quantity) -> timedelta:
    return timedelta(seconds=round(float(quantity.to("s").magnitude)))


def _next_opening(at: datetime, length: timedelta, day: WorkingDay) -> datetime:
    """Find the first moment from ``at`` on when a hands-on step of ``length`` fits into a day."""
    opening = at.replace(hour=day.start.hour, minute=day.start.minute, second=0, microsecond=0)
    closing = at.replace(hour=day.end.hour, minute=day.end.minute, second=0, microsecond=0)
    if at < opening:
        return opening
    # A step longer than a whole day must start at an opening; it then runs over the end of the day.
    if at + length <= closing or (at == opening):
        return at
    return opening + timedelta(days=1)


def _present(at: datetime, length: timedelta, day: WorkingDay) -> bool:
    return _next_opening(at, length, day) == at


_HALF_HOUR = timedelta(minutes=30)  # between two starts that are tried

Piece = tuple[str, int, PlannedStep]


def lay_out(pieces: Sequence[Piece], *, start: datetime, day: WorkingDay = WorkingDay()) -> Timeline:
    """Lay steps out one after the other by the clock.

    Parameters
    ----------
    pieces : sequence of (stage, cycle, PlannedStep)
        In order.
    start : datetime
        With offset; when the first step may begin.
    day : WorkingDay
        Hands-on steps fall inside it; a wait before one stretches over the night, and says so when
        that is longer than it may be.  A look-in outside the day is left out.

    Returns
    -------
    Timeline

    Raises
    ------
    BadValue
        A start without an offset from UTC, or no steps.
    """
    if not pieces:
        raise BadValue("steps", "empty", "one step or more", "Save a plan of a stage first")
    _check_offset("start", start)
    return _flow([_draft(piece, start) for piece in pieces], start, day)


def pieces_from(*plans: Plan) -> tuple[Piece, ...]:
    """Give the steps of some plans as pieces, in their order."""
    return tuple((plan.stage, plan.cycle, step) for plan in plans for step in plan.steps)


def pieces_of(timeline: Timeline) -> tuple[Piece, ...]:
    """Give the steps that have not begun as pieces, ready to be laid out anew."""
    return tuple(
        (
            step.stage,
            step.cycle,
            PlannedStep(
                step.name,
                Q_(step.least.total_seconds() / 60, "min"),
                step.hands,
                at_most=None if step.at_most is None else Q_(step.at_most.total_seconds() / 60, "min"),
                if_present=step.if_present,
                note=step.note,
            ),
        )
        for step in timeline.steps
        if step.actual_start is None
    )


def begin_of(timeline: Timeline | None, stage: str, cycle: int, *, start: datetime) -> datetime:
    """Give when a stage begins: as laid out, else when what comes before it ends, else at ``start``.

    Parameters
    ----------
    timeline : Timeline or None
        As saved; None if there is none yet.
    stage, cycle : str, int
        Which one.
    start : datetime
        When the treatment starts.
    """
    turn = turn_of(stage, cycle)
    laid = timeline.steps if timeline else ()
    begins = next((step.begins for step in laid if step.turn == turn), None)
    return begins or max((step.ends for step in laid if step.turn < turn), default=start)


def move_start(timeline: Timeline, start: datetime, *, day: WorkingDay = WorkingDay()) -> Timeline:
    """Let a treatment that has not begun begin at another time.

    Raises
    ------
    BadValue
        A start without its offset, or a treatment whose first steps were done already.
    """
    _check_offset("start", start)
    begun = [step for step in timeline.steps if step.actual_start is not None]
    if begun:
        came, allowed = start.isoformat(timespec="minutes"), "no new start once a step has begun"
        remedy = "Enter when the steps really began and ended; the others move by themselves"
        raise BadValue("start", came, allowed, remedy)
    return _flow(timeline.steps, start, day)


def _draft(piece: Piece, start: datetime) -> Step:
    """Make a step that is not yet laid out."""
    stage, cycle, planned = piece
    return Step(
        step="",
        stage=stage,
        cycle=cycle,
        name=planned.name,
        hands=planned.hands,
        planned_start=start,
        planned_end=start,
        least=_timedelta(planned.duration),
        at_most=None if planned.at_most is None else _timedelta(planned.at_most),
        note=planned.note,
        if_present=planned.if_present,
    )


def replace_stage(
    timeline: Timeline | None,
    stage: str,
    cycle: int,
    planned: Sequence[PlannedStep],
    *,
    start: datetime,
    day: WorkingDay = WorkingDay(),
    not_before: datetime | None = None,
) -> Timeline:
    """Put the steps of one stage and cycle into a timeline, in place of those it had.

    Steps that have begun stay and are not asked for again; the others of that stage and cycle are
    taken out, the new ones take their place in the order of the stages, and what follows moves.

    Parameters
    ----------
    timeline : Timeline or None
        None if there is none yet.
    stage, cycle : str, int
        Whose steps they are.
    planned : sequence of PlannedStep
        The new steps.
    start : datetime
        With offset; when the treatment starts, used if there is no timeline yet.
    day : WorkingDay
        In which steps by hand fall.
    not_before : datetime, optional
        When the plan is made: once work has begun, steps that are still to come cannot start earlier.
    """
    _check_offset("start", start)
    turn = turn_of(stage, cycle)
    kept = [
        replace(s, step="")
        for s in (timeline.steps if timeline else ())
        if s.turn != turn or s.actual_start is not None
    ]
    before = [s for s in kept if s.turn <= turn]
    after = [s for s in kept if s.turn > turn]
    begun = [s.name for s in kept if s.turn == turn]
    new = [_draft((stage, cycle, step), start) for step in _not_yet(planned, begun)]
    begun_up_to = max((k + 1 for k, s in enumerate(before) if s.actual_start), default=0)
    if not_before is None or not begun_up_to:
        return _flow([*before, *new, *after], timeline.start if timeline else start, day)
    done = _flow(before[:begun_up_to], before[0].begins, day).steps
    to_come = [*before[begun_up_to:], *new, *after]  # an earlier stage that waits is not laid into the past
    return _flow(to_come, max(done[-1].ends, not_before), day, laid=done)


def _not_yet(planned: Sequence[PlannedStep], begun: Sequence[str]) -> list[PlannedStep]:
    """Leave out, once for each, the steps that were begun already."""
    left = list(planned)
    for name in begun:
        found = next((step for step in left if step.name == name), None)
        if found is not None:
            left.remove(found)
    return left


def _flow(drafts: Sequence[Step], start: datetime, day: WorkingDay, *, laid: Sequence[Step] = ()) -> Timeline:
    """Put steps end to end from ``start``; a wait lasts until the hands-on step after it begins.

    What has happened stays as it was planned and as it was; what is still to come moves.  ``laid``
    stands before them and stays as it is.
    """
    fixed, laid = tuple(laid), list(laid)
    at = start
    for draft in drafts:
        step = draft if draft.step else replace(draft, step=f"s{len(laid) + 1:02d}")
        if step.actual_start is None:
            if step.hands and step.if_present and not _present(at, step.least, day):
                if laid and not laid[-1].hands:
                    laid[-1] = _miss(laid[-1], step)
                continue
            begin = _next_opening(at, step.least, day) if step.hands else at
            step = replace(step, planned_start=begin, planned_end=begin + step.least)
        elif step.actual_end is None:
            step = replace(step, planned_end=max(step.planned_end, step.actual_start + step.least))
        waits = len(laid) > len(fixed) and not laid[-1].hands and laid[-1].actual_end is None
        if waits and _goes_on(laid[-1], step):
            step = _join(laid.pop(), step)
        elif waits and step.begins > laid[-1].ends:
            laid[-1] = replace(laid[-1], planned_end=step.begins)
        laid.append(step)
        at = step.ends
    return with_cautions(laid)


def _goes_on(wait: Step, step: Step) -> bool:
    """Tell whether a step is the same wait going on, because the look-in between was left out."""
    same = (wait.stage, wait.cycle, wait.name) == (step.stage, step.cycle, step.name)
    return same and not step.hands and wait.actual_start is None and step.actual_start is None


def _join(wait: Step, step: Step) -> Step:
    """Make one wait of two that follow each other."""
    at_most = None if step.at_most is None else step.at_most + wait.least
    start, least = wait.planned_start, wait.least + step.least
    note = wait.note or step.note
    return replace(step, step=wait.step, planned_start=start, least=least, at_most=at_most, note=note)


def _miss(wait: Step, look: Step) -> Step:
    """Note on a wait that a look-in during it was left out; the record keeps the note."""
    said = f"{wait.note}; {look.name}" if wait.note.startswith(_MISSED) else f"{_MISSED}{look.name}"
    return replace(wait, note=said)


def with_cautions(steps: Sequence[Step]) -> Timeline:
    """Make a timeline of steps as they stand, with what the clock makes risky."""
    late = [_caution(step) for step in steps if step.is_late]
    unseen = [_caution_unseen(s) for s in steps if s.is_unseen]
    return Timeline(tuple(steps), (*late, *unseen))


def _caution_unseen(wait: Step) -> Caution:
    return _UNSEEN(step=wait.name, lasts=in_hours(wait.lasts), looks=wait.note.removeprefix(_MISSED))


def _caution(step: Step) -> Caution:
    lasts, limit = in_hours(step.lasts), in_hours(step.at_most or timedelta())
    if step.actual_end is None:
        return _LATE(step=step.name, lasts=lasts, limit=limit)
    return _LASTED(step=step.name, lasts=lasts, limit=limit)


def in_hours(length: timedelta) -> float:
    """Give a length of time in hours."""
    return length.total_seconds() / 3600


def _check_offset(label: str, moment: datetime | None) -> None:
    if moment is not None and moment.tzinfo is None:
        came = moment.isoformat(timespec="minutes")
        raise BadValue(label, came, "a time with its offset", "Write it like 2026-03-02T09:00+01:00")


def record_actual(
    timeline: Timeline,
    step: str,
    *,
    started: datetime | None = None,
    ended: datetime | None = None,
    day: WorkingDay = WorkingDay(),
) -> Timeline:
    """Enter when a step really began or ended; later steps move accordingly.

    Parameters
    ----------
    timeline : Timeline
        As it stands.
    step : str
        Its name in the schedule, e.g. ``"s03"``.
    started, ended : datetime, optional
        With offset.  A step that ended without a start takes its planned start, if that is earlier.
    day : WorkingDay
        For the steps that move.

    Raises
    ------
    BadValue
        No such step, a time without an offset, an end before the start, or a start before an
        earlier step ended.
    """
    index = timeline.place_of(step)
    known = timeline.steps[index]
    begun, finished = started or known.actual_start, ended or known.actual_end
    _check_offset("actual start", begun)
    _check_offset("actual end", finished)
    if finished and begun is None:
        begun = min(known.planned_start, finished)
    if begun is None:
        return timeline
    if finished and finished < begun:
        allowed = f"{begun.isoformat(timespec='minutes')} or later"
        came = finished.isoformat(timespec="minutes")
        raise BadValue("actual end", came, allowed, "Check the date and the hour of both times")
    before = [s.actual_end for s in timeline.steps[:index] if s.actual_end]
    if before and begun < max(before):
        allowed = f"{max(before).isoformat(timespec='minutes')} or later"
        came = begun.isoformat(timespec="minutes")
        raise BadValue("actual start", came, allowed, "An earlier step was entered as ending later")
    changed = replace(known, actual_start=begun, actual_end=finished)
    steps = (*timeline.steps[:index], changed, *timeline.steps[index + 1 :])
    return _flow(steps, timeline.start, day)


def note_step(timeline: Timeline, step: str, words: str) -> Timeline:
    """Add words to the note of a step."""
    return replace(timeline, steps=tuple(s.noted(words) if s.step == step else s for s in timeline.steps))


def propose_start(
    pieces: Sequence[Piece], *, earliest: datetime, day: WorkingDay = WorkingDay(), within_days: int = 3
) -> datetime:
    """Find the first start, in half hours, whose waits all end in time, else the one that is late least.

    Among those, one after which every look-in falls into the day.
    """
    tries = [earliest + k * _HALF_HOUR for k in range(48 * within_days)]
    present = [t for t in tries if _present(t, _HALF_HOUR, day)] or [earliest]
    laid = {t: lay_out(pieces, start=t, day=day) for t in present}
    return min(present, key=lambda t: (sum(s.is_late for s in laid[t].steps), len(laid[t].cautions), t))


def start_better(timeline: Timeline, *, day: WorkingDay, now: datetime) -> Timeline:
    """Let a treatment begin later, where its waits end in time; one that has begun stays as it is.

    Parameters
    ----------
    timeline : Timeline
        As it stands.
    day : WorkingDay
        In which steps by hand fall.
    now : datetime
        With offset; nothing begins before the next half hour.
    """
    if any(step.actual_start for step in timeline.steps):
        return timeline
    next_half_hour = now.replace(minute=0, second=0, microsecond=0) + _HALF_HOUR * -(-now.minute // 30)
    start = propose_start(pieces_of(timeline), earliest=max(timeline.start, next_half_hour), day=day)
    return move_start(timeline, start, day=day)


def find_better_start(timeline: Timeline, *, day: WorkingDay, now: datetime) -> datetime | None:
    """Find a later start with fewer cautions; None where there is none, or nothing to caution about."""
    if not timeline.cautions:
        return None
    better = start_better(timeline, day=day, now=now)
    return better.start if len(better.cautions) < len(timeline.cautions) else None


def lay_again(steps: Sequence[Step], day: WorkingDay = WorkingDay()) -> Timeline:
    """Lay out anew what is still to come, after some steps were entered as done."""
    return _flow(steps, steps[0].begins, day)
