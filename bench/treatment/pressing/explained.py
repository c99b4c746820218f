"""What the chapter says of a press plan, so that every sentence is true of the plan at hand."""

from __future__ import annotations

from dataclasses import dataclass

from bench.item import Format, Item
from bench.materials import has_property, look_up, look_up_note
from bench.physics.transient.cells import PAPER_CONTACT, contact_conductance, is_metal
from bench.physics.transient.faces import BASE_FILM
from bench.stack import Layer, Role
from bench.treatment.humidity.words import say_humidity
from bench.treatment.interleaves import group_leaves, say_spacing
from bench.treatment.pressing.plan import PressingPlan
from bench.treatment.pressing.stack import contact_load
from bench.treatment.pressing.water import NAMES
from bench.treatment.pressing.words import grams_in_boards, say_dwell, say_release_limit
from bench.uncertainty import say_shares
from bench.units import Q_, Quantity, UnitChoice, unit_label

_METAL, _PAPER = "contacts with metal", "contacts between sheets"

COLD = "This press is not heated, so there is no heat to follow."


def say_taken_over(item: Item, plan: PressingPlan) -> tuple[str, ...]:
    """Say what the press takes over from chamber, interleaves and intake."""
    choices = plan.choices
    damp = f"The leaves come out of the chamber at {say_humidity(choices.item_humidity)} on average."
    if item.format is Format.SHEET:
        damp = f"The sheet comes out of the chamber at {say_humidity(choices.item_humidity)}."
    if choices.is_damp_as_logged:
        damp = f"{damp.removesuffix('.')}, as followed with the air that its logger kept, not by its plan."
    if not plan.interleaves:
        sheets = "No interleaves lie in it."
    elif item.format is Format.SHEET:
        sheets = f"A sheet of {choices.sheet} lies on each face."
    else:
        sheets = f"{plan.interleaves} interleaves of {choices.sheet} lie in it"
        if choices.interval is not None:
            groups = group_leaves(item, choices.interval, choices.sheets)
            sheets += f", one after {say_spacing(groups)}"
        sheets += "."
    glue = f"Glue of the spine: {item.glue}." if item.is_square_bound else ""
    return damp, sheets, glue


def say_lag(plan: PressingPlan) -> str:
    """Say how far behind the platen the slowest leaf is, and what more time would bring."""
    heat, choices = plan.heat, plan.choices
    if heat is None or choices.platen_temperature is None:
        return COLD
    platen, room, near, slow, end = (
        float(t.to("degC").magnitude)
        for t in (
            choices.platen_temperature,
            choices.room_temperature,
            heat.top.value,
            heat.slowest.value,
            heat.slowest_final.value,
        )
    )
    made = [100 * (warm - room) / (platen - room) for warm in (near, slow)]
    left = max(0.0, end - slow)
    words = (
        f"After {say_dwell(plan)} the near leaf has come {made[0]:.0f} % of the way from room to platen, "
        f"the {heat.slowest_called} {made[1]:.0f} %."
    )
    if left < 1:
        return f"{words} More time adds less than 1 K to that."
    held = _say_held(plan, platen - end)
    return f"{words} More time adds at most {left:.0f} K{held}."


def _say_held(plan: PressingPlan, short: float) -> str:
    if plan.choices.heated == "one" and plan.choices.base == "open" and short >= 1:
        return f": the cold far side keeps it {short:.0f} K below the platen"
    return ""


def say_best_way(plan: PressingPlan, units: UnitChoice) -> str:
    """Say which of the ways to bring heat brings the slowest leaf highest, and what more time does."""
    if not plan.alternatives:
        return COLD
    own, *others = plan.alternatives
    best = max(others, key=lambda way: way.celsius)
    unit = unit_label(units.temperature)

    def warm(celsius: float) -> str:
        return f"{Q_(celsius, 'degC').to(units.temperature).magnitude:.0f} {unit}"

    if best.celsius - own.celsius < 1:
        return f"None of these ways brings the slowest leaf noticeably above its {warm(own.celsius)}."
    words = (
        f"“{best.words[0].upper()}{best.words[1:]}” does most for the slowest leaf: {warm(best.celsius)} "
        f"in place of {warm(own.celsius)}"
    )
    longer = others[-1]
    if longer is best:
        return f"{words}."
    return f"{words}; twice the dwell comes to {warm(longer.celsius)}."


@dataclass(frozen=True)
class Resistance:
    """What heat passes on its way, and what that costs.

    Attributes
    ----------
    words : str
        What it is.
    above, below : Quantity [m^2 K/W]
        Between the platen and the far leaf, and from there to the room.
    """

    words: str
    above: Quantity
    below: Quantity


def list_resistances(plan: PressingPlan) -> tuple[Resistance, ...]:
    """List what heat passes from the platen to the room, like with like; nothing in a cold press.

    Notes
    -----
    Layers count as thickness over conductivity, contacts as one over their conductance, the room as one over
    the film of its air.  The far leaf counts as above.
    """
    if plan.heat is None:
        return ()
    layers = plan.stack.layers
    last = max(k for k, layer in enumerate(layers) if layer.role is Role.LEAF)
    touch, between = 1 / contact_conductance(contact_load(plan.choices)), 1 / PAPER_CONTACT
    found: dict[str, list[float]] = {}

    def add(words: str, value: Quantity, is_above: bool) -> None:
        sums = found.setdefault(words, [0.0, 0.0])
        sums[0 if is_above else 1] += float(value.to("m^2*K/W").magnitude)

    add(_METAL, touch, True)
    for number, layer in enumerate(layers):
        add(_name(layer), _resistance(layer), number <= last)
        if number + 1 < len(layers):
            is_metal_near = is_metal(layer.material) or is_metal(layers[number + 1].material)
            words, value = (_METAL, touch) if is_metal_near else (_PAPER, between)
            add(words, value, number < last)
    add(_METAL, touch, False)
    add("air of the room", 1 / BASE_FILM.value, False)
    return tuple(
        Resistance(words, Q_(above, "m^2*K/W"), Q_(below, "m^2*K/W"))
        for words, (above, below) in found.items()
    )


def _name(layer: Layer) -> str:
    return f"{NAMES.get(layer.role, layer.role.value)} ({layer.material})"


def _resistance(layer: Layer) -> Quantity:
    name = layer.material
    if not has_property(name, "thermal conductivity"):
        name = look_up_note(name, "heat").text
    return (layer.total_thickness / look_up(name, "thermal conductivity").value).to("m^2*K/W")


def end_by_hand(plan: PressingPlan) -> Quantity | None:
    """Work out where the far leaf ends, from the resistances alone; None in a cold press.

    Notes
    -----
    In the end the same heat flows through everything, so the fall of temperature up to the far leaf is to the
    whole fall as the resistances are: ``T = T_platen - (T_platen - T_room) R_above / R_whole``.
    """
    choices = plan.choices
    if plan.heat is None or choices.platen_temperature is None:
        return None
    platen, room = choices.platen_temperature.to("degC"), choices.room_temperature.to("degC")
    if choices.heated == "both" or choices.base != "open":
        return platen
    above, below = (
        sum((getattr(part, side) for part in list_resistances(plan)), start=Q_(0.0, "m^2*K/W"))
        for side in ("above", "below")
    )
    return platen - (platen - room) * float((above / (above + below)).to("").magnitude)


def say_store(plan: PressingPlan) -> str:
    """Say what interleaves and boards weigh in as stores of water, for the stack at hand."""
    gains = plan.water.gains
    taken = f"boards and cards {_take(grams_in_boards(plan))}"
    if not plan.interleaves or "interleaves" not in gains:
        return f"No interleaves take water here; overnight {taken}."
    sheets = float(gains["interleaves"].to("g").magnitude)
    return (
        f"The {plan.interleaves} sheets weigh {_say_ratio(plan.water.ratio)}; overnight "
        f"they {_take(sheets)}, {taken}."
    )


def _say_ratio(ratio: float) -> str:
    return f"{100 * ratio:.0f} % of the item" if ratio <= 1 else f"{ratio:.1f} times as much as the item"


def _take(grams: float) -> str:
    if abs(grams) < 0.05:
        return "take up next to nothing"
    return f"take up {grams:.1f} g" if grams > 0 else f"give off {-grams:.1f} g"


def say_water_sources(plan: PressingPlan) -> str:
    """Say where the uncertainty about the water comes from."""
    rest = say_humidity(plan.water.rest)
    return f"After the night: {rest}. What makes that uncertain: {say_shares(plan.water.doubts)}."


def say_release(plan: PressingPlan) -> str:
    """Say from when on the rest under weight has brought every leaf below the limit for release."""
    limit = say_release_limit(plan)
    dampest = f"The dampest leaf is at {plan.water.dampest.to('percent').magnitude:.0f} % RH after the night."
    release = plan.water.release
    if release is None:
        return f"{dampest} Ten days under weight do not bring it below {limit}."
    hours = float(release.to("hour").magnitude)
    when = "once the sheets are out" if hours < 0.5 else f"after {hours:.0f} h under light weight"
    return (
        f"{dampest} By the model no leaf is above {limit} {when}. Rest it under weight all the same, and "
        "weigh it until it no longer changes."
    )


def say_growth(item: Item, plan: PressingPlan) -> str:
    """Say by how much the width is expected to grow for good."""
    grown = plan.sizes["width"].say("mm")
    width = f"{item.width.to('mm').magnitude:.0f} mm"
    return f"Expected of this cycle, grain along the spine: {grown} more on a width of {width}."


def say_soft(plan: PressingPlan) -> tuple[str, str]:
    """Say whether fibres and glue are soft in this press."""
    return plan.fibres.words, plan.glue.words if plan.glue else "No glue holds a spine here."
