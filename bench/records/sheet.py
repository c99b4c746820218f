"""A CSV file of a record, read strictly: every fault is named, nothing is guessed at.

Two grades are kept apart.  A file that *cannot be read whole* (torn line, missing or unknown
column, a cell that is not of its kind) is never written over and gives no rows.  A row that reads
but *says what it may not* (severity 7, an end before its start) gives no current rows either, but a
later row may replace it, so the file can still be written.
"""

from __future__ import annotations

import csv
import difflib
import hashlib
import io
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Any, NamedTuple, TypeAlias

import pandas as pd

from bench.errors import Fault
from bench.records.faults import Note, say_fault
from bench.records.rules import Found, check_row
from bench.records.schema import SCHEMA_VERSION, Column, Table
from bench.records.values import CellFault, parse_cell

_BLANKS: dict[str, Any] = {"integer": None, "time": None}  # pandas' own blank time passes for a datetime
_ANYTHING_ELSE = {"\t": "tabs", ";": "semicolons"}


class Row(NamedTuple):
    """One row of a table as read.

    Attributes
    ----------
    number : int
        In its table; the place in the file where none can be read.
    replaces : int or None
        Number of the row that this one corrects.
    values : mapping of column to value
        Typed; None for a blank.
    cells : mapping of column to text
        As they stand in the file.
    mark : str
        Its short mark in the list of saves, see :func:`mark_cells`.
    faults : tuple of Fault
        What it says that it may not.
    """

    number: int
    replaces: int | None
    values: Mapping[str, Any]
    cells: Mapping[str, str]
    mark: str
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """One table as read.

    Attributes
    ----------
    table : Table
        What it should hold.
    header : tuple of str
        Columns in the order of the file.
    rows : tuple of Row
        In the order of their numbers; empty if the file cannot be read whole.
    faults : tuple of Fault
        Why the file cannot be read whole.
    notes : tuple of Note
        What is odd but stops nothing.
    line_end : str
        Line end of the header.
    """

    table: Table
    header: tuple[str, ...] = ()
    rows: tuple[Row, ...] = ()
    faults: tuple[Fault, ...] = ()
    notes: tuple[Note, ...] = ()
    line_end: str = "\n"

    @cached_property
    def current(self) -> tuple[Row, ...]:
        """Rows that no other row replaces."""
        replaced = {row.replaces for row in self.rows if row.replaces != row.number}
        return tuple(row for row in self.rows if row.number not in replaced)

    @cached_property
    def last_row(self) -> int:
        """Highest row number, 0 for an empty table."""
        return max((row.number for row in self.rows), default=0)

    def holds_save(self, save: str) -> bool:
        """Tell whether rows of a save are in the table."""
        return any(row.values["save"] == save for row in self.rows)


Sheets: TypeAlias = Mapping[str, Sheet]
"""Tables of a record as read, by their names."""


def faults_of(sheets: Sheets) -> list[Fault]:
    """Say why tables cannot be read whole, one after the other."""
    return [fault for sheet in sheets.values() for fault in sheet.faults]


def mark_cells(cells: Mapping[str, str]) -> str:
    """Give the short mark of a row: a digest of its cells as they stand; a blank cell counts for nothing.

    A column that came later is blank in older rows, and leaves their marks as they were.  Of four
    thousand million changes of a row one would go unnoticed.
    """
    return _mark([f"{name}\x1e{cell}" if cell else "" for name, cell in sorted(cells.items())])


def _mark(parts: Iterable[str]) -> str:
    text = "\x1f".join(filter(None, parts))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:8]


def _mark_lines(columns: Mapping[str, Sequence[str]]) -> list[str]:
    """Mark many rows at once, from the cells of each column: the same marks as of :func:`mark_cells`."""
    parts = []
    for name, texts in sorted(columns.items()):
        known = {text: f"{name}\x1e{text}" if text else "" for text in set(texts)}
        if any(known.values()):
            parts.append(map(known.__getitem__, texts))
    return [_mark(each) for each in zip(*parts, strict=True)]


def format_line(cells: Iterable[str], line_end: str = "\n") -> str:
    """Write one line after RFC 4180, quoting only where a cell needs it.

    Examples
    --------
    >>> print(format_line(["7", "proud, a little", 'a "new" tear'], ""))
    7,"proud, a little","a ""new"" tear"
    """
    quoted = (
        '"' + cell.replace('"', '""') + '"' if any(mark in cell for mark in ',"\r\n') else cell
        for cell in cells
    )
    return ",".join(quoted) + line_end


def append_lines(data: bytes, sheet: Sheet, rows: Iterable[Mapping[str, str]]) -> bytes:
    """Give the bytes of a file with rows added; the bytes that were there stay as they are."""
    lines = "".join(format_line((row[name] for name in sheet.header), sheet.line_end) for row in rows)
    gap = "" if data.endswith((b"\n", b"\r")) else sheet.line_end
    return data + (gap + lines).encode("utf-8")


def add_rows(data: bytes | None, sheet: Sheet, rows: Sequence[Mapping[str, str]]) -> bytes:
    """Give the bytes of a table with rows added, and columns that it lacks; None starts a new file."""
    if data is None:
        data = format_line(sheet.header).encode("utf-8")
    missing = [name for name in sheet.table.header if name not in sheet.header]
    if missing:
        sheet = replace(sheet, header=(*sheet.header, *missing))
        data = _write_anew(sheet)
    return append_lines(data, sheet, rows)


def _write_anew(sheet: Sheet) -> bytes:
    """Give the bytes of a file whose header has grown: the new columns are blank in every row."""
    lines = [format_line(sheet.header, sheet.line_end)]
    for row in sheet.rows:
        lines.append(format_line((row.cells.get(name, "") for name in sheet.header), sheet.line_end))
    return "".join(lines).encode("utf-8")


def read_sheet(data: bytes | None, table: Table, *, version: int = SCHEMA_VERSION) -> Sheet:
    """Read one file of a record.

    Parameters
    ----------
    data : bytes or None
        The whole file; None if it is not there.
    table : Table
        What it should hold.
    version : int
        Of the schema with which the folder was made.  In an older one, columns that came later are
        blank and tables that came later are empty; so is one that may lack.  In a newer one, columns not
        known here are left out, columns that went are blank, and words not known here are let pass; it is
        only read.

    Returns
    -------
    Sheet
        Its ``faults`` say why it cannot be read whole; then it has no rows.

    Notes
    -----
    Tolerated: a byte-order mark, CRLF line ends, quoted cells, any order of the columns, lines
    without anything in them, blanks around numbers, words and times.
    """
    if data is None and (table.may_lack or table.since > version):
        return Sheet(table, table.header)
    if data is None:
        remedy = "Put it back from a copy; if there never was one, write a file with the header line alone"
        return _broken(table, None, None, f"the file is missing. {remedy}.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        what = say_fault("is not written in UTF-8", "UTF-8", "Save it again as “CSV UTF-8”")
        return _broken(table, None, None, what)
    if "\0" in text:
        remedy = "Put it back from a copy: zero bytes come from a disk that lost power or is failing"
        return _broken(table, None, None, say_fault("holds zero bytes", "text", remedy))
    lines, fault = _split(text, table)
    if fault:
        return Sheet(table, faults=(fault,))
    faults = _check_header(lines[0] if lines else [], table, version)
    if faults:
        return Sheet(table, faults=tuple(faults))
    return _read_rows(text, lines, table, version > SCHEMA_VERSION)


def _broken(table: Table, row: int | None, column: str | None, what: str) -> Sheet:
    return Sheet(table, faults=(Fault(table.file, row, column, what),))


def _split(text: str, table: Table) -> tuple[list[list[str]], Fault | None]:
    """Split a text into lines of cells; lines without any cell are left out."""
    lines: list[list[str]] = []
    try:
        for cells in csv.reader(io.StringIO(text, newline=""), strict=True):
            if any(map(str.strip, cells)):
                lines.append(cells)
    except csv.Error:
        # The reader stops inside the line after the last whole one; the header is line 0.
        what = (
            "has a quotation mark that is opened and not closed, or text after a closing one: the file is "
            "torn there, or a quotation mark inside a text was not doubled. Complete the row or take it out."
        )
        return lines, Fault(table.file, len(lines) or None, None, what)
    return lines, None


def _check_header(header: Sequence[str], table: Table, version: int) -> list[Fault]:
    if not header:
        return [Fault(table.file, None, None, "is empty; its header line is lost. Put it back from a copy.")]
    for mark, words in _ANYTHING_ELSE.items():
        if len(header) == 1 and header[0].count(mark) >= 2:
            remedy = "Save it again as CSV with commas, decimal points and UTF-8"
            came = f"is separated by {words}, as a spreadsheet with decimal commas saves it"
            return [Fault(table.file, None, None, say_fault(came, "commas between the cells", remedy))]
    names = [name.strip() for name in header]
    missing = [
        column.name for column in table.columns if column.name not in names and column.since <= version
    ]
    unknown = [name for name in dict.fromkeys(names) if name not in table.header]
    faults = [_say_twice(table, name) for name in dict.fromkeys(names) if names.count(name) > 1]
    if version > SCHEMA_VERSION:
        return faults
    faults += [_say_missing(table, name, unknown) for name in missing]
    return faults + [_say_unknown(table, name, missing) for name in unknown]


def _say_twice(table: Table, name: str) -> Fault:
    what = say_fault("stands twice in the header", "each column once", "Take one of them out")
    return Fault(table.file, None, name, what)


def _near(name: str, others: Sequence[str]) -> str | None:
    match = difflib.get_close_matches(name.lower(), others, n=1, cutoff=0.75)
    return match[0] if match else None


def _say_missing(table: Table, name: str, unknown: Sequence[str]) -> Fault:
    likely = _near(name, [other.lower() for other in unknown])
    remedy = "Put the column back; its cells may be blank where nothing is known"
    if table.column(name).required:
        remedy = "Put the column back with its values, from a copy of the file"
    if likely:
        remedy = f"Rename the column “{likely}” if it is this one"
    what = say_fault("is missing from the header", "a header with all columns of the table", remedy)
    return Fault(table.file, None, name, what)


def _say_unknown(table: Table, name: str, missing: Sequence[str]) -> Fault:
    likely = _near(name, missing)
    remedy = f"Rename it to {likely}" if likely else "Take the column out; what it says may go into a note"
    what = say_fault("is not a column of this table", ", ".join(table.header), remedy)
    return Fault(table.file, None, name or "(no name)", what)


def _read_rows(text: str, lines: list[list[str]], table: Table, newer: bool) -> Sheet:
    header = tuple(name.strip() for name in lines[0])
    ends_whole = text.endswith(("\n", "\r"))
    width, last = len(header), len(lines) - 1
    whole = {index: cells for index, cells in enumerate(lines) if index and len(cells) == width}
    read, unreadable = _read_lines(table, header, whole, newer)
    if len(whole) < last or unreadable or len({row.number for row in read.values()}) < last:
        torn = 0 if ends_whole else last
        return Sheet(table, header, faults=tuple(_find_unreadable(table, lines, read, unreadable, torn)))
    rows = list(read.values())
    notes = () if ends_whole else (_say_no_end(table, lines),)
    if any(after.number < before.number for before, after in pairwise(rows)):
        notes = (*notes, _say_order(table))
        rows.sort(key=lambda row: row.number)
    line_end = "\r\n" if "\r\n" in text[: text.find("\n") + 1] else "\n"
    return Sheet(table, header, tuple(rows), notes=notes, line_end=line_end)


def _find_unreadable(
    table: Table,
    lines: Sequence[Sequence[str]],
    read: Mapping[int, Row],
    unreadable: Mapping[int, Found],
    torn: int,
) -> Iterable[Fault]:
    """Say of every line why it cannot be read, in their order; the one at ``torn`` has no line end."""
    seen: set[int] = set()
    for index, cells in enumerate(lines[1:], start=1):
        if index not in read:
            yield _say_count(table, index, cells, len(lines[0]), index == torn)
            continue
        number = read[index].number
        if index in unreadable:
            yield from (Fault(table.file, number, column, what) for column, what in unreadable[index])
        elif number in seen:
            what = say_fault(
                f"is {number} a second time", "each number once", "Give one of them the next free number"
            )
            yield Fault(table.file, number, "row", what)
        else:
            seen.add(number)


def _say_count(table: Table, index: int, cells: Sequence[str], wanted: int, torn: bool) -> Fault:
    came = f"has {len(cells)} cells"
    if torn and len(cells) < wanted:
        remedy = "Complete the line from a copy, or take it out"
        what = say_fault(
            f"is the last line and is torn: it {came} and no line end", f"{wanted} cells", remedy
        )
    elif len(cells) > wanted:
        remedy = (
            "Look for a decimal comma (write 4.41, not 4,41) or for a text with a comma that is not "
            "in quotation marks"
        )
        what = say_fault(came, f"{wanted}, as in the header", remedy)
    else:
        what = say_fault(came, f"{wanted}, as in the header", "Put the missing cells back, blank or not")
    return Fault(table.file, _number_of(cells, index), None, what)


def _number_of(cells: Sequence[str], index: int) -> int:
    """Row number if the first cell is one, else the place in the file."""
    first = cells[0].strip()
    return int(first) if first.isascii() and first.isdigit() else index


def _say_no_end(table: Table, lines: list[list[str]]) -> Note:
    what = "the last line has no line end: look whether its last cell is whole. It is read as it stands."
    return Note(table.file, len(lines) - 1 or None, None, what)


def _say_order(table: Table) -> Note:
    what = (
        "the lines are not in the order of their numbers, as a spreadsheet leaves them that has sorted them."
    )
    return Note(table.file, None, "row", what)


def _read_lines(
    table: Table, header: Sequence[str], lines: Mapping[int, Sequence[str]], newer: bool
) -> tuple[dict[int, Row], dict[int, Found]]:
    """Read lines with as many cells as the header, a whole column at a time.

    Parameters
    ----------
    table, header
        What they should hold, and their columns in the order of the file.
    lines : mapping of int to cells
        By their place in the file.
    newer : bool
        Let pass what a row may not say.

    Returns
    -------
    rows : dict of int to Row
    unreadable : dict of int to list of (column, what)
        Cells that are not of their kind; the row of such a place is not to be used.
    """
    texts = dict(zip(header, zip(*lines.values(), strict=True), strict=True)) if lines else {}
    blank = ("",) * len(lines)
    blamed: dict[int, list[tuple[str, CellFault]]] = {}
    columns = []
    for column in table.columns:
        typed, faulty = _read_column(column, texts.get(column.name, blank))
        columns.append(typed)
        for place, fault in faulty:
            blamed.setdefault(place, []).append((column.name, fault))
    rows: dict[int, Row] = {}
    unreadable: dict[int, Found] = {}
    for place, (index, cells, each, mark) in enumerate(
        zip(lines, lines.values(), zip(*columns, strict=True), _mark_lines(texts), strict=True)
    ):
        values = dict(zip(table.header, each, strict=True))
        found, wrong = _part(blamed.get(place, ()))
        if found:
            unreadable[index] = found
        elif not wrong:
            wrong = check_row(table, values)
        number = values["row"] if isinstance(values["row"], int) else index
        faults = tuple(Fault(table.file, number, *each) for each in wrong) if wrong and not newer else ()
        as_it_stands = dict(zip(header, cells, strict=True))
        rows[index] = Row(number, values["replaces"], values, as_it_stands, mark, faults)
    return rows, unreadable


def _read_column(column: Column, texts: Sequence[str]) -> tuple[list[Any], list[tuple[int, CellFault]]]:
    """Read all cells of a column, each text once; the second part says where the faulty ones are."""
    known: dict[str, Any] = {}
    faulty: dict[str, CellFault] = {}
    for text in set(texts):
        try:
            known[text] = parse_cell(column, text)
        except CellFault as fault:
            known[text], faulty[text] = _as_it_stands(column.kind, text), fault
    where = [(place, faulty[text]) for place, text in enumerate(texts) if text in faulty] if faulty else []
    return list(map(known.__getitem__, texts)), where


def _part(blamed: Iterable[tuple[str, CellFault]]) -> tuple[Found, Found]:
    """Part the cells that are not of their kind from those that are, but not allowed."""
    found = [(column, fault.what) for column, fault in blamed if fault.unreadable]
    return found, [(column, fault.what) for column, fault in blamed if not fault.unreadable]


def _as_it_stands(kind: str, text: str) -> Any:
    """Value of a cell that is of its kind but not allowed, for the history."""
    if not text.strip():
        return None
    try:
        return {"integer": int, "number": float}.get(kind, str)(text.strip())
    except ValueError:
        return None


def to_rows(table: Table, rows: Iterable[Row]) -> list[dict[Any, Any]]:
    """Turn rows into mappings of column to value; a blank is None, or NaN in a number or a text."""
    blanks = {column.name: _BLANKS.get(column.kind, math.nan) for column in table.columns}
    return [
        {name: blank if row.values[name] is None else row.values[name] for name, blank in blanks.items()}
        for row in rows
    ]


def to_frame(table: Table, rows: Iterable[Row]) -> pd.DataFrame:
    """Turn rows into a frame with typed columns.

    Integers are ``Int64``, numbers ``float64``, texts ``str``, times Python datetimes that keep
    their own offset (``pd.to_datetime(frame["taken_at"], utc=True)`` for arithmetic).  A blank is missing.
    """
    dtypes: dict[str, Any] = {"integer": "Int64", "number": "float64", "time": object}
    listed = list(rows)
    columns = {}
    for column in table.columns:
        values = [row.values[column.name] for row in listed]
        if column.kind == "time":
            values = [pd.NaT if value is None else value for value in values]
        columns[column.name] = pd.Series(values, dtype=dtypes.get(column.kind, "str"))
    return pd.DataFrame(columns)
