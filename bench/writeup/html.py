"""A report as one HTML file: the templates ``report.html`` and ``blocks.html``, filled in."""

from __future__ import annotations

import re
from typing import Any

from bench.figures.page import caution_list
from bench.figures.templates import TEMPLATES
from bench.writeup.blocks import APPENDIX, APPENDIX_SAYS, NOT_RECORDED, Block, Report
from bench.writeup.case import MONTHS, say_moment

# Blanks at which a line must not break: round a plus-minus, before a unit, inside a date.
_MONTH = "|".join(month[:3] for month in MONTHS)
_TIED = re.compile(
    r" (?=±)|(?<=±) |(?<=\d) (?=(?:%|°[CF]|mm|thou|in|µm|g|h|d|min|kPa|g/m²)(?:\W|$))"
    rf"|(?<=\d) (?=(?:{_MONTH})[a-z]*\b)|(?<=(?:{'|'.join(m[-3:] for m in MONTHS)})) (?=\d{{4}})"
    r"|(?<=cycle) (?=\d)|(?<=leaf) (?=\d)"
)


def _tie(words: str) -> str:
    """Keep values and dates together."""
    return _TIED.sub("\u00a0", words)


def _css_text(words: str) -> str:
    """Write words within the quotes of a style sheet, where an escape must be one of CSS."""
    return "".join(f"\\{ord(c):x} " if c in '"\\<>&\n' else c for c in words)


def write_block(block: Block) -> str:
    """Write one block as HTML."""
    written: str = getattr(_BLOCKS, type(block).__name__)(block)
    return written


_KNOWN = {
    "APPENDIX": APPENDIX,
    "APPENDIX_SAYS": APPENDIX_SAYS,
    "NOT_RECORDED": NOT_RECORDED,
    "caution_list": caution_list,
    "css_text": _css_text,
    "say_moment": say_moment,
    "tie": _tie,
    "write_block": write_block,
}
_BLOCKS: Any = TEMPLATES.get_template("writeup/blocks.html", globals=_KNOWN).module
_REPORT = TEMPLATES.get_template("writeup/report.html", globals=_KNOWN)


def render_html(report: Report) -> str:
    """Write a report as a complete page.

    Parameters
    ----------
    report : Report
        As it was collected.

    Returns
    -------
    str
        UTF-8 text; it needs nothing beside itself.
    """
    return _REPORT.render(report=report)
