"""What intake found, read from the record of the treatment at hand."""

from __future__ import annotations

from dataclasses import replace

from bench.handover.at_hand import AtHand
from bench.treatment.conditions import Condition
from bench.treatment.intake import IntakePlan, decide_intake
from bench.treatment.intake.defects import Defect
from bench.treatment.intake.rows import IntakeFindings, read_findings
from bench.treatment.recorded import build_courses


def known_findings(treatment: AtHand) -> IntakeFindings:
    """Read answers, tests, defects, overrides and consent from the record."""
    rows = [treatment.record.rows(name) for name in ("tests", "defects", "decisions")]
    return read_findings(*rows)


def defects_before(treatment: AtHand, cycle: int) -> tuple[Defect, ...]:
    """Give the defects listed at intake, each with the grade it was last given before a cycle."""
    courses = build_courses(treatment.record.rows("defects"))
    grades = {
        course.defect: [seen.severity for seen in course.sightings if seen.cycle < cycle][-1]
        for course in courses
    }
    found = known_findings(treatment).defects
    return tuple(replace(defect, severity=grades.get(defect.id, defect.severity)) for defect in found)


def intake_of(treatment: AtHand) -> IntakePlan:
    """Work the decision of intake out anew from what the record holds.

    Later stages read the decision and its conditions from here.

    Raises
    ------
    BenchError
        The item has not been described yet, or the record holds what intake refuses.
    """
    found = known_findings(treatment)
    return decide_intake(
        treatment.item,
        findings=found.answers,
        tests=found.tests,
        defects=found.defects,
        overrides=found.overrides,
        consent=found.consent,
    )


def conditions_of(treatment: AtHand, stage: str) -> tuple[Condition, ...]:
    """Give the conditions that intake set for a stage."""
    return intake_of(treatment).conditions_for(stage)
