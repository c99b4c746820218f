"""From rows of a record, as plain mappings, to what the review compares.

Rows come as mappings of column to value; a blank is None or NaN.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from bench.treatment.actual.observed import observe, weighed_gain
from bench.treatment.calibration import NO_CHECKS, Checks
from bench.treatment.facts import MASS_GAIN, Fact, find_fact
from bench.treatment.needed import Read
from bench.treatment.plan import PlannedValue
from bench.treatment.review.comparison import DefectCourse, Sighting, subtract_readings
from bench.treatment.review.levers import Conditions, gather_conditions
from bench.treatment.rows import Row, is_given, quantity_of, text_of
from bench.uncertainty import Measured
from bench.units import Q_, Quantity, difference_unit


@dataclass(frozen=True)
class Moments:
    """Readings at the three moments of a cycle: each gives place to value for a quantity.

    Attributes
    ----------
    before : callable
        Before the cycle.
    stage : callable
        During the stage.
    review : callable
        At the review of the cycle.
    first : callable
        During the stage too, but only what was read first at each place; nothing if it is not asked for.
    checks : Checks
        Of the instruments, which readings after them carry.
    """

    before: Read
    stage: Read
    review: Read
    first: Read = field(default=lambda quantity: {})
    checks: Checks = NO_CHECKS


def build_courses(rows: Iterable[Row]) -> tuple[DefectCourse, ...]:
    """Build the course of every defect from the rows of ``defects``.

    The state before treatment is the *before* row of the lowest cycle; a *before* row of a later
    cycle stands for the state after the cycle before it, unless that was listed by itself.  What was
    first seen after treatment starts at grade 0, so that new damage counts as worse.
    """
    by_id: dict[str, list[Row]] = {}
    for row in rows:
        by_id.setdefault(str(row["defect"]), []).append(row)
    return tuple(_course(defect, seen) for defect, seen in by_id.items())


def _course(defect: str, rows: Sequence[Row]) -> DefectCourse:
    before = sorted((r for r in rows if r["moment"] == "before"), key=lambda r: int(r["cycle"]))
    after = {int(r["cycle"]): r for r in rows if r["moment"] == "after"}
    later = {int(r["cycle"]) - 1: r for r in before[1:]}
    seen = {**later, **{max(cycle, 1): row for cycle, row in after.items()}}
    first = before[0] if before else next(iter(after.values()))
    start = Sighting(0, int(first["severity"]) if before else 0, _size(first) if before else None)
    sightings = [Sighting(cycle, int(row["severity"]), _size(row)) for cycle, row in sorted(seen.items())]
    return DefectCourse(
        defect=defect,
        term=str(first["term"]),
        face=_place(first),
        helped_by=str(first["helped_by"]),
        in_scope=first["in_scope"] == "yes",
        limits_outcome=first["limits_outcome"] == "yes",
        sightings=(start, *(s for s in sightings if s.cycle > 0)),
    )


def _place(row: Row) -> str:
    leaf = row.get("leaf")
    shown = is_given(leaf) and str(row["face"]) in ("recto", "verso")
    return f"leaf {leaf}, {row['face']}" if shown else str(row["face"])


def _size(row: Row) -> Quantity | None:
    sides = [float(row[name]) for name in ("width_mm", "height_mm") if is_given(row.get(name))]
    return Q_(max(sides), "mm") if sides else None


def build_planned_values(rows: Iterable[Row]) -> tuple[PlannedValue, ...]:
    """Build the planned numbers from rows of ``plans``; rows of words are left out."""
    return tuple(_planned(row) for row in rows if is_given(row.get("value")))


def _planned(row: Row) -> PlannedValue:
    unit = text_of(row, "unit")
    unit = "" if unit == "dimensionless" else unit
    delta = difference_unit(unit)

    def number(name: str, its_unit: str) -> Quantity | None:
        return Q_(float(row[name]), its_unit) if is_given(row.get(name)) else None

    fact = find_fact(text_of(row, "key"), str(row["quantity"]), unit)
    return PlannedValue(
        replace(fact, unit=unit),
        value=Q_(float(row["value"]), unit),
        uncertainty=number("uncertainty", delta),
        limit=number("limit", unit),
        limit_source=text_of(row, "limit_source"),
        source=text_of(row, "source"),
        low=number("low", unit),
        high=number("high", unit),
    )


def gather_measured(
    stage: str,
    planned: Iterable[PlannedValue],
    read: Moments,
    logged: Iterable[Row] = (),
    steps: Iterable[Row] = (),
) -> dict[str, Measured]:
    """Find what was measured of the planned values of one stage and cycle.

    Parameters
    ----------
    stage : str
        Of the plan.
    planned : iterable of PlannedValue
        What was planned of it.
    read : Moments
        Readings before the cycle, in the stage, and at the review of the cycle.
    logged : iterable of rows
        Of ``log``, that stage and cycle: a number under the name of a planned value counts, the
        last one of several, without a doubt of its own.  What was read under other names counts as
        :func:`bench.treatment.actual.observed.observe` finds it.
    steps : iterable of rows
        Of ``steps``, that stage and cycle: how long things lasted, and when they ended.

    Returns
    -------
    dict
        Key of the planned value to what was measured; what was not is left out.
    """
    planned, logged = tuple(planned), tuple(logged)
    numbers = {find_fact("", str(r["quantity"])).key: r for r in logged if is_given(r.get("value"))}
    observed = observe(stage, planned, logged, tuple(steps), read.checks)
    found: dict[str, Measured] = {}
    for value in planned:
        measured = _find_gain(value.fact, read) or _find_reading(value.fact, read)
        if measured is None:
            quantity, _ = value.fact.read_as or (value.label, "")
            measured = _find_logged(numbers.get(value.key) or numbers.get(quantity))
        measured = measured or observed.get(value.key)
        if measured is not None and measured.value.is_compatible_with(value.value):
            found[value.key] = measured
    return found


def _find_gain(fact: Fact, read: Moments) -> Measured | None:
    """Subtract the reading before the cycle from the later one, at the first place read both times."""
    gain = fact.gain
    if gain is None:
        return None
    old, new = read.before(gain.quantity), (read.review if gain.at_review else read.stage)(gain.quantity)
    places = [place for place in new if place in old and gain.place in ("", place)]
    if places:
        return subtract_readings(new[places[0]], old[places[0]])
    if fact.key != MASS_GAIN.key:
        return None
    pair = weighed_gain(old, read.first(gain.quantity), new)  # at places of its own, if weighed in and out
    return subtract_readings(pair[1], pair[0]) if pair else None


def _find_reading(fact: Fact, read: Moments) -> Measured | None:
    quantity, wanted = fact.read_as or (fact.label, "")
    places = read.stage(quantity)
    if wanted:
        return places.get(wanted)
    return next(iter(places.values())) if len(places) == 1 else None


def _find_logged(row: Row | None) -> Measured | None:
    return None if row is None else Measured(quantity_of(row), (), "log")


def build_conditions(planned: Mapping[str, Iterable[PlannedValue]]) -> Conditions:
    """Gather what a cycle was done with from its plans, by stage; what was not planned stays open."""
    return gather_conditions(
        (value.fact.condition, value.value)
        for values in planned.values()
        for value in values
        if value.fact.condition
    )


def count_consented(decisions: Iterable[Row]) -> int:
    """Count how many cycles the owner has approved, from the rows of ``decisions``.

    A consent at intake covers one cycle, or as many as it says; a consent at the review of a cycle
    covers the next one.
    """
    cycles = [
        int(row["cycle"]) + 1 if row["stage"] == "review" else read_consent(row).cycles
        for row in decisions
        if str(row["decision"]).startswith("consent")
    ]
    return max(cycles, default=0)


@dataclass(frozen=True)
class ConsentNotes:
    """What a consent says beside who gave it: cycles in all, its day, where it is kept."""

    cycles: int
    agreed_on: str
    document: str


_COVERS, _AGREED_ON = re.compile(r"; covers (\d+) cycles\b"), re.compile(r"; agreed on ([-\d]+)")


def read_consent(row: Row) -> ConsentNotes:
    """Read what a consent of intake says; before version 3 it stood in the sentence of its evidence."""
    if is_given(row.get("cycles")):
        return ConsentNotes(int(row["cycles"]), text_of(row, "agreed_on"), text_of(row, "document"))
    said, _, document = text_of(row, "evidence").partition("; document: ")  # last, because it is free text
    covers, day = _COVERS.search(said), _AGREED_ON.search(said)
    return ConsentNotes(int(covers[1]) if covers else 1, day[1] if day else "", document)
