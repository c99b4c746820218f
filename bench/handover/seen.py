"""What is known of an item before somebody looks at it, and what was read then as rows of ``readings``."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from bench.errors import BenchError
from bench.handover.at_hand import AtHand
from bench.handover.today import planned_sheets
from bench.records import nouns
from bench.treatment import facts
from bench.treatment.actual.seen import BALANCE, BALANCE_STEP, Expected, Seen, moment_of_mass
from bench.treatment.actual.sheets_counted import SheetCount
from bench.treatment.rows import is_given, number_in, unit_of
from bench.treatment.weighing.lines import place_of
from bench.units import Q_, Quantity


def expected_of(treatment: AtHand, cycle: int, count: SheetCount) -> Expected:
    """Gather what is known of an item before a look.

    Parameters
    ----------
    treatment : AtHand
        Whose item it is.
    cycle : int
        In which it is seen.
    count : SheetCount
        Counted so far in this cycle.
    """
    record = treatment.record
    stage, number = nouns.before_cycle(cycle)
    masses = nouns.measured_at(record, "mass", stage=stage, cycle=number)
    described = nouns.treatment_row(record).get("mass_g")
    mass = next((m.value for m in masses.values()), Q_(float(described), "g") if described else None)
    try:
        openings = treatment.item.all_leaves + 2
    except BenchError:  # not described yet
        openings = Expected.openings
    return Expected(
        mass=mass,
        platen=nouns.planned_number(record, "pressing", cycle, facts.PLATEN),
        thickness=nouns.planned_number(record, "buffering", cycle, facts.THICKNESS_WITH_SHEETS),
        openings=openings,
        sheets=planned_sheets(record, cycle),
        count=count,
    )


def reading_rows(treatment: AtHand, seen: Seen, *, at: datetime, by: str) -> list[dict[str, Any]]:
    """Give mass and thickness as readings, at the places where weighings and plans look for them.

    Parameters
    ----------
    treatment : AtHand
        Whose item was seen.
    seen : Seen
        What was read of it.
    at : datetime
        When, with offset.
    by : str
        Who read it.
    """
    common = {"stage": seen.stage, "cycle": seen.cycle, "taken_at": at, "taken_by": by}
    rows = []
    if seen.mass is not None:
        moment, under = moment_of_mass(nouns.timeline_of(treatment.record), seen.stage, seen.cycle, at)
        row = {
            **common,
            "quantity": "mass",
            "place": place_of(moment),
            "value": number_in(seen.mass, "g"),
            "unit": "g",
            "instrument": "balance",
            "limit": number_in(BALANCE, "g"),
            "resolution": number_in(BALANCE_STEP, "g"),
        }
        rows.append({**row, "note": f"{under:g} h under weight"} if under else row)
    if seen.thickness is not None:
        read = _as_read_before(treatment, seen.thickness, seen.cycle)
        rows.append({**common, "quantity": "thickness", "place": "text block", **read})
    return [{**row, "replicate": _replicate(treatment, row)} for row in rows]


def _as_read_before(treatment: AtHand, thickness: Quantity, cycle: int) -> dict[str, Any]:
    """Take a thickness as read with the caliper of the readings before the cycle, in its unit."""
    asked = (*nouns.before_cycle(cycle), "thickness", "text block")
    rows = treatment.record.rows("readings")
    first = next((row for row in rows if _is_at(row, asked)), None)
    if first is None:
        return {"value": number_in(thickness, "mm"), "unit": "mm", "instrument": "caliper"}
    same = {name: first[name] for name in ("instrument", "limit", "resolution", "force_n")}
    unit = str(first["unit"])
    return {
        "value": number_in(thickness, unit_of(unit)),
        "unit": unit,
        **{name: value for name, value in same.items() if is_given(value)},
    }


def _replicate(treatment: AtHand, row: Mapping[str, Any]) -> int:
    asked = (row["stage"], row["cycle"], row["quantity"], row["place"])
    same = [old for old in treatment.record.rows("readings") if _is_at(old, asked)]
    return 1 + max((int(old["replicate"]) for old in same if is_given(old["replicate"])), default=0)


def _is_at(row: Mapping[Any, Any], asked: tuple[object, ...]) -> bool:
    return (row["stage"], row["cycle"], row["quantity"], row["place"]) == asked
