"""One record: read its tables, save rows to them, hear what others saved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import pandas as pd

from bench.errors import NotFound, RecordError
from bench.records import disk, journal
from bench.records.draft import (
    GivenRows,
    Stamp,
    TextRow,
    draft_rows,
)
from bench.records.faults import explain_os_error
from bench.records.gate import build_save
from bench.records.ledger import Difference, find_differences
from bench.records.migrate import bring_up
from bench.records.parsed import Listing, Parsed, parse
from bench.records.schema import FILES, SAVES, SCHEMA_VERSION, TABLES, TREATMENT, Table
from bench.records.sheet import Sheet
from bench.records.values import is_blank
from bench.records.version import explain_newer, find_version
from bench.units import say_count


@dataclass(frozen=True)
class News:
    """Rows of one table that somebody else saved since this record last looked."""

    table: str
    rows: tuple[int, ...]
    by: tuple[str, ...]

    def __str__(self) -> str:
        rows = say_count(len(self.rows), "row")
        return f"another notebook saved {rows} to {self.table} (by {', '.join(self.by)})"


@dataclass(frozen=True)
class Saved:
    """What a save did.

    Attributes
    ----------
    save : str
        Its id.
    rows : mapping of str to tuple of int
        Numbers of the rows written, by table.
    path : Path
        Folder of the treatment.
    news : tuple of News
        Rows that somebody else saved since this record last looked.
    notice : str
        Empty, or a sentence if the rows are safe but not yet in their tables.
    """

    save: str
    rows: Mapping[str, tuple[int, ...]]
    path: Path
    news: tuple[News, ...] = ()
    notice: str = ""

    @property
    def counted(self) -> str:
        """How many rows were written to each table, in words."""
        return ", ".join(f"{say_count(len(rows), 'row')} to {name}" for name, rows in self.rows.items())

    def __str__(self) -> str:
        return f"saved {self.counted} in {self.path}"


@dataclass
class Record:
    """The record of one treatment, open for reading and, unless ``notice`` says otherwise, saving.

    Make one with :func:`bench.records.store.create_treatment` or :func:`~bench.records.store.open_record`.

    Attributes
    ----------
    folder : Path
        The folder of its tables.
    notice : str
        Empty, or what the user must know: a newer schema, an unfinished save that waits.
    schema_version : int
        Version that the folder was made with, as far as it can be read.
    """

    folder: Path
    notice: str = ""
    schema_version: int = SCHEMA_VERSION
    _seen: dict[str, set[int]] = field(default_factory=dict, repr=False)

    @property
    def is_newer(self) -> bool:
        """Whether a newer program made the folder; then it is only read."""
        return self.schema_version > SCHEMA_VERSION

    @property
    def treatment_id(self) -> str:
        """Id of the treatment, from its first table, or else the name of the folder."""
        rows = self.sheet(TREATMENT).rows
        return str(rows[-1].values["treatment_id"]) if rows else self.folder.name

    def read(self, table: str) -> pd.DataFrame:
        """Read the current rows of a table: those that no later row replaces.

        Parameters
        ----------
        table : str
            Its name, e.g. ``"readings"``.

        Returns
        -------
        DataFrame
            Typed columns, a blank is missing; see :func:`bench.records.sheet.to_frame`.

        Raises
        ------
        RecordError
            The file cannot be read whole, or a current row says what it may not; every fault.
        NotFound
            No such table.
        """
        return self._look_at_current(table).frame.copy(deep=False)  # pandas copies it before a change

    def rows(self, table: str) -> list[dict[Any, Any]]:
        """Read the current rows of a table as mappings of column to value; as :meth:`read` otherwise."""
        return [dict(row) for row in self._look_at_current(table).mappings]

    def all_rows(self, table: str) -> list[dict[Any, Any]]:
        """Read all rows of a table as mappings, the replaced ones too, in the order of their numbers.

        Raises
        ------
        RecordError
            The file cannot be read whole.
        NotFound
            No such table.
        """
        return [dict(row) for row in self._look(table).history.mappings]

    def _look_at_current(self, table: str) -> Listing:
        current = self._look(table).current
        if current.faults:
            raise RecordError(current.faults)
        return current

    def save(self, rows: GivenRows, *, by: str, at: datetime, wait: float = 10.0) -> Saved:
        """Add rows to one or more tables: all of them or none.

        Parameters
        ----------
        rows : mapping of table name to rows
            Each row a mapping of column to plain value.  A row that corrects another carries
            ``replaces``; a ``treatment`` row without it replaces the version last looked at.
        by : str
            Who saves.
        at : datetime
            When, with offset.
        wait : float
            Seconds to wait for another notebook that is saving.

        Returns
        -------
        Saved

        Raises
        ------
        RecordError
            Nothing was saved; every fault, or what is wrong with the disk.
        BadValue
            No rows, nobody who saves, or a time without offset.
        """
        stamp = Stamp(by, at)
        drafted = draft_rows(self._complete(rows))
        if not self.folder.is_dir():
            raise explain_os_error(FileNotFoundError(2, "No such file or directory"), self.folder)
        self._refuse_if_newer()
        with disk.hold_lock(self.folder, wait=wait):
            self._refuse_if_newer()
            aside = journal.finish(self.folder)
            if self.schema_version < SCHEMA_VERSION:
                drafted = self._migrate(stamp, drafted)
            data = {
                name: disk.read_bytes(self.folder / FILES[name].file)
                for name in {**drafted, "treatment": 0, SAVES.name: 0}
            }
            sheets = {
                name: parse(self.folder / FILES[name].file, content, FILES[name]).sheet
                for name, content in data.items()
            }
            pending, contents = build_save(drafted, stamp, data, sheets)
            self.notice = " ".join(filter(None, (aside, journal.commit(self.folder, pending, contents))))
            news = self._news(pending.save)
        numbers = {name: tuple(int(row["row"]) for row in pending.rows[name]) for name in drafted}
        return Saved(pending.save, numbers, self.folder, news, self.notice)

    def _complete(self, rows: GivenRows) -> GivenRows:
        """Fill in what a treatment row need not say."""
        if "treatment" not in rows:
            return rows
        versions = self._seen.get("treatment") or set()
        known: dict[str, object] = {"treatment_id": self.treatment_id}
        if versions:
            known["replaces"] = max(versions)
        always = {"schema_version": SCHEMA_VERSION}
        filled = [
            {**known, **{k: v for k, v in row.items() if not is_blank(v)}, **always}
            for row in rows["treatment"]
        ]
        return {**rows, "treatment": filled}

    def _migrate(self, stamp: Stamp, drafted: dict[str, list[TextRow]]) -> dict[str, list[TextRow]]:
        """Bring the tables to the present schema; a description that is saved replaces the newest one."""
        last = self.sheet(TREATMENT).last_row
        bring_up(self.folder, stamp)
        self.schema_version = SCHEMA_VERSION
        new = self.sheet(TREATMENT).last_row
        self._seen.setdefault("treatment", set()).add(new)
        renamed = {str(last): str(new)}
        texts = [
            {**row, "replaces": renamed.get(row["replaces"], row["replaces"])}
            for row in drafted.get("treatment", ())
        ]
        return {**drafted, "treatment": texts} if texts else drafted

    def _refuse_if_newer(self) -> None:
        self.schema_version = find_version(disk.read_bytes(self.folder / TREATMENT.file))
        if self.is_newer:
            raise RecordError([explain_newer(self.schema_version)])

    def sheet(self, table: Table) -> Sheet:
        """Read one table as it stands, with its faults instead of an error; counts as no look."""
        return self._parse(table).sheet

    def _parse(self, table: Table) -> Parsed:
        # The journal first: a save that ends in between is then in the file, never in neither.
        pending = None if self.is_newer else journal.read_journal(self.folder)
        path = self.folder / table.file
        version = self.schema_version if pending is None else min(self.schema_version, pending.widens)
        data = journal.with_pending(disk.read_bytes(path), table, pending, version=version)
        return parse(path, data, table, version=version)

    def differences(self) -> list[Difference]:
        """Find the rows that are not as they were saved; none where a newer program keeps the record."""
        if self.is_newer:
            return []
        return find_differences(self.sheets(), self.sheet(SAVES))

    def sheets(self) -> dict[str, Sheet]:
        """Read all tables as they stand, without the list of saves; counts as no look."""
        return {name: self.sheet(table) for name, table in TABLES.items()}

    def look_at_all(self) -> None:
        """Read all tables once, and count their rows as seen, so that only later ones are news."""
        for name, sheet in self.sheets().items():
            self._seen[name] = {row.number for row in sheet.rows}

    def last_rows_seen(self) -> dict[str, int]:
        """Give the number of the last row of each table that was looked at."""
        return {name: max(rows, default=0) for name, rows in self._seen.items()}

    def _look(self, name: str) -> Parsed:
        if name not in TABLES:
            raise NotFound("table", repr(name), ", ".join(TABLES), "Choose one of these")
        parsed = self._parse(TABLES[name])
        if parsed.sheet.faults:
            raise RecordError(parsed.sheet.faults)
        self._seen[name] = {row.number for row in parsed.sheet.rows}
        return parsed

    def _news(self, save: str) -> tuple[News, ...]:
        """Tell what others saved since the last look, and count it as seen."""
        news = []
        for name, table in TABLES.items():
            try:
                sheet = self.sheet(table)
            except RecordError:  # the save is done; a table that cannot be read has its own time to say so
                continue
            if sheet.faults:
                continue
            seen = self._seen.get(name, set())
            new = [row for row in sheet.rows if row.number not in seen and row.values["save"] != save]
            if new:
                who = tuple(dict.fromkeys(str(row.values["by"]) for row in new))
                news.append(News(name, tuple(row.number for row in new), who))
            self._seen[name] = {row.number for row in sheet.rows}
        return tuple(news)
