"""What may not be put back is refused, and then nothing has changed."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from bench.errors import RecordError
from bench.records import restore as restore_module
from bench.records.record import Record
from bench.records.restore import restore
from bench.records.restore_points import make_restore_point
from tests.records.record_makers import AT, SAVING, make, remark
from tests.records.test_records_store import make_newer

BY = {"by": "M. Reed", "at": AT, "why": "a try"}


@pytest.fixture
def record(tmp_path: Path) -> Record:
    record = make(tmp_path)
    record.save({"log": [remark("first")]}, **SAVING)
    return record


@pytest.fixture
def point(record: Record) -> Path:
    return make_restore_point(record.folder, at=AT, why="on-demand")


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix == ".csv"}


def assert_refused(record: Record, words: str) -> None:
    before = contents(record.folder)
    with pytest.raises(RecordError, match=words):
        restore(record.folder, **BY)
    assert contents(record.folder) == before


def test_a_point_with_a_torn_table_is_not_put_back(record: Record, point: Path):
    with zipfile.ZipFile(point) as file:
        tables = {name: file.read(name) for name in file.namelist()}
    with zipfile.ZipFile(point, "w") as file:
        for name, data in tables.items():
            file.writestr(name, data[:-9] if name == "log.csv" else data)
    assert_refused(
        record, r"holds a table that cannot be read\n.*log\.csv row 1: is the last line and is torn"
    )


def test_a_point_with_a_table_larger_than_any_is_not_unpacked(
    record: Record, point: Path, monkeypatch: pytest.MonkeyPatch
):
    assert point.exists()
    monkeypatch.setattr(restore_module, "_LARGEST", 100)
    assert_refused(record, "a table is larger than any can be")


def test_a_record_of_a_newer_program_is_not_put_back(record: Record, point: Path):
    assert point.exists()
    make_newer(record)
    assert_refused(record, "a newer program made this record")
