"""Rows to nouns and back."""

from dataclasses import replace
from datetime import datetime, timedelta, timezone

import pytest

from bench.errors import BadValue
from bench.item import Format, Prong
from bench.physics.contact import pressure_from_word
from bench.records import nouns
from bench.records.store import create_treatment
from bench.treatment import facts
from bench.treatment.buffering import BufferingChoices, plan_buffering
from bench.treatment.clock.schedule import record_actual, replace_stage
from bench.treatment.plan import Caution, PlannedStep, Verdict, hours, minutes

CET = timezone(timedelta(hours=1))
START = datetime(2026, 3, 2, 9, tzinfo=CET)
DESCRIPTION = {
    "title": "The Tin Orchard Annual, no. 2",
    "conservator": "M. Tallow",
    "planned_start": START,
    "format": "square-bound, side-stapled",
    "width_mm": 168,
    "height_mm": 257,
    "count": 72,
    "counted_as": "pages",
    "cover_leaves": 2,
    "glue": "unknown",
    "length_unit": "thou",
    "temperature_unit": "degF",
}
STAPLES = [
    {"staple": "lower", "from_head_mm": 215, "from_spine_mm": 8, "prong": "proud", "rust": 2},
    {"staple": "upper", "from_head_mm": 38, "from_spine_mm": 8, "prong": "flush", "rust": 0},
]


def reading(place, value, **more):
    row = {
        "stage": "intake",
        "cycle": 0,
        "quantity": "thickness",
        "place": place,
        "value": value,
        "unit": "thou",
    }
    return {**row, "taken_at": START, "instrument": "caliper", **more}


def make(tmp_path, **tables):
    rows = {"treatment": [DESCRIPTION], "staples": STAPLES, **tables}
    return create_treatment(tmp_path, "annual", rows, by="M. Tallow", at=START)


def save(record, **rows):
    return record.save(rows, by="M. Tallow", at=START)


def test_an_item_comes_back_with_leaves_counted_from_pages(tmp_path):
    item = nouns.item_of(make(tmp_path))
    assert item.leaves == 36
    assert item.format is Format.SIDE_STAPLED
    assert [s.name for s in item.staples] == ["upper", "lower"]
    assert item.staples[1].prong is Prong.PROUD


def test_units_are_those_last_saved(tmp_path):
    assert nouns.units_of(make(tmp_path)).length == "thou"


def test_a_fact_that_intake_owes_is_named(tmp_path):
    bare = {k: v for k, v in DESCRIPTION.items() if k != "format"}
    record = make(tmp_path, treatment=[bare])
    with pytest.raises(
        BadValue, match=r"^The item is not described yet: its format is missing\. Desc.*intake notebook"
    ):
        nouns.item_of(record)


def test_readings_become_thicknesses_with_their_own_instrument(tmp_path):
    rows = [reading("text block", v, limit=0.8, resolution=0.5) for v in (173.0, 174.0)]
    rows += [reading("upper staple", 178.5), reading("spine edge", 176.0)]
    record = make(tmp_path, readings=rows)
    read = nouns.thicknesses_of(record, nouns.item_of(record))
    assert read.text_block.value.to("thou").magnitude == pytest.approx(173.5)
    assert read.text_block.source == "caliper, n = 2"
    assert set(read.over_staples) == {"upper"}
    assert read.spine_edge is not None


def test_a_corrected_reading_counts_once(tmp_path):
    record = make(tmp_path, readings=[reading("text block", 17.35)])
    save(record, readings=[{**reading("text block", 173.5), "replaces": 1}])
    measured = nouns.measured_at(record, "thickness", stage="intake", cycle=0)
    assert measured["text block"].value.to("thou").magnitude == pytest.approx(173.5)


def test_without_readings_typical_values_stand_in(tmp_path):
    record = make(tmp_path)
    assert "typical" in nouns.thicknesses_of(record, nouns.item_of(record)).text_block.source


def test_readings_of_two_moments_do_not_share_a_cause(tmp_path):
    later = reading("text block", 170.0, stage="review", cycle=1)
    record = make(tmp_path, readings=[reading("text block", 173.5), later])
    before = nouns.measured_at(record, "thickness", stage="intake", cycle=0)["text block"]
    after = nouns.measured_at(record, "thickness", stage="review", cycle=1)["text block"]
    assert (before - after).standard > before.standard


def buffering(record, interval=6):
    item = nouns.item_of(record)
    choices = BufferingChoices(load=pressure_from_word("medium"), interval=interval)
    return plan_buffering(item, nouns.thicknesses_of(record, item), choices)


def test_a_plan_is_saved_once_and_then_only_what_changed(tmp_path):
    record = make(tmp_path, readings=[reading("text block", 173.5), reading("upper staple", 178.5)])
    rows = nouns.plan_rows(buffering(record), record)
    save(record, plans=rows)
    assert nouns.plan_rows(buffering(record), record) == []
    changed = nouns.plan_rows(buffering(record, 8), record)
    assert 0 < len(changed) < len(rows)
    assert all("replaces" in row for row in changed)
    save(record, plans=changed)
    assert nouns.planned_number(record, "buffering", 1, facts.SPACING).magnitude == 8


def test_what_is_no_longer_planned_is_marked_not_deleted(tmp_path):
    record = make(tmp_path, readings=[reading("text block", 173.5), reading("upper staple", 178.5)])
    first = buffering(record)
    more = replace(first, cautions=(*first.cautions, Caution(Verdict.GO, "one more")))
    save(record, plans=nouns.plan_rows(more, record))
    gone = nouns.plan_rows(first, record)
    assert [row["words"] for row in gone] == ["no longer planned"]
    save(record, plans=gone)
    assert nouns.plan_rows(first, record) == []
    assert "one more" not in " ".join(str(row["words"]) for row in nouns.planned_of(record, "buffering", 1))


PRESS = [
    PlannedStep("press", minutes(30), hands=True),
    PlannedStep("leave overnight", hours(10), hands=False, at_most=hours(16), note="closed"),
    PlannedStep("take out", minutes(15), hands=True),
]


def test_a_timeline_comes_back_as_it_was_saved(tmp_path):
    record = make(tmp_path)
    timeline = replace_stage(None, "pressing", 1, PRESS, start=START)
    save(record, steps=nouns.step_rows(timeline, record))
    back = nouns.timeline_of(record)
    assert back.steps == timeline.steps
    assert nouns.step_rows(back, record) == []


def test_actual_times_are_saved_and_move_what_follows(tmp_path):
    record = make(tmp_path)
    timeline = replace_stage(None, "pressing", 1, PRESS, start=START)
    save(record, steps=nouns.step_rows(timeline, record))
    late = record_actual(
        timeline, "s01", started=START + timedelta(hours=2), ended=START + timedelta(hours=3)
    )
    save(record, steps=nouns.step_rows(late, record))
    back = nouns.timeline_of(record)
    assert back.steps[0].planned_start == START
    assert back.steps[0].actual_end == START + timedelta(hours=3)
    assert back.steps[1].planned_start == START + timedelta(hours=3)


def test_steps_that_are_left_out_leave_the_timeline(tmp_path):
    record = make(tmp_path)
    save(record, steps=nouns.step_rows(replace_stage(None, "pressing", 1, PRESS, start=START), record))
    shorter = replace_stage(nouns.timeline_of(record), "pressing", 1, PRESS[:1], start=START)
    save(record, steps=nouns.step_rows(shorter, record))
    assert [s.name for s in nouns.timeline_of(record).steps] == ["press"]
    assert len(record.all_rows("steps")) > 3


def test_stages_keep_their_order_whichever_is_saved_first():
    pressing = replace_stage(None, "pressing", 1, PRESS, start=START)
    both = replace_stage(
        pressing, "humidity", 1, [PlannedStep("humidify", hours(2), hands=False)], start=START
    )
    assert [s.stage for s in both.steps] == ["humidity", "pressing", "pressing", "pressing"]
    assert both.steps[1].planned_start == START + timedelta(hours=2)


def test_a_step_that_has_begun_is_kept_when_its_stage_is_planned_again():
    timeline = replace_stage(None, "pressing", 1, PRESS, start=START)
    begun = record_actual(timeline, "s01", started=START, ended=START + timedelta(minutes=40))
    again = replace_stage(begun, "pressing", 1, PRESS[1:], start=START)
    assert again.steps[0].actual_end == START + timedelta(minutes=40)
    assert [s.name for s in again.steps] == ["press", "leave overnight", "take out"]


def test_a_single_reading_of_an_edge_repeats_to_about_its_step(tmp_path):
    edge = reading("cover", 170.0, quantity="width", unit="mm", limit=0.1, resolution=0.1)
    record = make(tmp_path, readings=[edge])
    width = nouns.measured_at(record, "width", stage="intake", cycle=0)["cover"]
    assert width.expanded().to("mm").magnitude < 0.3


def test_temperatures_are_read_too(tmp_path):
    rows = [
        reading("platen", t, quantity="temperature", unit="degC", resolution=0.1, limit=1) for t in (59, 61)
    ]
    record = make(tmp_path, readings=rows)
    platen = nouns.measured_at(record, "temperature", stage="intake", cycle=0)["platen"]
    assert platen.value.to("degC").magnitude == pytest.approx(60)
    assert platen.standard.to("kelvin").magnitude > 0.5
