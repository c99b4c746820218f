"""A record as it stands at one moment: every table is read from the disk once."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from bench.records.record import Record


@dataclass
class Snapshot(Record):
    """A record whose tables are kept as they were when they were first asked for.

    For reports and comparisons that look into one table many times; what is saved meanwhile, by
    whomever, is not seen.
    """

    _frames: dict[str, pd.DataFrame] = field(default_factory=dict, repr=False)

    def read(self, table: str) -> pd.DataFrame:
        """Read the current rows of a table; see :meth:`bench.records.record.Record.read`."""
        if table not in self._frames:
            self._frames[table] = super().read(table)
        return self._frames[table].copy()

    def rows(self, table: str) -> list[dict[Any, Any]]:
        """Read the current rows of a table; see :meth:`bench.records.record.Record.rows`."""
        rows = self.read(table).to_dict("records")
        return [{name: None if value is pd.NaT else value for name, value in row.items()} for row in rows]


def take_snapshot(record: Record) -> Snapshot:
    """Make a snapshot of a record; nothing is read yet."""
    return Snapshot(record.folder, record.notice, record.schema_version)
