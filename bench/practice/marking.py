"""Mark an answer: right, near or wrong, if wrong by which known ways, and what would have come of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from bench.errors import BadValue
from bench.practice.shapes import Judgement, Marked, Question, Reply, ReplyKind, Solution, WrongWay
from bench.units import Q_, name_of


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
    and ticks are near if no more than :attr:`Solution.near` of them are wrong or missing;
    another decision never is.

    Among ticks a wrong way is recognised if all that it gets wrong is wrong in the answer, whatever else is:
    the way that explains most of it first, then those that explain what is left.
    """
    if question.kind is ReplyKind.TEXT:
        return Marked(Judgement.READ)
    if any(_is_same(question, solution, answer, each) for each in (solution.right, *solution.also_right)):
        return Marked(Judgement.RIGHT)
    if slip := _unit_slip(question, solution, answer, (_MICRO,)):  # no caliper reads so little or so much
        return Marked(Judgement.WRONG, comes=slip)
    ways = _recognise(question, solution, answer)
    if not ways and (slip := _unit_slip(question, solution, answer, _THOU)):
        return Marked(Judgement.WRONG, comes=slip)
    judged = Judgement.NEAR if not ways and _is_near(question, solution, answer) else Judgement.WRONG
    if question.kind is ReplyKind.TICKS:
        return Marked(judged, ways, _say_ticks(question, solution, answer))
    comes = "" if ways or solution.comes_of is None else solution.comes_of(answer)
    return Marked(judged, ways, comes)


def number_of(answer: Reply, unit: str) -> float:
    """Give an answer as a plain number of a unit.

    Raises
    ------
    BadValue
        It is no quantity.
    """
    if not hasattr(answer, "units"):
        raise BadValue("answer", repr(answer), f"a number in {unit}", "Enter a number")
    found: Any = answer
    return float(found.to(unit).magnitude)


def _unit_slip(question: Question, solution: Solution, answer: Reply, times: Sequence[float]) -> str:
    """Say that a length is right but for its unit, if it is off by one of some numbers of times."""
    if question.unit != "thickness":
        return ""
    value = number_of(answer, "mm")
    for factor in times:
        for right, words in ((value * factor, "small"), (value / factor, "large")):
            if _is_same(question, solution, Q_(right, "mm"), solution.right):
                return f"Your number is {factor:.0f} times too {words}. Look at its unit. {_SLIP}"
    return ""


_SLIP = "Whoever reads one unit for another fills a block with no sheet, or until it does not close."
_MICRO, _THOU = 1000.0, (1 / 0.0254, 25.4)  # µm to a mm; thou to a mm, and µm to a thou


def _is_same(question: Question, solution: Solution, answer: Reply, right: Reply) -> bool:
    if not question.kind.is_measured:
        return _plain(question, answer) == _plain(question, right)
    if solution.holds is None:
        return _off(answer, right) < 1e-9
    value, low, high = _within(solution, answer)
    return low <= value <= high


def _is_near(question: Question, solution: Solution, answer: Reply) -> bool:
    if question.kind in (ReplyKind.CHOICE, ReplyKind.ORDER):
        return False
    if not question.kind.is_measured:
        off = _differing(question, answer, solution.right)
        return len(off) <= solution.near and not off & set(question.one_of)
    if solution.holds is None:
        return False
    value, low, high = _within(solution, answer)
    reach = (solution.near - 1) * (high - low) / 2
    return low - reach <= value <= high + reach


def _recognise(question: Question, solution: Solution, answer: Reply) -> tuple[WrongWay, ...]:
    """Give the wrong ways that explain an answer; of several ticks each wrong way explains its own."""
    if question.kind is not ReplyKind.TICKS:
        return tuple(way for way in solution.wrong if _is_alike(question, solution, answer, way.answer))[:1]
    slips = [(way, _differing(question, way.answer, solution.right)) for way in solution.wrong]
    left, found = _differing(question, answer, solution.right), []
    for way, slip in sorted(slips, key=lambda each: -len(each[1])):
        if slip <= left:
            found.append(way)
            left -= slip
    return tuple(found)


def _is_alike(question: Question, solution: Solution, answer: Reply, way: Reply) -> bool:
    """Tell whether an answer is what a wrong way leads to, within a tenth of how far that is off."""
    if question.kind is ReplyKind.PLACES:  # a leaf named twice is one place, where sheets lie on one another
        return not _differing(question, answer, way)
    if not question.kind.is_measured:
        return _plain(question, answer) == _plain(question, way)
    return _off(answer, way) <= max(0.1 * _off(way, solution.right), 1e-9)


def _differing(question: Question, answer: Reply, right: Reply) -> frozenset[object]:
    """Give the ticks or places that are in one of two answers only."""
    return frozenset(_plain(question, answer)) ^ frozenset(_plain(question, right))


def _say_ticks(question: Question, solution: Solution, answer: Reply) -> str:
    """Say which ticks are missing, and which are too many."""
    theirs, right = (set(_plain(question, each)) for each in (answer, solution.right))
    decision = set(question.one_of)
    parts = (
        ("You decided", (theirs - right) & decision),
        ("The decision is", (right - theirs) & decision),
        ("Missing", right - theirs - decision),
        ("Ticked, but not so", theirs - right - decision),
    )
    said = (
        f"{head}: {'; '.join(words for key, words in question.options if key in keys)}."
        for head, keys in parts
        if keys
    )
    return " ".join(said)


def _within(solution: Solution, answer: Reply) -> tuple[float, float, float]:
    assert solution.holds is not None
    unit = name_of(solution.holds.value)
    _, low, high = solution.holds.floats(unit, field="answer")
    return number_of(answer, unit), low, high


def _off(one: Reply, other: Reply) -> float:
    unit = name_of(other)
    return abs(number_of(one, unit) - number_of(other, unit))


def _plain(question: Question, answer: Reply) -> tuple[object, ...]:
    """Give an answer so that two of them can be compared: only the order of work keeps its order."""
    if isinstance(answer, frozenset) or question.kind is ReplyKind.PLACES:
        return tuple(sorted(answer)) if isinstance(answer, frozenset | tuple) else (answer,)
    if isinstance(answer, tuple):
        return tuple(answer)
    if isinstance(answer, str):
        return (answer,)
    remedy = "Choose again"
    raise BadValue("answer", f"{answer:~P}", f"an answer of the kind “{question.kind}”", remedy)
