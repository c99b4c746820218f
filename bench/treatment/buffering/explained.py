"""What the chapter says of a buffering plan, so that every sentence is true of the plan at hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from bench.item import Format, Item, Thicknesses
from bench.materials import look_up
from bench.physics.bearing.results import Bearing, sampled_range
from bench.treatment.buffering.load import TOUCHES, say_guard, say_load, weigh_spacings
from bench.treatment.buffering.planning import BufferingPlan
from bench.units import Q_, Quantity

_SHEET = "A single sheet has neither spine nor staple"
NOT_WEIGHED = "Where the load goes was not worked out: this plan rests on thickness alone."


def say_bought(item: Item, plan: BufferingPlan) -> str:
    """Say what the sheets of a plan buy, and what they cost: a free spine, and a strip left unpressed."""
    if item.format is Format.SHEET:
        return f"{_SHEET}: the load rests on the whole face, and no strip of it stays unpressed."
    if plan.decision is None:
        return NOT_WEIGHED
    load = plan.decision.chosen
    return " ".join((_say_carried(item, load), _say_strip(load), _say_at_the_fold(item, load)))


def _say_carried(item: Item, load: Bearing) -> str:
    inner = load.sheets.inner
    stops, raises = ("stops", "raises") if inner == 1 else ("stop", "raise")
    raised = f"the {_count(inner, 'sheet')} that {stops} short {raises} the text block"
    places, carry = ("Spine and staples", "carry") if item.staples else ("The spine", "carries")
    highest = {"spine": load.spine.high}
    highest |= {f"{name} staple": pressure.high for name, pressure in load.staples.items()}
    where = max(highest, key=lambda place: highest[place])
    if highest[where] < TOUCHES:
        return f"{places} {carry} nothing: {raised}." if inner else f"{places} {carry} nothing."
    reach = f"up to {_two_digits(highest[where])} kPa on the {where}"
    if inner:
        return f"{places} may still carry load, {reach}, although {raised}."
    return f"{places} may carry load, {reach}: no sheet stops short of it to raise the text block."


def _two_digits(pressure: Quantity) -> str:
    kilopascals = float(pressure.to("kPa").magnitude)
    return f"{float(f'{kilopascals:.2g}'):g}"


def _say_strip(load: Bearing) -> str:
    if load.block.value < TOUCHES:
        return "Next to nothing of the load reaches the text block."
    if load.unpressed.high < Q_(1, "mm"):
        return "No strip along the spine stays unpressed."
    return f"A strip of {load.unpressed.say('mm')} along the spine is hardly pressed: its creases stay."


def _say_at_the_fold(item: Item, load: Bearing) -> str:
    where = "at the fold" if item.format is Format.SADDLE_STITCHED else "at the covers"
    passes = "spine and staples" if item.staples else "the spine"
    words = (
        f"The {load.sheets.to_fold} sheets {where} add no clearance, since they pass over {passes} as well"
    )
    if not load.sheets.inner:
        return f"{words}."
    face = "the cover" if item.cover_leaves else "the outer leaves"
    return f"{words}; they shield {face} from the step where the other sheets end."


def _count(number: int, name: str) -> str:
    return f"one {name}" if number == 1 else f"{number} {name}s"


def say_rules(plan: BufferingPlan) -> str:
    """Say whether the two rules, sampled chance and guard band, agree on a plan."""
    if plan.decision is None:
        return NOT_WEIGHED
    load = plan.decision.chosen
    if not load.chances:
        return f"{_SHEET}: neither rule applies."
    risk = load.accepted_risk
    words = say_guard(plan.decision, risk)
    if words:
        return words
    accepted = f"the {100 * risk:g} % accepted"
    if load.chance <= risk:
        return (
            f"Both rules pass this plan: the chance is within {accepted}, the clearances pass the guard band."
        )
    return (
        f"Both rules reject this plan: the chance is above {accepted}, and a clearance misses its guard band."
    )


def say_draws(loads: Sequence[Bearing]) -> str:
    """Say how well the chances of some plans can be known from their draws; empty without chances.

    Notes
    -----
    Wilson's score interval at the accepted chance (:func:`bench.physics.bearing.results.sampled_range`).
    """
    if not loads or not loads[0].chances:
        return ""
    samples, risk = loads[0].samples, loads[0].accepted_risk
    _, low, high = sampled_range(round(risk * samples) / samples, samples).floats("percent", field="chance")
    return (
        f"Each chance is counted in {samples} draws, the same for every plan: a count of {100 * risk:g} % "
        f"may stand for {low:.1f} to {high:.1f} % (95 %)."
    )


@dataclass(frozen=True)
class ByHand:
    """The thickness sums of a plan, as they are done with a pencil.

    Attributes
    ----------
    block, sheet : Quantity [length]
        Read over the text block; thickness of one interleaf.
    sheets, to_fold : int
        Interleaves in all, and those that pass over the high place too.
    place : str
        Highest place; empty where none was read.
    high : Quantity [length] or None
        Read there.
    """

    block: Quantity
    sheet: Quantity
    sheets: int
    to_fold: int
    place: str = ""
    high: Quantity | None = None

    @property
    def gain(self) -> Quantity:
        """What the sheets add: ``n t``."""
        return (self.sheets * self.sheet).to("um")

    @property
    def clearance(self) -> Quantity | None:
        """Text block over the high place without load, ``(T + n t) - (H + m t)``; None if none was read."""
        if self.high is None:
            return None
        return (self.block + self.gain - self.high - self.to_fold * self.sheet).to("um")


def sum_by_hand(thicknesses: Thicknesses, plan: BufferingPlan) -> ByHand:
    """Set out the sums of a plan from the readings, without its uncertainties."""
    high = thicknesses.high_places()
    place = max(high, key=lambda name: float(high[name].value.to("um").magnitude), default="")
    return ByHand(
        thicknesses.text_block.value,
        look_up(plan.sheet, "thickness").value.to("um"),
        len(plan.placements),
        sum(place.is_to_fold for place in plan.placements),
        place,
        high[place].value if place else None,
    )


def compare_platens(
    item: Item, thicknesses: Thicknesses, plan: BufferingPlan, *, rng: np.random.Generator, samples: int = 500
) -> tuple[str, ...]:
    """Say what a plan does under a platen kept level and under loose weights that tilt.

    Parameters
    ----------
    item, thicknesses
        As in :func:`bench.treatment.buffering.plan_buffering`.
    plan : BufferingPlan
        Its spacing is pressed both ways.
    rng : numpy.random.Generator
        For what is not known; the same state gives the same answer.
    samples : int
        Draws for the way that the plan does not press.

    Returns
    -------
    tuple of str
        A sentence for each way, or one that says why there is nothing to compare.
    """
    if item.format is Format.SHEET:
        return (f"{_SHEET} to tilt over: both press it alike.",)
    if plan.decision is None:
        return (NOT_WEIGHED,)
    choices = plan.choices
    if choices.path.stops is not None:
        return ("Stops set the height here, so loose weights would press it in another way altogether.",)
    turned = replace(
        choices, sheets=plan.chosen.sheets, path=replace(choices.path, even=not choices.path.even)
    )
    (other,) = weigh_spacings(item, thicknesses, turned, rng=rng, intervals=(), samples=samples)
    level, loose = (other, plan.decision.chosen) if choices.path.even else (plan.decision.chosen, other)
    return (f"Platen kept level: {say_load(level)}", f"Loose weights: {say_load(loose)}")
