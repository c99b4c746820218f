"""The panel of readings says when a check of the instrument was applied, and when it is due again."""

from datetime import date, datetime, timedelta, timezone

import pytest

from bench.desk import Treatment
from bench.panels.readings import build_readings_panel
from bench.physics.ranges import Range
from bench.records import nouns
from bench.records.store import create_treatment
from bench.treatment.calibration import Checks
from bench.treatment.measured import LENGTH_CORRECTION, Accepted

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=timezone(timedelta(hours=1)))


@pytest.fixture
def treatment(tmp_path):
    item = {
        "title": "Saltmarsh Signal, no. 31",
        "conservator": "P. Quill",
        "format": "saddle-stitched",
        "width_mm": 168,
        "height_mm": 257,
        "count": 32,
        "counted_as": "pages",
        "length_unit": "mm",
        "temperature_unit": "degC",
    }
    record = create_treatment(tmp_path, "signal", {"treatment": [item]}, by="P. Quill", at=NOON)
    return Treatment(record, clock=lambda: NOON)


def hold(monkeypatch, day):
    value = Range.of((0.03, 0.022, 0.038), "mm")
    found = Accepted(LENGTH_CORRECTION, "caliper", value, day, day + timedelta(days=365))
    monkeypatch.setattr(nouns, "checks_of", lambda record: Checks.of([found]))


def test_an_answer_is_corrected_and_says_by_which_check(treatment, monkeypatch):
    hold(monkeypatch, date(2026, 3, 1))
    panel = build_readings_panel(treatment)
    panel.fill({"readings": "1.62 1.63 1.61 1.62 1.64"})
    assert "Thickness, text block: 1.654 ±" in panel.answer
    assert "Caliper checked on 2026-03-01: +0.030 ± 0.008 mm, applied." in panel.answer
    assert "due again" not in panel._cautions.value
    panel._on_save(None)
    rows = treatment.record.read("readings")
    assert rows["value"].tolist() == [1.62, 1.63, 1.61, 1.62, 1.64]  # as the instrument showed it


def test_a_check_that_is_due_again_is_told(treatment, monkeypatch):
    hold(monkeypatch, date(2025, 2, 1))
    panel = build_readings_panel(treatment)
    panel.fill({"readings": "1.62 1.63 1.61 1.62 1.64"})
    assert "It was due again on 2026-02-01: check it now." in panel._cautions.value


def test_without_a_check_nothing_is_said(treatment):
    panel = build_readings_panel(treatment)
    panel.fill({"readings": "1.62 1.63 1.61 1.62 1.64"})
    assert "Thickness, text block: 1.624 ±" in panel.answer
    assert "checked on" not in panel.answer
