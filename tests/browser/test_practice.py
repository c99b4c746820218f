"""The first page of practice in a browser: an exercise is chosen and read, and the next answered wrongly."""

from __future__ import annotations

import csv
from pathlib import Path

from bench.classroom import NOBODY, Practice
from bench.records.attempts import folder_of

NAME = "reading-thickness"


def attempts_in(records: Path) -> list[dict[str, str]]:
    with (folder_of(records, NOBODY) / "attempts.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_a_learner_reads_the_way_and_then_answers(book, lab):
    book.open("practice/00_practice").run_all()
    page = book.page
    chooser = page.locator(".bench-choose-exercise select")
    chooser.select_option(label=Practice(NOBODY, lab.records).exercises[NAME].title)
    panel = page.locator(".bench-exercise")
    panel.get_by_text("Worked example").wait_for()
    panel.get_by_role("button", name="I have read it").click()
    panel.get_by_role("button", name="Another item").click()
    panel.get_by_text("Half-worked").wait_for()
    commit = panel.get_by_role("button", name="Commit to this answer")
    commit.click()
    panel.get_by_text("give your answer first").wait_for()
    task = Practice(NOBODY, lab.records).task(NAME)
    (wrong,) = (way for way in task.ways() if way.key == "staple-alone")
    box = panel.get_by_label("The highest staple stands above the text block by")
    box.fill(f"{float(wrong.answer.to('mm').magnitude):.2f}")
    commit.click()  # the first press counts, with the cursor still in the field
    panel.get_by_text("You gave the reading over the staple").wait_for()
    assert [(row["help"], row["judged"], row["wrong_way"]) for row in attempts_in(lab.records)] == [
        ("worked example", "read", ""),
        ("half-worked", "wrong", "staple-alone"),
    ]
    assert book.errors == []
    assert book.external == []
