"""Where the water goes: what interleaves and boards take up, and when the item may be released."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from bench.physics.ranges import Range
from bench.physics.transient import (
    History,
    changes_until,
    humidity_after,
    release_time,
    water_moved,
)
from bench.physics.transient.answers import first_time
from bench.stack import Role
from bench.treatment.prediction import join_runs
from bench.treatment.pressing.plan import PressingChoices, Water
from bench.treatment.pressing.run import LONGEST_WEIGHT, WEIGHT, PressRun
from bench.units import Q_, Quantity, to_humidity

NAMES = {
    Role.LEAF: "leaves",
    Role.COVER: "cover",
    Role.INTERLEAF: "interleaves",
    Role.BOARD: "boards",
    Role.CARD: "cards",
    Role.RELEASE: "release sheets",
}
_SHORTEST = 0.01  # hours: a time is written to a tenth of an hour at the finest
LEFT = 0.1
"""Share of the damp at the begin of the rest under weight that is left when it counts as conditioned."""


def estimate_water(run: PressRun) -> Water:
    """Read from the run where the water is after the night, after the changes and under weight.

    Parameters
    ----------
    run : PressRun
        The press, ready to be followed.

    Returns
    -------
    Water

    Notes
    -----
    :mod:`bench.physics.transient`, from the bench through heat, night and changes of sheets.  Each
    interval joins the humidity of the item, the transport of vapour, how tight cover and release sheet
    are, how much water this paper holds, and how much more while it dries, one at a time at both ends.
    """
    planned = [phase.name for phase in run.phases(run.planned)]
    dampest = humidity_after(run.likely, "night").wettest
    rest, doubts = _after(run, "night")
    sets = _sets(run)
    released, _ = _after(run, planned[-1])
    needed = changes_until(run.likely, sets, limit=run.choices.release_limit) if sets else None
    reach = [_changes_until(run, history, sets) for _, history in run.ends]
    known = [n for n in reach if n is not None]
    interleaves = run.stack.mass(Role.INTERLEAF)
    return Water(
        warm=_warm(run),
        rest=rest,
        dampest=dampest,
        doubts=doubts,
        gains=_gains(run),
        changes=tuple(_at(run, name) for name in sets[1:]),
        needed=needed,
        fewest=min([*known, *([] if needed is None else [needed])], default=None) if sets else None,
        most=max(known) if sets and len(known) == len(reach) and known else None,
        released=released,
        sheet_mass=interleaves,
        ratio=float((interleaves / run.stack.mass(Role.LEAF, Role.COVER)).to("").magnitude),
        conditioning=_conditioning(run, released),
        release=_release(run, released.value),
    )


def mean_after_night(run: PressRun) -> Range:
    """Estimate the mean humidity of cover and leaves after the night, and nothing else.

    Parameters
    ----------
    run : PressRun
        The press, ready to be followed.

    Returns
    -------
    Range [percent]
        As :func:`estimate_water` gives it to three digits, for less of the work: nothing is followed beyond
        the night.
    """
    return _within([(cause, _percent(history, "night")) for cause, history in run.to_night])[0]


def _sets(run: PressRun) -> list[str]:
    """Name the phases that end with a set of sheets in the stack: the night, then each change."""
    if not run.stack.of(Role.INTERLEAF):
        return []
    names = [one.phase.name for one in run.likely.phases]
    return names[names.index("night") :]


def _changes_until(run: PressRun, history: History, sets: Sequence[str]) -> int | None:
    """Count the changes of sheets that bring a run below the limit, as far as it was followed."""
    followed = {one.phase.name for one in history.phases}
    return changes_until(
        history, [name for name in sets if name in followed], limit=run.choices.release_limit
    )


def _percent(history: History, name: str) -> float:
    return 100 * history.after(name, "activity", "mean")


def _join(run: PressRun, read: Callable[[History], float]) -> tuple[Range, dict[str, float]]:
    return _within([(cause, read(one)) for cause, one in (("", run.likely), *run.ends)])


def _within(found: Sequence[tuple[str, float]]) -> tuple[Range, dict[str, float]]:
    """Join percentages of runs, kept between 0 and 100, and rank the doubts."""
    interval, shares = join_runs(found)
    value, lowest, highest = (min(100.0, max(0.0, number)) for number in interval)
    return Range.of((value, min(lowest, value), max(value, highest)), "percent"), shares


def _after(run: PressRun, name: str) -> tuple[Range, dict[str, float]]:
    """Give the mean humidity of the item at the end of a phase, with its doubts."""
    return _join(run, lambda history: _percent(history, name))


def _at(run: PressRun, name: str) -> Range:
    """Give the humidity after a change; only the likely value beyond the changes planned."""
    if name in {phase.name for phase in run.phases(run.planned)}:
        return _after(run, name)[0]
    value = Q_(_percent(run.likely, name), "percent")
    return Range(value, value, value)


def _warm(run: PressRun) -> Range:
    """Humidity in the item at its dampest while it is hot (or in the cold stack)."""
    name = "hot" if run.choices.is_warm else "night"

    def highest(history: History) -> float:
        part = history.phase(name)
        return float(100 * part.sheet_values(part.climate[1]).max())

    return _join(run, highest)[0]


def _gains(run: PressRun) -> dict[str, Quantity]:
    """Add up what each part takes up from the closing of the press to the end of the night, g."""
    found: dict[str, Quantity] = {}
    for name in ("hot", "night") if run.choices.is_warm else ("night",):
        for role, grams in water_moved(run.likely, name).items():
            found[NAMES[role]] = found.get(NAMES[role], Q_(0.0, "g")) + grams
    return found


def _conditioning(run: PressRun, released: Range) -> Range | None:
    """Hours under light weight, upper face free, until nine tenths of what is left are gone; None if not."""
    room = 100 * to_humidity(run.choices.room_humidity)

    def wait(history: History) -> float | None:
        mean = history.humidity("mean").magnitude
        goal = room + LEFT * (float(mean[0]) - room)
        return first_time(history.hours.magnitude, mean, goal, rising=float(mean[0]) < room)

    for duration in (WEIGHT, LONGEST_WEIGHT):
        found = [(cause, wait(history)) for cause, history in run.rests(released, duration)]
        logs = [(cause, np.log(max(time, _SHORTEST))) for cause, time in found if time is not None]
        if len(logs) == len(found):
            interval, _ = join_runs(logs)
            return Range.of(tuple(np.exp(interval).tolist()), "hour")
    return None


def _release(run: PressRun, released: Quantity) -> Quantity | None:
    """Hours under weight from which no leaf is too damp, too unlike the others, or warm; None if never."""
    choices: PressingChoices = run.choices
    history = run.rest(released)
    return release_time(history, limit=choices.release_limit, room_temperature=choices.room_temperature)
