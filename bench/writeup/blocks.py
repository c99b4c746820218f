"""What a report is made of: plain blocks that every format writes in its own way.

A report is collected once, as blocks; HTML and Markdown are two ways to write the same blocks, so
that they cannot say different things.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from string import ascii_uppercase
from typing import TypeAlias

from bench.figures.chart import Chart
from bench.figures.style import Picture
from bench.treatment.plan import Caution

NOT_RECORDED = "not recorded"
APPENDIX = "Appendix"
APPENDIX_SAYS = "The numbers, tables and sources behind the report."


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
        Names of the columns.
    rows : tuple of tuple of str
        A row of one cell runs across the table, as a heading of the rows below it.
    numbers : frozenset of int
        Columns set to the right.
    caption : str
        Above it; empty for none.
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

    @property
    def on_page(self) -> tuple[tuple[str, str], ...]:
        """The small copies with their captions."""
        return tuple((source, caption) for source, caption, _ in self.shown)


@dataclass(frozen=True)
class SignatureLines:
    """Lines to sign on: who, and in which role."""

    lines: tuple[str, ...]


Block: TypeAlias = (
    Text | Missing | Heading | Facts | Grid | Bullets | Cautions | Drawing | Photographs | SignatureLines
)


@dataclass(frozen=True)
class Section:
    """One section of a report.

    Attributes
    ----------
    key : str
        For links inside the page.
    title : str
        Its heading, without number or letter.
    blocks : tuple of Block
        In the order of reading.
    """

    key: str
    title: str
    blocks: tuple[Block, ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """What was not recorded, in sentences."""
        return tuple(block.words for block in self.blocks if isinstance(block, Missing))


def listing(key: str, title: str, *blocks: Block) -> Section:
    """Make a section of tables: one without a row is left out, and where nothing is left it says so."""
    told = tuple(block for block in blocks if not isinstance(block, Grid) or block.rows)
    return Section(key, title, told or (Text("None."),))


@dataclass(frozen=True)
class Report:
    """A whole report.

    Attributes
    ----------
    title : str
        Of the item.
    treatment_id : str
        Name of the folder of the record.
    written_at : datetime
        With offset.
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
        return (*self.numbered, *self.lettered)

    @property
    def numbered(self) -> tuple[tuple[str, Section], ...]:
        """The sections with their numbers."""
        return tuple((f"{number}.", section) for number, section in enumerate(self.sections, start=1))

    @property
    def lettered(self) -> tuple[tuple[str, Section], ...]:
        """The sections of the appendix with their letters."""
        return tuple(
            (f"{letter}.", part) for letter, part in zip(ascii_uppercase, self.appendix, strict=False)
        )

    @property
    def is_for_owner(self) -> bool:
        """Whether it is the short form, which says in its place what is not recorded."""
        return self.audience == "owner"

    @property
    def kind(self) -> str:
        """What it is called, above its title."""
        return "Treatment summary for the owner" if self.is_for_owner else "Treatment report"

    def missing(self) -> Iterator[tuple[str, str]]:
        """Yield title of the section and sentence for everything that was not recorded."""
        for _, section in self.parts:
            for words in section.missing:
                yield section.title, words

    def section(self, key: str) -> Section:
        """Give a section by its key."""
        return next(section for _, section in self.parts if section.key == key)
