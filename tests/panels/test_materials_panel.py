"""Lot and supplier of a material: brought back, corrected in its own row, named by the report."""

import re

import pytest

from bench.desk import open_treatment
from bench.panels.materials import build_materials_panel
from bench.records.check import check_treatment
from bench.records.faults import only_faults
from bench.writeup.collect import collect_report
from bench.writeup.markdown import render_markdown
from tests.notebooks.every_item import ITEMS, Bench, describe


@pytest.fixture
def treatment(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    return open_treatment("tin-orchard-annual-2")


def test_lot_and_supplier_are_saved_brought_back_and_named(treatment):
    panel = build_materials_panel(treatment)
    assert not panel.can_save
    assert "neither lot nor supplier is noted" in panel.answer
    assert re.search(r'class="say">[A-Z]', panel.answer), "a sentence begins with a capital"
    count = len(treatment.latest.rows("materials"))
    which = panel.field("which").widget
    name, number = next(option for option in which.options if option[0].startswith("interleaf"))
    which.value = number
    panel.field("lot").widget.value = "A 17"
    panel.field("supplier").widget.value = "Wick and Daughters"
    assert "lot A 17, from Wick and Daughters" in panel.answer
    assert "Saved 1 row to materials" in panel.save()
    rows = treatment.latest.rows("materials")
    assert len(rows) == count
    assert [(row["lot"], row["supplier"]) for row in rows if row["lot"] == row["lot"]] == [
        ("A 17", "Wick and Daughters")
    ]
    again = build_materials_panel(treatment)
    choice = again.field("which").widget
    choice.value = next(number for words, number in choice.options if words == name)
    assert again.field("lot").widget.value == "A 17"
    assert not again.can_save
    assert only_faults(check_treatment(treatment.record.folder)) == []
    report = collect_report(treatment.record, at=treatment.now(), by="M. Tallow", units=treatment.units)
    assert "lot A 17, from Wick and Daughters" in render_markdown(report)


def test_without_a_material_it_says_where_they_come_from(tmp_path):
    bench = Bench(tmp_path, "item", ITEMS["self-cover"].title)
    describe(bench, ITEMS["self-cover"])
    panel = build_materials_panel(bench.treatment)
    assert "No material is recorded yet" in panel.answer
    assert not panel.can_save
