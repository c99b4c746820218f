"""What the item panel shows against what the record holds: two windows do not write over each other."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from bench.records import nouns
from bench.records.store import Record

Row = Mapping[str, Any]
_OWN = ("length_unit", "temperature_unit", "schema_version")  # of the screen and the tables, not of the item


class ShownItem:
    """What the fields said when the record was last read or saved, so that only changes are saved.

    Somebody else may save the item from another window meanwhile: what was not touched here keeps
    what they wrote.
    """

    def __init__(self) -> None:
        self._row: dict[str, Any] | None = None
        self._staples: dict[str, Row] = {}

    def begin(self, recorded: Row, row: Row, staples: Sequence[Row]) -> None:
        """Take the first answer as what the record says, as far as the record says it."""
        if self._row is None:
            self._row = {}
            if "width_mm" in recorded:
                self.keep({name: value for name, value in row.items() if name in recorded}, staples)

    def keep(self, row: Row, staples: Sequence[Row]) -> None:
        """Take what the fields say now as saved."""
        self._row, self._staples = dict(row), {staple["staple"]: staple for staple in staples}

    def merge(
        self, record: Record, row: Row, staples: Sequence[Row]
    ) -> tuple[dict[str, list[dict[str, Any]]], str]:
        """Give the rows with the changes made here, and a sentence on those made elsewhere."""
        was, latest = self._row or {}, nouns.treatment_row(record)
        mine = {name for name in {*was, *row} if was.get(name) != row.get(name)}
        merged = {name: value for name, value in latest.items() if name not in mine}
        merged |= {name: value for name, value in row.items() if name in mine}
        own = [staple for staple in staples if staple != self._staples.get(staple["staple"])]
        rows = {
            "treatment": [merged] if merged != latest else [],
            "staples": nouns.replacing(record, "staples", own, ("staple",)),
        }
        theirs = [name for name in was if name not in _OWN and latest.get(name) != was[name]]
        return rows, _say_theirs(theirs, mine, latest, was)


def _say_theirs(names: Sequence[str], mine: Collection[str], latest: Row, was: Row) -> str:
    """Tell what somebody else saved meanwhile, and which of it was written over here."""
    if not names:
        return ""
    told = [
        f"{name.removesuffix('_mm').replace('_', ' ')} {latest.get(name, 'blank')} instead of {was[name]}"
        + (", replaced by yours" if name in mine else "")
        for name in names
    ]
    return f"Meanwhile somebody else saved: {'; '.join(told)}. Run this page again to see it in the fields."
