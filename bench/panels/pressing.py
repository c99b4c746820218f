"""The panel of pressing: stack, load, heat, water, night, changes of sheets."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from bench.desk import Treatment
from bench.figures.doses import DOSES, dose_table
from bench.figures.page import folded_numbers, lead
from bench.figures.pressing import draw_changes, draw_heat, draw_stack, heat_table
from bench.handover.intake import conditions_of
from bench.handover.pressing import pressing_choices
from bench.materials import look_up, materials_for, materials_of_kind
from bench.panels.base import Panel, View
from bench.panels.chamber import read_transport, transport_field
from bench.panels.fields import (
    ChoiceField,
    GroupLabel,
    NumberField,
    SegmentField,
    StepField,
    TickField,
    named,
)
from bench.panels.humidity import _say_stop
from bench.panels.loads import LOAD, load_fields, propose_load, read_load
from bench.panels.parts import Part
from bench.panels.remembered import Remembered
from bench.panels.standing import flag_taken, flagged, save_as_seen
from bench.physics.ranges import Range
from bench.physics.transient.faces import LONGEST_HALF_LIFE
from bench.records.nouns import entered_of, happened, replacing
from bench.stack import Role
from bench.treatment.actual.observed import ReadSince, read_leaves
from bench.treatment.interleaves import WIDEST
from bench.treatment.plan import hours, minutes
from bench.treatment.pressing import PressingChoices, PressingPlan, plan_pressing
from bench.treatment.pressing.plan import PLATEN_HALF_LIFE, measured_half_life
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
    leaves = Remembered(treatment, lambda: read_leaves(*happened(treatment.latest, "pressing", number)))

    def work(values: Mapping[str, Any], units: UnitChoice) -> PressingPlan:
        item, thicknesses, handed_on, conditions, _ = known()
        choices = _read_choices(values, handed_on, item.area)
        return plan(item, thicknesses, choices, cycle=number, units=units, conditions=conditions)

    def show(result: PressingPlan, units: UnitChoice) -> View:
        view = View(
            lead=lead(result),
            parts=_parts(result, units, leaves()),
            cautions=result.cautions,
            save_says=treatment.say_plan(result, "materials"),
            save_refused=_say_stop(result),
        )
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
        fields=[*_press_fields(usual), *_stack_fields(usual), *_water_fields(usual)],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        first=(*LOAD, "platen", "dwell", "heated", "changes", "night", "weight"),
        entered=entered_of(treatment.record, "pressing", number, stays=_PRESS),
        follow=follow,
    )
    return panel


_PRESS = (
    "Heated sides",
    "Far side",
    "Board",
    "Platen loses half of its warmth in",
    "Boards on each side",
    "Card",
    "Cards",
    "Non-stick sheet at each cover",
    "Aluminium plate underneath",
    "Room temperature",
    "Humidity of the room",
)
"""Labels of what is the press and its room, which stay from cycle to cycle."""


def _parts(result: PressingPlan, units: UnitChoice, leaves: Sequence[ReadSince]) -> Iterator[Part]:
    yield draw_stack(result, units)
    yield draw_heat(result, units, leaves)
    yield heat_table(result, units)
    yield draw_changes(result)
    yield DOSES
    yield dose_table(result.account, units)
    yield folded_numbers(result, units)


def _press_fields(usual: PressingChoices) -> list[Any]:
    return [
        GroupLabel("Load and heat"),
        *load_fields((usual.load, usual.load_words)),
        NumberField(
            "platen",
            "Platen temperature",
            usual.platen_temperature,
            "temperature",
            optional=True,
            hint="empty for a cold press",
        ),
        NumberField("dwell", "Dwell", usual.dwell, "s", hint="hot and under load; 999 s is about 17 min"),
        SegmentField("heated", "Heated sides", [("from above", "one"), ("both", "both")], usual.heated),
        ChoiceField(
            "base",
            "Far side",
            [("loses heat to the room", "open"), ("is insulated", "insulated")],
            usual.base,
            hint="with one side heated",
        ),
        NumberField(
            "half_life",
            "Platen loses half of its warmth in",
            _measured(usual),
            "min",
            low=minutes(0),
            high=LONGEST_HALF_LIFE,
            optional=True,
            hint=(
                "above the room, heat off, press closed and empty; empty if not measured: "
                f"{PLATEN_HALF_LIFE.say('min')}, judgement"
            ),
        ),
        TickField("cold_spine", "The spine stays off the warm platen", usual.spine_is_cold),
    ]


def _measured(usual: PressingChoices) -> Quantity | None:
    """Give the half-life of the platen if it was measured."""
    return None if usual.half_life == PLATEN_HALF_LIFE else usual.half_life.value


def _read_half_life(entered: Quantity | None) -> Range:
    return PLATEN_HALF_LIFE if entered is None else measured_half_life(entered)


def _stack_fields(usual: PressingChoices) -> list[Any]:
    boards, cards = materials_of_kind("board"), materials_of_kind("card")
    release = [*named(materials_for("release sheet")), (_NONE, _NONE)]
    return [
        GroupLabel("The stack"),
        ChoiceField("board", "Board", named(boards), usual.board),
        StepField("boards", "Boards on each side", usual.boards, 0, 4),
        ChoiceField("card", "Card", named(cards), usual.card),
        StepField("cards", "Cards", usual.cards, 0, 4, hint="on each side"),
        ChoiceField("release", "Non-stick sheet at each cover", release, usual.release or _NONE),
        TickField("plate", "Aluminium plate underneath", usual.plate is not None),
        StepField(
            "interval",
            "One interleaf after every … leaves",
            usual.interval or 0,
            0,
            max(WIDEST, usual.interval or 0),
            hint=f"0 for none; of {usual.sheet}{_say_balanced(usual)}",
        ),
    ]


def _say_balanced(usual: PressingChoices) -> str:
    """Say that a plan of so many sheets is kept as long as the spacing is."""
    return f"; as planned, {usual.sheets} sheets spread evenly" if usual.sheets else ""


def _water_fields(usual: PressingChoices) -> list[Any]:
    return [
        GroupLabel("Water and time"),
        NumberField(
            "humidity",
            "Humidity of the item",
            Q_(float(_write_percent(usual.item_humidity.value)), "percent"),
            "percent",
            low=Q_(0.0, "percent"),
            high=Q_(100.0, "percent"),
            hint="mean of the leaves, from the plan of the chamber",
        ),
        transport_field(usual),
        NumberField("room", "Room temperature", usual.room_temperature, "temperature"),
        NumberField("room_humidity", "Humidity of the room", usual.room_humidity, "percent"),
        NumberField("night", "Night in the press", usual.night, "hour"),
        NumberField("late", "May stay longer by", Q_(4, "hour"), "hour", low=hours(0), high=hours(24)),
        StepField("changes", "Changes of interleaves", usual.changes, 0, 12),
        NumberField("between", "Time between changes", usual.between_changes, "hour"),
        NumberField("limit", "Humidity before release", usual.release_limit, "percent"),
        NumberField("weight", "Rest under weight", usual.under_weight, "hour"),
    ]


def _write_percent(humidity: Quantity) -> str:
    """Write a humidity as its field shows it, to a tenth of a per cent."""
    return f"{round(float(humidity.to('percent').magnitude), 1):.4g}"


def _read_choices(values: Mapping[str, Any], usual: PressingChoices, area: Quantity) -> PressingChoices:
    load, words = read_load(values, area, (usual.load, usual.load_words))
    assert load is not None  # a press set by height is not offered here
    return replace(
        usual,
        **read_transport(values, usual),
        load=load,
        load_words=words,
        item_humidity=_read_humidity(values["humidity"], usual.item_humidity),
        interval=values["interval"] or None,
        sheets=usual.sheets if values["interval"] == usual.interval else None,
        board=values["board"],
        boards=values["boards"],
        card=values["card"],
        cards=values["cards"],
        plate="aluminium" if values["plate"] else None,
        release=None if values["release"] == _NONE else values["release"],
        platen_temperature=values["platen"],
        heated=values["heated"],
        base=values["base"],
        half_life=_read_half_life(values["half_life"]),
        dwell=values["dwell"],
        room_temperature=values["room"],
        room_humidity=values["room_humidity"],
        night=values["night"],
        longest_night=values["night"] + values["late"],
        changes=values["changes"],
        between_changes=values["between"],
        release_limit=values["limit"],
        under_weight=values["weight"],
        spine_is_cold=values["cold_spine"],
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
