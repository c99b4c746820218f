"""The platen's own time to cool, as the press panel takes and keeps it."""

import pytest

from bench.handover.weighing import press_used
from bench.panels.pressing import build_pressing_panel
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
