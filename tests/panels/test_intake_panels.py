"""The panels of intake: what they answer, what they refuse, what Save writes."""

from datetime import datetime, timedelta, timezone

import ipywidgets as widgets
import pytest

from bench.desk import Treatment, open_treatment
from bench.figures.marks import Words
from bench.handover.intake import conditions_of, intake_of, known_findings
from bench.panels.chart import ChartView
from bench.panels.defects import build_defects_panel
from bench.panels.intake import build_intake_panel, build_tests_panel
from bench.panels.item import build_item_panel
from bench.panels.readings import build_readings_panel
from bench.records.check import check_treatment
from bench.records.nouns import measured_at, treatment_row
from bench.records.store import create_treatment, open_record
from bench.treatment.conditions import Kind
from bench.treatment.intake import Decision
from bench.treatment.intake.consent import PERMANENT_CHANGES
from bench.treatment.intake.gate_list import GATES
from bench.treatment.intake.rows import ticked_gates
from bench.treatment.intake.spot_tests import Result
from bench.treatment.recorded import count_consented
from bench.units import MILLIMETRES, THOUSANDTHS

pytestmark = pytest.mark.slow

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=timezone(timedelta(hours=1)))
FINAL = {gate.id for gate in GATES if gate.final}
REASON = "Seen under the loupe with the owner, and dry for years"


@pytest.fixture
def treatment(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    return open_treatment("tin-orchard-annual-2")


@pytest.fixture
def new_treatment(tmp_path):
    description = {
        "title": "Saltmarsh Signal, no. 31",
        "conservator": "P. Quill",
        "length_unit": "mm",
        "temperature_unit": "degC",
    }
    rows = {"treatment": [description]}
    return Treatment(create_treatment(tmp_path, "saltmarsh-signal-31", rows, by="P. Quill", at=NOON))


def put(panel, **entries):
    panel.fill(entries)


def why(panel, key):
    return panel.field(key).below.value


def is_shown(panel, key):
    return panel.field(key).box.layout.display != "none"


def strip(panel):
    return panel.widget.children[1].children[0].value


def is_labelled(panel, words):
    """Tell whether a heading between the fields is in sight."""
    labels = [box for box in panel.widget.children[2].children[0].children if isinstance(box, widgets.HTML)]
    return any(words in label.value and label.layout.display != "none" for label in labels)


def save(panel):
    panel._on_save(None)
    return panel.status


def describe(panel):
    put(panel, format="saddle-stitched", count="32", counted_as="pages", width="168", height="257")
    put(panel, glue="none", upper_head="60", lower_head="195")


def open_gates(panel):
    put(panel, **{gate.id: gate.findings[0].key for gate in ticked_gates()})


def agree(panel):
    put(panel, given_by="E. Fenwright", in_writing=True)
    put(panel, **{f"explained_{name}": True for name in PERMANENT_CHANGES})


class TestItem:
    def test_a_recorded_item_stands_in_the_fields_and_saves_nothing_new(self, treatment):
        assert "Nothing new to save" in save(build_item_panel(treatment))

    def test_it_does_not_drift_when_units_change(self, treatment):
        panel = build_item_panel(treatment)
        before = panel.result.row
        treatment.switch.choice = THOUSANDTHS
        assert {**panel.result.row, "length_unit": "", "temperature_unit": ""} == {
            **before,
            "length_unit": "",
            "temperature_unit": "",
        }

    def test_pages_or_leaves_is_asked_and_never_assumed(self, new_treatment):
        panel = build_item_panel(new_treatment)
        put(panel, count="36", width="168", height="257")
        assert not panel.can_save
        assert "Say which was counted: a leaf is two pages" in why(panel, "counted_as")
        put(panel, counted_as="pages")
        assert panel.result.item.leaves == 18
        put(panel, counted_as="leaves")
        assert panel.result.item.leaves == 36

    def test_an_odd_count_of_pages_is_refused_beside_the_count(self, treatment):
        panel = build_item_panel(treatment)
        put(panel, count="75")
        assert not panel.can_save
        assert "Count is 75 pages; allowed is an even number" in why(panel, "count")

    def test_a_count_that_does_not_fit_the_thickness_says_what_it_likely_means(self, treatment):
        panel = build_item_panel(treatment)
        put(panel, count="76", counted_as="leaves")
        assert "likely pages were counted as leaves" in panel.answer
        assert "▲ Go on with care" in panel.answer

    def test_a_self_cover_is_not_asked_about_the_paper_of_its_cover(self, new_treatment):
        panel = build_item_panel(new_treatment)
        assert is_shown(panel, "cover_paper")
        put(panel, cover_leaves=0)
        assert not is_shown(panel, "cover_paper")
        assert not is_shown(panel, "cover_coated")

    def test_a_new_item_is_described_and_can_then_be_used(self, new_treatment):
        panel = build_item_panel(new_treatment)
        describe(panel)
        assert "16 leaves (32 pages) and a cover" in panel.answer
        assert "Saved" in save(panel)
        item = new_treatment.item
        assert (item.leaves, [s.name for s in item.staples]) == (16, ["upper", "lower"])
        assert check_treatment(new_treatment.record.folder) == []

    def test_a_single_sheet_has_no_cover(self, new_treatment):
        panel = build_item_panel(new_treatment)
        put(panel, format="single or folded sheet", count="1", counted_as="leaves", width="251", height="397")
        assert not is_shown(panel, "cover_leaves")
        assert not is_shown(panel, "cover_paper")
        assert panel.result.item.cover_leaves == 0
        assert "1 leaf (2 pages), single or folded sheet" in panel.answer

    def test_an_empty_count_asks_for_a_number(self, new_treatment):
        assert "Count is empty; allowed is a whole number" in why(build_item_panel(new_treatment), "count")

    def test_every_panel_says_what_the_item_is_as_soon_as_it_is_described(self, new_treatment):
        panels = [build_readings_panel(new_treatment), build_intake_panel(new_treatment)]
        assert all("not described yet" in strip(panel) for panel in panels)
        assert why(panels[1], "explained_size") == '<span class="hint"></span>'
        describe(item := build_item_panel(new_treatment))
        save(item)
        assert all("saddle-stitched, 16 leaves, 2 staples" in strip(panel) for panel in [item, *panels])
        assert "a leaf usually ends" in why(panels[1], "explained_size")

    def test_a_staple_below_the_page_is_refused_beside_its_place(self, treatment):
        panel = build_item_panel(treatment)
        put(panel, upper_head="20")  # inches, as the sample reads
        assert not panel.can_save
        assert "upper staple from head is 20 in" in why(panel, "upper_head")

    def test_staples_are_hidden_where_a_format_has_none(self, new_treatment):
        panel = build_item_panel(new_treatment)
        describe(panel)
        assert is_shown(panel, "upper_head")
        assert is_shown(panel, "middle_head")
        put(panel, upper_head="", lower_head="", format="square-bound, glued")
        assert not is_shown(panel, "upper_head")


BEFORE = "2026-03-02 08:10"  # the sample has been through the chamber since


class TestReadings:
    def test_several_readings_become_a_value_and_are_saved_one_a_row(self, new_treatment):
        describe(item := build_item_panel(new_treatment))
        save(item)
        panel = build_readings_panel(new_treatment)
        put(panel, readings="1.62 1.63 1.61; 1.62 1.64")
        assert "Thickness, text block: 1.624 ±" in panel.answer
        assert "Writes 5 rows" in panel.status
        save(panel)
        rows = new_treatment.record.read("readings")
        assert rows["value"].tolist() == [1.62, 1.63, 1.61, 1.62, 1.64]
        assert rows["replicate"].tolist() == [1, 2, 3, 4, 5]
        assert new_treatment.thicknesses().text_block.value.to("mm").magnitude == pytest.approx(1.624)
        assert check_treatment(new_treatment.record.folder) == []

    def test_pressing_save_twice_adds_the_readings_once(self, treatment):
        panel = build_readings_panel(treatment)
        before = len(treatment.record.all_rows("readings"))
        put(panel, readings="181.5 181", taken=BEFORE)
        save(panel)
        assert panel.field("readings").widget.value == ""
        assert "n = 7" in panel.answer
        save(panel)
        assert len(treatment.record.all_rows("readings")) == before + 2

    @pytest.mark.parametrize("entry", ["1,62 1,63", "about 2", "-1.6", "0", "4400"])
    def test_what_nobody_could_have_read_is_refused(self, treatment, entry):
        panel = build_readings_panel(treatment)
        put(panel, readings=entry)
        assert not panel.can_save
        assert "Readings is" in why(panel, "readings")

    def test_replacing_needs_as_many_readings_as_before_and_keeps_the_old_in_the_history(self, treatment):
        panel = build_readings_panel(treatment)
        put(panel, mode="instead", readings="182 182", taken=BEFORE)
        assert "at least 5, as many as they replace" in why(panel, "readings")
        put(panel, readings="182 182 182.5 181.5 182")
        before = len(treatment.record.all_rows("readings"))
        save(panel)
        assert len(treatment.record.all_rows("readings")) == before + 5
        assert treatment.thicknesses().text_block.value.to("thou").magnitude == pytest.approx(182)

    def test_a_place_that_was_not_read_says_so_and_saves_nothing(self, treatment):
        panel = build_readings_panel(treatment)
        put(panel, place="head edge")
        assert "Thickness, head edge: not read yet." in panel.answer
        assert not panel.can_save

    def test_a_mass_belongs_to_the_whole_item(self, treatment):
        panel = build_readings_panel(treatment)
        put(panel, quantity="mass", place="text block", readings="104.18 104.21", taken=BEFORE)
        assert "Mass of the whole item" in panel.answer
        save(panel)
        assert treatment.record.read("readings")["place"].iloc[-1] == "whole item"

    def test_what_review_will_need_is_asked_for_at_intake(self, new_treatment):
        describe(item := build_item_panel(new_treatment))
        save(item)
        panel = build_readings_panel(new_treatment)
        staples = "upper staple, lower staple"
        assert f"Still to be read: thickness (text block, {staples}, spine edge)" in panel.answer
        assert "width (front cover, leaf 10), height (front cover, leaf 10) and mass." in panel.answer
        put(panel, quantity="width", place="leaf 10", readings="168.0 168.1 167.9")
        save(panel)
        assert "width (front cover), height (front cover, leaf 10)" in panel.answer
        assert "steel rule and loupe" in new_treatment.record.read("readings")["instrument"].tolist()

    def test_a_sample_that_was_read_whole_asks_for_nothing_more(self, treatment):
        panel = build_readings_panel(treatment)
        assert "All that the plans and the review need has been read" in panel.answer

    def test_review_asks_for_the_same_places_again(self, treatment):
        panel = build_readings_panel(treatment, stage="review", cycle=9)
        assert "width (front cover, back cover, leaf 10)" in panel.answer

    def test_a_mass_is_read_on_a_balance(self, treatment):
        panel = build_readings_panel(treatment)
        assert not is_shown(panel, "limit_g")
        put(panel, quantity="mass")
        assert panel.field("instrument").widget.value == "balance"
        assert "caliper" not in panel.field("instrument").widget.options
        assert is_shown(panel, "limit_g")
        assert not any(is_shown(panel, key) for key in ("place", "limit", "step", "force", "foot"))
        put(panel, readings="104.3", taken=BEFORE)
        save(panel)
        row = treatment.record.read("readings").iloc[-1]
        assert (row["instrument"], row["unit"]) == ("balance", "g")
        assert (row["limit"], row["resolution"]) == (0.02, 0.01)

    @pytest.mark.parametrize(
        ("entries", "least"),
        [
            ({"quantity": "mass", "readings": "82.4"}, 0.02),
            ({"quantity": "width", "place": "front cover", "readings": "168"}, 0.1),
            ({"quantity": "thickness", "readings": "1.62"}, 0.02),
            ({"quantity": "thickness", "readings": "1.62 1.63 1.61"}, 0.02),
        ],
    )
    def test_what_a_reading_is_worth_is_the_same_before_and_after_save(self, new_treatment, entries, least):
        """One reading of a known instrument: at least what its maker allows, and one answer.

        Limits of 0.02 g make 0.0115 g standard (GUM 4.3.7), a step of 0.01 g makes 0.0029 g (F.2.2.1); with
        a step of scatter, 1.96 times their root sum is 0.0305 g.
        """
        describe(item := build_item_panel(new_treatment))
        save(item)
        panel = build_readings_panel(new_treatment)
        put(panel, **entries)
        before = panel.result.measured
        save(panel)
        read = measured_at(new_treatment.record, entries["quantity"], stage="intake", cycle=0)
        after = read[panel.result.place]
        assert str(before.expanded()) == str(after.expanded())
        assert str(before.value) == str(after.value)
        assert float(after.expanded().magnitude) > least
        if entries["quantity"] == "mass":
            assert after.expanded().to("g").magnitude == pytest.approx(0.0305, abs=0.0001)

    def test_a_leaf_that_the_item_does_not_have_is_refused_beside_its_number(self, treatment):
        panel = build_readings_panel(treatment)
        put(panel, quantity="width", place="another leaf", readings="6.69", taken=BEFORE)
        assert not panel.can_save
        put(panel, leaf="39")
        assert "Number of the leaf is 39; allowed is 1 to 38" in why(panel, "leaf")
        put(panel, leaf="20")
        assert "Width, leaf 20" in panel.answer

    def test_staples_that_are_described_later_can_be_read_over(self, new_treatment):
        panel = build_readings_panel(new_treatment)
        assert "upper staple" not in panel.field("place").widget.options
        describe(item := build_item_panel(new_treatment))
        save(item)
        assert "upper staple" in panel.field("place").widget.options
        assert "Still to be read: thickness (text block, upper staple" in panel.answer

    def test_the_mass_has_one_home(self, new_treatment):
        describe(item := build_item_panel(new_treatment))
        save(item)
        panel = build_readings_panel(new_treatment)
        put(panel, quantity="mass", readings="48.3")
        save(panel)
        assert new_treatment.item.mass.to("g").magnitude == pytest.approx(48.3)
        assert "48.3 g" in build_item_panel(new_treatment).answer
        assert "mass_g" not in treatment_row(new_treatment.record)

    def test_a_mass_that_an_older_record_described_counts_as_read(self, tmp_path):
        described = {
            "title": "Saltmarsh Signal, no. 31",
            "conservator": "P. Quill",
            "format": "saddle-stitched",
            "width_mm": 168,
            "height_mm": 257,
            "count": 16,
            "counted_as": "leaves",
            "mass_g": 47.6,
            "length_unit": "mm",
            "temperature_unit": "degC",
        }
        old = Treatment(create_treatment(tmp_path, "old", {"treatment": [described]}, by="P. Quill", at=NOON))
        panel = build_readings_panel(old)
        assert "47.60" in panel.answer
        assert "height (front cover, leaf 10)." in panel.answer  # and no word of the mass
        assert old.item.mass.to("g").magnitude == 47.6
        put(panel, quantity="mass", readings="47.9")
        save(panel)
        assert old.item.mass.to("g").magnitude == pytest.approx(47.9)
        assert "47.60" not in panel.answer


class TestDefects:
    def test_defects_are_saved_one_by_one_and_mended_under_the_same_id(self, treatment):
        panel = build_defects_panel(treatment)
        assert not panel.can_save  # a new one is empty, never an example
        put(panel, term="tear", severity=3)
        assert "from the left edge, from the head, width of the box" in panel.status
        put(panel, **BOX)
        known = len(known_findings(treatment).defects)
        save(panel)
        assert "Saved 1 row to defects" in save_another(panel, "cockled", 2)
        found = known_findings(treatment).defects
        assert len(found) == known + 2
        put(panel, which=found[known].id)
        assert panel.field("term").widget.value == "tear"
        put(panel, severity=2)
        save(panel)
        assert [d.severity for d in known_findings(treatment).defects][known] == 2
        assert len(known_findings(treatment).defects) == known + 2

    def test_a_defect_outside_its_page_cannot_be_saved(self, treatment):
        panel = build_defects_panel(treatment)
        put(panel, term="tear", **{**BOX, "x": "6.5"})  # inches, as the sample reads
        assert not panel.can_save
        assert "at its far edge" in panel.field("x").below.value

    @pytest.mark.drawn
    def test_the_map_shows_the_one_in_the_fields(self, treatment):
        panel = build_defects_panel(treatment)
        put(panel, term="dog-ear", **BOX)
        (chart,) = panel.charts
        assert any(isinstance(part, Words) and "dog-ear" in part.words for part in chart.parts)

    @pytest.mark.drawn
    def test_a_click_on_the_map_brings_a_defect_back(self, treatment):
        panel = build_defects_panel(treatment)
        second = known_findings(treatment).defects[1]
        (view,) = (part for part in panel._parts.box.children if isinstance(part, ChartView))
        view.picked = [second.id, 1]
        assert panel.field("which").widget.value == second.id
        assert panel.field("term").widget.value == second.term

    def test_without_an_item_it_says_what_to_do(self, new_treatment):
        panel = build_defects_panel(new_treatment)
        assert not panel.can_save
        assert "Describe the item in the intake notebook first" in panel.answer

    def test_a_spine_is_as_deep_as_the_item_may_be_thick(self, treatment):
        """38 leaves of newsprint and a cover: at most 38 x 1.7 x 0.085 mm and a little, under 8 mm."""
        panel = build_defects_panel(treatment)
        put(panel, term="crease", face="spine", **{**BOX, "x": "0", "width": "0.15"})
        assert panel.can_save
        put(panel, width="0.4")  # inches: 10 mm
        assert not panel.can_save
        assert "the width of the spine" in panel.field("x").below.value

    def test_a_defect_that_was_saved_is_not_ready_to_be_saved_again(self, treatment):
        panel = build_defects_panel(treatment)
        put(panel, term="tear", **BOX)
        save(panel)
        assert not panel.can_save
        assert panel.field("x").widget.value == ""


BOX = {"x": "0.5", "y": "0.5", "width": "1", "height": "1"}


def save_another(panel, term, severity):
    put(panel, which="a new one", term=term, severity=severity, **BOX)
    return save(panel)


class TestDecision:
    def test_nothing_is_treated_before_every_gate_is_answered(self, new_treatment):
        describe(item := build_item_panel(new_treatment))
        save(item)
        panel = build_intake_panel(new_treatment)
        assert "■ Hold" in panel.answer
        assert "Not answered yet: who may approve, live mould" in panel.answer
        open_gates(panel)
        agree(panel)
        assert "▲ Treat" in panel.answer

    def test_save_writes_decision_consent_and_answers_and_they_come_back(self, treatment):
        panel = build_intake_panel(treatment)
        open_gates(panel)
        agree(panel)
        save(panel)
        assert intake_of(treatment).decision is Decision.TREAT
        again = build_intake_panel(treatment)
        assert again.inputs() == panel.inputs()
        assert "Nothing new to save" in save(again)
        assert check_treatment(treatment.record.folder) == []

    def test_an_override_is_offered_only_where_a_gate_is_met(self, treatment):
        panel = build_intake_panel(treatment)
        open_gates(panel)
        agree(panel)
        assert not is_shown(panel, "override_past_mould")
        put(panel, past_mould="yes")
        assert is_shown(panel, "override_past_mould")
        assert "■ Refer" in panel.answer
        put(panel, override_past_mould="fine")
        assert not panel.can_save
        assert "a written reason of 6 words or more" in why(panel, "override_past_mould")
        put(panel, override_past_mould=REASON)
        assert "▲ Treat" in panel.answer
        save(panel)
        rows = treatment.record.read("decisions")
        assert rows[rows["gate"] == "past mould"]["reason"].tolist() == [REASON]
        assert any(c.kind is Kind.NO_HUMIDITY for c in conditions_of(treatment, "humidity"))

    def test_gates_that_nobody_answered_are_one_sentence_and_ask_for_no_override(self, new_treatment):
        describe(item := build_item_panel(new_treatment))
        save(item)
        panel = build_intake_panel(new_treatment)
        shown = f"{panel.answer}{said(panel)}"
        assert shown.count("live mould") == 1
        assert shown.count("nobody looked") == 1
        open_ones = [gate.id for gate in ticked_gates()]
        assert len(open_ones) == 8
        assert "Stop." not in said(panel)  # the answer and the table of gates have said it
        assert not any(is_shown(panel, f"override_{gate}") for gate in open_ones if gate not in FINAL)
        offered = {e.key for e in panel._fields if e.key.startswith("override_") and is_shown(panel, e.key)}
        assert offered == {"override_coated_cover"}  # held by the item: nobody has said that it is uncoated
        put(panel, past_mould="yes")
        assert is_shown(panel, "override_past_mould")
        assert is_labelled(panel, "Against a gate")

    def test_no_override_is_offered_for_live_mould_or_consent(self, treatment):
        panel = build_intake_panel(treatment)
        keys = {field.key for field in panel._fields}
        assert "override_ink" in keys
        assert not keys & {"override_live_mould", "override_consent", "override_authority"}

    def test_written_consent_needs_a_name(self, treatment):
        panel = build_intake_panel(treatment)
        put(panel, given_by="", in_writing=True)
        assert not panel.can_save
        assert "consent given by is empty" in why(panel, "given_by")

    def test_what_another_panel_saves_is_seen_at_once(self, treatment):
        panel = build_intake_panel(treatment)
        open_gates(panel)
        agree(panel)
        tests = build_tests_panel(treatment)
        put(tests, damp="fail", damp_place="red of the title")
        assert "■ Refer" not in panel.answer
        save(tests)
        assert "■ Refer" in panel.answer
        assert "damp strip test on red of the title: fail" in panel.answer

    def test_tests_come_back_and_saving_them_twice_writes_once(self, treatment):
        panel = build_tests_panel(treatment)
        put(panel, vapour="pass", vapour_place="front cover")
        save(panel)
        assert "Nothing new to save" in save(panel)
        again = build_tests_panel(treatment)
        assert again.field("vapour").widget.value == "pass"
        assert again.field("vapour_place").widget.value == "front cover"
        assert [t.result for t in known_findings(treatment).tests if t.test == "vapour"] == [Result.PASS]

    def test_without_an_item_it_says_what_to_do(self, new_treatment):
        panel = build_intake_panel(new_treatment)
        assert not panel.can_save
        assert "Describe the item in the intake notebook first" in panel.answer


class TestConsent:
    def test_cycles_day_and_document_are_asked_kept_and_count(self, treatment):
        panel = build_intake_panel(treatment)
        open_gates(panel)
        agree(panel)
        document = "form no. 7, in the file; covers 9 cycles of talk about size"
        put(panel, cycles=3, agreed_on="2026-03-01", document=document)
        save(panel)
        found = known_findings(treatment).consent
        assert (found.cycles, found.agreed_on, found.document) == (3, "2026-03-01", document)
        assert count_consented(treatment.record.read("decisions").to_dict("records")) == 3
        assert "Nothing new to save" in save(build_intake_panel(treatment))

    def test_a_day_that_is_none_is_told_beside_its_field(self, treatment):
        panel = build_intake_panel(treatment)
        put(panel, agreed_on="last Monday")
        assert not panel.can_save
        assert "Write it like 2026-03-02" in why(panel, "agreed_on")


class TestTwoWindows:
    def test_an_item_saved_elsewhere_is_neither_lost_nor_kept_quiet(self, treatment):
        other = Treatment(open_record(treatment.record.folder))
        first, second = build_item_panel(treatment), build_item_panel(other)
        put(first, width="6.5", upper_rust=2)
        save(first)
        put(second, owner="N. Other")
        assert "Meanwhile somebody else saved: width 165.1 instead of 170.0" in save(second)
        row = treatment.latest.read("treatment").iloc[-1]
        assert (row["width_mm"], row["owner"]) == (165.1, "N. Other")
        assert treatment.latest.read("staples").set_index("staple").loc["upper", "rust"] == 2


class TestPlausible:
    def test_readings_in_another_unit_than_the_one_shown_stop_and_say_so(self, treatment):
        """Sound readings in millimetres, entered while the panel asks for thousandths."""
        treatment.switch.choice = THOUSANDTHS
        panel = build_readings_panel(treatment, stage="review", cycle=9)
        put(panel, place="text block", readings="4.40 4.42 4.41")
        assert "■ Stop" in panel.answer
        assert "millimetres were entered as thousandths" in said(panel)
        assert "lie far apart" not in said(panel)

    @pytest.mark.parametrize(
        ("readings", "tag", "words"),
        [
            ("4.4 0.5 9", "■ Stop", "these readings say nothing"),
            ("4.40 4.10 4.62 4.30 4.51", "▲ Go on with care", "because the readings lie far apart"),
            ("4.40 4.41 4.42 4.40 4.41", "", ""),
        ],
    )
    def test_readings_that_lie_far_apart_are_not_simply_fine(self, treatment, readings, tag, words):
        treatment.switch.choice = MILLIMETRES
        panel = build_readings_panel(treatment, stage="review", cycle=9)
        put(panel, readings=readings, place="fore edge")
        assert tag in panel.answer
        assert words in said(panel)
        assert ("The uncertainty is" in said(panel)) is bool(words)

    @pytest.mark.parametrize(
        ("readings", "words"),
        [
            ("4,41 4,40", "Write 4.41, with a decimal point"),
            ("4.4 mm", "Write the numbers alone: they are taken in"),
        ],
    )
    def test_a_comma_or_a_unit_among_readings_is_named(self, treatment, readings, words):
        panel = build_readings_panel(treatment)
        put(panel, readings=readings)
        assert not panel.can_save
        assert words in why(panel, "readings")

    def test_of_the_ink_no_more_is_said_than_was_tried(self, treatment):
        panel = build_tests_panel(treatment)
        put(panel, rub="pass", damp="pass", rub_place="title", damp_place="red of the cover")
        assert "every colour" not in panel.answer
        assert "dry rub test on title and damp strip test on red of the cover" in panel.answer
        assert "a colour not tried is not known" in panel.answer

    def test_every_field_says_its_own_fault_while_others_are_empty(self, new_treatment):
        panel = build_item_panel(new_treatment)
        put(panel, width="5", height="9999", count="no")
        assert "Width is 5 mm; allowed is 30 to 600 mm" in why(panel, "width")
        assert "Height is 9999 mm" in why(panel, "height")
        assert "a whole number" in why(panel, "count")

    def test_a_mass_that_such_paper_cannot_have_is_a_caution(self, treatment):
        """38 leaves of newsprint of 170 x 258 mm: 38 x 0.0439 m2 x 48.8 g/m2 is 81 g without a cover."""
        assert "does not fit" not in said(build_item_panel(treatment))
        panel = build_readings_panel(treatment)
        put(panel, quantity="mass", mode="instead", readings="12", taken=BEFORE)
        assert "A mass of 12.0 g does not fit: 38 leaves of newsprint" in said(panel)
        save(panel)
        assert "A mass of 12.0 g does not fit" in said(build_item_panel(treatment))
        put(panel, readings="104.2")
        assert "does not fit" not in said(panel)

    def test_staples_where_none_should_be_are_a_caution(self, treatment):
        panel = build_item_panel(treatment)
        assert "Measure from the edge again" not in said(panel)
        put(panel, upper_head="0.1", lower_spine="1.5")  # inches
        assert "The upper staple would reach past the head" in said(panel)
        assert "The lower staple stands 38 mm from the spine" in said(panel)


def said(panel):
    return panel._cautions.value


class TestDone:
    def test_the_decision_enters_the_examination_as_done(self, new_treatment):
        item = build_item_panel(new_treatment)
        describe(item)
        save(item)
        panel = build_intake_panel(new_treatment)
        open_gates(panel)
        agree(panel)
        put(panel, ended="just now")
        assert "Saved" in save(panel)
        steps = [s for s in new_treatment.timeline.steps if s.stage == "intake"]
        assert steps
        assert all(step.actual_end for step in steps)
        assert all("reckoned, not measured" in step.note for step in steps)
        # A later change of the decision does not ask for the examination again.
        again = build_intake_panel(new_treatment)
        put(again, stuck_pages="yes")
        save(again)
        assert [s for s in new_treatment.timeline.steps if s.stage == "intake"] == steps

    @pytest.mark.parametrize("entry", ["", "yesterday", "2999-01-01 10:00"])
    def test_an_end_that_cannot_be_is_told_beside_its_field(self, treatment, entry):
        panel = build_intake_panel(treatment)
        put(panel, ended="at …", ended_at=entry)
        assert not panel.can_save
        assert "Ended at is" in why(panel, "ended_at")
