"""A cleaning plan held against a pencil: the first pass, and what the interval of a time is made of."""

from __future__ import annotations

from bench.item import Item
from bench.treatment.cleaning.planning import HANDLING, CleaningPlan, factor_of_sum
from bench.treatment.cleaning.surfaces import Surface

NO_PASS = "No tool is taken up in this plan, so there is no time to work out."


def say_listed(plan: CleaningPlan) -> str:
    """Say which listed defects cleaning could help, surface by surface."""
    if not plan.choices.listed:
        return "No defect is listed that dry cleaning could help."
    return "Listed as soiled: " + "; ".join(plan.choices.listed.values()) + "."


def check_by_hand(item: Item, plan: CleaningPlan) -> tuple[str, ...]:
    """Hold the first pass and the interval of the whole time against a pencil, a sentence or two each.

    Parameters
    ----------
    item : Item
        Its size gives the area by hand.
    plan : CleaningPlan
        The plan that is held against the pencil.
    """
    return (_first_pass(item, plan), _interval(plan)) if plan.passes else (NO_PASS,)


def _first_pass(item: Item, plan: CleaningPlan) -> str:
    first, choices = plan.passes[0], plan.choices
    state = next(work.state for work in plan.work if work.state.surface is first.surface)
    whole, words = _area_by_hand(item, first.surface, float(choices.thickness.to("cm").magnitude))
    share = state.share * (state.unprinted if first.tool.unprinted_only else 1.0)
    rate = float(choices.rate(first.tool).to("cm^2/min").magnitude)
    handling = float(HANDLING.to("min").magnitude)
    by_hand = _area_and_time(whole * share, handling + whole * share / rate)
    planned = _area_and_time(float(first.area.to("cm^2").magnitude), float(first.time.to("min").magnitude))
    return (
        f"First pass, {first.surface} with the {first.tool.id}, by hand: {100 * share:.3g} % of {words}, "
        f"{rate:.3g} cm² a minute and {handling:.0f} min of handling: {by_hand}. The plan: {planned}."
    )


def _area_and_time(area: float, time: float) -> str:
    return f"{area:.0f} cm², {time:.1f} min"


def _area_by_hand(item: Item, surface: Surface, thick: float) -> tuple[float, str]:
    width, height = (float(side.to("cm").magnitude) for side in (item.width, item.height))
    if surface is Surface.EDGES:
        return (2 * width + height) * thick, f"(2 × {width:.1f} + {height:.1f}) cm × {thick:.2f} cm"
    if surface is Surface.SPINE:
        return height * thick, f"{height:.1f} cm × {thick:.2f} cm"
    faces = 2 * item.leaves if surface is Surface.LEAVES else item.cover_leaves
    return faces * width * height, f"{faces} faces of {width:.1f} × {height:.1f} cm"


def _interval(plan: CleaningPlan) -> str:
    spreads = {each.tool.id: plan.choices.spread(each.tool) for each in plan.passes}
    widest = max(spreads, key=lambda name: spreads[name])
    alone = factor_of_sum([(1.0, spreads[widest])])
    whole = float((plan.time.high / plan.time.value).to("").magnitude)
    if len(spreads) == 1:
        return f"The {widest} does all of it: its time may be off by a factor of {whole:.2f} either way."
    return (
        f"With the {widest} alone the time may be off by a factor of {alone:.2f} either way, with all "
        f"{len(spreads)} tools by {whole:.2f}: they are not all off the same way."
    )
