"""The first page: an empty folder opens, a new treatment is led to intake, and a page says whose it is."""

import shutil
from types import SimpleNamespace

import pytest

from bench.desk import SAMPLES, open_treatment
from bench.panels import start
from bench.panels.start import build_new_panel, build_start_panel, treatments_page
from bench.records.many import MANY


@pytest.fixture
def empty(tmp_path, monkeypatch):
    """A folder of records without a treatment, as a new user has it."""
    records = tmp_path / "records"
    records.mkdir()
    monkeypatch.setenv("BENCH_RECORDS", str(records))
    monkeypatch.delenv("BENCH_TREATMENT", raising=False)
    return records


def fill(panel, **entries):
    for key, text in entries.items():
        panel.field(key).widget.value = text
    return panel


def test_an_empty_folder_opens_and_says_where_to_begin(empty):
    treatment = open_treatment()
    panel = build_start_panel(treatment)
    assert "There is no treatment yet. Start one below; intake comes next." in panel.answer
    assert treatments_page().words == "There is no treatment yet. Start one below; intake comes next."
    assert "<table" not in treatments_page().html


def test_a_new_treatment_is_taken_to_hand_and_led_to_intake(empty):
    panel = build_new_panel(open_treatment())
    assert "01_intake.ipynb" not in panel.answer
    fill(panel, title="Spring & Annual", name="spring-annual-1", conservator="M. Tallow")
    assert "01_intake.ipynb" not in panel.answer  # it would show another item
    assert "Started spring-annual-1" in panel.save()
    assert 'Spring &amp; Annual is at hand. <a href="01_intake.ipynb">Go on to intake</a>' in panel.answer
    assert open_treatment().title == "Spring & Annual"
    again = build_start_panel(open_treatment())
    assert "Spring &amp; Annual stands at not begun" in again.answer


def test_a_name_that_is_taken_leads_nowhere(empty):
    shutil.copytree(SAMPLES / "saltmarsh-signal-31", empty / "spring-annual-1")
    panel = build_new_panel(open_treatment())
    fill(panel, title="Spring Annual", name="spring-annual-1", conservator="M. Tallow")
    assert "Nothing was saved" in panel.save()
    assert "01_intake.ipynb" not in panel.answer


def test_a_page_of_a_sample_says_that_it_is_no_item_of_the_readers(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    shown = open_treatment()._repr_html_()
    assert 'data-bench-title="The Tin Orchard Annual, no. 2" data-bench-sample="yes"' in shown
    assert "<b>The Tin Orchard Annual, no. 2</b>, cycle 2. This is an invented sample, not your item" in shown
    assert "Run the page before you use it" in shown


def test_a_page_of_a_treatment_names_it_and_keeps_markup_as_text(empty):
    panel = build_new_panel(open_treatment())
    fill(panel, title='A <b>"bold"</b> one', name="bold-1", conservator="M. Tallow").save()
    shown = open_treatment()._repr_html_()
    assert 'data-bench-sample="no"' in shown
    assert "sample, not your item" not in shown
    assert "A &lt;b&gt;&quot;bold&quot;&lt;/b&gt; one" in shown


def test_the_page_says_how_far_the_reading_of_many_treatments_is(monkeypatch):
    """Of few nothing is said; of many twice a second at most, and the line goes when all are read."""
    shown = []
    monkeypatch.setattr(start, "display", shown.append)
    few = start.SayProgress()
    for done in range(1, MANY):
        few(done, MANY - 1)
    assert shown == []
    clock = iter(0.2 * k for k in range(5, 10_000))
    monkeypatch.setattr(start, "time", SimpleNamespace(monotonic=lambda: next(clock)))
    many = start.SayProgress()
    said = []
    for done in range(1, 1001):
        many(done, 1000)
        said.append(shown[0].value)
    assert "Reading what has changed: 1 of 1000 …" in said[0]
    assert 100 < len(set(said)) < 1000
    assert shown[0].comm is None
