"""What must be seen with a humidity plan: limits passed first, then care, then notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from bench.item import Answer, Item, Thicknesses
from bench.treatment.conditions import Condition, Kind, conditions_for, say_condition
from bench.treatment.doses import caution_of_mould, caution_of_rust, caution_of_unknown
from bench.treatment.humidity.measured import taken_here
from bench.treatment.humidity.plan import HumidityPlan
from bench.treatment.humidity.source import HIGHEST_STEP, Source
from bench.treatment.humidity.words import STOP_SIGNS
from bench.treatment.intake.gate_list import COATED_LIMIT
from bench.treatment.measured import cautions_of_due
from bench.treatment.plan import THICKNESS_NOT_READ, Caution, Notice, Verdict
from bench.units import Q_, Quantity, UnitChoice, say_whole

LEAST_MARGIN = 1.0  # K by which walls should be above the dew point: from memory of advice to libraries
WARM = Q_(22, "degC")  # above it mould is quicker: from memory of the same advice
LONGEST_DAY = 24.0  # h: an item is not left longer than a day; seen in advice of archives
_HALF_OF_HALF = 25.0  # % of the strict rule's days: the stack stays damp about as long again
DRY_START = 35.0  # % RH below which paper is too dry to handle freely [surface-dirt]_
_MOST_BY_SOURCE = 0.35  # share of the whole hindrance from which the source is its bottleneck: judgement

_ABOVE_ALLOWED = Notice(
    "source-above-allowed",
    Verdict.STOP,
    "{source} holds {held:.0f} % RH; intake allows at most {allowed:.0f} %. Take a drier source, or settle "
    "it at intake.",
    "operator",
)
_WALL_WET = Notice(
    "wall-is-wet",
    Verdict.STOP,
    "The wall is {below:.1f} K below the dew point: water runs down it. Warm the chamber or take a drier "
    "source before anything goes in.",
    "ashrae-f1",
)
_WALL_NEARLY_WET = Notice(
    "wall-is-nearly-wet",
    Verdict.CARE,
    "A wall only {margin:.1f} K colder than now becomes wet, less than the 1 K that is advised: no draught, "
    "no sun, lid sloped with blotter under it, and nothing that can drip above the item.",
    "memory",
)
_COVER_COATED = Notice(
    "cover-coated-and-damp",
    Verdict.CARE,
    "The cover {is_coated}: above 80 % RH it may turn tacky or cloudy and stick. Test one corner first; no "
    "two coated faces touch; a drier salt for longer is the cautious way.",
    "memory",
)
_OXIDISER = Notice("salt-oxidises", Verdict.STOP, "{salt}: {hazard}", "clp")
_HAZARD = Notice(
    "salt-hazard",
    Verdict.GO,
    "{salt}: {hazard} Gloves and goggles; the safety data sheet decides.",
    "clp",
)
_OUT_OF_REACH = Notice(
    "humidity-out-of-reach",
    Verdict.CARE,
    "The source holds {held:.0f} %: it cannot bring the leaves to {wanted:.0f} %.",
)
_CORE_BELOW = Notice(
    "core-below-wanted",
    Verdict.CARE,
    "The innermost leaf stays below the {wanted:.0f} % wanted. {remedy}",
)
_BOTTLENECK = Notice(
    "source-is-bottleneck",
    Verdict.CARE,
    "The source is the bottleneck: the item drinks faster than it can give. A larger wet area does more than "
    "any other change, and an unstirred salt may give less still.",
    "salt-chamber",
)
_BEYOND_KNOWN = Notice(
    "air-beyond-known",
    Verdict.CARE,
    "Nothing holds this air below 100 %. The reckoning ends at {known:.0f} % RH, beyond which no isotherm of "
    "paper is known: go by look and by mass, and take the item out early.",
    "memory",
)
_LONGER_THAN_A_DAY = Notice(
    "longer-than-a-day",
    Verdict.CARE,
    "Longer than a day: archives advise against it, and nobody should be away that long.",
    "memory",
)
_WARM_AIR = Notice(
    "air-is-warm", Verdict.CARE, "Warmer than {warm}: mould is quicker. Cool the room.", "memory"
)
_BRITTLE = Notice(
    "paper-dry-and-brittle",
    Verdict.CARE,
    "Paper this dry is brittle: do not open it before it has rested at 50 % RH.",
    "surface-dirt",
)
_WARM_WATER = Notice(
    "warm-water-fogs",
    Verdict.GO,
    "Water as warm as the room, never warmer: warm water fogs the chamber and drips.",
    "memory",
)
_SENSOR = Notice(
    "sensor-near-saturation",
    Verdict.GO,
    "Near saturation even good sensors read 1 to 3 % RH high, and one kelvin between sensor and source is "
    "about 6 % RH: check the hygrometer against a salt.",
    "memory",
)
_STOP_EARLY = Notice(
    "chamber-stop-signs",
    Verdict.GO,
    "Stop and take it out at any of these: {signs}. With mould or a colour that runs, isolate it and ask a "
    "conservator; local codes and professional practice come before this page.",
)
_STACK_COUNTS_TOO = "Damp hours in the stack afterwards count too; no item with old mould goes in."


def gather_cautions(
    item: Item,
    thicknesses: Thicknesses,
    plan: HumidityPlan,
    highest: Quantity | None,
    conditions: Sequence[Condition],
    units: UnitChoice,
) -> tuple[Caution, ...]:
    """Gather what must be seen with the plan: limits passed first, then care, then notes."""
    return (
        *_handed_down(plan, highest, conditions),
        *_condensation(plan),
        *_mould(plan),
        *_cover_and_staples(item, plan, highest),
        *_reach(thicknesses, plan, units),
        *cautions_of_due(taken_here(item, plan.choices)),
        *_notes(plan),
    )


def _handed_down(
    plan: HumidityPlan, highest: Quantity | None, conditions: Sequence[Condition]
) -> Iterator[Caution]:
    held = plan.held
    if highest is not None and not held.is_within(highest):
        source = f"{held.name[:1].upper()}{held.name[1:]}"
        yield _ABOVE_ALLOWED(source=source, held=held.percent, allowed=highest.to("percent").magnitude)
    for condition in conditions_for(conditions, "humidity"):
        if condition.kind in (Kind.NO_HUMIDITY, Kind.NOT_YET):
            yield Caution(Verdict.STOP, say_condition(condition), condition.source)
        elif condition.kind is not Kind.MAX_HUMIDITY:
            yield Caution(Verdict.CARE, say_condition(condition), condition.source)


def _condensation(plan: HumidityPlan) -> Iterator[Caution]:
    margin = float(plan.held.margin.to("kelvin").magnitude)
    if margin < 0:
        yield _WALL_WET(below=-margin)
    elif margin < LEAST_MARGIN:
        yield _WALL_NEARLY_WET(margin=margin)


def _mould(plan: HumidityPlan) -> Iterator[Caution]:
    found = caution_of_mould(plan.account, plan.spent, care_from=_HALF_OF_HALF)
    yield replace(found, words=f"{found.words} {_STACK_COUNTS_TOO}")
    yield from caution_of_unknown(plan.account)


def _cover_and_staples(item: Item, plan: HumidityPlan, highest: Quantity | None) -> Iterator[Caution]:
    damp = not plan.held.is_within(COATED_LIMIT)
    if item.cover_leaves and damp and highest is None and item.cover_coated is not Answer.NO:
        yield _COVER_COATED(is_coated="is coated" if item.cover_coated is Answer.YES else "may be coated")
    yield from caution_of_rust(plan.account, item)
    if plan.choices.source is Source.SALT:
        salt, hazard = plan.held.name.capitalize(), plan.held.hazard
        if hazard.startswith("Oxidiser"):
            yield _OXIDISER(salt=salt, hazard=hazard)
        else:
            level = Verdict.CARE if item.staples and "corrode" in hazard else Verdict.GO
            yield _HAZARD(level, salt=salt, hazard=hazard)


def _reach(thicknesses: Thicknesses, plan: HumidityPlan, units: UnitChoice) -> Iterator[Caution]:
    choices, held = plan.choices, plan.held
    core = float(plan.end.core.value.to("percent").magnitude)
    if plan.hours_core is None:
        yield _OUT_OF_REACH(held=held.percent, wanted=choices.wanted)
    elif core < choices.wanted:
        one_face = choices.faces == "one"
        remedy = "Free both faces on a rack first." if one_face else "Give it longer, or less."
        yield _CORE_BELOW(wanted=choices.wanted, remedy=remedy)
    if plan.hindrances.get("the source", 0.0) > _MOST_BY_SOURCE:
        yield _BOTTLENECK()
    if held.is_beyond:
        yield _BEYOND_KNOWN(known=HIGHEST_STEP)
    if choices.hours > LONGEST_DAY:
        yield _LONGER_THAN_A_DAY()
    if choices.air_temperature.to("degC") > WARM:
        yield _WARM_AIR(warm=say_whole(WARM, units.temperature))
    if choices.start_humidity.to("percent").magnitude < DRY_START:
        yield _BRITTLE()
    if not thicknesses.was_read:
        yield THICKNESS_NOT_READ(so="time goes with its square, so the hours are wide")
    for words in held.cautions:
        yield Caution(Verdict.GO, words)


def _notes(plan: HumidityPlan) -> Iterator[Caution]:
    if plan.choices.source is Source.WATER:
        yield _WARM_WATER()
    yield _SENSOR()
    yield _STOP_EARLY(signs=STOP_SIGNS)
