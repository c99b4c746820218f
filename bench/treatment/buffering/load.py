"""Buffering by where the load goes: spine, staples and step beside the clearance of thicknesses."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bench.errors import BadValue
from bench.item import Item, Thicknesses
from bench.physics.bearing.answers import compare_spacings
from bench.physics.bearing.marks import DAMP_PART
from bench.physics.bearing.results import Bearing, Limits, sampled_range, say_sampled
from bench.physics.contact import HIGHEST_LOAD
from bench.stack import build_item_stack
from bench.treatment import facts
from bench.treatment.buffering.choices import (
    PACK,
    PRESS,
    PRESSES,
    BufferingChoices,
    cautions_of_load,
    judge_chance,
)
from bench.treatment.buffering.measured import assumed_here, boards_here, staple_limit
from bench.treatment.doses import CHOSEN
from bench.treatment.interleaves import SHEETS, group_leaves, spacings_of
from bench.treatment.measured import K1, K2, STAPLE_MARKS, Accepted, Constant
from bench.treatment.plan import (
    Assumption,
    Caution,
    Notice,
    PlannedValue,
    Verdict,
    caution_of_unread,
    planned_range,
)
from bench.units import Q_, join_words

_LOADED = Notice(
    "chance-of-loading",
    Verdict.CARE,
    "The chance of loading the {place} beyond its limit is {chance}, above the {accepted:g} % accepted. Use "
    "more sheets or a lighter load.",
)
_WIDER = Notice(
    "wider-than-recommended",
    Verdict.CARE,
    "Every {interval} leaves is wider than the {recommended} recommended for this cycle.",
)
_FEWER = Notice(
    "fewer-than-recommended",
    Verdict.CARE,
    "{sheets} sheets are fewer than the {recommended} recommended for this cycle.",
)
_NEXT_TO_NOTHING = "By these readings next to nothing of the load reaches the"
_STOPS_CARRY = Notice(
    "stops-carry-the-load",
    Verdict.STOP,
    f"{_NEXT_TO_NOTHING} item: the stops carry it. Lower them.",
)
_SPINE_CARRIES = Notice(
    "spine-carries-the-load",
    Verdict.STOP,
    f"{_NEXT_TO_NOTHING} text block: its spine or staples carry it. Use more sheets.",
)
_LOAD_BY_HEIGHT = Notice(
    "load-by-height",
    Verdict.CARE,
    "The load was not measured: by the height it comes to {load}. A tenth of a millimetre decides here: "
    "close the press by feel, until the sheets just carry, and no further.",
)
_CRUSHED = Notice(
    "samples-crushed",
    Verdict.CARE,
    "In {share} of the samples paper or boards would be crushed: they count as loaded.",
)
_STAPLE_MEASURED = Notice(
    "staple-limit-measured",
    Verdict.GO,
    "The limit on a staple, {limit} kPa, follows from a trial of dry scrap ({paper}). A damp, coated or "
    "painted cover may mark sooner: look at the first one.",
)

TOUCHES = Q_(0.05, "kPa")
"""Half of what a thin board weighs on a page: below it nothing is pressed."""

SEED = 20_260_302
"""Of the generator, so that the same choices always give the same answer."""


def weigh_spacings(
    item: Item,
    thicknesses: Thicknesses,
    choices: BufferingChoices,
    *,
    rng: np.random.Generator,
    intervals: Iterable[int] | None = None,
    samples: int = 2000,
) -> tuple[Bearing, ...]:
    """Work out where the load goes with every spacing, and with the balanced plans between.

    Parameters
    ----------
    item : Item
        What the sheets go into.
    thicknesses : Thicknesses
        Read before the sheets go in.
    choices : BufferingChoices
        Load, boards and sheets; its spacing is always among those compared.
    rng : numpy.random.Generator
        For what is not known; the same state gives the same answer.
    intervals : iterable of int, optional
        Most leaves between two sheets; by default those worth comparing for this item.
    samples : int
        100 to 100 000.

    Returns
    -------
    tuple of Bearing
        From most sheets to fewest; plans whose sheets do not fit the press are left out.

    Raises
    ------
    BadValue, OutOfRange
        Readings that contradict each other, a text block thinner than its cover, no load, sheets thicker than
        the room between the stops, or a load beyond what paper and boards bear.

    Notes
    -----
    :func:`bench.physics.bearing.answers.compare_spacings` holds the model and its range of validity.
    """
    build_item_stack(item, thicknesses)  # refuses readings that leave nothing for the leaves
    press = choices.path.build_press(choices.load, boards_here(item, choices))
    limits = Limits(accepted_risk=choices.accepted_risk)
    on_staple = staple_limit(item, choices)
    if on_staple is not None:
        limits = replace(limits, staple=on_staple)
    if choices.sheets is not None:
        group_leaves(item, choices.interval, choices.sheets)  # refuses a number that cannot be
    own = () if choices.sheets is not None else (choices.interval,)
    return compare_spacings(
        item,
        thicknesses,
        press,
        rng=rng,
        intervals=sorted({*(spacings_of(item) if intervals is None else intervals), *own}),
        counts=() if choices.sheets is None else (choices.sheets,),
        material=choices.sheet,
        assumed=assumed_here(item, choices),
        limits=limits,
        samples=samples,
    )


@dataclass(frozen=True)
class LoadDecision:
    """What the load says about the spacing.

    Attributes
    ----------
    chosen : Bearing
        Of the spacing that the operator chose.
    by_chance : Bearing
        Fewest sheets that keep the sampled chance under the accepted one, within the step of the ladder.
    by_guard : Bearing or None
        Fewest sheets whose clearance is as large as its doubt asks for; None if no spacing has it.
    recommended : int
        Leaves between sheets, of ``by_chance``; the most of them in a balanced plan.
    words : str
        Why, in one sentence.
    """

    chosen: Bearing
    by_chance: Bearing
    by_guard: Bearing | None
    recommended: int
    words: str


def find_spacing(loads: Sequence[Bearing], interval: int, sheets: int | None = None) -> Bearing:
    """Give what a spacing does, or a number of sheets in place of it, or say that they do not fit.

    Raises
    ------
    BadValue
        No plan among those weighed has that spacing or that number of sheets.
    """
    for load in loads:
        is_asked = interval in load.intervals if sheets is None else load.sheets.count == sheets
        if is_asked:
            return load
    allowed = "sheets that fit item and press"
    remedy = "Take fewer sheets, thinner ones, or leave more room between the stops"
    if sheets is not None:
        raise BadValue(SHEETS, sheets, allowed, remedy)
    raise BadValue("leaves between sheets", interval, allowed, remedy)


def decide_by_load(
    loads: Sequence[Bearing],
    interval: int,
    accepted_risk: float,
    *,
    widest: int,
    sheets: int | None = None,
) -> LoadDecision:
    """Choose the fewest sheets that keep the chance of loading spine or staple under the accepted one.

    Parameters
    ----------
    loads : sequence of Bearing
        Of :func:`weigh_spacings`, from most sheets to fewest.
    interval : int
        As the operator chose it.
    accepted_risk : float
        Chance of loading spine or staple that is accepted, 0 to 1.
    widest : int
        Step of the ladder of this cycle (6, 8, 10; common practice, no source), which a
        recommendation never exceeds.
    sheets : int, optional
        Sheets in all, in place of the spacing.

    Returns
    -------
    LoadDecision

    Notes
    -----
    Two rules side by side.  *Sampled chance*: the share of samples in which spine or staple is loaded
    beyond its limit.  *Guard band* (JCGM 106 [jcgm106]_): the median clearance is at least the quantile
    of its doubt that the accepted chance asks for.  The chance decides, because it knows that a touched
    spine is not yet a loaded one.  Plans that the press does not reach load nothing because they press
    nothing; these, and those it might crush, are never recommended (:func:`say_unfit`).
    """
    chosen = find_spacing(loads, interval, sheets)
    pressed = [load for load in loads if not say_unfit(load)] or list(loads)
    usual = [load for load in pressed if min(load.intervals, default=load.group) <= widest]
    if not usual:  # no usual spacing suits the press
        usual = [load for load in pressed if load.intervals] or pressed
    good = [load for load in usual if load.chance <= accepted_risk]
    by_chance = good[-1] if good else min(usual, key=lambda load: load.chance)
    clear = [load for load in usual if all(load.is_clear(place) for place in load.clearance)]
    recommended = _leaves(by_chance, widest)
    words = _say_why(pressed, usual, by_chance, recommended, accepted_risk)
    return LoadDecision(chosen, by_chance, clear[-1] if clear else None, recommended, words)


def say_unfit(load: Bearing) -> str:
    """Say in a word or two that a press does not press a plan, or might crush it; empty if it is fit."""
    if load.block.value < TOUCHES:
        return "not pressed"
    return "crushed" if load.load.high > HIGHEST_LOAD else ""


def _leaves(load: Bearing, widest: int) -> int:
    within = [i for i in load.intervals if i <= widest]
    return max(within, default=min(load.intervals, default=load.group))


def _say_why(
    loads: Sequence[Bearing],
    usual: Sequence[Bearing],
    best: Bearing,
    interval: int,
    accepted_risk: float,
) -> str:
    risk = f"{100 * accepted_risk:g} %"
    if not best.chances:
        return "A single sheet has neither spine nor staple to load."
    start, takes = f"Every {interval} leaves is recommended", "it takes"
    if not best.intervals:
        count, takes = best.sheets.count, "they are"
        start = f"{count} sheets spread evenly, {interval} leaves or fewer between them, are recommended"
    if best.chance > accepted_risk:
        return (
            f"{start} as the least bad: no spacing of this cycle keeps the chance of loading spine or "
            f"staple under {risk}; here it is {best.say_chance()} at the {best.worst_place}."
        )
    fewer = [load for load in usual if load.sheets.count < best.sheets.count]
    if fewer:
        return (
            f"{start}: {takes} the fewest sheets that keep the chance of loading spine or staple under "
            f"{risk}; with {fewer[0].sheets.count} sheets it would be {fewer[0].say_chance()} at the "
            f"{fewer[0].worst_place}."
        )
    wider = [
        i
        for load in loads
        if load.chance <= accepted_risk and load.sheets.count < best.sheets.count
        for i in load.intervals
    ]
    if wider:
        return (
            f"{start}: it keeps the chance of loading spine or staple under {risk}, and so would spacings up "
            f"to every {max(wider)} leaves, but practice widens only one step a cycle."
        )
    return f"{start}: {takes} the fewest sheets that keep the chance of loading spine or staple under {risk}."


def say_guard(decision: LoadDecision, accepted_risk: float) -> str:
    """Say where the guard band asks for other sheets than the sampled chance; empty if they agree."""
    load = decision.chosen
    chance_ok = load.chance <= accepted_risk
    short = [place for place in load.clearance if not load.is_clear(place)]
    if not load.chances or chance_ok == (not short):
        return ""
    asked = decision.by_guard
    other = f"it asks for {asked.sheets.count} sheets" if asked else "no spacing of this cycle satisfies it"
    if short:
        place = short[0]
        room, needed = (float(q.to("mm").magnitude) for q in (load.clearance[place].value, load.guard[place]))
        digits = next((d for d in (2, 3) if f"{room:.{d}f}" != f"{needed:.{d}f}"), 4)  # until they differ
        return (
            f"The guard band is stricter: over the {place} the boards clear by {room:.{digits}f} mm where "
            f"their uncertainty asks for {needed:.{digits}f} mm, so {other}; the sampled chance allows a "
            "touch that carries little."
        )
    return "The guard band is satisfied, yet the sampled chance of loading spine or staple is too high."


def load_values(
    decision: LoadDecision, choices: BufferingChoices, taken: Sequence[Accepted] = ()
) -> tuple[PlannedValue, ...]:
    """Give the planned values of where the load goes, with their limits.

    Parameters
    ----------
    decision : LoadDecision
        For the spacing chosen.
    choices : BufferingChoices
        It was made from.
    taken : sequence of Accepted
        What the plan took of the measurements of its bench.
    """
    load = decision.chosen
    risk = Q_(100 * choices.accepted_risk, "percent")
    values = [planned_range(facts.BLOCK_PRESSURE, load.block)]
    if load.chances:
        values += [
            planned_range(
                facts.CHANCE_LOADED,
                sampled_range(load.chance, load.samples),
                limit=risk,
                limit_source="chosen by the operator",
                source="sampled",
            ),
            planned_range(
                facts.SPINE_PRESSURE,
                load.spine,
                limit=load.load.value.to("kPa"),
                limit_source=f"no more than the even load; {CHOSEN}",
            ),
            planned_range(facts.STEP_PRESSURE, load.step_peak),
            planned_range(facts.STEP_LINE_LOAD, load.step_line),
            planned_range(facts.UNPRESSED_WIDTH, load.unpressed),
        ]
    values += [
        planned_range(
            facts.STAPLE_PRESSURE.of(name),
            pressure,
            limit=load.staple_limit,
            limit_source=_say_staple_limit(load, taken),
        )
        for name, pressure in load.staples.items()
    ]
    values.append(PlannedValue(facts.PAPER_USED, load.mass.to("g"), source="calculated"))
    if load.sheets.count:
        values.append(planned_range(facts.SHEET_WATER, load.water))
    path = choices.path
    ways = (
        (facts.STOPS, path.stops),
        (facts.SPINE_OUTSIDE, path.outside),
        (facts.STRIP, path.shim),
        (facts.STRIP_WIDTH, path.shim_width),
    )
    values += [PlannedValue(fact, given, source="operator") for fact, given in ways if given is not None]
    return tuple(values)


def _say_staple_limit(load: Bearing, taken: Sequence[Accepted]) -> str:
    """Say where the limit on a staple comes from."""
    marks = _find(taken, STAPLE_MARKS)
    if marks is None:
        return f"pressure of a thickness gauge, tappi-t411; {CHOSEN}"
    if load.staple_limit >= HIGHEST_LOAD:
        return "paper is crushed beyond it, from memory; staples tried on this bench mark at more"
    low = float(marks.value.low.to("N").magnitude)
    return (
        f"{100 * DAMP_PART:.0f} %, for damp paper (judgement), of {low:.2g} N, the low end of the load at "
        f"which a staple marks {marks.about}, measured on this bench on {marks.done_on:%Y-%m-%d}"
    )


def _find(taken: Sequence[Accepted], constant: Constant) -> Accepted | None:
    return next((each for each in taken if each.constant.key == constant.key), None)


def load_cautions(
    decision: LoadDecision, choices: BufferingChoices, taken: Sequence[Accepted] = ()
) -> Iterator[Caution]:
    """Say what speaks against the chosen spacing, and where the two rules disagree.

    Parameters
    ----------
    decision : LoadDecision
        For the spacing chosen.
    choices : BufferingChoices
        It was made from.
    taken : sequence of Accepted
        What the plan took of the measurements of its bench.
    """
    load, recommended = decision.chosen, decision.by_chance.sheets.count
    if load.chance > choices.accepted_risk:
        yield _LOADED(
            judge_chance(load.chance),
            place=load.worst_place,
            chance=load.say_chance(),
            accepted=100 * choices.accepted_risk,
        )
    yield from cautions_of_load(choices.load or load.load)
    guard = say_guard(decision, choices.accepted_risk)
    if guard:
        yield Caution(Verdict.CARE, guard, "jcgm106")
    if choices.sheets is None and choices.interval > decision.recommended:
        yield _WIDER(interval=choices.interval, recommended=decision.recommended)
    elif choices.sheets is not None and choices.sheets < recommended:
        yield _FEWER(sheets=choices.sheets, recommended=recommended)
    if choices.unsettled:
        yield Caution(Verdict.CARE, choices.unsettled)
    yield from caution_of_unread("the bench taught", choices.unread)
    marks = _find(taken, STAPLE_MARKS)
    if marks is not None and load.staples:
        limit = float(load.staple_limit.to("kPa").magnitude)
        yield _STAPLE_MEASURED(limit=f"{limit:.0f}", paper=marks.about)
    if load.block.value < TOUCHES:
        yield _SPINE_CARRIES() if choices.path.stops is None else _STOPS_CARRY()
    if choices.load is None:
        yield _LOAD_BY_HEIGHT(load=load.load.say("kPa"))
    if load.solved < 1:
        yield _CRUSHED(share=say_sampled(1 - load.solved, load.samples))


def say_load(load: Bearing) -> str:
    """Say in a sentence what the load does."""
    if not load.chances:
        return "The load rests on the whole face."
    return (
        f"Chance of loading spine or staple beyond its limit: {load.say_chance()}. A strip of "
        f"{load.unpressed.say('mm')} along the spine stays unpressed."
    )


def _say_give(choices: BufferingChoices, taken: Sequence[Accepted]) -> tuple[str, str]:
    """Say which law block and boards follow, with ranges from where."""
    law, limits = "Pfeiffer's law and loose plates on it", "the first loading, no impact, no wet paper"
    named = [each.constant.label for each in taken if each.constant is not STAPLE_MARKS]
    if choices.read_under:
        named = [name for name in named if name not in (K1.label, K2.label)]
    if named:
        own = f"{join_words(list(dict.fromkeys(named)))} as measured on this bench"
        block = f"the block as fitted to {choices.read_under}, " if choices.read_under else ""
        rest = f"as fitted to {choices.learned}" if choices.learned else "within wide ranges"
        return f"{law}, {block}{own}, the rest {rest}; {limits}", "reading"
    if not choices.learned and not choices.read_under:
        return f"{law}, wide ranges; {limits}", "memory"
    if not choices.read_under:
        return f"{law}, as fitted to {choices.learned}; {limits}", "reading"
    rest = f"as fitted to {choices.learned}" if choices.learned else "within wide ranges"
    return f"{law}, the block as fitted to {choices.read_under}, the rest {rest}; {limits}", "reading"


def load_assumptions(choices: BufferingChoices, taken: Sequence[Accepted] = ()) -> tuple[Assumption, ...]:
    """Name what the model of the load takes as given, without what was measured on the bench itself."""
    path = choices.path
    how = [PRESSES[path.even]]
    if path.stops is not None:
        how.append(f"stops that leave {path.stops.to('mm').magnitude:.2f} mm")
    if path.outside is not None:
        how.append(f"the spine {path.outside.to('mm').magnitude:.0f} mm outside the boards")
    if path.shim is not None:
        how.append(f"a strip of {path.shim.to('mm').magnitude:.2f} mm over the spine")
    return (
        Assumption("boards on each side", path.pack, "operator", key=PACK),
        Assumption("the load comes through", ", ".join(how), "operator", key=PRESS[path.even]),
        Assumption("give of block, spine and boards", *_say_give(choices, taken)),
    )
