"""What the cycles before one hand on: the plans of their work, what they cost, what their review decided."""

from __future__ import annotations

from bench.handover.at_hand import AtHand
from bench.records.nouns import planned_values
from bench.records.store import Record
from bench.treatment.actual.followed import FollowedChamber, follow_in_use
from bench.treatment.as_logged import with_loggers
from bench.treatment.doses import Plans, Spent, spend_cycles
from bench.treatment.review.levers import Conditions, read_next

_TOLD_BY = ("log", "loggers", "plans", "steps")


def plans_of(record: Record, last: int) -> Plans:
    """Give the saved plans of chamber and press, and their loggers, cycle by cycle up to a last one."""
    plans = {
        (stage, cycle): planned_values(record, stage, cycle)
        for cycle in range(1, last + 1)
        for stage in ("humidity", "pressing")
    }
    return with_loggers(plans, {name: record.rows(name) for name in _TOLD_BY}) if plans else plans


def logger_of(record: Record, cycle: int) -> FollowedChamber | None:
    """Give what a logger says of the chamber of a cycle in place of its plan; None where the plan holds."""
    return follow_in_use({name: record.rows(name) for name in _TOLD_BY}, cycle)


def spent_before(treatment: AtHand, cycle: int) -> Spent:
    """Give what the cycles before this one cost, as planned or by the loggers of their chambers."""
    return spend_cycles(plans_of(treatment.record, cycle - 1), cycle - 1)


def decided_for(treatment: AtHand, cycle: int) -> Conditions:
    """Give what the review of the cycle before decided for this one; nothing in the first."""
    return read_next(planned_values(treatment.record, "review", cycle - 1)) if cycle > 1 else Conditions()
