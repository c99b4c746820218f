"""What was entered is kept with the plan and stands there again; what was proposed follows its source."""

import pytest

from bench.desk import Treatment
from bench.panels.base import Panel, View
from bench.panels.buffering import build_buffering_panel
from bench.panels.fields import ChoiceField, NumberField, SegmentField, StepField, TextField, TickField
from bench.panels.humidity import build_humidity_panel
from bench.panels.pressing import build_pressing_panel
from bench.panels.weighing import build_weighing_panel
from bench.records.check import check_treatment
from bench.records.nouns import entered_of
from bench.treatment.entries import Entry
from bench.units import Q_, THOUSANDTHS
from tests.panels.test_stage_panels import make, put

pytestmark = pytest.mark.slow

NOTHING_NEW = "● Nothing new to save: the record already says so."


@pytest.fixture
def treatment(tmp_path):
    return make(tmp_path)


def show(panel, key):
    return panel.field(key).widget.value


def every_kind(entered=None):
    fields = [
        ChoiceField("choice", "Choice", [("one", 1), ("two", 2)], 1),
        SegmentField("segment", "Segment", [("on", True), ("off", False)], True),
        StepField("step", "Step", 3, 1, 5),
        TickField("tick", "Tick", False),
        TextField("text", "Text", "as it was"),
        NumberField("length", "Length", Q_(2, "mm"), "length"),
        NumberField("warmth", "Warmth", Q_(20, "degC"), "temperature"),
        NumberField("room", "Room", None, "percent", optional=True),
    ]
    return Panel(
        name="kinds", strip=["x"], fields=fields, work=lambda v, u: dict(v), show=lambda r, u: View(""),
        entered=entered or [],
    )  # fmt: skip


ENTRIES = {
    "choice": 2, "segment": False, "step": 4, "tick": True, "text": "else", "length": "3.5", "warmth": "25",
    "room": "45",
}  # fmt: skip


def test_only_what_differs_from_the_proposal_is_kept():
    panel = every_kind()
    assert panel.entries() == []
    put(panel, step=4)
    assert panel.entries() == [Entry("step", "Step", "4")]
    put(panel, step=3)
    assert panel.entries() == []


def test_every_kind_of_field_comes_back_as_it_was_entered():
    before = every_kind()
    put(before, **ENTRIES)
    after = every_kind(before.entries())
    assert after.entries() == before.entries()
    assert len(after.entries()) == len(ENTRIES)
    assert after.result == before.result
    assert "as saved; proposed: 3" in after.field("step").below.value
    assert "as saved; proposed: one" in after.field("choice").below.value
    assert "as saved; proposed: 2 mm" in after.field("length").below.value


def test_other_units_of_the_operator_change_nothing_that_is_kept():
    panel = every_kind()
    put(panel, length="3.5", warmth="25")
    kept = panel.entries()
    panel._units.choice = THOUSANDTHS
    assert panel.entries() == kept
    assert [entry.kept for entry in kept] == ["3.5 mm", "25 degC"]


@pytest.mark.parametrize(
    ("label", "kept"),
    [
        ("Choice", "3"),
        ("Segment", "maybe"),
        ("Step", "9"),
        ("Step", "many"),
        ("Tick", "perhaps"),
        ("Length", "long"),
        ("Length", "3 second"),
        ("Length", "3 parsnips"),
        ("Gone", "1"),
    ],
)
def test_what_cannot_be_entered_any_more_leaves_the_proposal(label, kept):
    panel = every_kind([Entry("", label, kept)])
    assert panel.result == every_kind().result
    assert all("as saved" not in entry.below.value for entry in panel._fields)


def test_a_field_left_empty_comes_back_empty(treatment):
    press = build_pressing_panel(treatment)
    put(press, platen="")
    press.save()
    again = build_pressing_panel(treatment)
    assert show(again, "platen") == ""
    assert again.result.heat is None


def test_a_saved_chamber_stands_there_again_and_saves_nothing_twice(treatment):
    panel = build_humidity_panel(treatment)
    put(panel, volume="60", area="450", hours=20, fan=True)
    assert "Saved" in panel.save()
    again = build_humidity_panel(Treatment(treatment.record, clock=treatment.now))
    assert [show(again, key) for key in ("volume", "area", "hours", "fan")] == ["60", "450", 20, True]
    assert again.answer == panel.answer
    assert again.save().startswith(NOTHING_NEW)
    assert check_treatment(treatment.record.folder) == []
    put(again, fan=False)
    again.save()
    assert show(build_humidity_panel(treatment), "fan") is False


def test_the_chamber_that_was_planned_is_that_in_which_is_weighed(treatment):
    panel = build_humidity_panel(treatment)
    put(panel, volume="60", faces="one")
    panel.save()
    weighing = build_weighing_panel(treatment)
    assert [show(weighing, key) for key in ("volume", "faces")] == ["60", "one"]


def test_the_chamber_itself_stays_for_the_next_cycle_and_the_hours_do_not(treatment):
    panel = build_humidity_panel(treatment)
    put(panel, volume="60", hours=20)
    panel.save()
    later = build_humidity_panel(treatment, cycle=2)
    assert (show(later, "volume"), show(later, "hours")) == ("60", 24)
    assert entered_of(treatment.record, "humidity", 2) == []


def test_what_the_chamber_hands_on_is_not_held_up_by_a_saved_press(treatment):
    """Only an entry of the operator's own stands against a new plan of the chamber."""
    build_humidity_panel(treatment).save()
    press = build_pressing_panel(treatment)
    put(press, night="16")
    press.save()
    before = show(press, "humidity")
    chamber = build_humidity_panel(treatment)
    put(chamber, hours=6)
    chamber.save()
    again = build_pressing_panel(treatment)
    assert (show(again, "night"), show(again, "humidity") != before) == ("16", True)
    put(again, humidity="80")
    again.save()
    put(chamber, hours=24)
    chamber.save()
    own = build_pressing_panel(treatment)
    assert show(own, "humidity") == "80"
    assert "as saved; proposed" in own.field("humidity").below.value


def test_boards_and_load_of_the_buffering_stand_there_again(treatment):
    panel = build_buffering_panel(treatment)
    put(panel, load_by="mass", load_number="14", shim="0.4")
    panel.save()
    again = build_buffering_panel(treatment)
    assert show(again, "shim") == "0.4"
    assert again.result.answer == panel.result.answer
    assert again.save().startswith(NOTHING_NEW)


@pytest.mark.parametrize(
    "kept", ["0 " + "1; 0 " * 900, "2 9**9**9", "5 mm**-99999", "5 mm; 1", "nan mm", "inf mm", "1 ("]
)
def test_a_kept_entry_that_is_no_number_with_a_unit_is_left_out(kept: str):
    """The library of units works out any sum: some take for ever, and a long one is too deep for it."""
    field = NumberField("length", "Length", Q_(2, "mm"), "length")
    field.put_back(kept)
    assert field.widget.value == "2"
