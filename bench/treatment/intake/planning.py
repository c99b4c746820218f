"""Intake: treat, hold or refer, from gates whose reasons can be read, and under which conditions.

The decision is never an average: one gate that refers is enough, and only a written reason
overrides one, where it may be overridden at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from bench.errors import BadValue
from bench.item import Item
from bench.treatment import facts
from bench.treatment.conditions import (
    Condition,
    Kind,
    conditions_for,
    has_condition,
    highest_humidity,
    say_condition,
)
from bench.treatment.intake.consent import NO_CONSENT, Consent, say_consent
from bench.treatment.intake.defects import Defect, DefectJudgement, implied_findings, judge_defects
from bench.treatment.intake.gate_list import GATES, gate
from bench.treatment.intake.gates import Effect, Gate, GateFinding, findings_from_item, graver
from bench.treatment.intake.spot_tests import Result, TestResult, examination_steps, findings_from_tests
from bench.treatment.plan import Assumption, Caution, Notice, Plan, PlannedValue, Verdict, planned_count
from bench.units import lower_first

LEAST_WORDS = 6  # in the reason of an override, so that it says what was seen or done

_SET_ASIDE = Notice("conditions-set-aside", Verdict.CARE, "Set aside by a written reason: {conditions}")
_REASON_NOT_USED = Notice(
    "reason-not-used",
    Verdict.GO,
    "The reason given against {gate} is not used: that gate is open.",
)
_NO_LICENCE = Notice(
    "gates-are-no-licence",
    Verdict.GO,
    "These gates are aids to judgement, not a licence. Local codes and professional practice come first; "
    "what is rare, costly or in doubt goes to a conservator.",
)


class Decision(StrEnum):
    """What intake ends in."""

    TREAT = "treat"
    HOLD = "hold"
    REFER = "refer"


@dataclass(frozen=True)
class GateResult:
    """One gate as it was answered.

    Attributes
    ----------
    gate : Gate
        The question.
    finding : GateFinding or None
        None if nobody answered it.
    evidence : str
        Where the answer comes from.
    effect : Effect
        After an override.
    reason : str
        Why the gate acts; empty if it does not.
    override : str
        The written reason that goes on against it.
    """

    gate: Gate
    finding: GateFinding | None
    evidence: str
    effect: Effect
    reason: str = ""
    override: str = ""

    @property
    def is_met(self) -> bool:
        """Tell whether the gate acts, or would but for an override."""
        return self.finding is None or self.finding.effect is not Effect.GO

    @property
    def may_be_overridden(self) -> bool:
        """Tell whether there is an answer that acts, and that a written reason may go on against."""
        return self.is_met and self.finding is not None and not self.gate.final

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """What its finding asks for, whether or not it was overridden."""
        found = self.finding.conditions if self.finding else ()
        return tuple(replace(condition, gate=self.gate.id) for condition in found)


@dataclass(frozen=True, kw_only=True)
class IntakePlan(Plan):
    """The decision of intake with everything it rests on.

    Attributes
    ----------
    decision : Decision
        What the gates come to.
    gates : tuple of GateResult
        All of them, in the order in which they are asked.
    conditions : tuple of Condition
        What later stages must heed.
    lifted : tuple of Condition
        What an override set aside.
    consent : Consent
        Of the owner, as given.
    defects : DefectJudgement
        Where effort counts.
    """

    decision: Decision
    gates: tuple[GateResult, ...]
    conditions: tuple[Condition, ...]
    lifted: tuple[Condition, ...]
    consent: Consent
    defects: DefectJudgement

    def gate(self, gate_id: str) -> GateResult:
        """Give a gate by its id."""
        return next(result for result in self.gates if result.gate.id == gate_id)

    @property
    def overridden(self) -> tuple[GateResult, ...]:
        """Give the gates that a written reason overrides; the report prints them."""
        return tuple(result for result in self.gates if result.override)

    def conditions_for(self, stage: str) -> tuple[Condition, ...]:
        """Give the conditions that a stage must heed: first of all to wait, unless intake says treat."""
        found = conditions_for(self.conditions, stage)
        if self.decision is Decision.TREAT:
            return found
        words = f"Intake says {self.decision}: nothing begins before that is settled there"
        return (Condition(Kind.NOT_YET, (stage,), words), *found)


def check_override(subject: Gate, reason: str) -> str:
    """Check that a gate may be overridden, and with a reason that says something.

    Returns
    -------
    str
        The reason, tidied.

    Raises
    ------
    BadValue
        A gate that no reason overrides, or a reason of fewer than :data:`LEAST_WORDS` words.
    """
    field = f"override of {subject.name}"
    tidy = " ".join(reason.split())
    if subject.final:
        remedy = f"It cannot be overridden into treatment: {subject.final}"
        raise BadValue(field, repr(tidy), "no override", remedy)
    words = [word for word in tidy.split() if any(letter.isalnum() for letter in word)]
    if len(words) < LEAST_WORDS:
        came = repr(tidy) if tidy else "empty"
        remedy = "Write what was seen or done that makes it safe; the report prints it"
        raise BadValue(field, came, f"a written reason of {LEAST_WORDS} words or more", remedy)
    return tidy


def decide_intake(
    item: Item,
    *,
    findings: Mapping[str, str],
    tests: Sequence[TestResult] = (),
    defects: Sequence[Defect] = (),
    overrides: Mapping[str, str] | None = None,
    consent: Consent = NO_CONSENT,
) -> IntakePlan:
    """Decide whether to treat, to hold or to refer.

    Parameters
    ----------
    item : Item
        Its cover, staples and glue answer their gates by themselves.
    findings : mapping of str to str
        Gate id to the key of the answer, as ticked by the operator.
    tests : sequence of TestResult
        A test answers its gate; where it contradicts a tick, the graver of the two stands.
    defects : sequence of Defect
        Mould, tape, stuck leaves and retouching among them answer their gates too.
    overrides : mapping of str to str, optional
        Gate id to the written reason for going on against it.
    consent : Consent
        Of the owner.

    Returns
    -------
    IntakePlan
        An override of a gate that holds or refers lets the treatment go on under that gate's
        conditions; an override of a gate that only sets conditions lifts these.

    Raises
    ------
    NotFound
        No such gate, test, term or face.
    BadValue
        An answer that is not offered, a defect outside its page, an override without a reason or
        of a gate that no reason overrides.

    Notes
    -----
    An unanswered gate holds: nothing is taken as harmless because nobody looked.
    """
    reasons = {key: text for key, text in (overrides or {}).items() if text.strip()}
    for gate_id in (*findings, *reasons):
        gate(gate_id)
    answers = _gather(item, findings, tests, defects, consent)
    results = tuple(_pass_gate(each, answers.get(each.id), reasons.get(each.id, "")) for each in GATES)
    decision = _decide(results)
    lifted = tuple(c for r in results if r.override and _only_conditions(r) for c in r.conditions)
    standing = tuple(
        condition
        for result in results
        if result.effect is Effect.CONDITIONS
        for condition in result.conditions
        if not _is_met_already(condition, tests)
    )
    judged = judge_defects(item, defects)
    cautions = tuple(_cautions(results, lifted, set(reasons)))
    return IntakePlan(
        stage="intake",
        cycle=1,  # it opens the first cycle
        verdict=_verdict(decision, results),
        answer=_answer(item, decision, results, standing),
        because=_because(decision, results, consent),
        values=_values(results, standing),
        cautions=cautions,
        steps=examination_steps(),
        assumptions=_assumptions(results),
        decision=decision,
        gates=results,
        conditions=standing,
        lifted=lifted,
        consent=consent,
        defects=judged,
    )


def _is_met_already(condition: Condition, tests: Sequence[TestResult]) -> bool:
    """Tell whether a test that a condition asks for has been done and passed."""
    if condition.kind is not Kind.TEST_FIRST or condition.where != "cover":
        return False
    results = {result.result for result in tests if result.test == "vapour"}
    return results - {Result.NOT_DONE} == {Result.PASS}


def _gather(
    item: Item,
    findings: Mapping[str, str],
    tests: Sequence[TestResult],
    defects: Sequence[Defect],
    consent: Consent,
) -> dict[str, tuple[GateFinding, str]]:
    """Collect what answers each gate; the gravest answer stands, with where it comes from."""
    given = [(gate_id, key, "as looked at") for gate_id, key in findings.items() if key]
    given += [(gate_id, key, "the item as described") for gate_id, key in findings_from_item(item).items()]
    given += findings_from_tests(tests)
    given += implied_findings(defects)
    written = "yes" if consent.in_writing else "no"
    given.append(
        ("consent", written, f"given by {consent.given_by}" if consent.in_writing else "none recorded")
    )
    explained = "no" if consent.missing else "yes"
    missing = f"not explained: {', '.join(consent.missing)}" if consent.missing else "all four explained"
    given.append(("permanent_change", explained, missing))
    answers: dict[str, tuple[GateFinding, str]] = {}
    for gate_id, key, evidence in given:
        subject = gate(gate_id)
        finding = subject.finding(key)
        known = answers.get(gate_id)
        if known is None or graver(subject, finding, known[0]):
            answers[gate_id] = (finding, evidence)
    return answers


def _pass_gate(subject: Gate, answer: tuple[GateFinding, str] | None, override: str) -> GateResult:
    if answer is None:
        reason = "Nobody has answered this yet, and nothing is taken as harmless because nobody looked."
        result = GateResult(subject, None, "not answered", Effect.HOLD, reason)
    else:
        finding, evidence = answer
        result = GateResult(subject, finding, evidence, finding.effect, finding.reason)
    if not override or not result.is_met:
        return result
    reason = check_override(subject, override)
    effect = Effect.GO if _only_conditions(result) else Effect.CONDITIONS
    return replace(result, effect=effect, override=reason)


def _only_conditions(result: GateResult) -> bool:
    return result.finding is not None and result.finding.effect is Effect.CONDITIONS


def _decide(results: Sequence[GateResult]) -> Decision:
    effects = {result.effect for result in results}
    if Effect.REFER in effects:
        return Decision.REFER
    return Decision.HOLD if Effect.HOLD in effects else Decision.TREAT


def _verdict(decision: Decision, results: Sequence[GateResult]) -> Verdict:
    if decision is not Decision.TREAT:
        return Verdict.STOP
    careful = any(r.override or r.effect is Effect.CONDITIONS for r in results)
    return Verdict.CARE if careful else Verdict.GO


def _names(results: Sequence[GateResult], effect: Effect) -> str:
    return ", ".join(r.gate.name for r in results if r.effect is effect)


def _answer(
    item: Item, decision: Decision, results: Sequence[GateResult], standing: Sequence[Condition]
) -> str:
    if decision is Decision.TREAT:
        if not standing:
            return f"Treat {item.title}: no gate stands against it."
        return f"Treat {item.title}, on these conditions: {_say_short(standing)}."
    refers = _names(results, Effect.REFER)
    holds = _names([r for r in results if r.finding], Effect.HOLD)
    open_ones = _names([r for r in results if not r.finding], Effect.HOLD)
    words = f"Refer {item.title}: {refers}." if refers else f"Hold {item.title}."
    if holds:
        words += f" To be settled{' as well' if refers else ' first'}: {holds}."
    return f"{words} Not answered yet: {open_ones}." if open_ones else words


def _strictest(standing: Sequence[Condition]) -> Condition | None:
    """Give the limit on humidity that counts; none where there is to be no humidity at all."""
    return None if has_condition(standing, Kind.NO_HUMIDITY) else highest_humidity(standing)


def _say_short(standing: Sequence[Condition]) -> str:
    """Say the conditions in a few words each, of several limits on humidity only the strictest."""
    damp = _strictest(standing)
    shown: dict[str, None] = {}
    for condition in standing:
        if condition.limit is None:
            place = "" if condition.where == "whole item" else f" ({condition.where})"
            shown[f"{condition.kind.value}{place}"] = None
        elif condition is damp:
            words = say_condition(condition).rstrip(".")
            shown[lower_first(words)] = None
    return "; ".join(shown)


def _because(decision: Decision, results: Sequence[GateResult], consent: Consent) -> str:
    grave = {Decision.REFER: Effect.REFER, Decision.HOLD: Effect.HOLD, Decision.TREAT: Effect.CONDITIONS}[
        decision
    ]
    reasons = [r.reason for r in results if r.effect is grave and r.reason and r.finding is not None]
    if any(result.finding is None for result in results):
        reasons.append("An unanswered gate holds: nothing is taken as harmless because nobody looked.")
    words = " ".join(dict.fromkeys(reasons)) or "Every gate was answered and is open."
    return f"{words} {say_consent(consent)}" if decision is Decision.TREAT else words


def _values(results: Sequence[GateResult], standing: Sequence[Condition]) -> tuple[PlannedValue, ...]:
    met = sum(result.is_met for result in results)
    overridden = sum(bool(result.override) for result in results)
    values = [
        planned_count(facts.GATES_MET, met, source="findings of intake"),
        planned_count(facts.GATES_OVERRIDDEN, overridden, source="written reasons"),
    ]
    damp = _strictest(standing)
    if damp is not None and damp.limit is not None:
        values.append(PlannedValue(facts.HIGHEST_ALLOWED, damp.limit, source=damp.source))
    return tuple(values)


def _cautions(
    results: Sequence[GateResult], lifted: Sequence[Condition], reasons: set[str]
) -> Iterator[Caution]:
    for result in results:
        name, source = _capital(result.gate.name), result.finding.source if result.finding else "memory"
        if result.override:
            words = f"{name} is overridden: {result.override.rstrip('.')}. {result.reason}"
            yield Caution(Verdict.CARE, words, source)
        elif result.finding and result.effect in (Effect.HOLD, Effect.REFER):
            yield Caution(Verdict.STOP, f"{name}, {result.effect}: {result.reason}", source)
    if lifted:
        yield _SET_ASIDE(conditions=" ".join(say_condition(c) for c in lifted))
    for unused in sorted(reasons - {r.gate.id for r in results if r.override}):
        yield _REASON_NOT_USED(gate=gate(unused).name)
    yield _NO_LICENCE()


def _assumptions(results: Sequence[GateResult]) -> tuple[Assumption, ...]:
    return tuple(
        Assumption(r.gate.name, f"{r.finding.words} ({r.evidence})", "operator") for r in results if r.finding
    )


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]
