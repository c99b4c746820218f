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
from bench.records.index import look_up
from bench.records.learned import BENCH, WEIGHINGS
from bench.records.many import Progress
from bench.records.rules import TAKEN_BACK, WORKED_OUT
from bench.records.schema import STAGES
from bench.records.sheet import Row, Sheet, Sheets, faults_of, format_line
from bench.records.standing import CORRECTION, NO_LONGER, flags_of, say_flags
from bench.records.store import look_at_treatment
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
    "caution",
)


def list_treatments(records_folder: str | Path, *, progress: Progress | None = None) -> pd.DataFrame:
    """List the treatments of a folder, with where each stands and what is due.

    Parameters
    ----------
    records_folder : str or Path
        Where the treatments are.
    progress : callable, optional
        ``progress(done, of)``, while treatments are read that have changed since the last time.

    Returns
    -------
    DataFrame
        One row a treatment: ``treatment_id`` (name of its folder), ``title``, ``owner``,
        ``stage_reached`` (the furthest stage of the last cycle in which something was done),
        ``last_decision`` (to treat, hold, refer, repeat or stop), ``next_step`` (at which somebody must
        be there), ``due_at`` (when that step starts, or ends if it is under way; a datetime with
        offset), ``fault``, which says in a sentence why a row is not complete, and ``caution``, which
        says what is out of date.  A broken folder has a row like any other.

    Raises
    ------
    NotFound
        No such folder.
    """
    folders = treatment_folders(records_folder)
    found = look_up(Path(records_folder), folders, describe_treatment, progress=progress)
    rows = [{**row, "due_at": row["due_at"] and datetime.fromisoformat(row["due_at"])} for row in found]
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


def describe_treatment(folder: Path) -> dict[str, Any]:
    """Give one row of the register, its time as text."""
    row = _describe(folder)
    return {**row, "due_at": row["due_at"] and row["due_at"].isoformat()}


def _describe(folder: Path) -> dict[str, Any]:
    row: dict[str, Any] = dict.fromkeys(COLUMNS, "")
    row |= {"treatment_id": folder.name, "due_at": None}
    try:
        record = look_at_treatment(folder)
        sheets = record.sheets()
    except (RecordError, BenchError, OSError) as error:
        return row | {"fault": str(error).splitlines()[0]}
    faults = [str(fault) for fault in faults_of(sheets)]
    faults += [str(fault) for sheet in sheets.values() for now in sheet.current for fault in now.faults]
    if len(faults) > 1:
        faults[0] += f" ({len(faults)} faults in all.)"
    row["fault"] = (faults or record.notice.splitlines() or [""])[0]
    for item in sheets["treatment"].current[-1:]:
        row |= {"title": item.values["title"] or "", "owner": item.values["owner"] or ""}
    reached, moment = _find_reached(sheets)
    row["stage_reached"] = _say_reached(sheets, reached)
    row["last_decision"] = _last_decision(sheets["decisions"])
    row["next_step"], row["due_at"] = _next_step(sheets["steps"], reached, moment, row["last_decision"])
    if not row["fault"]:
        row["caution"] = say_flags(flags_of(record))
    return row


Reached = tuple[int, int]  # cycle, and place of the stage in the order of the work

# Rows that prepare or learn (a hygrometer held against a salt, a fit of what was measured), were worked out
# from a logger, or were taken back.
_PREPARES = (CORRECTION, WEIGHINGS, BENCH, TAKEN_BACK, WORKED_OUT)
_OVER_SALT = "over "  # place of the reading that goes with such a check


def _find_reached(sheets: Sheets) -> tuple[Reached | None, datetime | None]:
    """Find the furthest stage of the last cycle in which something was done, and when that was.

    What a plan writes (materials, planned steps) is not done yet, nor is what prepares a stage.
    """
    done = [(row.values, row.values["actual_start"]) for row in sheets["steps"].current]
    done = [(values, at) for values, at in done if at is not None]
    done += [(row.values, row.values["at"]) for row in sheets["log"].current if not _prepares(row.values)]
    done += [
        (row.values, row.values["taken_at"])
        for row in sheets["readings"].current
        if not _prepares(row.values) and not str(row.values["place"] or "").startswith(_OVER_SALT)
    ]
    done += [
        (row.values, row.values["decided_at"])
        for row in sheets["decisions"].current
        if _is_decision(row.values) or row.values["stage"] == "intake"
    ]
    reached = [
        ((values["cycle"] or 0, STAGES.index(values["stage"])), at)
        for values, at in done
        if values["stage"] in STAGES
    ]
    if not reached:
        return None, None
    furthest = max(place for place, _ in reached)
    return furthest, max((at for place, at in reached if place == furthest and at is not None), default=None)


def _prepares(values: Mapping[str, Any]) -> bool:
    return str(values["quantity"] or "").startswith(_PREPARES)


def _say_reached(sheets: Sheets, reached: Reached | None) -> str:
    if reached is None:
        examined = any(sheets[name].current for name in ("staples", "tests", "defects", "photographs"))
        return "intake" if examined else "not begun"
    cycle, stage = reached
    return STAGES[stage] + (f" (cycle {cycle})" if cycle > 1 else "")


def _is_decision(values: Mapping[str, Any]) -> bool:
    """Tell a decision on the treatment from a consent, an override or the use of a fit."""
    said = str(values["decision"] or "")
    return values["gate"] is None and (said in _DECISIONS or said.startswith(_REPEAT))


_DECISIONS, _REPEAT = ("treat", "hold", "refer", "stop"), "repeat"


def _last_decision(sheet: Sheet) -> str:
    dated = [
        row for row in sheet.current if row.values["decided_at"] is not None and _is_decision(row.values)
    ]
    last = max(dated, key=lambda row: (row.values["decided_at"], row.number), default=None)
    return str(last.values["decision"]) if last else ""


def _next_step(
    sheet: Sheet, reached: Reached | None, moment: datetime | None, decision: str
) -> tuple[str, datetime | None]:
    """Find the step at which somebody must be there next, and when.

    Steps before the last that was begun, or before the stage that was reached, are past whether or not
    anybody marked them; a wait goes on by itself, and a look-in that was missed is not made up for.
    """
    rows = [row for row in sheet.current if row.values["note"] != NO_LONGER and _when(row)]
    rows.sort(key=lambda row: (_when(row), row.number))
    begun = [k for k, row in enumerate(rows) if row.values["actual_start"] is not None]
    left = rows[begun[-1] :] if begun else rows
    left = [row for row in left if row.values["actual_end"] is None and not _is_past(row, reached, moment)]
    if decision in ("hold", "refer"):
        left = [row for row in left if reached is not None and _place(row) <= reached]
    if not left:
        return "", None
    wanted = [row for row in left if row.values["hands"] == "yes" and row.values["optional"] != "yes"]
    first = (wanted or left)[0]
    under_way = first.values["actual_start"] is not None
    at = first.values["planned_end"] if under_way else first.values["planned_start"]
    return f"{first.values['name']}{' (under way)' if under_way else ''}", at or _when(first)


def _when(row: Row) -> datetime | None:
    return row.values["actual_start"] or row.values["planned_start"]


def _place(row: Row) -> Reached:
    stage = row.values["stage"]
    return row.values["cycle"] or 0, STAGES.index(stage) if stage in STAGES else 0


def _is_past(row: Row, reached: Reached | None, moment: datetime | None) -> bool:
    """Tell whether a step that nobody marked must be over by what else is recorded."""
    if row.values["actual_start"] is not None or reached is None:
        return False
    if _order(_place(row)) != _order(reached):
        return _order(_place(row)) < _order(reached)
    end = row.values["planned_end"]
    return moment is not None and end is not None and end <= moment


def _order(place: Reached) -> Reached:
    """Order intake and cleaning, which come once, before every cycle."""
    _, stage = place
    return (0, stage) if STAGES[stage] in ("intake", "cleaning") else place
