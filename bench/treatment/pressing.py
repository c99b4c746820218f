"""Pressing: the stack, the load, the heat, the water, the night, and the way out of the press."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bench.item import Item, Thicknesses
from bench.materials import look_up
from bench.physics.ageing import equivalent_days
from bench.physics.contact import pressure_on_ridge
from bench.physics.corrosion import assess_staples
from bench.physics.exposure import Exposure
from bench.physics.mould import assess_mould
from bench.physics.ranges import Range
from bench.physics.size_change import estimate_permanent_change
from bench.physics.softening import Margin, fibre_margin, glue_margin
from bench.physics.sorption import moisture_content
from bench.stack import Role
from bench.treatment import pressing_words as say
from bench.treatment.conditions import Condition
from bench.treatment.plan import worst
from bench.treatment.pressing_cautions import gather_cautions
from bench.treatment.pressing_heat import estimate_heat, likely_far_leaf
from bench.treatment.pressing_plan import Alternative, Heat, PressingChoices, PressingPlan, Water
from bench.treatment.pressing_stack import build_heat_layers, build_press_stack
from bench.treatment.pressing_water import estimate_water
from bench.units import MILLIMETRES, Q_, Quantity, UnitChoice, to_humidity

__all__ = ["PressingChoices", "PressingPlan", "plan_pressing"]

SPINE_STRIP = Q_(2, "mm")  # width of the ridge along a square spine or a fold, from memory
_MOST_WATER = 0.25  # beyond it the softening relation is not known
_HIGHEST = 99.0  # % RH: no isotherm of paper is known above


def plan_pressing(
    item: Item,
    thicknesses: Thicknesses,
    choices: PressingChoices,
    *,
    cycle: int = 1,
    units: UnitChoice = MILLIMETRES,
    conditions: Sequence[Condition] = (),
) -> PressingPlan:
    """Plan the press stack, the heat, the night and the changes of sheets until release.

    Parameters
    ----------
    item : Item
    thicknesses : Thicknesses
        Of the closed item without interleaves; typical values are allowed and are said aloud.
    choices : PressingChoices
    cycle : int
        1 for the first pass.
    units : UnitChoice
        For the words.
    conditions : sequence of Condition
        Handed down from intake.

    Returns
    -------
    PressingPlan

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange, NotFound
        Among others a limit for release that no dry sheet can reach, or a platen above 70 °C.

    Notes
    -----
    Heat: :mod:`bench.physics.heating`, dry conduction through the stack.  Water:
    :mod:`bench.physics.water_balance`, a closed stack that comes to rest.  The order is that of the
    trade: interleaves in, press warm, cool, leave overnight, change the sheets, take them out.
    """
    stack = build_press_stack(item, thicknesses, choices)
    heat = estimate_heat(build_heat_layers(stack, choices), choices) if choices.is_warm else None
    water = estimate_water(item, stack, choices, heat.middle if heat else None)
    held = _water_held(item, choices, water)
    own = _history(choices, water, heat, held)
    whole = (*choices.history, *own)
    plan = PressingPlan(
        stage="pressing",
        cycle=cycle,
        verdict=worst(()),
        answer="",
        because="",
        choices=choices,
        stack=stack,
        interleaves=sum(layer.count for layer in stack.of(Role.INTERLEAF)),
        ridge=pressure_on_ridge(
            choices.load.value, face=item.area, ridge=(SPINE_STRIP * item.height).to("m^2")
        ),
        heat=heat,
        water=water,
        glue=_glue(item, choices, heat),
        fibres=fibre_margin(
            temperature=heat.slowest if heat else choices.room_temperature, moisture_content=held
        ),
        sizes={
            "width": estimate_permanent_change(item.width, direction="across"),
            "height": estimate_permanent_change(item.height, direction="along"),
        },
        mould=assess_mould(whole, sensitivity=choices.sensitivity),
        staples=assess_staples(whole),
        ageing=equivalent_days(own),
        alternatives=_compare(item, thicknesses, choices) if heat else (),
    )
    cautions = gather_cautions(item, thicknesses, plan, held.value, conditions)
    return replace(
        plan,
        verdict=worst(caution.verdict for caution in cautions),
        answer=say.answer(plan, units, cautions),
        because=say.because(plan, units),
        values=say.values(plan),
        cautions=cautions,
        steps=say.steps(plan),
        assumptions=say.assumptions(item, thicknesses, plan),
    )


def _compare(item: Item, thicknesses: Thicknesses, choices: PressingChoices) -> tuple[Alternative, ...]:
    """Weigh the choice against other ways to bring heat to the far leaf."""
    ways = [("this stack", choices)]
    if choices.heated == "one":
        ways.append(("both sides hot", replace(choices, heated="both")))
        if choices.base == "open":
            ways.append(("far side insulated, as on felt", replace(choices, base="insulated")))
    if choices.boards > 1:
        ways.append(("one board fewer on each side", replace(choices, boards=choices.boards - 1)))
    ways.append(("twice the dwell", replace(choices, dwell=2 * choices.dwell)))
    found = []
    for words, way in ways:
        stack = build_press_stack(item, thicknesses, way)
        celsius, minutes = likely_far_leaf(build_heat_layers(stack, way), way)
        found.append(Alternative(words, celsius, minutes, way.dwell))
    return tuple(found)


def _water_held(item: Item, choices: PressingChoices, water: Water) -> Range:
    """Moisture content of the leaves in the press, at rest with their interleaves."""
    ends = (water.rest.value, water.rest.low, water.rest.high)
    room = choices.room_temperature
    contents = [
        min(_MOST_WATER, float(moisture_content(item.text_paper, end, temperature=room).value.magnitude))
        for end in ends
    ]
    return Range(*(Q_(content, "") for content in contents))


def _glue(item: Item, choices: PressingChoices, heat: Heat | None) -> Margin | None:
    """How far the glue is from softening at the warmest place of the spine."""
    if item.glue == "none" or not item.is_square_bound:
        return None
    warmest: Quantity | Range = choices.room_temperature
    if heat is not None and not choices.spine_is_cold:
        warmest = heat.top
    entry = look_up(item.glue, "softening temperature")
    name = "the unknown glue" if item.glue == "unknown" else item.glue
    return glue_margin(temperature=warmest, softening=entry, glue=name)


def _history(choices: PressingChoices, water: Water, heat: Heat | None, held: Range) -> tuple[Exposure, ...]:
    """Give what the item goes through in the press, step by step, most likely values."""
    steps = []
    room = choices.room_temperature

    def at_most(humidity: Quantity) -> Quantity:
        return Q_(min(_HIGHEST, 100 * to_humidity(humidity)), "percent")

    if heat is not None:
        warm = at_most(water.warm.value)
        steps.append(Exposure(choices.dwell, heat.middle.value, warm, moisture_content=held.value))
    steps.append(Exposure(choices.night, room, at_most(water.rest.value)))
    sets = water.changes[0].humidities if water.changes else ()
    for number in range(choices.changes if sets else 0):
        humidity = sets[min(number, len(sets) - 1)].value
        steps.append(Exposure(choices.between_changes, room, at_most(humidity)))
    steps.append(Exposure(choices.under_weight, room, _half_way(choices, water)))
    return tuple(steps)


def _half_way(choices: PressingChoices, water: Water) -> Quantity:
    """Humidity to count under weight: half way from release to the room."""
    released, room = (100 * to_humidity(q) for q in (water.released.value, choices.room_humidity))
    return Q_((released + room) / 2, "percent")
