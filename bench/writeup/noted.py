"""What to know before a report is relied on, and what it says in short."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bench.treatment.clock.done import is_measured
from bench.units import join_words, upper_first
from bench.writeup.agreed import is_decision, say_decision, sorted_decisions
from bench.writeup.case import Case, Row, say_date
from bench.writeup.costs import LIMITS, say_passed
from bench.writeup.owner import say_added, say_size_changes, say_when
from bench.writeup.result import say_outcome, size_changes

_DECIDED = {
    "treat": "to treat it",
    "hold": "to wait until everything is settled",
    "refer": "to refer it to another conservator",
}


def note_all(case: Case, *, short: bool) -> tuple[str, ...]:
    """Say what a reader must not miss.

    Parameters
    ----------
    case : Case
        The record, as it was read.
    short : bool
        For the owner: the numbers of a limit stand here, because no section of limits follows, and of what
        does not agree only what is grave.
    """
    return (*_say_flags(case, short), *_say_limits(case, short), *_say_times(case))


def _say_flags(case: Case, short: bool) -> Iterator[str]:
    """Say where the record does not agree with itself: sheets that do not add up, plans out of date."""
    for flag in case.flags:
        if flag.is_grave:
            yield f"The sheets laid between the leaves do not add up. {flag.words}"
        elif not short:
            yield flag.words


def _say_limits(case: Case, short: bool) -> Iterator[str]:
    passed = say_passed(case)
    if passed and short:
        yield f"Limits were passed: {'; '.join(passed)}. This means more risk, not that harm was seen."
    elif passed:
        count = "A limit was" if len(passed) == 1 else f"{len(passed)} limits were"
        yield f"{count} passed: see “{LIMITS}”."


def _say_times(case: Case) -> Iterator[str]:
    done = [row for row in case.rows["steps"] if row["actual_start"]]
    reckoned = sum(not is_measured(row["note"]) for row in done)
    if reckoned:
        of = (
            f"the times of {reckoned} of {len(done)} steps"
            if reckoned < len(done)
            else "the times of the steps"
        )
        yield (
            f"{upper_first(of)} were not read off a clock: they were taken from the plan, or reckoned back "
            "from the end of the work."
        )


def say_in_short(case: Case) -> tuple[str, ...]:
    """Say the outcome in two plain sentences: what became of the item, and what was done to it."""
    if not case.acts:
        return (_say_untreated(case),)
    return say_outcome(case), _say_done(case)


def summarise(case: Case) -> tuple[str, ...]:
    """Say in short what was reached, done, measured and decided."""
    said = list(say_in_short(case)) if case.acts else ["Nothing has been done to the item."]
    if case.acts and size_changes(case):
        said.append(say_size_changes(case))
    last = _last_decision(case)
    if last is not None:
        after = (
            f" after cycle {last['cycle']}" if last["stage"] == "review" and last["cycle"] else " at intake"
        )
        said.append(f"The last decision{after}: {say_decision(last)}")
    elif not any(row["decision"] for row in case.rows["decisions"]):
        said.append("No decision is recorded.")
    return tuple(said)


def _say_done(case: Case) -> str:
    """Say what was done to the item, and that nothing was added if that is so."""
    verbs = (("cleaned", "cleaning"), ("humidified", "humidity"), ("pressed", "pressing"))
    done = [f"{verb} {_say_when(case, stage)}" for verb, stage in verbs if case.acts_of(stage)]
    done = done or [f"interleaved {_say_when(case, 'buffering')}"]
    nothing = "" if say_added(case).startswith("Materials") else "; nothing was added"
    return f"The item was {join_words(done)}{nothing}."


def _say_when(case: Case, stage: str) -> str:
    return say_when(case.acts_of(stage)).split(", in ")[0]


def _say_untreated(case: Case) -> str:
    """Say that nothing was done, and what was decided instead."""
    last = _last_decision(case, stage="intake")
    if last is None:
        return "Nothing has been done to the item, and no decision is recorded."
    decision, day = str(last["decision"]), say_date(last["decided_at"])
    said = f"Nothing has been done to the item: on {day} it was decided {say_decided(decision)}."
    reason = str(last["reason"] or "")
    given = reason.partition(": ")[2] if reason.lower().startswith(decision) else reason
    return f"{said} The reason given: {given}" if given and decision != "treat" else said


def say_decided(decision: str) -> str:
    """Say in plain words what was decided, to follow *it was decided*."""
    return _DECIDED.get(decision, f"to {decision}")


def _last_decision(case: Case, stage: str = "") -> Row | None:
    rows: Sequence[Row] = [r for r in sorted_decisions(case) if is_decision(r) and stage in ("", r["stage"])]
    return rows[-1] if rows else None
