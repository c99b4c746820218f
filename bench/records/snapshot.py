"""A record as it stands at one moment: every table is read from the disk once."""

from __future__ import annotations

from dataclasses import dataclass, field

from bench.records.ledger import Difference
from bench.records.parsed import Parsed
from bench.records.record import Record
from bench.records.schema import Table


@dataclass
class Snapshot(Record):
    """A record whose tables are kept as they were when they were first asked for.

    For reports, checks and comparisons that look into one table many times; what is saved meanwhile, by
    whomever, is not seen.
    """

    _parsed: dict[str, Parsed] = field(default_factory=dict, repr=False)
    _differences: list[Difference] | None = field(default=None, repr=False)

    def _parse(self, table: Table) -> Parsed:
        if table.name not in self._parsed:
            self._parsed[table.name] = super()._parse(table)
        return self._parsed[table.name]

    def differences(self) -> list[Difference]:
        """Find the rows that are not as they were saved, once."""
        if self._differences is None:
            self._differences = super().differences()
        return self._differences


def take_snapshot(record: Record) -> Snapshot:
    """Make a snapshot of a record, unless it is one; nothing is read yet."""
    if isinstance(record, Snapshot):
        return record
    return Snapshot(record.folder, record.notice, record.schema_version)
