"""What a report is made of: plain blocks that every format writes in its own way.

A report is collected once, as blocks; HTML and Markdown are two ways to write the same blocks, so
that they cannot say different things.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TypeAlias

from bench.figures.chart import Chart
from bench.figures.style import Picture
from bench.treatment.plan import Caution, Verdict

NOT_RECORDED = "not recorded"
APPENDIX = "Appendix"
APPENDIX_SAYS = "The numbers, tables and sources behind the report."
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    words: str


@dataclass(frozen=True)
class Missing:
    """A sentence on what was not recorded; it is also listed at the head of the report."""

    words: str


@dataclass(frozen=True)
class Heading:
    """A heading inside a section."""

    words: str


@dataclass(frozen=True)
class Facts:
    """Pairs of name and value."""

    pairs: tuple[tuple[str, str], ...]
    caption: str = ""


@dataclass(frozen=True)
class Grid:
    """A table.

    Attributes
    ----------
    head : tuple of str
    rows : tuple of tuple of str
        A row of one cell runs across the table, as a heading of the rows below it.
    numbers : frozenset of int
        Columns set to the right.
    caption : str
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    caption: str = ""


@dataclass(frozen=True)
class Bullets:
    """A list."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class VerdictBlock:
    """A verdict with its sentence and its reason.

    Attributes
    ----------
    verdict : Verdict or None
    answer, because : str
    word : str
        Said instead of the verdict's own word, if any.
    """

    verdict: Verdict | None
    answer: str
    because: str = ""
    word: str = ""


@dataclass(frozen=True)
class Cautions:
    """Cautions, the gravest first."""

    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class Drawing:
    """A picture with the sentence that reads it."""

    picture: Picture | Chart


@dataclass(frozen=True)
class Photographs:
    """Photographs beside each other.

    Attributes
    ----------
    shown : tuple of (str, str, str)
        Small copy as the source of an image, empty if it cannot be shown; caption; file in the record.
    """

    shown: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class SignatureLines:
    """Lines to sign on: who, and in which role."""

    lines: tuple[str, ...]


Block: TypeAlias = (
    Text
    | Missing
    | Heading
    | Facts
    | Grid
    | Bullets
    | VerdictBlock
    | Cautions
    | Drawing
    | Photographs
    | SignatureLines
)


@dataclass(frozen=True)
class Section:
    """One section of a report.

    Attributes
    ----------
    key : str
        For links inside the page.
    title : str
    blocks : tuple of Block
    """

    key: str
    title: str
    blocks: tuple[Block, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """What was not recorded, in sentences."""
        return tuple(block.words for block in self.blocks if isinstance(block, Missing))


@dataclass(frozen=True)
class Report:
    """A whole report.

    Attributes
    ----------
    title : str
        Of the item.
    treatment_id : str
    written_at : datetime
    by : str
        Who wrote it.
    basis : str
        On which state of the record it rests.
    summary : tuple of str
        What was reached and done, in sentences; the outcome first.
    sections : tuple of Section
        What a reader needs, in order.
    appendix : tuple of Section
        The tables of numbers behind it.
    noted : tuple of str
        What to know before relying on it: limits that were passed, times that nobody read off a clock.
    audience : str
        ``"record"`` for the whole record, ``"owner"`` for the short form.
    """

    title: str
    treatment_id: str
    written_at: datetime
    by: str
    basis: str
    summary: tuple[str, ...]
    sections: tuple[Section, ...]
    appendix: tuple[Section, ...] = ()
    noted: tuple[str, ...] = ()
    audience: str = "record"

    @property
    def parts(self) -> tuple[tuple[str, Section], ...]:
        """Every section with what stands before its title: a number, in the appendix a letter."""
        numbered = ((f"{number}.", section) for number, section in enumerate(self.sections, start=1))
        lettered = ((f"{letter}.", section) for letter, section in zip(LETTERS, self.appendix, strict=False))
        return (*numbered, *lettered)

    @property
    def kind(self) -> str:
        """What it is called, above its title."""
        return "Treatment report" if self.audience == "record" else "Treatment summary for the owner"

    def missing(self) -> Iterator[tuple[str, str]]:
        """Yield title of the section and sentence for everything that was not recorded."""
        for _, section in self.parts:
            for words in section.missing:
                yield section.title, words

    def section(self, key: str) -> Section:
        """Give a section by its key."""
        return next(section for _, section in self.parts if section.key == key)
