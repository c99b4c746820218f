"""A humidity plan in words: answer, reason, numbers, cautions, steps, what was taken as given."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from bench.item import Answer, Item, Thicknesses
from bench.physics.ranges import Range
from bench.physics.sorption import say_isotherm
from bench.treatment import facts
from bench.treatment.humidity.measured import taken_here
from bench.treatment.humidity.plan import MOST_HOURS, HumidityPlan
from bench.treatment.humidity.source import Source
from bench.treatment.intake.gate_list import COATED_LIMIT
from bench.treatment.measured import COVER_AS_AIR, ISOTHERM_SCALE, assume_measured, find_measured
from bench.treatment.plan import (
    Assumption,
    Caution,
    PlannedStep,
    PlannedValue,
    Verdict,
    hours,
    minutes,
    planned_range,
)
from bench.treatment.prediction import COATED_COVER, assume_transport, assume_unread
from bench.uncertainty import say_shares
from bench.units import Quantity, say_minutes, say_minutes_range

IN_CHAMBER = "in the chamber"  # the wait, under this name in every schedule
TAKE_OUT = "take it out and weigh it"  # the step that ends it
STOP_SIGNS = (
    "drops on lid or walls, waves growing along the edges, a tacky, dull or cloudy cover, colour on the "
    "tissue, new rust, a musty smell"
)
LONGEST_STAY = hours(MOST_HOURS)
"""As long as the panel lets an item stay in; archives advise against more than a day."""
_REST_SALT, _REST_FELT = 24.0, 2.0  # h for the closed chamber to come to rest; salt: from a maker's guide


def say_humidity(humidity: Range) -> str:
    """Write a relative humidity with its interval, e.g. ``95 % RH (86 to 97)``."""
    value, low, high = (f"{n:.0f}" for n in humidity.floats("percent", field="relative humidity"))
    return f"{value} % RH" if low == high else f"{value} % RH ({low} to {high})"


def say_hours(estimate: Range) -> str:
    """Write hours with their interval, in minutes below two hours."""
    value, low, high = estimate.floats("hour", field="hours")
    if high < 2:
        return say_minutes_range(60 * value, 60 * low, 60 * high)
    return estimate.say("hour")


def answer(plan: HumidityPlan, cautions: Sequence[Caution]) -> str:
    """Say what to do, how sure it is and what limits it."""
    choices = plan.choices
    stops = [caution for caution in cautions if caution.verdict is Verdict.STOP]
    if stops:
        return f"Do not put it in like this. {stops[0].words}"
    faces = "both faces free" if choices.faces == "both" else "one face free"
    over = "in the air of the machine" if choices.source is Source.GIVEN else f"over {plan.held.name}"
    start = f"Leave it {say_time(choices.planned)} {over}, {faces}. {_judge_wanted(plan)}."
    return f"{start} {say_window(plan)}"


def _judge_wanted(plan: HumidityPlan) -> str:
    wanted = f"{plan.choices.wanted:.0f} % RH wanted"
    is_sheet = plan.leaves == 1
    every, innermost = ("it", "it") if is_sheet else ("every leaf", "the innermost leaf")
    if plan.hours_core is None:
        return f"This source never brings {every} to the {wanted}"
    reached = f"{'' if is_sheet else 'the innermost '}at {say_humidity(plan.end.core)}"
    core, low, _ = plan.end.core.floats("percent", field="humidity")
    if low >= plan.choices.wanted:
        return f"{every[0].upper()}{every[1:]} is then above the {wanted}, {reached}"
    if core >= plan.choices.wanted + 2:
        return f"{every[0].upper()}{every[1:]} is then most likely above the {wanted}, {reached}"
    last = f"{innermost[0].upper()}{innermost[1:]}"
    if core >= plan.choices.wanted - 2:
        return f"{last} is then as likely below as above the {wanted}, at {say_humidity(plan.end.core)}"
    return f"{last} does not reach the {wanted}: that takes {say_hours(plan.hours_core)}"


def say_time(duration: Quantity) -> str:
    """Write a duration in hours, or in minutes below an hour and a half."""
    value = float(duration.to("hour").magnitude)
    return f"{value:.3g} h" if value >= 1.5 or value == 1 else say_minutes(60 * value)


def because(plan: HumidityPlan) -> str:
    """Say why, and what the uncertainty comes from."""
    words = f"On average the leaves are then at {say_humidity(plan.end.mean)}. " if plan.leaves > 1 else ""
    words += f"Water taken up by then: {plan.end.gain.say('g')}, out of {plan.water.say('g')} in the end. "
    if plan.choices.source is not Source.GIVEN:
        first = next(m for m in plan.moments if m.hours >= min(1.0, plan.choices.hours))
        words += (
            f"{_say_air(plan)}, so the air falls to {say_humidity(first.air)} after "
            f"{say_time(hours(first.hours))} and is back at {say_humidity(plan.end.air)} at the end. "
        )
    hindrances = (f"{name} ({100 * share:.0f} %)" for name, share in plan.hindrances.items() if share >= 0.05)
    words += f"What slows it: {', '.join(hindrances)}. {_lever(plan)}"
    words += say_bench(plan)
    if plan.doubts:  # of the hours until damp enough; none where it never is
        words += f" The uncertainty comes from {say_shares(plan.doubts)}."
    return words


def _say_air(plan: HumidityPlan) -> str:
    """Say where the water comes from; what a thin item takes up is less than the air alone can hold."""
    held = f"{plan.air_water.to('g').magnitude:.1f} g"
    if plan.air_water < plan.end.gain.value:
        return f"The air of the chamber holds only {held} of that; the source must supply the rest"
    return f"The air of the chamber holds {held} more than room air, and the lid leaks"


def _lever(plan: HumidityPlan) -> str:
    """Say what would help against the largest hindrance."""
    words = plan.limits.split(" is ", 1)[-1]
    return f"{words[0].upper()}{words[1:]} " if ":" in words else ""


_NEVER_MIND = 72.0  # h: a limit later than this is none for an item that nobody leaves longer than a day


def say_window(plan: HumidityPlan) -> str:
    """Say between which hours the item is best taken out: damp enough, and before mould's half is used up."""
    latest = float(plan.latest.to("hour").magnitude)
    is_free = latest > _NEVER_MIND
    mould = f"not after {latest:.0f} h, because of mould"
    if is_free:
        mould = "Mould sets no limit within three days"
    if plan.earliest is None:
        return f"{mould[0].upper()}{mould[1:]}."
    first = say_time(hours(round(float(plan.earliest.to("hour").magnitude), 1)))
    if plan.earliest > LONGEST_STAY:
        takes = f"Every leaf is damp enough only after {first}, far longer than a day or two"
        return f"{takes}: ask for less, or take a damper source if intake allows one."
    if plan.earliest > plan.latest:
        late = (
            f"Every leaf is damp enough only after {first}, later than the {latest:.0f} h that mould allows"
        )
        return f"{late}: make it quicker, or ask for less."
    return f"Take it out not before {first}{'.' if is_free else ';'} {mould}."


def say_bench(plan: HumidityPlan) -> str:
    """Say how long there is to interleave before the outer leaf has dried."""
    if plan.bench is None:
        return "On the bench the first leaf takes more than two hours to lose 5 % RH."
    numbers = plan.bench.floats("minute", field="time on the bench")
    said = say_minutes_range(*numbers)
    return f"On the bench the first leaf loses 5 % RH in {said}: interleave within that."


def say_sag(plan: HumidityPlan) -> str:
    """Work out by hand how far the air stands below the source on average, and hold the model against it.

    Notes
    -----
    What the item takes up and what leaves through the lid, g a day, over what the source gives a day for
    each per cent of deficit.  It holds while the air follows the source closely.
    """
    choices = plan.choices
    if choices.source is Source.GIVEN:
        return f"A machine holds the air at {plan.held.percent:.0f} % RH, so nothing has to be worked out."
    supply, gain = (float(q.magnitude) for q in (plan.supply.value.to("g/day"), plan.end.gain.value.to("g")))
    leak = float((plan.air_water * choices.leak).to("g/day").magnitude)
    days = choices.hours / 24
    return (
        f"By hand: the item takes {gain / days:.2g} g a day and the lid leaks {leak:.2g} g a day; the source "
        f"supplies {supply:.2g} g a day for each per cent that the air is below it. So the air is "
        f"{(gain / days + leak) / supply:.1f} % RH below it on average. "
        f"The model: {_mean_sag(plan):.1f} % RH."
    )


def _mean_sag(plan: HumidityPlan) -> float:
    """Give how far the air stands below the source on average over the planned hours, % RH."""
    moments = [m for m in plan.moments if m.hours <= plan.choices.hours + 1e-9]
    source = float(plan.held.step_end.to("percent").magnitude)
    ends = [0.0, *(m.hours for m in moments)]
    sags = [source - m.air.floats("percent", field="air")[0] for m in moments]
    sags.insert(0, sags[0])  # the air has sagged long before the first moment
    pieces = zip(pairwise(ends), pairwise(sags), strict=True)
    return sum((b - a) * (low + high) / 2 for (a, b), (low, high) in pieces) / ends[-1]


def say_mould_spent(plan: HumidityPlan) -> str:
    """Say how much of each rule for mould this chamber uses up, alone and with the cycles before it."""
    now, before = plan.spent, plan.choices.earlier
    words = (
        f"This chamber uses up {now.strict:.0f} % of the days of the strict museum rule; the growth model "
        f"comes to {now.index:.2f}, where 1.0 is the first growth seen under a microscope."
    )
    if plan.cycle == 1:
        return words
    if before.unknown:
        return f"{words} Not counted, because no plan is saved: {'; '.join(before.unknown)}."
    both = before + now
    return f"{words} With the cycles before it: {both.strict:.0f} % and {both.index:.2f}."


def values(item: Item, plan: HumidityPlan, highest: Quantity | None) -> tuple[PlannedValue, ...]:
    """Give the numbers of the plan, each with its limit and sources."""
    held, choices, end = plan.held, plan.choices, plan.end
    limit, limit_source = _humidity_limit(item, highest)
    wanted = {"limit": choices.wanted_humidity, "limit_source": "wanted by the operator"}
    found = [
        planned_range(
            facts.SOURCE_HUMIDITY,
            held.humidity,
            limit=limit,
            limit_source=limit_source,
            source=held.origin,
        )
    ]
    if held.second is not None:
        found.append(PlannedValue(facts.SALT_SECOND_FIT, held.second, source="crc-humidity"))
    found += [
        PlannedValue(facts.AIR_TEMPERATURE, choices.air_temperature.to("degC"), source="operator"),
        PlannedValue(facts.DEW_POINT, held.dew_point, source="ashrae-f1"),
        PlannedValue(facts.WALL_COLDER_BY, held.wall_drop.to("delta_degC")),
        planned_range(facts.LEAVES_HUMIDITY, end.mean, **wanted),
        planned_range(facts.CORE_HUMIDITY, end.core, **wanted),
        planned_range(facts.CHAMBER_HUMIDITY, end.air),
        PlannedValue(facts.HYGROMETER_SHOWS, end.air.value - choices.hygrometer_correction),
        planned_range(facts.MASS_GAIN, end.gain, source="isotherms"),
        planned_range(facts.WATER_TO_REST, plan.water, source="isotherms"),
        PlannedValue(facts.WATER_OF_AIR, plan.air_water),
    ]
    if choices.source is not Source.GIVEN:
        found.append(planned_range(facts.SUPPLY, plan.supply))
    waits = (("mean", plan.hours_mean), ("innermost leaf", plan.hours_core), ("cover", plan.hours_cover))
    for name, estimate in waits:
        if estimate is not None:
            found.append(planned_range(facts.HOURS_UNTIL.of(name), estimate))
    if plan.earliest is not None:
        found.append(PlannedValue(facts.EARLIEST_OUT, plan.earliest))
    found.append(PlannedValue(facts.LATEST_OUT, plan.latest, source="mould-days"))
    if plan.bench is not None:
        found.append(planned_range(facts.MINUTES_OPEN, plan.bench))
    found.append(
        PlannedValue(
            facts.HOURS_IN_CHAMBER,
            choices.planned,
            limit=choices.longest,
            limit_source="set by the operator",
        )
    )
    return (*found, *plan.spent.values())


def _humidity_limit(item: Item, highest: Quantity | None) -> tuple[Quantity | None, str]:
    if highest is not None:
        return highest.to("percent"), "handed down from intake"
    if item.cover_leaves and item.cover_coated is Answer.YES:
        return COATED_LIMIT, "coated cover, from memory"
    return None, ""


def look_in_hours(plan: HumidityPlan) -> tuple[float, ...]:
    """Give the hours of the look-ins: the first, after two hours, then every few, none near the end."""
    choices = plan.choices
    first = float(choices.first_look.to("hour").magnitude)
    every = float(choices.look_every.to("hour").magnitude)
    last = choices.hours - max(0.1, min(1.0, 0.2 * choices.hours))
    looks = [first] if first < last else []
    at = 2.0
    while at < last:
        if at > first + 0.25:
            looks.append(at)
        at += every
    return tuple(looks)


def steps(plan: HumidityPlan) -> tuple[PlannedStep, ...]:
    """Lay out the steps: prepare, put in, look in while someone is there, take out."""
    choices = plan.choices
    slack = choices.longest - choices.planned
    found = [*_preparation(plan), PlannedStep("weigh it and put it in the chamber", minutes(10), True)]
    at = 0.0
    for look in look_in_hours(plan):
        found.append(PlannedStep(IN_CHAMBER, hours(look - at), False))
        gain = _gain_at(plan, look)
        note = (
            f"Look for {STOP_SIGNS}: then take it out. Weigh it: about {gain.say('g')} more than at the start"
        )
        found.append(
            PlannedStep(f"look in, {say_time(hours(look))}", minutes(5), True, if_present=True, note=note)
        )
        at = look + 5 / 60
    last = hours(choices.hours - at)
    found.append(PlannedStep(IN_CHAMBER, last, False, at_most=last + slack))
    note = f"About {plan.end.gain.say('g')} heavier; interleave at once. {say_bench(plan)}"
    found.append(PlannedStep(TAKE_OUT, minutes(10), True, note=note))
    return tuple(found)


def _gain_at(plan: HumidityPlan, at: float) -> Range:
    return min(plan.moments, key=lambda moment: abs(moment.hours - at)).gain


def _preparation(plan: HumidityPlan) -> list[PlannedStep]:
    source = plan.choices.source
    need = 2 * float(plan.water.high.to("g").magnitude) + float(plan.air_water.magnitude)
    rack = (
        "cloth over an open rack above it, blotter under a sloping lid, hygrometer at the height of the item"
    )
    if source is Source.GIVEN:
        note = "Run the machine empty first; hygrometer at the height of the item"
        return [PlannedStep("set the machine and let it come to rest", minutes(30), False, note=note)]
    area = f"{plan.choices.source_area.to('cm^2').magnitude:.0f} cm²"
    if source is Source.SALT:
        what = f"Slurry of {plan.held.name} over {area}, solid salt showing; {rack}"
        name, rest = f"prepare the chamber with {plan.held.name}", _REST_SALT
    else:
        what = f"Felt or blotter of {area} wet with at least {need:.0f} g of water, not dripping; {rack}"
        name, rest = "prepare the chamber with wet felt", _REST_FELT
    return [
        PlannedStep(name, minutes(20), True, note=what),
        PlannedStep("the closed chamber comes to rest", hours(rest), False),
    ]


def assumptions(item: Item, thicknesses: Thicknesses, plan: HumidityPlan) -> tuple[Assumption, ...]:
    """List what was taken as given."""
    choices = plan.choices
    stirred = "stirred" if choices.is_fanned else "still"
    taken = taken_here(item, choices)
    is_held_here = find_measured(taken, ISOTHERM_SCALE, item.text_paper) is not None
    scale = None if is_held_here else choices.isotherm_scale
    found = [
        Assumption("thickness", thicknesses.text_block.source or "given", "reading"),
        Assumption("mass", "weighed" if item.mass is not None else "from tabled papers", "reading"),
        Assumption("isotherm", say_isotherm(item.text_paper, choices.air_temperature), "ashrae-regain"),
        *assume_transport(choices.transport_ratio, scale, choices.weighed),
        *assume_measured(taken),
        *assume_unread(choices.unread),
        Assumption(
            "film of air",
            f"{choices.film.say('mm/s')}, {stirred}",
            "memory",
        ),
        Assumption("edges", "no vapour through them: it reaches a centimetre or two in a day", "memory"),
        Assumption("heat of sorption", "followed leaf by leaf", "incropera"),
        Assumption("lid", f"{choices.leak.to('1/hour').magnitude:.2g} changes of air an hour", "operator"),
    ]
    is_cover_here = find_measured(taken, COVER_AS_AIR, COATED_COVER) is not None
    if item.cover_leaves and item.cover_coated is not Answer.NO and not is_cover_here:
        words = (
            f"{item.cover_coated.value}; as much in the way as {choices.cover_as_air.say('mm')} of still air"
        )
        found.append(Assumption("coated cover", words, "memory"))
    return tuple(found)
