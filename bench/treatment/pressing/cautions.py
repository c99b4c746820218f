"""What must be seen with a press plan: limits passed first, then care, then notes."""

from __future__ import annotations

from collections.abc import Sequence

from bench.item import Answer, Item, Prong, Thicknesses
from bench.physics.ranges import Range
from bench.physics.softening import MOST_WATER, fibre_margin
from bench.treatment.buffering.choices import STOP_CHANCE, cautions_of_load
from bench.treatment.conditions import Condition, Kind, conditions_for, say_condition
from bench.treatment.doses import (
    caution_of_ageing,
    caution_of_mould,
    caution_of_rust,
    caution_of_unknown,
)
from bench.treatment.humidity.words import say_humidity
from bench.treatment.plan import Caution, Verdict
from bench.treatment.pressing.plan import DAMPEST, DRIEST, PressingPlan
from bench.treatment.pressing.words import STOP_SIGNS, say_cooling
from bench.units import say_minutes

_CONSIDER_CHANCE = 0.95  # chance of a free spine below which it is said again at the press


def gather_cautions(
    item: Item,
    thicknesses: Thicknesses,
    plan: PressingPlan,
    water_held: Range,
    conditions: Sequence[Condition],
) -> tuple[Caution, ...]:
    """Gather the cautions of a press plan.

    Parameters
    ----------
    item, thicknesses, plan
        As in :func:`bench.treatment.pressing.plan_pressing`.
    water_held : Range, dimensionless
        Moisture content of the leaves in the press.
    conditions : sequence of Condition
        Handed down from intake.
    """
    return (
        *_handed_down(plan, conditions),
        *_spine(item, plan),
        *cautions_of_load(plan.choices.load),
        *_cover(item, plan),
        *_doses(item, plan),
        *_damp(plan, water_held),
        *_heat(plan, water_held),
        *_release(item, thicknesses, plan),
        *_notes(item, plan),
    )


def _handed_down(plan: PressingPlan, conditions: Sequence[Condition]) -> list[Caution]:
    found = []
    choices = plan.choices
    for condition in conditions_for(conditions, "pressing"):
        words, level = say_condition(condition), Verdict.CARE
        if condition.kind is Kind.NOT_YET:
            level = Verdict.STOP
        elif condition.kind is Kind.NO_HEAT and plan.heat is not None:
            kept = condition.where == "spine" and choices.spine_is_cold
            level = Verdict.CARE if kept else Verdict.STOP
            if level is Verdict.STOP:
                words += " Press without heat, or keep that place off the platen and say so."
        elif condition.kind is Kind.NON_STICK and not choices.release:
            level, words = Verdict.STOP, f"{words} There is no release sheet in this stack."
        found.append(Caution(level, words, condition.source))
    return found


def _spine(item: Item, plan: PressingPlan) -> list[Caution]:
    found = []
    choices = plan.choices
    proud = [staple.name for staple in item.staples if staple.prong is Prong.PROUD]
    if proud:
        words = (
            f"A prong of the {', '.join(proud)} staple stands proud: under load it goes through the cover."
        )
        found.append(Caution(Verdict.STOP, words))
    bare = item.is_square_bound and not plan.interleaves
    if bare:
        words = (
            f"Without interleaves the spine edge may carry the whole load, {plan.ridge.magnitude:.0f} kPa on "
            "a strip of 2 mm: the glue is crushed and the wire driven through the cover. Buffer it first."
        )
        level = Verdict.CARE
        if plan.glue is not None and plan.glue.verdict != "stiff":
            level, words = Verdict.STOP, f"{plan.glue.words} {words}"
        found.append(Caution(level, words))
    elif plan.glue is not None and plan.glue.verdict != "stiff":
        words = (
            f"{plan.glue.words} No load on the spine is a requirement: feel that the sheets carry the platen."
        )
        found.append(Caution(Verdict.CARE, words, "memory"))
    if choices.spine_chance is not None and not bare and choices.spine_chance < _CONSIDER_CHANCE:
        loaded = 1 - choices.spine_chance
        level = Verdict.STOP if loaded > STOP_CHANCE else Verdict.CARE
        words = (
            f"By the buffering plan the chance of loading spine or staple is {100 * loaded:.0f} %. Use more "
            "sheets or a lighter load."
        )
        found.append(Caution(level, words))
    return found


def _cover(item: Item, plan: PressingPlan) -> list[Caution]:
    if not item.cover_leaves or item.cover_coated is Answer.NO or plan.heat is None:
        return []
    choices = plan.choices
    damp = plan.heat.cover_humidity > choices.coated_humidity.to("percent")
    hot = plan.heat.cover_heat > choices.coated_heat.to("degC")
    if not (damp and hot):
        return []
    coated = (
        "A coated cover" if item.cover_coated is Answer.YES else "The cover may be coated, and a coated one"
    )
    words = (
        f"{coated} at {plan.heat.cover_heat.magnitude:.0f} °C and "
        f"{plan.heat.cover_humidity.magnitude:.0f} % RH may stick or change its gloss"
    )
    if choices.release is None:
        words += (
            ": nothing non-stick lies against it. Put a release sheet on each side, or press without heat."
        )
        return [Caution(Verdict.STOP, words, "coated-books")]
    words += (
        "; the release sheet is all that is between. Test a corner, lift after a minute, and let it dry "
        "further before the heat if there is any tack."
    )
    return [Caution(Verdict.CARE, words, "coated-books")]


def _doses(item: Item, plan: PressingPlan) -> list[Caution]:
    """Hold what adds up over the whole treatment against its limits."""
    return [
        caution_of_mould(plan.account, plan.spent, care_from=50.0),
        *caution_of_rust(plan.account, item),
        caution_of_ageing(plan.account),
        *caution_of_unknown(plan.account),
    ]


def within_known(water_held: Range) -> Range:
    """Give the water held as far as its softening of the fibres is known: more of it softens no less."""
    return Range(*(min(end, MOST_WATER) for end in (water_held.value, water_held.low, water_held.high)))


def _damp(plan: PressingPlan, water_held: Range) -> list[Caution]:
    """Say where the water goes beyond what is known of paper."""
    given, found = plan.choices.item_humidity, []
    if (given.low, given.high) != plan.choices.followed_ends:
        words = (
            f"The humidity of the item, {say_humidity(given)}, may lie beyond the {DRIEST.magnitude:.0f} to "
            f"{DAMPEST.magnitude:.0f} % in which paper is known: what that would do is not in these numbers."
        )
        found.append(Caution(Verdict.CARE, words))
    if plan.water.warm.value > DAMPEST:
        words = (
            f"In the closed stack it comes to {say_humidity(plan.water.warm)}, beyond what is known of "
            "paper: water may stand as liquid. Let the item dry before it is pressed."
        )
        found.append(Caution(Verdict.CARE, words))
    if water_held.high > MOST_WATER:
        held, known = (100 * float(water.to("").magnitude) for water in (water_held.high, MOST_WATER))
        words = (
            f"The leaves may hold {held:.0f} % of water; how far that softens fibres is known to {known:.0f} "
            "% only. They are no stiffer than said."
        )
        found.append(Caution(Verdict.GO, words))
    return found


def _heat(plan: PressingPlan, water_held: Range) -> list[Caution]:
    heat, choices = plan.heat, plan.choices
    if heat is None:
        return []
    found = []
    if heat.time.value > choices.dwell and plan.fibres.verdict != "soft":
        needs = (
            f"{say_minutes(float(heat.time.value.to('min').magnitude))} that the {heat.slowest_called} needs"
        )
        words = (
            f"The dwell is shorter than the {needs}, and its fibres are not surely soft. Heat from both "
            "sides, turn the stack and heat again, or take fewer boards."
        )
        found.append(Caution(Verdict.CARE, words))
    if heat.cooling.value > choices.night:
        words = (
            f"The night in the press is over before it has cooled, which takes {say_cooling(heat)}: opened "
            "warm, it gives off its water at once and waves. Leave it until the platen no longer feels warm."
        )
        found.append(Caution(Verdict.CARE, words, "memory"))
    held = within_known(water_held).value
    cold = fibre_margin(temperature=choices.room_temperature, moisture_content=held)
    if cold.verdict == "soft":
        words = (
            "At this moisture the fibres are soft without heat: a cold press under load would set them too."
        )
        found.append(Caution(Verdict.GO, words, "goring1965"))
    words = (
        "A platen burns skin, at 60 °C within seconds, and paper beside it can catch fire: guards and "
        "gloves, a thermostat with a second cut-out, no solvent or nitrate salt near, never left on alone."
    )
    found.append(Caution(Verdict.GO, words, "memory"))
    return found


def _release(item: Item, thicknesses: Thicknesses, plan: PressingPlan) -> list[Caution]:
    found = []
    choices, water = plan.choices, plan.water
    if water.conditioning is None:
        words = (
            "Under light weight it may take more than 60 days to come to rest with the room: stand it open, "
            "fanned, and weigh it until it no longer changes."
        )
        found.append(Caution(Verdict.CARE, words))
    limit = float(choices.release_limit.to("percent").magnitude)
    released = float(water.released.value.to("percent").magnitude)
    if released > limit + 0.5:
        words = (
            f"After the planned changes the stack still stands at {released:.0f} %, above the {limit:.0f} % "
            "for release: change more sheets, or let it rest under light weight until it is below. Released "
            "damp it waves."
        )
        is_rested = water.release is not None and water.release <= choices.under_weight
        found.append(Caution(Verdict.GO if is_rested else Verdict.CARE, words))
    if not thicknesses.was_read:
        words = "No thickness was read: times and temperatures go with it. Read with a caliper."
        found.append(Caution(Verdict.CARE, words))
    return found


def _notes(item: Item, plan: PressingPlan) -> list[Caution]:
    notes = [
        "Pressing is for good: the leaves change size, the paper loses some of its tooth and its thickness. "
        "Measure width and height of the same leaf before and after.",
        f"Stop, lift the load and let it cool at any of these: {STOP_SIGNS}. A sheet that does not come away "
        "by itself is left to cool and dry; if it still holds, a conservator. Local codes and professional "
        "practice come before this page.",
    ]
    if plan.interleaves:
        notes.insert(
            0,
            "Practice disagrees: libraries take interleaves out before a book is pressed, this trade presses "
            "with them in, because here they keep the load off spine and staples.",
        )
    return [Caution(Verdict.GO, words) for words in notes]
