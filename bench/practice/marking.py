"""Mark an answer: right, near or wrong, and if wrong by which known way."""

from __future__ import annotations

from typing import Any

from bench.errors import BadValue
from bench.practice.shapes import Judgement, Marked, Question, Reply, ReplyKind, Solution
from bench.units import name_of


def mark(question: Question, solution: Solution, answer: Reply) -> Marked:
    """Mark an answer by the solution of its item.

    Parameters
    ----------
    question : Question
        What was asked.
    solution : Solution
        Of the item that was drawn.
    answer : Reply
        As the learner committed to it.

    Returns
    -------
    Marked
        A wrong way is recognised by the answer that it leads to, also where that is near the right one.

    Raises
    ------
    BadValue
        An answer of another kind than was asked.

    Notes
    -----
    A number is right within its interval of 95 %, and near within :attr:`Solution.near` half-widths.  Places
    and ticks are near if no more than :attr:`Solution.near` of them are wrong or missing.
    """
    if question.kind is ReplyKind.TEXT:
        return Marked(Judgement.READ)
    if any(_is_same(question, solution, answer, each) for each in (solution.right, *solution.also_right)):
        return Marked(Judgement.RIGHT)
    way = next((each for each in solution.wrong if _is_alike(question, solution, answer, each.answer)), None)
    judged = Judgement.NEAR if way is None and _is_near(question, solution, answer) else Judgement.WRONG
    return Marked(judged, way)


def _is_same(question: Question, solution: Solution, answer: Reply, right: Reply) -> bool:
    if question.kind is not ReplyKind.NUMBER:
        return _plain(question, answer) == _plain(question, right)
    if solution.holds is None:
        return _off(answer, right) < 1e-9
    value, low, high = _within(solution, answer)
    return low <= value <= high


def _is_near(question: Question, solution: Solution, answer: Reply) -> bool:
    if question.kind in (ReplyKind.CHOICE, ReplyKind.ORDER):
        return False
    if question.kind is not ReplyKind.NUMBER:
        theirs, right = (set(_plain(question, each)) for each in (answer, solution.right))
        return len(theirs ^ right) <= solution.near
    if solution.holds is None:
        return False
    value, low, high = _within(solution, answer)
    reach = (solution.near - 1) * (high - low) / 2
    return low - reach <= value <= high + reach


def _is_alike(question: Question, solution: Solution, answer: Reply, way: Reply) -> bool:
    """Tell whether an answer is what a wrong way leads to, within a tenth of how far that is off."""
    if question.kind is not ReplyKind.NUMBER:
        return _plain(question, answer) == _plain(question, way)
    return _off(answer, way) <= max(0.1 * _off(way, solution.right), 1e-9)


def _number(answer: Reply, unit: str) -> float:
    """Give an answer as a plain number of a unit."""
    if not hasattr(answer, "units"):
        raise BadValue("answer", repr(answer), f"a number in {unit}", "Enter a number")
    found: Any = answer
    return float(found.to(unit).magnitude)


def _within(solution: Solution, answer: Reply) -> tuple[float, float, float]:
    assert solution.holds is not None
    unit = name_of(solution.holds.value)
    _, low, high = solution.holds.floats(unit, field="answer")
    return _number(answer, unit), low, high


def _off(one: Reply, other: Reply) -> float:
    unit = name_of(other)
    return abs(_number(one, unit) - _number(other, unit))


def _plain(question: Question, answer: Reply) -> tuple[object, ...]:
    """Give an answer so that two of them can be compared: ticks without an order, everything else with it."""
    if isinstance(answer, frozenset):
        return tuple(sorted(answer))
    if isinstance(answer, str | tuple):
        return (answer,) if isinstance(answer, str) else tuple(answer)
    remedy = "Choose again"
    raise BadValue("answer", f"{answer:~P}", f"an answer of the kind “{question.kind}”", remedy)
