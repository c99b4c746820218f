"""What every panel promises: answer first, refuse beside the field, write only by Save."""

import re

import pytest

from bench.desk import open_treatment
from bench.errors import BenchError, RecordError
from bench.panels.base import Panel, View
from bench.panels.buffering import build_buffering_panel
from bench.panels.fields import NumberField
from bench.panels.pressing import build_pressing_panel
from bench.treatment import facts
from bench.units import MILLIMETRES, Q_, THOUSANDTHS
from bench.writeup.blocks import Text
from bench.writeup.collect import collect_report

pytestmark = pytest.mark.slow


@pytest.fixture
def treatment(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    return open_treatment("tin-orchard-annual-2")


@pytest.fixture
def panel(treatment):
    return build_buffering_panel(treatment, cycle=1)


def put(panel, key, value):
    panel.field(key).widget.value = value


def test_the_answer_comes_in_words_before_the_picture(panel):
    assert panel.answer.index("Put in") < panel.answer.index('class="picture"')


def test_the_words_do_not_wait_for_the_pictures():
    """When the first part is drawn the new words stand already, and the old picture is there until then."""
    seen = []

    def show(result, units):
        def parts():
            seen.append(panel.answer if built else "")
            yield f"picture of {result}"

        return View(lead=f"words on {result}. ", parts=parts())

    built = False
    field = NumberField("mass", "Mass", Q_(1, "kg"), "kg")
    panel = Panel(name="quick", strip=["x"], fields=[field], work=lambda v, u: v["mass"].magnitude, show=show)
    built = True
    assert panel.answer == "words on 1.0. picture of 1.0"
    put(panel, "mass", "2")
    assert seen[-1] == "words on 2.0. picture of 1.0"
    assert panel.answer == "words on 2.0. picture of 2.0"


def test_a_moved_control_changes_the_answer_and_writes_nothing(panel, treatment):
    before, rows = panel.answer, len(treatment.record.all_rows("plans"))
    put(panel, "interval", 9)
    assert panel.answer != before
    assert "every 7 or 8 leaves" in panel.answer  # 38 leaves in the five groups that 9 at most ask for
    assert len(treatment.record.all_rows("plans")) == rows


@pytest.mark.parametrize("entry", ["-3", "4,41", "twelve", "1e9", "", "5 mm"])
def test_a_bad_entry_disables_save_with_the_reason_beside_the_field(panel, entry):
    put(panel, "load_by", "mass")
    put(panel, "load_number", "12")
    assert panel.can_save
    put(panel, "load_number", entry)
    assert not panel.can_save
    assert "Mass on top" in panel.field("load_number").below.value
    put(panel, "load_number", "12")
    assert panel.can_save
    assert "why" not in panel.field("load_number").below.value


def test_save_writes_what_the_panel_shows(panel, treatment):
    put(panel, "interval", 5)
    panel.save()
    assert "Saved" in panel.status
    rows = treatment.record.read("plans")
    saved = rows[(rows["plan"] == "buffering-1") & (rows["quantity"] == "leaves between sheets")]
    assert saved["value"].tolist() == [5]
    slip = treatment.record.folder / "bench-slip-1.html"
    assert "after leaf 5" in slip.read_text(encoding="utf-8")


def test_save_twice_writes_once(panel, treatment):
    panel.save()
    rows = len(treatment.record.all_rows("plans"))
    panel.save()
    assert "Nothing new to save" in panel.status
    assert len(treatment.record.all_rows("plans")) == rows


def test_a_save_that_fails_says_so_and_loses_nothing(panel, treatment, monkeypatch):
    rows = len(treatment.record.all_rows("plans"))
    put(panel, "interval", 11)

    def fail(*_, **__):
        raise RecordError([])

    monkeypatch.setattr(type(treatment.record), "save", fail)
    panel.save()
    assert "Nothing was saved" in panel.status
    monkeypatch.undo()
    assert len(treatment.record.all_rows("plans")) == rows


def test_two_panels_on_one_treatment_do_not_lose_each_others_rows(treatment):
    from bench.desk import Treatment
    from bench.records.store import open_record

    other = Treatment(open_record(treatment.record.folder))
    first, second = build_buffering_panel(treatment, cycle=1), build_buffering_panel(other, cycle=2)
    put(first, "interval", 7)
    put(second, "interval", 9)
    first.save()
    second.save()
    assert "another window saved the buffering plan of cycle 1" in second.status
    plans = set(treatment.record.read("plans")["plan"])
    assert {"buffering-1", "buffering-2"} <= plans


def test_the_unit_switch_changes_words_and_keeps_the_numbers(panel, treatment):
    treatment.switch.choice = THOUSANDTHS
    chance = panel.result.chosen.chance
    assert "thou above" in panel.answer
    treatment.switch.choice = MILLIMETRES
    assert "mm above" in panel.answer
    assert panel.result.chosen.chance == chance


def test_units_are_saved_only_by_save(panel, treatment):
    treatment.switch.choice = MILLIMETRES
    assert treatment.record.read("treatment").iloc[-1]["length_unit"] == "thou"
    panel.save()
    assert treatment.record.read("treatment").iloc[-1]["length_unit"] == "mm"


def test_a_number_field_follows_the_unit_and_keeps_its_value():
    field = NumberField("x", "Thickness", Q_(4.4, "mm"), "thickness")
    assert (field.widget.description, field.widget.value) == ("Thickness, mm", "4.4")
    field.show_in(THOUSANDTHS)
    assert field.widget.description == "Thickness, thou"
    assert float(field.widget.value) == pytest.approx(173.23, abs=0.05)
    assert field.read(THOUSANDTHS).to("mm").magnitude == pytest.approx(4.4, abs=1e-12)  # not the rounded text


@pytest.mark.parametrize(
    ("entry", "millimetres"), [("4.4 mm", 4.4), ("173.5 thou", 4.4069), ("0.2 in", 5.08), ("4.4", 4.4)]
)
def test_a_number_may_bring_its_own_unit(entry, millimetres):
    """An inch is 25.4 mm by definition."""
    field = NumberField("x", "Thickness", None, "thickness")
    field.widget.value = entry
    assert field.read(MILLIMETRES).to("mm").magnitude == pytest.approx(millimetres, abs=1e-9)


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ("4,41", "with a comma; allowed is a number of mm. Write 4.41, with a decimal point."),
        ("1,234", "Write 1.234, with a decimal point, or 1234 without a comma."),
        ("4.4 g", "allowed is a value in thou, pt, in, mm, cm, µm"),
        ("about 4", "Write it like 4.41, with a decimal point"),
    ],
)
def test_a_number_that_cannot_be_read_is_told_with_what_to_type(entry, words):
    field = NumberField("x", "Thickness", None, "thickness")
    field.widget.value = entry
    with pytest.raises(BenchError, match=re.escape(words)):
        field.read(MILLIMETRES)


def test_a_panel_speaks_its_answer_to_those_who_see_no_widget(panel):
    assert "Put in" in panel._repr_mimebundle_()["text/plain"]


def test_a_load_known_by_the_gauge_of_a_ram(panel):
    """By hand: 1.4 bar on 10 cm² is 140 N; on the page of 170 × 258 mm that is 3.2 kPa."""
    put(panel, "load_by", "gauge")
    put(panel, "load_number", "1.4")
    assert "Area of the ram" in panel.field("ram_area").below.value
    assert not panel.can_save
    put(panel, "ram_area", "10")
    assert "3.19 kPa" in panel.answer
    assert panel.can_save


def test_the_pressure_stands_before_the_spacings_and_these_before_thickness_alone(panel):
    shown = panel.answer
    order = [
        shown.index(words)
        for words in ('class="picture"', "<th>chance of loading", "<summary>By thickness alone")
    ]
    assert order == sorted(order)
    assert "not pressed" in shown
    assert panel.result.decision.recommended == 6


def test_sheets_thicker_than_the_gap_are_refused_beside_the_gap(panel):
    put(panel, "gap", "8")
    assert not panel.can_save
    assert "more than the sheets alone" in panel.field("gap").below.value
    put(panel, "gap", "")
    assert panel.can_save


def test_the_same_choices_give_the_same_numbers_again(panel):
    before = panel.answer
    put(panel, "load_word", "firm")
    put(panel, "interval", 3)
    assert panel.result.loads[0].intervals == (3,)
    put(panel, "load_word", "medium")
    put(panel, "interval", 6)
    assert panel.answer == before


def test_loose_weights_stop_the_plan_that_a_level_platen_allows(panel):
    assert panel.result.verdict.value == "go on"
    put(panel, "even", True)
    assert panel.result.verdict.value == "stop"
    assert "spine" in panel.result.because


def test_a_record_spoilt_meanwhile_is_never_saved_from_a_stale_answer(treatment):
    """What was shown before the fault is not what the fields say now."""
    from bench.panels.defects import build_defects_panel

    panel = build_defects_panel(treatment)
    put(panel, "term", "puncture")
    for side in ("x", "y", "width", "height"):
        put(panel, side, "0.5")
    table = treatment.record.folder / "defects.csv"
    sound = table.read_bytes()
    table.write_bytes(sound.replace(b",", b";"))
    put(panel, "term", "tear")
    if panel.can_save:  # the answer did not need the table: then Save itself refuses
        panel._on_save(None)
        assert "Nothing was saved" in panel.status
    table.write_bytes(sound)
    put(panel, "severity", 2)
    assert "d8, tear" in panel.answer


def test_a_balanced_plan_is_chosen_saved_shown_again_and_handed_on(panel, treatment):
    counts = {load.sheets.count for load in panel.result.loads if load.intervals}
    between = next(n for n in range(min(counts), max(counts)) if n not in counts)
    put(panel, "sheets", str(between))
    assert panel.can_save
    assert f"Put in {between} sheets" in panel.answer
    assert "by number <em>(chosen)</em>" in panel.answer
    panel.save()
    slip = (treatment.record.folder / "bench-slip-1.html").read_text(encoding="utf-8")
    assert slip.count('class="box"') == between
    again = build_buffering_panel(treatment, cycle=1)
    assert again.field("sheets").widget.value == str(between)
    assert again.result.decision.chosen.sheets.count == between
    press = build_pressing_panel(treatment, cycle=1)
    assert press.result.interleaves == between
    put(press, "interval", 12)
    assert press.result.interleaves < between
    report = collect_report(treatment.record, at=treatment.now(), by="M. Tallow")
    words = [block.words for block in report.section("plan").blocks if isinstance(block, Text)]
    assert any(w.startswith("Places of the sheets") and w.count("leaf") == between - 2 for w in words)


@pytest.mark.parametrize(
    ("entry", "words"), [("4.5", "a whole number"), ("99", "from 2 to 38"), ("1", "2 to 38")]
)
def test_a_number_of_sheets_that_cannot_be_is_told_beside_its_field(panel, entry, words):
    put(panel, "sheets", entry)
    assert not panel.can_save
    assert words in panel.field("sheets").below.value
    put(panel, "sheets", "")
    assert panel.can_save


def test_a_press_set_by_height_asks_for_the_room_and_hands_its_load_on(panel, treatment):
    put(panel, "load_by", "height")
    assert not panel.can_save
    assert "gap of the press is empty" in panel.field("gap").below.value
    put(panel, "gap", "215")
    assert panel.can_save
    assert "the press set by height" in panel.answer
    panel.save()
    planned = panel.result.value(facts.LOAD)
    press = build_pressing_panel(treatment, cycle=1)
    assert press.field("load_by").widget.value == "planned"
    handed_on = press.result.choices.load
    assert handed_on.value.magnitude == pytest.approx(planned.value.magnitude, rel=1e-3)
    assert handed_on.high.magnitude == pytest.approx(planned.high.to("kPa").magnitude, rel=1e-3)


def test_a_load_named_by_a_word_is_handed_on_to_the_press(panel, treatment):
    put(panel, "load_word", "light")
    panel.save()
    press = build_pressing_panel(treatment, cycle=1)
    assert press.field("load_word").widget.value == "light"
    assert "a light load" in press.answer
    assert build_buffering_panel(treatment, cycle=1).field("load_word").widget.value == "light"


@pytest.mark.parametrize(
    ("entries", "key", "words"),
    [
        ({"load_by": "mass"}, "load_number", "is empty; allowed is a number of kg above zero"),
        ({"load_by": "mass", "load_number": "0"}, "load_number", "Without a load there is no pressing"),
        ({"gap": "20"}, "gap", "more than the sheets alone"),
        ({"gap": "0"}, "gap", "Gap of the press is 0 thou; allowed is"),
        ({"gap": "-3"}, "gap", "Gap of the press is -3 thou"),
        ({"outside": "150"}, "outside", "by is 150 mm; allowed is 0 to 85 mm"),
        ({"shim": "40", "shim_width": ""}, "shim_width", "is empty"),
    ],
)
def test_what_cannot_be_pressed_is_told_beside_its_field(panel, entries, key, words):
    for name, entry in entries.items():
        put(panel, name, entry)
    assert not panel.can_save
    assert words in panel.field(key).below.value
    assert "Nothing can be saved until then" in panel.status


def test_the_chapter_beneath_works_on_what_the_panel_shows(panel):
    assert panel.plan() is panel.result
    put(panel, "load_by", "mass")
    put(panel, "load_number", "twelve")
    with pytest.raises(BenchError, match=r"^The panel above is still without an answer. It says: Waiting"):
        panel.plan()
