"""Tables are parsed once for each change of their bytes, and never shown as they were before."""

import os

import pandas as pd
import pytest

from bench.desk import SAMPLES
from bench.errors import RecordError
from bench.records import parsed as parsed_module
from bench.records.schema import SCHEMA_VERSION, TABLES
from bench.records.snapshot import take_snapshot
from bench.records.store import open_record
from tests.writeup.case_makers import WHO, at, make_bare

READING = {"quantity": "mass", "stage": "intake", "cycle": 0, "place": "whole item", "unit": "g"}


@pytest.mark.parametrize("table", TABLES)
def test_rows_are_those_of_the_frame(table):
    """Against pandas: every cell of every sample; a blank time is None, since NaT is a datetime too."""
    for folder in sorted(p for p in SAMPLES.iterdir() if (p / "treatment.csv").exists()):
        record = open_record(folder)
        told = repr(record.read(table).to_dict("records")).replace("NaT", "None")
        assert repr(record.rows(table)) == told
        assert repr(take_snapshot(record).rows(table)) == told
        replaced = {row["replaces"] for row in record.all_rows(table)}
        assert repr([row for row in record.all_rows(table) if row["row"] not in replaced]) == told


def test_a_change_of_one_digit_within_the_same_tick_of_the_clock_is_seen(tmp_path):
    record = make_bare(tmp_path)
    record.save({"readings": [{**READING, "value": 104.2, "taken_at": at(20, 9)}]}, by=WHO, at=at(20, 9))
    assert record.read("readings")["value"].iloc[-1] == 104.2
    path = record.folder / "readings.csv"
    before = path.stat()
    path.write_bytes(path.read_bytes().replace(b"104.2", b"104.7"))
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_size == before.st_size
    assert record.read("readings")["value"].iloc[-1] == 104.7
    assert record.rows("readings")[-1]["value"] == 104.7


def test_what_is_done_to_what_was_read_stays_with_the_reader(tmp_path):
    record = make_bare(tmp_path)
    frame, rows = record.read("treatment"), record.rows("treatment")
    frame.loc[:, "title"] = "Another"
    del frame["owner"]
    rows[0]["title"] = "Another"
    rows.clear()
    assert record.read("treatment")["title"].iloc[0] == record.rows("treatment")[0]["title"] != "Another"
    assert "owner" in record.read("treatment")


def test_a_file_that_went_missing_is_told(tmp_path):
    record = make_bare(tmp_path)
    record.read("log")
    (record.folder / "log.csv").unlink()
    with pytest.raises(RecordError, match="missing"):
        record.read("log")


def test_nothing_is_shared_between_two_folders(tmp_path):
    one, other = make_bare(tmp_path / "one"), make_bare(tmp_path / "other")
    one.save({"readings": [{**READING, "value": 99.0, "taken_at": at(20, 9)}]}, by=WHO, at=at(20, 9))
    assert len(one.read("readings")) == len(other.read("readings")) + 1
    assert isinstance(other.read("readings"), pd.DataFrame)


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_what_was_added_is_read_as_if_the_whole_file_were(tmp_path, monkeypatch, line_end):
    """Only the added lines are read; rows, marks and faults are those of a reading from the start."""
    record = make_bare(tmp_path)
    path, table = record.folder / "readings.csv", TABLES["readings"]
    path.write_bytes(path.read_bytes().replace(b"\n", line_end.encode()))
    record.rows("readings")
    lengths = []
    whole = parsed_module.read_sheet

    def read(data, *more, **named):
        lengths.append(len(data))
        return whole(data, *more, **named)

    monkeypatch.setattr(parsed_module, "read_sheet", read)
    for number in range(5):
        reading = {**READING, "value": 100.0 + number, "note": 'wide, "new"\ntear', "taken_at": at(20, 9)}
        record.save({"readings": [reading, reading]}, by=WHO, at=at(20, 9))
        lengths.clear()
        record.rows("readings")
        size = path.stat().st_size
        assert record.sheet(table) == whole(path.read_bytes(), table)
        assert not [length for length in lengths if length >= size]
    path.write_bytes(path.read_bytes() + b"torn")
    assert record.sheet(table) == whole(path.read_bytes(), table)
    assert record.sheet(table).faults


def test_a_number_that_comes_again_in_what_was_added_is_told(tmp_path):
    """Only what was added is read, but it is held against all that was there."""
    record = make_bare(tmp_path)
    record.save({"readings": [{**READING, "value": 104.2, "taken_at": at(20, 9)}]}, by=WHO, at=at(20, 9))
    assert len(record.rows("readings")) == 1
    path = record.folder / "readings.csv"
    path.write_bytes(path.read_bytes() + path.read_bytes().splitlines(keepends=True)[-1])
    with pytest.raises(RecordError, match=r"readings\.csv row 1 column row: is 1 a second time"):
        record.rows("readings")


def test_what_was_read_of_a_newer_record_is_read_anew_as_one_of_today(tmp_path):
    """In a newer record words that are not known here are let pass."""
    record = make_bare(tmp_path)
    record.save({"readings": [{**READING, "value": 104.2, "taken_at": at(20, 9)}]}, by=WHO, at=at(20, 9))
    path, table = record.folder / "readings.csv", TABLES["readings"]
    data = path.read_bytes().replace(b",intake,", b",outtake,")
    assert parsed_module.parse(path, data, table, version=SCHEMA_VERSION + 1).current.faults == []
    line = data.splitlines(keepends=True)[-1]
    now = parsed_module.parse(path, data + line.replace(b"1,", b"2,", 1), table, version=SCHEMA_VERSION)
    assert [fault.row for fault in now.current.faults] == [1, 2]
