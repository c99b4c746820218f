"""The list of saves: no row changes silently, and a change on purpose is taken over with its reason."""

from __future__ import annotations

import hashlib
import json
import random
import shutil
from collections.abc import Callable, Mapping
from datetime import timedelta
from pathlib import Path

import pytest

from bench.errors import BadValue, RecordError
from bench.records.check import check_treatment
from bench.records.ledger import SAVES, SaveChain, read_entries, read_places, write_places
from bench.records.record import Record
from bench.records.restore import restore
from bench.records.restore_points import list_restore_points, make_restore_point
from bench.records.schema import SCHEMA_VERSION, TABLES
from bench.records.sheet import Sheet, add_rows, read_sheet
from bench.records.store import open_record
from bench.records.take_over import take_over
from tests.records.record_makers import AT, SAVING, make, reading, remark, step

HOW_MANY = 40  # of each kind here; the benchmark does 300
KEPT = "bench take-over"


@pytest.fixture
def record(tmp_path: Path) -> Record:
    record = make(tmp_path)
    for number in range(6):
        rows = {
            "readings": [
                reading(4.40 + number / 100),
                reading(4.1, place="spine edge", note='a "tear", wide'),
            ],
            "log": [remark(f"look {number}")],
            "steps": [step(step=f"s0{number}")],
        }
        record.save(rows, by="Ada Quill", at=AT + timedelta(minutes=number))
    assert check_treatment(record.folder) == []
    return record


def told(folder: Path) -> list[str]:
    return [str(fault) for fault in check_treatment(folder)]


# --- silent edits -----------------------------------------------------------------------------------


def change_a_digit(text: bytes, chance: random.Random) -> bytes:
    places = [k for k, char in enumerate(text) if chr(char).isdigit() and k > text.index(b"\n")]
    at = chance.choice(places)
    other = chance.choice([digit for digit in b"0123456789" if digit != text[at]])
    return text[:at] + bytes([other]) + text[at + 1 :]


def swap_two_rows(text: bytes, chance: random.Random) -> bytes:
    """Exchange what two rows say, each keeping its number."""
    header, *lines = text.decode().splitlines(keepends=True)
    first, second = sorted(chance.sample(range(len(lines)), 2))
    (a, *one), (b, *two) = lines[first].split(",", 1), lines[second].split(",", 1)
    lines[first], lines[second] = ",".join([a, *two]), ",".join([b, *one])
    return (header + "".join(lines)).encode()


def swap_two_lines(text: bytes, chance: random.Random) -> bytes:
    header, *lines = text.decode().splitlines(keepends=True)
    first, second = chance.sample(range(len(lines)), 2)
    lines[first], lines[second] = lines[second], lines[first]
    return (header + "".join(lines)).encode()


def flip_a_bit(text: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(text))
    return text[:at] + bytes([text[at] ^ (1 << chance.randrange(8))]) + text[at + 1 :]


def remove_the_last_row(text: bytes, chance: random.Random) -> bytes:
    return b"".join(text.splitlines(keepends=True)[:-1])


EDITS = [change_a_digit, swap_two_rows, swap_two_lines, flip_a_bit, remove_the_last_row]


@pytest.mark.parametrize("edit", EDITS)
def test_no_edit_is_silent(record: Record, edit: Callable[[bytes, random.Random], bytes]):
    chance = random.Random(20261129)
    for _ in range(HOW_MANY):
        path = record.folder / f"{chance.choice(['readings', 'log', 'steps'])}.csv"
        before = path.read_bytes()
        after = edit(before, chance)
        assert after != before
        path.write_bytes(after)
        assert told(record.folder), (path.name, after)
        path.write_bytes(before)
    assert told(record.folder) == []


@pytest.mark.parametrize("edit", [change_a_digit, flip_a_bit, remove_the_last_row])
def test_no_edit_of_the_list_of_saves_is_silent(record: Record, edit):
    chance = random.Random(20261130)
    path = record.folder / SAVES.file
    before = path.read_bytes()
    for _ in range(HOW_MANY):
        path.write_bytes(edit(before, chance))
        assert told(record.folder), path.read_bytes()
    path.write_bytes(before)
    assert told(record.folder) == []


def test_a_line_taken_out_of_the_list_is_told_even_if_no_row_depends_on_it(record: Record):
    """A restore writes no row, so that only the chain of digests tells that its line is gone."""
    make_restore_point(record.folder, at=AT, why="on-demand")
    restore(record.folder, by="M. Reed", at=AT, why="a try")
    record.save({"log": [remark("after it")]}, **SAVING)
    assert told(record.folder) == []
    path = record.folder / SAVES.file
    lines = path.read_bytes().splitlines(keepends=True)
    assert b",nothing,nothing," in lines[-2]
    path.write_bytes(b"".join([*lines[:-2], lines[-1]]))
    (difference,) = open_record(record.folder).differences()
    assert "does not fit the rest" in difference.what


def test_a_line_that_marks_fewer_rows_than_it_names_is_not_sound(record: Record):
    """Only a program with a fault could write it, for its digest is right."""
    chain = SaveChain(Sheet(SAVES, SAVES.header))
    (line,) = chain.add({("log", 1): "0" * 8}, save="a", by="M. Reed", saved_at=AT.isoformat())
    line["covers"] = "log 1-2"
    line["digest"] = recompute(line)
    (entry,) = read_entries(read_sheet(add_rows(None, Sheet(SAVES, SAVES.header), [line]), SAVES))
    assert not entry.is_sound


def test_a_difference_names_save_table_and_row_and_what_to_do(record: Record):
    path = record.folder / "readings.csv"
    save = record.rows("readings")[4]["save"]
    path.write_text(path.read_text().replace(",4.42,", ",4.43,"))
    assert told(record.folder) == [
        f"readings.csv row 5: row 5 of save {save}: not as they were saved: a cell was changed outside the "
        "workbook. Put the file back from a copy; or, if it was meant, say who did it and why, with "
        "“bench take-over”."
    ]
    assert open_record(record.folder).notice.startswith("This record is not as it was saved (readings 5).")


def test_a_table_from_an_older_copy_and_an_older_list_are_told(record: Record):
    older = {path.name: path.read_bytes() for path in record.folder.glob("*.csv")}
    saved = record.save({"log": [remark("one more")], "readings": [reading()]}, **SAVING)
    newer = {path.name: path.read_bytes() for path in record.folder.glob("*.csv")}
    (record.folder / "log.csv").write_bytes(older["log.csv"])
    assert any("log.csv row 7: row 7 of save" in line and "gone" in line for line in told(record.folder))
    (record.folder / "log.csv").write_bytes(newer["log.csv"])
    (record.folder / SAVES.file).write_bytes(older[SAVES.file])
    lines = told(record.folder)
    assert len(lines) == 2
    assert all(saved.save in line and "not in the list of saves" in line for line in lines)


def test_a_list_of_saves_that_was_emptied_or_lost_is_told(record: Record):
    path = record.folder / SAVES.file
    path.write_bytes(path.read_bytes().splitlines(keepends=True)[0])
    lines = told(record.folder)
    assert len(lines) == 1 + 6 * 3  # every save in every table that it wrote to
    assert all("not in the list of saves" in line for line in lines)
    assert "not as it was saved" in open_record(record.folder).notice
    path.unlink()
    assert any(line.startswith("saves.csv: the file is missing") for line in told(record.folder))
    assert open_record(record.folder).notice.startswith("saves.csv: the file is missing")


def test_a_table_sorted_by_a_spreadsheet_is_noted_and_reads_the_same(record: Record):
    path = record.folder / "log.csv"
    rows = record.rows("log")
    header, *lines = path.read_text().splitlines(keepends=True)
    path.write_text(header + "".join(reversed(lines)))
    assert record.rows("log") == rows
    (line,) = told(record.folder)
    assert "not in the order of their numbers" in line


def test_the_list_is_what_anybody_can_recompute(record: Record):
    """SHA-256 of the standard library over what the line says, as the schema describes it (FIPS 180-4)."""
    before = ""
    for row in open_record(record.folder).sheet(SAVES).rows:
        assert recompute({**row.cells, "before": before}) == row.cells["digest"]
        before = row.cells["digest"]


def recompute(line: Mapping[str, str]) -> str:
    told = ("row", "saved_at", "by", "save", "covers", "marks", "note", "before")
    text = json.dumps({name: line[name] for name in told}, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


# --- taken over -------------------------------------------------------------------------------------


def test_an_edit_on_purpose_is_taken_over_with_who_and_why(record: Record):
    path = record.folder / "readings.csv"
    path.write_text(path.read_text().replace(",4.42,", ",4.24,"))
    log = record.folder / "log.csv"
    log.write_bytes(remove_the_last_row(log.read_bytes(), random.Random(1)))
    tables = {name: (record.folder / name).read_bytes() for name in ("readings.csv", "log.csv")}
    taken = take_over(record.folder, by="M. Reed", at=AT, why="=digits turned; remark on the wrong item")
    assert {(each.table, each.rows) for each in taken} == {("readings", (5,)), ("log", (6,))}
    assert {name: (record.folder / name).read_bytes() for name in tables} == tables
    assert told(record.folder) == []
    last = open_record(record.folder).sheet(SAVES).rows[-1].values
    assert (last["by"], last["covers"]) == ("M. Reed", "log 6; readings 5")
    assert last["note"] == "=digits turned; remark on the wrong item"
    (point,) = list_restore_points(record.folder)
    assert point.why == "before-take-over"
    # From now on these rows are as they stand: another change is told again.
    path.write_text(path.read_text().replace(",4.24,", ",4.25,"))
    assert len(told(record.folder)) == 1
    saved = open_record(record.folder).save({"log": [remark("goes on")]}, **SAVING)
    assert saved.rows == {"log": (6,)}


def test_a_changed_list_of_saves_can_be_taken_over_too(record: Record):
    path = record.folder / SAVES.file
    path.write_text(path.read_text().replace(",Ada Quill,", ",Ada Quail,", 1))
    assert len(told(record.folder)) == 1
    take_over(record.folder, by="M. Reed", at=AT, why="a name was misspelt")
    assert told(record.folder) == []
    record.save({"log": [remark()]}, **SAVING)
    assert told(record.folder) == []
    # It was taken over as it stands: one more change of the same line is told.
    path.write_text(path.read_text().replace(",Ada Quail,", ",Ada Quall,", 1))
    assert len(told(record.folder)) == 1


def test_nothing_is_taken_over_without_a_reason_or_a_difference(record: Record):
    assert take_over(record.folder, by="M. Reed", at=AT, why="no difference") == ()
    assert list_restore_points(record.folder) == []
    with pytest.raises(BadValue, match="reason is empty; allowed is a sentence"):
        take_over(record.folder, by="M. Reed", at=AT, why=" ")


# --- the list itself --------------------------------------------------------------------------------


def test_places_are_written_in_short_and_read_back():
    places = [("log", 3), ("log", 4), ("log", 7), ("steps", 1)]
    assert read_places(write_places(places)) == tuple(places)
    for wrong in ("", "log", "log 3-", "diary 3", "log 1-999999999", "log 3;steps 1", "log ²"):
        assert read_places(wrong) is None


def test_a_save_of_many_rows_takes_several_lines(record: Record):
    record.save({"readings": [reading() for _ in range(2500)]}, **SAVING)
    assert [len(row.values["marks"].split()) for row in record.sheet(SAVES).rows[-3:]] == [1000, 1000, 500]
    assert told(record.folder) == []


# --- from before the list ---------------------------------------------------------------------------

VERSIONS = Path(__file__).parent / "versions"
FIRST_VERSION = pytest.mark.parametrize("old", ["1"], indirect=True)


@pytest.fixture(params=sorted(path.name for path in VERSIONS.iterdir()))
def old(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    return Path(shutil.copytree(VERSIONS / request.param, tmp_path / "saltmarsh-signal-31"))


def without_photographs(lines: list[str]) -> list[str]:
    """The pictures themselves are not kept with the tables of older versions."""
    return [line for line in lines if not line.startswith("photographs.csv")]


@FIRST_VERSION
def test_an_older_record_is_read_and_its_saves_are_checked_by_their_ids(old: Path):
    record = open_record(old)
    assert record.schema_version == 1
    assert record.differences() == []
    assert record.read("materials")["supplier"].isna().all()
    assert not (old / SAVES.file).exists()
    path = old / "readings.csv"
    path.write_bytes(change_a_digit(path.read_bytes(), random.Random(3)))
    (difference, *_) = open_record(old).differences()
    assert "not all as they were saved" in difference.what


@pytest.mark.slow
@FIRST_VERSION
@pytest.mark.parametrize("edit", [change_a_digit, swap_two_rows])
def test_no_edit_of_an_older_record_is_silent(old: Path, edit):
    chance = random.Random(20261201)
    for _ in range(HOW_MANY):
        path = old / f"{chance.choice(['readings', 'steps', 'plans', 'defects'])}.csv"
        before = path.read_bytes()
        path.write_bytes(edit(before, chance))
        opened = open_record(old)
        assert opened.differences() or opened.sheet(TABLES[path.stem]).faults, path.name
        path.write_bytes(before)


def test_the_first_save_brings_an_older_record_to_the_present_schema(old: Path):
    tables = {name: open_record(old).all_rows(name) for name in TABLES}
    before = {path.name: path.read_bytes() for path in old.glob("*.csv")}
    record = open_record(old)
    record.save({"materials": [{**MATERIAL, "supplier": "Wick & Daughters"}]}, **SAVING)
    again = open_record(old)
    assert again.schema_version == SCHEMA_VERSION
    assert again.notice == ""
    assert again.rows("materials")[-1]["supplier"] == "Wick & Daughters"
    assert again.rows("treatment")[0]["schema_version"] == SCHEMA_VERSION
    for name, rows in tables.items():
        assert [plain(row) for row in again.all_rows(name)][: len(rows)] == [plain(row) for row in rows]
    assert without_photographs(told(old)) == []
    (point,) = list_restore_points(old)
    assert point.why == f"before-schema-{SCHEMA_VERSION}"
    shutil.unpack_archive(point.path, old / "back")
    assert {path.name: path.read_bytes() for path in (old / "back").iterdir()} == before


@FIRST_VERSION
def test_what_was_changed_before_is_still_told_after_the_first_save(old: Path):
    path = old / "readings.csv"
    path.write_bytes(change_a_digit(path.read_bytes(), random.Random(3)))
    open_record(old).save({"log": [remark()]}, **SAVING)
    lines = [line for line in told(old) if KEPT in line]
    assert lines
    assert all("not in the list of saves" in line for line in lines)
    take_over(old, by="M. Reed", at=AT, why="a digit was wrong")
    assert not any(KEPT in line for line in told(old))


def test_a_description_saved_first_replaces_the_one_that_was_there(old: Path):
    record = open_record(old)
    row = {k: v for k, v in record.rows("treatment")[0].items() if k not in ("row", "saved_at", "by", "save")}
    record.save({"treatment": [{**row, "replaces": None, "note": "seen again"}]}, **SAVING)
    assert [row["note"] for row in record.rows("treatment")] == ["seen again"]
    assert without_photographs(told(old)) == []


MATERIAL = {"stage": "cleaning", "cycle": 1, "kind": "eraser", "material": "vinyl, grated", "lot": "7"}


def plain(row: dict[str, object]) -> dict[str, object]:
    """A row without what came later, blanks alike."""
    later = {column.name for table in TABLES.values() for column in table.columns if column.since > 1}
    return {k: None if v != v else v for k, v in row.items() if k not in later}


def test_a_table_that_cannot_be_read_whole_stops_the_migration(old: Path):
    path = old / "steps.csv"
    path.write_text(path.read_text() + "torn")
    before = {path.name: path.read_bytes() for path in old.iterdir() if path.is_file()}
    with pytest.raises(RecordError, match=r"steps\.csv"):
        open_record(old).save({"log": [remark()]}, **SAVING)
    assert {path.name: path.read_bytes() for path in old.iterdir() if path.suffix == ".csv"} == before
