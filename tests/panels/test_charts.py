"""Pictures in a panel: a pick sets its control, what is kept lies beneath, the same is sent once."""

import plotly.graph_objects as go
import pytest

from bench.desk import Treatment
from bench.figures.marks import Choose
from bench.panels.buffering import build_buffering_panel
from bench.panels.chart import ChartView
from bench.panels.humidity import build_humidity_panel
from bench.panels.pressing import build_pressing_panel
from bench.panels.review import build_review_panel
from bench.panels.schedule import build_schedule_panel
from bench.units import UnitChoice
from tests.writeup.case_makers import make_full

pytestmark = pytest.mark.slow

BUILDERS = {
    "humidity": build_humidity_panel,
    "buffering": build_buffering_panel,
    "pressing": build_pressing_panel,
    "schedule": build_schedule_panel,
    "review": build_review_panel,
}


@pytest.fixture(scope="module")
def treatment(tmp_path_factory):
    return Treatment(make_full(tmp_path_factory.mktemp("charts")))


def views(panel):
    return [child for child in panel._parts.box.children if isinstance(child, ChartView)]


def pick(view, value):
    """Do what the page does after a click."""
    view.picked = [value, view.picked[1] + 1]


@pytest.mark.parametrize("name", BUILDERS)
def test_plotly_takes_every_picture_of_a_panel(treatment, name):
    """Against the library's own schema."""
    panel = BUILDERS[name](treatment)
    for view in views(panel):
        go.Figure({"data": view.spec["data"], "layout": view.spec["layout"]})
        assert view.reads


def test_a_pick_on_the_uptake_sets_the_hours(treatment):
    panel = build_humidity_panel(treatment)
    uptake = views(panel)[0]
    pick(uptake, 17.7)
    assert panel.field("hours").widget.value == 18
    assert panel.result.choices.planned.to("hour").magnitude == 18
    assert uptake.spec["pick"]["at"] == 18
    most = uptake.spec["pick"]["high"]
    pick(uptake, 400.0)
    assert panel.field("hours").widget.value == most


def test_a_pick_on_the_heat_sets_the_dwell_in_its_own_unit(treatment):
    panel = build_pressing_panel(treatment)
    heat = next(v for v in views(panel) if v.chart.pick and v.chart.pick.field == "dwell")
    pick(heat, 20.2)
    assert panel.field("dwell").widget.value == "1200"
    assert panel.result.choices.dwell.to("min").magnitude == pytest.approx(20)


def test_a_pick_on_the_changes_sets_their_number(treatment):
    panel = build_pressing_panel(treatment)
    changes = next(v for v in views(panel) if v.chart.pick and v.chart.pick.field == "changes")
    pick(changes, 0.0)
    assert panel.result.choices.changes == 0


def test_what_is_kept_lies_beneath_until_it_is_taken_away(treatment):
    panel = build_humidity_panel(treatment)
    before, answer = views(panel)[0].chart, panel.result.answer
    panel._parts._keep.value = True
    panel.fill({"hours": 12})
    (core,) = [t for t in views(panel)[0].spec["data"] if t.get("name") == "kept: innermost leaf"]
    assert core["x"][-1] == pytest.approx(before.curves[-1].x[-1], rel=1e-3)
    assert panel._parts._kept_words.value.endswith(f"Kept, in grey: {answer}</span>")
    panel._parts._keep.value = False
    assert not [t for t in views(panel)[0].spec["data"] if t["meta"] == "kept"]


def test_in_other_units_nothing_is_laid_beneath(treatment):
    panel = build_pressing_panel(treatment)
    panel._parts._keep.value = True
    panel.fill({"dwell": "600"})
    kept = [[t for t in view.spec["data"] if t["meta"] == "kept"] for view in views(panel)]
    assert any(kept)
    other = "degF" if treatment.units.temperature == "degC" else "degC"
    try:
        treatment.switch.choice = UnitChoice(treatment.units.length, other)
        heat = next(v for v in views(panel) if v.chart.pick and v.chart.pick.field == "dwell")
        assert not [t for t in heat.spec["data"] if t["meta"] == "kept"]
    finally:
        treatment.switch.choice = UnitChoice(treatment.units.length, "degC" if other == "degF" else "degF")


def test_a_move_sends_each_picture_once_and_little(treatment):
    panel = build_humidity_panel(treatment)
    sent = []
    for view in views(panel):
        view.observe(lambda change: sent.append(len(str(change["new"]))), names="spec")
    panel.fill({"hours": 20})
    assert len(sent) <= len(views(panel))
    assert sum(sent) < 30_000
    again = len(sent)
    panel.refresh()
    assert len(sent) == again, "the same picture was sent twice"


def test_a_refused_entry_takes_the_pictures_away_and_back(treatment):
    panel = build_humidity_panel(treatment)
    many = len(views(panel))
    panel.fill({"wanted": "none"})
    assert views(panel) == []
    panel.fill({"wanted": "85"})
    assert len(views(panel)) == many


def test_a_picture_without_a_control_takes_no_pick(treatment):
    view = ChartView(views(build_humidity_panel(treatment))[0].chart)
    assert view.spec["pick"] is None
    pick(view, 3.0)  # a page that asks all the same changes nothing


def test_a_click_on_a_block_of_the_schedule_chooses_its_step(treatment):
    panel = build_schedule_panel(treatment)
    view = next(v for v in views(panel) if isinstance(v.chart.pick, Choose))
    open_steps = [value for _, value in panel.field("step").widget.options if value != "none"]
    blocks = {t["customdata"][0] for t in view.spec["data"] if t.get("hoveron") and t.get("customdata")}
    assert blocks
    assert blocks <= set(open_steps)
    pick(view, open_steps[-1])
    assert panel.field("step").widget.value == open_steps[-1]
    pick(view, "no such step")  # a page that names another changes nothing
    assert panel.field("step").widget.value == open_steps[-1]
