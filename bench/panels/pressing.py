"""The panel of pressing: stack, load, heat, water, night, changes of sheets."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from bench.desk import Treatment
from bench.figures.doses import DOSES, dose_table
from bench.figures.page import folded_numbers
from bench.figures.pressing import draw_changes, draw_heat, draw_stack, heat_table
from bench.handover.intake import conditions_of
from bench.handover.pressing import pressing_choices
from bench.materials import look_up
from bench.panels.base import Panel, View
from bench.panels.chamber import transport_field
from bench.panels.declared import build_fields, first_keys, read_fields
from bench.panels.fields import Field, GroupLabel, NumberField, StepField
from bench.panels.loads import LOAD, load_fields, propose_load, read_load
from bench.panels.parts import Part
from bench.panels.remembered import Remembered
from bench.panels.standing import flag_taken, flagged, save_as_seen, view_of
from bench.physics.ranges import Range
from bench.records import nouns
from bench.records.nouns import entered_of, happened, replacing
from bench.stack import Role
from bench.treatment.actual.observed import ReadSince, read_leaves
from bench.treatment.choices import declared, staying
from bench.treatment.interleaves import WIDEST
from bench.treatment.pressing import PressingChoices, PressingPlan, plan_pressing
from bench.treatment.pressing.plan import read_half_life
from bench.treatment.transport import KEY, read_transport
from bench.units import Q_, Quantity, UnitChoice

_NONE = "none"
_OWN_DOUBT = 3.0  # points of relative humidity for a value that the operator enters: judgement


def build_pressing_panel(
    treatment: Treatment, *, plan: Callable[..., PressingPlan] = plan_pressing, cycle: int | None = None
) -> Panel:
    """Build the panel.

    Parameters
    ----------
    treatment : Treatment
        At hand; the plans of chamber and interleaves and the conditions of intake are read from its
        record.
    plan : callable
        The calculation, the same one that the notebook calls.
    cycle : int, optional
        By default the cycle at hand.
    """
    number = cycle or treatment.cycle
    known = Remembered(
        treatment,
        lambda: (
            treatment.item,
            treatment.thicknesses(number),
            pressing_choices(treatment, number),
            conditions_of(treatment, "pressing"),
            treatment.handed_to("pressing", number),
        ),
    )
    usual = known()[2]
    leaves = Remembered(
        treatment,
        lambda: read_leaves(
            *happened(treatment.latest, "pressing", number), nouns.checks_of(treatment.latest)
        ),
    )

    def work(values: Mapping[str, Any], units: UnitChoice) -> PressingPlan:
        item, thicknesses, handed_on, conditions, _ = known()
        choices = _read_choices(values, handed_on, item.area)
        return plan(item, thicknesses, choices, cycle=number, units=units, conditions=conditions)

    def show(result: PressingPlan, units: UnitChoice) -> View:
        view = view_of(treatment, result, _parts(result, units, leaves()))
        counted = flag_taken(treatment, number, result.interleaves)
        return flagged(treatment, "pressing", number, view, own=counted)

    def save(result: PressingPlan, values: Mapping[str, Any]) -> str:
        return save_as_seen(treatment, panel, result, _materials(treatment, result), known.last[-1])

    def follow(panel: Panel) -> None:
        handed_on = known()[2]
        panel.propose("interval", handed_on.interval or 0)
        panel.propose("humidity", _write_percent(handed_on.item_humidity.value))
        propose_load(panel, (handed_on.load, handed_on.load_words))

    panel = Panel(
        name="pressing",
        strip=treatment.heading("pressing", number),
        fields=_fields(usual, lambda: known()[2]),
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        first=(*LOAD, *first_keys(PressingChoices)),
        entered=entered_of(treatment.record, "pressing", number, stays=staying(PressingChoices)),
        follow=follow,
    )
    return panel


def _parts(result: PressingPlan, units: UnitChoice, leaves: Sequence[ReadSince]) -> Iterator[Part]:
    yield draw_stack(result, units)
    yield draw_heat(result, units, leaves)
    yield heat_table(result, units)
    yield draw_changes(result)
    yield DOSES
    yield dose_table(result.account, units)
    yield folded_numbers(result, units)


def _fields(usual: PressingChoices, now: Callable[[], PressingChoices]) -> list[Field | GroupLabel]:
    asked = declared(PressingChoices)
    spacing = StepField(
        asked["interval"].key,
        asked["interval"].label,
        usual.interval or 0,
        0,
        max(WIDEST, usual.interval or 0),
        hint=f"0 for none; of {usual.sheet}{_say_balanced(usual)}",
    )
    humidity = NumberField(
        asked["item_humidity"].key,
        asked["item_humidity"].label,
        Q_(float(_write_percent(usual.item_humidity.value)), "percent"),
        "percent",
        low=Q_(0.0, "percent"),
        high=Q_(100.0, "percent"),
        hint=lambda units: f"mean of the leaves, {_say_origin(now())}",
    )
    by_hand: dict[str, list[Field]] = {
        "load": load_fields((usual.load, usual.load_words)),
        "interval": [spacing],
        "humidity": [humidity],
        KEY: [transport_field(usual)],
    }
    return build_fields(usual, by_hand)


def _say_origin(usual: PressingChoices) -> str:
    return "as followed with the chamber's logger" if usual.logger else "from the plan of the chamber"


def _say_balanced(usual: PressingChoices) -> str:
    """Say that a plan of so many sheets is kept as long as the spacing is."""
    return f"; as planned, {usual.sheets} sheets spread evenly" if usual.sheets else ""


def _write_percent(humidity: Quantity) -> str:
    """Write a humidity as its field shows it, to a tenth of a per cent."""
    return f"{round(float(humidity.to('percent').magnitude), 1):.4g}"


def _read_choices(values: Mapping[str, Any], usual: PressingChoices, area: Quantity) -> PressingChoices:
    load, words = read_load(values, area, (usual.load, usual.load_words))
    assert load is not None  # a press set by height is not offered here
    read = read_fields(PressingChoices, values)
    read["half_life"] = read_half_life(values["half_life"], usual.half_life)
    return replace(
        usual,
        **read,
        **read_transport(values[KEY], usual),
        load=load,
        load_words=words,
        item_humidity=_read_humidity(values["humidity"], usual.item_humidity),
        interval=values["interval"] or None,
        sheets=usual.sheets if values["interval"] == usual.interval else None,
    )


def _read_humidity(entered: Quantity, planned: Range) -> Range:
    """Keep the interval of the plan for its own value; give one entered by hand a doubt of its own."""
    percent = float(entered.to("percent").magnitude)
    if abs(percent - float(planned.value.to("percent").magnitude)) <= 0.051:  # shown to a tenth
        return planned
    low, high = max(0.0, percent - _OWN_DOUBT), max(percent, min(percent + _OWN_DOUBT, 98.0))
    return Range(Q_(percent, "percent"), Q_(low, "percent"), Q_(high, "percent"))


_KINDS = {
    Role.BOARD: "board",
    Role.CARD: "card",
    Role.RELEASE: "release sheet",
    Role.PLATE: "plate",
    Role.INTERLEAF: "interleaf",
}


def _materials(treatment: Treatment, plan: PressingPlan) -> dict[str, list[dict[str, Any]]]:
    """Rows of what goes into the press; interleaves with those of the changes."""
    rows = []
    for role, kind in _KINDS.items():
        layers = plan.stack.of(role)
        if not layers:
            continue
        count = sum(layer.count for layer in layers)
        if role is Role.INTERLEAF:
            count *= plan.choices.changes + 1
        material = layers[0].material
        row = {
            "stage": "pressing",
            "cycle": plan.cycle,
            "kind": kind,
            "material": material,
            "count": count,
            "thickness_um": round(float(look_up(material, "thickness").value.to("um").magnitude), 1),
        }
        grammage = layers[0].grammage
        if grammage is not None:
            row["grammage_gsm"] = round(float(grammage.to("gsm").magnitude), 1)
        rows.append(row)
    return {"materials": replacing(treatment.latest, "materials", rows, ("stage", "cycle", "kind"))}
