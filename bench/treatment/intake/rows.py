"""What intake found, as rows of a record and back: answers, tests, defects, consent, overrides.

Rows are plain mappings of column to value.  The answers to gates are rows of ``tests`` (what was
looked for, and what came of it); consent, overrides and the decision are rows of ``decisions``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bench.treatment.conditions import say_condition
from bench.treatment.intake.condition_terms import Help
from bench.treatment.intake.consent import PERMANENT_CHANGES, Consent
from bench.treatment.intake.defects import SHAPES, Defect, Judged
from bench.treatment.intake.gate_list import GATES
from bench.treatment.intake.gates import Effect, Gate, GateFinding
from bench.treatment.intake.planning import IntakePlan
from bench.treatment.intake.spot_tests import SPOT_TESTS, Result, TestResult, spot_test
from bench.treatment.recorded import count_consented, read_consent
from bench.treatment.rows import is_given
from bench.units import Q_

Row = Mapping[Any, Any]
NewRow = dict[str, Any]

# An answer that is no test of the item but of the papers: it stands among the decisions.
_AUTHORITY = {"yes": "authority is clear", "no": "authority is not clear"}
_CONSENT, _NO_CONSENT = "consent", "no consent yet"
_OVERRIDE, _WITHDRAWN = "override", "override withdrawn"


@dataclass(frozen=True)
class IntakeFindings:
    """Everything intake knows, as :func:`bench.treatment.intake.decide_intake` takes it.

    Attributes
    ----------
    answers : dict of str to str
        Gate id to key of the answer.
    tests : tuple of TestResult
    defects : tuple of Defect
    overrides : dict of str to str
        Gate id to written reason.
    consent : Consent
    """

    answers: dict[str, str]
    tests: tuple[TestResult, ...]
    defects: tuple[Defect, ...]
    overrides: dict[str, str]
    consent: Consent


def read_findings(tests: Iterable[Row], defects: Iterable[Row], decisions: Iterable[Row]) -> IntakeFindings:
    """Build what intake knows from the current rows of three tables.

    A row of ``tests`` that is neither a gate nor one of the spot tests of intake is left alone, and
    so is an answer in words that no gate offers: that gate then counts as not answered.
    """
    tests, decisions = list(tests), list(decisions)
    of_intake = [row for row in decisions if row["stage"] == "intake"]
    return IntakeFindings(
        answers=_answers(tests, of_intake),
        tests=tuple(_test(row) for row in tests if row["test"] in {t.name for t in SPOT_TESTS}),
        defects=tuple(
            _defect(row) for row in defects if row["moment"] == "before" and int(row["cycle"]) == 0
        ),
        overrides=_overrides(of_intake),
        consent=_consent(of_intake, decisions),
    )


def ticked_gates() -> tuple[Gate, ...]:
    """Give the gates that the operator answers."""
    return tuple(gate for gate in GATES if gate.given_by == "tick")


def _answers(tests: Sequence[Row], decisions: Sequence[Row]) -> dict[str, str]:
    answers: dict[str, str] = {}
    for gate in ticked_gates():
        said = [row["note"] for row in tests if row["test"] == gate.name]
        for finding in gate.findings:
            if said and finding.words == said[-1]:
                answers[gate.id] = finding.key
    for row in decisions:
        for key, words in _AUTHORITY.items():
            if row["decision"] == words:
                answers["authority"] = key
    return answers


def _test(row: Row) -> TestResult:
    place, note = (str(row[name]) if is_given(row[name]) else "" for name in ("place", "note"))
    return TestResult(spot_test(row["test"]).id, Result(row["result"]), place, note)


def _defect(row: Row) -> Defect:
    sides = {
        key: Q_(float(row[f"{key}_mm"]), "mm") if is_given(row[f"{key}_mm"]) else Q_(default, "mm")
        for key, default in (("x", 0.0), ("y", 0.0), ("width", 1.0), ("height", 1.0))
    }
    return Defect(
        id=str(row["defect"]),
        term=str(row["term"]),
        face=str(row["face"]),
        leaf=str(row["leaf"]) if is_given(row["leaf"]) else "",
        severity=int(row["severity"]),
        active=row["state"] == "active",
        helped_by=Help(row["helped_by"]),
        limits_outcome=row["limits_outcome"] == "yes",
        in_scope=row["in_scope"] == "yes",
        note=str(row["note"]) if is_given(row["note"]) else "",
        shape=str(row["shape"]) if is_given(row.get("shape")) else SHAPES[0],
        **sides,
    )


def _overrides(decisions: Sequence[Row]) -> dict[str, str]:
    by_name = {gate.name: gate.id for gate in GATES}
    return {
        by_name[row["gate"]]: str(row["reason"])
        for row in decisions
        if row["decision"] == _OVERRIDE and row["gate"] in by_name
    }


def _consent(of_intake: Sequence[Row], decisions: Sequence[Row]) -> Consent:
    rows = [row for row in of_intake if row["decision"] in (_CONSENT, _NO_CONSENT)]
    if not rows:
        return Consent()
    row = rows[-1]
    said = str(row["evidence"]) if is_given(row["evidence"]) else ""
    notes = read_consent(row)
    return Consent(
        given_by=str(row["decided_by"]) if row["decision"] == _CONSENT or "in writing" in said else "",
        in_writing=row["decision"] == _CONSENT or "in writing" in said,
        explained=tuple(name for name in PERMANENT_CHANGES if name in said),
        cycles=max(1, count_consented(decisions)),
        agreed_on=notes.agreed_on,
        document=notes.document,
    )


def answer_rows(answers: Mapping[str, str], *, at: datetime) -> list[NewRow]:
    """Turn answers to gates into rows of ``tests``; an empty answer gives none."""
    rows = []
    for gate in ticked_gates():
        key = answers.get(gate.id, "")
        if key and gate.id != "authority":
            finding = gate.finding(key)
            row = {
                "test": gate.name,
                "place": "whole item",
                "method": gate.question,
                "result": _result(finding).value,
                "forbids": _forbids(finding),
                "taken_at": at,
                "note": finding.words,
            }
            rows.append({name: value for name, value in row.items() if value})
    return rows


def _result(finding: GateFinding) -> Result:
    if finding.effect is Effect.GO:
        return Result.PASS
    return {"unsure": Result.DOUBT, "not tested": Result.NOT_DONE}.get(finding.key, Result.FAIL)


def _forbids(finding: GateFinding) -> str:
    if finding.effect in (Effect.HOLD, Effect.REFER):
        return f"treatment: {finding.effect}"
    return " ".join(say_condition(condition) for condition in finding.conditions)


def test_rows(results: Iterable[TestResult], *, at: datetime) -> list[NewRow]:
    """Turn results of spot tests into rows of ``tests``."""
    rows = []
    for result in results:
        test = spot_test(result.test)
        row = {
            "test": test.name,
            "place": result.place or test.place,
            "method": test.how,
            "result": result.result.value,
            "forbids": test.forbids if result.result in (Result.FAIL, Result.DOUBT) else "",
            "taken_at": at,
            "note": result.note,
        }
        rows.append({name: value for name, value in row.items() if value})
    return rows


test_rows.__test__ = False  # type: ignore[attr-defined]  # a noun of the bench, not a case for pytest


def defect_row(judged: Judged) -> NewRow:
    """Turn a judged defect into a row of ``defects``, as seen before treatment."""
    defect = judged.defect
    row = {
        "defect": defect.id,
        "term": defect.term,
        "face": defect.face,
        "leaf": defect.leaf,
        "severity": defect.severity,
        "state": "active" if defect.active else "stable",
        "helped_by": judged.helped_by.value,
        "limits_outcome": "yes" if judged.limits else "no",
        "in_scope": "yes" if defect.in_scope else "no",
        "moment": "before",
        "cycle": 0,
        "note": defect.note,
        "shape": "" if defect.shape == SHAPES[0] else defect.shape,
    }
    for name in ("x", "y", "width", "height"):
        row[f"{name}_mm"] = round(float(getattr(defect, name).to("mm").magnitude), 2)
    return {name: value for name, value in row.items() if value != ""}


def decision_rows(
    plan: IntakePlan, known: Iterable[Row], answers: Mapping[str, str], *, by: str, at: datetime
) -> list[NewRow]:
    """Turn a decision into the rows of ``decisions`` that are not there yet.

    Parameters
    ----------
    plan : IntakePlan
    known : iterable of rows
        Current rows of ``decisions``.
    answers : mapping of str to str
        For whether it is clear who may approve.
    by : str
        Who decides.
    at : datetime
        When, with offset.

    Returns
    -------
    list of rows
        Authority, consent, overrides and, last, the decision.  A changed answer replaces the one
        before it; a new decision stands beside the older one, because both were taken.
    """
    old = [row for row in known if row["stage"] == "intake"]
    common = {"stage": "intake", "cycle": 0, "decided_at": at, "decided_by": by}
    rows = []
    key = answers.get("authority", "")
    if key:
        row = {**common, "decision": _AUTHORITY[key], "reason": "who owns the item and who may approve"}
        rows += _unless_known(row, [r for r in old if r["decision"] in _AUTHORITY.values()])
    if plan.consent != Consent():
        row = {**common, **_consent_row(plan.consent, by)}
        rows += _unless_known(row, [r for r in old if r["decision"] in (_CONSENT, _NO_CONSENT)])
    rows += _override_rows(plan, old, common)
    row = {**common, "decision": plan.decision.value, "reason": plan.answer, "evidence": _evidence(plan)}
    taken = [r for r in old if r["decision"] in ("treat", "hold", "refer")]
    if not taken or any(taken[-1][name] != row[name] for name in ("decision", "reason", "evidence")):
        same = taken and taken[-1]["decision"] == row["decision"]
        rows.append({**row, "replaces": int(taken[-1]["row"])} if same else row)
    return rows


def _consent_row(consent: Consent, by: str) -> NewRow:
    covers = consent.covers(1)
    explained = ", ".join(consent.explained) or "nothing"
    written = "in writing" if consent.in_writing else "not written down"
    return {
        "decision": _CONSENT if covers else _NO_CONSENT,
        "reason": "approves plan and examination report" if covers else "not complete",
        "evidence": f"{written}; permanent change explained: {explained}",
        "cycles": consent.cycles,
        "agreed_on": consent.agreed_on or None,
        "document": consent.document or None,
        "decided_by": consent.given_by or by,
    }


def _override_rows(plan: IntakePlan, old: Sequence[Row], common: NewRow) -> list[NewRow]:
    rows = []
    for result in plan.overridden:
        name = result.gate.name
        row = {
            **common,
            "decision": _OVERRIDE,
            "gate": name,
            "reason": result.override,
            "evidence": result.finding.words if result.finding else "not answered",
        }
        rows += _unless_known(row, [r for r in old if r["decision"] == _OVERRIDE and r["gate"] == name])
    standing = {result.gate.name for result in plan.overridden}
    for left in old:
        if left["decision"] == _OVERRIDE and left["gate"] not in standing:
            words = f"{left['gate']}: no longer needed or no longer given"
            rows.append({**common, "decision": _WITHDRAWN, "reason": words, "replaces": int(left["row"])})
    return rows


def _unless_known(row: NewRow, old: Sequence[Row]) -> list[NewRow]:
    """Give the row, replacing the one it corrects; nothing if it stands already."""
    if not old:
        return [row]
    told = [name for name in row if name != "decided_at"]
    if all((old[-1][name] if is_given(old[-1][name]) else None) == row[name] for name in told):
        return []
    return [{**row, "replaces": int(old[-1]["row"])}]


def _evidence(plan: IntakePlan) -> str:
    met = "; ".join(
        f"{r.gate.name}: {r.finding.words if r.finding else 'not answered'} ({r.evidence})"
        for r in plan.gates
        if r.is_met
    )
    return met or "every gate answered and open"
