"""Chamber and press as they were planned, for the weighings that were made in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from bench.handover.at_hand import AtHand
from bench.handover.humidity import chamber_choices
from bench.handover.pressing import pressing_choices
from bench.records.nouns import planned_number, planned_of, timeline_of
from bench.treatment import facts
from bench.treatment.clock.schedule import Step, in_hours
from bench.treatment.humidity import HumidityChoices, Source
from bench.treatment.humidity.words import IN_CHAMBER
from bench.treatment.pressing import PressingChoices
from bench.treatment.pressing.plan import measured_half_life
from bench.treatment.pressing.words import COOL, NIGHT
from bench.units import Q_, Quantity

_BETWEEN, _REST = "in the press", "rest under light weight"


def went_in(treatment: AtHand, cycle: int) -> datetime | None:
    """Give when an item went into the chamber, or is to go, by the schedule; None where it does not say."""
    waits = (step.begins for step in _steps_of(treatment, "humidity", cycle) if step.name == IN_CHAMBER)
    return next(waits, None)


def _steps_of(treatment: AtHand, stage: str, cycle: int) -> list[Step]:
    timeline = timeline_of(treatment.record)
    return [s for s in (timeline.steps if timeline else ()) if (s.stage, s.cycle) == (stage, cycle)]


def chamber_used(treatment: AtHand, cycle: int) -> HumidityChoices:
    """Propose the chamber with the source, warmth and hours that were saved of it.

    What was learned by weighing is left out: it would be believed before its own weighings.
    """
    usual = chamber_choices(treatment)
    for row in treatment.record.rows("materials"):
        if (row["stage"], int(row["cycle"])) != ("humidity", cycle) or row["kind"] not in ("salt", "water"):
            continue
        is_salt = row["kind"] == "salt"
        salt = str(row["material"]) if is_salt else usual.salt
        usual = replace(usual, source=Source.SALT if is_salt else Source.WATER, salt=salt)
    air = planned_number(treatment.record, "humidity", cycle, facts.AIR_TEMPERATURE)
    planned = planned_number(treatment.record, "humidity", cycle, facts.HOURS_IN_CHAMBER)
    return replace(
        usual,
        air_temperature=usual.air_temperature if air is None else air,
        planned=usual.planned if planned is None else planned,
    )


def press_used(treatment: AtHand, cycle: int) -> PressingChoices:
    """Give the press with what was saved of its plan and entered in its schedule, else as usual.

    Parameters
    ----------
    treatment : AtHand
        At hand.
    cycle : int
        Which one was weighed in.

    Returns
    -------
    PressingChoices
        Heat, changes and times as saved; boards and load as the trade does it.
    """
    usual = pressing_choices(treatment, cycle)
    if not planned_of(treatment.record, "pressing", cycle):
        return usual
    return replace(usual, **_heat(treatment, cycle), **_times(treatment, cycle, usual))


def _heat(treatment: AtHand, cycle: int) -> dict[str, Any]:
    """Give platen, dwell and number of changes; a plan without a platen was cold."""
    read = {
        name: planned_number(treatment.record, "pressing", cycle, fact)
        for name, fact in (
            ("platen_temperature", facts.PLATEN),
            ("dwell", facts.DWELL),
            ("half_life", facts.HALF_LIFE),
            ("changes", facts.CHANGES_PLANNED),
        )
    }
    found: dict[str, Any] = {"platen_temperature": read["platen_temperature"]}
    if read["dwell"] is not None:
        found["dwell"] = read["dwell"]
    if read["half_life"] is not None:
        found["half_life"] = measured_half_life(read["half_life"])
    if read["changes"] is not None:
        found["changes"] = round(float(read["changes"].magnitude))
    return found


def _times(treatment: AtHand, cycle: int, usual: PressingChoices) -> dict[str, Any]:
    """Give the night, the time between changes and the rest as the schedule has them."""
    here = _steps_of(treatment, "pressing", cycle)
    cool, late, between, rest = (_lasts(here, name) for name in (COOL, NIGHT, _BETWEEN, _REST))
    closed = [part for part in (cool, late) if part is not None]
    night = sum(closed[1:], start=closed[0]) if closed else None  # the cooling is its first part
    found: dict[str, Any] = {}
    if night is not None:
        found["night"] = night
    if between is not None:
        found["between_changes"] = between
    if rest is not None:
        found["under_weight"] = rest
    return found


def _lasts(steps: Sequence[Step], name: str) -> Quantity | None:
    """Give how long the first step of a name lasted, or is planned to last; None without one."""
    step = next((step for step in steps if step.name == name), None)
    return None if step is None else Q_(in_hours(step.lasts), "hour")
