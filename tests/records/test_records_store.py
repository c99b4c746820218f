"""Create, save, read, correct; what comes back is what went in."""

import contextlib
import csv
import io
import shutil
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from bench.errors import BadValue, Fault, NotFound, RecordError
from bench.records import disk, schema
from bench.records.faults import NewRowFault
from bench.records.record import Record
from bench.records.schema import SCHEMA_VERSION
from bench.records.sheet import format_line
from bench.records.store import create_treatment, open_record
from bench.units import Q_
from tests.records.record_makers import AT, ITEM, SAVING, make, names_in, reading, remark, step


@pytest.fixture
def record(tmp_path: Path) -> Record:
    return make(tmp_path / "records")


def sentence(caught: pytest.ExceptionInfo[RecordError]) -> str:
    return str(caught.value)


# --- creating -----------------------------------------------------------------------------------


def test_a_new_treatment_has_every_table_with_its_header(record: Record):
    made = [table for table in schema.FILES.values() if not table.may_lack]
    assert names_in(record.folder) == {table.file for table in made}
    for table in made:
        first = (record.folder / table.file).read_bytes().split(b"\n")[0].decode()
        assert first == ",".join(table.header)
    item = record.read("treatment").iloc[0]
    assert (item["treatment_id"], item["schema_version"], item["count"]) == ("lantern-1", SCHEMA_VERSION, 50)
    assert record.treatment_id == "lantern-1"


def test_an_id_is_taken_once_whatever_its_letters(record: Record):
    before = (record.folder / "treatment.csv").read_bytes()
    for again in ("lantern-1", "Lantern-1"):
        with pytest.raises(BadValue, match=f"treatment id is '{again}'; allowed is an id that is not yet in"):
            make(record.folder.parent, again)
    assert (record.folder / "treatment.csv").read_bytes() == before
    assert names_in(record.folder.parent) == {"lantern-1", ".lock"}


@pytest.mark.parametrize(
    "bad", ["", "../up", "a/b", ".hidden", "con", "LPT1", "a b", "é", "-x", "x" * 61, "a\n"]
)
def test_an_id_that_is_no_safe_folder_name_is_refused(tmp_path: Path, bad: str):
    with pytest.raises(BadValue, match=r"name of the folder is .* Choose one such as"):
        make(tmp_path, bad)
    assert names_in(tmp_path) == set()


def test_a_name_that_one_system_keeps_for_itself_is_told_as_such(tmp_path: Path):
    with pytest.raises(BadValue, match="'aux', a name that Windows keeps for itself; allowed is any other"):
        make(tmp_path, "aux")


def test_a_wrong_first_row_leaves_no_folder(tmp_path: Path):
    with pytest.raises(RecordError, match=r"treatment\.csv new row 1 column width_mm: is -3; allowed"):
        create_treatment(tmp_path / "records", "a", {"treatment": [{**ITEM, "width_mm": -3}]}, **SAVING)
    assert names_in(tmp_path) == set()


def test_a_treatment_is_described_in_one_row(tmp_path: Path):
    with pytest.raises(BadValue, match="row of the table treatment is given 0 times; allowed is one, for a"):
        create_treatment(tmp_path, "a", {}, **SAVING)
    with pytest.raises(BadValue, match="is 'b'; allowed is one, for a"):
        create_treatment(tmp_path, "a", {"treatment": [{**ITEM, "treatment_id": "b"}]}, **SAVING)


def test_what_a_kill_left_of_a_creation_is_cleared_by_the_next(tmp_path: Path):
    (tmp_path / ".new-lantern-1").mkdir()
    (tmp_path / ".new-lantern-1" / "treatment.csv").write_text("half")
    record = make(tmp_path)
    assert record.read("treatment")["title"].tolist() == ["Lantern Annual"]
    assert names_in(tmp_path) == {"lantern-1", ".lock"}


def test_a_folder_without_a_treatment_is_not_opened(tmp_path: Path):
    with pytest.raises(NotFound, match=r"Choose a folder that holds treatment\.csv"):
        open_record(tmp_path)
    with pytest.raises(NotFound):
        open_record(tmp_path / "nowhere")


# --- saving and reading -------------------------------------------------------------------------


def test_a_save_numbers_its_rows_and_stamps_them(record: Record):
    saved = record.save({"readings": [reading(4.40), reading(4.42)], "log": [remark()]}, **SAVING)
    assert saved.rows == {"readings": (1, 2), "log": (1,)}
    assert str(saved) == f"saved 2 rows to readings, 1 row to log in {record.folder}"
    frame = record.read("readings")
    assert frame["value"].tolist() == [4.40, 4.42]
    assert frame["saved_at"].tolist() == [AT, AT]
    assert set(frame["save"]) == set(record.read("log")["save"]) == {saved.save}
    assert record.save({"readings": [reading()]}, **SAVING).rows == {"readings": (3,)}


def test_columns_are_typed_and_blanks_are_missing(record: Record):
    record.save({"readings": [reading(replicate=2), reading(limit=0.02)]}, **SAVING)
    frame = record.read("readings")
    assert frame["replicate"].dtype == "Int64"
    assert frame["limit"].dtype == "float64"
    assert frame["place"].dtype == "str"
    assert frame.isna()[["replicate", "limit", "note"]].to_numpy().tolist() == [
        [False, True, True],
        [True, False, True],
    ]
    assert frame["taken_at"][0] == AT
    assert frame["taken_at"][0].utcoffset() == timedelta(hours=1)
    empty = record.read("staples")
    assert len(empty) == 0
    assert empty["rust"].dtype == "Int64"


def test_times_keep_their_own_offsets(record: Record):
    texts = ["2026-03-29T01:30:00+01:00", "2026-03-29T03:30:00.25+02:00", "2026-03-29T00:30Z"]
    record.save({"readings": [reading(taken_at=text) for text in texts]}, **SAVING)
    assert record.read("readings")["taken_at"].tolist() == [datetime.fromisoformat(text) for text in texts]


def test_values_from_numpy_and_pandas_are_taken(record: Record):
    row = reading(
        np.float64(4.41),
        cycle=np.int64(0),
        replicate=2.0,
        limit=pd.NA,
        note=np.nan,
        taken_at=pd.Timestamp(AT),
    )
    record.save({"readings": [row]}, **SAVING)
    back = record.read("readings").iloc[0]
    assert (back["value"], back["replicate"], back["taken_at"]) == (4.41, 2, AT)
    assert pd.isna(back["limit"])
    assert pd.isna(back["note"])


def test_a_correction_replaces_and_the_history_keeps_both(record: Record):
    record.save({"readings": [reading(44.1), reading(4.42)]}, **SAVING)
    record.save({"readings": [reading(4.41, replaces=1)]}, **SAVING)
    assert record.read("readings")["row"].tolist() == [2, 3]
    assert [row["value"] for row in record.all_rows("readings")] == [44.1, 4.42, 4.41]
    record.save({"readings": [reading(4.43, replaces=3)]}, **SAVING)
    assert record.read("readings")["value"].tolist() == [4.42, 4.43]


def test_a_row_is_replaced_once_and_the_refusal_names_who_did_it(record: Record):
    record.save({"readings": [reading(44.1)]}, **SAVING)
    other = open_record(record.folder)
    other.save({"readings": [reading(4.41, replaces=1)]}, by="Ben Tully", at=AT)
    before = (record.folder / "readings.csv").read_bytes()
    with pytest.raises(RecordError) as caught:
        record.save({"readings": [reading(4.40, replaces=1)], "log": [remark()]}, **SAVING)
    assert sentence(caught) == (
        "readings.csv new row 1 column replaces: is 1, which row 2 replaced already, saved by Ben Tully at "
        "2026-11-25T10:40:00+01:00; allowed is a current row. Read the table again and replace row 2."
    )
    assert (record.folder / "readings.csv").read_bytes() == before
    assert len(record.read("log")) == 0


def test_a_row_that_is_not_there_cannot_be_replaced(record: Record):
    record.save({"readings": [reading()]}, **SAVING)
    rows = {"readings": [reading(replaces=7)], "log": [remark(replaces=1)]}
    with pytest.raises(RecordError) as caught:
        record.save(rows, **SAVING)
    assert "readings.csv new row 1 column replaces: is 7; allowed is a row from 1 to 1." in sentence(caught)
    assert "log.csv new row 1 column replaces: is 1; allowed is blank while the table is empty." in sentence(
        caught
    )
    with pytest.raises(RecordError, match="is 1 in two new rows; allowed is each row replaced once"):
        record.save({"readings": [reading(replaces=1), reading(replaces=1)]}, **SAVING)


def test_a_new_version_of_the_item_replaces_the_one_last_seen(record: Record):
    other = open_record(record.folder)
    record.save({"treatment": [{**ITEM, "title": "Lantern Annual 3", "replaces": np.nan}]}, **SAVING)
    assert record.read("treatment")["title"].tolist() == ["Lantern Annual 3"]
    assert len(record.all_rows("treatment")) == 2
    with pytest.raises(RecordError, match="is 1, which row 2 replaced already, saved by Ada Quill"):
        other.save({"treatment": [{**ITEM, "title": "Lantern Annual 4"}]}, by="Ben Tully", at=AT)


def test_the_same_work_gives_the_same_bytes(tmp_path: Path):
    folders = [make(tmp_path / name).folder for name in "ab"]
    for folder in folders:
        open_record(folder).save({"readings": [reading()]}, **SAVING)
    first, second = ((folder / "readings.csv").read_bytes() for folder in folders)
    assert first == second


def test_equal_saves_get_ids_of_their_own(record: Record):
    saves = [record.save({"log": [remark()]}, **SAVING).save for _ in range(20)]
    assert len(set(saves)) == 20


def test_other_notebooks_are_heard_of(record: Record):
    other = open_record(record.folder)
    other.save({"readings": [reading()] * 3, "log": [remark()]}, by="Ben Tully", at=AT)
    saved = record.save({"log": [remark()]}, **SAVING)
    assert saved.rows == {"log": (2,)}
    assert [str(news) for news in saved.news] == [
        "another notebook saved 3 rows to readings (by Ben Tully)",
        "another notebook saved 1 row to log (by Ben Tully)",
    ]
    assert saved.news[0].rows == (1, 2, 3)
    assert record.save({"log": [remark()]}, **SAVING).news == ()
    other.read("log")
    assert other.save({"log": [remark()]}, by="Ben Tully", at=AT).news == ()


def test_a_table_is_asked_for_by_its_name(record: Record):
    for ask in (record.read, record.all_rows):
        with pytest.raises(NotFound, match="table is 'reading'; allowed is treatment, staples, readings"):
            ask("reading")


# --- earlier bytes ------------------------------------------------------------------------------


def rewritten(record: Record, change) -> bytes:
    path = record.folder / "readings.csv"
    path.write_bytes(change(path.read_bytes()))
    return path.read_bytes()


def reorder(data: bytes) -> bytes:
    lines = csv.reader(io.StringIO(data.decode(), newline=""))
    return "".join(format_line(reversed(cells)) for cells in lines).encode()


@pytest.mark.parametrize(
    ("change", "glue"),
    [
        (lambda data: b"\xef\xbb\xbf" + data, b""),
        (lambda data: data.replace(b"\n", b"\r\n"), b""),
        (lambda data: data.replace(b"text block", b'"text block"').replace(b"4.41", b" 4.410 "), b""),
        (reorder, b""),
        (lambda data: data + b"\n,,,,\n\n", b""),
        (lambda data: data.rstrip(b"\n"), b"\n"),
    ],
    ids=["byte-order mark", "CRLF", "quoted and padded", "column order", "empty lines", "no line end"],
)
def test_what_a_spreadsheet_may_do_is_read_and_never_reformatted(record: Record, change, glue: bytes):
    record.save({"readings": [reading(), reading(note='a "new"\ntear, wide')]}, **SAVING)
    before = rewritten(record, change)
    assert record.read("readings")["value"].tolist() == [4.41, 4.41]
    saved = record.save({"readings": [reading(4.5)]}, **SAVING)
    after = (record.folder / "readings.csv").read_bytes()
    assert saved.rows == {"readings": (3,)}
    assert after.startswith(before + glue)
    assert after.endswith(b"\r\n" if b"\r\n" in before else b"\n")
    assert record.read("readings")["value"].tolist() == [4.41, 4.41, 4.5]


def test_permissions_of_a_table_stay(record: Record):
    path = record.folder / "readings.csv"
    path.chmod(0o640)
    record.save({"readings": [reading()]}, **SAVING)
    assert path.stat().st_mode & 0o777 == 0o640


# --- refusing before writing ----------------------------------------------------------------------

REFUSED = {
    "negative thickness": (
        {"readings": [reading(-4.41)]},
        "value: is -4.41 mm of thickness; allowed is 0.001 to 100 mm",
    ),
    "absurd thickness": (
        {"readings": [reading(173.5)]},
        "value: is 173.5 mm of thickness; allowed is 0.001 to 100 mm",
    ),
    "5500 % RH": (
        {"readings": [reading(5500, quantity="humidity", unit="percent")]},
        "value: is 5500 percent of humidity; allowed is 0 to 100 %",
    ),
    "wrong kind of unit": (
        {"readings": [reading(unit="g")]},
        "unit: is 'g'; allowed is mm or thou or um or cm or inch",
    ),
    "a look-alike unit": ({"readings": [reading(4.4, unit="mil")]}, "for a thickness. Write thou."),
    "a sign for a unit": ({"readings": [reading(98, quantity="humidity", unit="%")]}, "Write percent."),
    "decimal comma": ({"readings": [reading("4,41")]}, "value: is '4,41', with a decimal comma"),
    "not a number": ({"readings": [reading("thick")]}, "value: is 'thick'; allowed is a number"),
    "infinite": ({"readings": [reading(float("inf"))]}, "value: is 'inf'; allowed is a number"),
    "true": ({"readings": [reading(True)]}, "value: is True, of the kind bool"),
    "quantity": (
        {"readings": [reading(Q_(4.41, "mm"))]},
        "value: is the quantity 4.41 mm; allowed is a number",
    ),
    "blank": (
        {"readings": [reading(None)]},
        "value: is blank; allowed is a number with a decimal point. Fill it in.",
    ),
    "broken integer": (
        {"readings": [reading(cycle=1.5)]},
        "cycle: is '1.5'; allowed is a whole number, 0 to 99",
    ),
    "unknown stage": (
        {"readings": [reading(stage="press")]},
        "stage: is 'press'; allowed is intake, cleaning, ",
    ),
    "word in capitals": ({"readings": [reading(stage="Intake")]}, "Write intake."),
    "no offset": (
        {"readings": [reading(taken_at=AT.replace(tzinfo=None))]},
        "taken_at: is '2026-11-25T10:40:00', without its offset from UTC; allowed is a time such as "
        "2026-11-25T10:40+01:00. Write 2026-11-25T10:40:00 with the offset that held there and then, "
        "such as +01:00 or -05:00.",
    ),
    "no such day": (
        {"readings": [reading(taken_at="2026-02-30T10:00Z")]},
        "which is on no calendar or clock",
    ),
    "zero byte": ({"log": [remark("a\0b")]}, "remark: holds a zero byte"),
    "half a character": ({"log": [remark("a\ud800")]}, "remark: holds half a character"),
    "endless text": ({"log": [remark("a" * 10_001)]}, "remark: is a text of 10001 characters"),
    "backwards": (
        {"steps": [step(actual_start=AT, actual_end=AT - timedelta(hours=1))]},
        "actual_end: is 2026-11-25T09:40+01:00, before the start; allowed is 2026-11-25T10:40+01:00 or "
        "later.",
    ),
    "end without start": (
        {"steps": [step(actual_end=AT)]},
        "actual_start: is blank; allowed is a start before",
    ),
    "no start at all": ({"steps": [step(planned_start=None)]}, "allowed is a planned or an actual start"),
    "plan id": (
        {
            "plans": [
                {"plan": "b-1", "stage": "buffering", "cycle": 1, "quantity": "sheets", "words": "seven"}
            ]
        },
        "plan: is 'b-1'; allowed is the stage and a running number, such as buffering-1.",
    ),
    "plan of another stage": (
        {"plans": [{"plan": "pressing-1", "stage": "buffering", "cycle": 1, "quantity": "x", "words": "y"}]},
        "plan: is 'pressing-1'; allowed is the stage and a running number, such as buffering-1.",
    ),
    "empty plan": (
        {"plans": [{"plan": "buffering-1", "stage": "buffering", "cycle": 1, "quantity": "sheets"}]},
        "value: is blank; allowed is a number, words, or both",
    ),
    "number without unit": (
        {
            "plans": [
                {"plan": "buffering-1", "stage": "buffering", "cycle": 1, "quantity": "sheets", "value": 7}
            ]
        },
        "unit: is blank; allowed is a unit for every number. Write the unit, or dimensionless for a "
        "plain count.",
    ),
    "gate without reason": (
        {
            "decisions": [
                {
                    "stage": "intake",
                    "cycle": 0,
                    "decision": "override",
                    "gate": "coated cover",
                    "decided_at": AT,
                    "decided_by": "Ada Quill",
                }
            ]
        },
        "reason: is blank though the gate “coated cover” is overridden; allowed is a written reason.",
    ),
    "empty log": ({"log": [remark(None)]}, "remark: is blank; allowed is a remark, a number, or both"),
    "odd pages": (
        {"treatment": [{**ITEM, "counted_as": "pages", "count": 65}]},
        "count: is 65 pages; allowed is an even number of pages. A leaf has two pages: count again",
    ),
    "count of what": (
        {"treatment": [{**ITEM, "counted_as": None}]},
        "Say which was counted, leaves or pages",
    ),
    "one cover leaf": ({"treatment": [{**ITEM, "cover_leaves": 1}]}, "cover_leaves: is 1; allowed is 0 or 2"),
    "file elsewhere": (
        {"photographs": [{"stage": "intake", "view": "v", "file": "../x.jpg", "sha256": "0" * 64}]},
        "file: is '../x.jpg'; allowed is a path inside the folder of the treatment",
    ),
    "file anywhere": (
        {"photographs": [{"stage": "intake", "view": "v", "file": "/etc/x.jpg", "sha256": "0" * 64}]},
        "file: is '/etc/x.jpg'; allowed is a path inside the folder of the treatment",
    ),
    "file on a drive": (
        {"photographs": [{"stage": "intake", "view": "v", "file": "C:x.jpg", "sha256": "0" * 64}]},
        "file: is 'C:x.jpg'; allowed is a path inside the folder of the treatment",
    ),
    "checksum": (
        {"photographs": [{"stage": "intake", "view": "v", "file": "x.jpg", "sha256": "12"}]},
        "sha256: is '12'; allowed is a SHA-256 checksum",
    ),
    "unknown column": (
        {"log": [remark(colour="red")]},
        "colour: is not a column of this table; allowed is stage,",
    ),
    "stamp given": ({"log": [remark(row=4)]}, "row: is given; allowed is a row without it. Leave it out"),
    "unknown table": ({"diary": []}, "diary: is not a table of a record; allowed is treatment, staples,"),
}


@pytest.mark.parametrize(("rows", "words"), REFUSED.values(), ids=REFUSED.keys())
def test_a_wrong_row_is_refused_in_words_and_nothing_is_written(record: Record, rows, words: str):
    before = {path.name: path.read_bytes() for path in record.folder.iterdir()}
    with pytest.raises(RecordError) as caught:
        record.save({**rows, "staples": []}, **SAVING)
    assert words in sentence(caught)
    assert {path.name: path.read_bytes() for path in record.folder.iterdir()} == before


def test_every_fault_is_told_at_once(record: Record):
    rows = {"readings": [reading("4,41", stage="x"), reading(), reading(cycle=-1)], "log": [remark(None)]}
    with pytest.raises(RecordError) as caught:
        record.save(rows, **SAVING)
    places = [(f.table, f.row, f.column, type(f)) for f in caught.value.faults]
    assert places == [
        ("readings.csv", 1, "stage", NewRowFault),
        ("readings.csv", 1, "value", NewRowFault),
        ("readings.csv", 3, "cycle", NewRowFault),
        ("log.csv", 1, "remark", NewRowFault),
    ]


def test_a_save_needs_a_name_a_time_with_offset_and_rows(record: Record):
    with pytest.raises(
        BadValue, match=r"time of the save is 2026-11-25T10:40:00; allowed is a time with its offset"
    ):
        record.save({"log": [remark()]}, by="Ada Quill", at=AT.replace(tzinfo=None))
    with pytest.raises(
        BadValue, match=r"name of who saves is empty; allowed is a name. Name the conservator"
    ):
        record.save({"log": [remark()]}, by=" ", at=AT)
    with pytest.raises(BadValue, match="rows to save is nothing"):
        record.save({"log": []}, **SAVING)


# --- a newer schema -------------------------------------------------------------------------------


def make_newer(record: Record) -> None:
    path = record.folder / "treatment.csv"
    header, row = path.read_text().splitlines()
    at = header.split(",").index("schema_version")
    cells = row.split(",")
    newer = SCHEMA_VERSION + 1
    assert cells[at] == str(SCHEMA_VERSION)
    text = (
        path.read_text()
        .replace(f"lantern-1,{SCHEMA_VERSION},", f"lantern-1,{newer},")
        .replace(header, header + ",scent")
    )
    path.write_text(text.rstrip("\n") + ",musty\n")


def test_a_record_of_a_newer_schema_is_read_and_never_written(record: Record):
    late = open_record(record.folder)
    record.save({"readings": [reading()]}, **SAVING)
    make_newer(record)
    (record.folder / ".lock").unlink()
    before = {path.name: path.read_bytes() for path in record.folder.iterdir()}
    newer = open_record(record.folder)
    assert newer.is_newer
    assert newer.notice == (
        f"treatment.csv column schema_version: is {SCHEMA_VERSION + 1}: a newer program made this record; "
        f"allowed is at most {SCHEMA_VERSION}. "
        "It is open for reading only, and columns not known here are left out; use the newer program to save."
    )
    assert newer.read("treatment")["title"].tolist() == ["Lantern Annual"]
    assert newer.read("readings")["value"].tolist() == [4.41]
    for old in (newer, late):
        with pytest.raises(RecordError, match=r"schema_version: is \d: a newer program"):
            old.save({"log": [remark()]}, **SAVING)
    assert {path.name: path.read_bytes() for path in record.folder.iterdir()} == before


# --- a folder that went ---------------------------------------------------------------------------


def test_a_folder_that_went_away_is_one_sentence(record: Record):
    shutil.rmtree(record.folder)
    with pytest.raises(RecordError) as caught:
        record.save({"log": [remark()]}, **SAVING)
    assert sentence(caught) == (
        f"{record.folder}: the folder is not there any more (No such file or directory). Nothing was saved: "
        "look whether it was moved or renamed."
    )
    assert isinstance(caught.value.faults[0], Fault)


@pytest.mark.parametrize(
    ("quantity", "value", "unit"),
    [
        ("temperature in the chamber", -99999999999, "degC"),
        ("middle leaf", 900, "degC"),
        ("air", 1e6, "percent"),
    ],
)
def test_what_no_instrument_can_have_shown_is_refused_under_any_name(
    record: Record, quantity: str, value: float, unit: str
):
    row = {"stage": "humidity", "cycle": 1, "at": AT, "quantity": quantity, "value": value, "unit": unit}
    with pytest.raises(RecordError, match=r"value: is .*; allowed is"):
        record.save({"log": [row]}, **SAVING)


def test_a_newer_program_that_saves_meanwhile_keeps_its_record(
    record: Record, monkeypatch: pytest.MonkeyPatch
):
    """What was looked at before the lock was waited for is looked at again."""
    hold_lock = disk.hold_lock

    @contextlib.contextmanager
    def meet_another(folder: Path, *, wait: float = 10.0) -> Iterator[None]:
        with hold_lock(folder, wait=wait):
            make_newer(record)
            yield

    monkeypatch.setattr(disk, "hold_lock", meet_another)
    log = (record.folder / "log.csv").read_bytes()
    with pytest.raises(RecordError, match="a newer program made this record"):
        record.save({"log": [remark()]}, **SAVING)
    assert (record.folder / "log.csv").read_bytes() == log
