"""Pages and their pieces as templates: files beside the modules, in which all that is filled in is escaped.

What is markup already, such as a drawing, passes by the filter ``safe``; what a macro gave is known to be.
"""

from __future__ import annotations

import re
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from jinja2.ext import Extension

_LINE_END = re.compile(r"(?<=[>}])\s*\n\s*")


class _Tight(Extension):
    """Drop the line breaks behind tags, expressions and rules of CSS: they are there to read the template by.

    Where a blank is meant, both sides of it stand on one line.
    """

    def preprocess(self, source: str, name: str | None, filename: str | None = None) -> str:
        return _LINE_END.sub("", source)


def tie_values(cell: object) -> str:
    """Keep a value on one line with its uncertainty and its percent sign; markup stays markup."""
    words = cell if isinstance(cell, str) else str(cell)
    return words.replace(" ± ", "\u00a0±\u00a0").replace(" %", "\u00a0%")


TEMPLATES = Environment(
    loader=PackageLoader("bench", ""),
    autoescape=True,
    undefined=StrictUndefined,
    extensions=[_Tight],
    auto_reload=False,
)
TEMPLATES.filters["tied"] = tie_values

PIECES: Any = TEMPLATES.get_template("figures/pieces.html").module
"""The macros of ``pieces.html``, made once: a panel fills them in at every move of a control."""
