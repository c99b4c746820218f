"""What the cells of one row must say together."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from bench.errors import BenchError
from bench.records.faults import say_fault
from bench.records.schema import STAGES, Table
from bench.units import Q_, parse_quantity, to_float, unit_label

Values = Mapping[str, Any]
Found = list[tuple[str, str]]  # (column, what)


@dataclass(frozen=True)
class QuantityKind:
    """What a known quantity is measured in, and what no careful observer could have read."""

    units: tuple[str, ...]
    dimension: str
    unit: str
    low: float
    high: float


UNPRESSED = "unpressed width"
"""A reading after a cycle: how wide a strip along the spine took no pressure."""

TAKEN_BACK = "taken back"
"""The quantity of a row of log or readings that was entered by mistake; no plan reads it."""

WORKED_OUT = "logged: "
"""How the quantity of a row of log begins that was worked out from a logger's air, not read by anybody."""

_LENGTHS = ("mm", "thou", "um", "cm", "inch")
_SIZE = QuantityKind(_LENGTHS, "[length]", "mm", 1.0, 1000.0)
_HUMIDITY = QuantityKind(("percent",), "", "percent", 0.0, 100.0)
KINDS = {
    "thickness": QuantityKind(_LENGTHS, "[length]", "mm", 0.001, 100.0),
    "width": _SIZE,
    "height": _SIZE,
    UNPRESSED: QuantityKind(_LENGTHS, "[length]", "mm", 0.5, 500.0),
    "mass": QuantityKind(("g", "kg", "oz", "lb"), "[mass]", "g", 0.01, 10_000.0),
    "humidity": _HUMIDITY,
    "relative humidity": _HUMIDITY,
    "temperature": QuantityKind(("degC", "degF", "kelvin"), "[temperature]", "degC", -40.0, 300.0),
}


# Of a reading under any name: what no bench, chamber or press for paper can have shown; chosen here.
_POSSIBLE = {"degC": (-40.0, 300.0), "degF": (-40.0, 572.0), "percent": (-1000.0, 1000.0)}


_PLAN = re.compile(rf"({'|'.join(STAGES)})-[1-9]\d*")


def check_row(table: Table, values: Values) -> Found:
    """List what is wrong between the cells of one row.

    Parameters
    ----------
    table : Table
        Where the row stands.
    values : mapping of str to object
        Typed values by column, each cell already found sound; None for a blank.

    Returns
    -------
    list of (column, what)
    """
    rule = _RULES.get(table.name)
    return rule(values) if rule else []


def _check_treatment(values: Values) -> Found:
    count, counted_as = values["count"], values["counted_as"]
    if (count is None) != (counted_as is None):
        column = "counted_as" if counted_as is None else "count"
        allowed = "a count together with what was counted"
        remedy = "Say which was counted, leaves or pages: a leaf is two pages"
        return [(column, say_fault("is blank", allowed, remedy))]
    if counted_as == "pages" and count % 2:
        remedy = "A leaf has two pages: count again, or look for a missing leaf"
        return [("count", say_fault(f"is {count} pages", "an even number of pages", remedy))]
    return []


def _check_unit(values: Values, *, ranged: bool) -> Found:
    """Check a unit against its quantity, and the value against what can be read at all."""
    if values["value"] is None:
        return []
    return list(_check_number(values["value"], values["unit"], values["quantity"], ranged=ranged))


@lru_cache(maxsize=4096)
def _check_number(
    value: float, unit: str | None, quantity: str | None, *, ranged: bool
) -> tuple[tuple[str, str], ...]:
    """Check one number; the same one comes again and again in a record."""
    return tuple(_find_unit(value, unit, quantity, ranged))


def _find_unit(value: float, unit: str | None, quantity: str | None, ranged: bool) -> Found:
    kind = KINDS.get((quantity or "").lower())
    if unit is None:
        remedy = "Write the unit, or dimensionless for a plain count"
        return [("unit", say_fault("is blank", "a unit for every number", remedy))]
    is_read = ranged and not (quantity or "").startswith(WORKED_OUT)  # a share of days may pass 1000 %
    if kind is None and is_read and unit in _POSSIBLE:
        low, high = _POSSIBLE[unit]
        if not low <= value <= high:
            allowed = f"{low:g} to {high:g} {unit_label(unit)}"
            return [("value", say_fault(f"is {value:g} {unit_label(unit)}", allowed, "Read it again"))]
    if kind is None:
        return []
    if unit not in kind.units:
        allowed = f"{' or '.join(kind.units)} for a {quantity}"
        return [("unit", say_fault(f"is '{unit}'", allowed, _right_unit(unit, kind)))]
    if ranged:
        try:
            to_float(Q_(value, unit), kind.unit, field="value", low=kind.low, high=kind.high)
        except BenchError as error:
            came = f"is {value:g} {unit} of {quantity}"
            return [("value", say_fault(came, error.allowed, error.remedy))]
    return []


def _right_unit(unit: str, kind: QuantityKind) -> str:
    try:
        meant = str(parse_quantity(f"1 {unit}", field="unit", dimension=kind.dimension).units)
    except BenchError:
        return "Use a unit of that kind"
    code = next((code for code in kind.units if Q_(1, code).units == Q_(1, meant).units), None)
    return f"Write {code}" if code else "Convert to one of these"


def _check_reading(values: Values) -> Found:
    return _check_unit(values, ranged=True)


def _check_log(values: Values) -> Found:
    if values["value"] is None and values["remark"] is None:
        return [("remark", say_fault("is blank", "a remark, a number, or both", "Say what was seen"))]
    if values["value"] is not None and values["quantity"] is None:
        return [("quantity", say_fault("is blank", "a quantity for every number", "Say what was read"))]
    return _check_unit(values, ranged=True)


def _check_decision(values: Values) -> Found:
    if values["gate"] is not None and values["reason"] is None:
        came = f"is blank though the gate “{values['gate']}” is overridden"
        return [("reason", say_fault(came, "a written reason", "Write why; the report prints it"))]
    return []


def _check_plan(values: Values) -> Found:
    found: Found = []
    match = _PLAN.fullmatch(values["plan"])
    if match is None or match[1] != values["stage"]:
        allowed = f"the stage and a running number, such as {values['stage']}-1"
        found.append(("plan", say_fault(f"is '{values['plan']}'", allowed, "Name the plan by its stage")))
    if values["value"] is None and values["words"] is None:
        remedy = "Give the number, or the answer in words"
        found.append(("value", say_fault("is blank", "a number, words, or both", remedy)))
    return found + _check_unit(values, ranged=False)


def _check_step(values: Values) -> Found:
    found: Found = []
    if values["planned_start"] is None and values["actual_start"] is None:
        allowed = "a planned or an actual start"
        found.append(("planned_start", say_fault("is blank", allowed, "Say when it starts or started")))
    for kind in ("planned", "actual"):
        start, end = values[f"{kind}_start"], values[f"{kind}_end"]
        if end is not None and start is None:
            found.append(
                (f"{kind}_start", say_fault("is blank", f"a start before the {kind} end", "Fill it in"))
            )
        elif end is not None and end < start:
            came = f"is {end.isoformat(timespec='minutes')}, before the start"
            allowed = f"{start.isoformat(timespec='minutes')} or later"
            remedy = "Check the date, the hour and the offset of both times"
            found.append((f"{kind}_end", say_fault(came, allowed, remedy)))
    return found


_RULES: dict[str, Callable[[Values], Found]] = {
    "treatment": _check_treatment,
    "readings": _check_reading,
    "decisions": _check_decision,
    "plans": _check_plan,
    "steps": _check_step,
    "log": _check_log,
}
