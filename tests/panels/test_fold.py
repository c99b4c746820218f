"""Settings out of sight: what was changed among them is named, and nothing refused stays hidden."""

import pytest

from bench.desk import Treatment
from bench.panels import buffering
from bench.panels.buffering import build_buffering_panel
from bench.panels.humidity import build_humidity_panel
from bench.panels.pressing import build_pressing_panel
from tests.writeup.case_makers import make_full

BUILDERS = (build_humidity_panel, build_buffering_panel, build_pressing_panel)


@pytest.fixture(scope="module")
def treatment(tmp_path_factory):
    return Treatment(make_full(tmp_path_factory.mktemp("fold")))


@pytest.fixture
def panel(treatment):
    return build_pressing_panel(treatment)


def says(panel):
    return panel._fold._button.description


@pytest.mark.parametrize("build", BUILDERS)
def test_three_to_nine_fields_stay_in_sight(treatment, build):
    panel = build(treatment)
    seen = [entry for entry in panel._fields if entry not in panel._fold.fields and entry.is_used]
    assert 3 <= len(seen) <= 9
    assert len(seen) + len(panel._fold.fields) <= len(panel._fields)


def test_what_is_folded_away_is_out_of_sight_until_it_is_asked_for(panel):
    assert panel._fold._inside.layout.display == "none"
    assert says(panel) == "▸ More settings"
    panel._fold._button.value = True
    assert panel._fold._inside.layout.display == ""
    assert says(panel) == "▾ More settings"


def test_what_was_changed_out_of_sight_is_named(panel):
    panel.fill({"cards": 2, "late": "3"})
    assert says(panel) == "▸ More settings; changed: Cards, May stay longer by"
    panel.fill({"cards": 1, "late": "4"})
    assert says(panel) == "▸ More settings"


def test_a_refused_entry_opens_the_fold(panel):
    panel.fill({"room": "cold"})
    assert panel._fold.is_open
    assert not panel.can_save


def test_a_plan_that_was_saved_with_changes_names_them_when_it_is_opened_again(treatment, monkeypatch):
    monkeypatch.setattr(buffering, "conditions_of", lambda *_: ())  # intake of this one is not settled
    panel = build_buffering_panel(treatment)
    panel.fill({"even": True})
    panel.save()
    again = build_buffering_panel(treatment)
    assert again.field("even").widget.value is True
    assert says(again) == "▸ More settings; changed: Pressed by"
