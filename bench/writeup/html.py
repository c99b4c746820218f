"""A report as one HTML file: no script, no request, pictures inside, fit to be printed."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import partial
from html import escape
from importlib import resources
from typing import Any

from bench.figures.page import caution_list, verdict_tag
from bench.figures.photographs import figure_row
from bench.writeup.blocks import (
    APPENDIX,
    APPENDIX_SAYS,
    NOT_RECORDED,
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
    Section,
    SignatureLines,
    Text,
    VerdictBlock,
)
from bench.writeup.case import MONTHS, say_moment

_SHORT = 7
# Blanks at which a line must not break: round a plus-minus, before a unit, inside a date.
_MONTH = "|".join(month[:3] for month in MONTHS)
_TIED = re.compile(
    r" (?=±)|(?<=±) |(?<=\d) (?=(?:%|°[CF]|mm|thou|in|µm|g|h|d|min|kPa|g/m²)(?:\W|$))"
    rf"|(?<=\d) (?=(?:{_MONTH})[a-z]*\b)|(?<=(?:{'|'.join(m[-3:] for m in MONTHS)})) (?=\d{{4}})"
    r"|(?<=cycle) (?=\d)|(?<=leaf) (?=\d)"
)


def render_html(report: Report) -> str:
    """Write a report as a complete page.

    Parameters
    ----------
    report : Report

    Returns
    -------
    str
        UTF-8 text; it needs nothing beside itself.
    """
    css = resources.files("bench.writeup").joinpath("report.css").read_text(encoding="utf-8")
    name = f"{report.title} – {report.kind}"
    head = (
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>{escape(name)}</title><style>{css}{_footer(report)}</style>"
    )
    told = {section.key: _section(place, section) for place, section in report.parts}
    body = "".join(told[section.key] for section in report.sections)
    behind = "".join(told[section.key] for section in report.appendix)
    return (
        f'<!doctype html>\n<html lang="en"><head>{head}</head><body class="for-{report.audience}">\n'
        f"{_opening(report)}{_links(report)}<main>{body}{_appendix(behind)}</main>\n</body></html>\n"
    )


def _appendix(body: str) -> str:
    return f'<div class="appendix"><h2>{APPENDIX}</h2><p>{APPENDIX_SAYS}</p>{body}</div>\n' if body else ""


def _links(report: Report) -> str:
    """List the sections where there are more than a page shows at once."""
    if report.audience == "owner":
        return ""
    links = "".join(f'<li><a href="#{s.key}">{place} {escape(s.title)}</a></li>' for place, s in report.parts)
    return f'<nav aria-label="Sections"><ul>{links}</ul></nav>\n'


def _footer(report: Report) -> str:
    """Put title and treatment at the foot of every printed page, where the browser can."""
    text = f"{report.title} · {report.treatment_id} · written {say_moment(report.written_at)}"
    # Inside a style element an escape must be a CSS one: the quote, the backslash and the tag opener.
    safe = "".join(f"\\{ord(c):x} " if c in '"\\<>&\n' else c for c in text)
    return f'@page{{@bottom-left{{content:"{safe}"}}}}'


def _opening(report: Report) -> str:
    missing = [f"<li><b>{escape(title)}:</b> {_words(words)}</li>" for title, words in report.missing()]
    if report.audience == "owner":  # the short form says in its place what is not recorded
        summary, missing = f'<p class="outcome">{_words(" ".join(report.summary))}</p>', []
    else:
        summary = _points(Bullets(report.summary))
    basis = f" {escape(report.basis)}" if report.basis else ""
    return (
        f'<header><p class="kind">{report.kind}</p><h1>{escape(report.title)}</h1>'
        f"<p>Written by {escape(report.by)}, {say_moment(report.written_at)}.{basis}</p></header>"
        f'<section class="summary"><h2>In short</h2>{summary}</section>'
        + _gaps("Please note", [f"<li>{_words(words)}</li>" for words in report.noted])
        + _gaps("Not recorded", missing)
        + "\n"
    )


def _gaps(title: str, items: Sequence[str]) -> str:
    """Put what a reader must not miss beside a line, where there is any."""
    return f'<section class="gaps"><h2>{title}</h2><ul>{"".join(items)}</ul></section>' if items else ""


def _section(place: str, section: Section) -> str:
    blocks = "".join(write_block(block) for block in section.blocks)
    return f'<section id="{section.key}"><h2>{place} {escape(section.title)}</h2>{blocks}</section>\n'


def write_block(block: Block) -> str:
    """Write one block as HTML."""
    return _WRITERS[type(block)](block)


def _words(words: str) -> str:
    """Write words; what was not recorded stands out without colour; values and dates stay together."""
    text = _TIED.sub("\u00a0", escape(words))
    return f'<em class="missing">{text}</em>' if words == NOT_RECORDED else text


def _paragraph(kind: str, block: Any) -> str:
    return f'<p class="{kind}">{_words(block.words)}</p>'


def _facts(block: Facts) -> str:
    rows = "".join(
        f'<tr><th scope="row">{escape(name)}</th><td>{_words(value)}</td></tr>' for name, value in block.pairs
    )
    return f'<table class="facts{_short(block.pairs)}">{_caption(block)}<tbody>{rows}</tbody></table>'


def _grid(block: Grid) -> str:
    right = {number: ' class="number"' for number in block.numbers}
    head = "".join(
        f'<th scope="col"{right.get(n, "")}>{escape(cell)}</th>' for n, cell in enumerate(block.head)
    )
    rows = "".join(
        "<tr>" + "".join(f"<td{right.get(n, '')}>{_words(cell)}</td>" for n, cell in enumerate(row)) + "</tr>"
        if len(row) > 1
        else f'<tr class="across"><th scope="rowgroup" colspan="{len(block.head)}">{_words(row[0])}</th></tr>'
        for row in block.rows
    )
    words = "" if block.numbers else " words"
    return (
        f'<div class="scroll"><table class="grid{_short(block.rows)}{words}">{_caption(block)}'
        f"<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>"
    )


def _caption(block: Facts | Grid) -> str:
    return f"<caption>{escape(block.caption)}</caption>" if block.caption else ""


def _short(rows: Sequence[object]) -> str:
    """Mark a table that is kept on one page; a longer one breaks between rows, its head repeated."""
    return " short" if len(rows) <= _SHORT else ""


def _points(block: Bullets) -> str:
    return "<ul>" + "".join(f"<li>{_words(item)}</li>" for item in block.items) + "</ul>"


def _finding(block: VerdictBlock) -> str:
    tag = verdict_tag(block.verdict, block.word or None) if block.verdict else ""
    because = f'<p class="because">{_words(block.because)}</p>' if block.because else ""
    return f'<div class="finding">{tag}<p class="say">{_words(block.answer)}</p>{because}</div>'


def _drawing(block: Drawing) -> str:
    return f"<figure>{block.picture.svg}<figcaption>{_words(block.picture.reads)}</figcaption></figure>"


def _signatures(block: SignatureLines) -> str:
    lines = "".join(
        f'<div class="sign"><span class="line"></span><span>{escape(line)}</span>'
        '<span class="line date"></span><span>Date</span></div>'
        for line in block.lines
    )
    return f'<div class="signs">{lines}</div>'


_WRITERS: dict[type, Callable[[Any], str]] = {
    Text: partial(_paragraph, "text"),
    Missing: partial(_paragraph, "missing"),
    Heading: lambda block: f"<h3>{escape(block.words)}</h3>",
    Facts: _facts,
    Grid: _grid,
    Bullets: _points,
    VerdictBlock: _finding,
    Cautions: lambda block: caution_list(block.cautions),
    Drawing: _drawing,
    Photographs: lambda block: figure_row([(source, caption) for source, caption, _ in block.shown]),
    SignatureLines: _signatures,
}
