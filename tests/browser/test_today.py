"""The page of the day on a tablet: touched, left, restarted, opened again."""

from __future__ import annotations

import csv
import re
import shutil
from datetime import timedelta

import pytest
from playwright.sync_api import expect

from bench.desk import now
from bench.records import nouns
from bench.records.store import create_treatment
from bench.treatment.clock.schedule import lay_out
from bench.treatment.plan import hours, minutes
from tests.browser.conftest import PATIENCE_S, Book
from tests.treatment.test_today import piece

KEY = "harbour-light-quarterly-8"
CARD = f".card-{KEY}"
STATUS = ".bench-today [role=status]"
LEAST_PX = 48


@pytest.fixture
def issue(lab):
    """An issue in its second cycle whose chamber is to be prepared now, beside the sample."""
    began = now()
    pieces = [
        piece("prepare the chamber with wet felt", minutes(20), cycle=2, hands=True),
        piece("the closed chamber comes to rest", hours(2), cycle=2, hands=False),
        piece("put 8 interleaves by the bench slip", minutes(15), stage="buffering", cycle=2, hands=True),
    ]
    row = {"title": "Harbour Light Quarterly, no. 8", "conservator": "M. Tallow", "mass_g": 88.0}
    row |= {"length_unit": "mm", "temperature_unit": "degC"}
    record = create_treatment(lab.records, KEY, {"treatment": [row]}, by="M. Tallow", at=began)
    timeline = lay_out(pieces, start=began)
    first = timeline.steps[0]  # by day or by night: the page is tried at any hour
    late = began - first.planned_start
    steps = [{**r, **_moved(r, late)} for r in nouns.step_rows(timeline, record)]
    record.save({"steps": steps}, by="M. Tallow", at=began)
    yield lab.records / KEY
    shutil.rmtree(lab.records / KEY)


def _moved(row, span: timedelta):
    return {name: row[name] + span for name in ("planned_start", "planned_end")}


@pytest.fixture
def tablet(chromium, lab, blank, tmp_path):
    """A window of 800 px that is touched."""
    context = chromium.new_context(viewport={"width": 800, "height": 1000}, has_touch=True, locale="en-US")
    page = context.new_page()
    page.set_default_timeout(PATIENCE_S * 1000)
    book = Book(page, lab, tmp_path, blank)
    yield book
    book.close()
    context.close()


def steps(folder):
    """Give the rows of the steps that no later row replaces, by name."""
    with (folder / "steps.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    replaced = {row["replaces"] for row in rows}
    return {row["name"]: row for row in rows if row["row"] not in replaced}


def tap(page, css):
    """Tap, and give what the foot says then."""
    status = page.locator(STATUS)
    old = status.inner_text() if status.count() else ""
    page.wait_for_timeout(2500)  # a second touch within two seconds is taken for a slip
    page.locator(css).tap()
    status.wait_for()
    expect(status).not_to_have_text(old)
    return status.inner_text()


def test_a_day_by_touch_with_a_restart_and_the_page_left(tablet, issue):
    page = tablet.page
    tablet.open("today")
    card = page.locator(CARD)
    expect(card).to_contain_text("Prepare the chamber with wet felt")
    assert "begun: prepare the chamber" in tap(page, f"{CARD} .touch-begin")
    assert steps(issue)["prepare the chamber with wet felt"]["actual_start"]
    expect(card).to_contain_text(re.compile("under way; ends (at|on) "))  # on: past midnight

    seen = page.locator(".bench-today .asof").inner_text()
    expect(page.locator(".bench-today .asof")).not_to_have_text(seen)  # by itself

    assert "taken back (begun: prepare" in tap(page, ".bench-today .touch-back")
    assert not steps(issue)["prepare the chamber with wet felt"]["actual_start"]
    tap(page, f"{CARD} .touch-begin")
    tap(page, f"{CARD} .touch-finish")
    assert steps(issue)["the closed chamber comes to rest"]["actual_start"]

    # A new kernel knows it all from the record, and offers to take the last touch back.
    tablet.open("today")
    expect(card).to_contain_text("The closed chamber comes to rest since")
    expect(page.locator(".touch-back")).to_have_text("Take back: done: prepare the chamber with wet felt")
    assert tablet.errors == []


def test_every_touch_is_large_enough_and_works_with_the_keyboard(tablet, issue):
    page = tablet.page
    tablet.open("today")
    page.locator(f"{CARD} .touch-begin").wait_for()
    small = page.evaluate(
        """least => [...document.querySelectorAll('.bench-today button')].filter(b => b.offsetParent)
            .filter(b => b.getBoundingClientRect().height < least).map(b => b.innerText)""",
        LEAST_PX,
    )
    assert small == []
    page.locator(f"{CARD} .touch-begin").focus()
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.innerText").startswith("Done: prepare")
    page.keyboard.press("Enter")
    page.locator(STATUS).wait_for()
    assert "done: prepare the chamber with wet felt" in page.locator(STATUS).inner_text()
    assert steps(issue)["prepare the chamber with wet felt"]["actual_end"]


def test_a_missing_sheet_is_red_before_it_is_written(tablet, issue):
    page = tablet.page
    tablet.open("today")
    tap(page, f"{CARD} .touch-finish")
    tap(page, f"{CARD} .touch-begin")
    page.locator(f"{CARD} .touch-see").tap()
    seen = page.locator(".bench-seen")
    expect(seen.locator(".say")).to_contain_text("Harbour Light Quarterly")
    for key, number in (("sheets_in", "8"), ("sheets_out", "7")):
        entry = seen.locator(f".field-{key} input")
        entry.fill(number)
        entry.press("Enter")
        if key == "sheets_in":
            expect(seen.locator(".bench-save")).to_be_enabled()
            seen.locator(".bench-save").tap()
            seen.locator(".bench-end [role=status]").wait_for()
    expect(seen.locator(".halt").first).to_be_visible()
    expect(seen).to_contain_text("8 sheets in, 7 sheets out: a sheet may still be inside")
