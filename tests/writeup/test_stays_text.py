"""A title, a note or a photograph with markup or a formula stays text in every form of the report."""

import re
import shutil
from datetime import timedelta
from html import unescape

import pytest
from markdown_it import MarkdownIt

from bench.figures.style import finish, new_axes
from bench.records.kept_files import checksum
from bench.records.store import create_treatment
from bench.writeup import pdf
from bench.writeup.collect import AUDIENCES, collect_report
from bench.writeup.html import render_html
from bench.writeup.markdown import render_markdown
from tests.writeup.case_makers import ITEM, RULER, at, defect, readings

EVIL = r"""<img src=x onerror="document.title='run'"> $\frac{1}{2}$ &copy; **b** [l](http://x.invalid) =1+1"""
PLACE = r"leaf $\nosuch_{2}$ <b>1</b>"
FILE = "photographs/a>b & c.png"


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    """Make a record in which everything that somebody can write is hostile."""
    folder = tmp_path_factory.mktemp("hostile")
    rows = {
        "treatment": [{**ITEM, "title": EVIL, "owner": EVIL, "conservator": EVIL, "note": EVIL}],
        "readings": [
            *readings("intake", 0, "width", "mm", {PLACE: 170.0}, at(2, 9), **{**RULER, "instrument": EVIL}),
            *readings("review", 1, "width", "mm", {PLACE: 170.4}, at(5, 9), **RULER),
        ],
        "tests": [{"test": EVIL, "result": "fail", "forbids": EVIL, "note": EVIL, "taken_at": at(2, 10)}],
        "defects": [
            defect("d1", EVIL, EVIL, 2, "humidify and press", "before", 0, note=EVIL),
            defect("d1", EVIL, EVIL, 1, "humidify and press", "after", 1),
        ],
        "decisions": [
            {"stage": "intake", "cycle": 0, "decision": "treat", "decided_at": at(2, 11), "decided_by": EVIL},
            {"stage": "review", "cycle": 1, "decision": EVIL, "decided_at": at(6, 9), "decided_by": EVIL},
        ],
        "steps": [
            {
                "step": "s01",
                "stage": "humidity",
                "cycle": 1,
                "name": EVIL,
                "hands": "yes",
                "planned_start": at(3, 9),
                "actual_start": at(3, 9),
                "actual_end": at(3, 9) + timedelta(hours=3),
            }
        ],
        "log": [{"stage": "humidity", "cycle": 1, "at": at(3, 10), "remark": EVIL}],
        "materials": [{"stage": "humidity", "cycle": 1, "kind": EVIL, "material": EVIL, "note": EVIL}],
        "photographs": [
            {"stage": "intake", "view": EVIL, "light": EVIL, "file": FILE, "sha256": checksum(b"no picture")}
        ],
    }
    record = create_treatment(folder, "hostile-1", rows, by=EVIL, at=at(6, 10))
    (record.folder / "photographs").mkdir()
    (record.folder / FILE).write_bytes(b"no picture")
    return record


@pytest.fixture(params=AUDIENCES)
def report(record, request):
    return collect_report(record, at=at(12, 9), by=EVIL, audience=request.param)


def squeeze(text):
    return re.sub(r"\s+", " ", text.replace("\u00a0", " "))


def test_the_page_holds_no_element_that_a_user_wrote(report):
    page = render_html(report)
    assert "<img src=x" not in page
    assert "<b>1</b>" not in page
    text = squeeze(unescape(re.sub(r"<style>.*?</style>|<[^>]+>", " ", page, flags=re.DOTALL)))
    assert text.count(squeeze(EVIL)) >= 5


def test_markdown_shows_it_as_it_was_written(report):
    text = render_markdown(report)
    shown = MarkdownIt("commonmark", {"html": True}).enable("table").render(text)
    assert '<img src="x' not in shown
    assert "<img src=x" not in shown
    assert "<a href" not in shown
    assert "©" not in shown
    assert squeeze(unescape(re.sub(r"<[^>]+>", "", shown))).count(squeeze(EVIL)) >= 5
    # Where Markdown knows formulas, an unescaped dollar would begin one.
    assert re.findall(r"(?<!\\)\$", text) == []


def test_a_file_name_cannot_close_its_link(report):
    shown = MarkdownIt("commonmark").render(render_markdown(report))
    assert 'src="photographs/a%3Eb%20&amp;%20c.png"' in shown


def test_a_place_with_dollar_signs_is_drawn_as_it_is_written():
    """As a formula it would stop the whole report: no such symbol is known."""
    figure, axes = new_axes()
    axes.set_yticks([0, 1], [PLACE, r"cost $5 to $6"])
    axes.annotate(r"$x^2$", (0.5, 0.5))
    words = unescape("".join(re.findall(r"<text[^>]*>([^<]*)</text>", finish(figure, "drawn").svg)))
    assert all(said in words for said in (PLACE, "cost $5 to $6", "$x^2$"))


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium is installed")
def test_printing_runs_no_script():
    """Even a page that was tampered with does nothing but be printed."""
    page = "<body><p>kept</p><script>document.body.innerHTML = '<p>x</p>'.repeat(3000)</script></body>"
    printed = pdf.print_page(page)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == 1
