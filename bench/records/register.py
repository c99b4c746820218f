"""The register: one line a treatment, made anew from the folders whenever it is wanted."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import pandas as pd

from bench.errors import BenchError, RecordError
from bench.records import disk
from bench.records.check import treatment_folders
from bench.records.faults import explain_os_error
from bench.records.schema import STAGES, TABLES
from bench.records.sheet import Row, Sheet, format_line
from bench.records.store import open_treatment
from bench.records.values import guard_text

REGISTER = "register.csv"
COLUMNS = (
    "treatment_id",
    "title",
    "owner",
    "stage_reached",
    "last_decision",
    "next_step",
    "due_at",
    "fault",
)


def list_treatments(records_folder: str | Path) -> pd.DataFrame:
    """List the treatments of a folder, with where each stands and what is due.

    Parameters
    ----------
    records_folder : str or Path
        Where the treatments are.

    Returns
    -------
    DataFrame
        One row a treatment: ``treatment_id`` (name of its folder), ``title``, ``owner``,
        ``stage_reached`` (the furthest stage of the last cycle in which something was done),
        ``last_decision``, ``next_step``, ``due_at`` (when that step starts, or ends if it is under
        way; a datetime with offset) and ``fault``, which says in a sentence why a row is not
        complete.  A broken folder has a row like any other.

    Raises
    ------
    NotFound
        No such folder.
    """
    rows = [_describe(folder) for folder in treatment_folders(records_folder)]
    frame = pd.DataFrame(rows, columns=list(COLUMNS))
    frame["due_at"] = pd.Series(
        [pd.NaT if row["due_at"] is None else row["due_at"] for row in rows], dtype=object
    )
    return frame


def rebuild_register(records_folder: str | Path) -> pd.DataFrame:
    """Write ``register.csv`` beside the treatments and give what it says.

    Raises
    ------
    NotFound
        No such folder.
    RecordError
        The folder cannot be written; an older register stands as it was.
    """
    folder = Path(records_folder)
    treatment_folders(folder)
    with disk.hold_lock(folder):
        frame = list_treatments(folder)
        lines = [format_line(COLUMNS)]
        for _, row in frame.iterrows():
            due = "" if pd.isna(row["due_at"]) else row["due_at"].isoformat()
            lines.append(
                format_line(due if name == "due_at" else guard_text(str(row[name])) for name in COLUMNS)
            )
        try:
            disk.replace_file(folder / REGISTER, "".join(lines).encode("utf-8"))
        except OSError as error:
            raise explain_os_error(error, folder, "The register stays as it was") from error
    return frame


def say_due(at: Any, now: datetime) -> str:
    """Write when a step is due; a time that is past is marked in words.

    Examples
    --------
    >>> from datetime import UTC
    >>> say_due(datetime(2026, 3, 2, 9, 0, tzinfo=UTC), datetime(2026, 3, 4, 8, 0, tzinfo=UTC))
    'overdue since Mon 02 Mar 2026 09:00'
    """
    if pd.isna(at):
        return ""
    return ("overdue since " if at < now else "") + f"{at:%a %d %b %Y %H:%M}"


def _describe(folder: Path) -> dict[str, Any]:
    row: dict[str, Any] = dict.fromkeys(COLUMNS, "")
    row |= {"treatment_id": folder.name, "due_at": None}
    try:
        record = open_treatment(folder, recover=False)
        sheets = {name: record.sheet(table) for name, table in TABLES.items()}
    except (RecordError, BenchError, OSError) as error:
        return row | {"fault": str(error).splitlines()[0]}
    faults = [str(fault) for sheet in sheets.values() for fault in sheet.faults]
    faults += [str(fault) for sheet in sheets.values() for now in sheet.current for fault in now.faults]
    if len(faults) > 1:
        faults[0] += f" ({len(faults)} faults in all.)"
    row["fault"] = (faults or record.notice.splitlines() or [""])[0]
    for item in sheets["treatment"].current[-1:]:
        row |= {"title": item.values["title"] or "", "owner": item.values["owner"] or ""}
    row["stage_reached"] = _stage_reached(sheets)
    row["last_decision"] = _last_decision(sheets["decisions"])
    row["next_step"], row["due_at"] = _next_step(sheets["steps"])
    return row


def _stage_reached(sheets: Mapping[str, Sheet]) -> str:
    """Furthest stage of the last cycle in which something was done, not only planned."""
    done = [
        row.values for name in ("readings", "decisions", "log", "materials") for row in sheets[name].current
    ]
    done += [row.values for row in sheets["steps"].current if row.values["actual_start"] is not None]
    reached = [
        (values["cycle"] or 0, STAGES.index(values["stage"])) for values in done if values["stage"] in STAGES
    ]
    if not reached:
        examined = any(sheets[name].current for name in ("staples", "tests", "defects", "photographs"))
        return "intake" if examined else "not begun"
    cycle, stage = max(reached)
    return STAGES[stage] + (f" (cycle {cycle})" if cycle > 1 else "")


def _last_decision(sheet: Sheet) -> str:
    dated = [row for row in sheet.current if row.values["decided_at"] is not None]
    last = max(dated, key=lambda row: (row.values["decided_at"], row.number), default=None)
    return str(last.values["decision"]) if last else ""


def _next_step(sheet: Sheet) -> tuple[str, datetime | None]:
    """Find the step that is due next among those not ended."""

    def due(row: Row) -> datetime | None:
        under_way = row.values["actual_start"] is not None
        at: datetime | None = row.values["planned_end" if under_way else "planned_start"]
        return at or row.values["actual_start"]

    waiting = [(at, row) for row in sheet.current if row.values["actual_end"] is None and (at := due(row))]
    if not waiting:
        return "", None
    at, row = min(waiting, key=lambda pair: (pair[0], pair[1].number))
    under_way = " (under way)" if row.values["actual_start"] is not None else ""
    return f"{row.values['name']}{under_way}", at
