"""What each written rule says about a finished cycle, and the decision that follows.

Every rule looks at the findings by itself; the gravest answer decides.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from bench.physics.bearing.spots import Hope
from bench.treatment.buffering.planning import say_chance
from bench.treatment.doses import AGEING, Account
from bench.treatment.interleaves import LADDER
from bench.treatment.review.comparison import (
    SEVERITIES,
    Agreement,
    Comparison,
    DefectCourse,
    EdgeChange,
    total_gain,
)
from bench.treatment.review.rules import DEFAULT_RULES, ReviewDecision, Rules, Threshold
from bench.uncertainty import Measured
from bench.units import Quantity, say, to_float, unit_label

# The graver decision of two rules wins.
_GRAVITY = (
    ReviewDecision.FEWER,
    ReviewDecision.CHANGED,
    ReviewDecision.REPEAT,
    ReviewDecision.HOLD,
    ReviewDecision.STOP,
    ReviewDecision.REFER,
)


REACH, COST = "within reach of another cycle", "cost of another cycle"
"""Names of two rules that the review speaks of by themselves."""


@dataclass(frozen=True)
class Findings:
    """What the rules go by.

    Attributes
    ----------
    cycle : int
        The cycle just finished.
    courses, sizes, comparisons : sequence
        Defects, changes of size, planned beside measured.
    mass_change : Measured or None
        In percent of the mass before treatment.
    marks : tuple of str
        New marks seen after this cycle.
    rested : Quantity or None
        Time at room conditions since the cycle ended.
    consented_cycles : int
        How many cycles the owner has approved in writing.
    interval : int or None
        Leaves between sheets in this cycle; None if the item has no interleaves between leaves.
    chances : mapping of int to float
        Chance that spine and staples stay free, by leaves between sheets.
    accepted_risk : float
        Chance of loading spine or staple that is accepted.
    hopes : mapping of str to Hope
        How likely the next cycle relaxes each defect, by its name; what was not judged is left out.
    next_account : Account or None
        What the treatment would have cost after one more cycle like this one; None if that is not known.
    """

    cycle: int
    courses: Sequence[DefectCourse] = ()
    sizes: Sequence[EdgeChange] = ()
    comparisons: Sequence[Comparison] = ()
    mass_change: Measured | None = None
    marks: tuple[str, ...] = ()
    rested: Quantity | None = None
    consented_cycles: int = 1
    interval: int | None = None
    chances: Mapping[int, float] = field(default_factory=dict)
    accepted_risk: float = 0.02
    hopes: Mapping[str, Hope] = field(default_factory=dict)
    next_account: Account | None = None


@dataclass(frozen=True)
class Outcome:
    """What one rule says.

    Attributes
    ----------
    rule : str
        Its name.
    says : ReviewDecision or None
        What it decides by itself; None if it leaves another cycle open.
    reason : str
        The finding, in a sentence.
    source : str
        Of its threshold.
    first : str
        What settles it, if it holds the treatment.
    minds : bool
        Whether it leaves another cycle open and still has something against it, to be weighed up.
    """

    rule: str
    says: ReviewDecision | None
    reason: str
    source: str
    first: str = ""
    minds: bool = False

    @property
    def word(self) -> str:
        """What it says in a word."""
        if self.says is not None:
            return self.says.value
        return "mind it" if self.minds else "open"


def judge(findings: Findings, rules: Rules = DEFAULT_RULES) -> tuple[Outcome, ...]:
    """Ask every rule, in the order in which they are listed to the operator."""
    return tuple(rule(findings, rules) for rule in RULES)


def decide(outcomes: Sequence[Outcome]) -> ReviewDecision:
    """Give the gravest decision; without any, the sheets may be spread one rung wider."""
    said = [outcome.says for outcome in outcomes if outcome.says is not None]
    return max(said, key=_GRAVITY.index, default=ReviewDecision.FEWER)


_WORTH_SAYING = 0.05  # chance of being past a limit below which nothing is said; one-sided 95 %


def _plain(rule: Threshold, unit: str) -> str:
    """Write a threshold as it was set, without digits that nobody chose."""
    return f"{float(rule.value.to(unit).magnitude):g} {unit_label(unit)}"


def _judge_marks(findings: Findings, rules: Rules) -> Outcome:
    name, source = "new marks", "memory"
    refer = [m for m in findings.marks if m in rules.refer_marks]
    if refer:
        reason = f"New: {', '.join(refer)}. Someone qualified must see it before anything else is done."
        return Outcome(name, ReviewDecision.REFER, reason, source)
    if findings.marks:
        return Outcome(
            name, ReviewDecision.STOP, f"New: {', '.join(findings.marks)}. The treatment made it.", source
        )
    return Outcome(name, None, "No new mark was seen.", source)


def _judge_worse(findings: Findings, rules: Rules) -> Outcome:
    name, source = "no defect worse", "memory"
    gains = {course.name: course.gain(findings.cycle) for course in findings.courses}
    worse = [defect for defect, gain in gains.items() if gain is not None and gain < 0]
    if worse:
        reason = f"Worse than before this cycle: {'; '.join(worse)}. Record it and tell the owner."
        return Outcome(name, ReviewDecision.STOP, reason, source)
    return Outcome(name, None, "No defect became worse.", source)


def _judge_leftover(findings: Findings, rules: Rules) -> Outcome:
    name, source = "something left to gain", rules.tolerated_severity.source
    counting = [course for course in findings.courses if course.counts]
    unseen = _unseen(findings)
    if unseen:
        reason = f"Not looked at again after this cycle: {'; '.join(c.name for c in unseen)}."
        return Outcome(name, ReviewDecision.HOLD, reason, source, _look_again(unseen))
    tolerated = float(rules.tolerated_severity.value.magnitude)
    left = _left_over(findings, rules)
    if left:
        reason = f"Left above grade {tolerated:g} ({SEVERITIES[int(tolerated)]}): "
        return Outcome(name, None, reason + "; ".join(c.name for c in left) + ".", source)
    reason = f"No defect that pressing could help is left above grade {tolerated:g}."
    if not counting:
        reason = "No defect in scope could be helped by pressing."
    return Outcome(name, ReviewDecision.STOP, reason, source)


def _left_over(findings: Findings, rules: Rules) -> list[DefectCourse]:
    """Give the defects that count and are still above the grade that is left alone."""
    tolerated = float(rules.tolerated_severity.value.magnitude)
    seen = ((course, course.after(findings.cycle)) for course in findings.courses if course.counts)
    return [course for course, sight in seen if sight is not None and sight.severity > tolerated]


def _judge_reach(findings: Findings, rules: Rules) -> Outcome:
    name, source = REACH, "memory"
    left = _left_over(findings, rules)
    if _unseen(findings):
        return Outcome(name, None, "Not judged: a defect was not looked at again.", source)
    if not left:
        return Outcome(name, None, "Nothing is left for another cycle to reach.", source)
    beyond = [c for c in left if findings.hopes.get(c.name) is Hope.UNLIKELY]
    named = "; ".join(course.name for course in beyond)
    if len(beyond) == len(left):
        reason = f"Another cycle is unlikely to relax what is left: {named}."
        return Outcome(name, ReviewDecision.STOP, reason, source)
    if not any(course.name in findings.hopes for course in left):
        reason = "Not judged: that takes readings of thickness, and a cycle as warm and as damp as this one."
        return Outcome(name, None, reason, source)
    reason = f"Another cycle may relax {len(left) - len(beyond)} of the {len(left)} defects left"
    return Outcome(name, None, f"{reason}; unlikely: {named}." if beyond else f"{reason}.", source)


def _judge_cost(findings: Findings, rules: Rules) -> Outcome:
    name, source = COST, "memory"
    if findings.next_account is None:
        return Outcome(name, None, "What another cycle would cost is not known: no plan is saved.", source)
    over = findings.next_account.over
    said = "; ".join(f"{dose}, {reading.say()}" for dose, reading in over)
    if any(dose == AGEING for dose, _ in over):
        return Outcome(name, ReviewDecision.STOP, f"Another cycle like this one would pass: {said}.", source)
    if over:
        reason = f"Another cycle like this one would bring it to: {said}."
        return Outcome(name, None, reason, source, minds=True)
    return Outcome(name, None, "Another cycle like this one would stay within every limit.", source)


def _unseen(findings: Findings) -> list[DefectCourse]:
    """Give the defects that count and were not looked at after every cycle."""
    cycles = range(1, findings.cycle + 1)
    return [c for c in findings.courses if c.counts and any(c.after(n) is None for n in cycles)]


def _look_again(courses: Sequence[DefectCourse]) -> str:
    return f"look again at {'; '.join(course.name for course in courses)}"


def _judge_growth(findings: Findings, rules: Rules) -> Outcome:
    name, rule = "growth of the sheet", rules.most_growth
    if not findings.sizes:
        reason = "Width and height were not read before and after at one place."
        return Outcome(name, ReviewDecision.HOLD, reason, rule.source, "read width and height again")
    most = max(findings.sizes, key=lambda s: float(s.relative.value.magnitude))
    return _judge_edge(name, most, most.relative, rule, "grew by")


def _judge_shortening(findings: Findings, rules: Rules) -> Outcome:
    name, rule = "shortening of the sheet", rules.most_shortening
    if not findings.sizes:
        return Outcome(name, None, "Not read; see the rule above.", rule.source)
    most = min(findings.sizes, key=lambda s: float(s.relative.value.magnitude))
    return _judge_edge(name, most, most.relative.times(-1), rule, "became shorter by")


def _judge_edge(name: str, size: EdgeChange, change: Measured, rule: Threshold, verb: str) -> Outcome:
    limit = _plain(rule, "percent")
    shown = say(change.value, "percent", uncertainty=change.expanded())
    if float(change.value.magnitude) <= 0:
        words = f"No edge {verb.removesuffix(' by')} as read"
        return Outcome(name, None, f"{words} (limit {limit}).", rule.source)
    reason = f"{size.name.capitalize()}: {verb} {shown} in all; limit {limit}"
    if change.value >= rule.value:
        return Outcome(name, ReviewDecision.STOP, f"{reason}, which is reached.", rule.source)
    chance = change.chance_above(rule.value)
    if chance > _WORTH_SAYING:
        words = f"{reason}, past which it may be with a chance of {say_chance(chance)}."
        return Outcome(name, None, words, rule.source)
    return Outcome(name, None, f"{reason}.", rule.source)


def _judge_gain(findings: Findings, rules: Rules) -> Outcome:
    name, rule = "gain of the last cycle", rules.least_gain
    last = total_gain(findings.courses, findings.cycle)
    first = total_gain(findings.courses, 1)
    if last is None or first is None:
        reason = "The gain is not known: a defect that counts was not looked at after every cycle."
        return Outcome(name, ReviewDecision.HOLD, reason, rule.source, _look_again(_unseen(findings)))
    if last <= 0:
        reason = "This cycle improved nothing that counts: the same again would not either."
        return Outcome(name, ReviewDecision.STOP, reason, rule.source)
    if findings.cycle < 2:
        reason = f"The first cycle took away {last:.1f} grades in all; later cycles are held against that."
        return Outcome(name, None, reason, rule.source)
    share = 100 * last / first if first > 0 else 100.0
    least = float(rule.value.to("percent").magnitude)
    reason = (
        f"Cycle {findings.cycle} took away {last:.1f} grades, {share:.0f} % of the first cycle's "
        f"{first:.1f}; at least {least:.0f} % is asked."
    )
    # Grades are small whole numbers and shares of a length: a share equal to the limit must not
    # fall to rounding.
    return Outcome(name, None if share >= least - 1e-9 else ReviewDecision.STOP, reason, rule.source)


def _judge_cycles(findings: Findings, rules: Rules) -> Outcome:
    most = int(rules.most_cycles.value.magnitude)
    reason = f"{findings.cycle} of at most {most} cycles are done."
    says = ReviewDecision.STOP if findings.cycle >= most else None
    return Outcome("number of cycles", says, reason, rules.most_cycles.source)


def _judge_mass(findings: Findings, rules: Rules) -> Outcome:
    name, rule = "dry again", rules.most_extra_mass
    if findings.mass_change is None:
        return Outcome(
            name, None, "Not weighed before and after: judge by hand, not cool to the touch.", rule.source
        )
    change = findings.mass_change
    shown = say(change.value, "percent", uncertainty=change.expanded())
    reason = f"The mass changed by {shown}; up to {_plain(rule, 'percent')} more counts as dry."
    if change.value > rule.value:
        first = "let it rest on and weigh it again"
        return Outcome(name, ReviewDecision.HOLD, f"{reason} It still holds water.", rule.source, first)
    return Outcome(name, None, reason, rule.source)


def _judge_rest(findings: Findings, rules: Rules) -> Outcome:
    least = _plain(rules.least_rest, "hour")
    if findings.rested is None:
        reason = f"How long it rested is not recorded: rest it {least} before another cycle."
    else:
        rested = to_float(findings.rested, "hour", field="rest so far", low=0)
        enough = findings.rested >= rules.least_rest.value
        reason = f"Rested {rested:.0f} h at room conditions; at least {least} before another cycle"
        reason += "." if enough else ", so the next cycle waits."
    return Outcome("rest between cycles", None, reason, rules.least_rest.source)


def _judge_consent(findings: Findings, rules: Rules) -> Outcome:
    name, source = "consent of the owner", "aic-commentaries"
    if findings.consented_cycles > findings.cycle:
        reason = f"The owner approved {findings.consented_cycles} cycles in writing."
        return Outcome(name, None, reason, source)
    approved = "no cycle" if findings.consented_cycles < 1 else f"{findings.consented_cycles}"
    reason = (
        f"Another cycle needs the owner's written consent; approved so far: {approved}"
        f"{'' if findings.consented_cycles < 1 else ' in all'}."
    )
    return Outcome(
        name, ReviewDecision.HOLD, reason, source, "ask the owner for written consent to another cycle"
    )


def _judge_agreement(findings: Findings, rules: Rules) -> Outcome:
    name = "planned beside measured"
    low = [
        c.label
        for c in findings.comparisons
        if c.agreement is Agreement.LOWER and c.planned.fact.family in rules.held_values
    ]
    if low:
        reason = f"Lower than planned: {', '.join(low)}. Do not spread the sheets wider on this plan."
        return Outcome(name, ReviewDecision.REPEAT, reason, "memory")
    off = [f"{c.label} ({c.agreement})" for c in findings.comparisons if c.agreement.is_off]
    if off:
        return Outcome(name, None, f"Not as planned: {', '.join(off)}. Say why in the log.", "memory")
    if not any(c.agreement is Agreement.AGREES for c in findings.comparisons):
        words = "Nothing that was planned was measured with a known uncertainty."
        return Outcome(name, None, words, "memory")
    return Outcome(name, None, "What was measured agrees with the plan.", "memory")


def _judge_ladder(findings: Findings, rules: Rules) -> Outcome:
    name, source = "next rung of the ladder", "common-practice"
    if findings.interval is None:
        return Outcome(
            name, ReviewDecision.REPEAT, "No sheets lie between leaves, so none can be left out.", source
        )
    following = next_rung(findings.interval, rules.ladder)
    if following is None:
        reason = f"Every {findings.interval} leaves is the last rung of the ladder."
        return Outcome(name, ReviewDecision.REPEAT, reason, source)
    chance = findings.chances.get(following)
    if chance is None:
        reason = f"The chance that every {following} leaves keeps spine and staples free was not worked out."
        return Outcome(name, ReviewDecision.REPEAT, reason, source)
    reason = f"Every {following} leaves keeps spine and staples free with a chance of {say_chance(chance)}"
    if chance < 1 - findings.accepted_risk:
        asked = say_chance(1 - findings.accepted_risk)
        return Outcome(
            name, ReviewDecision.REPEAT, f"{reason}; {asked} is asked, so keep the spacing.", source
        )
    return Outcome(name, None, f"{reason}.", source)


def next_rung(interval: int, ladder: Sequence[int] = LADDER) -> int | None:
    """Give the next wider spacing of the ladder, or None at its end.

    Examples
    --------
    >>> next_rung(6), next_rung(8), next_rung(10)
    (8, 10, None)
    """
    return next((rung for rung in ladder if rung > interval), None)


Judge = Callable[[Findings, Rules], Outcome]
RULES: tuple[Judge, ...] = (
    _judge_marks,
    _judge_worse,
    _judge_leftover,
    _judge_reach,
    _judge_growth,
    _judge_shortening,
    _judge_gain,
    _judge_cycles,
    _judge_cost,
    _judge_mass,
    _judge_rest,
    _judge_consent,
    _judge_agreement,
    _judge_ladder,
)
