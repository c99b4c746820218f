"""The file of a data logger in a record: kept untouched, named by a row, missed when it is gone."""

from datetime import timedelta

import pytest

from bench.errors import BadValue, RecordError
from bench.records.check import check_treatment
from bench.records.kept_files import LOGGERS, checksum
from bench.records.logger_files import look_at_file, propose_reading, read_logger
from bench.records.rules import WORKED_OUT
from bench.records.store import open_record
from bench.treatment.actual.followed import LOGGED
from bench.treatment.facts import MOULD_STRICT
from tests.records.record_makers import AT, SAVING, by_themselves, make

LINES = b"Time,T,RH\n2026-11-25 10:00,21.0,60.0\n2026-11-25 10:05,21.1,61.0\n"


def row(file, **more):
    return {
        "stage": "humidity",
        "cycle": 1,
        "place": "chamber",
        "file": file,
        "sha256": checksum(LINES),
        "time_column": "Time",
        "temperature_column": "T",
        "humidity_column": "RH",
        "unit": "degC",
        "dates": "year first",
        "zone": "UTC",
        "ahead_min": 2.5,
        "correction": -1.0,
        "first_reading": AT,
        "last_reading": AT + timedelta(minutes=5),
        "readings": 2,
        "said": "The chamber stood as planned.",
        "note": "1 line without a number",
    } | more


def test_a_logger_comes_back_as_it_was_saved(tmp_path):
    record = make(tmp_path)
    file = LOGGERS.keep(record, "Bench Logger.TXT", LINES)
    record.save({"loggers": [row(file)]}, **SAVING)
    again = open_record(record.folder)
    (back,) = again.rows("loggers")
    assert file == "loggers/bench-logger.txt"
    assert {key: back[key] for key in row(file)} == row(file)
    assert LOGGERS.read(again, file) == LINES
    assert by_themselves(check_treatment(record.folder)) == []
    table, left_out = read_logger(look_at_file(LINES), propose_reading(look_at_file(LINES)))
    assert (len(table), left_out) == (2, ())


def test_a_file_that_was_edited_or_is_gone_is_told_with_its_place(tmp_path):
    record = make(tmp_path)
    file = LOGGERS.keep(record, "logger.csv", LINES)
    record.save({"loggers": [row(file)]}, **SAVING)
    path = record.folder / file
    path.write_bytes(LINES.replace(b"61.0", b"71.0"))
    (fault,) = check_treatment(record.folder)
    assert "loggers.csv" in str(fault)
    assert "not by editing it" in str(fault)
    path.unlink()
    (fault,) = check_treatment(record.folder)
    assert "Put the file back" in str(fault)
    with pytest.raises(BadValue, match="logger file is loggers/logger"):
        LOGGERS.read(record, file)


@pytest.mark.parametrize("name", ["cover.jpg", "readings.xls", "logger"])
def test_a_file_of_another_kind_is_not_kept(tmp_path, name):
    record = make(tmp_path)
    with pytest.raises(BadValue, match="ends in csv, txt"):
        LOGGERS.keep(record, name, LINES)
    assert not (record.folder / "loggers").exists()


def test_two_rows_on_one_file_of_one_cycle_are_a_fault(tmp_path):
    record = make(tmp_path)
    file = LOGGERS.keep(record, "logger.csv", LINES)
    record.save({"loggers": [row(file), row(file, cycle=2)]}, **SAVING)
    assert by_themselves(check_treatment(record.folder)) == []
    record.save({"loggers": [row(file, correction=2.0)]}, **SAVING)
    assert any("loggers.csv" in str(fault) for fault in check_treatment(record.folder))


def test_a_share_of_days_worked_out_from_a_logger_may_pass_what_nobody_can_read(tmp_path):
    record = make(tmp_path)
    log = {"stage": "humidity", "cycle": 1, "at": AT, "value": 1200.0, "unit": "percent"}
    record.save({"log": [{**log, "quantity": f"{LOGGED}{MOULD_STRICT.key}"}]}, **SAVING)
    assert WORKED_OUT == LOGGED  # records and treatments may not import each other
    with pytest.raises(RecordError, match="1200"):
        record.save({"log": [{**log, "quantity": "share of days"}]}, **SAVING)
