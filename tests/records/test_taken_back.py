"""Taking back a save: new rows put back what stood, and nothing is deleted."""

from datetime import timedelta

import pytest

from bench.errors import BadValue
from bench.records import nouns
from bench.records.check import check_treatment
from bench.records.rules import TAKEN_BACK
from bench.records.taken_back import find_last_touch, rows_back, say_save
from bench.treatment.clock.schedule import lay_out
from bench.treatment.clock.today import begin_step, finish_step
from bench.treatment.plan import minutes
from tests.treatment.test_today import chamber, piece
from tests.writeup.case_makers import WHO, at, make_bare


@pytest.fixture
def record(tmp_path):
    made = make_bare(tmp_path)
    made.save({"steps": nouns.step_rows(chamber(at(20, 9)), made)}, by=WHO, at=at(20, 8))
    return made


def touch(record, change, moment, **more):
    timeline = change(nouns.timeline_of(record), moment)
    rows = {"steps": nouns.step_rows(timeline, record), **more}
    return record.save(rows, by=WHO, at=moment).save


def begin(step):
    return lambda timeline, moment: begin_step(step, timeline, moment)


def finish(step):
    return lambda timeline, moment: finish_step(step, timeline, moment)


def test_the_times_stand_again_as_before_and_every_row_is_kept(record):
    before = nouns.timeline_of(record)
    save = touch(record, begin("s01"), at(20, 9, 30))
    assert say_save(record, save) == "begun: put in"
    count = len(record.all_rows("steps"))
    record.save(rows_back(record, save), by=WHO, at=at(20, 9, 31))
    assert nouns.timeline_of(record) == before
    assert len(record.all_rows("steps")) > count
    assert check_treatment(record.folder) == []


def test_look_ins_that_were_passed_over_come_back_too(record):
    touch(record, begin("s01"), at(20, 9))
    touch(record, finish("s01"), at(20, 9, 10))
    before = nouns.timeline_of(record)
    save = touch(record, begin("s05"), at(20, 12))
    assert len(nouns.timeline_of(record).steps) < len(before.steps)
    assert say_save(record, save) == "begun: take it out and weigh it"
    record.save(rows_back(record, save), by=WHO, at=at(20, 12, 1))
    assert nouns.timeline_of(record) == before


def test_two_touches_are_taken_back_one_after_the_other(record):
    before = nouns.timeline_of(record)
    first = touch(record, begin("s01"), at(20, 9))
    second = touch(record, finish("s01"), at(20, 9, 10))
    for save in (second, first):
        record.save(rows_back(record, save), by=WHO, at=at(20, 9, 12))
    assert nouns.timeline_of(record) == before


def test_numbers_are_taken_out_of_every_count_but_stay_in_words(record):
    log = {"stage": "buffering", "cycle": 1, "at": at(20, 9)}
    mass = {"stage": "humidity", "cycle": 1, "quantity": "mass", "place": "item in the chamber"}
    rows = {
        "log": [{**log, "quantity": "sheets put in", "value": 8, "unit": "dimensionless"}],
        "readings": [{**mass, "value": 104.4, "unit": "g", "taken_at": at(20, 9)}],
    }
    save = record.save(rows, by=WHO, at=at(20, 9)).save
    record.save(rows_back(record, save), by=WHO, at=at(20, 9, 1))
    (row,) = record.read("log").to_dict("records")
    assert (row["quantity"], row["remark"]) == (TAKEN_BACK, "taken back: sheets put in 8")
    assert nouns.measured_at(record, "mass", stage="humidity", cycle=1) == {}
    assert check_treatment(record.folder) == []


def test_what_was_changed_since_is_not_taken_back(record):
    save = touch(record, begin("s01"), at(20, 9))
    touch(record, finish("s01"), at(20, 9, 10))
    with pytest.raises(BadValue, match="changed since"):
        rows_back(record, save)


def test_the_last_touch_is_found_again_after_the_page_was_opened_anew(record):
    assert find_last_touch(record, at(20, 9)) is None  # a plan is no touch
    save = touch(record, begin("s01"), at(20, 9))
    assert find_last_touch(record, at(20, 10)) == (at(20, 9), save)
    assert find_last_touch(record, at(20, 10) + timedelta(hours=12)) is None
    record.save(rows_back(record, save), by=WHO, at=at(20, 10, 1))
    assert find_last_touch(record, at(20, 10, 2)) is None  # taking back is no touch


def test_a_new_step_is_no_touch(record):
    timeline = lay_out([piece("weigh", minutes(5), hands=True)], start=at(22, 9))
    rows = [{**row, "step": "s09"} for row in nouns.step_rows(timeline, record) if row.get("name") == "weigh"]
    record.save({"steps": [{k: v for k, v in rows[0].items() if k != "replaces"}]}, by=WHO, at=at(20, 9))
    assert find_last_touch(record, at(20, 9, 1)) is None
