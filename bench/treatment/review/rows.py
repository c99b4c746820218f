"""What a review writes down, as rows of a record: its decision, consent, defects as seen again, new marks.

Rows are plain mappings of column to value.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from bench.treatment.review.comparison import DefectCourse
from bench.treatment.review.planning import ReviewPlan
from bench.treatment.rows import Row, is_given

NewRow = dict[str, Any]

_DESCRIBED = ("defect", "term", "face", "leaf", "state", "helped_by", "limits_outcome", "in_scope", "shape")
"""Columns of a defect that stay as they were before treatment."""


def defect_rows(courses: Iterable[DefectCourse], cycle: int, known: Iterable[Row]) -> list[NewRow]:
    """Say how each defect was seen after a cycle, described as before treatment.

    Parameters
    ----------
    courses : iterable of DefectCourse
        Those that were not looked at after the cycle are left out.
    cycle : int
        The cycle just finished.
    known : iterable of rows
        Of ``defects``.
    """
    old = {row["defect"]: row for row in known}
    seen = ((course.defect, course.after(cycle)) for course in courses)
    return [
        {
            **{name: old[defect][name] for name in _DESCRIBED if is_given(old[defect][name])},
            "severity": sight.severity,
            "moment": "after",
            "cycle": cycle,
        }
        for defect, sight in seen
        if sight is not None
    ]


def consent_row(cycle: int, *, how: str, by: str, at: datetime) -> NewRow:
    """Write down that the owner agreed to one more cycle.

    Parameters
    ----------
    cycle : int
        The cycle just finished.
    how : str
        How it was agreed, in words.
    by : str
        Who agreed.
    at : datetime
        When it is written down, with offset.
    """
    return {
        "stage": "review",
        "cycle": cycle,
        "decision": "consent",
        "reason": f"approves cycle {cycle + 1}: {how}",
        "evidence": "in writing",
        "decided_at": at,
        "decided_by": by,
    }


def decision_rows(plan: ReviewPlan, known: Iterable[Row], *, by: str, at: datetime) -> list[NewRow]:
    """Write the decision once; one taken for this cycle before is replaced, and stays in the history.

    Parameters
    ----------
    plan : ReviewPlan
        With the decision.
    known : iterable of rows
        Of ``decisions``.
    by : str
        Who decides.
    at : datetime
        When, with offset.
    """
    row = {
        "stage": "review",
        "cycle": plan.cycle,
        "decision": plan.decision.value,
        "reason": plan.answer,
        "evidence": _evidence(plan),
        "decided_by": by,
    }
    old = [
        known_row
        for known_row in known
        if (known_row["stage"], int(known_row["cycle"])) == ("review", plan.cycle)
        and not str(known_row["decision"]).startswith("consent")
    ]
    if old and all(old[-1][name] == value for name, value in row.items()):
        return []
    return [{**row, "decided_at": at, **({"replaces": int(old[-1]["row"])} if old else {})}]


def _evidence(plan: ReviewPlan) -> str:
    """Name the rules that said something; the plan lists them all with their reasons."""
    said = [f"{o.rule}: {o.says}" for o in plan.outcomes if o.says]
    rest = len(plan.outcomes) - len(said)
    return "; ".join([*said, f"{rest} rules open"])


def mark_rows(marks: Sequence[str], cycle: int, logged: Iterable[Row], *, at: datetime) -> list[NewRow]:
    """Note new marks in the log, once.

    Parameters
    ----------
    marks : sequence of str
        As they were seen after the cycle.
    cycle : int
        The cycle just finished.
    logged : iterable of rows
        Of ``log``.
    at : datetime
        With offset.
    """
    remark = f"New marks after cycle {cycle}: {', '.join(marks)}"
    if not marks or any(row["remark"] == remark for row in logged):
        return []
    return [{"stage": "review", "cycle": cycle, "at": at, "remark": remark}]
