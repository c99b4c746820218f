"""The panels of spot tests and of the decision: treat, hold or refer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from html import escape
from typing import Any

from bench.desk import Treatment
from bench.errors import BenchError
from bench.figures.intake import condition_list, gate_table
from bench.figures.page import drop_word, table, verdict_tag
from bench.handover.intake import known_findings
from bench.panels.base import Panel, View
from bench.panels.ended import EndedFields
from bench.panels.fields import ChoiceField, Field, GroupLabel, StepField, TextField, TickField
from bench.panels.parts import opening
from bench.panels.standing import flagged
from bench.records.nouns import replacing
from bench.treatment.clock.times import check_day_past
from bench.treatment.intake import Decision, IntakePlan, decide_intake
from bench.treatment.intake.consent import PERMANENT_CHANGES, Consent, explain_permanent_change
from bench.treatment.intake.gate_list import GATES
from bench.treatment.intake.gates import Gate
from bench.treatment.intake.rows import answer_rows, decision_rows, test_rows, ticked_gates
from bench.treatment.intake.spot_tests import SPOT_TESTS, Result, TestResult, findings_from_tests, spot_test
from bench.treatment.plan import Caution, Notice, Verdict
from bench.treatment.recorded import count_consented
from bench.units import UnitChoice

_UNANSWERED = ("not answered yet", "")
_RESULTS = [("not done", "not done"), ("pass", "pass"), ("fail", "fail"), ("in doubt", "doubt")]
_NEEDED = ("rub", "damp", "vapour", "flex")  # before any cleaning or damping
_TEST_FIRST = Notice(
    "tests-before-cleaning",
    Verdict.CARE,
    "Do these before anything is cleaned or damped: {tests}.",
    "aic-spot-tests",
)
_NEVER_ON_ITEM = Notice(
    "never-on-the-item",
    Verdict.GO,
    "Never fold a corner to try it, never put a pH pen or a warm tool on the item itself.",
    "double-fold",
)
_DECISION_WORDS = {Decision.TREAT: "Treat", Decision.HOLD: "Hold", Decision.REFER: "Refer"}


def build_tests_panel(treatment: Treatment) -> Panel:
    """Build the panel of spot tests: what came of each, and what a failure forbids."""
    known = {result.test: result for result in known_findings(treatment).tests}

    def work(values: Mapping[str, Any], units: UnitChoice) -> tuple[TestResult, ...]:
        return tuple(
            TestResult(test.id, Result(values[test.id]), values[f"{test.id}_place"])
            for test in SPOT_TESTS
            if values[test.id] != Result.NOT_DONE or test.id in known
        )

    def save(results: tuple[TestResult, ...], values: Mapping[str, Any]) -> str:
        return treatment.save({"tests": _unless_told(treatment, test_rows(results, at=treatment.now()))})

    fields: list[Field | GroupLabel] = [GroupLabel("Results")]
    for test in SPOT_TESTS:
        before = known.get(test.id)
        result = before.result.value if before else "not done"
        place = before.place if before and before.place != test.place else ""
        name = test.name.capitalize()
        fields.append(ChoiceField(test.id, name, _RESULTS, result, hint=f"passes when {test.passes}"))
        fields.append(TextField(f"{test.id}_place", f"{name}, where", place, hint=test.place))
    return Panel(
        name="tests",
        strip=lambda: treatment.heading("spot tests"),
        fields=fields,
        work=work,
        show=_show_tests,
        save=save,
        units=treatment.switch,
        save_label="Save the tests",
    )


def _unless_told(treatment: Treatment, rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Leave out rows of ``tests`` that differ from the saved ones only in their time."""
    fresh = replacing(treatment.latest, "tests", rows, ("test",))
    known = {row["test"]: row for row in treatment.latest.rows("tests")}
    told = ("place", "method", "result", "forbids", "note")

    def says(row: Mapping[Any, Any]) -> list[str]:
        return ["" if row.get(name) != row.get(name) else str(row.get(name) or "") for name in told]

    return [row for row in fresh if row["test"] not in known or says(row) != says(known[row["test"]])]


def _show_tests(results: tuple[TestResult, ...], units: UnitChoice) -> View:
    done = [r for r in results if r.result is not Result.NOT_DONE]
    bad = [r for r in done if r.result is not Result.PASS]
    missing = [t.name for t in SPOT_TESTS if t.id not in {r.test for r in done}]
    lacking = [spot_test(key).name for key in _NEEDED if key not in {r.test for r in done}]
    verdict = Verdict.CARE if bad or lacking else Verdict.GO
    words = f"{len(done)} of {len(SPOT_TESTS)} tests done, {len(done) - len(bad)} passed."
    because = f"Not done: {', '.join(missing)}." if missing else "Every test was done."
    cautions = [
        Caution(
            Verdict.STOP if r.result is Result.FAIL else Verdict.CARE,
            f"{spot_test(r.test).name.capitalize()}: {_seen(r)}. Forbids {spot_test(r.test).forbids}.",
            spot_test(r.test).source,
        )
        for r in bad
    ]
    if lacking:
        cautions.append(_TEST_FIRST(tests=", ".join(lacking)))
    cautions.append(_NEVER_ON_ITEM())
    head = ("test", "how and where", "a failure forbids")
    rows = [(t.name, f"{t.how}; {t.place}", t.forbids) for t in SPOT_TESTS]
    return View(
        lead=opening(words, because, tag=verdict_tag(verdict)),
        parts=[_answered(done), table(head, rows, words=True)],
        cautions=cautions,
        save_says="Writes one row for each test that was done to tests.",
    )


def _seen(result: TestResult) -> str:
    return (
        spot_test(result.test).fails if result.result is Result.FAIL else "in doubt, to be repeated elsewhere"
    )


def _answered(done: Sequence[TestResult]) -> str:
    found = [_say_answer(*answer) for answer in findings_from_tests(done)]
    if not found:
        return ""
    said = f"What the tests answer, for the places they were done at: {'; '.join(found)}."
    return f'<p class="because">{escape(said)}</p>'


def _say_answer(gate_id: str, key: str, evidence: str) -> str:
    """Say what a test tells of a gate; of the ink no more than where it was tried."""
    gate = next(gate for gate in GATES if gate.id == gate_id)
    if (gate_id, key) == ("ink", "no"):
        return f"{gate.name}: none came off ({evidence}); a colour not tried is not known"
    return f"{gate.name}: {gate.finding(key).words} ({evidence})"


@dataclass(frozen=True)
class _Decided:
    """The decision with the answers it rests on."""

    plan: IntakePlan
    answers: dict[str, str]
    ended: datetime | None


def build_intake_panel(treatment: Treatment) -> Panel:
    """Build the panel of the decision: gates, overrides, consent, and what follows.

    Parameters
    ----------
    treatment : Treatment
        At hand.  Item, tests and defects are read from the record as they are last saved; answers,
        overrides and consent stand in the fields until Save writes them.
    """
    known = known_findings(treatment)
    gates = {gate.id: _gate_field(gate, known.answers.get(gate.id, "")) for gate in ticked_gates()}
    overrides = {gate.id: _override_field(gate, known.overrides) for gate in GATES if not gate.final}
    against = GroupLabel("Against a gate: a written reason, which the report prints")
    examined = EndedFields("Examination is done")

    def work(values: Mapping[str, Any], units: UnitChoice) -> _Decided:
        found = known_findings(treatment)
        answers = {gate_id: values[gate_id] for gate_id in gates}
        consent = _read_consent(values)
        check_day_past(consent.agreed_on, treatment.now(), "Agreed on")
        given = {gate_id: values[f"override_{gate_id}"] for gate_id in overrides}
        decide = partial(
            decide_intake,
            treatment.item,
            findings=answers,
            tests=found.tests,
            defects=found.defects,
            consent=consent,
        )
        bare = decide()
        met = {result.gate.id for result in bare.gates if result.may_be_overridden}
        for gate_id, entry in overrides.items():
            _show(entry, gate_id in met)
        _show(against, bool(met))
        reasons = {gate_id: text for gate_id, text in given.items() if gate_id in met}
        ended = examined.read(values, treatment.now(), treatment.began)
        return _Decided(decide(overrides=reasons), answers, ended)

    def save(result: _Decided, values: Mapping[str, Any]) -> str:
        record, at = treatment.latest, treatment.now()
        rows = treatment.rows_for(result.plan, ended=result.ended)
        rows["tests"] = _unless_told(treatment, answer_rows(result.answers, at=at))
        old = record.rows("decisions")
        rows["decisions"] = decision_rows(result.plan, old, result.answers, by=values["who"], at=at)
        return treatment.save(rows, plan=result.plan)

    def show(result: _Decided, units: UnitChoice) -> View:
        return flagged(treatment, "intake", 1, _show_decision(treatment, result.plan))

    return Panel(
        name="intake",
        strip=lambda: treatment.heading("intake"),
        fields=[
            GroupLabel("Gates"),
            *gates.values(),
            GroupLabel("Consent of the owner: each is explained, then ticked"),
            *_consent_fields(treatment, known.consent),
            against,
            *overrides.values(),
            *examined.fields,
            TextField("who", "Decided by", treatment.conservator, needed="Say who decides"),
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save this decision",
    )


def _show(part: Field | GroupLabel, shown: bool) -> None:
    part.box.layout.display = "" if shown else "none"


def _gate_field(gate: Gate, key: str) -> ChoiceField:
    options = [_UNANSWERED, *((finding.words, finding.key) for finding in gate.findings)]
    return ChoiceField(gate.id, gate.name.capitalize(), options, key, hint=gate.question)


def _override_field(gate: Gate, known: Mapping[str, str]) -> TextField:
    return TextField(
        f"override_{gate.id}",
        f"Override of {gate.name}",
        known.get(gate.id, ""),
        long=True,
        hint="what was seen or done that makes it safe; empty leaves the gate as it is",
    )


def _consent_fields(treatment: Treatment, consent: Consent) -> list[Field]:
    ticks: list[Field] = [
        TickField(
            f"explained_{name}",
            f"{name.capitalize()} explained",
            name in consent.explained,
            hint=partial(_say_change, treatment, name),
        )
        for name in PERMANENT_CHANGES
    ]
    return [
        *ticks,
        TickField("in_writing", "Agreed in writing", consent.in_writing, hint="signed, or a message kept"),
        TextField("given_by", "Consent given by", consent.given_by, hint="owner, or who acts for the owner"),
        StepField(
            "cycles",
            "Cycles agreed to",
            _agreed_at_intake(treatment),
            1,
            6,
            hint="a further one needs a further consent",
        ),
        TextField("agreed_on", "Agreed on", consent.agreed_on, hint="the day, like 2026-03-02"),
        TextField(
            "document", "Document", consent.document, hint="letter, message or form, and where it is kept"
        ),
    ]


def _say_change(treatment: Treatment, name: str, units: UnitChoice) -> str:
    try:
        changes = explain_permanent_change(treatment.item, units=units)
    except BenchError:  # it has not been described yet: no figures can be given
        return ""
    return next(change.words for change in changes if change.name == name)


def _agreed_at_intake(treatment: Treatment) -> int:
    """Give the cycles of the consent at intake alone; those agreed at a review stand there."""
    rows = treatment.record.rows("decisions")
    return max(1, count_consented(row for row in rows if row["stage"] == "intake"))


def _read_consent(values: Mapping[str, Any]) -> Consent:
    return Consent(
        given_by=values["given_by"],
        in_writing=values["in_writing"],
        explained=tuple(name for name in PERMANENT_CHANGES if values[f"explained_{name}"]),
        cycles=values["cycles"],
        agreed_on=values["agreed_on"],
        document=values["document"],
    )


def _show_decision(treatment: Treatment, plan: IntakePlan) -> View:
    word = _DECISION_WORDS[plan.decision]
    lead = opening(drop_word(plan.answer, word), plan.because, tag=verdict_tag(plan.verdict, word))
    gates = gate_table(plan.gates, only_met=True)
    parts = [
        '<span class="group">What later stages must heed</span>',
        condition_list(plan.conditions),
        '<span class="group">Gates</span>' if gates else None,
        gates,
        '<span class="group">Defects</span>',
        f'<p class="because">{escape(plan.defects.answer)}</p>',
    ]
    return View(
        lead=lead,
        parts=parts,
        cautions=[c for c in plan.cautions if c.verdict is not Verdict.STOP],  # the table of gates says those
        save_says=treatment.say_plan(plan, "tests", "decisions"),
    )
