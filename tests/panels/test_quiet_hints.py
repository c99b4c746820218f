"""Red is for what was entered and refused: what is only still to come reads as a quiet hint."""

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from functools import partial

import pytest

from bench.desk import Treatment, open_treatment
from bench.panels import defects, intake, item, learning, materials, photographs, readings, start, weighing
from bench.panels.humidity import build_humidity_panel, build_hygrometer_panel
from bench.panels.logged import build_logged_panel
from bench.panels.review import build_review_panel
from bench.panels.schedule import build_schedule_panel
from bench.records.store import create_treatment, open_record
from bench.treatment.humidity import plan_humidity
from bench.treatment.plan import Verdict

NINE = datetime(2026, 4, 13, 9, 0, tzinfo=timezone(timedelta(hours=1)))
OPENED = {  # panels as they stand when a page is opened: nobody has entered anything wrong
    "new treatment": start.build_new_panel,
    "take to hand": start.build_start_panel,
    "item": item.build_item_panel,
    "defects": defects.build_defects_panel,
    "intake": intake.build_intake_panel,
    "photographs": photographs.build_photographs_panel,
    "readings": readings.build_readings_panel,
    "materials": materials.build_materials_panel,
    "hygrometer": partial(build_hygrometer_panel, cycle=1),
    "logged": partial(build_logged_panel, cycle=1),
    "learning": partial(learning.build_learning_panel, cycle=1),
}
LATER = {  # these wait for an item that is described
    "weighing": partial(weighing.build_weighing_panel, cycle=1),
    "schedule": build_schedule_panel,
    "review": partial(build_review_panel, cycle=3),
}


def red_in(panel):
    """Give what a panel shows in red, and which fields do."""
    words = panel._lead.value + panel.status
    below = [entry.below.value for entry in panel._fields if entry.is_used]
    return [said for said in (words, *below) if 'class="why"' in said]


@pytest.fixture
def new(tmp_path):
    row = {
        "title": "Spring Annual",
        "conservator": "M. Tallow",
        "planned_start": NINE,
        "length_unit": "mm",
        "temperature_unit": "degC",
    }
    create_treatment(tmp_path, "spring-annual-1", {"treatment": [row]}, by="M. Tallow", at=NINE)
    return Treatment(open_record(tmp_path / "spring-annual-1"))


@pytest.fixture
def sample(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    return open_treatment("tin-orchard-annual-2")


@pytest.mark.parametrize("name", OPENED)
def test_a_new_treatment_opens_without_alarm(name, new):
    assert red_in(OPENED[name](new)) == []


@pytest.mark.parametrize("name", {**OPENED, **LATER})
def test_a_treatment_under_way_opens_without_alarm(name, sample):
    assert red_in({**OPENED, **LATER}[name](sample)) == []


def test_a_refused_entry_is_red_and_an_emptied_one_asks_quietly(sample):
    panel = build_hygrometer_panel(sample, cycle=1)
    entry = next(field for field in panel._fields if field.label == "Hygrometer reading")
    entry.widget.value = "140"
    assert len(red_in(panel)) == 2, "beside the field, and where the answer was"
    entry.widget.value = ""
    assert red_in(panel) == []
    assert "needed: Hygrometer reading" in entry.below.value


def test_a_plan_that_says_stop_is_refused_in_red(sample):
    def plan(*args, **how):
        return replace(plan_humidity(*args, **how), verdict=Verdict.STOP)

    panel = build_humidity_panel(sample, plan=plan, cycle=1)
    assert not panel.can_save
    assert 'class="why" role="alert"' in panel.status
    assert "says stop" in panel.status
