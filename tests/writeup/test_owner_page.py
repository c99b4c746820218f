"""The owner's page tells what was done, not what was planned; its outcome, limits and gaps come first."""

import re

import pytest

from bench.desk import open_treatment
from bench.writeup.html import render_html
from bench.writeup.markdown import render_markdown
from bench.writeup.pdf import PAPERS
from bench.writeup.report import collect_report
from tests.writeup.case_makers import at, make_bare, make_full, make_sheet

SAMPLES = ("tin-orchard-annual-2", "saltmarsh-signal-31", "nettle-lane-mystery-7")


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    return make_sheet(tmp_path_factory.mktemp("sheet"))


def page_of(record, audience="owner"):
    return render_markdown(collect_report(record, at=at(12, 9), by="M. Tallow", audience=audience))


@pytest.fixture(scope="module")
def page(sheet):
    return page_of(sheet)


@pytest.fixture(scope="module", params=[*SAMPLES, "full", "bare", "sheet"])
def form(request, tmp_path_factory):
    """Give the owner's form of every sample and of invented treatments that no sample resembles."""
    makers = {"full": make_full, "bare": make_bare, "sheet": make_sheet}
    if request.param in makers:
        record = makers[request.param](tmp_path_factory.mktemp("records"))
    else:
        record = open_treatment(request.param).record
    return collect_report(record, at=at(25, 9), by="M. Tallow", audience="owner")


def test_preparing_a_chamber_is_not_told_as_humidifying(page):
    """The second cycle was only prepared, and the first began with the item, not with the felt."""
    assert "Humidified in water vapour from 3 to 4 March 2026." in page
    assert "Pressed flat from 4 to 5 March 2026." in page
    assert "cycles" not in page.split("## 2.")[1].split("## 3.")[0]


def test_a_tool_that_was_only_planned_is_not_told_as_used(sheet, page):
    assert "Which tools were used is not recorded." in page
    assert "soft hair brush" not in page
    assert "Planned, but not recorded as used: soft hair brush." in page_of(sheet, "record")


def test_the_outcome_comes_first_in_two_plain_sentences(page):
    first = page.split("## In short\n\n")[1].split("\n")[0]
    assert first == (
        "Of 2 defects, 1 looks better and 1 looks unchanged; none looks worse. The item was cleaned on "
        "2 March 2026, humidified from 3 to 4 March 2026 and pressed from 4 to 5 March 2026; nothing was "
        "added."
    )


def test_limits_and_times_that_were_not_read_off_a_clock_are_said_at_the_head(page):
    note = page.split("## Please note")[1].split("## 1.")[0]
    assert "time damp and warm enough for mould, 60 h (limit 48 h)" in note
    assert "in the press overnight, cycle 1, 26 h (limit 24 h)" in note
    assert "The times of 10 of 11 steps were not read off a clock" in note
    assert "staples" not in note, "a sheet has none"


def test_a_limit_of_work_that_was_only_planned_is_not_told_as_passed(tmp_path):
    record = open_treatment("saltmarsh-signal-31").record
    assert "Please note" not in page_of(record)
    assert "no limit was touched" in page_of(record, "record")


def test_no_code_of_the_record_stands_on_it(form):
    text = render_markdown(form)
    keys = "intake|buffering|humidity,|in_scope|use the fit|interleaves by the bench slip"
    codes = re.findall(rf"\bd\d+\b|\bs\d\d\b|[a-z]+\\?_[a-z]+|\b(?:{keys})\b", text)
    assert codes == []


def test_nothing_is_said_twice(form):
    sentences = re.findall(r"[A-Z][^.|\n]{30,}\.", render_markdown(form))
    assert [said for said in set(sentences) if sentences.count(said) > 1] == []


def test_a_change_that_is_lost_in_the_readings_is_no_growth(page):
    assert "No change of the width was found (+0.05 ± 0.23 mm; at leaf 1)" in page


@pytest.mark.parametrize("paper", PAPERS)
def test_it_prints_on_one_or_two_pages(form, paper, printer):
    pages = re.findall(rb"/Type\s*/Page\b(?!s)", printer.print(render_html(form), paper=paper))
    assert 1 <= len(pages) <= 2
