"""Which photographs a report shows where: before treatment, before and after in pairs, and the rest."""

from __future__ import annotations

from dataclasses import dataclass

from bench.errors import BenchError, RecordError
from bench.figures.photographs import REPORT_PX, look_at
from bench.records.kept_files import PHOTOGRAPHS
from bench.records.photographs import by_view
from bench.writeup.blocks import Grid, Photographs, Section, listing
from bench.writeup.case import Case, Row, say_day, say_text
from bench.writeup.words import say_stage

MOST_BEFORE, MOST_PAIRS, MOST_AFTER = 6, 4, 6
"""Photographs that the report itself shows; what is left stands in the appendix.  Chosen here."""


@dataclass(frozen=True)
class SortedPhotographs:
    """The photographs of a record, sorted to where they are shown.

    Attributes
    ----------
    before : tuple of rows
        Taken before treatment.
    pairs : tuple of (row, row)
        One view in one light, before and after treatment.
    after : tuple of rows
        Taken later, and in no pair.
    rest : tuple of rows
        What the report has no room for: the appendix shows them.
    """

    before: tuple[Row, ...]
    pairs: tuple[tuple[Row, Row], ...]
    after: tuple[Row, ...]
    rest: tuple[Row, ...]


def sort_photographs(case: Case) -> SortedPhotographs:
    """Sort the photographs of a record to where a report shows them."""
    rows = case.rows["photographs"]
    views = by_view(rows)
    both = [view for view in views if view[0]["stage"] == "intake" != view[-1]["stage"]]
    pairs = tuple((view[0], view[-1]) for view in both)[:MOST_PAIRS]
    before = tuple(row for row in rows if row["stage"] == "intake")[:MOST_BEFORE]
    known = {row["row"] for row in (*before, *(row for pair in pairs for row in pair))}
    later = tuple(row for row in rows if row["stage"] != "intake" and row["row"] not in known)[:MOST_AFTER]
    known |= {row["row"] for row in later}
    return SortedPhotographs(before, pairs, later, tuple(row for row in rows if row["row"] not in known))


def show(case: Case, *rows: Row) -> Photographs:
    """Show photographs beside each other."""
    return Photographs(tuple(_photograph(case, row) for row in rows))


def _photograph(case: Case, row: Row) -> tuple[str, str, str]:
    """Give small copy, caption and file; a file that cannot be shown says so in its caption."""
    light = f", light: {row['light']}" if row["light"] else ""
    moment = {"intake": "before treatment", "review": "after treatment"}.get(
        row["stage"], say_stage(row["stage"])
    )
    caption, file = f"{row['view']}, {moment}{light}", str(row["file"])
    try:
        source = look_at(PHOTOGRAPHS.read(case.record, file), longest=REPORT_PX, name=file).source
    except (BenchError, RecordError) as error:
        return "", f"{caption}: {error}", file
    return source, caption, file


def write_photographs(case: Case) -> Section:
    """List every photograph with its file and checksum, and show those that the report did not."""
    head = ("View", "Stage", "Light", "Scale", "Taken", "File", "Checksum")
    cells = tuple(
        (
            row["view"],
            say_stage(row["stage"]),
            say_text(row["light"]),
            say_text(row["scale"]),
            say_day(row["taken_at"]) if row["taken_at"] else say_text(None),
            row["file"],
            f"{row['sha256'][:12]}…",
        )
        for row in case.rows["photographs"]
    )
    rest = sort_photographs(case).rest
    shown = (show(case, *rest),) if rest else ()
    return listing("photographs", "Photographs on file", Grid(head, cells), *shown)
