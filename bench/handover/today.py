"""What the record of a treatment tells the page of the day: its steps, and its sheets as counted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bench.records import nouns
from bench.records.store import Record
from bench.treatment import facts
from bench.treatment.actual.sheets_counted import (
    SheetCount,
    caution_of_sheets,
    caution_of_uncounted,
    count_sheets,
)
from bench.treatment.clock.today import OpenTreatment
from bench.treatment.plan import Caution
from bench.treatment.pressing.words import SHEETS_OUT


@dataclass(frozen=True)
class AtBench:
    """A treatment as it stands at the bench.

    Attributes
    ----------
    open : OpenTreatment
        As it goes into the day.
    counts : mapping of int to SheetCount
        Of every cycle in which sheets were counted.
    planned : mapping of int to int
        Sheets by the plan of a cycle, where there is one.
    emptied : frozenset of int
        Cycles whose sheets came out, the item still with its press: later it is too late to count them.
    """

    open: OpenTreatment
    counts: Mapping[int, SheetCount]
    planned: Mapping[int, int]
    emptied: frozenset[int]

    def count(self, cycle: int) -> SheetCount:
        """Give the sheets counted in a cycle so far."""
        return self.counts.get(cycle, SheetCount())

    def cautions(self) -> tuple[Caution, ...]:
        """Say what the counts of sheets ask for, whatever step it is at."""
        found: list[Caution] = []
        for cycle in sorted({*self.counts, *self.emptied}):
            count, planned = self.count(cycle), self.planned.get(cycle)
            found += caution_of_sheets(count, planned)
            if cycle in self.emptied:
                found += caution_of_uncounted(cycle, count, planned)
        return tuple(found)


def read_at_bench(key: str, title: str, record: Record) -> AtBench:
    """Read a treatment for the page of the day.

    Parameters
    ----------
    key, title : str
        By which it is known, and what it is.
    record : Record
        As it stands now.
    """
    timeline = nouns.timeline_of(record)
    steps = timeline.steps if timeline else ()
    log = record.rows("log")
    cycles = {int(row["cycle"]) for row in log} | {step.cycle for step in steps}
    counts = {cycle: count_sheets(row for row in log if int(row["cycle"]) == cycle) for cycle in cycles}
    planned = {cycle: planned_sheets(record, cycle) for cycle in cycles}
    in_press = {step.cycle for step in steps if step.stage == "pressing" and step.actual_end is None}
    emptied = {step.cycle for step in steps if step.name == SHEETS_OUT and step.actual_end}
    return AtBench(
        OpenTreatment(key, title, timeline, _say_stands(record)),
        counts={cycle: count for cycle, count in counts.items() if count.is_counted},
        planned={cycle: number for cycle, number in planned.items() if number is not None},
        emptied=frozenset(emptied & in_press),
    )


def planned_sheets(record: Record, cycle: int) -> int | None:
    """Give how many sheets are planned for a cycle; None if none were planned."""
    number = nouns.planned_number(record, "buffering", cycle, facts.SHEETS)
    return None if number is None else round(float(number.magnitude))


def _say_stands(record: Record) -> str:
    decisions = record.rows("decisions")
    if not decisions:
        return "No decision has been recorded: intake comes first."
    row = max(decisions, key=lambda row: (row["decided_at"], row["row"]))
    return f"Last decision, at {row['stage']}: {row['decision']}."
