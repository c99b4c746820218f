"""What this bench measured of itself and accepted, as the stages take it."""

from __future__ import annotations

from bench.handover.at_hand import AtHand
from bench.treatment.measured import NOTHING_MEASURED, MeasuredHere


def measured_here(treatment: AtHand) -> MeasuredHere:
    """Give what the bench of a treatment measured of itself and accepted."""
    return NOTHING_MEASURED
