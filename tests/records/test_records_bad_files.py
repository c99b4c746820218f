"""Files that cannot be read whole, or rows that say what they may not: the sentence each one gives."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from bench.errors import RecordError
from bench.records.check import check_treatment
from bench.records.faults import Note
from bench.records.record import Record
from bench.records.schema import READINGS
from tests.records.record_makers import AT, SAVING, by_themselves, make, reading, remark, step


@pytest.fixture
def record(tmp_path: Path) -> Record:
    record = make(tmp_path / "records")
    record.save(
        {"readings": [reading(4.43), reading(4.41, note="a note, with a comma"), reading(4.42)]}, **SAVING
    )
    return record


def change(record: Record, old: str, new: str, *, table: str = "readings", count: int = 1) -> bytes:
    path = record.folder / f"{table}.csv"
    text = path.read_bytes().decode()
    assert old in text
    path.write_bytes(text.replace(old, new, count).encode())
    return path.read_bytes()


def without_column(text: str, name: str) -> str:
    """Drop a column from a file whose cells hold no commas."""
    lines = [line.split(",") for line in text.splitlines()]
    at = lines[0].index(name)
    return "".join(",".join(cells[:at] + cells[at + 1 :]) + "\n" for cells in lines)


CELLS = len(READINGS.header)
TIME = "2026-11-25T10:40:00+01:00"
THIRD = ",4.42,mm,"
CUT: dict[str, tuple[Callable[[str], str], str]] = {
    "missing column": (
        lambda text: without_column(
            text.replace("a note, with", "a note with").replace('"', ""), "resolution"
        ),
        "readings.csv column resolution: is missing from the header; allowed is a header with all columns of "
        "the table. Put the column back; its cells may be blank where nothing is known.",
    ),
    "missing column that is needed": (
        lambda text: without_column(text.replace("a note, with", "a note with").replace('"', ""), "unit"),
        "readings.csv column unit: is missing from the header; allowed is a header with all columns of the "
        "table. Put the column back with its values, from a copy of the file.",
    ),
    "unknown column": (
        lambda text: "".join(line + ",x\n" for line in text.splitlines()).replace("note,x", "note,colour", 1),
        "readings.csv column colour: is not a column of this table; allowed is row, replaces, saved_at,",
    ),
    "renamed column": (
        lambda text: text.replace(",value,", ",Values,", 1),
        "readings.csv column Values: is not a column of this table; "
        f"allowed is {', '.join(READINGS.header)}. Rename it to value.",
    ),
    "column twice": (
        lambda text: text.replace(",value,", ",unit,", 1),
        "readings.csv column unit: stands twice in the header; allowed is each column once. Take one of "
        "them out.",
    ),
    "torn last line": (
        lambda text: text[: text.index(THIRD)],
        "readings.csv row 3: is the last line and is torn: it has 9 cells and no line end; allowed is "
        f"{CELLS} cells. "
        "Complete the line from a copy, or take it out.",
    ),
    "torn inside quotes": (
        lambda text: text[: text.index(" with a comma")],
        "readings.csv row 2: has a quotation mark that is opened and not closed, or text after a "
        "closing one: the "
        "file is torn there, or a quotation mark inside a text was not doubled. Complete the row or "
        "take it out.",
    ),
    "line too short": (
        lambda text: text.replace(THIRD, ","),
        f"readings.csv row 3: has {CELLS - 2} cells; allowed is {CELLS}, as in the header. "
        "Put the missing cells back, blank or not.",
    ),
    "decimal comma": (
        lambda text: text.replace(THIRD, ',"4,42",mm,'),
        "readings.csv row 3 column value: is '4,42', with a decimal comma; allowed is a number with a "
        "decimal "
        "point. Write 4.42.",
    ),
    "decimal comma that splits a cell": (
        lambda text: text.replace(THIRD, ",4,42,mm,"),
        f"readings.csv row 3: has {CELLS + 1} cells; allowed is {CELLS}, as in the header. "
        "Look for a decimal comma (write 4.41, not 4,41) or for a text with a comma that is not in quotation "
        "marks.",
    ),
    "semicolons": (
        lambda text: text.replace(",", ";").replace("4.4", "4,4"),
        "readings.csv: is separated by semicolons, as a spreadsheet with decimal commas saves it; allowed is "
        "commas between the cells. Save it again as CSV with commas, decimal points and UTF-8.",
    ),
    "tabs": (lambda text: text.replace(",", "\t"), "readings.csv: is separated by tabs, as a spreadsheet"),
    "day first": (
        lambda text: text.replace(f",{TIME},", ",25/11/2026 10:40,"),
        "readings.csv row 1 column taken_at: is '25/11/2026 10:40', a date as a spreadsheet rewrites "
        "it; allowed "
        "is a time such as 2026-11-25T10:40+01:00. Write 2026-11-25T10:40 with the offset that "
        "held there and then, such as +01:00 or -05:00.",
    ),
    "month first": (
        lambda text: text.replace(f",{TIME},", ",11/25/26 10:40 PM,"),
        "Write 2026-11-25T22:40 with the offset that held there and then, such as +01:00 or -05:00.",
    ),
    "day alone": (
        lambda text: text.replace(f",{TIME},", ",25.11.2026,"),
        "Write 2026-11-25, T, the hour, and the offset that held there and then, such as +01:00 or -05:00.",
    ),
    "either way round": (
        lambda text: text.replace(f",{TIME},", ",11/10/2026 10:40,"),
        "2026-11-25T10:40+01:00; here day and month could be either way round.",
    ),
    "day number": (
        lambda text: text.replace(f",{TIME},", ",46351.444,"),
        "is '46351.444', the day number of a spreadsheet; allowed is a time such as",
    ),
    "blank instead of T": (
        lambda text: text.replace(f",{TIME},", ",2026-11-25 10:40,"),
        "is '2026-11-25 10:40', not written as ISO 8601 asks; allowed is a time such as "
        "2026-11-25T10:40+01:00. "
        "Write 2026-11-25T10:40 with the offset that held there and then, such as +01:00 or -05:00.",
    ),
    "broken number": (
        lambda text: text.replace(THIRD, ",4.4.2,mm,"),
        "readings.csv row 3 column value: is '4.4.2'; allowed is a number with a decimal point. Write "
        "the number "
        "alone, such as 4.41.",
    ),
    "integer as a spreadsheet writes it": (
        lambda text: text.replace(",intake,0,", ",intake,0.00,"),
        "readings.csv row 1 column cycle: is '0.00'; allowed is a whole number, 0 to 99. Write 0.",
    ),
    "row number twice": (
        lambda text: text.replace("\n3,", "\n2,"),
        "readings.csv row 2 column row: is 2 a second time; allowed is each number once. Give one of "
        "them the next "
        "free number.",
    ),
    "row number gone": (
        lambda text: text.replace("\n3,", "\n,"),
        "readings.csv row 3 column row: is blank; allowed",
    ),
    "row zero": (
        lambda text: text.replace("\n3,", "\n0,"),
        "column row: is 0; allowed is a whole number, 1 to 999999",
    ),
    "zero bytes": (
        lambda text: text + "\0" * 40,
        "readings.csv: holds zero bytes; allowed is text. Put it back from a copy: zero bytes come from "
        "a disk that "
        "lost power or is failing.",
    ),
    "empty": (lambda text: "", "readings.csv: is empty; its header line is lost. Put it back from a copy."),
}


@pytest.mark.parametrize(("cut", "words"), CUT.values(), ids=CUT.keys())
def test_a_file_that_cannot_be_read_whole_is_never_written_over(record: Record, cut, words: str):
    path = record.folder / "readings.csv"
    whole = path.read_bytes().decode()
    path.write_bytes(cut(whole).encode())
    assert path.read_bytes().decode() != whole
    before = {entry.name: entry.read_bytes() for entry in record.folder.iterdir()}
    for ask in (record.read, record.all_rows):
        with pytest.raises(RecordError) as caught:
            ask("readings")
        assert words in str(caught.value)
    with pytest.raises(RecordError) as caught:
        record.save({"log": [remark()], "readings": [reading()]}, **SAVING)
    assert words in str(caught.value)
    assert words in "\n".join(map(str, check_treatment(record.folder)))
    assert {entry.name: entry.read_bytes() for entry in record.folder.iterdir()} == before


def test_all_faults_of_a_file_come_at_once(record: Record):
    change(record, ",4.43,", ',"4,43",')
    change(record, THIRD, ",4 mm,mm,")
    change(record, "\n3,,2026-11-25T10:40:00+01:00", "\n3,,25/11/2026")
    with pytest.raises(RecordError) as caught:
        record.read("readings")
    assert [(f.row, f.column) for f in caught.value.faults] == [(1, "value"), (3, "saved_at"), (3, "value")]


def test_a_file_of_another_alphabet_or_none_is_told(record: Record):
    path = record.folder / "readings.csv"
    path.write_bytes(path.read_bytes().replace(b"a note", "Größe".encode("cp1252")))
    with pytest.raises(
        RecordError, match=r"readings\.csv: is not written in UTF-8; allowed is UTF-8. Save it again as"
    ):
        record.read("readings")
    path.unlink()
    with pytest.raises(
        RecordError, match=r"readings\.csv: the file is missing\. Put it back from a copy; if there"
    ):
        record.save({"readings": [reading()]}, **SAVING)
    assert not path.exists()


def test_a_broken_table_does_not_stop_work_on_another(record: Record):
    change(record, THIRD, ",4.4.2,mm,")
    assert record.save({"log": [remark()]}, **SAVING).rows == {"log": (1,)}


def test_without_a_sound_first_table_nothing_is_saved(record: Record):
    change(record, "owner", "keeper", table="treatment")
    with pytest.raises(RecordError, match=r"treatment\.csv column owner: is missing from the header"):
        record.save({"log": [remark()]}, **SAVING)


# --- rows that read, but say what they may not ------------------------------------------------------

SENSE = {
    "severity": (THIRD, ",4.42,mm,,-1,", "limit: is -1; allowed is a number with a decimal point, 0 or more"),
    "stage": (",intake,", ",press,", "stage: is 'press'; allowed is intake, cleaning, humidity,"),
    "humidity": (
        ",thickness,text block,4.43,mm",
        ",humidity,chamber,5500,percent",
        "is 5500 percent of humidity",
    ),
    "needed cell": (",text block,4.43,", ",,4.43,", "place: is blank; allowed is a text"),
}


@pytest.mark.parametrize(("old", "new", "words"), SENSE.values(), ids=SENSE.keys())
def test_a_row_that_may_not_be_is_not_read_but_can_be_corrected(
    record: Record, old: str, new: str, words: str
):
    if old == THIRD:
        old, new = THIRD + ",,", new
    before = change(record, old, new)
    with pytest.raises(RecordError) as caught:
        record.read("readings")
    (fault,) = caught.value.faults
    assert words in str(fault)
    assert [str(fault)] == [str(found) for found in by_themselves(check_treatment(record.folder))]
    assert len(record.all_rows("readings")) == 3
    record.save({"readings": [reading(4.4, replaces=fault.row)]}, **SAVING)
    assert (record.folder / "readings.csv").read_bytes().startswith(before)
    assert len(record.read("readings")) == 3
    (note,) = by_themselves(check_treatment(record.folder))
    assert isinstance(note, Note)
    assert str(note) == f"{fault} A later row corrects it."


def test_an_end_before_its_start_is_told_and_can_be_corrected(record: Record):
    later = (AT + timedelta(hours=2)).isoformat()
    record.save(
        {"steps": [step(actual_start=AT, actual_end=later)]}, by="Ada Quill", at=AT + timedelta(days=1)
    )
    change(record, later, (AT - timedelta(hours=2)).isoformat(), table="steps")
    words = (
        "steps.csv row 1 column actual_end: is 2026-11-25T08:40+01:00, before the start; allowed is "
        "2026-11-25T10:40+01:00 or later. Check the date, the hour and the offset of both times."
    )
    with pytest.raises(RecordError) as caught:
        record.read("steps")
    assert str(caught.value) == words
    assert [str(fault) for fault in by_themselves(check_treatment(record.folder))] == [words]
    correct = step(actual_start=AT, actual_end=later, replaces=1)
    record.save({"steps": [correct]}, by="Ada Quill", at=AT + timedelta(days=1))
    assert [str(note) for note in by_themselves(check_treatment(record.folder))] == [
        f"{words} A later row corrects it."
    ]


def test_a_last_line_without_end_is_noted_and_read(record: Record):
    path = record.folder / "readings.csv"
    path.write_bytes(path.read_bytes().rstrip(b"\n"))
    assert len(record.read("readings")) == 3
    (note,) = check_treatment(record.folder)
    assert isinstance(note, Note)
    assert str(note) == (
        "readings.csv row 3: the last line has no line end: look whether its last cell is whole. It is "
        "read as it stands."
    )
