"""Tables as they were last parsed: a file whose bytes are the same is not parsed again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import pandas as pd

from bench.errors import Fault
from bench.records.schema import SCHEMA_VERSION, Table
from bench.records.sheet import Row, Sheet, read_sheet, to_frame, to_rows

_MOST = 256  # files; a treatment has about a dozen
_kept: dict[Path, Parsed] = {}


@dataclass(frozen=True)
class Listing:
    """Some rows of a table, turned into what readers ask for when it is first asked for.

    Attributes
    ----------
    table : Table
        Whose columns they have.
    rows : tuple of Row
        As they were read.
    """

    table: Table
    rows: tuple[Row, ...]

    @cached_property
    def frame(self) -> pd.DataFrame:
        """The rows as a frame with typed columns."""
        return to_frame(self.table, self.rows)

    @cached_property
    def mappings(self) -> list[dict[Any, Any]]:
        """The rows as mappings of column to value."""
        return to_rows(self.table, self.rows)

    @cached_property
    def faults(self) -> list[Fault]:
        """What the rows say that they may not."""
        return [fault for row in self.rows for fault in row.faults]


@dataclass(frozen=True)
class Parsed:
    """What the bytes of one file say.

    Attributes
    ----------
    data : bytes or None
        The whole file; None if it is not there.
    version : int
        Of the schema as of which it was read.
    sheet : Sheet
        What it says.
    """

    data: bytes | None
    version: int
    sheet: Sheet

    @cached_property
    def current(self) -> Listing:
        """The rows that no later row replaces."""
        return Listing(self.sheet.table, self.sheet.current)

    @cached_property
    def history(self) -> Listing:
        """All rows."""
        return Listing(self.sheet.table, self.sheet.rows)


def _grow(known: Parsed | None, data: bytes | None, table: Table, version: int) -> Sheet | None:
    """Read only what was added to a file since; None where it has to be read as a whole."""
    if known is None or known.data is None or data is None or known.version != version:
        return None
    before, sheet = known.data, known.sheet
    is_plain = sheet.table is table and not sheet.faults and not sheet.notes and before.endswith(b"\n")
    if not is_plain or not data.startswith(before):
        return None
    header = before[: before.index(b"\n") + 1]
    added = read_sheet(header + data[len(before) :], table, version=version)
    goes_on = all(row.number > sheet.last_row for row in added.rows)
    if added.faults or added.notes or added.header != sheet.header or not goes_on:
        return None
    return replace(sheet, rows=(*sheet.rows, *added.rows))


def parse(path: Path, data: bytes | None, table: Table, *, version: int = SCHEMA_VERSION) -> Parsed:
    """Parse what a file holds, unless it still holds what was parsed last.

    The bytes themselves are compared: a time or a size of the file could be the same after a change.

    Parameters
    ----------
    path : Path
        Where the file lies.
    data : bytes or None
        What it holds, with a save that waits.
    table, version
        See :func:`bench.records.sheet.read_sheet`.

    Returns
    -------
    Parsed
    """
    known = _kept.pop(path, None)
    if known is None or known.data != data or known.version != version or known.sheet.table is not table:
        grown = _grow(known, data, table, version)
        known = Parsed(data, version, grown or read_sheet(data, table, version=version))
    _kept[path] = known  # now the last that was asked for
    while len(_kept) > _MOST:
        del _kept[next(iter(_kept))]
    return known
