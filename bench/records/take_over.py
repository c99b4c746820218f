"""Take over rows that were changed outside the workbook, with who and why."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from bench.errors import BadValue
from bench.records import disk, journal
from bench.records.draft import Stamp
from bench.records.gate import build_table
from bench.records.ledger import GONE, Difference, Place, SaveChain, find_differences, head_of, name_save
from bench.records.migrate import bring_up
from bench.records.restore_points import make_restore_point
from bench.records.schema import SAVES
from bench.records.sheet import Sheet
from bench.records.tables import read_files, read_sheets
from bench.records.values import guard_text

_LONGEST_REASON = 1000


def take_over(
    folder: str | Path, *, by: str, at: datetime, why: str, wait: float = 10.0
) -> tuple[Difference, ...]:
    """Let rows count as they stand now, and note in the list of saves who says so and why.

    Nothing in the tables is changed.  A restore point is made first.

    Parameters
    ----------
    folder : str or Path
        Of the treatment.
    by, at : str, datetime
        Who takes over, and when, with offset.
    why : str
        What was changed and for what reason.
    wait : float
        Seconds to wait for another notebook that is saving.

    Returns
    -------
    tuple of Difference
        What was taken over; empty if nothing differed.

    Raises
    ------
    BadValue
        No name or no reason.
    RecordError
        A table cannot be read whole, or the folder cannot be written.
    """
    stamp, path = Stamp(by, at), Path(folder)
    note = check_reason(why)
    with disk.hold_lock(path, wait=wait):
        journal.finish(path)
        bring_up(path, stamp)
        data = read_files(path)
        sheets = read_sheets(data)
        ledger = sheets[SAVES.name]
        differences = find_differences(sheets, ledger)
        if not differences:
            return ()
        make_restore_point(path, at=at, why="before-take-over")
        marks = _marks_now(differences, sheets)
        save = name_save(f"{sorted(marks.items())} {note} {stamp.saved_at}")
        lines = SaveChain(ledger).add(marks, save=save, by=stamp.name, saved_at=stamp.saved_at, note=note)
        content = build_table(data[SAVES.name], ledger, lines)
        pending = journal.Pending(save, {SAVES.name: lines}, head_of(ledger))
        journal.commit(path, pending, {SAVES.name: content})
    return tuple(differences)


def check_reason(why: str) -> str:
    """Give a reason as it stands in a cell.

    Raises
    ------
    BadValue
        None is given, or a very long one.
    """
    if not why.strip() or len(why) > _LONGEST_REASON:
        came = "empty" if not why.strip() else f"{len(why)} characters"
        allowed = f"a sentence of at most {_LONGEST_REASON} characters"
        raise BadValue("reason", came, allowed, "Say what was changed and why")
    return guard_text(why.strip())


def _marks_now(differences: list[Difference], sheets: dict[str, Sheet]) -> dict[Place, str]:
    """Mark the rows that differ as they stand now."""
    now = {(name, row.number): row.mark for name, sheet in sheets.items() for row in sheet.rows}
    places = sorted({(each.table or SAVES.name, number) for each in differences for number in each.rows})
    return {place: now.get(place, GONE) for place in places}
