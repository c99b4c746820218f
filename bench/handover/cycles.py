"""What the cycles before one hand on: the plans of their work, what they cost, what their review decided."""

from __future__ import annotations

from bench.handover.at_hand import AtHand
from bench.records.nouns import planned_values
from bench.records.store import Record
from bench.treatment.doses import Plans, Spent, spend_cycles
from bench.treatment.review.levers import Conditions, read_next


def plans_of(record: Record, last: int) -> Plans:
    """Give the saved plans of chamber and press, cycle by cycle up to and with a last one."""
    return {
        (stage, cycle): planned_values(record, stage, cycle)
        for cycle in range(1, last + 1)
        for stage in ("humidity", "pressing")
    }


def spent_before(treatment: AtHand, cycle: int) -> Spent:
    """Give what the cycles before this one cost, as planned."""
    return spend_cycles(plans_of(treatment.record, cycle - 1), cycle - 1)


def decided_for(treatment: AtHand, cycle: int) -> Conditions:
    """Give what the review of the cycle before decided for this one; nothing in the first."""
    return read_next(planned_values(treatment.record, "review", cycle - 1)) if cycle > 1 else Conditions()
