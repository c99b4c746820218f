"""What a review writes down: the decision once, each defect as it was described, marks once."""

from dataclasses import replace
from datetime import UTC, datetime

from bench.treatment.review.rows import consent_row, decision_rows, defect_rows, mark_rows
from bench.treatment.review.rules import DEFAULT_RULES
from bench.units import Q_
from tests.treatment.test_review import crease, review

AT = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)
LISTED = {
    "defect": "d1",
    "term": "crease",
    "face": "front cover, outside",
    "leaf": None,
    "state": "stable",
    "helped_by": "humidify and press",
    "limits_outcome": "no",
    "in_scope": "yes",
    "shape": float("nan"),
    "severity": 3,
    "moment": "before",
    "cycle": 0,
}


def test_a_defect_seen_again_keeps_its_description_and_leaves_blanks_out():
    (row,) = defect_rows([crease(3, 2)], 1, [LISTED])
    assert (row["severity"], row["moment"], row["cycle"]) == (2, "after", 1)
    assert row["term"] == "crease"
    assert not {"leaf", "shape"} & row.keys()
    assert defect_rows([crease(3)], 1, [LISTED]) == []  # not looked at again


def test_a_grade_chosen_takes_the_place_of_the_saved_one_with_its_size():
    course = crease(3, 2, sizes=[Q_(60, "mm"), Q_(30, "mm")])
    assert course.seen_as(1, 1).after(1).severity == 1
    assert course.seen_as(1, 1).after(1).size == Q_(30, "mm")
    assert course.seen_as(1, None).after(1) is None
    assert crease(3).seen_as(1, 2).after(1).size is None


def test_a_decision_is_written_once_and_another_one_replaces_it():
    plan = review()
    (first,) = decision_rows(plan, [], by="M. Tallow", at=AT)
    saved = {**first, "row": 7}
    consent = {**consent_row(1, how="by letter", by="an owner", at=AT), "row": 8}
    assert decision_rows(plan, [saved, consent], by="M. Tallow", at=AT) == []
    (second,) = decision_rows(replace(plan, answer="Refer."), [saved, consent], by="M. Tallow", at=AT)
    assert second["replaces"] == 7
    assert "replaces" not in first


def test_new_marks_are_noted_once():
    (row,) = mark_rows(("sheen", "rust"), 1, [], at=AT)
    assert row["remark"] == "New marks after cycle 1: sheen, rust"
    assert mark_rows(("sheen", "rust"), 1, [row], at=AT) == []
    assert mark_rows((), 1, [], at=AT) == []


def test_a_threshold_given_as_it_was_keeps_its_source():
    edited = DEFAULT_RULES.edited(least_gain=DEFAULT_RULES.least_gain.value, most_growth=Q_(0.4, "percent"))
    assert edited.least_gain == DEFAULT_RULES.least_gain
    assert edited.most_growth.source == "operator"
