"""The whole treatment by the clock: a row a day, hands-on and waiting told apart by shape and word."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from bench.figures.chart import Chart
from bench.figures.marks import Anchor, Axis, Choose, Hatch, Line, Part, Points, Region, Shape, Words
from bench.figures.page import Page, sentence_page, table
from bench.figures.style import ACCENT, INK, LINE
from bench.treatment.clock.schedule import Step, Timeline, WorkingDay, lay_out, pieces_from
from bench.treatment.clock.windows import Window, find_windows
from bench.treatment.plan import Plan, Verdict

_NIGHT, _WAIT = "#e4e1da", "#efe6d2"
_TALL, _FLAT = 0.52, 0.18  # of a row: someone is there, or the item waits
_SHORTEST_H = 0.12  # a look-in of five minutes must still be seen


_USUAL = WorkingDay()


def draw_timeline(timeline: Timeline, day: WorkingDay = _USUAL) -> Chart:
    """Draw every step by the clock, one row a day; a click on a block chooses its step as done.

    Tall solid blocks are times in which someone must be there, flat hatched bars are waits, triangles
    look-ins that may be left out; nights are shaded.

    Parameters
    ----------
    timeline : Timeline
        Planned times, and the actual ones where a step is done.
    day : WorkingDay
        What lies outside it is night.
    """
    windows = find_windows(timeline)
    rows = _rows(timeline, windows)
    parts: list[Part] = []
    looks: list[tuple[float, float, str]] = []
    for row, (midnight, count) in enumerate(rows):
        parts += _describe_day(row, day)
        if count > 1:
            words = f"{count} days of waiting, nobody needed"
            parts.append(Words(12, -row, words, anchor=Anchor.MIDDLE))
            continue
        for step in timeline.steps:
            if not step.hands:
                parts += _describe_wait(row, midnight, step)
        for window in windows:
            parts += _describe_window(row, midnight, window)
            looks += _look_in(row, midnight, window)
    if looks:
        x, y, hover = zip(*looks, strict=True)
        parts.append(Points("look-ins", x, y, INK, Shape.TRIANGLE, hover=hover))
    names = tuple((float(-row), _name_row(*rows[row])) for row in reversed(range(len(rows))))
    hours = tuple((float(hour), f"{hour}:00") for hour in range(0, 25, 4))
    can_choose = any(step.step for step in timeline.steps)
    return Chart(
        Axis("hour of the day", low=0.0, high=24.0, ticks=hours),
        Axis("day", low=0.5 - len(rows), high=0.95, ticks=names, is_bare=True),
        tuple(parts),
        say_timeline(timeline),
        height=0.9 + 0.5 * len(rows),
        margins=(1.15, 0.45, 0.3, 0.1),
        key=_describe_key(),
        pick=Choose("step", "Click a block to say that its step was done.") if can_choose else None,
    )


def _rows(timeline: Timeline, windows: Sequence[Window]) -> list[tuple[datetime, int]]:
    """Midnights of the days to draw, and how many days each row stands for: idle ones are drawn as one."""
    first = timeline.start.replace(hour=0, minute=0, second=0, microsecond=0)
    days = [first + timedelta(days=number) for number in range((timeline.end - first).days + 1)]
    rows: list[tuple[datetime, int]] = []
    was_idle = False
    for midnight in days:
        is_idle = not any(_part(midnight, window.start, window.end) for window in windows)
        if is_idle and was_idle:
            rows[-1] = (rows[-1][0], rows[-1][1] + 1)
        else:
            rows.append((midnight, 1))
        was_idle = is_idle
    return rows


def _name_row(midnight: datetime, count: int) -> str:
    last = midnight + timedelta(days=count - 1)
    if count == 1:
        return f"{midnight:%a} {midnight.day} {midnight:%b}"
    return f"{midnight.day} {midnight:%b} – {last.day} {last:%b}"


def _part(midnight: datetime, start: datetime, end: datetime) -> tuple[float, float] | None:
    """Hours of the day between which a stretch lies on it; None if it does not."""
    begin = max(0.0, (start - midnight).total_seconds() / 3600)
    until = min(24.0, (end - midnight).total_seconds() / 3600)
    return (begin, until) if until > begin else None


def _describe_day(row: int, day: WorkingDay) -> Iterator[Part]:
    opening = day.start.hour + day.start.minute / 60
    closing = day.end.hour + day.end.minute / 60
    for start, end in ((0.0, opening), (closing, 24.0)):
        if end > start:
            yield Region.between((start, -row - 0.5), (end, -row + 0.5), _NIGHT)
    yield Line([0.0, 24.0], [-row - 0.5, -row - 0.5], LINE, 0.6)


def _describe_wait(row: int, midnight: datetime, step: Step) -> Iterator[Region]:
    part = _part(midnight, step.begins, step.ends)
    if part is None:
        return
    says = f"{_call(step)}\nwaits from {say_when(step.begins)} to {say_when(step.ends)}"
    low, high = (part[0], -row - _FLAT / 2), (part[1], -row + _FLAT / 2)
    yield Region.between(low, high, _WAIT, edge="#8b7d63", says=says, hatch=Hatch.RISING, chooses=_open(step))


def _describe_window(row: int, midnight: datetime, window: Window) -> Iterator[Part]:
    part = _part(midnight, window.start, window.end)
    if part is None or window.is_optional:
        return
    end = max(part[1], part[0] + _SHORTEST_H)
    chosen = next((step for step in window.steps if step.actual_end is None), window.steps[-1])
    says = _list_steps(step for step in window.steps if _part(midnight, step.begins, step.ends))
    low, high = (part[0], -row - _TALL / 2), (end, -row + _TALL / 2)
    yield Region.between(low, high, ACCENT, edge=INK, says=says, chooses=_open(chosen))
    yield Words(part[0], -row + _TALL / 2 + 0.12, _names(window), INK)


def _look_in(row: int, midnight: datetime, window: Window) -> list[tuple[float, float, str]]:
    part = _part(midnight, window.start, window.end)
    if part is None or not window.is_optional:
        return []
    return [(part[0], float(-row), _list_steps(window.steps))]


def _list_steps(steps: Iterable[Step]) -> str:
    return "\n".join(f"{step.begins:%H:%M} {_call(step)}" for step in steps)


def _call(step: Step) -> str:
    done = ", done" if step.actual_end else ""
    return f"{step.step} {step.name}{done}".strip()


def _open(step: Step) -> str:
    """Give the number of a step that is still to be done."""
    return "" if step.actual_end else step.step


def _names(window: Window) -> str:
    first, last = window.steps[0], window.steps[-1]
    if not first.step:
        return f"{window.start:%H:%M}"
    done = " ✓" if last.actual_end else ""
    return f"{first.step}{done}" if first is last else f"{first.step}–{last.step}{done}"


def _describe_key() -> tuple[tuple[Region | Points, Words], ...]:
    """Say what the shapes mean, in words beside each, on paper above the first day."""
    y = 0.75
    hands = Region.between((0.1, y - 0.1), (0.6, y + 0.1), ACCENT, edge=INK)
    waits = Region.between((5.6, y - 0.07), (6.5, y + 0.07), _WAIT, edge="#8b7d63", hatch=Hatch.RISING)
    looks = Points("", [9.6], [y], INK, Shape.TRIANGLE, is_read=False)
    night = Region.between((17.9, y - 0.12), (18.6, y + 0.12), _NIGHT, edge=LINE)
    return (
        (hands, Words(0.8, y, "someone is there", INK)),
        (waits, Words(6.7, y, "waits", INK)),
        (looks, Words(10.0, y, "look in, if someone is there", INK)),
        (night, Words(18.8, y, "night", INK)),
    )


def _hours(length: timedelta) -> str:
    hours = length.total_seconds() / 3600
    return f"{hours:.1f} h" if hours < 10 else f"{hours:.0f} h"


def say_when(moment: datetime) -> str:
    """Write day, date and hour."""
    # Blanks that do not break: a date and its hour stay on one line.
    return f"{moment:%a} {moment.day} {moment:%b} {moment:%H:%M}".replace(" ", "\u00a0")


def say_timeline(timeline: Timeline) -> str:
    """Say in a sentence how long it takes and how much of it someone must be there."""
    must = [window for window in find_windows(timeline) if not window.is_optional]
    looks = [window for window in find_windows(timeline) if window.is_optional]
    looked = sum((window.end - window.start for window in looks), start=timedelta())
    stretch = f"From {say_when(timeline.start)} to {say_when(timeline.end)}"
    words = f"{stretch}: {_hours(timeline.hands_on - looked)} of work in {len(must)} windows"
    if looks:
        words += f", and {len(looks)} look-ins of a few minutes"
    return f"{words}; the rest is waiting."


def step_table(timeline: Timeline) -> str:
    """Write every step with its times, planned and actual."""
    head = ("step", "what", "planned from", "to", "who", "began", "ended")
    return table(head, [_row(step) for step in timeline.steps], words=True)


def _row(step: Step) -> Sequence[str]:
    who = "look in" if step.if_present else ("be there" if step.hands else "waits")
    began, ended = (
        "" if moment is None else say_when(moment) for moment in (step.actual_start, step.actual_end)
    )
    name = f"{step.name} ({step.stage} {step.cycle})" if step.cycle else f"{step.name} ({step.stage})"
    return step.step, name, say_when(step.planned_start), say_when(step.planned_end), who, began, ended


def window_table(timeline: Timeline) -> str:
    """Write the windows still to come in which someone must be there, and how many are past."""
    must = [window for window in find_windows(timeline) if not window.is_optional]
    coming = [window for window in must if any(step.actual_end is None for step in window.steps)]
    rows = [
        (say_when(window.start), f"{window.end:%H:%M}", "; ".join(step.name for step in window.steps))
        for window in coming
    ]
    past = len(must) - len(coming)
    said = f'<p class="hint">{past} window{" is" if past == 1 else "s are"} past.</p>' if past else ""
    return said + (table(("be there from", "to", "for"), rows, words=True) if rows else "")


def clock_page(plan: Plan, start: datetime) -> Chart | Page:
    """Show when somebody must be there for the steps of a plan, or say why no hours are laid out.

    Parameters
    ----------
    plan : Plan
        Whose steps are laid out, if it has any and does not say stop.
    start : datetime
        When its first step may begin, with offset.
    """
    if plan.verdict is Verdict.STOP or not plan.steps:
        why = "says stop" if plan.verdict is Verdict.STOP else "has no steps"
        return sentence_page(f"The plan {why}, so there are no hours to lay out.")
    laid = lay_out(pieces_from(plan), start=start)
    # A number would be another one than the step has in the whole schedule: its hour stands there instead.
    return draw_timeline(replace(laid, steps=tuple(replace(step, step="") for step in laid.steps)))
