"""An exercise told in plain lines, for a page that is read and not worked, and for its check."""

from __future__ import annotations

from typing import Any

from bench.practice.marking import number_of
from bench.practice.shapes import Question, Reply, ReplyKind
from bench.practice.task import Task
from bench.units import say_clock, unit_label

READER = "A reader"
"""For whom the items on a printed page are drawn."""

_DIGITS = 3  # of an answer


def say_reply(question: Question, reply: Reply) -> str:
    """Write an answer as a person would, rounded."""
    words = dict(question.options)
    if question.kind is ReplyKind.CLOCK:
        return say_clock(number_of(reply, "hour"))
    if hasattr(reply, "units"):
        given: Any = reply
        rounded = float(f"{float(given.magnitude):.{_DIGITS}g}")
        return f"{rounded:g} {unit_label(str(given.units))}".strip()
    if isinstance(reply, frozenset):
        return "; ".join(text for key, text in words.items() if key in reply) or "none"
    if isinstance(reply, tuple):
        return " ".join(words.get(str(each), str(each)) for each in reply)
    return words.get(str(reply), str(reply))


def say_look(task: Task, last: int) -> str:
    """Say the last few things that lie before a learner, one a line.

    Parameters
    ----------
    task : Task
        As it was drawn.
    last : int
        How many; those before are what is seen of any item.
    """
    return "\n".join(f"{name}: {value}" for name, value in task.solution.look[-last:])


def say_task(task: Task) -> str:
    """Say what is right for an item, and what each wrong way that is looked for comes to and is marked as.

    Parameters
    ----------
    task : Task
        Drawn for :data:`READER`, so that the page is the same whenever it is made.
    """
    lines = [f"{task.drawn.item.title}: {say_reply(task.question, task.solution.right)}"]
    for way in task.ways():
        marked = task.mark(way.answer)
        lines.append(f"  who {task.say_way(way)}: {say_reply(task.question, way.answer)}, {marked.judged}")
    return "\n".join(lines)
