"""Cleaning: from the gentlest tool to the strongest that may touch a surface, and no further than pays.

Dirt that is left sets into the fibres when the paper is damp, so loose dirt goes before humidifying
in any case; stronger tools only where something would be seen to gain.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from bench.errors import BadValue
from bench.item import Answer, Item
from bench.physics.ranges import Range
from bench.treatment import facts
from bench.treatment.cleaning.surfaces import Surface, SurfaceState, surface_area
from bench.treatment.cleaning.tools import STOP_SIGNS, Tool, tool, tools_for
from bench.treatment.conditions import Condition, Kind, conditions_for, has_condition, say_condition
from bench.treatment.intake.planning import Decision
from bench.treatment.intake.spot_tests import Result
from bench.treatment.plan import (
    Assumption,
    Caution,
    Notice,
    Plan,
    PlannedStep,
    PlannedValue,
    Verdict,
    minutes,
    planned_count,
    worst,
)
from bench.uncertainty import coverage_factor
from bench.units import Q_, Quantity, say, to_float

# Taking up the tool, turning and supporting the item, once a pass: from memory.
HANDLING = Q_(1.0, "min")
OWN_SPREAD = 1.3  # how far an own rate from the log may be off: from memory

_NOT_YET = Notice(
    "cleaning-waits-for-intake",
    Verdict.STOP,
    "Nothing begins while intake says {decision}. Settle its gates first.",
)
_PASSED_OVER = Notice(
    "soil-listed-not-entered",
    Verdict.CARE,
    "Listed as soiled, but no soil is entered there: {listed}.",
    "operator",
)
_COLOUR_RUBS = Notice(
    "colour-rubs-off",
    Verdict.CARE,
    "Colour came off on the dry swab: a soft brush and suction off the surface, nothing that rubs.",
    "memory",
)
_RUB_FIRST = Notice(
    "rub-test-first",
    Verdict.CARE,
    "The dry rub test has not passed, so nothing that rubs is planned. Test each dark solid first.",
    "memory",
)
_NO_ERASER = Notice(
    "no-eraser-on-newsprint",
    Verdict.GO,
    "No eraser on newsprint: it is unsized, its ink stays smudgy and its fibres lift.",
    "pearlstein1982",
)
_CUT_SPONGE = Notice(
    "cut-the-sponge",
    Verdict.GO,
    "Rubber sponge: cut the dirty face off with a blade away from the item, cap the blade, brush away every "
    "crumb.",
    "rubber-sponge",
)
_STOP_EARLY = Notice(
    "cleaning-stop-signs",
    Verdict.GO,
    "Stop at any of these: {signs}. The test for the next tool is made anew.",
    "memory",
)
_DUST = Notice(
    "dust-holds-spores",
    Verdict.GO,
    "Dust holds spores and pest debris: extraction on and a well-fitting mask (FFP2 or better), as local "
    "codes ask. If mould shows under the dirt, stop, isolate and refer.",
    "bl-cleaning",
)
_EVIDENCE = Notice(
    "leave-evidence",
    Verdict.GO,
    "Leave pencil notes, stamps and fingerprints that may be evidence, and ask the owner about them.",
    "nedcc-cleaning",
)


@dataclass(frozen=True)
class CleaningChoices:
    """What the operator has seen and chooses.

    Attributes
    ----------
    surfaces : tuple of SurfaceState
        Each surface that was looked at, once.
    rub_test : Result
        Dry rub test on each dark solid.
    conditions : tuple of Condition
        From intake.
    rates : mapping of str to Quantity
        Own rates by tool, from the log, instead of those from memory.
    strongest : str
        Strongest tool that the operator is willing to take up, by its id.
    thickness : Quantity
        Of the item, for the areas of edges and spine.
    decision : Decision
        Of intake; nothing begins unless it is to treat.
    listed : mapping of Surface to str
        Defects listed as soiled, by the surface they are on; none of them is passed over in silence.
    """

    surfaces: tuple[SurfaceState, ...]
    rub_test: Result = Result.NOT_DONE
    conditions: tuple[Condition, ...] = ()
    rates: Mapping[str, Quantity] = field(default_factory=dict)
    strongest: str = "vinyl block"
    thickness: Quantity = field(default_factory=lambda: Q_(5.0, "mm"))
    decision: Decision = Decision.TREAT
    listed: Mapping[Surface, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        tool(self.strongest)
        to_float(self.thickness, "mm", field="thickness", low=0.05, high=200.0)
        for name, rate in self.rates.items():
            to_float(rate, "cm^2/min", field=f"rate of {tool(name).name}", low=0.1, high=5000.0)
        names = [state.surface for state in self.surfaces]
        twice = {n.value for n in names if names.count(n) > 1}
        if twice:
            remedy = "Give one state for each surface"
            raise BadValue("surface", ", ".join(sorted(twice)), "each surface once", remedy)

    def rate(self, candidate: Tool) -> Quantity:
        """Give the rate of a tool: the operator's own, or the one from memory."""
        return self.rates.get(candidate.id, candidate.rate)

    def spread(self, candidate: Tool) -> float:
        """Give how many times lower or higher that rate may be."""
        return OWN_SPREAD if candidate.id in self.rates else candidate.spread

    @property
    def passed_over(self) -> dict[Surface, str]:
        """Give what is listed as soiled where no soil is entered."""
        soiled = {state.surface for state in self.surfaces if state.soil}
        return {surface: words for surface, words in self.listed.items() if surface not in soiled}


@dataclass(frozen=True)
class Pass:
    """One tool over one surface.

    Attributes
    ----------
    surface : Surface
        Where it goes.
    tool : Tool
        With what.
    area : Quantity [cm**2]
        That the tool goes over.
    time : Quantity [min]
        Best estimate, handling included.
    why : str
        Why this tool is taken up, in a few words.
    """

    surface: Surface
    tool: Tool
    area: Quantity
    time: Quantity
    why: str


@dataclass(frozen=True)
class SurfaceWork:
    """What is done on one surface, and why not more.

    Attributes
    ----------
    state : SurfaceState
        How the surface looks before.
    area : Quantity [cm**2]
        To be cleaned.
    passes : tuple of Pass
        From the gentlest tool.
    left_out : tuple of (str, str)
        Tool and the reason why it is not taken up.
    words : str
        Where gain is to be expected, in a sentence.
    """

    state: SurfaceState
    area: Quantity
    passes: tuple[Pass, ...]
    left_out: tuple[tuple[str, str], ...]
    words: str

    @property
    def time(self) -> Quantity:
        """Time on this surface."""
        return Q_(math.fsum(float(p.time.magnitude) for p in self.passes), "min")


@dataclass(frozen=True, kw_only=True)
class CleaningPlan(Plan):
    """The order of tools, surface by surface.

    Attributes
    ----------
    work : tuple of SurfaceWork
        Surface by surface, in the order of work.
    time : Range [min]
        At the bench.
    prompts : tuple of str
        What to write down for each pass.
    choices : CleaningChoices
        What it was planned from.
    """

    work: tuple[SurfaceWork, ...]
    time: Range
    prompts: tuple[str, ...]
    choices: CleaningChoices

    @property
    def passes(self) -> tuple[Pass, ...]:
        """All passes in the order of work."""
        return tuple(p for work in self.work for p in work.passes)


PROMPTS = (
    "area cleaned: place and area",
    "passes: how often the tool went over it",
    "time: with the area it tells the rate of your own hand",
    "dirt on the tool: 0 none to 3 much, each pass",
    "colour on the tool: yes or no",
    "residue looked for in raking light, and removed",
)
"""What a log of cleaning holds for each pass: common practice, no source."""


def plan_cleaning(item: Item, choices: CleaningChoices, *, cycle: int = 1) -> CleaningPlan:
    """Plan dry cleaning, surface by surface, from the gentlest tool to the strongest allowed.

    Parameters
    ----------
    item : Item
        What is cleaned.
    choices : CleaningChoices
        What was seen, and what the operator is willing to do.
    cycle : int
        1 for the first pass.

    Returns
    -------
    CleaningPlan
        With no passes and a verdict to stop where cleaning is not to begin at all.

    Notes
    -----
    Time of a pass: a minute of handling and the area over the rate.  Each rate may be some factor
    lower or higher; its logarithm is taken as uniform between, the tools as independent, and the
    sum as log-normal with the variance that follows, so that the interval never reaches below zero.
    """
    conditions = conditions_for(choices.conditions, "cleaning")
    begins = choices.decision is Decision.TREAT
    in_order = sorted(choices.surfaces, key=lambda state: list(Surface).index(state.surface))
    states = in_order if begins else []
    work = tuple(_plan_surface(item, s, choices, conditions) for s in states)
    time = _total_time(work, choices)
    cautions = tuple(_cautions(choices, conditions, work))
    return CleaningPlan(
        stage="cleaning",
        cycle=cycle,
        verdict=worst(c.verdict for c in cautions),
        answer=_answer(choices, work, time),
        because=" ".join(w.words for w in work if w.state.soil) or _say_idle(choices),
        values=_values(work, time),
        cautions=cautions,
        steps=_steps(work),
        assumptions=_assumptions(choices),
        work=work,
        time=time,
        prompts=PROMPTS,
        choices=choices,
    )


def _plan_surface(
    item: Item, state: SurfaceState, choices: CleaningChoices, conditions: Sequence[Condition]
) -> SurfaceWork:
    area = state.share * surface_area(item, state.surface, choices.thickness)
    coated = item.cover_coated is not Answer.NO and state.surface is not Surface.LEAVES
    passes: list[Pass] = []
    left: list[tuple[str, str]] = []
    tools = tools_for(state.surface, coated=coated)
    if has_condition(conditions, Kind.SCREENED_SUCTION):  # spores are sucked up before a brush stirs them
        tools = tuple(sorted(tools, key=lambda t: (t.id != "suction", t.order)))
    for candidate in tools:
        reason = _why_not(candidate, state, choices, conditions)
        if reason:
            left.append((candidate.name, reason))
            continue
        part = area * state.unprinted if candidate.unprinted_only else area
        if part.magnitude > 0:
            time = HANDLING + (part / choices.rate(candidate)).to("min")
            passes.append(Pass(state.surface, candidate, part, time, _why(candidate, state)))
    return SurfaceWork(state, area, tuple(passes), tuple(left), _say_gain(state, passes))


def _why_not(
    candidate: Tool, state: SurfaceState, choices: CleaningChoices, conditions: Sequence[Condition]
) -> str:
    """Say why a tool is not taken up; empty if it is."""
    place = "leaves" if state.surface in (Surface.LEAVES, Surface.EDGES) else "cover"
    mould = has_condition(conditions, Kind.SCREENED_SUCTION)
    if state.soil == 0:
        return "no soil to take off"
    if candidate.id == "suction" and mould:
        return ""
    if state.soil < candidate.least_soil:
        return "the soil does not need it"
    if candidate.id in ("brush", "suction"):
        return ""
    if has_condition(conditions, Kind.BRUSH_ONLY, where=place):
        return "intake allows nothing that rubs here"
    if choices.rub_test is not Result.PASS:
        return f"the dry rub test is “{choices.rub_test}”: nothing that rubs"
    if candidate.order > tool(choices.strongest).order:
        return "stronger than the operator chose to go"
    if state.gain == "hardly any":
        return "print hides the soil: hardly any gain to be seen"
    if candidate.unprinted_only and state.unprinted == 0:
        return "only for unprinted areas, and there are none"
    return ""


def _why(candidate: Tool, state: SurfaceState) -> str:
    if candidate.id == "brush":
        return "loose dirt sets into damp fibres"
    if candidate.unprinted_only:
        return "soil shows most on unprinted areas"
    return f"soil {state.soil} of 3"


def _say_gain(state: SurfaceState, passes: Sequence[Pass]) -> str:
    name = state.surface.value.capitalize()
    unprinted = f"{100 * state.unprinted:.0f} % of it unprinted"
    if state.gain == "none":
        return f"{name}: no soil, no work."
    if not passes:
        return f"{name}: soil {state.soil} of 3, but no tool may touch it."
    last = passes[-1].tool.id
    if state.gain == "hardly any":
        words = f"{name}: soil {state.soil} of 3, {unprinted}: print hides it"
        return f"{words}, so more than the {last} does not pay."
    rubbed = any(p.tool.id not in ("brush", "suction") for p in passes)
    held = "" if rubbed or state.soil == 1 else f", but nothing beyond the {last} may touch it"
    return f"{name}: soil {state.soil} of 3, {unprinted}: {state.gain} gain to be expected{held}."


def _total_time(work: Sequence[SurfaceWork], choices: CleaningChoices) -> Range:
    """Sum the times of all passes; passes with one tool share the uncertainty of its rate."""
    by_tool: dict[str, tuple[float, float]] = {}
    for each in (p for w in work for p in w.passes):
        known = by_tool.get(each.tool.id, (0.0, 1.0))[0]
        spent = known + float(each.time.to("min").magnitude)
        by_tool[each.tool.id] = (spent, choices.spread(each.tool))
    total = math.fsum(time for time, _ in by_tool.values())
    if total == 0:
        return Range.of((0, 0, 0), "min")
    factor = factor_of_sum(by_tool.values())
    return Range.of((total, total / factor, total * factor), "min")


def factor_of_sum(parts: Iterable[tuple[float, float]]) -> float:
    """Give by how many times a sum of times may be off either way, about 95 %.

    Parameters
    ----------
    parts : iterable of (float, float)
        Time with one tool, above 0, and how many times lower or higher its rate may be.  The parts are off
        independently of each other.

    Examples
    --------
    >>> round(factor_of_sum([(10.0, 2.0)]), 2), round(factor_of_sum([(10.0, 2.0), (10.0, 2.0)]), 2)
    (2.13, 1.72)
    """
    known = list(parts)
    total = math.fsum(time for time, _ in known)
    variance = math.fsum((time * math.log(spread)) ** 2 / 3 for time, spread in known)
    return math.exp(coverage_factor(math.inf) * math.sqrt(math.log1p(variance / total**2)))


def say_time(time: Range) -> str:
    """Write a time with its interval, to five minutes above ten.

    Examples
    --------
    >>> say_time(Range.of((61, 33, 118), "min"))
    'about 60 min (35 to 120 min)'
    """
    value, low, high = (_round_time(minutes) for minutes in time.floats("min", field="time at the bench"))
    return f"about {value} min ({low} to {high} min)"


def _round_time(value: float) -> int:
    return max(1, round(value)) if value < 10 else 5 * round(value / 5)


def _say_idle(choices: CleaningChoices) -> str:
    if choices.decision is not Decision.TREAT:
        return f"Intake says {choices.decision}, and a brush counts as treatment too."
    if choices.surfaces:
        return "No soil is entered for any surface: enter what is seen."
    return "No surface was looked at."


def _answer(choices: CleaningChoices, work: Sequence[SurfaceWork], time: Range) -> str:
    if choices.decision is not Decision.TREAT:
        return f"Do not clean: intake says {choices.decision}."
    busy = [w for w in work if w.passes]
    if not busy and choices.passed_over:
        return "Not decided: soiled places are listed, but no soil is entered for them."
    if not busy:
        return "Do not clean: there is nothing that a tool could or may take off."
    parts = [f"{w.state.surface.spoken} with {_list([p.tool.spoken for p in w.passes])}" for w in busy]
    return f"Clean {'; '.join(parts)}. It takes {say_time(time)} at the bench."


def _list(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])}, then {words[-1]}"


def _values(work: Sequence[SurfaceWork], time: Range) -> tuple[PlannedValue, ...]:
    source = "area over rate, rates from memory or the log"
    values: list[PlannedValue] = []
    for each in work:
        values += _seen_values(each.state)
        if each.passes:
            fact = facts.AREA_TO_CLEAN.of(each.state.surface)
            values.append(PlannedValue(fact, each.area, source="size and share"))
    values += [
        PlannedValue(facts.TIME_AT_BENCH, time.value, source=source),
        PlannedValue(facts.TIME_AT_LEAST, time.low, source=source),
        PlannedValue(facts.TIME_AT_MOST, time.high, source=source),
    ]
    return tuple(values)


def _seen_values(state: SurfaceState) -> list[PlannedValue]:
    """Give what was seen of a surface, so that the plan can be taken up again."""
    values = [planned_count(facts.SOIL.of(state.surface), state.soil, source="operator")]
    if state.soil:
        share, bare = Q_(100 * state.share, "percent"), Q_(100 * state.unprinted, "percent")
        values += [
            PlannedValue(facts.SHARE_TO_CLEAN.of(state.surface), share, source="operator"),
            PlannedValue(facts.UNPRINTED_SHARE.of(state.surface), bare, source="operator"),
        ]
    return values


def _steps(work: Sequence[SurfaceWork]) -> tuple[PlannedStep, ...]:
    # Set-up, and looking again in the light of before with a photograph: from memory.
    busy = [w for w in work if w.passes]
    if not busy:
        return ()
    first = PlannedStep(
        "set up for dry cleaning", minutes(10), True, note="Extraction on, mask and gloves on"
    )
    last = PlannedStep(
        "look again and photograph", minutes(15), True, note="Same light as before; no crumb left behind"
    )
    between = [
        PlannedStep(
            f"clean {w.state.surface}: {_list([p.tool.id for p in w.passes])}",
            minutes(math.ceil(float(w.time.magnitude))),
            True,
            note=f"Stop at {', '.join(STOP_SIGNS[:2])}",
        )
        for w in busy
    ]
    return (first, *between, last)


def _cautions(
    choices: CleaningChoices, conditions: Sequence[Condition], work: Sequence[SurfaceWork]
) -> Iterator[Caution]:
    for condition in conditions:
        yield Caution(Verdict.CARE, say_condition(condition), condition.source)
    if choices.decision is not Decision.TREAT:
        yield _NOT_YET(decision=choices.decision.value)
    elif choices.passed_over:
        yield _PASSED_OVER(listed="; ".join(choices.passed_over.values()))
    if choices.rub_test is Result.FAIL:
        yield _COLOUR_RUBS()
    elif choices.rub_test is not Result.PASS and any(s.soil >= 2 for s in choices.surfaces):
        yield _RUB_FIRST()
    if any(s.surface is Surface.LEAVES and s.soil >= 2 for s in choices.surfaces):
        yield _NO_ERASER()
    if any(p.tool.id == "rubber sponge" for w in work for p in w.passes):
        yield _CUT_SPONGE()
    yield _STOP_EARLY(signs="; ".join(STOP_SIGNS))
    yield _DUST()
    yield _EVIDENCE()


def _assumptions(choices: CleaningChoices) -> tuple[Assumption, ...]:
    rates = (
        "own rates from the log"
        if choices.rates
        else "rates from memory, each a factor of two or more unsure"
    )
    return (
        Assumption("rates of the tools", rates, "memory"),
        Assumption("dry rub test", choices.rub_test.value, "operator"),
        Assumption("soil and unprinted shares", "estimated by eye", "operator"),
        Assumption("thickness for edges and spine", say(choices.thickness, "mm"), "reading"),
    )
