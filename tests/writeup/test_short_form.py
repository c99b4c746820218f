"""The short form for the owner: true to the record, and one or two pages long."""

import re
from dataclasses import replace

import pytest

from bench.__main__ import main
from bench.desk import open_treatment
from bench.errors import NotFound
from bench.writeup.blocks import Missing, Photographs
from bench.writeup.html import render_html
from bench.writeup.markdown import render_markdown
from bench.writeup.pdf import PAPERS
from bench.writeup.report import collect_report, write_report
from tests.writeup.case_makers import at, make_bare, make_full


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    return make_full(tmp_path_factory.mktemp("full"))


@pytest.fixture(scope="module")
def form(record):
    return collect_report(record, at=at(12, 9), by="M. Tallow", audience="owner")


def words_of(form, key):
    return render_markdown(form).split(f". {form.section(key).title}\n")[1].split("\n## ")[0]


def test_it_tells_what_came_in_was_done_was_reached_and_is_left(form):
    assert "38 leaves (76 pages) and a cover" in words_of(form, "item")
    assert "Humidified in water vapour" in words_of(form, "done")
    assert "According to the record nothing was added" in words_of(form, "done")
    assert "| Before | After | Change |" in words_of(form, "change")
    assert "This cannot be undone" in words_of(form, "keeping")
    assert "M. Tallow" in words_of(form, "who")


def test_what_is_left_is_what_the_last_look_saw(form, record):
    """Every defect whose last grade in the table is not 0, and no other."""
    last = record.read("defects").sort_values("cycle").groupby("defect").last()
    said = set(re.findall(r"- (\w+), .*", words_of(form, "left")))
    assert said == {row["term"].capitalize() for _, row in last.iterrows() if row["severity"]}


def test_it_says_no_less_of_the_change_of_size_than_the_whole_record(form, record):
    whole = render_markdown(collect_report(record, at=at(12, 9), by="M. Tallow"))
    (said,) = re.findall(r"The width grew by .*", words_of(form, "change"))
    assert said in whole


def test_what_is_not_recorded_is_said_in_its_place(tmp_path):
    form = collect_report(make_bare(tmp_path), at=at(12, 9), by="M. Tallow", audience="owner")
    assert "Nothing is recorded as done to it." in words_of(form, "done")
    assert any(isinstance(block, Missing) for block in form.section("who").blocks)
    page = render_html(form)
    assert page.count("No written consent of the owner is recorded.") == 1
    assert "<nav" not in page


def test_an_item_that_was_referred_is_told_so(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    record = open_treatment("nettle-lane-mystery-7").record
    form = collect_report(record, at=at(20, 9), by="M. Tallow", audience="owner")
    assert "it was decided to refer it to another conservator" in " ".join(form.summary)
    assert "past mould, ink" in " ".join(form.summary)
    assert [words for _, words in form.missing()] == []
    assert "not looked at again" not in words_of(form, "left")
    assert "change" not in [section.key for section in form.sections]


def test_it_is_written_beside_the_whole_record_under_its_own_name(record, tmp_path):
    paths = write_report(record, out=tmp_path, at=at(12, 9), by="M. Tallow", audience="owner")
    assert [path.name for path in paths] == [
        "owner-tin-orchard-annual-2-2026-03-12-1.html",
        "owner-tin-orchard-annual-2-2026-03-12-1.md",
    ]


def test_the_command_line_writes_it(record, tmp_path, capsys):
    call = ["report", record.folder.name, "--records", str(record.folder.parent), "--out", str(tmp_path)]
    assert main([*call, "--for", "owner"]) == 0
    assert "owner-tin-orchard-annual-2" in capsys.readouterr().out


def test_a_reader_that_is_not_known_is_refused(record):
    with pytest.raises(NotFound, match="reader is 'dealer'; allowed is record or owner"):
        collect_report(record, at=at(12, 9), by="M. Tallow", audience="dealer")


@pytest.mark.parametrize("paper", PAPERS)
def test_it_prints_on_one_or_two_pages_with_its_photographs(form, paper, printer):
    size = "width='900' height='1300'"
    sheet = f"<svg xmlns='http://www.w3.org/2000/svg' {size}><rect {size}/></svg>"
    shown = [
        (f"data:image/svg+xml;utf8,{sheet}", f"front cover, {when} treatment", "")
        for when in ("before", "after")
    ]
    sections = [
        replace(s, blocks=(Photographs(tuple(shown)), *s.blocks)) if s.key == "change" else s
        for s in form.sections
    ]
    form = replace(form, sections=tuple(sections))
    pages = re.findall(rb"/Type\s*/Page\b(?!s)", printer.print(render_html(form), paper=paper))
    assert 1 <= len(pages) <= 2


@pytest.mark.parametrize(("audience", "section"), [("owner", "change"), ("record", "result")])
def test_a_pair_of_photographs_is_of_one_view_in_one_light(audience, section):
    """Before in even light beside after in raking light would show a difference that is none."""
    sample = open_treatment("tin-orchard-annual-2").record
    report = collect_report(sample, at=at(12, 9), by="M. Tallow", audience=audience)
    found = [b.shown for b in report.section(section).blocks if isinstance(b, Photographs)]
    assert found
    for shown in found:
        before, after = (caption for _, caption, _ in shown)
        assert "before treatment" in before
        assert before.replace("before", "after") == after
