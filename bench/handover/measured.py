"""What this bench measured of itself and accepted, as the stages take it."""

from __future__ import annotations

from bench.handover.at_hand import AtHand
from bench.records.bench_record import measured_beside, trials_beside
from bench.records.clock import now
from bench.treatment.measured import MeasuredHere


def measured_here(treatment: AtHand) -> MeasuredHere:
    """Give what the bench of a treatment measured of itself and accepted; nothing if that cannot be read."""
    return measured_beside(treatment.record.folder, now())


def unread_here(treatment: AtHand) -> tuple[str, ...]:
    """Name the record of the bench if it cannot be read, with the reason: what was accepted is missing."""
    _, fault = trials_beside(treatment.record.folder)
    return (fault,) if fault else ()
