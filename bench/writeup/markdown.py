"""A report as Markdown: the same blocks as the page, for reading and keeping as plain text."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any

from bench.treatment.plan import Verdict
from bench.writeup.blocks import (
    APPENDIX,
    APPENDIX_SAYS,
    Block,
    Bullets,
    Cautions,
    Drawing,
    Facts,
    Grid,
    Heading,
    Missing,
    Photographs,
    Report,
    SignatureLines,
    Text,
    VerdictBlock,
)
from bench.writeup.case import say_moment

_VERDICTS = {Verdict.GO: "Go on", Verdict.CARE: "Go on with care", Verdict.STOP: "Stop"}
_CAUTIONS = {Verdict.STOP: "Stop.", Verdict.CARE: "Care.", Verdict.GO: "Note."}
_MARKS = re.compile(r"([\\`*_{}\[\]<>#|~&$])")  # a dollar begins a formula where Markdown knows any
_LINK = re.compile(r"[\\<>&]|\s")
_START = re.compile(r"^(\s*)([-+=]|\d+[.)])(?=\s|$)")


def render_markdown(report: Report) -> str:
    """Write a report as Markdown (CommonMark with tables).

    Pictures are told by the sentence that reads them; the drawings themselves are in the HTML report.
    """
    for_owner = report.audience == "owner"
    basis = f" {_plain(report.basis)}" if report.basis else ""
    parts = [
        f"# {_plain(report.title)}: {report.kind.lower()}",
        f"Written by {_plain(report.by)}, {say_moment(report.written_at)}.{basis}",
        "## In short",
        _plain(" ".join(report.summary)) if for_owner else _list(report.summary),
    ]
    # The short form says in its place what is not recorded.
    missing = [] if for_owner else [f"{title}: {words}" for title, words in report.missing()]
    for title, items in (("Please note", report.noted), ("Not recorded", missing)):
        parts += [f"## {title}", _list(items)] if items else []
    for place, section in report.parts:
        parts += [f"## {APPENDIX}", APPENDIX_SAYS] if section in report.appendix[:1] else []
        parts.append(f"## {place} {_plain(section.title)}")
        parts += [write_block(block) for block in section.blocks]
    return "\n\n".join(part for part in parts if part) + "\n"


def write_block(block: Block) -> str:
    """Write one block as Markdown."""
    return _WRITERS[type(block)](block)


def _plain(words: str) -> str:
    """Write words so that Markdown reads them as they are."""
    text = _MARKS.sub(r"\\\1", " ".join(words.split()))
    return _START.sub(
        lambda m: f"{m[1]}\\{m[2]}" if len(m[2]) == 1 else f"{m[1]}{m[2][:-1]}\\{m[2][-1]}", text
    )


def _escape(match: re.Match[str]) -> str:
    return f"\\{match[0]}" if match[0].strip() else " "


def _list(items: Sequence[str]) -> str:
    return "\n".join(f"- {_plain(item)}" for item in items)


def _facts(block: Facts) -> str:
    return _captioned(block, _table(("", ""), block.pairs, frozenset()))


def _grid(block: Grid) -> str:
    return _captioned(block, _table(block.head, block.rows, block.numbers))


def _captioned(block: Facts | Grid, table: str) -> str:
    return f"**{_plain(block.caption)}**\n\n{table}" if block.caption else table


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], numbers: frozenset[int]) -> str:
    rule = ["---:" if n in numbers else "---" for n in range(len(head))]
    lines = [[_plain(cell) for cell in head], rule, *(_row(row, len(head)) for row in rows)]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def _row(row: Sequence[str], width: int) -> list[str]:
    """Write the cells of a row; a heading across the table stands in its first cell."""
    if len(row) == 1 < width:
        return [f"**{_plain(row[0])}**", *[""] * (width - 1)]
    return [_plain(cell) for cell in row]


def _finding(block: VerdictBlock) -> str:
    verdict = f"**{_plain(block.word) or _VERDICTS[block.verdict]}.** " if block.verdict else ""
    because = f"\n\n{_plain(block.because)}" if block.because else ""
    return f"{verdict}{_plain(block.answer)}{because}"


def _cautions(block: Cautions) -> str:
    order = tuple(_CAUTIONS)
    told = sorted(block.cautions, key=lambda c: order.index(c.verdict))
    return "\n".join(f"- **{_CAUTIONS[c.verdict]}** {_plain(c.words)}" for c in told)


def _photographs(block: Photographs) -> str:
    lines = (
        f"![{_plain(caption)}](<{_LINK.sub(_escape, file)}>)\n{_plain(caption)}"
        for _, caption, file in block.shown
    )
    return "\n\n".join(lines)


def _signatures(block: SignatureLines) -> str:
    return "\n\n".join(f"{_plain(line)}\n\n{'.' * 40} Date {'.' * 16}" for line in block.lines)


_WRITERS: dict[type, Callable[[Any], str]] = {
    Text: lambda block: _plain(block.words),
    Missing: lambda block: f"*{_plain(block.words)}*",
    Heading: lambda block: f"### {_plain(block.words)}",
    Facts: _facts,
    Grid: _grid,
    Bullets: lambda block: _list(block.items),
    VerdictBlock: _finding,
    Cautions: _cautions,
    Drawing: lambda block: f"Picture: {_plain(block.picture.reads)}",
    Photographs: _photographs,
    SignatureLines: _signatures,
}
