"""Review: measure again, compare, and decide by written rules whether to stop or repeat.

A repeat changes one thing at most: softness (interleaves and padding), load, moisture or heat.
Otherwise nobody can say what helped and what harmed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from bench.errors import BadValue
from bench.item import Format, Item
from bench.physics.bearing.spots import Hope
from bench.physics.size_change import PERMANENT_CHANGE
from bench.treatment import facts
from bench.treatment.doses import Account, Plans, caution_of_unknown, judge_next, judge_treatment
from bench.treatment.plan import (
    Assumption,
    Caution,
    Plan,
    PlannedStep,
    PlannedValue,
    Verdict,
    hours,
    minutes,
    planned,
    planned_count,
    worst,
)
from bench.treatment.review.comparison import (
    Comparison,
    DefectCourse,
    EdgeChange,
    Examination,
    compare_all,
    compare_sizes,
    compare_thicknesses,
    in_percent,
    subtract_readings,
    total_gain,
)
from bench.treatment.review.judges import COST, REACH, Findings, Outcome, decide, judge, next_rung
from bench.treatment.review.levers import Conditions, Lever, check_one_change, next_values, say_change
from bench.treatment.review.rules import DEFAULT_RULES, ReviewDecision, Rules
from bench.uncertainty import Component, Measured
from bench.units import MILLIMETRES, Q_, Quantity, UnitChoice, say, to_float


@dataclass(frozen=True)
class ReviewChoices:
    """What the operator knows and chooses at the review.

    Attributes
    ----------
    done_with : Conditions
        Of the cycle just finished.
    proposal : Conditions or None
        The operator's own for the next cycle; None leaves it to the rules.
    consented_cycles : int
        How many cycles in all the owner has approved in writing.
    rested : Quantity or None
        Time at room conditions since the cycle ended.
    marks : tuple of str
        New marks; the words of the rules, or the operator's own.
    chances : mapping of int to float
        Chance that spine and staples stay free by leaves between sheets (from the buffering plan).
    accepted_risk : float
        Chance of loading spine or staple that is accepted.
    hopes : mapping of str to Hope
        How likely the next cycle relaxes each defect, by its name
        (from :mod:`bench.treatment.review.next_cycle`).
    rules : Rules
    """

    done_with: Conditions = field(default_factory=Conditions)
    proposal: Conditions | None = None
    consented_cycles: int = 0
    rested: Quantity | None = None
    marks: tuple[str, ...] = ()
    chances: Mapping[int, float] = field(default_factory=dict)
    accepted_risk: float = 0.02
    hopes: Mapping[str, Hope] = field(default_factory=dict)
    rules: Rules = DEFAULT_RULES

    def __post_init__(self) -> None:
        if not isinstance(self.consented_cycles, int) or self.consented_cycles < 0:
            remedy = "Enter how many cycles the owner approved in writing"
            raise BadValue("cycles approved", self.consented_cycles, "a whole number, 0 or more", remedy)
        if self.rested is not None:
            to_float(self.rested, "hour", field="rest so far", low=0, high=10_000)
        if self.proposal is not None:
            check_one_change(self.done_with, self.proposal)


@dataclass(frozen=True)
class Proposal:
    """The next cycle: what it is done with, which one thing changes, in words."""

    conditions: Conditions
    changed: Lever | None
    words: str


@dataclass(frozen=True, kw_only=True)
class ReviewPlan(Plan):
    """What changed, what the rules say, and what comes next.

    Attributes
    ----------
    decision : ReviewDecision
    outcomes : tuple of Outcome
        One for each rule.
    comparisons : tuple of Comparison
        Planned beside measured.
    not_measured : tuple of PlannedValue
    sizes : tuple of EdgeChange
    thicknesses : dict of str to Measured
        After less before, by place.
    mass_change : Measured or None
        In percent of the mass before.
    courses : tuple of DefectCourse
    proposal : Proposal or None
        For the next cycle; None when there is to be none.  On hold it is what consent is asked for.
    account : Account or None
        What the treatment has cost so far, as planned, with the sizes as measured.
    """

    decision: ReviewDecision
    outcomes: tuple[Outcome, ...]
    comparisons: tuple[Comparison, ...] = ()
    not_measured: tuple[PlannedValue, ...] = ()
    sizes: tuple[EdgeChange, ...] = ()
    thicknesses: Mapping[str, Measured] = field(default_factory=dict)
    mass_change: Measured | None = None
    courses: tuple[DefectCourse, ...] = ()
    proposal: Proposal | None = None
    account: Account | None = None

    @property
    def may_repeat(self) -> bool:
        """Whether another cycle may begin."""
        return self.decision in _REPEATS


_REPEATS = (ReviewDecision.FEWER, ReviewDecision.CHANGED, ReviewDecision.REPEAT)


def plan_review(
    item: Item,
    before: Examination,
    after: Examination,
    courses: Sequence[DefectCourse],
    choices: ReviewChoices,
    *,
    planned_values: Sequence[PlannedValue] = (),
    measured: Mapping[str, Measured] | None = None,
    plans: Plans | None = None,
    cycle: int = 1,
    units: UnitChoice = MILLIMETRES,
) -> ReviewPlan:
    """Compare before and after, planned and measured, and decide by the written rules.

    Parameters
    ----------
    item : Item
    before, after : Examination
        The same readings at the same places, before treatment and after this cycle.
    courses : sequence of DefectCourse
        Every defect, seen before treatment and after each cycle.
    choices : ReviewChoices
    planned_values : sequence of PlannedValue
        Of the plans of this cycle.
    measured : mapping of str to Measured, optional
        What came out, by the name of the planned value.
    plans : mapping of (str, int) to sequence of PlannedValue, optional
        Of chamber and press of every cycle, for what the treatment has cost.
    cycle : int
        The cycle just finished, 1 or more.
    units : UnitChoice
        For the words.

    Returns
    -------
    ReviewPlan

    Raises
    ------
    BadValue
        A cycle below 1, or readings that cannot be.
    UnitMismatch
        A measured value of another kind than the planned one.
    """
    if not isinstance(cycle, int) or cycle < 1:
        raise BadValue("cycle", cycle, "1 or more", "Review a cycle that was carried out")
    compared, left = compare_all(planned_values, measured or {})
    sizes = compare_sizes(before, after)
    mass = _relative_mass(before.mass, after.mass)
    findings = Findings(
        cycle=cycle,
        courses=courses,
        sizes=sizes,
        comparisons=compared,
        mass_change=mass,
        marks=choices.marks,
        rested=choices.rested,
        consented_cycles=choices.consented_cycles,
        interval=None if item.format is Format.SHEET else choices.done_with.interval,
        chances=choices.chances,
        accepted_risk=choices.accepted_risk,
        hopes=choices.hopes if _is_of_spacing(choices) else {},
        next_account=None if plans is None else judge_next(plans, cycle, item),
    )
    outcomes = judge(findings, choices.rules)
    by_rules = decide(outcomes)
    proposal = _propose(by_rules, outcomes, choices)
    decision = _name_decision(by_rules, proposal)
    values = _values(findings, proposal, choices.rules)
    account = judge_treatment(plans, cycle, item, values) if plans is not None else None
    cautions = (*_cautions(findings, outcomes, by_rules, choices), *_cautions_of_doses(account))
    answer = _answer(decision, outcomes, proposal)
    return ReviewPlan(
        stage="review",
        cycle=cycle,
        verdict=worst((c.verdict for c in cautions), _verdict(decision, outcomes)),
        answer=answer,
        because=_because(decision, outcomes, answer),
        values=values,
        cautions=cautions,
        steps=_steps(decision, choices),
        assumptions=_assumptions(outcomes),
        decision=decision,
        outcomes=outcomes,
        comparisons=compared,
        not_measured=left,
        sizes=sizes,
        thicknesses=_thickness_changes(before, after),
        mass_change=mass,
        courses=tuple(courses),
        proposal=proposal,
        account=account,
    )


def _cautions_of_doses(account: Account | None) -> list[Caution]:
    if account is None:
        return []
    over = account.say_over()
    return [*([Caution(Verdict.CARE, over)] if over else []), *caution_of_unknown(account)]


def _is_of_spacing(choices: ReviewChoices) -> bool:
    """Tell whether the next cycle changes nothing but the spacing, for which alone the hopes were judged."""
    if choices.proposal is None:
        return True
    return check_one_change(choices.done_with, choices.proposal) in (None, Lever.SOFTNESS)


def _caution_of_cost(outcomes: Sequence[Outcome], findings: Findings) -> list[Caution]:
    """Say which limits the next cycle would pass, before it is begun."""
    if findings.next_account is None or not findings.next_account.over:
        return []
    return [Caution(Verdict.CARE, o.reason, o.source) for o in outcomes if o.rule == COST]


def _thickness_changes(before: Examination, after: Examination) -> dict[str, Measured]:
    if before.thicknesses is None or after.thicknesses is None:
        return {}
    return compare_thicknesses(before.thicknesses, after.thicknesses)


def _relative_mass(before: Measured | None, after: Measured | None) -> Measured | None:
    if before is None or after is None:
        return None
    start = to_float(before.value, "g", field="mass before", low=0.1)
    change = subtract_readings(after, before)
    parts = tuple(Component(c.cause, c.u / Q_(start, "g"), c.dof) for c in change.components)
    return in_percent(Measured((change.value / Q_(start, "g")).to(""), parts, after.source))


def _propose(
    by_rules: ReviewDecision, outcomes: Sequence[Outcome], choices: ReviewChoices
) -> Proposal | None:
    """Build the next cycle; on hold, the one that consent would be asked for."""
    if by_rules in (ReviewDecision.STOP, ReviewDecision.REFER):
        return None
    if choices.proposal is not None:
        changed = check_one_change(choices.done_with, choices.proposal)
        return Proposal(choices.proposal, changed, say_change(choices.done_with, choices.proposal, changed))
    keep = any(outcome.says is ReviewDecision.REPEAT for outcome in outcomes)
    interval = choices.done_with.interval
    wider = None if keep or interval is None else next_rung(interval, choices.rules.ladder)
    if wider is None:
        return Proposal(choices.done_with, None, "Everything as in the last cycle.")
    conditions = replace(choices.done_with, interval=wider)
    return Proposal(conditions, Lever.SOFTNESS, say_change(choices.done_with, conditions, Lever.SOFTNESS))


def _name_decision(by_rules: ReviewDecision, proposal: Proposal | None) -> ReviewDecision:
    """Name the repeat by what the proposal changes."""
    if by_rules not in _REPEATS or proposal is None:
        return by_rules
    if proposal.changed is None:
        return ReviewDecision.REPEAT
    return (
        by_rules
        if by_rules is ReviewDecision.FEWER and proposal.changed is Lever.SOFTNESS
        else ReviewDecision.CHANGED
    )


def _is_reached(outcomes: Sequence[Outcome]) -> bool:
    """Tell whether the only thing against another cycle is that nothing is left to gain."""
    against = [o.rule for o in outcomes if o.says in (ReviewDecision.STOP, ReviewDecision.REFER)]
    return "something left to gain" in against and not {"new marks", "no defect worse"} & set(against)


_HARMED = frozenset(("new marks", "no defect worse", "growth of the sheet", "shortening of the sheet"))
"""Rules that stop a treatment because the item has suffered; the others only say that enough was done."""


def _verdict(decision: ReviewDecision, outcomes: Sequence[Outcome]) -> Verdict:
    if decision in _REPEATS or (decision is ReviewDecision.STOP and _is_reached(outcomes)):
        return Verdict.GO
    is_harmed = any(o.rule in _HARMED for o in outcomes if o.says is ReviewDecision.STOP)
    return Verdict.STOP if decision is ReviewDecision.REFER or is_harmed else Verdict.CARE


def _answer(decision: ReviewDecision, outcomes: Sequence[Outcome], proposal: Proposal | None) -> str:
    said = [o for o in outcomes if o.says is decision]
    if decision is ReviewDecision.REFER:
        return f"Refer. {said[0].reason}"
    if decision is ReviewDecision.STOP:
        if _is_reached(outcomes):
            reason = next(o.reason for o in outcomes if o.rule == "something left to gain")
            return f"Stop: the goal is reached. {reason} Go on to the write-up."
        return f"Stop: no further cycle. {said[0].reason} Go on to the write-up."
    if decision is ReviewDecision.HOLD:
        first = "; ".join(dict.fromkeys(o.first for o in said))
        asked = f" The next cycle would then be: {_small(proposal.words)}" if proposal else ""
        return f"Hold. First {first}.{asked}"
    words = proposal.words if proposal else ""
    return f"{decision.value.capitalize()}. {words}"


def _small(words: str) -> str:
    """Begin a sentence inside another one."""
    return words[0].lower() + words[1:]


def _because(decision: ReviewDecision, outcomes: Sequence[Outcome], answer: str) -> str:
    """Give the findings that bear on the decision and were not said in the answer."""
    shown = {"something left to gain", "gain of the last cycle", "growth of the sheet"}
    if decision in _REPEATS:
        shown |= {"next rung of the ladder", "planned beside measured", REACH}
    if decision is ReviewDecision.HOLD:
        shown |= {o.rule for o in outcomes if o.says is decision}
    return " ".join(o.reason for o in outcomes if o.rule in shown and o.reason not in answer)


_CHANGE_OF = {"width": facts.CHANGE_OF_WIDTH, "height": facts.CHANGE_OF_HEIGHT}


def _values(findings: Findings, proposal: Proposal | None, rules: Rules) -> tuple[PlannedValue, ...]:
    values = [
        planned(
            _CHANGE_OF[size.edge].of(size.place),
            size.relative,
            limit=rules.most_growth.value,
            limit_source=rules.most_growth.source,
        )
        for size in findings.sizes
    ]
    if findings.mass_change is not None:
        limit = rules.most_extra_mass
        values.append(
            planned(
                facts.CHANGE_OF_MASS,
                findings.mass_change,
                limit=limit.value,
                limit_source=limit.source,
            )
        )
    gain = total_gain(findings.courses, findings.cycle)
    if gain is not None:
        values.append(planned_count(facts.GRADES_GAINED, gain, source="defects"))
    return (*values, *(next_values(proposal.conditions) if proposal else ()))


def _cautions(
    findings: Findings, outcomes: Sequence[Outcome], by_rules: ReviewDecision, choices: ReviewChoices
) -> tuple[Caution, ...]:
    cautions = [Caution(Verdict.STOP, o.reason, o.source) for o in outcomes if o.says is ReviewDecision.REFER]
    if findings.marks or any(o.rule == "no defect worse" and o.says for o in outcomes):
        words = "New damage is an incident: photograph it, write down how it came about, and tell the owner."
        cautions.append(Caution(Verdict.STOP, words, "aic-commentaries"))
    edges = [o for o in outcomes if o.rule.endswith("of the sheet") and "may be" in o.reason]
    cautions += [
        Caution(Verdict.CARE, f"{o.reason} Read more often or with a finer scale.", o.source) for o in edges
    ]
    off = [c for c in findings.comparisons if c.agreement.is_off]
    if off:
        words = "Some readings are not as planned: the next plan is off by as much until the reason is known."
        cautions.append(Caution(Verdict.CARE, words, "memory"))
    if choices.proposal is not None:
        cautions += _proposal_cautions(findings, outcomes, choices)
    if by_rules in (*_REPEATS, ReviewDecision.HOLD):
        cautions += _caution_of_cost(outcomes, findings)
    if by_rules in _REPEATS:
        words = (
            "A repeat brings the same hazards again: damp and mould, a heated platen, dust, blades. Local "
            "codes and licensed or professional practice come first; where in doubt, stop and refer."
        )
        cautions.append(Caution(Verdict.GO, words))
    words = "Change of size, loss of tooth and change of gloss are permanent; they add up over the cycles."
    cautions.append(Caution(Verdict.GO, words, "munoz-vinas2009"))
    return tuple(cautions)


def _proposal_cautions(
    findings: Findings, outcomes: Sequence[Outcome], choices: ReviewChoices
) -> list[Caution]:
    """Say where the operator's own proposal leaves the rules."""
    proposal = choices.proposal or Conditions()
    old, new = choices.done_with.interval, proposal.interval
    if old is None or new is None or new <= old:
        return []
    said = [o.reason for o in outcomes if o.says is ReviewDecision.REPEAT]
    cautions = [Caution(Verdict.CARE, f"The rules would keep the spacing. {r}") for r in said]
    rung = next_rung(old, choices.rules.ladder)
    if rung is not None and new > rung:
        words = f"Every {new} leaves skips a rung: after every {old} comes every {rung}."
        cautions.append(Caution(Verdict.CARE, words))
    return cautions


_LOOK = "Same lights; new marks, rust, odour; edges at rest"


def _steps(decision: ReviewDecision, choices: ReviewChoices) -> tuple[PlannedStep, ...]:
    rules = choices.rules
    least = float(rules.least_rest.value.to("hour").magnitude)
    done = 0.0 if choices.rested is None else float(choices.rested.to("hour").magnitude)
    again = PlannedStep(
        "measure again",
        minutes(30),
        True,
        note="Thickness, width, height and mass at the same places; the same lights; look for new marks",
    )
    rest = PlannedStep(
        "rest at room conditions",
        hours(max(least - done, 0.0)),
        False,
        note="Under light weight, in the dark",
    )
    resting = (rest,) if least > done else ()
    if decision in _REPEATS:
        look = PlannedStep("look over before the next cycle", minutes(10), True, note=_LOOK)
        return (*resting, again) if resting else (look,)
    if decision is ReviewDecision.HOLD:
        ask = PlannedStep("settle what holds the treatment", minutes(30), True, note="Write the answer down")
        return (*resting, ask, again)
    if decision is ReviewDecision.REFER:
        tell = PlannedStep(
            "tell the owner and refer", minutes(45), True, note="With photographs and this record"
        )
        return (tell,)
    return (*resting, *_follow_up(rules))


def _follow_up(rules: Rules) -> tuple[PlannedStep, ...]:
    steps = []
    past = 0.0
    for check in rules.follow_up:
        due = float(check.value.to("hour").magnitude)
        name = f"follow-up after {due / 24:.0f} days"
        steps.append(PlannedStep(f"wait for the {name}", hours(due - past), False))
        steps.append(PlannedStep(name, minutes(15), True, note="Warp, odour, rust; edges at rest"))
        past = due
    return tuple(steps)


def _assumptions(outcomes: Sequence[Outcome]) -> tuple[Assumption, ...]:
    across, along = PERMANENT_CHANGE["across"], PERMANENT_CHANGE["along"]
    low, high, short = (say(q, "percent") for q in (across.low, across.high, -1 * along.low))
    published = f"{low} to {high} larger across the grain, up to {short} shorter along it"
    given = [
        Assumption("readings before and after", "independent, also with one instrument", "memory"),
        Assumption("size of pressed paper, published", published, "munoz-vinas2009"),
        Assumption(
            "gain of a cycle", "grade of each defect times its size as a share of the first", "memory"
        ),
    ]
    said = (Assumption(f"rule: {o.rule}", o.reason, o.source, key=o.word) for o in outcomes)
    return (*given, *said)
