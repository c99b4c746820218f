"""The shapes of an exercise: what is asked, what is right, which wrong ways are known, what came of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from bench.physics.ranges import Range
from bench.units import Quantity


class ReplyKind(StrEnum):
    """What an answer is."""

    NUMBER = "number"
    CLOCK = "clock"
    CHOICE = "choice"
    TICKS = "ticks"
    PLACES = "places"
    ORDER = "order"
    TEXT = "text"

    @property
    def is_measured(self) -> bool:
        """Whether an answer is a quantity: a time of day is one too, in hours from midnight."""
        return self in (ReplyKind.NUMBER, ReplyKind.CLOCK)


@dataclass(frozen=True)
class Question:
    """What a learner is asked, as the fields of a panel take it.

    Attributes
    ----------
    kind : ReplyKind
        ``NUMBER``: a quantity; ``CLOCK``: a time of day; ``CHOICE``: one of the options; ``TICKS``: those
        options that hold;
        ``PLACES``: leaf numbers; ``ORDER``: all options in their order;
        ``TEXT``: free words, kept and not marked.
    label : str
        Of the field.
    unit : str
        Of a number, as fields take it (``"thickness"``, ``"temperature"``, ``"percent"``, ``"hour"``, ...).
    options : tuple of (str, str)
        Key and words of each.
    one_of : tuple of str
        Keys of ticks of which just one is given: a decision.
    """

    kind: ReplyKind
    label: str
    unit: str = ""
    options: tuple[tuple[str, str], ...] = ()
    one_of: tuple[str, ...] = ()


Reply = Quantity | str | frozenset[str] | tuple[int, ...] | tuple[str, ...]
"""By kind: a quantity; the key of an option; keys; leaf numbers in order; keys in order; or free words."""


@dataclass(frozen=True)
class WrongWay:
    """A wrong way that is known by name.

    Attributes
    ----------
    key : str
        As exercises name it; its marker says what it is.
    answer : Reply
        What comes out of it for this item.
    harm : str
        What would have happened to the item, or why it is no matter; one or two sentences.
    """

    key: str
    answer: Reply
    harm: str


@dataclass(frozen=True)
class Solution:
    """What is right for a drawn item, and what is known of wrong ways.

    Attributes
    ----------
    right : Reply
        The best answer; of a number its most likely value.
    holds : Range or None
        Of a number: the interval within which an answer is right.
    near : float
        Of a number: how many half-widths of the interval off an answer is still near; of places or ticks: how
        many may be wrong.
    also_right : tuple of Reply
        Other answers that are as good.
    wrong : tuple of WrongWay
        Every wrong way that leads to another answer here.
    comes_of : callable or None
        ``comes_of(reply)`` says in a sentence or two what would come of an answer that is not right and that
        no known wrong way leads to; None where nothing can be said, as of ticks, which are told one by one.
    look : tuple of (str, str)
        What lies before the learner: name and value, with unit, nothing of the answer.
    steps : tuple of str
        The way to the answer in two to six sentences, with this item's numbers; a half-worked exercise shows
        the first half of them.
    facts : mapping of str to str
        What fills the braces in the texts of an exercise.
    plan : object or None
        The plan that marks it, for a picture.
    """

    right: Reply
    holds: Range | None = None
    near: float = 2.0
    also_right: tuple[Reply, ...] = ()
    wrong: tuple[WrongWay, ...] = ()
    comes_of: Callable[[Reply], str] | None = field(default=None, compare=False)
    look: tuple[tuple[str, str], ...] = ()
    steps: tuple[str, ...] = ()
    facts: Mapping[str, str] = field(default_factory=dict, hash=False)
    plan: Any = field(default=None, compare=False)


class Judgement(StrEnum):
    """What an answer is."""

    RIGHT = "right"
    NEAR = "near"
    WRONG = "wrong"
    READ = "read"
    """A worked example, or free words: nothing to mark."""


@dataclass(frozen=True)
class Marked:
    """What came of an answer.

    Attributes
    ----------
    judged : Judgement
        Right, near, wrong, or only read.
    ways : tuple of WrongWay
        The wrong ways that were recognised, the one that explains most first.
    comes : str
        What would have come of it where no way was recognised, and which ticks are missing or too many.
    """

    judged: Judgement
    ways: tuple[WrongWay, ...] = ()
    comes: str = ""

    @property
    def wrong(self) -> WrongWay | None:
        """The wrong way that explains most of the answer."""
        return self.ways[0] if self.ways else None
