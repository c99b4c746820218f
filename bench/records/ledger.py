"""The ledger of saves: what each save wrote, chained to the save before, so that a silent change is noticed.

``saves.csv`` holds one line a save: which rows it wrote, a short mark of each, and a digest over all of that
and over the digest before.  A row that is not as it was saved differs from its mark; a row that is gone, a
table from another copy, or a line of the ledger that was changed does not fit the rest.  This guards against
accidents and edits that nobody meant or told; somebody who recomputes every digest can still forge a record.

A record from before the ledger has ids of saves that are digests of their rows, and is checked by those.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from bench.records.schema import FILES, SAVES, TABLES, TREATMENT, Table
from bench.records.sheet import Row, Sheet, Sheets, mark_cells
from bench.records.version import version_of

Place = tuple[str, int]
"""A table and the number of a row."""
TextRows = Mapping[str, Sequence[Mapping[str, str]]]

_NOTHING = "nothing"  # an act that wrote no row, such as a restore
GONE = "gone"
"""In place of the mark of a row that was taken out, and that was taken over as such."""
_PER_LINE = 1000  # rows of a save in one line of the ledger: a cell holds their marks
_SALTS = 50  # more equal saves than that were never told apart
_PART = re.compile(r"(?P<table>[a-z_]+) (?P<numbers>\d+(?:-\d+)?(?:, \d+(?:-\d+)?)*)", re.ASCII)


@dataclass(frozen=True)
class Difference:
    """Rows that are not as they were saved.

    Attributes
    ----------
    table : str
        Name of the table; empty for the ledger itself.
    rows : tuple of int
        Numbers of the rows.
    save : str
        Id of the save that wrote them; empty if none is known.
    what : str
        What is wrong, and what to do, in a sentence.
    """

    table: str
    rows: tuple[int, ...]
    save: str
    what: str


@dataclass(frozen=True)
class SaveLine:
    """One line of the ledger, read."""

    number: int
    save: str
    places: tuple[Place, ...]
    marks: tuple[str, ...]
    is_sound: bool
    """Whether its digest is that of what it says, and follows the line before."""


class SaveChain:
    """The end of a ledger, to which saves are added one after the other."""

    def __init__(self, ledger: Sheet) -> None:
        self._number, self._before = ledger.last_row, head_of(ledger)

    def add(
        self, marks: Mapping[Place, str], *, save: str, by: str, saved_at: str, note: str = ""
    ) -> list[dict[str, str]]:
        """Write the lines of the ledger for one save.

        Parameters
        ----------
        marks : mapping of (table, row number) to mark
            Of its rows, as :func:`marks_of` gives them.
        save, by, saved_at : str
            As they stand in the rows.
        note : str
            Why rows that were changed outside the workbook are taken over; blank for a usual save.

        Returns
        -------
        list of mapping of column to text
            One line for every thousand rows.
        """
        places, lines = list(marks), []
        for start in range(0, max(len(places), 1), _PER_LINE):
            part = places[start : start + _PER_LINE]
            self._number += 1
            line = {
                "row": str(self._number),
                "replaces": "",
                "saved_at": saved_at,
                "by": by,
                "save": save,
                "covers": write_places(part) or _NOTHING,
                "marks": " ".join(marks[place] for place in part) or _NOTHING,
                "note": note,
                "before": self._before,
            }
            self._before = line["digest"] = _digest(line)
            lines.append(line)
        return lines


def marks_of(rows: TextRows) -> dict[Place, str]:
    """Mark complete rows of text, by table."""
    return {(name, int(row["row"])): mark_cells(row) for name, listed in rows.items() for row in listed}


def name_save(text: str) -> str:
    """Give the id of an act that writes no rows of its own into the tables."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:8]


def head_of(ledger: Sheet) -> str:
    """Give the digest of the last save; blank before the first."""
    return str(ledger.rows[-1].values["digest"] or "") if ledger.rows else ""


def _digest(line: Mapping[str, str]) -> str:
    said = {
        name: line[name] for name in ("row", "saved_at", "by", "save", "covers", "marks", "note", "before")
    }
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode("ascii")).hexdigest()


def write_places(places: Iterable[Place]) -> str:
    """Write rows of tables in short.

    Examples
    --------
    >>> write_places([("log", 3), ("log", 4), ("log", 7), ("steps", 1)])
    'log 3-4, 7; steps 1'
    """
    by_table: dict[str, list[int]] = {}
    for table, number in places:
        by_table.setdefault(table, []).append(number)
    return "; ".join(f"{table} {write_runs(numbers)}" for table, numbers in by_table.items())


def write_runs(numbers: Iterable[int]) -> str:
    """Write numbers of rows in short.

    Examples
    --------
    >>> write_runs([3, 4, 7])
    '3-4, 7'
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and runs[-1][1] == number - 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(f"{first}" if first == last else f"{first}-{last}" for first, last in runs)


def read_places(text: str) -> tuple[Place, ...] | None:
    """Read what :func:`write_places` wrote; None if it is something else."""
    found: list[Place] = []
    for part in text.split("; "):
        match = _PART.fullmatch(part)
        if match is None or match["table"] not in FILES:
            return None
        for run in match["numbers"].split(", "):
            first, _, last = run.partition("-")
            if len(first) > 9 or int(last or first) - int(first) > _PER_LINE:
                return None
            found += [(match["table"], number) for number in range(int(first), int(last or first) + 1)]
    return tuple(found)


def read_entries(ledger: Sheet) -> list[SaveLine]:
    """Read the lines of a ledger, each with whether it fits the one before."""
    entries, before = [], ""
    for row in ledger.rows:
        line = {**dict.fromkeys(SAVES.header, ""), **row.cells}
        is_empty = line["covers"] == line["marks"] == _NOTHING
        places = () if is_empty else read_places(line["covers"])
        marks = () if is_empty else tuple(line["marks"].split())
        fits = line["before"] == before and line["digest"] == _digest(line)
        is_sound = fits and places is not None and len(places) == len(marks)
        entries.append(SaveLine(row.number, line["save"], places or (), marks, is_sound))
        before = line["digest"]
    return entries


def find_differences(sheets: Sheets, ledger: Sheet) -> list[Difference]:
    """Find what is not as it was saved, in all tables that can be read.

    Parameters
    ----------
    sheets : mapping of table name to Sheet
        A table that cannot be read whole is left out: its own faults say so; so is the ledger.
    ledger : Sheet
        The list of saves.

    Returns
    -------
    list of Difference
        In the order of the tables.
    """
    readable = {name: sheet for name, sheet in sheets.items() if name in TABLES and not sheet.faults}
    if ledger.faults:
        return []
    if not ledger.rows and version_of(sheets.get(TREATMENT.name)) < SAVES.since:
        return _differ_from_ids(readable)
    entries = read_entries(ledger)
    expected = {
        place: (mark, each) for each in entries for place, mark in zip(each.places, each.marks, strict=False)
    }
    marks = {row.number: row.mark for row in ledger.rows}
    found = [
        _broken_line(each)
        for each in entries
        if not each.is_sound and _mark_of(expected, each.number) != marks[each.number]
    ]
    own: dict[str, dict[int, tuple[str, SaveLine]]] = {name: {} for name in FILES}
    for (name, number), seen in expected.items():
        own[name][number] = seen
    for name, sheet in readable.items():
        found += _differ_from_marks(sheet, own[name])
    return found


def _mark_of(expected: Mapping[Place, tuple[str, SaveLine]], line: int) -> str:
    """Give the mark with which a broken line of the ledger was taken over; empty if it was not."""
    return expected[SAVES.name, line][0] if (SAVES.name, line) in expected else ""


def _broken_line(entry: SaveLine) -> Difference:
    what = (
        f"line {entry.number} does not fit the rest: the list of saves was changed, or belongs to another "
        "copy of the folder"
    )
    return Difference("", (entry.number,), entry.save, what)


def _differ_from_marks(sheet: Sheet, expected: Mapping[int, tuple[str, SaveLine]]) -> list[Difference]:
    """Hold the rows of one table against the marks of the ledger."""
    there = {row.number: row for row in sheet.rows}
    wanted = {number: mark for number, (mark, _) in expected.items()}
    saves = {number: str(row.values["save"] or "") for number, row in there.items()}
    saves |= {number: entry.save for number, (_, entry) in expected.items()}
    kinds = (
        (_CHANGED, [n for n, mark in wanted.items() if n in there and mark not in (there[n].mark, GONE)]),
        (_MISSING, [n for n, mark in wanted.items() if n not in there and mark != GONE]),
        (_ADDED, [n for n in there if wanted.get(n, GONE) == GONE]),
    )
    return [
        Difference(sheet.table.name, rows, save, what)
        for what, numbers in kinds
        for save, rows in _by_save(numbers, saves).items()
    ]


_CHANGED = "not as they were saved: a cell was changed outside the workbook"
_MISSING = "gone: they were taken out, or the table comes from an older copy"
_ADDED = (
    "not in the list of saves: they were added outside the workbook, or the list comes from an older copy"
)


def say_difference(difference: Difference) -> str:
    """Say which rows differ, and what can be done."""
    rows = difference.rows
    which = "" if not difference.table else f"{'row' if len(rows) == 1 else 'rows'} {write_runs(rows)}"
    save = f" of save {difference.save}" if difference.save else ""
    head = f"{which}{save}: {difference.what}" if which else difference.what
    return (
        f"{head}. Put the file back from a copy; or, if it was meant, say who did it and why, with "
        "“bench take-over”."
    )


def say_differences(differences: Sequence[Difference]) -> str:
    """Say in a sentence which rows are not as they were saved; empty if all are."""
    if not differences:
        return ""
    places = [(each.table, number) for each in differences for number in each.rows if each.table]
    where = write_places(sorted(set(places))) or SAVES.file
    return (
        f"This record is not as it was saved ({where}). “bench check” says what differs; look at it before "
        "you rely on these rows."
    )


def _by_save(numbers: Iterable[int], saves: Mapping[int, str]) -> dict[str, tuple[int, ...]]:
    found: dict[str, tuple[int, ...]] = {}
    for number in sorted(numbers):
        found[saves[number]] = (*found.get(saves[number], ()), number)
    return found


def _differ_from_ids(sheets: Sheets) -> list[Difference]:
    """Hold the rows of a record from before the ledger against the ids of their saves."""
    found = []
    for save, rows in rows_by_save(sheets).items():
        if not is_as_saved(rows, save):
            for name, listed in rows.items():
                numbers = tuple(row.number for row in listed)
                found.append(Difference(name, numbers, save, _WRONG_ID))
    return found


_WRONG_ID = (
    "not all as they were saved: a cell was changed, or a row of that save taken out, outside the workbook"
)


def rows_by_save(sheets: Sheets) -> dict[str, dict[str, list[Row]]]:
    """Sort the rows of a record by their saves, in the order in which these were made."""
    found: dict[str, dict[str, list[Row]]] = {}
    for name, sheet in sheets.items():
        for row in sheet.rows:
            found.setdefault(str(row.values["save"] or ""), {}).setdefault(name, []).append(row)

    def rank(rows: Mapping[str, Sequence[Row]]) -> tuple[object, ...]:
        first = next(iter(rows.values()))[0]
        return (
            first.values["saved_at"].timestamp(),
            max(row.number for listed in rows.values() for row in listed),
        )

    return dict(sorted(found.items(), key=lambda item: rank(item[1])))


def is_as_saved(rows: Mapping[str, Sequence[Row]], save: str) -> bool:
    """Tell whether the id of a save is the digest of its rows, as it is from before there was a ledger."""
    texts = {
        name: [{c: row.cells.get(c, "") for c in TABLES[name].header if c != "save"} for row in listed]
        for name, listed in rows.items()
    }
    return any(digest_rows(texts, salt) == save for salt in range(_SALTS))


def digest_rows(rows: TextRows, salt: int) -> str:
    """Give the id of a save: a digest of its rows, so that the same work gives the same files.

    A column that came later counts where it is not blank, so that older ids still recompute.
    """
    counted = {name: [_leave_out_later(TABLES[name], row) for row in listed] for name, listed in rows.items()}
    text = json.dumps([salt, counted], sort_keys=True, ensure_ascii=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:8]


def _leave_out_later(table: Table, row: Mapping[str, str]) -> dict[str, str]:
    later = {column.name for column in table.columns if column.since > 1}
    return {name: text for name, text in row.items() if text or name not in later}
