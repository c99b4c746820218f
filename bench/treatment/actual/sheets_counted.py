"""Sheets in against sheets out: what the counts of a cycle say, and whether one may still be inside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bench.treatment.plan import Caution, Notice, Verdict
from bench.treatment.rows import Row, is_given

COUNTED_IN, COUNTED_OUT = "sheets put in", "sheets taken out"
"""Names of the counts in the log."""

_MISSING = Notice(
    "sheet-missing",
    Verdict.STOP,
    "{went} in, {came} out: {lost} may still be inside. Look through every opening before anything else is "
    "done.",
)
_TOO_MANY = Notice(
    "sheets-too-many",
    Verdict.STOP,
    "{went} in, {came} out: more came out than were counted in. Count both piles again.",
)
_COUNT_NOW = Notice(
    "count-sheets-now",
    Verdict.CARE,
    "Count the sheets that came out in cycle {cycle} and write it down{expected}.",
)
_NOT_AS_PLANNED = Notice(
    "sheets-not-as-planned",
    Verdict.CARE,
    "{went} put in, {planned} planned: count again, or plan the sheets anew.",
)


@dataclass(frozen=True)
class SheetCount:
    """The sheets of one cycle, as counted.

    Attributes
    ----------
    put_in, taken_out : int
        In all.
    was_inside : int
        Before sheets were last taken out.
    left : int or None
        Unaccounted for after sheets were last taken out, below zero if more came out than went in; None
        while none was taken out.
    """

    put_in: int = 0
    taken_out: int = 0
    was_inside: int = 0
    left: int | None = None

    @property
    def inside(self) -> int:
        """How many are inside by the counts."""
        return self.put_in - self.taken_out

    @property
    def is_counted(self) -> bool:
        """Whether anything was counted."""
        return bool(self.put_in or self.taken_out)

    def after(self, *, put_in: int = 0, taken_out: int = 0) -> SheetCount:
        """Count on: what comes out of an opening was in it before the fresh ones go in.

        Examples
        --------
        >>> eight = SheetCount().after(put_in=8)
        >>> eight.after(taken_out=8, put_in=8).left, eight.after(taken_out=7).left
        (0, 1)
        """
        was, left = self.was_inside, self.left
        if taken_out:
            was = self.inside
            left = was - taken_out
        return SheetCount(self.put_in + put_in, self.taken_out + taken_out, was, left)


def counts_in_order(rows: Iterable[Row]) -> list[Row]:
    """Give the counts among rows of ``log`` in their order: what comes out of an opening first."""
    counted = [row for row in rows if row["quantity"] in (COUNTED_IN, COUNTED_OUT) and is_given(row["value"])]
    return sorted(counted, key=lambda row: (row["at"], row["quantity"] == COUNTED_IN))


def count_sheets(rows: Iterable[Row]) -> SheetCount:
    """Count the sheets of one cycle from its rows of ``log``.

    Parameters
    ----------
    rows : iterable of rows
        Of one cycle, in the order in which they were saved; others are left out.
    """
    count = SheetCount()
    for row in counts_in_order(rows):
        number = round(float(row["value"]))
        count = count.after(
            put_in=number if row["quantity"] == COUNTED_IN else 0,
            taken_out=number if row["quantity"] == COUNTED_OUT else 0,
        )
    return count


def caution_of_sheets(count: SheetCount, planned: int | None = None) -> tuple[Caution, ...]:
    """Say at once when the counts of a cycle do not agree.

    Parameters
    ----------
    count : SheetCount
        Of that cycle.
    planned : int, optional
        Sheets by the plan.
    """
    if count.left:
        went, came = say_sheets(count.was_inside), say_sheets(count.was_inside - count.left)
        if count.left < 0:
            return (_TOO_MANY(went=went, came=came),)
        lost = "a sheet" if count.left == 1 else say_sheets(count.left)
        return (_MISSING(went=went, came=came, lost=lost),)
    if planned is not None and count.left is None and count.put_in and count.put_in != planned:
        return (_NOT_AS_PLANNED(went=say_sheets(count.put_in), planned=planned),)
    return ()


def caution_of_uncounted(cycle: int, count: SheetCount, planned: int | None) -> tuple[Caution, ...]:
    """Ask for the count of sheets that came out, as long as none was written down.

    Parameters
    ----------
    cycle : int
        In which they came out.
    count : SheetCount
        Of that cycle.
    planned : int or None
        Sheets by the plan.
    """
    if count.left is not None:
        return ()
    inside = count.put_in or planned
    known = f": {inside} {'went in' if count.put_in else 'were planned'}" if inside else ""
    return (_COUNT_NOW(cycle=cycle, expected=known),)


def say_sheets(number: int) -> str:
    """Say how many sheets there are."""
    return "1 sheet" if number == 1 else f"{number} sheets"
