"""Sentences of a chapter that are worked out from a plan, shown as the prose around them."""

from __future__ import annotations

from bench.figures.page import Page
from bench.figures.templates import PIECES


def prose(*sentences: str) -> Page:
    """Show sentences in a notebook, each in a paragraph of its own."""
    said = [sentence for sentence in sentences if sentence]
    return Page(str(PIECES.paragraphs(said, "chapter")), "\n".join(said))
