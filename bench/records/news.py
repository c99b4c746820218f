"""What other windows saved to a record: noticed by a look at its files, told in the words of the work."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from bench.errors import RecordError
from bench.records import disk
from bench.records.at_hand import bench_of
from bench.records.record import Record
from bench.records.schema import TABLES, TREATMENT
from bench.records.sheet import Row
from bench.units import join_words

_NAMED = {
    "treatment": "the description of the item",
    "staples": "the staples",
    "readings": "readings",
    "tests": "tests and answers",
    "defects": "the defects",
    "decisions": "a decision",
    "steps": "the schedule",
    "log": "notes in the log",
    "materials": "materials",
    "photographs": "photographs",
    "loggers": "the file of a data logger",
    "trials": "a trial of the bench",
    "trial_readings": "readings of a trial",
    "trial_findings": "what a trial found",
    "attempts": "attempts at an exercise",
}


class Watch:
    """Watches the files of a record for what somebody else saves.

    Parameters
    ----------
    record : Record
        What it holds now counts as known.
    """

    def __init__(self, record: Record) -> None:
        self._record = record
        self._own: set[str] = set()
        self._known = record.last_rows_seen()
        self._seen: object = self.state()
        self._news = ""

    def state(self) -> object:
        """Give something that differs once a table, or one of the bench, was saved to; it costs little."""
        folder = self._record.folder
        return disk.state_of_tables(folder), disk.state_of_tables(bench_of(folder))

    def look(self) -> str:
        """Say what other windows saved since the last own save; empty if nothing.

        Such as ``another window saved the buffering plan of cycle 1 and the schedule (by M. Tallow)``.
        """
        state = self.state()
        if state != self._seen:
            self._seen = state
            self._news = self._say(self._find())
        return self._news

    def tell_at_save(self, save: str) -> str:
        """Say what others saved before an own save, which from then on is known with all before it."""
        self._own.add(save)
        words = self._say(self._find())
        self._known = self._record.last_rows_seen()  # a save looks at every table
        self._seen, self._news = self.state(), ""
        return words

    def _rows(self) -> dict[str, list[Row]]:
        found = {}
        for name, table in TABLES.items():
            try:
                found[name] = list(self._record.sheet(table).rows)
            except RecordError:  # a table that cannot be read has its own time to say so
                found[name] = []
        return found

    def _find(self) -> list[tuple[str, Mapping[str, Any]]]:
        return [
            (name, row.values)
            for name, rows in self._rows().items()
            for row in rows
            if row.number > self._known.get(name, 0) and row.values["save"] not in self._own
            if not (name == TREATMENT.name and _only_widens(row, rows))
        ]

    def _say(self, found: Iterable[tuple[str, Mapping[str, Any]]]) -> str:
        found = list(found)
        if not found:
            return ""
        what = list(dict.fromkeys(_name(table, values) for table, values in found))
        who = ", ".join(dict.fromkeys(str(values["by"]) for _, values in found))
        return f"another window saved {join_words(what)} (by {who})"


def _only_widens(row: Row, rows: Iterable[Row]) -> bool:
    """Tell whether a description says nothing new but the version of the tables: any first save writes it."""
    before = next((old for old in rows if old.number == row.values["replaces"]), None)
    own = {column.name for column in TREATMENT.own} - {"schema_version"}
    return before is not None and all(row.values[name] == before.values[name] for name in own)


def _name(table: str, values: Mapping[str, Any]) -> str:
    if table == "plans" and values["cycle"]:
        return f"the {values['stage']} plan of cycle {values['cycle']}"
    if table == "plans":
        return f"the plan of {values['stage']}"
    return _NAMED[table]
