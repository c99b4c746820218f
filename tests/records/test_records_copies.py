"""What comes from another copy of a folder, or from another program, spoils nothing here."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from bench.errors import RecordError
from bench.records.check import check_treatment
from bench.records.journal import JOURNAL
from bench.records.record import Record
from bench.records.restore import restore
from bench.records.restore_points import make_restore_point
from bench.records.store import create_treatment, open_record
from tests.records.record_makers import AT, ITEM, SAVING, make, names_in, reading, remark
from tests.records.test_records_crash import full, tables_kept_out

OLD = Path(__file__).parent / "versions" / "1"
ASIDE = "unfinished_save_aside_1.json:"


@pytest.fixture
def record(tmp_path: Path) -> Record:
    record = make(tmp_path)
    record.save({"readings": [reading(4.39)], "log": [remark("first")]}, **SAVING)
    return record


def tables(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.glob("*.csv")}


def journal_of(record: Record, change: Any = None) -> bytes:
    """The journal that a save leaves which cannot reach its tables, in a copy of the folder."""
    copy = Path(shutil.copytree(record.folder, record.folder.parent / "copy"))
    with tables_kept_out(full):
        open_record(copy).save({"readings": [reading(4.41)], "log": [remark("there")]}, **SAVING)
    content = json.loads((copy / JOURNAL).read_bytes())
    shutil.rmtree(copy)
    if change:
        change(content)
    return json.dumps(content).encode()


def test_an_unfinished_save_of_another_copy_is_kept_aside_and_told(record: Record):
    stray = journal_of(record)
    record.save({"readings": [reading(4.40)]}, **SAVING)  # this copy went on meanwhile
    before = tables(record.folder)
    (record.folder / JOURNAL).write_bytes(stray)
    assert open_record(record.folder, recover=False).read("readings")["value"].tolist() == [4.39, 4.40]
    opened = open_record(record.folder)
    assert opened.notice.startswith(
        "unfinished_save_aside_1.json: a save that was broken off in another copy"
    )
    assert tables(record.folder) == before
    assert (record.folder / "unfinished_save_aside_1.json").read_bytes() == stray
    assert not (record.folder / JOURNAL).exists()
    (note,) = check_treatment(record.folder)
    assert str(note).startswith(f"{ASIDE} a save that was broken off in another copy")
    # The next one lies beside it, and work goes on.
    (record.folder / JOURNAL).write_bytes(stray)
    saved = record.save({"log": [remark("goes on")]}, **SAVING)
    assert "unfinished_save_aside_2.json" in saved.notice
    assert len(record.read("log")) == 2


def test_an_unfinished_save_that_fits_by_its_numbers_alone_is_kept_aside_too(record: Record):
    """Both copies went on with one row of the log: the numbers fit, the save before does not."""
    copy = Path(shutil.copytree(record.folder, record.folder.parent / "copy"))
    other = open_record(copy)
    other.save({"steps": [], "log": [remark("only there")]}, **SAVING)
    with tables_kept_out(full):
        other.save({"readings": [reading(4.41)]}, **SAVING)
    stray = (copy / JOURNAL).read_bytes()
    shutil.rmtree(copy)
    record.save({"log": [remark("only here")]}, **SAVING)
    (record.folder / JOURNAL).write_bytes(stray)
    before = tables(record.folder)
    notice = open_record(record.folder).notice
    assert "does not fit its tables (it was made after another save than the last one in saves.csv)" in notice
    assert tables(record.folder) == before


def test_an_unfinished_restore_of_another_copy_is_kept_aside_too(record: Record):
    """It replaces whole tables, and may do so only with those that it was to replace."""
    copy = Path(shutil.copytree(record.folder, record.folder.parent / "copy"))
    make_restore_point(copy, at=AT, why="on-demand")
    open_record(copy).save({"log": [remark("to be undone")]}, **SAVING)
    with tables_kept_out(full):
        restore(copy, by="M. Reed", at=AT, why="a try")
    stray = (copy / JOURNAL).read_bytes()
    shutil.rmtree(copy)
    record.save({"log": [remark("only here")]}, **SAVING)
    (record.folder / JOURNAL).write_bytes(stray)
    before = tables(record.folder)
    assert len(open_record(record.folder, recover=False).read("log")) == 2
    assert "is not the one that was to be replaced" in open_record(record.folder).notice
    assert tables(record.folder) == before


@pytest.mark.parametrize(
    ("column", "text"), [("saved_at", "yesterday"), ("taken_at", "25:61"), ("value", "4,41"), ("row", "two")]
)
def test_an_unfinished_save_that_makes_no_sense_is_not_applied(record: Record, column: str, text: str):
    def change(content: Any) -> None:
        content["rows"]["readings"][0][column] = text

    (record.folder / JOURNAL).write_bytes(journal_of(record, change))
    before = tables(record.folder)
    assert "kept aside" not in open_record(record.folder, recover=False).notice
    assert open_record(record.folder).notice.startswith("unfinished_save_aside_1.json: ")
    assert tables(record.folder) == before
    assert len(record.read("readings")) == 1


def test_an_unfinished_save_of_the_schema_before_is_still_put_in(record: Record):
    old = Path(shutil.copytree(OLD, record.folder.parent / "saltmarsh"))
    rows = {"log": [{**dict.fromkeys(HEADER_1, ""), **LATE}]}
    (old / JOURNAL).write_text(json.dumps({"schema_version": 1, "save": "0a1b2c3d", "rows": rows}))
    opened = open_record(old)
    assert opened.rows("log")[-1]["remark"] == "left waiting"
    assert not (old / JOURNAL).exists()


HEADER_1 = [
    "row",
    "replaces",
    "saved_at",
    "by",
    "save",
    "stage",
    "cycle",
    "at",
    "quantity",
    "value",
    "unit",
    "remark",
]
LATE = {
    "row": str(len((OLD / "log.csv").read_text().splitlines())),
    "saved_at": "2026-03-12T10:00:00+01:00",
    "by": "M. Tallow",
    "save": "0a1b2c3d",
    "stage": "humidity",
    "cycle": "1",
    "at": "2026-03-12T10:00:00+01:00",
    "remark": "left waiting",
}


@pytest.mark.parametrize("number", ["200000000", "9" * 15, "9" * 16])
def test_a_row_of_an_absurd_number_is_one_fault_and_nothing_is_saved_after_it(record: Record, number: str):
    path = record.folder / "log.csv"
    path.write_text(path.read_text().replace("\n1,", f"\n{number},"))
    faults = [str(fault) for fault in check_treatment(record.folder)]
    assert any(f"column row: is {number}; allowed" in line or f"is '{number}'" in line for line in faults)
    with pytest.raises(RecordError, match="allowed is a whole number"):
        record.save({"log": [remark()]}, **SAVING)


def test_a_table_that_is_a_link_stays_one(record: Record, tmp_path: Path):
    target = tmp_path / "elsewhere.csv"
    path = record.folder / "log.csv"
    path.rename(target)
    path.symlink_to(target)
    record.save({"log": [remark("second")]}, **SAVING)
    assert path.is_symlink()
    assert target.read_text().count("\n") == 3
    assert check_treatment(record.folder) == []


def test_temporary_files_of_other_programs_are_left_alone(record: Record):
    (record.folder / ".sync.tmp").write_text("of another program")
    (record.folder / ".log.csv.tmp").write_text("left by a save that was killed")
    record.save({"log": [remark()]}, **SAVING)
    assert ".sync.tmp" in names_in(record.folder)
    assert ".log.csv.tmp" not in names_in(record.folder)


def test_a_new_treatment_leaves_the_folders_of_others_alone(record: Record):
    parent = record.folder.parent
    (parent / ".new-of-another-program").mkdir()
    (parent / ".new-of-another-program" / "file").write_text("x")
    (parent / ".new-second").mkdir()  # this one was cut short
    create_treatment(parent, "second", {"treatment": [ITEM]}, **SAVING)
    assert (parent / ".new-of-another-program" / "file").exists()
    assert not (parent / ".new-second").exists()
