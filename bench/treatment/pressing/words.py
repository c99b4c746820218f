"""A press plan in words: answer, reason, numbers, steps, what was taken as given."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from bench.item import Item, Thicknesses
from bench.physics.contact import LOAD_WORDS
from bench.physics.ranges import Range
from bench.physics.size_change import PERMANENT_CHANGE, STOP_LIMIT
from bench.treatment import facts
from bench.treatment.humidity.words import say_humidity
from bench.treatment.measured import (
    ISOTHERM_SCALE,
    PLATEN_HEATING,
    PRESS,
    assume_measured,
    find_measured,
)
from bench.treatment.plan import (
    Assumption,
    Caution,
    PlannedStep,
    PlannedValue,
    Verdict,
    minutes,
    planned_count,
    planned_range,
)
from bench.treatment.prediction import assume_transport, assume_unread
from bench.treatment.pressing.measured import taken_here
from bench.treatment.pressing.plan import PLATEN_HALF_LIFE, Heat, PressingChoices, PressingPlan
from bench.treatment.pressing.stack import ITEM_ROLES
from bench.uncertainty import say_shares
from bench.units import Q_, UnitChoice, lower_first, say_minutes_range, unit_label

STOP_SIGNS = (
    "glue at the spine or its smell, new sheen or colour on the release sheet, a cover that sticks, a staple "
    "that prints through"
)
HEAT, CHANGE_SHEETS, SHEETS_OUT = "heat under load", "change the interleaves, ", "take the interleaves out"
COOL, NIGHT = "cool under load", "in the press overnight"
"""Names of steps, by which the times that were read are found."""
_BUILD, _BUILDING = "build the press stack", minutes(10)  # from memory
_A_SHEET = 1.5  # minutes to put one sheet in by the slip; out and in again for a change: from memory


def say_temperature(temperature: Range, units: UnitChoice) -> str:
    """Write a temperature with its interval in the operator's unit."""
    return temperature.say(units.temperature)


def _minutes(estimate: Range) -> str:
    return say_minutes_range(*estimate.floats("minute", field="time"))


def say_dwell(plan: PressingPlan) -> str:
    """Write the dwell in minutes, with the seconds that a timer counts."""
    dwell = plan.choices.dwell
    minutes = float(dwell.to("min").magnitude)
    shown = f"{minutes:.0f}" if minutes >= 10 else f"{minutes:.3g}"
    return f"{shown} min ({dwell.to('s').magnitude:.0f} s)"


def answer(plan: PressingPlan, units: UnitChoice, cautions: Sequence[Caution]) -> str:
    """Say what to do, how sure it is and what limits it."""
    choices, heat = plan.choices, plan.heat
    stops = [caution for caution in cautions if caution.verdict is Verdict.STOP]
    if stops:
        return f"Do not press it like this. {stops[0].words}"
    words = f"Press under a {choices.load_words} load"
    if choices.load_words not in LOAD_WORDS:
        words = f"Press under {choices.load_words}"
    if heat is None or choices.platen_temperature is None:
        return f"{words} without heat, overnight. {_say_changes(plan)}"
    platen = f"{choices.platen_temperature.to(units.temperature).magnitude:.0f}"
    return (
        f"{words} at {platen} {unit_label(units.temperature)} for {say_dwell(plan)}; cool under "
        f"load, leave overnight. The {heat.slowest_called} comes to {say_temperature(heat.slowest, units)}. "
        f"{_say_changes(plan)}"
    )


def say_release_limit(plan: PressingPlan) -> str:
    """Write the humidity below which the item may be released."""
    return f"{plan.choices.release_limit.to('percent').magnitude:.0f} % RH"


def _say_changes(plan: PressingPlan) -> str:
    """Say what is to be done about the water: change sheets, rest, or nothing."""
    choices, water, needed = plan.choices, plan.water, plan.changes_needed
    limit = say_release_limit(plan)
    if not water.changes:
        return f"Nothing takes the water up: release it only below {limit}."
    if needed == 0:
        if water.rest.high > choices.release_limit:
            by_then = f"by morning {say_humidity(water.rest)}, release at {limit}"
            return f"Likely no change of sheets is needed: {by_then}."
        return f"No change of sheets is needed: it is below {limit} by morning."
    planned = f"Change all {plan.interleaves} sheets {_times(choices.changes)}"
    if needed is not None and choices.changes >= needed:
        return f"{planned}: {_times(needed)} should do ({limit} for release)."
    return f"{planned}, then {_say_rest(plan)}."


def _times(number: int) -> str:
    return {0: "not at all", 1: "once", 2: "twice"}.get(number, f"{number} times")


def _say_rest(plan: PressingPlan) -> str:
    """Say how long it must rest once the sheets are out."""
    rest, planned = plan.water.release, plan.choices.under_weight
    limit = say_release_limit(plan)
    if rest is None:
        return f"expect it above {limit} still"
    after = f"rest it {rest.to('hour').magnitude:.0f} h under light weight to {limit}"
    return f"{after}, longer than planned" if rest > planned else after


def _say_reach(plan: PressingPlan) -> str:
    """Say how many changes of sheets would do without a rest, and where the planned ones leave it."""
    choices, water, needed = plan.choices, plan.water, plan.changes_needed
    if not water.changes or needed == 0:
        return ""
    left = f"the {_changes(choices.changes)} planned leave it at {say_humidity(water.released)}"
    if needed is None:
        return f"Even {_changes(len(water.changes))} do not bring every leaf below the limit; {left}."
    few, many = plan.changes_reach
    reach = "" if few == many or few is None else f" ({few} {'or more' if many is None else f'to {many}'})"
    return f"Without a rest it would take {_changes(needed)}{reach}; {left}."


def _changes(number: int) -> str:
    return f"{number} {'change' if number == 1 else 'changes'}"


def _say_loss(plan: PressingPlan) -> str:
    if plan.choices.heated == "both":
        return ""
    if plan.choices.base == "insulated":
        return ": the boards slow the heat down"
    return ": the boards slow the heat down, and a far side that loses heat never gets as warm as the platen"


def because(plan: PressingPlan, units: UnitChoice) -> str:
    """Say why, and what the uncertainty comes from."""
    water = plan.water
    said = [
        f"The load is {plan.choices.load.say('kPa')}.",
        _say_warmth(plan, units),
        f"Overnight it comes to rest at {say_humidity(water.rest)}.",
        _say_reach(plan),
        _say_taken(plan),
        f"The uncertainty about the water comes from {say_shares(water.doubts)}.",
    ]
    return " ".join(words for words in said if words)


def _say_warmth(plan: PressingPlan, units: UnitChoice) -> str:
    """Say how warm the slowest leaf becomes, and what that does to its fibres."""
    if plan.heat is None:
        return plan.fibres.words
    name, end = plan.heat.slowest_called, say_temperature(plan.heat.slowest_final, units)
    return (
        f"The {name} is within 5 % of the warmest it can become, {end}, after "
        f"{_minutes(plan.heat.time)}{_say_loss(plan)}. There {lower_first(plan.fibres.words)} In the closed "
        f"stack the humidity rises to {say_humidity(plan.water.warm)} while it is hot."
    )


def _say_taken(plan: PressingPlan) -> str:
    """Say how much water the sheets and boards take; empty without interleaves."""
    water = plan.water
    taken = water.gains.get("interleaves")
    if taken is None:
        return ""
    words = (
        f"The interleaves weigh {100 * water.ratio:.0f} % of the item and hold {taken.magnitude:.1f} g more "
        "after the night"
    )
    boards = grams_in_boards(plan)
    return f"{words}; boards and cards take {boards:.1f} g." if boards > 0.05 else f"{words}."


def grams_in_boards(plan: PressingPlan) -> float:
    """Give what boards and cards take up until the end of the night, g; below zero they give water off."""
    gains = plan.water.gains
    return sum(float(gains[name].to("g").magnitude) for name in ("boards", "cards") if name in gains)


def values(item: Item, plan: PressingPlan) -> tuple[PlannedValue, ...]:
    """Give the numbers of the plan, each with its limit and sources."""
    choices, water = plan.choices, plan.water
    limit: dict[str, Any] = {
        "limit": choices.release_limit,
        "limit_source": "set by the operator (staples-museum)",
    }
    found = [
        planned_range(facts.FACE_PRESSURE, choices.load, source=choices.load_words),
        PlannedValue(facts.RIDGE_PRESSURE, plan.ridge),
        planned_count(facts.INTERLEAVES, plan.interleaves),
    ]
    if plan.heat is not None:
        found += _heat_values(plan)
    found += [
        planned_range(facts.NIGHT_HUMIDITY, water.rest, **limit),
        planned_range(facts.CHANGES_HUMIDITY, water.released, **limit),
        planned_count(facts.CHANGES_PLANNED, choices.changes),
    ]
    if plan.changes_needed is not None:
        found.append(planned_count(facts.CHANGES_NEEDED, plan.changes_needed))
    if plan.interleaves:
        sets = choices.changes + 1
        found.append(PlannedValue(facts.DRY_SHEETS_PLANNED, (sets * water.sheet_mass).to("g")))
    if plan.interleaves and plan.changes_needed is not None:
        mass = ((plan.changes_needed + 1) * water.sheet_mass).to("g")
        found.append(PlannedValue(facts.DRY_SHEETS_NEEDED, mass))
    found.append(PlannedValue(facts.DAMPEST_LEAF, water.dampest, **limit))
    if water.conditioning is not None:
        found.append(planned_range(facts.HOURS_TO_CONDITION, water.conditioning))
    if water.release is not None:
        found.append(PlannedValue(facts.HOURS_UNDER_WEIGHT, water.release))
    found += [PlannedValue(facts.WATER_TAKEN_UP.of(n), g) for n, g in water.gains.items()]
    return (*found, *_size_values(item, plan), *plan.spent.values())


def _size_values(item: Item, plan: PressingPlan) -> list[PlannedValue]:
    """Give the expected change of both edges beside the limits of the review, as lengths."""
    wider, taller = STOP_LIMIT * item.width, PERMANENT_CHANGE["along"].low * item.height
    limits = (
        (facts.WIDTH_GROWS, "width", wider, "half of the growth published, chosen here"),
        (facts.HEIGHT_GROWS, "height", taller, "most that was published, munoz-vinas2009"),
    )
    return [
        planned_range(
            fact,
            plan.sizes[edge],
            limit=limit.to("mm"),
            limit_source=limit_source,
            source="munoz-vinas2009",
        )
        for fact, edge, limit, limit_source in limits
    ]


def _heat_values(plan: PressingPlan) -> list[PlannedValue]:
    choices, heat = plan.choices, plan.heat
    assert heat is not None
    found = [
        PlannedValue(facts.PLATEN, choices.platen_temperature, source="operator"),  # type: ignore[arg-type]
        PlannedValue(facts.DWELL, choices.dwell, source="common-practice"),
        planned_range(facts.TIME_FOR.of(heat.slowest_name), heat.time, source="incropera"),
        planned_range(facts.NEAR_LEAF, heat.top),
        planned_range(facts.MIDDLE_LEAF, heat.middle),
        planned_range(facts.FAR_LEAF, heat.bottom),
        planned_range(facts.IN_THE_END.of(heat.slowest_name), heat.slowest_final),
        planned_range(facts.HALF_LIFE, choices.half_life, source=_half_life_source(plan)),
        planned_range(facts.TIME_TO_COOL, heat.cooling),
        planned_range(facts.WARM_HUMIDITY, plan.water.warm, source="heikkila1993"),
    ]
    coated = "coated-books"
    found += [
        PlannedValue(
            facts.COVER_HUMIDITY,
            heat.cover_humidity,
            limit=choices.coated_humidity,
            limit_source=f"{coated}, if coated and warm",
        ),
        PlannedValue(
            facts.COVER_HEAT,
            heat.cover_heat,
            limit=choices.coated_heat,
            limit_source=f"{coated}, if coated and damp",
        ),
    ]
    found.append(planned_range(facts.FIBRES_ABOVE, plan.fibres.margin))
    if plan.glue is not None:
        spine = choices.room_temperature.to("degC") if choices.spine_is_cold else heat.spine_heat
        found.append(
            PlannedValue(
                facts.GLUE_HEAT,
                spine,
                limit=plan.glue.softening.value.to("degC"),
                limit_source="softening of the glue",
            )
        )
        found.append(planned_range(facts.GLUE_SOFTENS, plan.glue.softening))
        above = {"limit": Q_(0, "delta_degC"), "limit_source": "softening of the glue"}
        found.append(planned_range(facts.GLUE_ABOVE, plan.glue.margin, **above))
    return found


def steps(plan: PressingPlan) -> tuple[PlannedStep, ...]:
    """Lay out the steps: build, heat, cool, night, change sheets, take them out, rest, weigh, release."""
    choices = plan.choices
    note = f"From the platen down: {say_order(plan)}"
    found = [_build_step(plan, note)]
    if plan.heat is not None:
        note = f"Stay with it; lift after two minutes and look. Stop at {STOP_SIGNS}"
        found.append(PlannedStep(HEAT, choices.dwell, True, note=note))
    found += _night_steps(plan)
    found += _change_steps(plan)
    found += [
        PlannedStep("rest under light weight", choices.under_weight, False),
        PlannedStep("weigh it", minutes(5), True, note="On the balance of the first weighing"),
        PlannedStep("rest under light weight", Q_(2, "hour"), False),
        PlannedStep(
            "weigh it again and release",
            minutes(15),
            True,
            note="Release when the two agree to 0.1 g; while it is still losing, two hours more under weight",
        ),
    ]
    return tuple(found)


def _build_step(plan: PressingPlan, note: str) -> PlannedStep:
    """Lay out the building of the stack, and the platen that warms meanwhile where its time was measured."""
    heating = find_measured(plan.choices.measured, PLATEN_HEATING, PRESS)
    if plan.heat is None or heating is None:
        return PlannedStep(_BUILD, _BUILDING, True, note=note)
    longest = minutes(5 * math.ceil(float(heating.value.high.to("min").magnitude) / 5))
    first = f"Switch the platen on first and stay with it: it is warm after {_minutes(heating.value)}"
    return PlannedStep(_BUILD, max(_BUILDING, longest), True, note=f"{first}. {note}")


def _half_life_source(plan: PressingPlan) -> str:
    return "memory" if plan.choices.half_life == PLATEN_HALF_LIFE else "operator"


def say_cooling(heat: Heat) -> str:
    """Write how long the stack takes to cool."""
    if heat.cooling.high <= minutes(90):
        return _minutes(heat.cooling)
    return heat.cooling.say("hour")


def _say_half_life(plan: PressingPlan) -> str:
    """Say how long the platen keeps its heat, and how that is known."""
    half = _minutes(plan.choices.half_life)
    known = "judgement; measure it" if _half_life_source(plan) == "memory" else "measured"
    return f"left on the stack when the heat is off, it loses half of its warmth in {half} ({known})"


def _night_steps(plan: PressingPlan) -> list[PlannedStep]:
    """Lay out the time in the closed press: the cooling is the first part of the night."""
    night, longest = plan.choices.night, plan.choices.longest_night
    if plan.heat is None:
        return [PlannedStep(NIGHT, night, False, at_most=longest)]
    cool = minutes(5 * math.ceil(float(plan.heat.cooling.value.to("min").magnitude) / 5))
    note = f"Heat off, load on: {say_cooling(plan.heat)} until the platen no longer feels warm to the hand"
    found = [PlannedStep(COOL, cool, False, note=note)]
    if night > cool:
        found.append(PlannedStep(NIGHT, night - cool, False, at_most=longest - cool))
    return found


def say_order(plan: PressingPlan) -> str:
    """Write the stack from the platen down, the item as one."""
    words: list[str] = []
    for layer in plan.stack.layers:
        if layer.role in ITEM_ROLES:
            name = "the item with its interleaves" if plan.interleaves else "the item"
        else:
            name = layer.role.value if layer.count == 1 else f"{layer.count} {layer.role.value}s"
        if not words or words[-1] != name or layer.role not in ITEM_ROLES:
            words.append(name)
    return ", ".join(words)


def _change_steps(plan: PressingPlan) -> list[PlannedStep]:
    if not plan.interleaves:
        return []
    choices = plan.choices
    found = []
    for number in range(1, choices.changes + 1):
        name = f"{CHANGE_SHEETS}{number} of {choices.changes}"
        note = "One sheet out, one dry sheet in, at the same place; count both piles"
        time = minutes(5 + 2 * _A_SHEET * plan.interleaves)
        found.append(PlannedStep(name, time, True, note=note))
        found.append(
            PlannedStep("in the press", choices.between_changes, False, at_most=choices.longest_night)
        )
    time = minutes(5 + _A_SHEET * plan.interleaves)
    note = f"As many out as went in: {plan.interleaves}; stop where one does not come by itself"
    return [*found, PlannedStep(SHEETS_OUT, time, True, note=note)]


def _say_from(choices: PressingChoices) -> str:
    return (
        "as followed with the air that its logger kept" if choices.is_damp_as_logged else "from the chamber"
    )


def _assume_logger(choices: PressingChoices) -> list[Assumption]:
    """Say that the chamber counts as its logger kept it, where it does."""
    if not choices.logger:
        return []
    words = f"its mould, rust and ageing by the air that {choices.logger} kept, not by its plan"
    return [Assumption("cost of the chamber", words, "reading")]


def assumptions(item: Item, thicknesses: Thicknesses, plan: PressingPlan) -> tuple[Assumption, ...]:
    """List what was taken as given."""
    choices = plan.choices
    damp = say_humidity(choices.item_humidity)
    taken = taken_here(item, choices)
    is_held_here = find_measured(taken, ISOTHERM_SCALE, item.text_paper) is not None
    scale = None if is_held_here else choices.isotherm_scale
    boards = f"{choices.boards} {choices.board}, {choices.cards} {choices.card} on each side"
    found = [
        Assumption("thickness", thicknesses.text_block.source or "given", "reading"),
        Assumption("humidity of the item", f"{damp}, {_say_from(choices)}", "operator"),
        *_assume_logger(choices),
        Assumption("load", choices.load_words, "operator"),
        *assume_transport(choices.transport_ratio, scale, choices.weighed),
        *assume_measured(taken),
        *assume_unread(choices.unread),
        Assumption("pack", f"{boards}; plate {choices.plate or 'none'}", "common-practice"),
        Assumption(
            "water", "none leaves through platens or edges; drying paper holds a little more", "memory"
        ),
        Assumption(
            "start", "the item as damp throughout as on the mean; ten minutes on the bench", "operator"
        ),
        Assumption(
            "grain", "along the spine, the usual way; across it, width and height change over", "memory"
        ),
    ]
    if plan.heat is not None:
        side = "loses heat to the room" if choices.base == "open" else "is insulated"
        words = f"followed with the water through every sheet, the platen hot at once; the far side {side}"
        found.append(Assumption("heat", words, "incropera"))
        found.append(Assumption("heat of the platen", _say_half_life(plan), _half_life_source(plan)))
    if plan.glue is not None:
        found.append(Assumption("spine glue", item.glue, "operator"))
    return tuple(found)
