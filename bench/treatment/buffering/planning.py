"""Buffering: interleaves that build the text block up, so that it carries the load.

A spine edge or a staple that stands higher than the text block takes the load first.  Sheets
between the leaves raise the text block; sheets that reach under the cover into the fold raise
spine and staples with it and so add nothing to the clearance, but keep the cover from the step.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from bench.errors import BadValue
from bench.item import Format, Item, Prong, Thicknesses
from bench.materials import look_up
from bench.physics.bearing.results import Bearing
from bench.physics.contact import HIGHEST_LOAD, estimate_give
from bench.physics.ranges import Range
from bench.treatment import facts
from bench.treatment.buffering.bench_time import caution_of_bench, time_to_interleave
from bench.treatment.buffering.choices import GAP, BufferingChoices, judge_chance
from bench.treatment.buffering.load import (
    TOUCHES,
    LoadDecision,
    decide_by_load,
    load_assumptions,
    load_cautions,
    load_values,
    say_load,
)
from bench.treatment.buffering.measured import assumed_here, is_law_measured, taken_here
from bench.treatment.conditions import Condition, Kind
from bench.treatment.interleaves import (
    LADDER,
    Placement,
    group_leaves,
    place_interleaves,
    say_spacing,
    spacings_of,
)
from bench.treatment.measured import K1, K2, Accepted, assume_measured, cautions_of_due
from bench.treatment.plan import (
    THICKNESS_NOT_READ,
    Assumption,
    Caution,
    Notice,
    Plan,
    PlannedStep,
    PlannedValue,
    Verdict,
    planned,
    planned_count,
    planned_range,
    worst,
)
from bench.uncertainty import Component, Measured, from_expanded, say_shares
from bench.units import MILLIMETRES, Q_, Amount, Told, UnitChoice, say_length

_MEASURED_LAW = "Pfeiffer's law, constants measured on this bench"

_PROUD = Notice(
    "buffer-over-proud-prong",
    Verdict.STOP,
    "A prong of the {names} staple stands proud: under load it goes through the cover. Do not press until "
    "someone qualified has seen it.",
)
_LOADED = Notice(
    "chance-of-loading-by-thickness",
    Verdict.CARE,
    "The chance of loading the {place} is {chance}, more than the {accepted} accepted. Use more sheets or a "
    "lighter load.",
)
_STRAINED = Notice(
    "sheets-strain-the-binding",
    Verdict.CARE,
    "The sheets come to more than a third of the item's thickness: they may strain the binding.",
    "memory",
)
_NEVER_PUSH = Notice(
    "sheet-stops-at-staples",
    Verdict.GO,
    "Never push a sheet past the staples or into the glue, and never open the spine flat.",
)
_OVER_PRONGS = Notice(
    "sheet-over-the-prongs",
    Verdict.GO,
    "At the centre spread lay the sheet over the prongs; a bare prong marks the next leaf.",
)


@dataclass(frozen=True)
class SpacingAlternative:
    """One spacing of the sheets and what it does.

    Attributes
    ----------
    interval, sheets : int
        Most leaves between sheets; sheets in all.
    gain, thickness : Measured
        What the sheets add, and the text block with them, at the light load of the reading.
    clearance : dict of str to Measured
        Text block over each high place, under the load.
    chance : float
        That every high place stays below the text block, taking the worst place.
    is_balanced : bool
        Whether a number of sheets was chosen that no spacing comes to.
    """

    interval: int
    sheets: int
    gain: Measured
    thickness: Measured
    clearance: dict[str, Measured]
    chance: float
    is_balanced: bool = False

    @property
    def tightest(self) -> tuple[str, Measured] | None:
        """Give the high place with the least clearance."""
        if not self.clearance:
            return None
        name = min(self.clearance, key=lambda key: self.clearance[key].value.to("um").magnitude)
        return name, self.clearance[name]


@dataclass(frozen=True, kw_only=True)
class BufferingPlan(Plan):
    """Where every sheet goes, what it does, and the other spacings beside it.

    Attributes
    ----------
    placements : tuple of Placement
        Where each sheet goes, front to back.
    chosen : SpacingAlternative
        The plan as the operator chose it, by thickness alone.
    alternatives : tuple of SpacingAlternative
        By thickness alone.
    recommended : int
        Leaves between sheets.
    choices : BufferingChoices
        What it was planned from.
    loads : tuple of Bearing
        Where the load goes with every plan, from most sheets to fewest; empty if not worked out.
    decision : LoadDecision or None
        What these say.
    """

    placements: tuple[Placement, ...]
    chosen: SpacingAlternative
    alternatives: tuple[SpacingAlternative, ...]
    recommended: int
    choices: BufferingChoices
    loads: tuple[Bearing, ...] = ()
    decision: LoadDecision | None = None

    @property
    def sheet(self) -> str:
        """Interleaf by its name in the materials table."""
        return self.choices.sheet


def hold_back(plan: BufferingPlan, conditions: Iterable[Condition]) -> BufferingPlan:
    """Give a plan as one that waits, while intake has not decided to treat; else as it is."""
    wait = next((condition for condition in conditions if condition.kind is Kind.NOT_YET), None)
    if wait is None:
        return plan
    because = f"Once that is settled: {plan.answer}"
    words = f"{wait.words[:1].upper()}{wait.words[1:]}."
    return replace(
        plan, verdict=Verdict.STOP, answer=f"Do not interleave. {words}", because=because, steps=()
    )


def compare_intervals(
    item: Item,
    thicknesses: Thicknesses,
    material: str,
    give: Measured,
    intervals: tuple[int, ...],
) -> tuple[SpacingAlternative, ...]:
    """Work out gain, clearance and chance for several spacings side by side.

    Parameters
    ----------
    item, thicknesses
        As in :func:`plan_buffering`.
    material : str
        Of the sheets.
    give : Measured, dimensionless
        Of the text block between the load of the reading and that of the press.
    intervals : tuple of int
        Most leaves between two sheets.

    Notes
    -----
    Clearance over a high place, under load::

        c = (T + n t)(1 - e) - (H + m t)

    with T, H the readings over text block and high place, t the sheet, n all sheets, m those that
    pass over the high place (those that go in to the fold), and e how much the text block gives
    between the load of the reading and the load of the press.  Spine and staple are taken as
    giving nothing, which errs on the safe side.  Valid for a stack that is pressed flat between
    stiff boards.
    """
    sheet = _sheet_thickness(material)
    found = []
    for interval in intervals:
        try:
            places = place_interleaves(item, interval)
        except BadValue:  # a thin item has no room for that many sheets
            continue
        found.append(_weigh_alternative(thicknesses, interval, places, sheet, give))
    return tuple(found)


def _load(choices: BufferingChoices, decision: LoadDecision | None) -> Range:
    """Give the load on the face: as known, or as it follows from the height of the press."""
    if choices.load is not None:
        return choices.load
    if decision is None:
        allowed = "a load, or a plan that works out where it goes"
        remedy = "Give the load, or weigh the spacings with the height of the press"
        raise BadValue("load", "not known", allowed, remedy)
    load, stops = decision.chosen.load, choices.path.stops
    assert stops is not None  # or the choices would have been refused
    came = Told("{}", Amount(stops, "mm", fine=5e-6))
    if load.value < TOUCHES:
        allowed = "so little room that the press reaches item and sheets"
        raise BadValue(GAP, came, allowed, "Close the press, or put in more sheets")
    if load.high > HIGHEST_LOAD:
        allowed = f"room that leaves less than {HIGHEST_LOAD:.0f~P}, its uncertainty included"
        raise BadValue(GAP, came, allowed, "Open the press, or put in fewer sheets: it would crush the item")
    return load


def _compare(
    item: Item, thicknesses: Thicknesses, choices: BufferingChoices, give: Measured
) -> tuple[tuple[SpacingAlternative, ...], SpacingAlternative]:
    """Weigh the usual spacings with the plan chosen among them, and give that one too."""
    by_spacing = choices.sheets is None or item.format is Format.SHEET
    intervals = sorted({*spacings_of(item), *([choices.interval] if by_spacing else [])})
    found = compare_intervals(item, thicknesses, choices.sheet, give, tuple(intervals))
    for one in found:
        if one.interval == choices.interval if by_spacing else one.sheets == choices.sheets:
            return found, one
    places = place_interleaves(item, choices.interval, choices.sheets)
    group = max(group_leaves(item, choices.interval, choices.sheets))
    chosen = replace(
        _weigh_alternative(thicknesses, group, places, _sheet_thickness(choices.sheet), give),
        is_balanced=True,
    )
    return tuple(sorted((*found, chosen), key=lambda a: -a.sheets)), chosen


def _sheet_thickness(material: str) -> Measured:
    entry = look_up(material, "thickness")
    doubt = entry.uncertainty if entry.uncertainty is not None else 0.1 * entry.value
    return from_expanded(
        entry.value.to("um"), doubt.to("um"), cause="thickness of the sheets", source=material
    )


def _weigh_alternative(
    thicknesses: Thicknesses,
    interval: int,
    places: tuple[Placement, ...],
    sheet: Measured,
    give: Measured,
) -> SpacingAlternative:
    over = sum(place.is_to_fold for place in places)
    gain = sheet.times(len(places))
    block = _in_um(thicknesses.text_block)
    thickness = block + gain
    loaded = _loaded(thickness, give)
    clearance = {
        name: loaded - (_in_um(high) + sheet.times(over)) for name, high in thicknesses.high_places().items()
    }
    chance = min((c.chance_above(Q_(0.0, "um")) for c in clearance.values()), default=1.0)
    return SpacingAlternative(interval, len(places), gain, thickness, clearance, chance)


def _in_um(measured: Measured) -> Measured:
    return Measured(measured.value.to("um"), measured.components, measured.source)


def _loaded(thickness: Measured, give: Measured) -> Measured:
    """Give the thickness under load; the give adds its doubt in proportion to the thickness."""
    lost = float(give.value.to("dimensionless").magnitude)
    kept = thickness.times(1 - lost)
    doubts = tuple(
        Component(c.cause, float(c.u.to("dimensionless").magnitude) * thickness.value, c.dof)
        for c in give.components
    )
    return Measured(kept.value, (*kept.components, *doubts), thickness.source)


def recommend_interval(
    alternatives: tuple[SpacingAlternative, ...], accepted_risk: float, *, widest: int = LADDER[0]
) -> int:
    """Choose the widest spacing up to ``widest`` whose chance is good enough, else the closest one.

    The trade starts at every 6 leaves and widens only in later cycles (common practice, no
    source), so a wider spacing is never recommended first, even where the numbers allow it.
    """
    good = [a.interval for a in alternatives if a.interval <= widest and a.chance >= 1 - accepted_risk]
    return max(good) if good else min(a.interval for a in alternatives)


def plan_buffering(
    item: Item,
    thicknesses: Thicknesses,
    choices: BufferingChoices,
    *,
    loads: Sequence[Bearing] = (),
    cycle: int = 1,
    units: UnitChoice = MILLIMETRES,
) -> BufferingPlan:
    """Plan where the interleaves go and how sure it is that they keep spine and staples free.

    Parameters
    ----------
    item : Item
        What the sheets go into.
    thicknesses : Thicknesses
        Read before buffering; typical values are allowed and are said aloud.
    choices : BufferingChoices
        Sheets, load, and how the load gets there.
    loads : sequence of Bearing
        Of :func:`bench.treatment.buffering.load.weigh_spacings`, with the same choices; without them
        the plan rests on thickness alone and says so.
    cycle : int
        1 for the first pass.
    units : UnitChoice
        For the words.

    Returns
    -------
    BufferingPlan

    Raises
    ------
    BadValue
        No room for the sheets, in the item or in the press, or an impossible spacing or chance.
    """
    places = place_interleaves(item, choices.interval, choices.sheets)
    widest = LADDER[min(cycle, len(LADDER)) - 1]
    decision = None
    if loads:
        decision = decide_by_load(
            loads, choices.interval, choices.accepted_risk, widest=widest, sheets=choices.sheets
        )
    load = _load(choices, decision)
    give = _give(item, choices, load)
    alternatives, chosen = _compare(item, thicknesses, choices, give)
    by_thickness = recommend_interval(alternatives, choices.accepted_risk, widest=widest)
    taken = _taken(item, choices, decision)
    cautions = tuple(_cautions(item, thicknesses, choices, chosen, decision, taken))
    return BufferingPlan(
        stage="buffering",
        cycle=cycle,
        verdict=worst(c.verdict for c in cautions),
        answer=_answer(item, chosen, choices, decision, cautions),
        because=_because(item, chosen, alternatives, choices, decision, by_thickness, units),
        values=(
            *_values(chosen, choices, load, give),
            *(load_values(decision, choices, taken) if decision else ()),
        ),
        cautions=cautions,
        steps=_steps(item, len(places)),
        assumptions=_assumptions(thicknesses, choices, decision is not None, taken),
        placements=places,
        chosen=chosen,
        alternatives=alternatives,
        recommended=by_thickness if decision is None else decision.recommended,
        choices=choices,
        loads=tuple(loads),
        decision=decision,
    )


def _give(item: Item, choices: BufferingChoices, load: Range) -> Measured:
    """Estimate how much the block gives: by the constants of its paper where this bench measured them."""
    if not is_law_measured(item, choices):
        return estimate_give(pressure=load)
    known = assumed_here(item, choices)
    assert known is not None  # what was measured is in it
    return estimate_give(pressure=load, k1=known.k1, k2=known.k2, source=_MEASURED_LAW)


def _taken(item: Item, choices: BufferingChoices, decision: LoadDecision | None) -> tuple[Accepted, ...]:
    """Give what the plan takes of the bench's measurements; by thickness alone, only the law of the block."""
    taken = taken_here(item, choices)
    return taken if decision is not None else tuple(one for one in taken if one.constant in (K1, K2))


def say_chance(chance: float) -> str:
    """Write a chance without claiming more than the model can carry."""
    if chance > 0.999:
        return "more than 99.9 %"
    if chance < 0.001:
        return "less than 0.1 %"
    return f"{100 * chance:.1f} %" if chance > 0.99 or chance < 0.01 else f"{100 * chance:.0f} %"


def _answer(
    item: Item,
    chosen: SpacingAlternative,
    choices: BufferingChoices,
    decision: LoadDecision | None,
    cautions: Sequence[Caution],
) -> str:
    stops = [caution for caution in cautions if caution.verdict is Verdict.STOP]
    if stops:
        return f"Do not press it like this. {stops[0].words}"
    start = f"Put in {chosen.sheets} sheets of {choices.sheet}"
    if item.format is Format.SHEET:
        return f"Lay a sheet of {choices.sheet} on each face, larger than the item on every side."
    ends = "one under each cover" if item.cover_leaves else "one in front, one behind"
    between = say_spacing(group_leaves(item, choices.interval, choices.sheets))
    words = f"{start}: {ends}, one after {between}."
    if decision is not None:
        return f"{words} {say_load(decision.chosen)}"
    if chosen.tightest is None:
        return f"{words} No spine edge or staple was read, so the clearance is not known."
    return f"{words} Chance of loading the {chosen.tightest[0]}: {say_chance(1 - chosen.chance)}."


def _because(
    item: Item,
    chosen: SpacingAlternative,
    alternatives: tuple[SpacingAlternative, ...],
    choices: BufferingChoices,
    decision: LoadDecision | None,
    by_thickness: int,
    units: UnitChoice,
) -> str:
    """Say how high the text block stands, what decides the spacing, and where the doubt comes from."""
    if item.format is Format.SHEET:
        return (
            "There is no spine and no staple to keep the load off; the sheets keep the boards from its faces."
        )
    if chosen.tightest is None:
        unread = "Read the thickness over the spine edge and over each staple to know the clearance."
        return unread if decision is None else f"{decision.words} {unread}"
    stand, shares = _say_stand(chosen.tightest, choices, units), say_shares(chosen.tightest[1].shares())
    if decision is not None:
        doubt = f"The uncertainty of the clearance comes from {shares}."
        if decision.recommended != by_thickness:
            doubt = f"By thickness alone it would be every {by_thickness} leaves. {doubt}"
        return f"{stand} {decision.words} {doubt}"
    words = f"{stand} The uncertainty comes from {shares}."
    enough = [a.interval for a in alternatives if a.chance >= 1 - choices.accepted_risk]
    if enough and max(enough) > by_thickness:
        words += (
            f" By thickness alone every {max(enough)} leaves would still be clear; practice starts closer, "
            f"and every {by_thickness} leaves is recommended for this cycle."
        )
    elif by_thickness != chosen.interval:
        words += f" Every {by_thickness} leaves is recommended for this cycle."
    return words


def _say_stand(tightest: tuple[str, Measured], choices: BufferingChoices, units: UnitChoice) -> str:
    """Say how high the text block stands over the highest place."""
    name, clear = tightest
    side = "above" if clear.value.magnitude >= 0 else "below"
    height = Q_(abs(clear.value.magnitude), clear.value.units)
    said = say_length(height, units, uncertainty=clear.expanded())
    stands = f"Under the load ({choices.load_words}) the text block stands {said} {side} the {name}"
    return f"{stands}, the highest place."


def _values(
    chosen: SpacingAlternative, choices: BufferingChoices, load: Range, give: Measured
) -> tuple[PlannedValue, ...]:
    values = [
        planned_count(facts.SPACING, chosen.interval),
        planned_count(facts.SHEETS, chosen.sheets),
        planned_range(facts.LOAD, load, source=choices.load_words),
        planned(facts.GAIN_IN_THICKNESS, chosen.gain),
        planned(facts.THICKNESS_WITH_SHEETS, chosen.thickness),
        planned(facts.GIVE, give),
        PlannedValue(
            facts.CHANCE_FREE,
            Q_(100 * chosen.chance, "percent"),
            limit=Q_(100 * (1 - choices.accepted_risk), "percent"),
            limit_source="chosen by the operator",
        ),
    ]
    values += [
        planned(facts.CLEARANCE.of(name), c, limit=Q_(0.0, "um"), limit_source="text block carries the load")
        for name, c in chosen.clearance.items()
    ]
    return tuple(values)


def _cautions(
    item: Item,
    thicknesses: Thicknesses,
    choices: BufferingChoices,
    chosen: SpacingAlternative,
    decision: LoadDecision | None,
    taken: Sequence[Accepted],
) -> Iterator[Caution]:
    proud = [staple.name for staple in item.staples if staple.prong is Prong.PROUD]
    if proud:
        yield _PROUD(names=", ".join(proud))
    if not thicknesses.was_read:
        yield THICKNESS_NOT_READ(so="typical values, far less certain, stand in")
    if decision is not None:
        yield from load_cautions(decision, choices, taken)
    elif chosen.tightest is not None and chosen.chance < 1 - choices.accepted_risk:
        loaded = 1 - chosen.chance
        yield _LOADED(
            judge_chance(loaded),
            place=chosen.tightest[0],
            chance=say_chance(loaded),
            accepted=say_chance(choices.accepted_risk),
        )
    third = chosen.gain.value / thicknesses.text_block.value
    if float(third.to("dimensionless").magnitude) > 1 / 3 and item.format is not Format.SHEET:
        yield _STRAINED()
    if item.is_square_bound:
        yield _NEVER_PUSH()
    if item.format is Format.SADDLE_STITCHED:
        yield _OVER_PRONGS()
    yield from caution_of_bench(chosen.sheets, choices.may_lie_open)
    yield from cautions_of_due(taken)


def _steps(item: Item, sheets: int) -> tuple[PlannedStep, ...]:
    where = "on both faces" if item.format is Format.SHEET else "by the bench slip"
    note = "Lift leaves only as far as they go by themselves; count aloud"
    return (PlannedStep(f"put {sheets} interleaves {where}", time_to_interleave(sheets), True, note=note),)


def _assumptions(
    thicknesses: Thicknesses, choices: BufferingChoices, with_load: bool, taken: Sequence[Accepted]
) -> tuple[Assumption, ...]:
    more = load_assumptions(choices, taken) if with_load else ()
    is_measured = any(one.constant in (K1, K2) for one in taken)
    sheet = look_up(choices.sheet, "thickness")
    return (
        Assumption("thickness over the text block", thicknesses.text_block.source or "given", "reading"),
        Assumption("sheet", f"{choices.sheet}: {sheet.where}", sheet.source),
        Assumption("load", choices.load_words, "operator"),
        Assumption(
            "give under load",
            "Pfeiffer's law; below zero where the caliper presses harder than the press does, so that the "
            "text block stands a little thicker in the press than it was read",
            "reading" if is_measured else "memory",
        ),
        Assumption(
            "clearance over spine and staples", "these taken as giving nothing, on the safe side", "memory"
        ),
        *more,
        *_assume_measured(taken, choices),
    )


def _assume_measured(taken: Sequence[Accepted], choices: BufferingChoices) -> Iterator[Assumption]:
    """List what was measured on the bench; what readings of the item are fitted from is said to be that."""
    for one, assumption in zip(taken, assume_measured(taken), strict=True):
        if choices.read_under and one.constant in (K1, K2):
            words = f"{assumption.words}; the {choices.read_under} are fitted from it"
            assumption = replace(assumption, words=words)
        yield assumption
