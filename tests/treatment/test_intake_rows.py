"""What intake found goes into rows and comes back the same, and is corrected, never lost."""

from datetime import datetime, timedelta, timezone

import pandas as pd
import pytest

from bench.item import Answer
from bench.records.store import create_treatment
from bench.treatment.intake import decide_intake
from bench.treatment.intake.consent import PERMANENT_CHANGES, Consent
from bench.treatment.intake.defects import Defect, judge_defects
from bench.treatment.intake.rows import (
    answer_rows,
    decision_rows,
    defect_row,
    read_findings,
    ticked_gates,
)
from bench.treatment.intake.rows import (
    test_rows as rows_of_tests,
)
from bench.treatment.intake.spot_tests import Result, TestResult
from bench.units import Q_
from tests.makers import annual

ITEM = annual(cover_coated=Answer.NO, glue="polyurethane")
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=timezone(timedelta(hours=1)))
REASON = "Seen under the loupe with the owner, and dry for years"
OPEN = {gate.id: gate.findings[0].key for gate in ticked_gates()}
AGREED = Consent("E. Fenwright", True, PERMANENT_CHANGES)
TEAR = Defect(
    "d1",
    "tear",
    "recto",
    x=Q_(10.25, "mm"),
    y=Q_(20, "mm"),
    width=Q_(5, "mm"),
    height=Q_(30, "mm"),
    leaf="7",
    severity=2,
    active=True,
    in_scope=False,
    note="old, seen by the owner",
)


@pytest.fixture
def record(tmp_path):
    description = {"title": "The Tin Orchard Annual, no. 2", "length_unit": "mm", "temperature_unit": "degC"}
    return create_treatment(tmp_path, "annual", {"treatment": [description]}, by="M. Tallow", at=NOON)


def tables(record, *names):
    return [record.read(name).to_dict("records") for name in names]


def save_decision(record, answers, hour=12, **more):
    """Decide and save, as the panel does; give the plan and the new rows of decisions."""
    plan = decide_intake(ITEM, findings=answers, **more)
    at = NOON + timedelta(hours=hour - 12)
    (known,) = tables(record, "decisions")
    rows = decision_rows(plan, known, answers, by="M. Tallow", at=at)
    if rows:
        record.save({"decisions": rows}, by="M. Tallow", at=at)
    return plan, rows


def test_everything_comes_back_as_it_was(record):
    answers = {**OPEN, "past_mould": "yes", "ink": "rubs"}
    results = (
        TestResult("rub", Result.FAIL, "red of the title"),
        TestResult("damp", Result.PASS, note="dry"),
    )
    judged = judge_defects(ITEM, [TEAR]).judged[0]
    record.save(
        {
            "tests": [*answer_rows(answers, at=NOON), *rows_of_tests(results, at=NOON)],
            "defects": [defect_row(judged)],
        },
        by="M. Tallow",
        at=NOON,
    )
    plan, _ = save_decision(record, answers, overrides={"past_mould": REASON}, consent=AGREED)
    found = read_findings(*tables(record, "tests", "defects", "decisions"))
    assert found.answers == answers
    assert found.tests[0] == results[0]
    assert (found.tests[1].result, found.tests[1].note) == (Result.PASS, "dry")
    assert found.overrides == {"past_mould": REASON} == {r.gate.id: r.override for r in plan.overridden}
    assert found.consent == AGREED
    (defect,) = found.defects
    assert (defect.term, defect.leaf, defect.severity, defect.active) == ("tear", "7", 2, True)
    assert defect.x.to("mm").magnitude == pytest.approx(10.25)
    assert (defect.in_scope, defect.note) == (False, "old, seen by the owner")


def test_only_overrides_name_a_gate(record):
    """Whatever reads the record takes a row with a gate for an override."""
    save_decision(record, {**OPEN, "past_mould": "yes"}, overrides={"past_mould": REASON}, consent=AGREED)
    rows = record.read("decisions")
    assert list(rows[rows["gate"].notna()]["decision"]) == ["override"]


def test_saving_twice_writes_nothing_new(record):
    save_decision(record, OPEN, consent=AGREED)
    _, rows = save_decision(record, OPEN, hour=13, consent=AGREED)
    assert rows == []


def test_a_new_decision_stands_beside_the_old_one(record):
    save_decision(record, OPEN)
    save_decision(record, OPEN, hour=14, consent=AGREED)
    rows = record.read("decisions")
    taken = rows[rows["decision"].isin(["treat", "hold", "refer"])]
    assert list(taken["decision"]) == ["hold", "treat"]


def test_the_same_decision_for_another_reason_replaces(record):
    save_decision(record, {**OPEN, "restoration": "not told"}, consent=AGREED)
    save_decision(record, {**OPEN, "ink": "not tested"}, hour=14, consent=AGREED)
    rows = record.read("decisions")
    assert list(rows[rows["decision"] == "hold"]["reason"]) == [
        "Hold The Tin Orchard Annual, no. 2. To be settled first: ink."
    ]
    assert len(record.all_rows("decisions")) == len(rows) + 1


def test_an_override_that_is_taken_back_stays_in_the_history_only(record):
    mouldy = {**OPEN, "past_mould": "yes"}
    save_decision(record, mouldy, overrides={"past_mould": REASON}, consent=AGREED)
    save_decision(record, mouldy, hour=15, consent=AGREED)
    found = read_findings(*tables(record, "tests", "defects", "decisions"))
    assert found.overrides == {}
    assert "override" in [row["decision"] for row in record.all_rows("decisions")]


def test_half_a_consent_is_kept_as_such(record):
    half = Consent("E. Fenwright", True, ("size",))
    save_decision(record, OPEN, consent=half)
    found = read_findings(*tables(record, "tests", "defects", "decisions"))
    assert found.consent == half
    assert not any(record.read("decisions")["decision"].str.startswith("consent"))


def test_a_consent_at_review_covers_one_more_cycle(record):
    save_decision(record, OPEN, consent=AGREED)
    row = {
        "stage": "review",
        "cycle": 1,
        "decision": "consent",
        "decided_at": NOON,
        "decided_by": "E. Fenwright",
    }
    record.save({"decisions": [row]}, by="M. Tallow", at=NOON)
    assert read_findings(*tables(record, "tests", "defects", "decisions")).consent.covers(2)


def test_an_answer_that_no_gate_offers_counts_as_unanswered(record):
    row = {"test": "tape", "result": "pass", "taken_at": NOON, "note": "glitter all over"}
    record.save({"tests": [row]}, by="M. Tallow", at=NOON)
    assert "tape" not in read_findings(*tables(record, "tests", "defects", "decisions")).answers


def test_blanks_of_a_spreadsheet_are_no_answers():
    blank = {"test": "flex test", "result": "pass", "place": float("nan"), "note": None}
    assert read_findings([blank], [], []).tests == (TestResult("flex", Result.PASS),)


def test_times_keep_their_offset(record):
    save_decision(record, OPEN, consent=AGREED)
    moment = record.read("decisions")["decided_at"].iloc[0]
    assert pd.Timestamp(moment).utcoffset() == timedelta(hours=1)
