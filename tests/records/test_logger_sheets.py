"""Spreadsheets of loggers: read like the same readings as text, or refused in one sentence."""

import io
import random
import time
import zipfile
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock

import numpy as np
import openpyxl
import pytest

from bench.errors import BadValue
from bench.handover.logged import as_logged
from bench.records import logger_sheets
from bench.records.logger_files import look_at_file, propose_reading, read_logger

BEGIN = datetime(2026, 3, 2, 9, 0)
MOMENTS = [BEGIN + timedelta(minutes=minute) for minute in range(30)]
HEAD = ("Time", "Temperature (°C)", "Humidity (%)")


def readings():
    return [(moment, 21.0 + k / 10, 60.0 + k / 10) for k, moment in enumerate(MOMENTS)]


def book(*sheets):
    """Make an .xlsx of sheets, each a name and its rows."""
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in sheets:
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    return packed(made)


def packed(made):
    buffer = io.BytesIO()
    made.save(buffer)
    return buffer.getvalue()


ODS_MANIFEST = """<?xml version="1.0"?><manifest:manifest
 xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">
 <manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml">{inside}
 </manifest:file-entry></manifest:manifest>"""


LOCKED = """<manifest:encryption-data manifest:checksum-type="SHA1/1K" manifest:checksum="AA==">
 <manifest:algorithm manifest:algorithm-name="Blowfish CFB" manifest:initialisation-vector="AA=="/>
 </manifest:encryption-data>"""


def ods(rows, *, locked=False):
    """Make an .ods by hand, as OpenDocument 1.2 (part 1, chapter 9) writes a table."""

    def cell(value):
        if isinstance(value, datetime):
            moment = value.isoformat()
            return f'<table:table-cell office:value-type="date" office:date-value="{moment}"/>'
        if isinstance(value, float):
            return f'<table:table-cell office:value-type="float" office:value="{value}"/>'
        words = "" if value is None else f"<text:p>{value}</text:p>"
        return f'<table:table-cell office:value-type="string">{words}</table:table-cell>'

    lines = "".join(f"<table:table-row>{''.join(map(cell, row))}</table:table-row>" for row in rows)
    names = "".join(
        f' xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "table", "text")
    )
    content = (
        f'<?xml version="1.0"?><office:document-content{names} office:version="1.2"><office:body>'
        f'<office:spreadsheet><table:table table:name="Log">{lines}</table:table></office:spreadsheet>'
        "</office:body></office:document-content>"
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as file:
        file.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        file.writestr("content.xml", content)
        inside = LOCKED if locked else ""
        file.writestr("META-INF/manifest.xml", ODS_MANIFEST.format(inside=inside))
    return buffer.getvalue()


def read(data):
    file = look_at_file(data)
    how = propose_reading(file)
    table, left_out = read_logger(file, how)
    return as_logged(table), left_out, how


PLAIN = [HEAD, *readings()]
BLANK = (None, None, None)
TITLED = [("Bench logger 4", None, None), BLANK, *PLAIN[:5], BLANK, *PLAIN[5:], BLANK]
AS_TEXT = [HEAD, *((f"{m:%d.%m.%Y %H:%M}", f"{t:.1f}".replace(".", ","), h) for m, t, h in readings())]
APART = [
    ("No.", "Date", "Clock", "T", "RH"),
    *((k, m.date(), m.time(), t, h) for k, (m, t, h) in enumerate(readings(), start=1)),
]
BESIDE = [(None, None, *row) for row in PLAIN]
WAYS = {
    "date cells": book(("Log", PLAIN)),
    "a title, empty rows within and at the end": book(("Log", TITLED)),
    "dates and numbers as text": book(("Log", AS_TEXT)),
    "date and time of day apart": book(("Log", APART)),
    "empty columns before": book(("Log", BESIDE)),
    "the second sheet alone": book(("About", [("made by hand",), ("3 notes",)]), ("Log", PLAIN)),
    "the first of two": book(("Log", PLAIN), ("Old", [HEAD, (datetime(2020, 1, 1), 1.0, 2.0)])),
    "OpenDocument": ods(PLAIN),
    "OpenDocument with a title": ods(TITLED),
}


@pytest.mark.parametrize("way", WAYS)
def test_a_sheet_gives_the_readings_that_were_put_in(way):
    air, left_out, _ = read(WAYS[way])
    assert left_out == ()
    assert air.begin == BEGIN.replace(tzinfo=UTC)
    assert air.seconds == pytest.approx(np.arange(30) * 60.0, abs=0.002)
    assert air.celsius == pytest.approx([t for _, t, _ in readings()], abs=0.051)
    assert air.percent == pytest.approx([h for *_, h in readings()])


def test_dates_apart_from_the_time_of_day_are_told_from_moments():
    file = look_at_file(WAYS["date and time of day apart"])
    assert list(file.table.iloc[0]) == ["1", "2026-03-02", "09:00:00", "21", "60"]
    assert propose_reading(file).clock == "Clock"


def test_moments_that_a_sheet_counts_from_1904_are_the_same_moments():
    made = openpyxl.load_workbook(io.BytesIO(WAYS["date cells"]))
    made.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    air, *_ = read(packed(made))
    assert air.begin == BEGIN.replace(tzinfo=UTC)


def with_results(data, results):
    """Put the results of formulas into a book, as a spreadsheet program saves them beside each."""
    into = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(into, "w") as new:
        for name in old.namelist():
            text = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                for formula, result in results.items():
                    was = f"<f>{formula}</f><v></v>".encode()
                    other = f"<f>{formula}</f><v />".encode()
                    assert was in text or other in text
                    now = f"<f>{formula}</f><v>{result}</v>".encode()
                    text = text.replace(was, now).replace(other, now)
            new.writestr(name, text)
    return into.getvalue()


def test_a_formula_counts_with_its_saved_result_and_one_without_is_left_out():
    rows = [HEAD, (MOMENTS[0], 21.0, "=50+10"), (MOMENTS[1], 21.0, 61.0), (MOMENTS[2], 21.0, "=1+1+60")]
    air, left_out, _ = read(with_results(book(("Log", rows)), {"50+10": 60}))
    assert list(air.percent) == [60.0, 61.0]
    assert left_out == ("1 line without a number",)


def test_a_fault_in_a_cell_and_words_among_the_numbers_are_left_out_and_counted():
    rows = [*PLAIN, ("stopped by hand", None, None), (BEGIN + timedelta(hours=2), "#N/A", 60.0)]
    air, left_out, _ = read(book(("Log", rows)))
    assert len(air.seconds) == 30
    assert left_out == ("1 line without a time that can be read", "1 line without a number")


def test_shares_of_one_are_not_taken_for_per_cent():
    rows = [HEAD, *((moment, t, h / 100) for moment, t, h in readings())]
    with pytest.raises(BadValue, match=r"0\.6 to 0\.629 % RH.*0\.55 as 55 %"):
        read(book(("Log", rows)))


def cut(data):
    return data[: len(data) // 2]


def hollow(part, text):
    """Give a book of which one part holds something else."""
    into = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(WAYS["date cells"])) as old, zipfile.ZipFile(into, "w") as new:
        for name in old.namelist():
            new.writestr(name, text if name == part else old.read(name))
    return into.getvalue()


def parcel():
    into = io.BytesIO()
    with zipfile.ZipFile(into, "w") as file:
        file.writestr("log.csv", "Time,T,RH\n")
    return into.getvalue()


TWO = [("About", [("words",)]), ("March", PLAIN), ("April", PLAIN)]
REFUSED = {
    "cut short": (lambda: cut(WAYS["date cells"]), "cannot be unpacked"),
    "hardly a head": (lambda: b"PK\x03\x04rest", "cannot be unpacked"),
    "a list of sheets that is none": (lambda: hollow("xl/workbook.xml", b"\xff\xfe<"), "spreadsheet"),
    "a sheet that is none": (lambda: hollow("xl/worksheets/sheet1.xml", b"<works"), "spreadsheet"),
    "old or with a password": (lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(2000), "password"),
    "OpenDocument with a password": (lambda: ods(PLAIN, locked=True), "password"),
    "packed text": (lambda: parcel(), "packed, and no spreadsheet"),
    "empty": (lambda: book(("Log", [])), "without readings"),
    "no readings": (lambda: book(("Log", [HEAD])), "without readings"),
    "two that are not first": (lambda: book(*TWO), "readings in March, April"),
}


@pytest.mark.parametrize("why", REFUSED)
def test_what_cannot_be_read_is_refused_in_one_sentence(why):
    make, words = REFUSED[why]
    with pytest.raises(BadValue, match=words) as caught:
        look_at_file(make())
    assert "\n" not in str(caught.value)


def test_a_book_that_would_fill_the_memory_is_refused_before_it_is_unpacked(monkeypatch):
    monkeypatch.setattr(logger_sheets, "_LARGEST_BYTES", 1000)
    with pytest.raises(BadValue, match="when unpacked"):
        look_at_file(WAYS["date cells"])


@pytest.mark.parametrize("seed", range(40))
def test_a_spoilt_byte_gives_readings_or_a_sentence(seed):
    chance = random.Random(seed)
    data = bytearray(WAYS["date cells"] if seed % 2 else WAYS["OpenDocument"])
    for _ in range(1 + seed % 5):
        data[chance.randrange(4, len(data))] = chance.randrange(256)
    try:
        file = look_at_file(bytes(data))
    except BadValue:
        return
    assert file.columns


@pytest.mark.slow
def test_a_hundred_thousand_rows_are_read_whole():
    first = (BEGIN - datetime(1899, 12, 30)) / timedelta(days=1)  # spreadsheets count days from there
    rows = "".join(
        f'<row><c s="1"><v>{first + k / 8640!r}</v></c><c><v>21.0</v></c><c><v>{60 + k % 7}.5</v></c></row>'
        for k in range(100_000)
    )
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    text = f'<worksheet xmlns="{space}"><sheetData>{rows}</sheetData></worksheet>'
    data = hollow("xl/worksheets/sheet1.xml", text.encode())
    begin = time.process_time()
    air, left_out, _ = read(data)
    print(f"{time.process_time() - begin:.2f} s of processor time, {len(data) / 1e6:.1f} MB")
    assert left_out == ()
    assert len(air.seconds) == 100_000
    assert np.abs(np.diff(air.seconds) - 10.0).max() < 0.002


def test_a_date_and_a_clock_of_other_kinds_are_written_as_they_are_read():
    rows = [
        ("Day", "Hour", "T", "RH"),
        (date(2026, 3, 2), timedelta(hours=9, minutes=5), 21.0, 60.0),
        (date(2026, 3, 2), timedelta(hours=9, minutes=10), 21.0, 61.0),
        (date(2026, 3, 3), clock(9, 5), 21.0, 62.0),
    ]
    air, left_out, _ = read(book(("Log", rows)))
    assert left_out == ()
    assert list(air.seconds) == [0.0, 300.0, 86400.0]
