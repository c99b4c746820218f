"""Words that a browser, a spreadsheet or a typesetter would run stay words in tables and reports.

What begins a formula is from OWASP's page on CSV injection (= + - @, tab, carriage return); what a page runs
is tried with markdown-it, an independent reader of CommonMark.
"""

import csv
import hashlib
import io

import pandas as pd
from markdown_it import MarkdownIt

from bench.desk import Treatment
from bench.writeup.collect import collect_report
from bench.writeup.html import render_html
from bench.writeup.markdown import render_markdown
from tests.writeup.case_makers import at, make_full

FILE = "photographs/<img src=x onerror=alert(1)> [a](javascript:x).jpg"
FORMULAS = ("=HYPERLINK(1)", "+1+1", "-2+3", "@SUM(A1)", "\tcmd", "\rcmd")


def test_a_report_runs_nothing_that_somebody_wrote(tmp_path):
    record = make_full(tmp_path)
    (record.folder / "photographs").mkdir(exist_ok=True)
    (record.folder / FILE).write_bytes(b"no picture")
    photograph = {
        "stage": "intake",
        "view": "<b>front</b> $\\frac{",
        "file": FILE,
        "sha256": hashlib.sha256(b"no picture").hexdigest(),
        "taken_at": at(2, 9),
    }
    remark = {"stage": "intake", "cycle": 0, "at": at(2, 9), "remark": "$\\frac{ <script>alert(1)</script>"}
    record.save({"photographs": [photograph], "log": [remark]}, by="=HYPERLINK(1)", at=at(6, 12))
    report = collect_report(record, at=at(6, 13), by="M. Tallow", units=Treatment(record).units)
    for page in (render_html(report), MarkdownIt("commonmark").render(render_markdown(report))):
        assert "onerror" in page
        for live in ("<img src=x", "<script>alert", 'href="javascript', "<b>front"):
            assert live not in page


def test_no_cell_begins_what_a_spreadsheet_runs(tmp_path):
    record = make_full(tmp_path)
    rows = [{"stage": "intake", "cycle": 0, "at": at(2, 9), "remark": words} for words in FORMULAS]
    record.save({"log": rows}, by="@SUM", at=at(6, 12))
    text = (record.folder / "log.csv").read_bytes().decode()
    cells = [cell for line in csv.reader(io.StringIO(text, newline="")) for cell in line]
    frame = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
    for cell in (*cells, *frame.to_numpy().ravel()):
        assert not cell.startswith(("=", "+", "@", "\t", "\r"))
        assert not cell.startswith("-") or cell[1:2].isdigit()
    assert [row["remark"] for row in record.rows("log")][-len(FORMULAS) :] == list(FORMULAS)
