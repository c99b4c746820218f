"""What was really done to an item: steps that work on it, told from getting ready and looking after it.

Steps come as rows of ``steps``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from bench.treatment.clock.done import is_measured
from bench.treatment.rows import Row, is_given, text_of

WORKING = ("cleaning", "humidity", "buffering", "pressing")
"""Stages in which something is done to the item."""

# How the names of steps begin that do nothing to the item by themselves: a chamber that is made ready is
# no humidifying, and a rest under light weight is no pressing.
_NO_ACT: dict[str, tuple[str, ...]] = {
    "cleaning": ("set up", "look again"),
    "humidity": ("prepare", "the closed chamber", "set the machine", "weigh it and put", "take it out"),
    "buffering": (),
    "pressing": ("build", "change the interleaves", "take the interleaves", "rest", "weigh"),
}


def is_act(stage: str, name: str) -> bool:
    """Tell whether a step works on the item itself.

    Parameters
    ----------
    stage, name : str
        Of the step.  A name that no plan gives counts as work: what was done is never hidden.

    Examples
    --------
    >>> is_act("humidity", "prepare the chamber with wet felt"), is_act("humidity", "in the chamber")
    (False, True)
    """
    return stage in WORKING and not name.startswith(_NO_ACT[stage])


@dataclass(frozen=True)
class Act:
    """One stage of one cycle as it was carried out.

    Attributes
    ----------
    stage, cycle : str, int
        Which one.
    start : datetime
        When the first step that works on the item began.
    end : datetime or None
        When the last one ended; None while one of them is not recorded as ended.
    is_measured : bool
        Whether its times were read off a clock.
    """

    stage: str
    cycle: int
    start: datetime
    end: datetime | None
    is_measured: bool


def find_acts(steps: Iterable[Row]) -> tuple[Act, ...]:
    """Find what was done to the item, stage by stage, cycle by cycle.

    Parameters
    ----------
    steps : iterable of rows
        Current rows of ``steps``.

    Returns
    -------
    tuple of Act
        In the order in which they began; a stage of which only the preparation was done is left out.
    """
    found: dict[tuple[str, int], list[Row]] = {}
    for row in steps:
        if is_given(row["actual_start"]) and is_act(row["stage"], str(row["name"])):
            found.setdefault((row["stage"], int(row["cycle"])), []).append(row)
    acts = (_act(stage, cycle, rows) for (stage, cycle), rows in found.items())
    return tuple(sorted(acts, key=lambda act: act.start))


def _act(stage: str, cycle: int, rows: Sequence[Row]) -> Act:
    ends = [row["actual_end"] for row in rows]
    is_over = all(is_given(end) for end in ends)
    return Act(
        stage,
        cycle,
        start=min(row["actual_start"] for row in rows),
        end=max(ends) if is_over else None,
        is_measured=all(is_measured(text_of(row, "note")) for row in rows),
    )


@dataclass(frozen=True)
class Overrun:
    """A step that lasted longer than it may.

    Attributes
    ----------
    stage, cycle, name : str, int, str
        Of the step.
    took, at_most : timedelta
        How long it lasted, and how long it may.
    """

    stage: str
    cycle: int
    name: str
    took: timedelta
    at_most: timedelta


def find_overruns(steps: Iterable[Row]) -> tuple[Overrun, ...]:
    """Find the steps that lasted longer than they may, by a minute or more."""
    found = []
    for row in steps:
        start, end, most = row["actual_start"], row["actual_end"], row["at_most_min"]
        if not all(is_given(value) for value in (start, end, most)):
            continue
        took, at_most = end - start, timedelta(minutes=float(most))
        if took >= at_most + timedelta(minutes=1):
            found.append(Overrun(row["stage"], int(row["cycle"]), str(row["name"]), took, at_most))
    return tuple(found)


def kind_of(name: str) -> str:
    """Give what steps of one kind have in common in their names, without number, time or tools.

    Examples
    --------
    >>> kind_of("look in, 2 h"), kind_of("clean cover, outside: brush"), kind_of("in the press")
    ('look in', 'clean cover, outside', 'in the press')
    """
    before, colon, _ = name.partition(":")
    return before if colon else re.split(r", (?=\d)", name)[0]
