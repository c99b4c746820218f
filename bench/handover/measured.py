"""What this bench measured of itself and accepted, as the stages take it."""

from __future__ import annotations

from bench.errors import RecordError
from bench.handover.at_hand import AtHand
from bench.records.at_hand import BENCH_FOLDER
from bench.records.bench_record import measured_beside
from bench.records.clock import now
from bench.treatment.measured import NOTHING_MEASURED, MeasuredHere


def measured_here(treatment: AtHand) -> MeasuredHere:
    """Give what the bench of a treatment measured of itself and accepted; nothing if that cannot be read."""
    try:
        return measured_beside(treatment.record.folder, now())
    except RecordError:
        return NOTHING_MEASURED


def unread_here(treatment: AtHand) -> tuple[str, ...]:
    """Name the record of the bench if it cannot be read, with the reason: what was accepted is missing."""
    try:
        measured_beside(treatment.record.folder, now())
    except RecordError as error:
        return (f"{BENCH_FOLDER}: {str(error).splitlines()[0]}",)
    return ()
