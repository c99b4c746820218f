"""The whole treatment by the clock: a row a day, hands-on and waiting told apart by shape and word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import matplotlib
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from bench.figures.page import Page, caution_list, table
from bench.figures.style import ACCENT, INK, LINE, SOFT, Picture, finish, new_axes, plain_frame
from bench.treatment.plan import Plan, Verdict
from bench.treatment.schedule import Step, Timeline, WorkingDay, lay_out, pieces_from
from bench.treatment.windows import Window, find_windows

_NIGHT, _WAIT = "#e4e1da", "#efe6d2"
_TALL, _FLAT = 0.52, 0.18  # of a row: someone is there, or the item waits
_SHORTEST_H = 0.12  # a look-in of five minutes must still be seen


_USUAL = WorkingDay()


def draw_timeline(timeline: Timeline, day: WorkingDay = _USUAL) -> Picture:
    """Draw every step by the clock, one row a day.

    Tall solid blocks are times in which someone must be there, flat hatched bars are waits, triangles
    look-ins that may be left out; nights are shaded.

    Parameters
    ----------
    timeline : Timeline
    day : WorkingDay
        What lies outside it is night.
    """
    windows = find_windows(timeline)
    rows = _rows(timeline, windows)
    figure, axes = new_axes(height=0.9 + 0.5 * len(rows))
    for row, (midnight, count) in enumerate(rows):
        _draw_day(axes, row, day)
        if count > 1:
            _draw_gap(axes, row, count)
            continue
        for step in timeline.steps:
            if not step.hands:
                _draw_wait(axes, row, midnight, step)
        for window in windows:
            _draw_window(axes, row, midnight, window)
    axes.set_yticks(range(len(rows)), [_name_row(*row) for row in rows])
    axes.set_xticks(range(0, 25, 4), [f"{hour}:00" for hour in range(0, 25, 4)])
    axes.set_xlim(0, 24)
    axes.set_ylim(len(rows) - 0.5, -0.95)
    _draw_key(axes)
    plain_frame(axes, ("bottom",))
    axes.tick_params(axis="y", length=0, labelcolor=INK)
    axes.tick_params(axis="x", labelcolor=SOFT)
    return finish(figure, say_timeline(timeline))


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


def _draw_gap(axes: Axes, row: int, count: int) -> None:
    axes.text(
        12, row, f"{count} days of waiting, nobody needed", ha="center", va="center", fontsize=8.5, color=SOFT
    )


def _part(midnight: datetime, start: datetime, end: datetime) -> tuple[float, float] | None:
    """Hours of the day between which a stretch lies on it; None if it does not."""
    begin = max(0.0, (start - midnight).total_seconds() / 3600)
    until = min(24.0, (end - midnight).total_seconds() / 3600)
    return (begin, until) if until > begin else None


def _draw_day(axes: Axes, row: int, day: WorkingDay) -> None:
    opening = day.start.hour + day.start.minute / 60
    closing = day.end.hour + day.end.minute / 60
    for start, end in ((0.0, opening), (closing, 24.0)):
        if end > start:
            axes.add_patch(Rectangle((start, row - 0.5), end - start, 1, facecolor=_NIGHT, edgecolor="none"))
    axes.axhline(row + 0.5, color=LINE, linewidth=0.6)


def _draw_wait(axes: Axes, row: int, midnight: datetime, step: Step) -> None:
    part = _part(midnight, step.begins, step.ends)
    if part is None:
        return
    with matplotlib.rc_context({"hatch.linewidth": 0.5}):
        axes.add_patch(
            Rectangle(
                (part[0], row - _FLAT / 2),
                part[1] - part[0],
                _FLAT,
                facecolor=_WAIT,
                edgecolor="#8b7d63",
                linewidth=0.7,
                hatch="///",
            )
        )


def _draw_window(axes: Axes, row: int, midnight: datetime, window: Window) -> None:
    part = _part(midnight, window.start, window.end)
    if part is None:
        return
    if window.is_optional:
        axes.plot(part[0], row, "^", markersize=6, color="white", markeredgecolor=INK, zorder=4)
        return
    width = max(part[1] - part[0], _SHORTEST_H)
    axes.add_patch(
        Rectangle((part[0], row - _TALL / 2), width, _TALL, facecolor=ACCENT, edgecolor=INK, zorder=3)
    )
    axes.annotate(
        _names(window),
        (part[0], row - _TALL / 2),
        xytext=(0, 2),
        textcoords="offset points",
        fontsize=7.5,
        color=INK,
        zorder=5,
    )


def _names(window: Window) -> str:
    first, last = window.steps[0], window.steps[-1]
    if not first.step:
        return f"{window.start:%H:%M}"
    done = " ✓" if last.actual_end else ""
    return f"{first.step}{done}" if first is last else f"{first.step}–{last.step}{done}"


def _draw_key(axes: Axes) -> None:
    """Write what the shapes mean, in words beside each, above the first day."""
    height = -0.75
    axes.add_patch(Rectangle((0.1, height - 0.1), 0.5, 0.2, facecolor=ACCENT, edgecolor=INK))
    axes.text(0.8, height, "someone is there", va="center", fontsize=8.5)
    with matplotlib.rc_context({"hatch.linewidth": 0.5}):
        axes.add_patch(
            Rectangle((5.6, height - 0.07), 0.9, 0.14, facecolor=_WAIT, edgecolor="#8b7d63", hatch="///")
        )
    axes.text(6.7, height, "waits", va="center", fontsize=8.5)
    axes.plot(9.6, height, "^", markersize=6, color="white", markeredgecolor=INK)
    axes.text(10.0, height, "look in, if someone is there", va="center", fontsize=8.5)
    axes.add_patch(Rectangle((17.9, height - 0.12), 0.7, 0.24, facecolor=_NIGHT, edgecolor=LINE))
    axes.text(18.8, height, "night", va="center", fontsize=8.5)


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


def timeline_page(timeline: Timeline) -> Page:
    """Show the windows and the cautions of a timeline in a notebook."""
    return Page(window_table(timeline) + caution_list(timeline.cautions), say_timeline(timeline))


def clock_page(plan: Plan, start: datetime) -> Picture | Page:
    """Show when somebody must be there for the steps of a plan, or say why no hours are laid out.

    Parameters
    ----------
    plan : Plan
    start : datetime
        When its first step may begin, with offset.
    """
    if plan.verdict is Verdict.STOP or not plan.steps:
        why = "says stop" if plan.verdict is Verdict.STOP else "has no steps"
        words = f"The plan {why}, so there are no hours to lay out."
        return Page(f"<p>{words}</p>", words)
    laid = lay_out(pieces_from(plan), start=start)
    # A number would be another one than the step has in the whole schedule: its hour stands there instead.
    return draw_timeline(replace(laid, steps=tuple(replace(step, step="") for step in laid.steps)))
