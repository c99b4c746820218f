"""The gate lets nothing through that would not read back as meant: every fault of a writer is tried."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bench.errors import RecordError
from bench.records import gate
from bench.records.record import Record
from bench.records.schema import READINGS, TABLES
from bench.records.store import open_record
from tests.records.record_makers import SAVING, make, reading, remark

OLD = Path(__file__).parent / "versions" / "1"
CELLS = len(READINGS.header)
NOT_AS_MEANT = "would not read back as it was meant: nothing was written"


@pytest.fixture
def record(tmp_path: Path) -> Record:
    record = make(tmp_path)
    record.save({"readings": [reading(4.39)], "log": [remark("first")]}, **SAVING)
    return record


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix == ".csv"}


def spoil(patch: pytest.MonkeyPatch, change: Callable[[bytes], bytes], table: str) -> None:
    """Let the writer of a table make one mistake."""
    add_rows = gate.add_rows

    def faulty(data: Any, sheet: Any, rows: Any) -> bytes:
        after = add_rows(data, sheet, rows)
        return change(after) if sheet.table.name == table else after

    patch.setattr(gate, "add_rows", faulty)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda data: data.replace(b",4.41,", b",4.14,"), NOT_AS_MEANT),
        (lambda data: data.replace(b",4.39,", b",4.93,"), NOT_AS_MEANT),
        (lambda data: data.replace(b"\n2,", b"\n3,"), NOT_AS_MEANT),
        (lambda data: data + data.splitlines(keepends=True)[-1].replace(b"2,", b"3,", 1), NOT_AS_MEANT),
        (lambda data: b"".join(data.splitlines(keepends=True)[:-1]), NOT_AS_MEANT),
        (lambda data: data.replace(b",4.41,", b",4.41,,"), f"has {CELLS + 1} cells; allowed is {CELLS}"),
        (lambda data: data.replace(b",4.41,", b",4;41,"), "is '4;41'"),
    ],
    ids=["a new number", "an old number", "its number", "one row more", "a row lost", "a cell more", "torn"],
)
def test_a_row_that_is_not_as_it_was_meant_is_not_written(
    record: Record, monkeypatch: pytest.MonkeyPatch, change: Callable[[bytes], bytes], words: str
):
    start = contents(record.folder)
    spoil(monkeypatch, change, "readings")
    with pytest.raises(RecordError) as caught:
        record.save({"readings": [reading(4.41)], "log": [remark("second")]}, **SAVING)
    assert words in str(caught.value)
    assert contents(record.folder) == start
    monkeypatch.undo()
    assert record.save({"readings": [reading(4.41)]}, **SAVING).rows == {"readings": (2,)}


def test_a_table_that_is_widened_keeps_its_old_rows_or_is_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    folder = Path(shutil.copytree(OLD, tmp_path / "saltmarsh-signal-31"))
    start = contents(folder)
    number = open_record(folder).rows("materials")[0]["material"].encode()
    spoil(monkeypatch, lambda data: data.replace(number, number + b"x", 1), "materials")
    with pytest.raises(RecordError, match=rf"materials\.csv: {NOT_AS_MEANT}"):
        open_record(folder).save({"log": [remark()]}, **SAVING)
    assert contents(folder) == start


def test_rows_go_on_from_the_last_number(record: Record):
    path, sheet = record.folder / "log.csv", record.sheet(TABLES["log"])
    row = dict(sheet.rows[-1].cells)
    gate.build_table(path.read_bytes(), sheet, [{**row, "row": "2"}])
    with pytest.raises(RecordError, match=NOT_AS_MEANT):
        gate.build_table(path.read_bytes(), sheet, [{**row, "row": "7"}])
