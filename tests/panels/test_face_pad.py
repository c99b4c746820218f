"""Defects boxed by hand on the face of the item."""

import pytest

from bench.desk import open_treatment
from bench.handover.intake import known_findings
from bench.panels.defects import build_defects_panel
from bench.panels.face import FacePad
from tests.notebooks.every_item import ITEMS, Bench, describe

SIDES = ("x", "y", "width", "height")


@pytest.fixture
def treatment(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    return open_treatment("tin-orchard-annual-2")


def pad_of(panel):
    """Find the pad among the controls of a panel."""
    found = [panel.widget]
    while found:
        control = found.pop()
        if isinstance(control, FacePad):
            return control
        found += getattr(control, "children", ())
    raise AssertionError("the panel has no pad")


def test_a_box_drawn_on_the_face_stands_in_the_fields_in_the_operators_units(treatment):
    panel = build_defects_panel(treatment)
    pad = pad_of(panel)
    pad.drawn = [20.5, 30.0, 42.0, 7.5, 1]
    read = [panel.field(key).read(treatment.units).to("mm").magnitude for key in SIDES]
    assert read == pytest.approx([20.5, 30.0, 42.0, 7.5], abs=0.02)
    assert pad.box == pytest.approx([20.5, 30.0, 42.0, 7.5, 1], abs=0.02)
    assert pad.face["width"] == pytest.approx(treatment.item.width.to("mm").magnitude)


def test_a_listed_defect_is_moved_by_drawing_and_the_others_stay_in_sight(treatment):
    panel = build_defects_panel(treatment)
    listed = known_findings(treatment).defects
    panel.field("which").widget.value = listed[0].id
    pad = pad_of(panel)
    assert pad.box[0] == pytest.approx(listed[0].x.to("mm").magnitude, abs=0.02)
    assert listed[0].id not in [other["id"] for other in pad.others]
    pad.drawn = [1.0, 2.0, 3.0, 4.0, 1]
    panel.save()
    moved = next(d for d in known_findings(treatment).defects if d.id == listed[0].id)
    assert moved.x.to("mm").magnitude == pytest.approx(1.0, abs=0.02)
    assert moved.term == listed[0].term


def test_an_edge_is_shown_as_deep_as_it_may_be(treatment):
    panel = build_defects_panel(treatment)
    pad = pad_of(panel)
    panel.field("face").widget.value = "spine"
    assert pad.face["name"] == "Spine"
    assert pad.face["spine"] == ""
    assert pad.face["width"] < 20
    assert pad.box == []


def test_an_item_without_a_cover_offers_no_face_of_one(tmp_path):
    """A self-cover began on the outside of a front cover that it does not have, and nothing was drawn."""
    bench = Bench(tmp_path, "item", ITEMS["self-cover"].title)
    describe(bench, ITEMS["self-cover"])
    panel = build_defects_panel(bench.treatment)
    face, pad = panel.field("face").widget, pad_of(panel)
    assert not [name for name in face.options if "cover" in name]
    assert pad.face["name"] == "Leaf ?, recto"
    assert pad.face["width"] > 0
    pad.show(bench.treatment.item, "front cover, outside", "", None, ())
    assert pad.face == {}


def test_a_photograph_lies_beneath_the_face_and_one_that_cannot_be_read_does_not(treatment):
    panel = build_defects_panel(treatment)
    pad, beneath = pad_of(panel), panel.field("beneath").widget
    assert pad.photograph == ""
    assert len(beneath.options) > 1
    file = beneath.options[1][1]
    beneath.value = file
    assert pad.photograph.startswith("data:image/jpeg;base64,")
    panel.field("term").widget.value = "crease"
    panel.field("which").widget.value = "d1"
    assert pad.photograph.startswith("data:image/jpeg;base64,"), "it stays while defects are looked at"
    (treatment.record.folder / file).write_bytes(b"no picture")
    beneath.value = ""
    beneath.value = file
    assert pad.photograph == ""
    assert beneath.value == file
