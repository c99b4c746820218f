"""The air as loggers kept it, out of the files of a record, and the chamber that it is held against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from bench.errors import NotYet
from bench.handover.at_hand import AtHand
from bench.handover.humidity import entered_humidity
from bench.records.logger_files import LoggerLayout
from bench.records.nouns import happened
from bench.treatment.actual.logged import LoggedAir
from bench.treatment.actual.observed import Stay, find_stay
from bench.treatment.humidity.logged import LoggedChamber, hold_against_plan
from bench.treatment.humidity.plan import HumidityPlan
from bench.treatment.humidity.uptake import Setting, set_up
from bench.treatment.rows import is_given


def as_logged(table: Any) -> LoggedAir:
    """Give readings as the air that a stage takes.

    Parameters
    ----------
    table : DataFrame
        As :func:`bench.records.logger_files.read_logger` gives it.
    """
    seconds = (table["time"] - table["time"].iloc[0]).dt.total_seconds().to_numpy()
    begin = table["time"].iloc[0].to_pydatetime()
    return LoggedAir(begin, seconds, table["celsius"].to_numpy(), table["percent"].to_numpy())


@dataclass(frozen=True)
class PlannedChamber:
    """A chamber as it was planned, and from when to when the item was in it.

    Attributes
    ----------
    plan : HumidityPlan
        With what was entered for it.
    setting : Setting
        Item and chamber of the plan.
    stay : Stay or None
        None while no step tells.
    """

    plan: HumidityPlan
    setting: Setting
    stay: Stay | None

    def hold_against(self, air: LoggedAir) -> LoggedChamber:
        """Hold logged air against the plan.

        Parameters
        ----------
        air : LoggedAir
            Corrected.

        Raises
        ------
        NotYet
            No step tells when the item went in.
        BadValue
            The logger read nothing while the item was in.
        """
        if self.stay is None:
            came, allowed = "without times", "a plan whose steps say when the item goes in and comes out"
            raise NotYet("chamber", came, allowed, "Save the plan of the chamber first")
        return hold_against_plan(self.plan, self.setting, air, self.stay)


def planned_chamber(treatment: AtHand, cycle: int) -> PlannedChamber:
    """Give the chamber of a cycle as it was planned.

    Parameters
    ----------
    treatment : AtHand
        At hand.
    cycle : int
        Whose chamber.

    Raises
    ------
    BenchError
        The item is not described well enough for a plan.
    """
    plan = entered_humidity(treatment, cycle)
    setting = set_up(treatment.item, treatment.thicknesses(cycle), plan.choices)
    _, steps = happened(treatment.latest, "humidity", cycle)
    return PlannedChamber(plan, setting, find_stay(steps))


def reading_of(row: Mapping[Any, Any]) -> LoggerLayout:
    """Give how a file is read, as its row keeps it.

    Parameters
    ----------
    row : mapping
        Of ``loggers``.
    """
    clock, ahead = row["clock_column"], row["ahead_min"]
    return LoggerLayout(
        time=str(row["time_column"]),
        temperature=str(row["temperature_column"]),
        humidity=str(row["humidity_column"]),
        clock=str(clock) if is_given(clock) else "",
        unit=str(row["unit"]),
        dates=str(row["dates"]),
        zone=str(row["zone"]),
        ahead=float(ahead) if is_given(ahead) else 0.0,
    )
