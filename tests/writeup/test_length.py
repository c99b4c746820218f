"""The report is a story of ten to fourteen pages at most; its tables of numbers stand behind it."""

import re
from dataclasses import replace

import pytest

from bench.desk import open_treatment
from bench.writeup.blocks import Grid
from bench.writeup.html import render_html
from bench.writeup.report import collect_report
from tests.writeup.case_makers import at, make_full, make_sheet

# Fewest and most pages of the story, most pages of the appendix; the annual went through two cycles.
PAGES = {
    "tin-orchard-annual-2": (10, 14, 12),
    "saltmarsh-signal-31": (4, 14, 8),
    "nettle-lane-mystery-7": (3, 14, 3),
}


def report_of(record):
    return collect_report(record, at=at(25, 9), by="M. Tallow")


def count_pages(report, printer):
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", printer.print(render_html(report))))


@pytest.mark.parametrize("name", PAGES)
def test_story_and_appendix_keep_to_their_length(name, printer):
    fewest, most, behind = PAGES[name]
    report = report_of(open_treatment(name).record)
    story = count_pages(replace(report, appendix=()), printer)
    assert fewest <= story <= most
    assert 1 <= count_pages(report, printer) - story <= behind


@pytest.mark.parametrize("make", [make_full, make_sheet])
def test_the_story_of_an_item_that_no_sample_resembles_keeps_to_it_too(make, tmp_path, printer):
    assert count_pages(replace(report_of(make(tmp_path)), appendix=()), printer) <= 14


def test_planned_numbers_stand_in_the_appendix_alone(tmp_path):
    report = report_of(make_full(tmp_path))
    told = [row[0] for s in report.sections for b in s.blocks if isinstance(b, Grid) for row in b.rows]
    behind = [row[0] for b in report.section("plan").blocks if isinstance(b, Grid) for row in b.rows]
    assert "clearance over upper staple" in behind
    assert "clearance over upper staple" not in told


def test_both_cycles_of_a_planned_number_share_a_row(tmp_path):
    report = report_of(make_full(tmp_path))
    grid = next(b for b in report.section("plan").blocks if isinstance(b, Grid))
    assert grid.head[1:3] == ("Cycle 1", "Cycle 2")
    assert [row[:3] for row in grid.rows if row[0] == "leaves between sheets"] == [
        ("leaves between sheets", "6", "8")
    ]
    names = [row[0] for row in grid.rows]
    assert len(names) == len(set(names)), "no quantity takes two rows for one limit and source"
