"""What intake found, read from the record of the treatment at hand."""

from __future__ import annotations

from bench.desk import Treatment
from bench.treatment.conditions import Condition
from bench.treatment.intake import IntakePlan, decide_intake
from bench.treatment.intake_rows import Findings, read_findings


def known_findings(treatment: Treatment) -> Findings:
    """Read answers, tests, defects, overrides and consent from the record."""
    rows = [treatment.record.read(name).to_dict("records") for name in ("tests", "defects", "decisions")]
    return read_findings(*rows)


def intake_of(treatment: Treatment) -> IntakePlan:
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


def conditions_of(treatment: Treatment, stage: str) -> tuple[Condition, ...]:
    """Give the conditions that intake set for a stage."""
    return intake_of(treatment).conditions_for(stage)
