"""What intake saves of an item that is to be treated."""

from bench.treatment.intake import Decision, decide_intake
from bench.treatment.intake.consent import PERMANENT_CHANGES, Consent
from bench.treatment.intake.rows import answer_rows, decision_rows, test_rows, ticked_gates
from bench.treatment.intake.spot_tests import Result, TestResult


def intake_rows(item, *, at, by="M. Tallow"):
    """What intake saves of a sound item that the owner agreed to have treated: rows of its tables."""
    answers = {gate.id: gate.findings[0].key for gate in ticked_gates()}
    tests = tuple(TestResult(name, Result.PASS) for name in ("rub", "damp", "vapour", "flex", "ultraviolet"))
    consent = Consent("E. Fenwright", True, PERMANENT_CHANGES)
    # A square spine of glue that softens is treated for a written reason only.
    overrides = {"spine_glue": "The spine lies outside the platen"} if item.is_square_bound else {}
    plan = decide_intake(item, findings=answers, tests=tests, overrides=overrides, consent=consent)
    assert plan.decision is Decision.TREAT, plan.answer
    return {
        "tests": [*answer_rows(answers, at=at), *test_rows(tests, at=at)],
        "decisions": decision_rows(plan, (), answers, by=by, at=at),
    }
