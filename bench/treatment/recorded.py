"""From rows of a record, as plain mappings, to what the review compares.

Rows come as mappings of column to value; a blank is None or NaN.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from bench.item import Thicknesses
from bench.treatment.comparison import DefectCourse, Examination, Sighting
from bench.treatment.plan import PlannedValue
from bench.uncertainty import Measured
from bench.units import Q_, Quantity

Row = Mapping[Any, Any]
Read = Callable[[str], Mapping[str, Measured]]

# Where a planned value is read under another name: (stage, planned value) to (quantity, place).
READ_AS = {
    ("buffering", "thickness with sheets"): ("thickness", "text block"),
}


def is_given(value: object) -> bool:
    """Tell a value from a blank."""
    return value is not None and value != "" and value == value  # NaN is not equal to itself


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
    unit = str(row["unit"]) if is_given(row.get("unit")) else ""
    unit = "" if unit == "dimensionless" else unit
    delta = {"degC": "delta_degC", "degF": "delta_degF"}.get(unit, unit)

    def number(name: str, its_unit: str) -> Quantity | None:
        return Q_(float(row[name]), its_unit) if is_given(row.get(name)) else None

    return PlannedValue(
        name=str(row["quantity"]),
        value=Q_(float(row["value"]), unit),
        unit=unit,
        uncertainty=number("uncertainty", delta),
        limit=number("limit", unit),
        limit_source=_text(row, "limit_source"),
        source=_text(row, "source"),
    )


def _text(row: Row, name: str) -> str:
    return str(row[name]) if is_given(row.get(name)) else ""


def build_examination(thicknesses: Thicknesses | None, read: Read) -> Examination:
    """Build an examination from a function that reads one quantity, place by place.

    Parameters
    ----------
    thicknesses : Thicknesses or None
        None if the text block was not read: typical values are no reading.
    read : callable
        ``read("width")`` gives place to value at the moment wanted.
    """
    mass = next(iter(read("mass").values()), None)
    return Examination(thicknesses, read("width"), read("height"), mass)


def gather_measured(
    stage: str, planned: Iterable[PlannedValue], read: Read, logged: Iterable[Row] = ()
) -> dict[str, Measured]:
    """Find what was measured of the planned values of one stage and cycle.

    Parameters
    ----------
    stage : str
        Of the plan.
    planned : iterable of PlannedValue
    read : callable
        ``read(quantity)`` gives place to value among the readings of that stage and cycle.
    logged : iterable of rows
        Of ``log``, that stage and cycle: a number under the name of a planned value counts, the
        last one of several, without a doubt of its own.

    Returns
    -------
    dict
        Name of the planned value to what was measured; what was not is left out.
    """
    numbers = {str(row["quantity"]): row for row in logged if is_given(row.get("value"))}
    found: dict[str, Measured] = {}
    for value in planned:
        quantity, place = READ_AS.get((stage, value.name), (value.name, ""))
        places = read(quantity)
        if place in places:
            found[value.name] = places[place]
        elif not place and len(places) == 1:
            found[value.name] = next(iter(places.values()))
        elif value.name in numbers:
            row = numbers[value.name]
            unit = "" if row["unit"] == "dimensionless" else str(row["unit"])
            found[value.name] = Measured(Q_(float(row["value"]), unit), (), "log")
    return found


def count_consented(decisions: Iterable[Row]) -> int:
    """Count how many cycles the owner has approved, from the rows of ``decisions``.

    A consent at intake covers one cycle; a consent at the review of a cycle covers the next one.
    """
    cycles = [
        int(row["cycle"]) + 1 if row["stage"] == "review" else 1
        for row in decisions
        if str(row["decision"]).startswith("consent")
    ]
    return max(cycles, default=0)
