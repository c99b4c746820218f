"""The write-up panel: what is missing is said before it is written; Save writes new files only."""

import pytest

from bench.desk import Treatment
from bench.panels.writeup import build_writeup_panel
from bench.units import MILLIMETRES
from bench.writeup.report import collect_report, write_report
from tests.writeup.case_makers import at, make_bare, make_full

pytestmark = pytest.mark.slow


@pytest.fixture
def treatment(tmp_path):
    return Treatment(make_full(tmp_path), clock=lambda: at(12, 9))


@pytest.fixture
def panel(treatment):
    return build_writeup_panel(treatment, collect=collect_report, write=write_report)


def reports(treatment):
    return sorted(path.name for path in treatment.record.folder.glob("report-*"))


def test_it_says_in_short_what_the_report_will_say(panel):
    assert "The report can be written. 4 things are not recorded" in panel.answer
    assert "The last decision after cycle 2: Stop" in panel.answer
    assert "<b>Condition before treatment:</b> No photographs are recorded." in panel.answer


def test_save_writes_beside_the_tables_and_never_over_an_earlier_report(panel, treatment):
    panel._on_save(None)
    first = reports(treatment)
    assert [name.rsplit("-", 1)[1] for name in first] == ["1.html", "1.md"]
    panel._on_save(None)
    assert set(first) < set(reports(treatment))
    assert len(reports(treatment)) == 4
    assert "Wrote report-tin-orchard-annual-2-" in panel.status


def test_no_format_is_refused(panel):
    panel.field("html").widget.value = False
    panel.field("md").widget.value = False
    assert not panel.can_save
    panel.field("md").widget.value = True
    assert panel.can_save


def test_somebody_must_write_it(panel):
    panel.field("who").widget.value = ""
    assert not panel.can_save
    assert "Say who writes the report" in panel.field("who").below.value


def test_a_pdf_that_cannot_be_made_says_what_to_do(panel, treatment, monkeypatch):
    from bench.writeup import pdf

    monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    panel.field("pdf").widget.value = True
    panel._on_save(None)
    assert "Nothing was saved" in panel.status
    assert "Open the HTML report in any browser" in panel.status
    assert reports(treatment) == []


def test_a_record_with_nothing_in_it_can_be_written_up(tmp_path):
    panel = build_writeup_panel(Treatment(make_bare(tmp_path)), collect=collect_report, write=write_report)
    assert panel.can_save
    assert "No reading before treatment is recorded." in panel.answer


def test_units_are_the_operators(panel, treatment):
    treatment.switch.choice = MILLIMETRES
    panel._on_save(None)
    (text,) = treatment.record.folder.glob("report-*.md")
    assert "| Height, head to tail | 258 mm |" in text.read_text(encoding="utf-8")


def test_the_short_form_for_the_owner_is_a_choice_of_the_panel(panel, treatment):
    panel.field("audience").widget.value = "owner"
    assert "No photographs are recorded" not in panel.answer
    assert "Wrote owner-tin-orchard-annual-2-" in panel.save()
    assert reports(treatment) == []
