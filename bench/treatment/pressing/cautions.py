"""What must be seen with a press plan: limits passed first, then care, then notes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bench.item import Answer, Item, Prong, Thicknesses
from bench.physics.ranges import Range
from bench.physics.softening import MOST_WATER, fibre_margin
from bench.treatment.buffering.choices import cautions_of_load, judge_chance
from bench.treatment.conditions import Condition, Kind, conditions_for, say_condition
from bench.treatment.doses import (
    caution_of_ageing,
    caution_of_mould,
    caution_of_rust,
    caution_of_unknown,
)
from bench.treatment.humidity.words import say_humidity
from bench.treatment.measured import cautions_of_due
from bench.treatment.plan import THICKNESS_NOT_READ, Caution, Notice, Verdict
from bench.treatment.pressing.measured import taken_here
from bench.treatment.pressing.plan import DAMPEST, DRIEST, PressingPlan
from bench.treatment.pressing.words import STOP_SIGNS, say_cooling
from bench.units import Q_, UnitChoice, say_minutes, say_whole

_CONSIDER_CHANCE = 0.95  # chance of a free spine below which it is said again at the press

_PROUD = Notice(
    "press-on-proud-prong",
    Verdict.STOP,
    "A prong of the {names} staple stands proud: under load it goes through the cover.",
)
_BARE_SPINE = Notice(
    "spine-without-interleaves",
    Verdict.CARE,
    "Without interleaves the spine edge may carry the whole load, {ridge:.0f} kPa on a strip of 2 mm: the "
    "glue is crushed and the wire driven through the cover. Buffer it first.",
)
_BARE_SOFT_SPINE = Notice("soft-spine-without-interleaves", Verdict.STOP, "{glue} " + _BARE_SPINE.template)
_SOFT_SPINE = Notice(
    "soft-spine",
    Verdict.CARE,
    "{glue} No load on the spine is a requirement: feel that the sheets carry the platen.",
    "memory",
)
_SPINE_CHANCE = Notice(
    "chance-of-loading-at-press",
    Verdict.CARE,
    "By the buffering plan the chance of loading spine or staple is {percent:.0f} %. Use more sheets or a "
    "lighter load.",
)
_MAY_STICK = "{cover} at {heat} and {humidity:.0f} % RH may stick or change its gloss"
_NOTHING_NON_STICK = Notice(
    "warm-cover-without-release",
    Verdict.STOP,
    f"{_MAY_STICK}: nothing non-stick lies against it. Put a release sheet on each side, or press without "
    "heat.",
    "coated-books",
)
_RELEASE_ALONE = Notice(
    "warm-cover-on-release",
    Verdict.CARE,
    f"{_MAY_STICK}; the release sheet is all that is between. Test a corner, lift after a minute, and let it "
    "dry further before the heat if there is any tack.",
    "coated-books",
)
_BEYOND_PAPERS = Notice(
    "item-humidity-beyond-known",
    Verdict.CARE,
    "The humidity of the item, {humidity}, may lie beyond the {driest:.0f} to {dampest:.0f} % in which paper "
    "is known: what that would do is not in these numbers.",
)
_STACK_BEYOND = Notice(
    "stack-humidity-beyond-known",
    Verdict.CARE,
    "In the closed stack it comes to {humidity}, beyond what is known of paper: water may stand as liquid. "
    "Let the item dry before it is pressed.",
)
_MORE_WATER = Notice(
    "water-beyond-known-softening",
    Verdict.GO,
    "The leaves may hold {held:.0f} % of water; how far that softens fibres is known to {known:.0f} % only. "
    "They are no stiffer than said.",
)
_SHORT_DWELL = Notice(
    "dwell-too-short",
    Verdict.CARE,
    "The dwell is shorter than the {time} that the {leaf} needs, and its fibres are not surely soft. Heat "
    "from both sides, turn the stack and heat again, or take fewer boards.",
)
_STILL_WARM = Notice(
    "night-ends-warm",
    Verdict.CARE,
    "The night in the press is over before it has cooled, which takes {cooling}: opened warm, it gives off "
    "its water at once and waves. Leave it until the platen no longer feels warm.",
    "memory",
)
_SOFT_COLD = Notice(
    "fibres-soft-without-heat",
    Verdict.GO,
    "At this moisture the fibres are soft without heat: a cold press under load would set them too.",
    "goring1965",
)
_BURNS_AT = Q_(60, "degC")  # within seconds; from memory
_PLATEN_BURNS = Notice(
    "platen-burns",
    Verdict.GO,
    "A platen burns skin, at {hot} within seconds, and paper beside it can catch fire: guards and gloves, a "
    "thermostat with a second cut-out, no solvent or nitrate salt near, never left on alone.",
    "memory",
)
_LONG_REST = Notice(
    "rest-without-end",
    Verdict.CARE,
    "Under light weight it may take more than 60 days to come to rest with the room: stand it open, fanned, "
    "and weigh it until it no longer changes.",
)
_STILL_DAMP = Notice(
    "damp-after-changes",
    Verdict.CARE,
    "After the planned changes the stack still stands at {released:.0f} %, above the {limit:.0f} % for "
    "release: change more sheets, or let it rest under light weight until it is below. Released damp it "
    "waves.",
)
_KEPT_IN = Notice(
    "interleaves-stay-in",
    Verdict.GO,
    "Practice disagrees: libraries take interleaves out before a book is pressed, this trade presses with "
    "them in, because here they keep the load off spine and staples.",
)
_FOR_GOOD = Notice(
    "pressing-is-for-good",
    Verdict.GO,
    "Pressing is for good: the leaves change size, the paper loses some of its tooth and its thickness. "
    "Measure width and height of the same leaf before and after.",
)
_STOP_EARLY = Notice(
    "press-stop-signs",
    Verdict.GO,
    "Stop, lift the load and let it cool at any of these: {signs}. A sheet that does not come away by itself "
    "is left to cool and dry; if it still holds, a conservator. Local codes and professional practice come "
    "before this page.",
)


def gather_cautions(
    item: Item,
    thicknesses: Thicknesses,
    plan: PressingPlan,
    water_held: Range,
    conditions: Sequence[Condition],
    units: UnitChoice,
) -> tuple[Caution, ...]:
    """Gather the cautions of a press plan.

    Parameters
    ----------
    item, thicknesses
        As in :func:`bench.treatment.pressing.plan_pressing`.
    plan : PressingPlan
        With its numbers, and without its words.
    water_held : Range, dimensionless
        Moisture content of the leaves in the press.
    conditions : sequence of Condition
        Handed down from intake.
    units : UnitChoice
        For temperatures.
    """
    return (
        *_handed_down(plan, conditions),
        *_spine(item, plan),
        *cautions_of_load(plan.choices.load),
        *_cover(item, plan, units),
        *_doses(item, plan),
        *_damp(plan, water_held),
        *_heat(plan, water_held, units),
        *_release(thicknesses, plan),
        *cautions_of_due(taken_here(item, plan.choices)),
        *_notes(plan),
    )


def _handed_down(plan: PressingPlan, conditions: Sequence[Condition]) -> Iterator[Caution]:
    choices = plan.choices
    for condition in conditions_for(conditions, "pressing"):
        words, level = say_condition(condition), Verdict.CARE
        if condition.kind is Kind.NOT_YET:
            level = Verdict.STOP
        elif condition.kind is Kind.NO_HEAT and plan.heat is not None:
            if not (condition.where == "spine" and choices.spine_is_cold):
                level = Verdict.STOP
                words += " Press without heat, or keep that place off the platen and say so."
        elif condition.kind is Kind.NON_STICK and not choices.release:
            level, words = Verdict.STOP, f"{words} There is no release sheet in this stack."
        yield Caution(level, words, condition.source)


def _spine(item: Item, plan: PressingPlan) -> Iterator[Caution]:
    proud = [staple.name for staple in item.staples if staple.prong is Prong.PROUD]
    if proud:
        yield _PROUD(names=", ".join(proud))
    bare = item.is_square_bound and not plan.interleaves
    soft = plan.glue if plan.glue is not None and plan.glue.verdict != "stiff" else None
    if bare and soft:
        yield _BARE_SOFT_SPINE(glue=soft.words, ridge=plan.ridge.magnitude)
    elif bare:
        yield _BARE_SPINE(ridge=plan.ridge.magnitude)
    elif soft:
        yield _SOFT_SPINE(glue=soft.words)
    chance = plan.choices.spine_chance
    if chance is not None and not bare and chance < _CONSIDER_CHANCE:
        loaded = 1 - chance
        yield _SPINE_CHANCE(judge_chance(loaded), percent=100 * loaded)


def _cover(item: Item, plan: PressingPlan, units: UnitChoice) -> Iterator[Caution]:
    heat, choices = plan.heat, plan.choices
    if not item.cover_leaves or item.cover_coated is Answer.NO or heat is None:
        return
    damp, warm = heat.cover_humidity, heat.cover_heat
    if damp <= choices.coated_humidity.to("percent") or warm <= choices.coated_heat.to("degC"):
        return
    is_coated = item.cover_coated is Answer.YES
    cover = "A coated cover" if is_coated else "The cover may be coated, and a coated one"
    heat_said = say_whole(warm, units.temperature)
    if choices.release is None:
        yield _NOTHING_NON_STICK(cover=cover, heat=heat_said, humidity=damp.magnitude)
    else:
        yield _RELEASE_ALONE(cover=cover, heat=heat_said, humidity=damp.magnitude)


def _doses(item: Item, plan: PressingPlan) -> Iterator[Caution]:
    """Hold what adds up over the whole treatment against its limits."""
    yield caution_of_mould(plan.account, plan.spent, care_from=50.0)
    yield from caution_of_rust(plan.account, item)
    yield caution_of_ageing(plan.account)
    yield from caution_of_unknown(plan.account)


def within_known(water_held: Range) -> Range:
    """Give the water held as far as its softening of the fibres is known: more of it softens no less."""
    return Range(*(min(end, MOST_WATER) for end in (water_held.value, water_held.low, water_held.high)))


def _damp(plan: PressingPlan, water_held: Range) -> Iterator[Caution]:
    """Say where the water goes beyond what is known of paper."""
    given = plan.choices.item_humidity
    if (given.low, given.high) != plan.choices.followed_ends:
        yield _BEYOND_PAPERS(humidity=say_humidity(given), driest=DRIEST.magnitude, dampest=DAMPEST.magnitude)
    if plan.water.warm.value > DAMPEST:
        yield _STACK_BEYOND(humidity=say_humidity(plan.water.warm))
    if water_held.high > MOST_WATER:
        held, known = (water.to("percent").magnitude for water in (water_held.high, MOST_WATER))
        yield _MORE_WATER(held=held, known=known)


def _heat(plan: PressingPlan, water_held: Range, units: UnitChoice) -> Iterator[Caution]:
    heat, choices = plan.heat, plan.choices
    if heat is None:
        return
    if heat.time.value > choices.dwell and plan.fibres.verdict != "soft":
        time = say_minutes(float(heat.time.value.to("min").magnitude))
        yield _SHORT_DWELL(time=time, leaf=heat.slowest_called)
    if heat.cooling.value > choices.night:
        yield _STILL_WARM(cooling=say_cooling(heat))
    held = within_known(water_held).value
    cold = fibre_margin(temperature=choices.room_temperature, moisture_content=held)
    if cold.verdict == "soft":
        yield _SOFT_COLD()
    yield _PLATEN_BURNS(hot=say_whole(_BURNS_AT, units.temperature))


def _release(thicknesses: Thicknesses, plan: PressingPlan) -> Iterator[Caution]:
    choices, water = plan.choices, plan.water
    if water.conditioning is None:
        yield _LONG_REST()
    limit = float(choices.release_limit.to("percent").magnitude)
    released = float(water.released.value.to("percent").magnitude)
    if released > limit + 0.5:
        is_rested = water.release is not None and water.release <= choices.under_weight
        yield _STILL_DAMP(Verdict.GO if is_rested else Verdict.CARE, released=released, limit=limit)
    if not thicknesses.was_read:
        yield THICKNESS_NOT_READ(so="times and temperatures go with it")


def _notes(plan: PressingPlan) -> Iterator[Caution]:
    if plan.interleaves:
        yield _KEPT_IN()
    yield _FOR_GOOD()
    yield _STOP_EARLY(signs=STOP_SIGNS)
