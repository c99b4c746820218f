"""What a report has to say: the facts of one treatment, and sentences that belong in it or do not.

Marked by judgement alone: no calculation decides it.  What belongs is the common ground of the codes of the
profession; how it is put is for the teacher to read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from bench.practice.drawing import Drawn
from bench.practice.shapes import Question, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker

WRONG = {
    "left-out-what-failed": "left out what went wrong",
    "left-out-the-change": "left out where the work departed from the plan",
    "promised": "promised what nobody can promise",
    "named-a-value": "named what the item is worth now",
}

_ALWAYS = ("before", "done", "materials", "left")
_NEVER = ("promise", "worth")
OPTIONS = (
    ("before", "how it was before, with readings and photographs"),
    ("done", "what was done, when, and by whom"),
    ("materials", "sheets, salt and boards, with their lots"),
    ("failed", "what went wrong, and what came of it"),
    ("change", "where the work departed from the plan, and why"),
    ("clock", "which times were not read off a clock"),
    ("left", "what is left as it was, and what to keep it from"),
    ("promise", "that the waves will not come back"),
    ("worth", "what it is worth now that it is flat"),
)


@dataclass(frozen=True)
class _Happening:
    """Something that may have happened, the key of the sentence it asks for, and how it is told."""

    key: str
    words: str
    quiet: str


_HAPPENED = (
    _Happening(
        "failed",
        "at the second change of sheets a corner of leaf 3 tore by 4 mm; it was left as it is",
        "nothing tore, stuck or marked",
    ),
    _Happening(
        "change",
        "the plan said 24 h in the chamber; nobody could come, and it was 31 h",
        "every step went as it was planned",
    ),
    _Happening(
        "clock",
        "the evening's times were written down the next morning, from memory",
        "every time was read off the clock",
    ),
)


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Draw what happened in a treatment, and tell which sentences its report needs."""
    happened = [bool(drawn.rng.random() < 0.6) for _ in _HAPPENED]
    if not any(happened):
        happened[int(drawn.rng.integers(len(happened)))] = True
    told = [each.words if is_so else each.quiet for each, is_so in zip(_HAPPENED, happened, strict=True)]
    asked = [each.key for each, is_so in zip(_HAPPENED, happened, strict=True) if is_so]
    right = frozenset((*_ALWAYS, *asked))
    return Solution(
        right=right,
        near=1,
        wrong=tuple(_ways(right)),
        look=(*drawn.look, *((f"from the log, {n}", words) for n, words in enumerate(told, start=1))),
        steps=(
            "Every report says how the item was, what was done to it, with what, and what is left.",
            f"This log asks for more: {_say(asked)}.",
            "Nothing is promised, and no worth is named: nobody knows the one, the other is another trade.",
        ),
        facts={"asked": _say(asked), "told": "; ".join(told)},
    )


def _say(keys: list[str]) -> str:
    words = dict(OPTIONS)
    return "; ".join(words[key] for key in keys)


def _ways(right: frozenset[str]) -> list[WrongWay]:
    found = [
        WrongWay(
            "promised",
            right | {"promise"},
            "Paper that was waved once waves again in a damp cellar. The owner would keep it carelessly, "
            "and come back with your promise in hand.",
        ),
        WrongWay(
            "named-a-value",
            right | {"worth"},
            "Whoever has an interest in the price is no longer trusted on the condition. Leave worth to "
            "those whose trade it is.",
        ),
    ]
    if "failed" in right:
        found.append(
            WrongWay(
                "left-out-what-failed",
                right - {"failed"},
                "The owner finds the tear at home, and then believes nothing else in the report; the next "
                "conservator takes it for an old one.",
            )
        )
    if "change" in right:
        found.append(
            WrongWay(
                "left-out-the-change",
                right - {"change"},
                "Seven hours more in the damp count towards mould and rust. Who plans the next treatment "
                "would reckon with a day that never was.",
            )
        )
    return found


MARKER = Marker(
    question=Question(ReplyKind.TICKS, "The report has to say", options=OPTIONS),
    solve=solve,
    wrong=WRONG,
    sometimes=frozenset({"left-out-what-failed", "left-out-the-change"}),
)
