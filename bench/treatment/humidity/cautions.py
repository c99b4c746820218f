"""What must be seen with a humidity plan: limits passed first, then care, then notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bench.item import Answer, Item, Thicknesses
from bench.treatment.conditions import Condition, Kind, conditions_for, say_condition
from bench.treatment.doses import caution_of_mould, caution_of_rust, caution_of_unknown
from bench.treatment.humidity.plan import HumidityPlan
from bench.treatment.humidity.source import HIGHEST_STEP, Source
from bench.treatment.humidity.words import COATED_LIMIT, STOP_SIGNS
from bench.treatment.plan import Caution, Verdict
from bench.units import Q_, Quantity

LEAST_MARGIN = 1.0  # K by which walls should be above the dew point: from memory of advice to libraries
WARM = Q_(22, "degC")  # above it mould is quicker: from memory of the same advice
LONGEST_DAY = 24.0  # h: an item is not left longer than a day; seen in advice of archives
_HALF_OF_HALF = 25.0  # % of the strict rule's days: the stack stays damp about as long again
DRY_START = 35.0  # % RH below which paper is too dry to handle freely [surface-dirt]_


def gather_cautions(
    item: Item,
    thicknesses: Thicknesses,
    plan: HumidityPlan,
    highest: Quantity | None,
    conditions: Sequence[Condition],
) -> tuple[Caution, ...]:
    """Gather what must be seen with the plan: limits passed first, then care, then notes."""
    return (
        *_handed_down(plan, highest, conditions),
        *_condensation(plan),
        *_mould(plan),
        *_cover_and_staples(item, plan, highest),
        *_reach(thicknesses, plan),
        *_notes(plan),
    )


def _handed_down(
    plan: HumidityPlan, highest: Quantity | None, conditions: Sequence[Condition]
) -> list[Caution]:
    found = []
    if highest is not None and not plan.held.is_within(highest):
        words = (
            f"{plan.held.name[:1].upper()}{plan.held.name[1:]} holds {plan.held.percent:.0f} % RH; intake "
            f"allows at most {highest.to('percent').magnitude:.0f} %. Take a drier source, or settle it at "
            "intake."
        )
        found.append(Caution(Verdict.STOP, words, "operator"))
    for condition in conditions_for(conditions, "humidity"):
        if condition.kind in (Kind.NO_HUMIDITY, Kind.NOT_YET):
            found.append(Caution(Verdict.STOP, say_condition(condition), condition.source))
        elif condition.kind is not Kind.MAX_HUMIDITY:
            found.append(Caution(Verdict.CARE, say_condition(condition), condition.source))
    return found


def _condensation(plan: HumidityPlan) -> list[Caution]:
    margin = float(plan.held.margin.to("kelvin").magnitude)
    if margin < 0:
        words = (
            f"The wall is {-margin:.1f} K below the dew point: water runs down it. Warm the chamber or take "
            "a drier source before anything goes in."
        )
        return [Caution(Verdict.STOP, words, "ashrae-f1")]
    if margin < LEAST_MARGIN:
        words = (
            f"A wall only {margin:.1f} K colder than now becomes wet, less than the 1 K that is advised: no "
            "draught, no sun, lid sloped with blotter under it, and nothing that can drip above the item."
        )
        return [Caution(Verdict.CARE, words, "memory")]
    return []


def _mould(plan: HumidityPlan) -> list[Caution]:
    found = caution_of_mould(plan.account, plan.spent, care_from=_HALF_OF_HALF)
    words = f"{found.words} Damp hours in the stack afterwards count too; no item with old mould goes in."
    return [replace(found, words=words), *caution_of_unknown(plan.account)]


def _cover_and_staples(item: Item, plan: HumidityPlan, highest: Quantity | None) -> list[Caution]:
    found = []
    damp = not plan.held.is_within(COATED_LIMIT)
    if item.cover_leaves and damp and highest is None and item.cover_coated is not Answer.NO:
        coated = "is coated" if item.cover_coated is Answer.YES else "may be coated"
        words = (
            f"The cover {coated}: above 80 % RH it may turn tacky or cloudy and stick. Test one corner "
            "first; no two coated faces touch; a drier salt for longer is the cautious way."
        )
        found.append(Caution(Verdict.CARE, words, "memory"))
    found += caution_of_rust(plan.account, item)
    if plan.choices.source is Source.SALT:
        hazard = plan.held.hazard
        if hazard.startswith("Oxidiser"):
            found.append(Caution(Verdict.STOP, f"{plan.held.name.capitalize()}: {hazard}", "clp"))
        else:
            level = Verdict.CARE if item.staples and "corrode" in hazard else Verdict.GO
            words = (
                f"{plan.held.name.capitalize()}: {hazard} Gloves and goggles; the safety data sheet decides."
            )
            found.append(Caution(level, words, "clp"))
    return found


def _reach(thicknesses: Thicknesses, plan: HumidityPlan) -> list[Caution]:
    found = []
    choices, end = plan.choices, plan.end
    core = float(end.core.value.to("percent").magnitude)
    if plan.hours_core is None:
        held = f"The source holds {plan.held.percent:.0f} %"
        words = f"{held}: it cannot bring the leaves to {choices.wanted:.0f} %."
        found.append(Caution(Verdict.CARE, words))
    elif core < choices.wanted:
        words = f"The innermost leaf stays below the {choices.wanted:.0f} % wanted."
        words += (
            " Free both faces on a rack first." if choices.faces == "one" else " Give it longer, or less."
        )
        found.append(Caution(Verdict.CARE, words))
    if plan.hindrances.get("the source", 0.0) > 0.35:
        words = (
            "The source is the bottleneck: the item drinks faster than it can give. A larger wet area does "
            "more than any other change, and an unstirred salt may give less still."
        )
        found.append(Caution(Verdict.CARE, words, "salt-chamber"))
    if plan.held.is_beyond:
        words = (
            f"Nothing holds this air below 100 %. The reckoning ends at {HIGHEST_STEP:.0f} % RH, beyond "
            "which no isotherm of paper is known: go by look and by mass, and take the item out early."
        )
        found.append(Caution(Verdict.CARE, words, "memory"))
    if choices.hours > LONGEST_DAY:
        words = "Longer than a day: archives advise against it, and nobody should be away that long."
        found.append(Caution(Verdict.CARE, words, "memory"))
    if choices.air_temperature.to("degC") > WARM:
        found.append(Caution(Verdict.CARE, "Warmer than 22 °C: mould is quicker. Cool the room.", "memory"))
    if choices.start_humidity.to("percent").magnitude < DRY_START:
        words = "Paper this dry is brittle: do not open it before it has rested at 50 % RH."
        found.append(Caution(Verdict.CARE, words, "surface-dirt"))
    if not thicknesses.was_read:
        words = (
            "No thickness was read: time goes with its square, so the hours are wide. Read with a caliper."
        )
        found.append(Caution(Verdict.CARE, words))
    found += [Caution(Verdict.GO, words) for words in plan.held.cautions]
    return found


def _notes(plan: HumidityPlan) -> list[Caution]:
    sensor = (
        "Near saturation even good sensors read 1 to 3 % RH high, and one kelvin between sensor and source "
        "is about 6 % RH: check the hygrometer against a salt."
    )
    early = (
        f"Stop and take it out at any of these: {STOP_SIGNS}. With mould or a colour that runs, isolate it "
        "and ask a conservator; local codes and professional practice come before this page."
    )
    notes = [Caution(Verdict.GO, sensor, "memory"), Caution(Verdict.GO, early)]
    if plan.choices.source is Source.WATER:
        words = "Water as warm as the room, never warmer: warm water fogs the chamber and drips."
        notes.insert(0, Caution(Verdict.GO, words, "memory"))
    return notes
