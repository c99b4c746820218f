"""What each written rule says about a finished cycle, and the decision that follows.

Every rule looks at the findings by itself; the gravest answer decides.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

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


MARKS, WORSE, LEFT = "new marks", "no defect worse", "something left to gain"
REACH, COST = "within reach of another cycle", "cost of another cycle"
GROWTH, SHORTENING = "growth of the sheet", "shortening of the sheet"
GAIN, AGREEMENT, RUNG = "gain of the last cycle", "planned beside measured", "next rung of the ladder"
"""Names of the rules that the review speaks of by themselves."""


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
    source : str
        Of its threshold.
    says : ReviewDecision or None
        What it decides by itself; None if it leaves another cycle open.
    reason : str
        The finding, in a sentence.
    first : str
        What settles it, if it holds the treatment.
    minds : bool
        Whether it leaves another cycle open and still has something against it, to be weighed up.
    may_be_past : bool
        Whether its limit is kept as read, and may be passed by the doubt of the readings.
    """

    rule: str
    source: str
    says: ReviewDecision | None
    reason: str
    first: str = ""
    minds: bool = False
    may_be_past: bool = False

    @property
    def word(self) -> str:
        """What it says in a word."""
        if self.says is not None:
            return self.says.value
        return "mind it" if self.minds else "open"


Tell = Callable[..., Outcome]
"""Makes the outcome of a rule from what it decides, the reason, and what :class:`Outcome` has beside them."""


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


def _judge_marks(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    refer = [m for m in findings.marks if m in rules.refer_marks]
    if refer:
        reason = f"New: {', '.join(refer)}. Someone qualified must see it before anything else is done."
        return tell(ReviewDecision.REFER, reason)
    if findings.marks:
        return tell(ReviewDecision.STOP, f"New: {', '.join(findings.marks)}. The treatment made it.")
    return tell(None, "No new mark was seen.")


def _judge_worse(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    gains = {course.name: course.gain(findings.cycle) for course in findings.courses}
    worse = [defect for defect, gain in gains.items() if gain is not None and gain < 0]
    if worse:
        reason = f"Worse than before this cycle: {'; '.join(worse)}. Record it and tell the owner."
        return tell(ReviewDecision.STOP, reason)
    return tell(None, "No defect became worse.")


def _judge_leftover(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    unseen = _unseen(findings)
    if unseen:
        reason = f"Not looked at again after this cycle: {'; '.join(c.name for c in unseen)}."
        return tell(ReviewDecision.HOLD, reason, _look_again(unseen))
    tolerated = float(rules.tolerated_severity.value.magnitude)
    left = _left_over(findings, rules)
    if left:
        reason = f"Left above grade {tolerated:g} ({SEVERITIES[int(tolerated)]}): "
        return tell(None, reason + "; ".join(c.name for c in left) + ".")
    if not any(course.counts for course in findings.courses):
        return tell(ReviewDecision.STOP, "No defect in scope could be helped by pressing.")
    return tell(ReviewDecision.STOP, f"No defect that pressing could help is left above grade {tolerated:g}.")


def _left_over(findings: Findings, rules: Rules) -> list[DefectCourse]:
    """Give the defects that count and are still above the grade that is left alone."""
    tolerated = float(rules.tolerated_severity.value.magnitude)
    seen = ((course, course.after(findings.cycle)) for course in findings.courses if course.counts)
    return [course for course, sight in seen if sight is not None and sight.severity > tolerated]


def _judge_reach(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    left = _left_over(findings, rules)
    if _unseen(findings):
        return tell(None, "Not judged: a defect was not looked at again.")
    if not left:
        return tell(None, "Nothing is left for another cycle to reach.")
    beyond = [c for c in left if findings.hopes.get(c.name) is Hope.UNLIKELY]
    named = "; ".join(course.name for course in beyond)
    if len(beyond) == len(left):
        return tell(ReviewDecision.STOP, f"Another cycle is unlikely to relax what is left: {named}.")
    if not any(course.name in findings.hopes for course in left):
        reason = "Not judged: that takes readings of thickness, and a cycle as warm and as damp as this one."
        return tell(None, reason)
    reason = f"Another cycle may relax {len(left) - len(beyond)} of the {len(left)} defects left"
    return tell(None, f"{reason}; unlikely: {named}." if beyond else f"{reason}.")


def _judge_cost(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    if findings.next_account is None:
        return tell(None, "What another cycle would cost is not known: no plan is saved.")
    over = findings.next_account.over
    said = "; ".join(f"{dose}, {reading.say()}" for dose, reading in over)
    if any(dose == AGEING for dose, _ in over):
        return tell(ReviewDecision.STOP, f"Another cycle like this one would pass: {said}.")
    if over:
        return tell(None, f"Another cycle like this one would bring it to: {said}.", minds=True)
    return tell(None, "Another cycle like this one would stay within every limit.")


def _unseen(findings: Findings) -> list[DefectCourse]:
    """Give the defects that count and were not looked at after every cycle."""
    cycles = range(1, findings.cycle + 1)
    return [c for c in findings.courses if c.counts and any(c.after(n) is None for n in cycles)]


def _look_again(courses: Sequence[DefectCourse]) -> str:
    return f"look again at {'; '.join(course.name for course in courses)}"


def _judge_growth(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    if not findings.sizes:
        reason = "Width and height were not read before and after at one place."
        return tell(ReviewDecision.HOLD, reason, "read width and height again")
    most = max(findings.sizes, key=lambda s: float(s.relative.value.magnitude))
    return _judge_edge(most, most.relative, rules.most_growth, "grew by", tell)


def _judge_shortening(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    if not findings.sizes:
        return tell(None, "Not read; see the rule above.")
    most = min(findings.sizes, key=lambda s: float(s.relative.value.magnitude))
    return _judge_edge(most, most.relative.times(-1), rules.most_shortening, "became shorter by", tell)


def _judge_edge(size: EdgeChange, change: Measured, rule: Threshold, verb: str, tell: Tell) -> Outcome:
    limit = _plain(rule, "percent")
    shown = say(change.value, "percent", uncertainty=change.expanded())
    if float(change.value.magnitude) <= 0:
        return tell(None, f"No edge {verb.removesuffix(' by')} as read (limit {limit}).")
    reason = f"{size.name.capitalize()}: {verb} {shown} in all; limit {limit}"
    if change.value >= rule.value:
        return tell(ReviewDecision.STOP, f"{reason}, which is reached.")
    chance = change.chance_above(rule.value)
    if chance > _WORTH_SAYING:
        words = f"{reason}, past which it may be with a chance of {say_chance(chance)}."
        return tell(None, words, may_be_past=True)
    return tell(None, f"{reason}.")


def _judge_gain(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    last = total_gain(findings.courses, findings.cycle)
    first = total_gain(findings.courses, 1)
    if last is None or first is None:
        reason = "The gain is not known: a defect that counts was not looked at after every cycle."
        return tell(ReviewDecision.HOLD, reason, _look_again(_unseen(findings)))
    if last <= 0:
        reason = "This cycle improved nothing that counts: the same again would not either."
        return tell(ReviewDecision.STOP, reason)
    if findings.cycle < 2:
        reason = f"The first cycle took away {last:.1f} grades in all; later cycles are held against that."
        return tell(None, reason)
    share = 100 * last / first if first > 0 else 100.0
    least = float(rules.least_gain.value.to("percent").magnitude)
    reason = (
        f"Cycle {findings.cycle} took away {last:.1f} grades, {share:.0f} % of the first cycle's "
        f"{first:.1f}; at least {least:.0f} % is asked."
    )
    # Grades are small whole numbers and shares of a length: a share equal to the limit must not
    # fall to rounding.
    return tell(None if share >= least - 1e-9 else ReviewDecision.STOP, reason)


def _judge_cycles(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    most = int(rules.most_cycles.value.magnitude)
    says = ReviewDecision.STOP if findings.cycle >= most else None
    return tell(says, f"{findings.cycle} of at most {most} cycles are done.")


def _judge_mass(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    rule, change = rules.most_extra_mass, findings.mass_change
    if change is None:
        return tell(None, "Not weighed before and after: judge by hand, not cool to the touch.")
    shown = say(change.value, "percent", uncertainty=change.expanded())
    reason = f"The mass changed by {shown}; up to {_plain(rule, 'percent')} more counts as dry."
    if change.value > rule.value:
        return tell(
            ReviewDecision.HOLD, f"{reason} It still holds water.", "let it rest on and weigh it again"
        )
    return tell(None, reason)


def _judge_rest(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    least = _plain(rules.least_rest, "hour")
    if findings.rested is None:
        return tell(None, f"How long it rested is not recorded: rest it {least} before another cycle.")
    rested = to_float(findings.rested, "hour", field="rest so far", low=0)
    waits = "" if findings.rested >= rules.least_rest.value else ", so the next cycle waits"
    reason = f"Rested {rested:.0f} h at room conditions; at least {least} before another cycle{waits}."
    return tell(None, reason)


def _judge_consent(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    approved = findings.consented_cycles
    if approved > findings.cycle:
        return tell(None, f"The owner approved {approved} cycles in writing.")
    so_far = "no cycle" if approved < 1 else f"{approved} in all"
    reason = f"Another cycle needs the owner's written consent; approved so far: {so_far}."
    return tell(ReviewDecision.HOLD, reason, "ask the owner for written consent to another cycle")


def _judge_agreement(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    low = [
        c.label
        for c in findings.comparisons
        if c.agreement is Agreement.LOWER and c.planned.fact.family in rules.held_values
    ]
    if low:
        reason = f"Lower than planned: {', '.join(low)}. Do not spread the sheets wider on this plan."
        return tell(ReviewDecision.REPEAT, reason)
    off = [f"{c.label} ({c.agreement})" for c in findings.comparisons if c.agreement.is_off]
    if off:
        return tell(None, f"Not as planned: {', '.join(off)}. Say why in the log.")
    if not any(c.agreement is Agreement.AGREES for c in findings.comparisons):
        return tell(None, "Nothing that was planned was measured with a known uncertainty.")
    return tell(None, "What was measured agrees with the plan.")


def _judge_ladder(findings: Findings, rules: Rules, tell: Tell) -> Outcome:
    if findings.interval is None:
        return tell(ReviewDecision.REPEAT, "No sheets lie between leaves, so none can be left out.")
    following = next_rung(findings.interval, rules.ladder)
    if following is None:
        return tell(
            ReviewDecision.REPEAT, f"Every {findings.interval} leaves is the last rung of the ladder."
        )
    chance = findings.chances.get(following)
    if chance is None:
        reason = f"The chance that every {following} leaves keeps spine and staples free was not worked out."
        return tell(ReviewDecision.REPEAT, reason)
    reason = f"Every {following} leaves keeps spine and staples free with a chance of {say_chance(chance)}"
    if chance < 1 - findings.accepted_risk:
        asked = say_chance(1 - findings.accepted_risk)
        return tell(ReviewDecision.REPEAT, f"{reason}; {asked} is asked, so keep the spacing.")
    return tell(None, f"{reason}.")


def next_rung(interval: int, ladder: Sequence[int] = LADDER) -> int | None:
    """Give the next wider spacing of the ladder, or None at its end.

    Examples
    --------
    >>> next_rung(6), next_rung(8), next_rung(10)
    (8, 10, None)
    """
    return next((rung for rung in ladder if rung > interval), None)


@dataclass(frozen=True)
class ReviewRule:
    """A written rule of the review.

    Attributes
    ----------
    name : str
        As it is listed to the operator.
    judge : callable
        ``judge(findings, rules, tell)`` gives what ``tell(says, reason, first)`` makes of its finding.
    source : str
        Key of its source, ``"common-practice"`` or ``"memory"``.
    threshold : str
        Field of :class:`~bench.treatment.review.rules.Rules` that it goes by, whose source then counts.
    """

    name: str
    judge: Callable[[Findings, Rules, Tell], Outcome]
    source: str = "memory"
    threshold: str = ""

    def __call__(self, findings: Findings, rules: Rules) -> Outcome:
        """Say what it makes of a cycle."""
        source = getattr(rules, self.threshold).source if self.threshold else self.source
        return self.judge(findings, rules, partial(Outcome, self.name, source))


RULES = (
    ReviewRule(MARKS, _judge_marks),
    ReviewRule(WORSE, _judge_worse),
    ReviewRule(LEFT, _judge_leftover, threshold="tolerated_severity"),
    ReviewRule(REACH, _judge_reach),
    ReviewRule(GROWTH, _judge_growth, threshold="most_growth"),
    ReviewRule(SHORTENING, _judge_shortening, threshold="most_shortening"),
    ReviewRule(GAIN, _judge_gain, threshold="least_gain"),
    ReviewRule("number of cycles", _judge_cycles, threshold="most_cycles"),
    ReviewRule(COST, _judge_cost),
    ReviewRule("dry again", _judge_mass, threshold="most_extra_mass"),
    ReviewRule("rest between cycles", _judge_rest, threshold="least_rest"),
    ReviewRule("consent of the owner", _judge_consent, "aic-commentaries"),
    ReviewRule(AGREEMENT, _judge_agreement),
    ReviewRule(RUNG, _judge_ladder, "common-practice"),
)
