"""Faults between rows and between tables, all at once."""

from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import pytest

from bench.errors import NotFound
from bench.records.check import check_records, check_treatment
from bench.records.faults import Note, only_faults
from bench.records.record import Record
from bench.records.schema import SCHEMA_VERSION, TABLES
from bench.records.sheet import format_line
from tests.records.record_makers import AT, ITEM, SAVING, by_themselves, make, reading, remark, step

STAPLE = {"staple": "upper", "from_head_mm": 60, "from_spine_mm": 8, "prong": "flush", "rust": 1}
DEFECT = {
    "defect": "d1",
    "term": "cockled",
    "face": "front cover, outside",
    "severity": 2,
    "state": "stable",
    "helped_by": "humidify and press",
    "limits_outcome": "no",
    "in_scope": "yes",
    "moment": "before",
    "cycle": 0,
}
PLAN = {"plan": "buffering-1", "stage": "buffering", "cycle": 1, "quantity": "sheets"}


@pytest.fixture
def record(tmp_path: Path) -> Record:
    return make(tmp_path / "records", staples=[STAPLE])


def said(record: Record) -> list[str]:
    return [str(fault) for fault in by_themselves(check_treatment(record.folder))]


def append_by_hand(record: Record, table: str, **cells: str) -> None:
    """Add a row as somebody might with a text editor."""
    row = {"replaces": "", "saved_at": AT.isoformat(), "by": "Ada Quill", "save": "hand"} | cells
    with (record.folder / f"{table}.csv").open("a", encoding="utf-8", newline="") as stream:
        stream.write(format_line(row.get(name, "") for name in TABLES[table].header))


def test_a_whole_treatment_has_no_fault(record: Record):
    photograph = record.folder / "photographs" / "cover.jpg"
    photograph.parent.mkdir()
    photograph.write_bytes(b"picture")
    image = {
        "stage": "intake",
        "view": "front cover",
        "file": photograph.relative_to(record.folder),
        "sha256": sha256(b"picture").hexdigest(),
    }
    rows = {
        "readings": [reading(place="upper staple"), reading(place="over the Upper staple"), reading()],
        "defects": [DEFECT, DEFECT | {"moment": "after", "severity": 1, "cycle": 1}],
        "plans": [
            PLAN | {"value": 7, "unit": "dimensionless"},
            *[PLAN | {"quantity": "caution", "words": "w"}] * 2,
        ],
        "steps": [step(actual_start=AT, actual_end=AT)],
        "photographs": [image],
        "materials": [
            {"stage": "buffering", "cycle": 1, "kind": "interleaf", "material": "copy paper 24 lb"}
        ],
        "tests": [{"test": "ink", "result": "not done", "taken_at": AT}],
        "decisions": [
            {"stage": "intake", "cycle": 0, "decision": "treat", "decided_at": AT, "decided_by": "Ada Quill"}
        ],
    }
    record.save(rows, **SAVING)
    assert check_treatment(record.folder) == []


def test_a_row_that_replaces_nothing_is_told(record: Record):
    record.save({"log": [remark(), remark()]}, **SAVING)
    common = {"stage": "intake", "cycle": "0", "at": AT.isoformat(), "remark": "x"}
    append_by_hand(record, "log", row="3", replaces="9", **common)
    append_by_hand(record, "log", row="4", replaces="4", **common)
    append_by_hand(record, "log", row="5", replaces="1", **common)
    append_by_hand(record, "log", row="6", replaces="1", **common)
    assert said(record) == [
        "log.csv row 3 column replaces: is 9; allowed is an earlier row of this table. Name the row it "
        "corrects.",
        "log.csv row 4 column replaces: is 4; allowed is an earlier row of this table. Name the row it "
        "corrects.",
        "log.csv row 6 column replaces: is 1, which row 5 replaced already; allowed is a current row. Let it "
        "replace row 5 instead.",
    ]


def test_a_reading_over_a_staple_that_nobody_entered_is_told(record: Record):
    record.save({"readings": [reading(place="lower staple")]}, **SAVING)
    assert said(record) == [
        "readings.csv row 1 column place: is “lower staple”, a staple that is not in staples.csv; allowed is "
        "upper. Enter the staple, or mend its name."
    ]


def test_a_staple_below_the_tail_is_told(record: Record):
    record.save({"staples": [STAPLE | {"staple": "lower", "from_head_mm": 300}]}, **SAVING)
    assert said(record) == [
        "staples.csv row 2 column from_head_mm: is 300; allowed is at most the height of the item, 260 mm. "
        "Measure from the head edge."
    ]


def test_a_photograph_that_went_or_changed_is_told(record: Record):
    for name in ("a.jpg", "b.jpg"):
        (record.folder / name).write_bytes(name.encode())
    image = {"stage": "intake", "view": "front cover"}
    rows = [image | {"file": n, "sha256": sha256(n.encode()).hexdigest()} for n in ("a.jpg", "b.jpg")]
    record.save({"photographs": rows}, **SAVING)
    assert said(record) == []
    (record.folder / "a.jpg").unlink()
    (record.folder / "b.jpg").write_bytes(b"edited")
    edited = sha256(b"edited").hexdigest()
    assert said(record) == [
        "photographs.csv row 1 column file: is a.jpg, which cannot be read (No such file or directory); "
        "allowed is a file in the folder of the treatment. Put the file back, or save a row with its new "
        "place.",
        f"photographs.csv row 2 column sha256: is not that of b.jpg as it is now, {edited[:12]}…; "
        f"allowed is the checksum taken in, {rows[1]['sha256'][:12]}…. Put the untouched file back; an "
        "edited one is a photograph of its own.",
    ]


def test_a_plan_of_an_unknown_stage_is_told(record: Record):
    cells = {"plan": "steaming-1", "stage": "steaming", "cycle": "1", "quantity": "x", "words": "y"}
    append_by_hand(record, "plans", row="1", **cells)
    assert said(record) == [
        "plans.csv row 1 column stage: is 'steaming'; allowed is intake, cleaning, humidity, buffering, "
        "pressing, "
        "review or writeup. Choose one of these."
    ]


def test_two_current_rows_for_one_thing_are_told(record: Record):
    record.save(
        {
            "staples": [STAPLE],
            "steps": [step(), step()],
            "defects": [DEFECT, DEFECT],
            "plans": [PLAN | {"value": value, "unit": "dimensionless"} for value in (7, 8)],
        },
        **SAVING,
    )
    words = said(record)
    assert [line.split(":")[0] for line in words] == [
        "staples.csv row 2 column staple",
        "defects.csv row 2 column defect",
        "plans.csv row 2 column plan",
        "steps.csv row 2 column step",
    ]
    assert words[3].endswith(
        "is “s01” as in row 1, and both are current; allowed is one current row for each. Save a row "
        "that replaces "
        "row 1, or rename one of them."
    )
    record.save({"steps": [step(replaces=1, name="press again"), step(replaces=2, step="s02")]}, **SAVING)
    assert not any("steps.csv" in line for line in said(record))


def test_two_current_versions_of_the_item_are_told(record: Record):
    path = record.folder / "treatment.csv"
    header, row = path.read_text().splitlines()
    path.write_text(f"{header}\n{row}\n2{row[1:].replace('lantern-1', 'lantern-2')}\n")
    assert said(record)[:2] == [
        "treatment.csv column treatment_id: is lantern-1 and lantern-2; allowed is one id in all rows. "
        "Put the first "
        "one back.",
        "treatment.csv row 1: is current beside row 2; allowed is one current version of the item. Save "
        "a version "
        "that replaces row 1.",
    ]
    path.write_text(f"{header}\n")
    assert said(record) == [
        "treatment.csv: has no row; allowed is one current version of the item. Describe the item."
    ]


def test_what_is_odd_is_a_note_and_no_fault(record: Record):
    record.save({"log": [remark(at=AT + timedelta(hours=1)), remark(), remark()]}, **SAVING)
    record.save({"defects": [DEFECT | {"moment": "after"}]}, **SAVING)
    path = record.folder / "log.csv"
    lines = path.read_text().splitlines(keepends=True)
    path.write_text("".join(lines[:2] + lines[3:]))
    copy = record.folder.rename(record.folder.parent / "copy")
    found = by_themselves(check_treatment(copy))
    assert only_faults(found) == []
    assert all(isinstance(fault, Note) for fault in found)
    assert [str(note) for note in found] == [
        "treatment.csv row 1 column treatment_id: is lantern-1, but the folder is called copy; allowed "
        "is the same "
        "name. Nothing need be done for a copy made on purpose.",
        "defects.csv row 1 column defect: is “d1”, seen after but never before treatment; allowed is an "
        "id listed "
        "before. Mend the id, or report it as new damage in the note.",
        "log.csv column row: row 2 is missing: somebody took it out of the file. Rows are corrected by a "
        "later row, never taken out.",
        "log.csv row 1 column at: is 2026-11-25T11:40+01:00, later than the row was saved; allowed is "
        "2026-11-25T10:40+01:00 or earlier. Check the date.",
    ]


@pytest.mark.parametrize(
    ("quantity", "meant"),
    [("thicknes", "did you mean thickness?"), ("widht", "did you mean width?"), ("pH", "those read are")],
)
def test_a_quantity_that_no_stage_reads_is_noted(record: Record, quantity: str, meant: str):
    record.save({"readings": [reading(), reading(quantity=quantity)]}, **SAVING)
    (note,) = check_treatment(record.folder)
    assert isinstance(note, Note)
    assert f"“{quantity}” is not a quantity that any stage reads; {meant}" in str(note)


def test_a_folder_of_records_is_checked_whole(record: Record):
    parent = record.folder.parent
    make(parent, "second")
    (parent / "second" / "log.csv").write_text("row;replaces;saved_at\n")
    (parent / "stray").mkdir()
    (parent / "register.csv").write_text("treatment_id\n")
    found = check_records(parent)
    assert list(found) == ["lantern-1", "second", "stray"]
    assert found["lantern-1"] == []
    assert [str(fault)[:36] for fault in found["second"]] == ["log.csv: is separated by semicolons,"]
    assert [str(fault) for fault in found["stray"]] == [
        "treatment.csv: is missing; allowed is a first table in every folder of records. Put the table "
        "back from a "
        "copy; if this is no treatment, move the folder elsewhere."
    ]
    with pytest.raises(
        NotFound, match=r"folder of records is '.*nowhere'; allowed is a folder with treatments in it"
    ):
        check_records(parent / "nowhere")


def test_a_check_writes_nothing(record: Record):
    before = {path.name: path.stat().st_mtime_ns for path in record.folder.iterdir()}
    check_treatment(record.folder)
    assert {path.name: path.stat().st_mtime_ns for path in record.folder.iterdir()} == before


def test_a_record_of_a_newer_schema_is_noted(record: Record):
    path = record.folder / "treatment.csv"
    path.write_text(
        path.read_text().replace(f"lantern-1,{SCHEMA_VERSION},", f"lantern-1,{SCHEMA_VERSION + 1},")
    )
    (note,) = check_treatment(record.folder)
    assert isinstance(note, Note)
    assert f"is {SCHEMA_VERSION + 1}: a newer program made this record" in str(note)
    assert ITEM["title"] in path.read_text()


def test_sheets_that_do_not_add_up_are_a_fault_and_a_plan_out_of_date_a_note(record: Record):
    """A record whose press plan takes ten sheets out of nine is not sound."""
    count = {"unit": "dimensionless", "cycle": 1}
    put = count | {"plan": "buffering-1", "stage": "buffering", "quantity": "sheets", "value": 9}
    taken = count | {"plan": "pressing-1", "stage": "pressing", "quantity": "interleaves", "value": 10}
    record.save({"plans": [put, taken]}, **SAVING)
    (fault,) = check_treatment(record.folder)
    assert not isinstance(fault, Note)
    assert "9 sheets go in by the buffering plan, but the press plan takes 10 out" in fault.what
    record.save({"plans": [taken | {"value": 9, "replaces": 2}]}, **SAVING)
    assert check_treatment(record.folder) == []
    kept = {"plan": "pressing-1", "stage": "pressing", "cycle": 1, "quantity": "rests on: item: width"}
    record.save({"plans": [kept | {"words": "150 mm"}]}, **SAVING)
    notes = check_treatment(record.folder)
    assert [isinstance(note, Note) for note in notes] == [True]
    assert "the description of the item had width 5.906 in (now 6.693 in)" in notes[0].what


def test_a_consent_of_a_year_to_come_and_late_readings_of_intake_are_noted(record: Record):
    agreed = {"stage": "intake", "cycle": 0, "decision": "consent", "decided_at": AT, "decided_by": "R. Vane"}
    record.save(
        {
            "decisions": [agreed | {"evidence": "in writing; agreed on 2031-03-02"}],
            "steps": [step(stage="humidity", actual_start=AT)],
            "readings": [reading(taken_at=AT + timedelta(days=2))],
        },
        by="Ada Quill",
        at=AT + timedelta(days=3),
    )
    said = [str(note) for note in check_treatment(record.folder)]
    assert any("names 2031-03-02, later than the row was saved" in words for words in said)
    assert any("after the treatment began" in words for words in said)
