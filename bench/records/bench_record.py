"""What a bench measured of itself: its own record beside the treatments, trial by trial.

The folder ``_bench`` is a record as any other, with the same care for every save; its trials are found again
by all treatments beside it.  Nothing is used that nobody accepted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from bench.errors import NotFound, RecordError
from bench.physics.ranges import Range
from bench.records import disk
from bench.records.at_hand import BENCH_FOLDER, bench_of
from bench.records.store import Record, look_at_treatment
from bench.treatment.measured import Accepted, MeasuredHere, constant_of
from bench.treatment.rows import Row, number_in, quantity_of, text_of
from bench.units import Q_, Quantity, name_of


@dataclass(frozen=True)
class SavedTrial:
    """One trial as it was saved.

    Attributes
    ----------
    name, protocol, about : str
        Its own name, the key of its protocol, and what it is of.
    done_at, due_at : datetime
        When it was carried out, and when it should be again.
    is_used : bool
        Whether plans take what it found.
    reason, said : str
        Why, and what it found, in words.
    read : mapping of str to tuple of Quantity
        By the key of what was asked.
    found : mapping of str to Range
        By the key of the constant.
    """

    name: str
    protocol: str
    about: str
    done_at: datetime
    due_at: datetime
    is_used: bool
    reason: str
    said: str
    read: Mapping[str, tuple[Quantity, ...]] = field(default_factory=dict, hash=False)
    found: Mapping[str, Range] = field(default_factory=dict, hash=False)


def trials_of(record: Record) -> tuple[SavedTrial, ...]:
    """Give the trials of a record in the order in which they were carried out.

    Raises
    ------
    RecordError
        A table cannot be read whole.
    """
    read: dict[str, dict[str, list[Row]]] = {}
    for row in record.rows("trial_readings"):
        read.setdefault(str(row["trial"]), {}).setdefault(str(row["key"]), []).append(row)
    found: dict[str, dict[str, Range]] = {}
    for row in record.rows("trial_findings"):
        ends = (quantity_of(row), *(Q_(float(row[end]), quantity_of(row).units) for end in ("low", "high")))
        found.setdefault(str(row["trial"]), {})[str(row["key"])] = Range(*ends)
    trials = [_trial(row, read, found) for row in record.rows("trials")]
    return tuple(sorted(trials, key=lambda trial: trial.done_at))


def _trial(
    row: Row, read: Mapping[str, Mapping[str, list[Row]]], found: Mapping[str, Mapping[str, Range]]
) -> SavedTrial:
    name = str(row["trial"])
    readings = {
        key: tuple(quantity_of(each) for each in sorted(rows, key=lambda each: int(each["replicate"])))
        for key, rows in read.get(name, {}).items()
    }
    return SavedTrial(
        name=name,
        protocol=str(row["protocol"]),
        about=str(row["about"]),
        done_at=row["done_at"],
        due_at=row["due_at"],
        is_used=row["used"] == "yes",
        reason=text_of(row, "reason"),
        said=text_of(row, "said"),
        read=readings,
        found=found.get(name, {}),
    )


def look_at_trials(folder: Path) -> tuple[SavedTrial, ...]:
    """Give the trials of a bench as they stand now, read once for as long as nothing is saved to it.

    Parameters
    ----------
    folder : Path
        ``_bench``; one that is not there has no trials.

    Raises
    ------
    RecordError
        Its tables cannot be read whole.
    """
    state = disk.state_of_tables(folder)
    if not state:
        return ()
    if folder not in _kept or _kept[folder][0] != state:
        try:
            _kept[folder] = (state, trials_of(look_at_treatment(folder)))
        except NotFound:
            return ()
    return _kept[folder][1]


_kept: dict[Path, tuple[object, tuple[SavedTrial, ...]]] = {}
"""What was read last of each bench, and what its files were then."""


def accepted_of(trials: tuple[SavedTrial, ...], now: datetime) -> MeasuredHere:
    """Give what plans take: of each constant of each thing the one that was measured last and accepted."""
    taken = {(each.constant.key, each.about): each for each in all_accepted(trials, now)}
    return tuple(taken.values())


def all_accepted(trials: tuple[SavedTrial, ...], now: datetime) -> MeasuredHere:
    """Give what was accepted, also what a later trial replaced: readings of that time carry it."""
    found = []
    for trial in trials:
        for key, value in trial.found.items() if trial.is_used else ():
            constant = constant_of(key)
            if constant is not None:  # one of a newer program is left alone
                days = (trial.done_at.date(), trial.due_at.date())
                found.append(Accepted(constant, trial.about, value, *days, is_due=trial.due_at <= now))
    return tuple(found)


def trials_beside(folder: Path) -> tuple[tuple[SavedTrial, ...], str]:
    """Give the trials of the bench of a treatment, and why they cannot be read, if they cannot.

    Parameters
    ----------
    folder : Path
        Of the treatment.

    Returns
    -------
    trials : tuple of SavedTrial
        None where they cannot be read: plans go by the books then, and say why.
    fault : str
        Empty, or the reason.
    """
    try:
        return look_at_trials(bench_of(folder)), ""
    except RecordError as error:
        return (), f"{BENCH_FOLDER}: {str(error).splitlines()[0]}"


def measured_beside(folder: Path, now: datetime) -> MeasuredHere:
    """Give what the bench of a treatment measured of itself and accepted; nothing where it cannot be read.

    Parameters
    ----------
    folder : Path
        Of the treatment.
    now : datetime
        By which it is told what is due again.
    """
    return accepted_of(trials_beside(folder)[0], now)


def rows_of_trial(trial: SavedTrial) -> dict[str, list[dict[str, Any]]]:
    """Give the rows that save a new trial: itself, its readings, what it found."""
    own = {"trial": trial.name}
    readings = [
        {**own, "key": key, "replicate": number, **_plain(value)}
        for key, values in trial.read.items()
        for number, value in enumerate(values, start=1)
    ]
    findings = [{**own, "key": key, **_ends(key, value)} for key, value in trial.found.items()]
    rows = {"trials": [_row_of(trial)], "trial_readings": readings, "trial_findings": findings}
    return {name: listed for name, listed in rows.items() if listed}


def rows_of_decision(
    record: Record, trial: SavedTrial, *, is_used: bool, reason: str
) -> dict[str, list[dict[str, Any]]]:
    """Give the row that decides anew on a trial that is saved; its readings stay as they are."""
    (before,) = (row["row"] for row in record.rows("trials") if row["trial"] == trial.name)
    decided = replace(trial, is_used=is_used, reason=reason)
    return {"trials": [{**_row_of(decided), "replaces": before}]}


def _row_of(trial: SavedTrial) -> dict[str, Any]:
    return {
        "trial": trial.name,
        "protocol": trial.protocol,
        "about": trial.about,
        "done_at": trial.done_at,
        "due_at": trial.due_at,
        "used": "yes" if trial.is_used else "no",
        "reason": trial.reason,
        "said": trial.said,
    }


def _plain(value: Quantity) -> dict[str, Any]:
    return {"value": float(value.magnitude), "unit": name_of(value) or "dimensionless"}


def _ends(key: str, value: Range) -> dict[str, Any]:
    constant = constant_of(key)
    unit = f"{value.value.units}" if constant is None else constant.unit
    ends = {"value": value.value, "low": value.low, "high": value.high}
    return {**{name: number_in(end, unit) for name, end in ends.items()}, "unit": unit or "dimensionless"}


def name_trial(protocol: str, at: datetime) -> str:
    """Name a new trial by its protocol and the second at which it is saved."""
    return f"{protocol}-{at:%Y%m%d-%H%M%S}"


def due_after(done_at: datetime, days: int) -> datetime:
    """Give when a trial should be done again."""
    return done_at + timedelta(days=days)
