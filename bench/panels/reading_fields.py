"""The fields of the readings panel: places and instruments that are offered follow the quantity."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bench.desk import Treatment
from bench.errors import BadValue, BenchError
from bench.panels.fields import (
    ChoiceField,
    CountField,
    Field,
    GroupLabel,
    NumberField,
    SegmentField,
    TextField,
)
from bench.records import nouns
from bench.records.rules import UNPRESSED
from bench.treatment.needed import SIZES, WHOLE, instruments_for, needed_readings
from bench.units import Q_, Quantity

MASS = "mass"
QUANTITIES = ("thickness", *SIZES, MASS)
PLACES_OF = {MASS: WHOLE, UNPRESSED: "spine"}  # quantities that have one place only
_ANOTHER_LEAF = "another leaf"
_OTHER_TOOL = "another, named here"
_EDGES = ("spine edge", "fore edge", "head edge", "tail edge")


def _places_for(treatment: Treatment, quantity: str) -> list[str]:
    """Give the places at which a quantity is read."""
    if quantity not in SIZES:
        staples = [f"{staple.name} staple" for staple in nouns.staples_of(treatment.record)]
        return ["text block", nouns.UNDER_LOAD, *staples, *_EDGES, WHOLE]
    read = nouns.measured_at(treatment.record, quantity, stage="intake", cycle=0)
    try:
        item = treatment.item
    except BenchError:  # not described yet
        return [*read, "front cover", "back cover", _ANOTHER_LEAF]
    wanted = [each.place for each in needed_readings(item) if each.quantity == quantity]
    covers = ["back cover"] if item.cover_leaves else []
    return list(dict.fromkeys([*read, *wanted, *covers, _ANOTHER_LEAF]))


def _tools_for(quantity: str) -> list[str]:
    return [*(tool.name for tool in instruments_for(quantity)), _OTHER_TOOL]


def _offer(entry: Field, options: Sequence[str]) -> None:
    """Let a list offer other options; what is chosen stays, if it is still among them."""
    control = entry.widget
    if list(control.options) != list(options):
        chosen = control.value
        control.options = list(options)
        control.value = chosen if chosen in options else options[0]


def build_fields(treatment: Treatment, quantities: Sequence[str]) -> list[Field | GroupLabel]:
    """Give the fields: what is read and where, the readings, and what they are read with."""
    first = quantities[0]
    quantity = ChoiceField("quantity", "Quantity", list(quantities), first)
    places = _places_for(treatment, first)
    place = ChoiceField("place", "Place", places, places[0])
    place.use_while(quantity, lambda chosen: chosen not in PLACES_OF)
    leaf = CountField("leaf", "Number of the leaf", needed="Count from the front, cover not included")
    leaf.use_while(place, lambda chosen: chosen == _ANOTHER_LEAF)
    tools = _tools_for(first)
    tool = ChoiceField("instrument", "Instrument", tools, tools[0])
    named = TextField("named", "Which instrument", needed="Name it")
    named.use_while(tool, lambda chosen: chosen == _OTHER_TOOL)

    def follow(_: object) -> None:
        if quantity.widget.value not in PLACES_OF:
            _offer(place, _places_for(treatment, quantity.widget.value))
        _offer(tool, _tools_for(quantity.widget.value))

    quantity.widget.observe(follow, names="value")
    treatment.switch.observe(follow, names="saves")  # staples may have been described meanwhile
    return [
        GroupLabel("One place, all its readings"),
        quantity,
        place,
        leaf,
        TextField(
            "readings",
            "Readings",
            hint="with blanks between, in the unit chosen above; mass in g",
        ),
        SegmentField(
            "mode", "These readings", [("are added", "add"), ("replace earlier ones", "instead")], "add"
        ),
        GroupLabel("Instrument"),
        tool,
        named,
        *_limit_fields(quantity),
        *_foot_fields(place),
        TextField("taken", "Read at", hint="like 2026-03-02 09:10; empty: just now"),
        TextField("who", "Read by", treatment.conservator),
    ]


def _limit_fields(quantity: Field) -> list[Field]:
    """Ask for limit and step of the instrument: a length, or a mass for a balance."""
    hint = "plus or minus; empty takes what is usual"
    fields = [
        _error_field("limit", "Largest error the maker allows", "thickness", hint=hint),
        _error_field("step", "Smallest step it shows", "thickness"),
    ]
    of_balance = [
        _error_field("limit_g", "Largest error of the balance", "g", hint=hint),
        _error_field("step_g", "Smallest step of the balance", "g"),
    ]
    for entry in fields:
        entry.use_while(quantity, lambda chosen: chosen != MASS)
    for entry in of_balance:
        entry.use_while(quantity, lambda chosen: chosen == MASS)
    return [*fields, *of_balance]


def _error_field(key: str, label: str, unit: str, *, hint: str = "") -> NumberField:
    low = Q_(0.0, "g" if unit == "g" else "mm")
    return NumberField(key, label, None, unit, low=low, optional=True, hint=hint)


def _foot_fields(place: Field) -> list[Field]:
    """Ask what presses on the item, where that is what the reading is about."""
    force = NumberField(
        "force", "Pressing force", None, "N", low=Q_(0.0, "N"), high=Q_(1000.0, "N"), optional=True
    )
    foot = NumberField(
        "foot",
        "Width of its round foot",
        None,
        "mm",
        low=Q_(1.0, "mm"),
        high=Q_(100.0, "mm"),
        optional=True,
        hint="with the force it gives the pressure: 10 N on 16 mm are 50 kPa",
    )
    for entry in (force, foot):
        entry.use_while(place, lambda chosen: chosen == nouns.UNDER_LOAD)
    return [force, foot]


def place_of(values: Mapping[str, Any], leaves: int) -> str:
    """Give the place as a record writes it.

    Raises
    ------
    BadValue
        A leaf that the item does not have.
    """
    place = PLACES_OF.get(values["quantity"], values["place"])
    if place != _ANOTHER_LEAF:
        return str(place)
    if values["leaf"] > leaves:
        remedy = "Count again from the front, cover not included"
        raise BadValue("Number of the leaf", values["leaf"], f"1 to {leaves}", remedy)
    return f"leaf {values['leaf']}"


def tool_of(values: Mapping[str, Any]) -> tuple[str, Quantity, Quantity]:
    """Give the instrument with its limit and step, the usual ones where they were not entered."""
    chosen, quantity = values["instrument"], values["quantity"]
    offered = instruments_for(quantity)
    usual = next((tool for tool in offered if tool.name == chosen), offered[0])
    name = values["named"] if chosen == _OTHER_TOOL else chosen
    keys = ("limit_g", "step_g") if quantity == MASS else ("limit", "step")
    limit, step = (values[key] for key in keys)
    return name, usual.limit if limit is None else limit, usual.step if step is None else step
