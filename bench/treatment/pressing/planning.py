"""Pressing: the stack, the load, the heat, the water, the night, and the way out of the press."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bench.item import Item, Thicknesses
from bench.materials import look_up
from bench.physics.contact import pressure_on_ridge
from bench.physics.ranges import Range, as_range
from bench.physics.size_change import estimate_permanent_change
from bench.physics.softening import Margin, fibre_margin, glue_margin
from bench.stack import Role
from bench.treatment.conditions import Condition
from bench.treatment.doses import Account, Spent, add_up
from bench.treatment.measured import GLUE_SOFTENS, value_or
from bench.treatment.plan import worst
from bench.treatment.pressing import words as say
from bench.treatment.pressing.cautions import gather_cautions, within_known
from bench.treatment.pressing.heat import compare_ways, estimate_heat
from bench.treatment.pressing.plan import Heat, PressingChoices, PressingPlan
from bench.treatment.pressing.run import PressRun, set_up
from bench.treatment.pressing.water import estimate_water
from bench.units import MILLIMETRES, Q_, Quantity, UnitChoice

SPINE_STRIP = Q_(2, "mm")  # width of the ridge along a square spine or a fold, from memory


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
        What is pressed.
    thicknesses : Thicknesses
        Of the closed item without interleaves; typical values are allowed and are said aloud.
    choices : PressingChoices
        Stack, load, heat, night and changes of sheets.
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
    Moisture and heat: :mod:`bench.physics.transient`, one run from the bench through heat, night and
    changes of sheets, from an item as damp throughout as the chamber leaves it on the mean; then the rest
    under weight.  The order is that of the trade: interleaves in, press warm, cool, leave overnight,
    change the sheets, take them out.
    """
    run = set_up(item, thicknesses, choices)
    stack = run.stack
    heat = estimate_heat(run) if choices.is_warm else None
    water = estimate_water(run)
    held = _water_held(run)
    pressed = Spent.during(run.exposures(), sensitivity=choices.sensitivity)
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
            temperature=heat.slowest if heat else choices.room_temperature,
            moisture_content=within_known(held),
        ),
        sizes={
            "width": estimate_permanent_change(item.width, direction="across"),
            "height": estimate_permanent_change(item.height, direction="along"),
        },
        spent=choices.chamber + pressed,
        account=Account(),
        alternatives=compare_ways(run, _set_up_ways(item, thicknesses, choices)) if heat else (),
    )
    found = say.values(item, plan)
    plan = replace(plan, values=found, account=add_up(choices.earlier + plan.spent, found, item))
    cautions = gather_cautions(item, thicknesses, plan, held, conditions, units)
    return replace(
        plan,
        verdict=worst(caution.verdict for caution in cautions),
        answer=say.answer(plan, units, cautions),
        because=say.because(plan, units),
        cautions=cautions,
        steps=say.steps(plan),
        assumptions=say.assumptions(item, thicknesses, plan),
    )


def _set_up_ways(
    item: Item, thicknesses: Thicknesses, choices: PressingChoices
) -> list[tuple[str, PressRun]]:
    """Set up other ways to bring heat to the far leaf."""
    ways = []
    if choices.heated == "one":
        ways.append(("both sides hot", replace(choices, heated="both")))
        if choices.base == "open":
            ways.append(("far side insulated, as on felt", replace(choices, base="insulated")))
    if choices.boards > 1:
        ways.append(("one board fewer on each side", replace(choices, boards=choices.boards - 1)))
    return [(words, set_up(item, thicknesses, way)) for words, way in ways]


def _water_held(run: PressRun) -> Range:
    """Give the moisture content of the leaves at the end of the heat, or of the night in a cold press."""
    name = "hot" if run.choices.is_warm else "night"
    runs = (run.likely, *(history for _, history in run.ends))
    found = [history.after(name, "content", "mean") for history in runs]
    return Range.of((found[0], min(found), max(found)), "")


def _glue(item: Item, choices: PressingChoices, heat: Heat | None) -> Margin | None:
    """How far the glue is from softening at the warmest place of the spine."""
    if item.glue == "none" or not item.is_square_bound:
        return None
    warmest: Quantity | Range = choices.room_temperature
    if heat is not None and not choices.spine_is_cold:
        warmest = heat.top
    entry = as_range(look_up(item.glue, "softening temperature"))
    entry = value_or(choices.measured, GLUE_SOFTENS, item.glue, entry)
    name = "the unknown glue" if item.glue == "unknown" else item.glue
    return glue_margin(temperature=warmest, softening=entry, glue=name)
