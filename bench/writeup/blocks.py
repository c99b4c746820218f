"""What a report is made of: plain blocks that every format writes in its own way.

A report is collected once, as blocks; HTML and Markdown are two ways to write the same blocks, so
that they cannot say different things.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TypeAlias

from bench.figures.style import Picture
from bench.treatment.plan import Caution, Verdict

NOT_RECORDED = "not recorded"


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
    numbers : frozenset of int
        Columns set to the right.
    caption : str
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    caption: str = ""


@dataclass(frozen=True)
class Points:
    """A list."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Finding:
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

    picture: Picture


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
    | Points
    | Finding
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
        What was decided, done and reached, in sentences.
    sections : tuple of Section
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
    audience: str = "record"

    @property
    def kind(self) -> str:
        """What it is called, above its title."""
        return "Treatment report" if self.audience == "record" else "Treatment, in short for the owner"

    def missing(self) -> Iterator[tuple[str, str]]:
        """Yield title of the section and sentence for everything that was not recorded."""
        for section in self.sections:
            for words in section.missing:
                yield section.title, words

    def section(self, key: str) -> Section:
        """Give a section by its key."""
        return next(section for section in self.sections if section.key == key)
