"""Where a record does not agree with itself: plans that are out of date, sheets that do not add up.

One function tells it for panels, list, check, schedule and report alike.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from bench.item import Item
from bench.treatment.actual.sheets_counted import (
    COUNTED_IN,
    COUNTED_OUT,
    SheetCount,
    count_sheets,
    say_sheets,
)
from bench.treatment.clock.schedule import turn_of
from bench.treatment.facts import INTERLEAVES, SHEETS, SPACING
from bench.treatment.plan import Verdict
from bench.treatment.resting import (
    NO_LONGER,
    NOTEBOOKS,
    ChangedFact,
    Tables,
    compare,
    kept_rests,
    numbers_of_plan,
    rests_on,
    rows_of_plan,
    say_changes,
)
from bench.treatment.rows import Row, is_given
from bench.units import MILLIMETRES, UnitChoice, join_words, lower_first


@dataclass(frozen=True)
class Flag:
    """One thing in a record that no longer agrees with the rest of it.

    Attributes
    ----------
    stage, cycle : str, int
        Whose plan has to be looked at again.
    verdict : Verdict
        ``STOP`` for sheets that do not add up, else ``CARE``.
    words : str
        What does not agree, in a sentence.
    mend : str
        The one step that mends it, in a sentence.
    changes : tuple of ChangedFact
        What the plan rests on and that changed since; empty for sheets.
    """

    stage: str
    cycle: int
    verdict: Verdict
    words: str
    mend: str
    changes: tuple[ChangedFact, ...] = ()

    @property
    def is_grave(self) -> bool:
        """Whether work must stop until it is mended."""
        return self.verdict is Verdict.STOP

    def __str__(self) -> str:
        return f"{self.words} {self.mend}"


def raise_flags(
    tables: Tables, item: Item | None = None, *, units: UnitChoice = MILLIMETRES
) -> tuple[Flag, ...]:
    """Tell which saved plans are out of date, and where sheets in and sheets out differ.

    Parameters
    ----------
    tables : mapping of str to rows
        Current rows of the record.
    item : Item, optional
        As described; without it, what intake asks of the stages is not compared.
    units : UnitChoice
        For the words.

    Returns
    -------
    tuple of Flag
        Cycle by cycle in the order of the work, so that the first is the first to mend.  A plan whose
        work is over is history and is not flagged; neither is one saved without what it rests on.
    """
    counts = [flag for cycle in _cycles(tables) if (flag := flag_sheets(tables, cycle)) is not None]
    counted = {flag.cycle for flag in counts}
    flags = [*counts, *_stale(tables, item, units, counted)]
    return tuple(sorted(flags, key=lambda flag: turn_of(flag.stage, flag.cycle)))


def say_flags(flags: Sequence[Flag]) -> str:
    """Say several flags in a few sentences: grave ones in full, plans out of date in the order of mending."""
    stale = [flag for flag in flags if not flag.is_grave]
    said = [str(flag) for flag in flags if flag.is_grave]
    if len(stale) == 1:
        said.append(str(stale[0]))
    elif stale:
        names = [
            f"{lower_first(say_plan(flag.stage, flag.cycle))} ({NOTEBOOKS[flag.stage]})" for flag in stale
        ]
        named = join_words(names)
        said.append(f"Out of date now: {named}. Look at each in this order and save it again.")
    return " ".join(said)


def _plans(tables: Tables) -> list[tuple[str, int]]:
    found = dict.fromkeys((str(row["stage"]), int(row["cycle"])) for row in tables["plans"])
    return [(stage, cycle) for stage, cycle in found if rows_of_plan(tables, stage, cycle)]


def _cycles(tables: Tables) -> list[int]:
    logged = {int(row["cycle"]) for row in tables["log"] if row["quantity"] in (COUNTED_IN, COUNTED_OUT)}
    return sorted({cycle for stage, cycle in _plans(tables) if stage == "pressing"} | logged)


def _stale(tables: Tables, item: Item | None, units: UnitChoice, counted: set[int]) -> Iterator[Flag]:
    for stage, cycle in _plans(tables):
        then = kept_with(tables, stage, cycle)
        if not then or is_over(tables, stage, cycle):
            continue
        changes = compare(then, rests_on(stage, cycle, tables, item))
        if item is None:
            changes = tuple(change for change in changes if not change.key.startswith("condition: "))
        if stage == "pressing" and cycle in counted:  # sheets are told by their count
            told = [f"buffering {cycle}: {fact.key}" for fact in (SHEETS, SPACING)]
            changes = tuple(change for change in changes if change.key not in told)
        if changes:
            words = (
                f"{say_plan(stage, cycle)} is out of date: when it was saved, {say_changes(changes, units)}."
            )
            mend = f"Open {NOTEBOOKS[stage]}, look at the answer and save it again."
            yield Flag(stage, cycle, Verdict.CARE, words, mend, changes)


def say_plan(stage: str, cycle: int) -> str:
    """Name a plan at the head of a sentence.

    Examples
    --------
    >>> say_plan("pressing", 2), say_plan("intake", 1)
    ('The pressing plan of cycle 2', 'The decision of intake')
    """
    if stage == "intake":
        return "The decision of intake"
    return f"The {'decision of the review after' if stage == 'review' else f'{stage} plan of'} cycle {cycle}"


def kept_with(tables: Tables, stage: str, cycle: int) -> dict[str, str]:
    """Give what a plan was saved as resting on; empty if it was saved without."""
    return kept_rests(rows_of_plan(tables, stage, cycle))


def is_over(tables: Tables, stage: str, cycle: int) -> bool:
    """Tell whether the work that a plan was made for is done, so that the plan is history.

    It is, once all its steps have ended, or once a later stage or cycle was begun.
    """
    turn = turn_of(stage, cycle)
    steps = [row for row in tables["steps"] if row["note"] != NO_LONGER]
    own = [row for row in steps if (row["stage"], int(row["cycle"])) == (stage, cycle)]
    if own and all(is_given(row["actual_end"]) for row in own):
        return True
    begun = [row for row in steps if is_given(row["actual_start"])]
    reviewed = [row for row in tables["readings"] if row["stage"] == "review"]
    return any(turn_of(row["stage"], int(row["cycle"])) > turn for row in (*begun, *reviewed))


def _planned_sheets(tables: Tables, cycle: int) -> tuple[int | None, int | None]:
    """Give how many sheets the buffering plan puts in and the press plan takes out; None if not planned."""
    put = numbers_of_plan(tables, "buffering", cycle).get(SHEETS.key)
    taken = numbers_of_plan(tables, "pressing", cycle).get(INTERLEAVES.key)
    return _count(put), _count(taken)


def _count(row: Row | None) -> int | None:
    return None if row is None else round(float(row["value"]))


def flag_sheets(tables: Tables, cycle: int, *, taken: int | None = None) -> Flag | None:
    """Count sheets in and out of one cycle against each other, as logged and else as planned.

    Parameters
    ----------
    tables : mapping of str to rows
        Current rows of the record.
    cycle : int
        Whose sheets are counted.
    taken : int, optional
        As a press plan that is not saved yet counts them; by default as the saved one does.

    Returns
    -------
    Flag or None
        None if they agree, or nothing is known to count.
    """
    put, saved = _planned_sheets(tables, cycle)
    taken = saved if taken is None else taken
    count = _counted(tables, cycle)
    if not count.is_counted:
        return None if put is None or taken is None else _flag_planned(cycle, put, taken, logged=False)
    if not count.put_in:  # counted only on the way out: as many went in as were planned
        count = SheetCount(put_in=put or 0).after(taken_out=count.taken_out)
    if count.left:
        return _flag_counted(cycle, count.was_inside, count.was_inside - count.left)
    is_out = count.left == 0 and not count.inside
    return None if is_out or taken is None else _flag_planned(cycle, count.inside, taken, logged=True)


def _counted(tables: Tables, cycle: int) -> SheetCount:
    return count_sheets([row for row in tables["log"] if int(row["cycle"]) == cycle])


def _flag_counted(cycle: int, went: int, came: int) -> Flag:
    words = f"Cycle {cycle}: {say_sheets(went)} in, {say_sheets(came)} out."
    if went > came:
        what = "sheet" if went - came == 1 else "sheets"
        mend = f"Find the missing {what} before any load, heat or release."
    else:
        mend = "More came out than went in: count both piles again and log the right numbers."
    return Flag("pressing", cycle, Verdict.STOP, words, mend)


def _flag_planned(cycle: int, inside: int, taken: int, *, logged: bool) -> Flag | None:
    """Hold the sheets that a press plan takes out against those inside."""
    if inside == taken:
        return None
    puts = "were counted going in" if logged else "go in by the buffering plan"
    words = f"Cycle {cycle}: {say_sheets(inside)} {puts}, but the press plan takes {taken} out"
    words += "; a sheet may stay inside." if inside > taken else "."
    mend = f"Open {NOTEBOOKS['pressing']}, set the spacing to that of the buffering plan, and save it again."
    return Flag("pressing", cycle, Verdict.STOP, words, mend)
