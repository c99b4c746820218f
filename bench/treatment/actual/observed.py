"""From what was written down at the bench to what was measured of a plan.

The log keeps what was read under neutral names, each with its time.  Which of it stands beside which planned
value, and whether it was read at the moment that the plan speaks of, is decided here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from bench.treatment import facts
from bench.treatment.actual.seen import (
    AIR_HUMIDITY,
    AIR_IN_PLACE,
    AIR_PROBE,
    AIR_TEMPERATURE,
    HYGROMETER,
    HYGROMETER_IN_PLACE,
    LEAF_IN_PLACE,
    LEAF_PROBE,
    LEAVES,
    name_of_leaf,
)
from bench.treatment.actual.sheets_counted import COUNTED_IN, counts_in_order
from bench.treatment.calibration import CORRECTION, NO_CHECKS, Checks, is_newer
from bench.treatment.clock.done import is_measured
from bench.treatment.humidity.plan import NO_CORRECTION
from bench.treatment.humidity.words import IN_CHAMBER, TAKE_OUT
from bench.treatment.plan import PlannedValue, by_key
from bench.treatment.pressing.words import HEAT
from bench.treatment.rows import Row, is_given, quantity_of, text_of
from bench.uncertainty import Measured, exactly, from_expanded, from_limits
from bench.units import Q_, Quantity

ITEM_IN, ITEM_OUT = "item in the chamber", "item out of the chamber"
"""Places of a mass weighed on going into and coming out of the chamber."""
_SHOWN, _TRUE = facts.HYGROMETER_SHOWS.key, facts.CHAMBER_HUMIDITY.key
TOUCH = timedelta(minutes=2)
"""How far the time of a touch is trusted: nobody touches the page at the very moment; judgement."""
_LEAST_END = timedelta(
    hours=1
)  # the last hour in a chamber counts as its end, or its last tenth; chosen here
_AFTER_HEAT = timedelta(minutes=3)  # a leaf read so long after the heat still tells its warmth; chosen here
_BEFORE_HEAT_ENDS = timedelta(minutes=3)
_OF_LEAF = {"near": facts.NEAR_LEAF, "middle": facts.MIDDLE_LEAF, "far": facts.FAR_LEAF}


def observe(
    stage: str,
    planned: Iterable[PlannedValue],
    logged: Sequence[Row],
    steps: Sequence[Row],
    checks: Checks = NO_CHECKS,
) -> dict[str, Measured]:
    """Find what log and steps of one stage and cycle say of its planned values.

    Parameters
    ----------
    stage : str
        Of the plan.
    planned : iterable of PlannedValue
        What it gives.
    logged, steps : sequences of rows
        Of ``log`` and ``steps``, that stage and cycle alone.
    checks : Checks
        Of the instruments, which readings after them carry.

    Returns
    -------
    dict
        Key of the planned value to what was measured.
    """
    numbers = [row for row in logged if is_given(row["quantity"]) and is_given(row["value"])]
    find = {"humidity": _in_chamber, "buffering": _sheets_in, "pressing": _in_press}.get(stage)
    return {} if find is None else find(by_key(planned), numbers, steps, checks)


def _in_chamber(
    planned: Mapping[str, PlannedValue], numbers: Sequence[Row], steps: Sequence[Row], checks: Checks
) -> dict[str, Measured]:
    found: dict[str, Measured] = {}
    began, ended = chamber_times(steps)
    if began and ended:
        found[facts.HOURS_IN_CHAMBER.key] = _lasting(began, ended, "hour")
        margin = max(_LEAST_END, (ended - began) / 10)
        shown = _last_between(numbers, AIR_HUMIDITY, ended - margin, ended + _LEAST_END)
        if shown is not None:
            read = found[_SHOWN] = _read_hygrometer(shown)
            right_now = _checked_hygrometer(shown, numbers, checks)
            if right_now is not None:
                found[_TRUE] = right_now
            elif _SHOWN in planned and _TRUE in planned:  # they differ by the correction of the hygrometer
                right = planned[_TRUE].value.to("percent") - planned[_SHOWN].value.to("percent")
                found[_TRUE] = Measured(read.value + right, read.components, "log, corrected")
    airs = [row for row in numbers if row["quantity"] == AIR_TEMPERATURE]
    if airs:
        found[facts.AIR_TEMPERATURE.key] = _mean_air(airs, checks)
    return found


def _mean_air(rows: Sequence[Row], checks: Checks) -> Measured:
    """Give the mean of the temperatures of the air, with the doubt that they share."""
    read = [_read_checked(row, "thermometer", AIR_PROBE, AIR_IN_PLACE, checks) for row in rows]
    mean = Q_(sum(float(each.value.to("degC").magnitude) for each in read) / len(read), "degC")
    worst = max(read, key=lambda each: float(each.standard.magnitude))
    return Measured(mean, worst.components, f"log, n = {len(read)}")


def chamber_times(steps: Sequence[Row]) -> tuple[datetime | None, datetime | None]:
    """Give when the item went in and when the chamber was opened to take it out, if both were read."""
    began = [row for row in steps if _was_read(row, "actual_start")]
    starts = (row["actual_start"] for row in began if row["name"] == IN_CHAMBER)
    ends = (row["actual_start"] for row in began if row["name"] == TAKE_OUT)
    return min(starts, default=None), max(ends, default=None)


@dataclass(frozen=True)
class Stay:
    """From when to when an item was in the chamber.

    Attributes
    ----------
    begins, ends : datetime
        When it went in, and when it came out.
    planned : tuple of str
        Which of the two are only planned: ``"begin"``, ``"end"``.
    """

    begins: datetime
    ends: datetime
    planned: tuple[str, ...] = ()

    @property
    def hours(self) -> float:
        """How long it was in."""
        return (self.ends - self.begins).total_seconds() / 3600


def find_stay(steps: Sequence[Row]) -> Stay | None:
    """Find from when to when an item was in the chamber: as read off a clock, else as planned.

    Parameters
    ----------
    steps : sequence of rows
        Of ``steps``, that cycle of the chamber alone.

    Returns
    -------
    Stay or None
        None where no step tells.
    """
    began, ended = chamber_times(steps)
    begins = began or min(_planned(steps, IN_CHAMBER), default=None)
    ends = ended or max(_planned(steps, TAKE_OUT), default=None)
    if begins is None or ends is None or ends <= begins:
        return None
    planned = [name for name, read in (("begin", began), ("end", ended)) if read is None]
    return Stay(begins, ends, tuple(planned))


def _planned(steps: Sequence[Row], name: str) -> list[datetime]:
    return [row["planned_start"] for row in steps if row["name"] == name and is_given(row["planned_start"])]


def _sheets_in(
    planned: Mapping[str, PlannedValue], numbers: Sequence[Row], steps: Sequence[Row], checks: Checks
) -> dict[str, Measured]:
    counts = [float(row["value"]) for row in numbers if row["quantity"] == COUNTED_IN]
    return {facts.SHEETS.key: exactly(Q_(sum(counts), ""))} if counts else {}


def _in_press(
    planned: Mapping[str, PlannedValue], numbers: Sequence[Row], steps: Sequence[Row], checks: Checks
) -> dict[str, Measured]:
    found: dict[str, Measured] = {}
    heats = [row for row in steps if row["name"] == HEAT and _was_read(row, "actual_end")]
    for row in heats:
        found[facts.DWELL.key] = _lasting(row["actual_start"], row["actual_end"], "min")
        first, last = row["actual_end"] - _BEFORE_HEAT_ENDS, row["actual_end"] + _AFTER_HEAT
        for leaf in LEAVES:
            warm = _last_between(numbers, name_of_leaf(leaf), first, last)
            if warm is not None:
                found[_OF_LEAF[leaf].key] = _read_probe(warm, checks)
    out = _out_at_last(numbers)
    if out is not None:
        found[facts.INTERLEAVES.key] = exactly(Q_(out, ""))
    return found


def _out_at_last(numbers: Sequence[Row]) -> float | None:
    """Give the sheets that came out after the last ones went in; None if none were counted."""
    total: float | None = None
    for row in counts_in_order(numbers):
        total = None if row["quantity"] == COUNTED_IN else (total or 0.0) + float(row["value"])
    return total


def _was_read(row: Row, column: str) -> bool:
    return is_given(row[column]) and is_measured(text_of(row, "note"))


@dataclass(frozen=True)
class ReadSince:
    """One value read while a step went on.

    Attributes
    ----------
    since : Quantity
        From the begin of the step.
    value : Measured
        What was read, with how far its instrument is trusted.
    where : str
        What it was read of, such as the ``"near"`` leaf; empty where there is only one.
    """

    since: Quantity
    value: Measured
    where: str = ""


def read_air(
    logged: Iterable[Row],
    steps: Sequence[Row],
    correction: Quantity = NO_CORRECTION,
    checks: Checks = NO_CHECKS,
) -> tuple[ReadSince, ...]:
    """Give the humidity of the air in the chamber as it was read, corrected, since the item went in.

    Parameters
    ----------
    logged, steps : iterables of rows
        Of ``log`` and ``steps``, that cycle of the chamber alone.
    correction : Quantity [percent]
        To be added to what the hygrometer shows, where no check of the bench holds.
    checks : Checks
        Of the instruments.

    Returns
    -------
    tuple of ReadSince
        In order; empty until the time of going in was read.
    """
    began, ended = chamber_times(steps)
    last = None if ended is None else ended + _LEAST_END
    found, logged = [], tuple(logged)
    for row in _between(logged, AIR_HUMIDITY, began, last):
        true = _checked_hygrometer(row, logged, checks)
        if true is None:
            shown = _read_hygrometer(row)
            true = Measured(shown.value + correction.to(shown.value.units), shown.components, shown.source)
        found.append(ReadSince(_since(row, began), true))
    return tuple(found)


def read_leaves(
    logged: Iterable[Row], steps: Sequence[Row], checks: Checks = NO_CHECKS
) -> tuple[ReadSince, ...]:
    """Give the temperatures of leaves as they were read, since the last heat under load began.

    Parameters
    ----------
    logged, steps : iterables of rows
        Of ``log`` and ``steps``, that cycle of the press alone.
    checks : Checks
        Of the instruments.
    """
    logged = tuple(logged)
    heats = [row for row in steps if row["name"] == HEAT and _was_read(row, "actual_start")]
    if not heats:
        return ()
    heat = max(heats, key=lambda row: row["actual_start"])
    began, last = heat["actual_start"], None
    if _was_read(heat, "actual_end"):
        last = heat["actual_end"] + _AFTER_HEAT
    return tuple(
        ReadSince(_since(row, began), _read_probe(row, checks), leaf)
        for leaf in LEAVES
        for row in _between(logged, name_of_leaf(leaf), began, last)
    )


def _between(logged: Iterable[Row], name: str, first: datetime | None, last: datetime | None) -> list[Row]:
    """Give what was read under a name from a moment to another, in order; None for the last has no end."""
    if first is None:
        return []
    rows = (row for row in logged if row["quantity"] == name and is_given(row["value"]))
    return sorted(
        (row for row in rows if first <= row["at"] and (last is None or row["at"] <= last)),
        key=lambda row: row["at"],
    )


def _since(row: Row, began: datetime | None) -> Quantity:
    assert began is not None  # nothing is read before it
    return Q_((row["at"] - began).total_seconds(), "s")


def _lasting(began: datetime, ended: datetime, unit: str) -> Measured:
    length, doubt = (Q_(span.total_seconds(), "s").to(unit) for span in (ended - began, TOUCH))
    return from_limits(length, length - doubt, length + doubt, cause="touched by hand", source="by the clock")


def _last_between(numbers: Sequence[Row], name: str, first: datetime, last: datetime) -> Row | None:
    return next(reversed(_between(numbers, name, first, last)), None)


def _read_hygrometer(row: Row) -> Measured:
    return _read(row, HYGROMETER, "hygrometer, from memory")


def _read_probe(row: Row, checks: Checks) -> Measured:
    return _read_checked(row, "thin probe", LEAF_PROBE, LEAF_IN_PLACE, checks)


def _checked_hygrometer(row: Row, logged: Iterable[Row], checks: Checks) -> Measured | None:
    """Correct a reading by the check of the bench; None without one, or if one against a salt is newer."""
    check = checks.of_instrument("hygrometer", row["at"].date())
    later = (each for each in logged if each["quantity"] == CORRECTION and each["at"] <= row["at"])
    if check is None or any(is_newer(each, check) for each in later):
        return None
    return _read_checked(row, "hygrometer", HYGROMETER, HYGROMETER_IN_PLACE, checks)


def _read_checked(row: Row, name: str, maker: Quantity, in_place: Quantity, checks: Checks) -> Measured:
    """Give what was read: corrected, and trusted as far as the check and how it lay, or as its makers say."""
    day = row["at"].date()
    if checks.of_instrument(name, day) is None:
        return _read(row, maker, f"{name}, from memory")
    return checks.correct_one(name, _read(row, in_place, f"{name} as it lay"), day)


def _read(row: Row, doubt: Quantity, cause: str) -> Measured:
    return from_expanded(quantity_of(row), doubt, cause=cause, source=f"log, {row['at']:%H:%M}")


def weighed_gain(
    before: Mapping[str, Measured], first: Mapping[str, Measured], stage: Mapping[str, Measured]
) -> tuple[Measured, Measured] | None:
    """Find the two weighings between which an item gained in the chamber.

    Parameters
    ----------
    before, first, stage : mapping of place to Measured
        Masses before the cycle, the first at each place in the stage, and all of the stage.

    Returns
    -------
    tuple of (Measured, Measured) or None
        As it went in, or before the cycle; and as it came out.
    """
    out = stage.get(ITEM_OUT)
    went_in = first.get(ITEM_IN) or next(iter(before.values()), None)
    return None if out is None or went_in is None else (went_in, out)
