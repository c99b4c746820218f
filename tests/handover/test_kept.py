"""What stays from cycle to cycle is planned with before the next cycle has plans of its own."""

import pytest

from bench.handover.humidity import damp_item, usual_humidity
from bench.handover.kept import with_what_stays
from bench.handover.pressing import pressing_choices
from bench.handover.schedule import usual_steps
from bench.panels.buffering import build_buffering_panel
from bench.panels.humidity import build_humidity_panel
from bench.panels.pressing import build_pressing_panel
from bench.treatment.buffering.choices import PACKS, LoadPath
from bench.treatment.entries import Entry
from bench.treatment.humidity import HumidityChoices, Source
from bench.treatment.humidity.plan import GIVEN, with_asked_by_hand
from bench.units import Q_
from tests.panels.test_stage_panels import make, put


@pytest.fixture
def treatment(tmp_path):
    return make(tmp_path)


def test_press_and_clock_of_the_next_cycle_count_on_the_chamber_that_its_panel_shows(treatment):
    """The panel kept last cycle's salt while press and schedule took the usual one."""
    panel = build_humidity_panel(treatment)
    put(panel, source="potassium chloride", wanted="72", area="700")
    panel.save()
    shown = build_humidity_panel(treatment, cycle=2)
    put(shown, wanted="72")
    usual = usual_humidity(treatment, 2)
    assert shown.field("source").widget.value == usual.choices.salt == "potassium chloride"
    assert usual.choices.source_area == Q_(700, "cm^2")
    humidity, _ = damp_item(treatment, 2)
    assert humidity.value < Q_(86, "percent")
    (prepare, *_) = usual_steps(treatment, 2)["humidity"]
    assert "potassium chloride" in prepare.name


@pytest.mark.parametrize(
    ("entries", "source", "given"),
    [
        ({"source": "machine"}, Source.GIVEN, GIVEN),
        ({"source": "machine", "given": "90"}, Source.GIVEN, Q_(90, "percent")),
    ],
)
def test_a_source_that_is_no_salt_stays_too(treatment, entries, source, given):
    panel = build_humidity_panel(treatment)
    put(panel, wanted="80", **entries)
    panel.save()
    choices = usual_humidity(treatment, 2).choices
    assert (choices.source, choices.given_humidity) == (source, given)


def test_wet_felt_stays_as_it_was_entered():
    entered = [Entry("source", "Source", "water")]
    found = with_asked_by_hand(HumidityChoices(), entered)
    assert (found.source, found.given_humidity) == (Source.WATER, None)


def test_boards_and_room_of_the_press_stay_and_its_night_does_not(treatment):
    build_humidity_panel(treatment).save()
    panel = build_pressing_panel(treatment)
    put(panel, boards=3, room="24", night="16")
    panel.save()
    choices = with_what_stays(treatment, "pressing", 2, pressing_choices(treatment, 2))
    assert (choices.boards, choices.room_temperature, choices.night) == (3, Q_(24, "degC"), Q_(14, "hour"))


def test_boards_of_the_buffering_stay(treatment):
    panel = build_buffering_panel(treatment)
    softest = list(PACKS)[-1]
    put(panel, pack=softest, even=True)
    panel.save()
    path = with_what_stays(treatment, "buffering", 2, LoadPath())
    assert (path.pack, path.even) == (softest, True)
