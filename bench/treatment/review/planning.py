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
    Notice,
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
    in_percent,
    subtract_readings,
    total_gain,
)
from bench.treatment.review.judges import (
    AGREEMENT,
    COST,
    GAIN,
    GROWTH,
    LEFT,
    MARKS,
    REACH,
    RUNG,
    SHORTENING,
    WORSE,
    Findings,
    Outcome,
    decide,
    judge,
    next_rung,
)
from bench.treatment.review.levers import Conditions, Lever, check_one_change, next_values, say_change
from bench.treatment.review.rules import DEFAULT_RULES, ReviewDecision, Rules
from bench.uncertainty import Measured
from bench.units import MILLIMETRES, Q_, Quantity, UnitChoice, lower_first, say, to_float

_REFERRED = Notice("review-refers", Verdict.STOP, "{reason}")
_NEW_DAMAGE = Notice(
    "new-damage",
    Verdict.STOP,
    "New damage is an incident: photograph it, write down how it came about, and tell the owner.",
    "aic-commentaries",
)
_EDGE_IN_DOUBT = Notice(
    "edge-may-be-past-limit", Verdict.CARE, "{reason} Read more often or with a finer scale."
)
_NOT_AS_PLANNED = Notice(
    "not-as-planned",
    Verdict.CARE,
    "Some readings are not as planned: the next plan is off by as much until the reason is known.",
    "memory",
)
_KEEP_THE_SPACING = Notice("rules-keep-spacing", Verdict.CARE, "The rules would keep the spacing. {reason}")
_RUNG_SKIPPED = Notice(
    "rung-skipped",
    Verdict.CARE,
    "Every {new} leaves skips a rung: after every {old} comes every {rung}.",
)
_NEXT_COSTS = Notice("next-cycle-costs", Verdict.CARE, "{reason}")
_HAZARDS_AGAIN = Notice(
    "hazards-again",
    Verdict.GO,
    "A repeat brings the same hazards again: damp and mould, a heated platen, dust, blades. Local "
    "codes and licensed or professional practice come first; where in doubt, stop and refer.",
)
_PERMANENT = Notice(
    "change-is-permanent",
    Verdict.GO,
    "Change of size, loss of tooth and change of gloss are permanent; they add up over the cycles.",
    "munoz-vinas2009",
)
_LIMITS_PASSED = Notice("limits-passed", Verdict.CARE, "{over}")


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
        By which is decided.
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


def approve(approved: int, cycle: int, *, agreed: bool) -> int:
    """Give how many cycles are approved, once it is said whether the owner agreed to one after this one.

    Examples
    --------
    >>> approve(1, 1, agreed=True), approve(3, 1, agreed=True), approve(3, 1, agreed=False)
    (2, 3, 1)
    """
    return max(approved, cycle + 1) if agreed else min(approved, cycle)


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
        What the rules come to.
    outcomes : tuple of Outcome
        One for each rule.
    comparisons : tuple of Comparison
        Planned beside measured.
    not_measured : tuple of PlannedValue
        Planned, and not measured.
    sizes : tuple of EdgeChange
        Of every edge that was read before and after.
    mass_change : Measured or None
        In percent of the mass before.
    courses : tuple of DefectCourse
        Every defect through the treatment.
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
    mass_change: Measured | None = None
    courses: tuple[DefectCourse, ...] = ()
    proposal: Proposal | None = None
    account: Account | None = None


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
        As described.
    before, after : Examination
        The same readings at the same places, before treatment and after this cycle.
    courses : sequence of DefectCourse
        Every defect, seen before treatment and after each cycle.
    choices : ReviewChoices
        What is known beside the readings, and what is proposed.
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
        mass_change=mass,
        courses=tuple(courses),
        proposal=proposal,
        account=account,
    )


def _cautions_of_doses(account: Account | None) -> list[Caution]:
    if account is None:
        return []
    over = account.say_over()
    return [*([_LIMITS_PASSED(over=over)] if over else []), *caution_of_unknown(account)]


def _by_rule(caution: Caution, outcome: Outcome) -> Caution:
    """Give a caution the source of the rule that raised it."""
    return replace(caution, source=outcome.source)


def _is_of_spacing(choices: ReviewChoices) -> bool:
    """Tell whether the next cycle changes nothing but the spacing, for which alone the hopes were judged."""
    if choices.proposal is None:
        return True
    return check_one_change(choices.done_with, choices.proposal) in (None, Lever.SOFTNESS)


def _caution_of_cost(outcomes: Sequence[Outcome], findings: Findings) -> list[Caution]:
    """Say which limits the next cycle would pass, before it is begun."""
    if findings.next_account is None or not findings.next_account.over:
        return []
    return [_by_rule(_NEXT_COSTS(reason=o.reason), o) for o in outcomes if o.rule == COST]


def _relative_mass(before: Measured | None, after: Measured | None) -> Measured | None:
    if before is None or after is None:
        return None
    start = to_float(before.value, "g", field="mass before", low=0.1)
    change = subtract_readings(after, before)
    parts = tuple(replace(c, u=c.u / Q_(start, "g")) for c in change.components)
    return in_percent(Measured((change.value / Q_(start, "g")).to(""), parts, after.source))


def _propose(
    by_rules: ReviewDecision, outcomes: Sequence[Outcome], choices: ReviewChoices
) -> Proposal | None:
    """Build the next cycle; on hold, the one that consent would be asked for."""
    if by_rules in (ReviewDecision.STOP, ReviewDecision.REFER):
        return None
    done, conditions = choices.done_with, choices.proposal
    if conditions is None:
        keep = any(outcome.says is ReviewDecision.REPEAT for outcome in outcomes)
        wider = None if keep or done.interval is None else next_rung(done.interval, choices.rules.ladder)
        conditions = done if wider is None else replace(done, interval=wider)
    changed = check_one_change(done, conditions)
    return Proposal(conditions, changed, say_change(done, conditions, changed))


def _name_decision(by_rules: ReviewDecision, proposal: Proposal | None) -> ReviewDecision:
    """Name the repeat by what the proposal changes."""
    if not by_rules.is_repeat or proposal is None:
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
    return LEFT in against and not {MARKS, WORSE} & set(against)


_HARMED = frozenset((MARKS, WORSE, GROWTH, SHORTENING))
"""Rules that stop a treatment because the item has suffered; the others only say that enough was done."""


def _verdict(decision: ReviewDecision, outcomes: Sequence[Outcome]) -> Verdict:
    if decision.is_repeat or (decision is ReviewDecision.STOP and _is_reached(outcomes)):
        return Verdict.GO
    is_harmed = any(o.rule in _HARMED for o in outcomes if o.says is ReviewDecision.STOP)
    return Verdict.STOP if decision is ReviewDecision.REFER or is_harmed else Verdict.CARE


def _answer(decision: ReviewDecision, outcomes: Sequence[Outcome], proposal: Proposal | None) -> str:
    said = [o for o in outcomes if o.says is decision]
    if decision is ReviewDecision.REFER:
        return f"Refer. {said[0].reason}"
    if decision is ReviewDecision.STOP:
        if _is_reached(outcomes):
            reason = next(o.reason for o in outcomes if o.rule == LEFT)
            return f"Stop: the goal is reached. {reason} Go on to the write-up."
        return f"Stop: no further cycle. {said[0].reason} Go on to the write-up."
    if decision is ReviewDecision.HOLD:
        first = "; ".join(dict.fromkeys(o.first for o in said))
        asked = f" The next cycle would then be: {lower_first(proposal.words)}" if proposal else ""
        return f"Hold. First {first}.{asked}"
    words = proposal.words if proposal else ""
    return f"{decision.value.capitalize()}. {words}"


def _because(decision: ReviewDecision, outcomes: Sequence[Outcome], answer: str) -> str:
    """Give the findings that bear on the decision and were not said in the answer."""
    shown = {LEFT, GAIN, GROWTH}
    if decision.is_repeat:
        shown |= {RUNG, AGREEMENT, REACH}
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
    cautions = [_by_rule(_REFERRED(reason=o.reason), o) for o in outcomes if o.says is ReviewDecision.REFER]
    if findings.marks or any(o.rule == WORSE and o.says for o in outcomes):
        cautions.append(_NEW_DAMAGE())
    cautions += [_by_rule(_EDGE_IN_DOUBT(reason=o.reason), o) for o in outcomes if o.may_be_past]
    if any(c.agreement.is_off for c in findings.comparisons):
        cautions.append(_NOT_AS_PLANNED())
    if choices.proposal is not None:
        cautions += _proposal_cautions(findings, outcomes, choices)
    if by_rules.is_repeat or by_rules is ReviewDecision.HOLD:
        cautions += _caution_of_cost(outcomes, findings)
    if by_rules.is_repeat:
        cautions.append(_HAZARDS_AGAIN())
    return (*cautions, _PERMANENT())


def _proposal_cautions(
    findings: Findings, outcomes: Sequence[Outcome], choices: ReviewChoices
) -> list[Caution]:
    """Say where the operator's own proposal leaves the rules."""
    proposal = choices.proposal or Conditions()
    old, new = choices.done_with.interval, proposal.interval
    if old is None or new is None or new <= old:
        return []
    cautions = [_KEEP_THE_SPACING(reason=o.reason) for o in outcomes if o.says is ReviewDecision.REPEAT]
    rung = next_rung(old, choices.rules.ladder)
    if rung is not None and new > rung:
        cautions.append(_RUNG_SKIPPED(new=new, old=old, rung=rung))
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
    if decision.is_repeat:
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
