"""The platen's own time to cool, as the press panel takes and keeps it."""

from datetime import date

import pytest

from bench.handover.weighing import press_used
from bench.panels.pressing import build_pressing_panel
from bench.physics.ranges import Range
from bench.treatment.measured import PLATEN_HALF_LIFE as PLATEN_HALF_LIFE_HERE
from bench.treatment.measured import PRESS, Accepted
from bench.treatment.plan import minutes
from bench.treatment.pressing.plan import PLATEN_HALF_LIFE, measured_half_life
from tests.panels.test_stage_panels import make, put, why

LABEL = "Platen loses half of its warmth in"


@pytest.fixture
def treatment(tmp_path):
    return make(tmp_path)


def test_an_empty_field_means_that_nobody_measured_it(treatment):
    panel = build_pressing_panel(treatment)
    assert panel.field("half_life").widget.value == ""
    assert "45 min (20 to 90), judgement" in panel.field("half_life").below.value
    assert panel.result.choices.half_life == PLATEN_HALF_LIFE


def test_a_measured_half_life_moves_the_schedule_and_is_kept(treatment):
    panel = build_pressing_panel(treatment)
    before = panel.result.heat.cooling
    put(panel, half_life="30")
    assert panel.result.choices.half_life == measured_half_life(minutes(30))
    assert panel.result.heat.cooling.value < before.value
    panel.save()
    again = build_pressing_panel(treatment)
    assert again.field("half_life").widget.value == "30"
    assert again.result.choices == panel.result.choices
    assert press_used(treatment, 1).half_life.value == minutes(30)


def test_a_press_measured_once_stays_measured_in_the_next_cycle(treatment):
    panel = build_pressing_panel(treatment)
    put(panel, half_life="30")
    panel.save()
    assert build_pressing_panel(treatment, cycle=2).field("half_life").widget.value == "30"


def test_a_half_life_that_a_trial_found_is_proposed_and_keeps_its_interval(treatment, monkeypatch):
    found = Range.of((38.04, 34, 42), "min")
    day = date(2026, 3, 2)
    here = (Accepted(PLATEN_HALF_LIFE_HERE, PRESS, found, day, day.replace(year=2027)),)
    monkeypatch.setattr("bench.handover.pressing.measured_here", lambda _: here)
    panel = build_pressing_panel(treatment)
    assert panel.field("half_life").widget.value == "38"
    assert panel.result.choices.half_life == found
    put(panel, night="15")
    assert panel.result.choices.half_life == found
    assert here[0].say() in [each.words for each in panel.result.assumptions]
    put(panel, half_life="30")
    assert panel.result.choices.half_life == measured_half_life(minutes(30))
    assert here[0].say() not in [each.words for each in panel.result.assumptions]


@pytest.mark.parametrize("entry", ["-1", "400", "soon"])
def test_a_half_life_that_no_press_has_is_told_beside_its_field(treatment, entry):
    panel = build_pressing_panel(treatment)
    put(panel, half_life=entry)
    assert not panel.can_save
    assert LABEL in why(panel, "half_life")


def test_an_item_beyond_what_is_known_of_paper_is_told_beside_its_field(treatment):
    panel = build_pressing_panel(treatment)
    put(panel, humidity="99.9")
    assert not panel.can_save
    assert "1 to 98 %" in why(panel, "humidity")
