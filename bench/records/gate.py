"""The one gate for every byte of a table: a save is built here, and what is to be written is read back first.

A new content is let through only if the strict reader takes it, what was there stays as it was, and the new
rows are the ones that were meant.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bench.errors import Fault, RecordError
from bench.records.draft import Stamp, TextRow, find_wrong_replacements, stamp_rows
from bench.records.journal import Pending
from bench.records.ledger import SaveChain, head_of, marks_of
from bench.records.schema import SAVES
from bench.records.sheet import Row, Sheet, Sheets, add_rows, faults_of, read_sheet


def build_save(
    drafted: Mapping[str, Sequence[TextRow]], stamp: Stamp, data: Mapping[str, bytes | None], sheets: Sheets
) -> tuple[Pending, dict[str, bytes]]:
    """Stamp drafted rows, list them, and build the tables that they go into.

    Parameters
    ----------
    drafted : mapping of table name to rows of text
        As :func:`bench.records.draft.draft_rows` gives them.
    stamp : Stamp
        Who saves, and when.
    data : mapping of table name to bytes or None
        What the files hold now; None for one that is not there yet.
    sheets : mapping of table name to Sheet
        What that says, of the list of saves too.

    Returns
    -------
    pending : Pending
        The save, with its lines in the list of saves.
    contents : dict of table name to bytes
        The whole new content of every table that it changes.

    Raises
    ------
    RecordError
        A table cannot be read whole, a row replaces one that does not hold, or a table would not read back.
    """
    faults = faults_of(sheets)
    if not faults:
        for name, texts in drafted.items():
            faults += find_wrong_replacements(texts, sheets[name])
    if faults:
        raise RecordError(faults)
    last = {name: sheet.last_row for name, sheet in sheets.items()}
    used = {str(row.values["save"]) for sheet in sheets.values() for row in sheet.rows}
    save, rows = stamp_rows(drafted, stamp, last, used)
    ledger = sheets[SAVES.name]
    lines = SaveChain(ledger).add(marks_of(rows), save=save, by=stamp.name, saved_at=stamp.saved_at)
    pending = Pending(save, {**rows, SAVES.name: lines}, head_of(ledger))
    contents = {name: build_table(data[name], sheets[name], texts) for name, texts in pending.rows.items()}
    return pending, contents


def build_table(data: bytes | None, sheet: Sheet, rows: Sequence[Mapping[str, str]]) -> bytes:
    """Give the new content of a table, read back.

    Parameters
    ----------
    data : bytes or None
        Its content now; None if it is not there yet.
    sheet : Sheet
        What that says.
    rows : sequence of rows of text
        To be added; with none, only columns that it lacks are.

    Raises
    ------
    RecordError
        It would not read back as it was meant: nothing may be written.
    """
    after = add_rows(data, sheet, rows)
    if not rows and after == data:
        return after
    is_new = data is None or b"\n" not in data or not after.startswith(data)
    # What was only gone on with is not read twice: its first bytes are the same.
    start = b"" if is_new else _header_line(after)
    added = after if is_new else start + after[len(data or b"") :]
    back = read_sheet(added, sheet.table)
    faults = list(back.faults)
    old = sheet.rows if is_new else ()
    if not faults and not _is_as_meant(back, old, rows, sheet.last_row):
        what = "would not read back as it was meant: nothing was written. Tell the makers of the workbook."
        faults = [Fault(sheet.table.file, None, None, what)]
    if faults:
        raise RecordError(faults)
    return after


def _header_line(data: bytes) -> bytes:
    return data[: data.index(b"\n") + 1]


def _is_as_meant(back: Sheet, old: Sequence[Row], rows: Sequence[Mapping[str, str]], last: int) -> bool:
    """Tell whether old rows are unchanged and the new ones as meant, numbered on from the last."""
    kept, new = back.rows[: len(old)], back.rows[len(old) :]
    return (
        [row.mark for row in kept] == [row.mark for row in old]
        and [{name: row.cells[name] for name in back.header} for row in new]
        == [{name: row[name] for name in back.header} for row in rows]
        and [row.number for row in new] == list(range(last + 1, last + 1 + len(rows)))
    )
