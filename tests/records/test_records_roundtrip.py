"""Whatever is written reads back the same, and a table only grows at its end."""

import csv
import io
import math
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bench.records.check import check_treatment
from bench.records.record import Record
from bench.records.schema import READINGS, TABLES
from bench.records.sheet import append_lines, format_line, read_sheet
from tests.records.record_makers import AT, SAVING, make, reading, remark

TEXTS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=60)
AWKWARD = st.text(st.sampled_from(list(',;"\r\n\t =+-é漢🖌\u2028\ufeff\x85\x1c')), max_size=12)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
TIMES = st.datetimes(
    min_value=datetime(1900, 1, 1),
    max_value=datetime(2200, 1, 1),
    timezones=st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes))),
)


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Record:
    """One record for all examples: it grows, as records do."""
    return make(tmp_path_factory.mktemp("records"))


def expected(text: str) -> str | None:
    return text if text.strip() else None


@settings(max_examples=60)
@given(st.lists(st.tuples(TEXTS | AWKWARD, TEXTS | AWKWARD, NUMBERS, TIMES), min_size=1, max_size=5))
@example([('"', "\r", 0.1 + 0.2, AT), ("a\nb", "\r\n", -0.0, AT), ("\ufeff", ",", 5e-324, AT)])
def test_a_record_gives_back_what_was_saved(record, rows):
    earlier = len(record.read("readings"))
    path = record.folder / "readings.csv"
    for first, second, value, at in rows:  # one save each: every later one passes over the earlier ones
        before = path.read_bytes()
        row = reading(value, quantity="gap", instrument=first, note=second, taken_at=at)
        record.save({"readings": [row]}, **SAVING)
        assert path.read_bytes().startswith(before)
    frame = record.read("readings").iloc[earlier:]
    assert frame["row"].tolist() == list(range(earlier + 1, earlier + len(rows) + 1))
    assert frame["value"].tolist() == [row[2] for row in rows]
    assert [math.copysign(1, value) for value in frame["value"]] == [math.copysign(1, r[2]) for r in rows]
    assert frame["taken_at"].tolist() == [row[3] for row in rows]
    assert [at.utcoffset() for at in frame["taken_at"]] == [row[3].utcoffset() for row in rows]
    for column, texts in (("instrument", [r[0] for r in rows]), ("note", [r[1] for r in rows])):
        assert [None if pd.isna(text) else text for text in frame[column]] == list(map(expected, texts))


@settings(max_examples=200)
@given(st.lists(TEXTS | AWKWARD, min_size=2, max_size=6), st.sampled_from(["\n", "\r\n"]))
def test_a_line_is_what_any_reader_of_csv_takes_it_for(cells, line_end):
    line = format_line(cells, line_end)
    assert next(csv.reader(io.StringIO(line, newline=""), strict=True)) == cells


@settings(max_examples=100)
@given(st.permutations(READINGS.header), AWKWARD, st.booleans(), st.booleans())
def test_rows_go_to_the_columns_of_the_file_in_whatever_order(header, text, mark, crlf):
    line_end = "\r\n" if crlf else "\n"
    data = (b"\xef\xbb\xbf" if mark else b"") + format_line(header, line_end).encode()
    stamps = {"row": "1", "replaces": "", "saved_at": AT.isoformat(), "by": "Ada", "save": "x"}
    cells = {name: "" for name in READINGS.header} | stamps | {"cycle": "0", "value": "1", "note": text}
    after = append_lines(data, read_sheet(data, READINGS), [cells])
    (row,) = read_sheet(after, READINGS).rows
    assert after.startswith(data)
    assert (row.number, row.values["value"], row.values["note"]) == (1, 1.0, expected(text))


@settings(max_examples=300)
@given(st.binary(max_size=200) | TEXTS.map(str.encode) | AWKWARD.map(str.encode), st.integers(0, 400))
def test_no_file_however_broken_breaks_the_reader(tail, cut):
    """Whatever the bytes, there are faults or there are rows, never an error nobody meant."""
    for table in TABLES.values():
        data = format_line(table.header).encode()[:cut] + tail
        sheet = read_sheet(data, table)
        assert not (sheet.faults and sheet.rows)
        assert all(fault.table == table.file and fault.what.endswith(".") for fault in sheet.faults)


@settings(max_examples=60)
@given(st.data())
def test_a_file_torn_anywhere_never_gives_a_row_that_was_not_saved(data):
    """All cuts but those at a line end or in the last cell are faults; earlier rows are untouched."""
    lines = [
        format_line(["1", "", AT.isoformat(), "Ada", "x", "intake", "0", AT.isoformat(), "", "", "", "a, b"]),
        format_line(["2", "", AT.isoformat(), "Ada", "x", "intake", "0", AT.isoformat(), "", "", "", "end"]),
    ]
    table = TABLES["log"]
    whole = (format_line(table.header) + "".join(lines)).encode()
    cut = data.draw(st.integers(0, len(whole)))
    sheet = read_sheet(whole[:cut], table)
    for row in sheet.rows:
        assert row.values["remark"] in ("a, b", "end", "en", "e", None)
    if sheet.rows and not whole[:cut].endswith(b"\n"):
        assert sheet.notes


def test_a_long_text_and_many_rows_are_no_trouble(tmp_path: Path):
    record = make(tmp_path)
    record.save({"log": [remark("long " * 2000)] + [remark(f"row {k}") for k in range(500)]}, **SAVING)
    assert record.read("log")["remark"].tolist()[-1] == "row 499"
    assert len(record.read("log")["remark"][0]) == 10_000
    assert check_treatment(record.folder) == []
