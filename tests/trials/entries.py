"""Readings of a trial as an operator would type them."""

from bench.trials.protocol import Protocol, Readings
from bench.units import MILLIMETRES, Quantity, UnitChoice


def entries_of(protocol: Protocol, readings: Readings, units: UnitChoice = MILLIMETRES) -> dict[str, str]:
    """Write readings as the fields of the panel take them in the units of the operator."""
    return {
        asked.key: " ".join(_write(value, units.unit_for(asked.unit)) for value in readings.read[asked.key])
        for asked in protocol.asked
        if readings.has(asked)
    }


def _write(value: Quantity, unit: str) -> str:
    return f"{float(value.to(unit).magnitude):.6g}"
