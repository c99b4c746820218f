"""Whatever goes wrong in a panel, nothing old is saved: Save is off, and a sentence says so."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from bench import trouble
from bench.errors import BadValue, BenchError
from bench.panels.base import Panel, View
from bench.panels.fields import CountField, NumberField, TextField
from bench.units import Q_, parse_quantity, read_count


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "deep" / "trouble.log"
    monkeypatch.setattr(trouble, "trouble_file", lambda: path)
    return path


def make(work: Any = None, save: Any = None, show: Any = None) -> SimpleNamespace:
    saved: list[Any] = []
    panel = Panel(
        name="try",
        strip=["try"],
        fields=[CountField("sheets", "Sheets", "8", needed="Count them"), TextField("note", "Note", "")],
        work=work or (lambda values, units: dict(values)),
        show=show or (lambda result, units: View("<p class='say'>fine</p>")),
        save=save or (lambda result, values: saved.append(result["sheets"]) or "written"),
    )
    return SimpleNamespace(panel=panel, saved=saved)


@pytest.mark.parametrize("text", ["40²", "①", "٤٠", "4 0", "-4", "4.0", "0", "9" * 5000, "1e3", "0x10"])
def test_a_count_that_is_none_is_refused_beside_its_field(text: str):
    """Python takes ² and ① for digits and cannot read them, nor more than 4,300 digits."""
    made = make()
    made.panel.field("sheets").widget.value = text
    assert not made.panel.can_save
    assert "allowed is a whole number, 1 or more" in made.panel.field("sheets").below.value
    assert len(made.panel.field("sheets").below.value) < 300
    with pytest.raises(BadValue):
        made.panel.save()
    assert made.saved == []


@pytest.mark.parametrize("text", ["²", "1" * 400, "1e999", "٣ mm", "1/" + "9" * 5000 + " in", "nan mm"])
def test_a_quantity_that_is_none_is_one_sentence(text: str):
    with pytest.raises(BenchError, match=r"width is .{1,60}; allowed is"):
        parse_quantity(text, field="width", dimension="[length]")


def test_a_count_is_read():
    assert read_count(" 040 ", field="sheets", low=0, remedy="Count them") == 40


def test_an_unexpected_error_of_the_work_turns_save_off_and_is_written_down(log: Path):
    def work(values: Any, units: Any) -> Any:
        if values["note"] == "boom":
            raise ZeroDivisionError("a fault of the workbook")
        return dict(values)

    made = make(work)
    assert made.panel.can_save
    with pytest.raises(ZeroDivisionError):
        made.panel.field("note").widget.value = "boom"
    assert not made.panel.can_save
    assert "the workbook has a fault here" in made.panel.answer
    assert str(log) in made.panel.answer
    text = log.read_text()
    assert "panel try" in text
    assert "ZeroDivisionError: a fault of the workbook" in text
    made.panel.field("note").widget.value = "calm"
    assert made.panel.can_save


def test_an_unexpected_error_while_an_answer_is_shown_turns_save_off_too(log: Path):
    """It was worked out, but nobody could look at it."""

    def show(result: Any, units: Any) -> View:
        if result["note"] == "boom":
            raise ZeroDivisionError("a fault of the picture")
        return View("")

    made = make(show=show)
    with pytest.raises(ZeroDivisionError):
        made.panel.field("note").widget.value = "boom"
    assert not made.panel.can_save
    made.panel._on_save(None)
    assert made.saved == []
    assert "a fault of the picture" in log.read_text()


def test_an_unexpected_error_while_a_field_is_read_turns_save_off_too(log: Path):
    made = make()

    def read(units: Any) -> Any:
        raise ValueError("a field that breaks")

    made.panel.field("note").read = read
    with pytest.raises(ValueError, match="breaks"):
        made.panel.field("sheets").widget.value = "9"
    assert not made.panel.can_save
    made.panel._on_save(None)
    assert made.saved == []
    assert "a field that breaks" in log.read_text()


def test_an_unexpected_error_of_a_save_asks_to_look_at_the_record(log: Path):
    def save(result: Any, values: Any) -> str:
        raise KeyError("gone")

    made = make(save=save)
    with pytest.raises(KeyError):
        made.panel.save()
    assert "look at the record before you save again" in made.panel.status
    assert not made.panel.can_save
    assert "saving in panel try" in log.read_text()


def test_a_log_that_cannot_be_written_is_no_second_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setattr(trouble, "trouble_file", lambda: tmp_path / "file" / "trouble.log")
    assert "could not be written down" in trouble.write_down(ValueError("x"), "a try")


def test_a_field_with_a_number_takes_what_was_entered_and_nothing_else():
    entry = NumberField("width", "Width", Q_(10, "mm"), "length")
    entry.widget.value = "12²"
    with pytest.raises(BenchError):
        entry.read(entry._units)
