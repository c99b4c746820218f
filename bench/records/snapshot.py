"""A record as it stands at one moment: every table is read from the disk once."""

from __future__ import annotations

from dataclasses import dataclass, field

from bench.records.parsed import Listing
from bench.records.record import Record


@dataclass
class Snapshot(Record):
    """A record whose tables are kept as they were when they were first asked for.

    For reports and comparisons that look into one table many times; what is saved meanwhile, by
    whomever, is not seen.
    """

    _listings: dict[str, Listing] = field(default_factory=dict, repr=False)

    def _look_at_current(self, table: str) -> Listing:
        if table not in self._listings:
            self._listings[table] = super()._look_at_current(table)
        return self._listings[table]


def take_snapshot(record: Record) -> Snapshot:
    """Make a snapshot of a record; nothing is read yet."""
    return Snapshot(record.folder, record.notice, record.schema_version)
