"""The panels of cleaning: they heed intake, keep what was entered, and learn from the log."""

from datetime import timedelta
from itertools import count

import pytest

from bench.desk import now, open_treatment
from bench.handover.cleaning import cleaning_choices, own_rates, read_states
from bench.panels.cleaning import build_cleaning_log_panel, build_cleaning_panel
from bench.panels.defects import build_defects_panel
from bench.panels.intake import build_intake_panel, build_tests_panel
from bench.records.check import check_treatment
from bench.treatment.cleaning.surfaces import Surface
from bench.units import MILLIMETRES
from tests.panels.test_intake_panels import agree, open_gates, put, save

pytestmark = pytest.mark.slow


@pytest.fixture
def treatment(monkeypatch):
    """The annual after intake, its rub test passed."""
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    found = open_treatment("tin-orchard-annual-2")
    tests = build_tests_panel(found)
    put(tests, rub="pass", damp="pass")
    save(tests)
    decision = build_intake_panel(found)
    open_gates(decision)
    agree(decision)
    save(decision)
    return found


def soil(panel):
    put(panel, soil_cover_outside=3, bare_cover_outside=50)


def test_it_does_not_begin_before_intake_has_decided_to_treat(treatment):
    decision = build_intake_panel(treatment)
    put(decision, stuck_pages="yes")
    save(decision)
    panel = build_cleaning_panel(treatment, cycle=1)
    soil(panel)
    assert "Do not clean: intake says refer" in panel.answer


def test_soil_brings_up_tools_and_their_rates(treatment):
    panel = build_cleaning_panel(treatment, cycle=1)
    put(panel, soil_cover_outside=0, soil_leaves=0, soil_edges=0, soil_spine=0, soil_cover_inside=0)
    assert "Not decided: soiled places are listed" in panel.answer
    assert panel.field("rate_brush").box.layout.display == "none"
    assert panel.field("share_cover_outside").box.layout.display == "none"
    soil(panel)
    assert "Clean the outside of the cover with the brush, suction," in panel.answer
    assert panel.field("rate_brush").box.layout.display != "none"
    assert panel.field("share_cover_outside").box.layout.display != "none"


def test_what_was_entered_comes_back_and_tools_stand_among_the_materials(treatment):
    panel = build_cleaning_panel(treatment, cycle=1)
    soil(panel)
    put(panel, share_cover_outside=60)
    save(panel)
    state = next(s for s in read_states(treatment, 1) if s.surface is Surface.COVER_OUTSIDE)
    assert (state.soil, state.share, state.unprinted) == (3, 0.6, 0.5)
    assert "Nothing new to save" in save(build_cleaning_panel(treatment, cycle=1))
    names = set(treatment.record.read("materials")["material"])
    assert {"soft hair brush", "vulcanised rubber sponge, dry"} <= names
    assert check_treatment(treatment.record.folder) == []


def test_an_own_rate_changes_the_time(treatment):
    panel = build_cleaning_panel(treatment, cycle=1)
    soil(panel)
    before = panel.result.time.value
    put(panel, rate_brush="20")
    assert panel.result.time.value > before
    put(panel, rate_brush="-20")
    assert not panel.can_save


def test_the_log_gives_the_rate_of_ones_own_hand(treatment, monkeypatch):
    """Two passes over 400 cm2 in 10 min and one over 100 cm2 in 5 min: 900 cm2 in 15 min, 60 a minute."""
    later = (now() - timedelta(minutes=60 - 12 * k) for k in count())
    monkeypatch.setattr(treatment, "now", lambda: next(later))
    panel = build_cleaning_log_panel(treatment, cycle=1)
    put(panel, tool="brush", area="400", time="10", passes=2)
    assert "80 cm² a minute with the brush" in panel.answer
    save(panel)
    assert "logged already" in save(panel)
    put(panel, area="100", time="5", passes=1)
    save(panel)
    assert own_rates(treatment)["brush"].to("cm^2/min").magnitude == pytest.approx(60)
    assert cleaning_choices(treatment).rates.keys() == {"brush"}
    assert "soft hair brush; 2 passes" in panel.answer
    assert check_treatment(treatment.record.folder) == []


def test_colour_on_the_tool_says_stop(treatment):
    panel = build_cleaning_log_panel(treatment, cycle=1)
    put(panel, colour=True)
    assert "■ Stop" in panel.answer
    save(panel)
    assert "colour came off" in treatment.record.read("log")["remark"].iloc[-1]


@pytest.mark.parametrize("entry", ["0", "-4", "12,5", "ten"])
def test_an_impossible_area_is_refused_beside_its_field(treatment, entry):
    panel = build_cleaning_log_panel(treatment, cycle=1)
    put(panel, area=entry)
    assert not panel.can_save
    assert "rea cleaned is" in panel.field("area").below.value


def test_the_log_enters_the_cleaning_as_done(treatment):
    plan = build_cleaning_panel(treatment, cycle=1)
    soil(plan)
    save(plan)
    panel = build_cleaning_log_panel(treatment, cycle=1)
    put(panel, tool="brush", ended="just now")
    assert "to steps" in save(panel)
    steps = [s for s in treatment.timeline.steps if s.stage == "cleaning"]
    assert all(step.actual_end for step in steps)


def test_a_heading_without_a_field_under_it_is_not_shown(treatment):
    panel = build_cleaning_panel(treatment, cycle=1)
    boxes = panel.widget.children[2].children[0].children
    heading = next(box for box in boxes if "Own rates" in str(getattr(box, "value", "")))
    soil(panel)
    assert heading.layout.display != "none"
    put(panel, soil_cover_outside=0, soil_leaves=0, soil_edges=0, soil_spine=0, soil_cover_inside=0)
    assert heading.layout.display == "none"


def list_defect(treatment, **entries):
    treatment.switch.choice = MILLIMETRES
    panel = build_defects_panel(treatment)
    box = {"x": "10", "y": "10", "width": "60", "height": "80"}
    put(panel, term="dirty", severity=2, **{**box, **entries})
    assert "Saved" in save(panel)


def test_soil_is_proposed_where_intake_listed_it(treatment):
    """The annual's back cover is listed as dirty, and one more place here: neither may read as clean."""
    list_defect(treatment, face="recto", leaf="3")
    panel = build_cleaning_panel(treatment, cycle=2)
    assert panel.field("soil_leaves").widget.value == 2
    assert panel.field("share_leaves").widget.value == 1
    assert "listed: d8, dirty, recto of leaf 3" in panel.field("soil_leaves").below.value
    assert "nothing that a tool could" not in panel.answer
    put(panel, soil_leaves=0, soil_cover_outside=0)
    assert "Not decided: soiled places are listed" in panel.answer
    assert "d8, dirty, recto of leaf 3" in panel._cautions.value


def test_a_later_cycle_proposes_what_the_review_left(treatment):
    """Graded 2 at intake and 1 after the first cycle."""
    first, second = (
        {state.surface: state.soil for state in read_states(treatment, cycle)} for cycle in (1, 2)
    )
    assert (first[Surface.COVER_OUTSIDE], second[Surface.COVER_OUTSIDE]) == (2, 1)
    assert second[Surface.EDGES] == 0


def test_the_chapter_reads_what_the_panel_shows(treatment):
    panel = build_cleaning_panel(treatment)
    assert panel.plan().cycle == treatment.cycle == 2
    assert panel.plan().passes
