"""Sentences of a chapter that are worked out from a plan, shown as the prose around them."""

from __future__ import annotations

from html import escape

from bench.figures.page import Page


def prose(*sentences: str) -> Page:
    """Show sentences in a notebook, each in a paragraph of its own."""
    said = [sentence for sentence in sentences if sentence]
    return Page("".join(f'<p class="chapter">{escape(sentence)}</p>' for sentence in said), "\n".join(said))
