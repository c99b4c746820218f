"""Parts of a report as a notebook shows them before it is written."""

from __future__ import annotations

from bench.figures.page import Page, bullet_page, sentence_page
from bench.writeup import html, markdown
from bench.writeup.blocks import Report


def summary_page(report: Report) -> Page:
    """Show what the report says in short."""
    return bullet_page(report.summary, " ".join(report.summary))


def missing_page(report: Report) -> Page:
    """Show what is not recorded and will be said to be so."""
    gaps = [f"{title}: {words}" for title, words in report.missing()]
    if not gaps:
        return sentence_page("Everything the report asks for is recorded.")
    return bullet_page(gaps, " ".join(gaps))


def noted_page(report: Report) -> Page:
    """Show what a reader must know before relying on the report."""
    if not report.noted:
        return sentence_page("Nothing stands out: no limit was passed, and every time was read off a clock.")
    return bullet_page(report.noted, " ".join(report.noted))


def section_page(report: Report, key: str) -> Page:
    """Show one section as the page will have it.

    Parameters
    ----------
    report : Report
        As it was collected.
    key : str
        ``"disclosure"``, ``"storage"``, ``"result"``, ...
    """
    section = report.section(key)
    body = "".join(html.write_block(block) for block in section.blocks)
    words = "\n\n".join(markdown.write_block(block) for block in section.blocks)
    return Page(f'<section class="report-part">{body}</section>', f"{section.title}\n\n{words}")
