"""The windows of a schedule in which someone must be there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bench.treatment.clock.schedule import Step, Timeline

BREATH = timedelta(minutes=15)
"""Time between two steps for which nobody leaves the bench."""


@dataclass(frozen=True)
class Window:
    """A stretch of time in which someone must be there, or may look in.

    Attributes
    ----------
    start, end : datetime
        With offset.
    steps : tuple of Step
        What is done in it, without a gap.
    """

    start: datetime
    end: datetime
    steps: tuple[Step, ...]

    @property
    def is_optional(self) -> bool:
        """Tell whether it is only a look-in that may be left out."""
        return all(step.if_present for step in self.steps)


def find_windows(timeline: Timeline) -> tuple[Window, ...]:
    """Join hands-on steps that follow each other at once, or nearly so, into windows."""
    found: list[Window] = []
    for step in timeline.steps:
        if not step.hands:
            continue
        follows = found and step.begins - found[-1].end <= BREATH
        if follows and found[-1].is_optional == step.if_present:
            found[-1] = Window(found[-1].start, step.ends, (*found[-1].steps, step))
        else:
            found.append(Window(step.begins, step.ends, (step,)))
    return tuple(found)
