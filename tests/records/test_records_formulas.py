"""No text that somebody wrote is run by a spreadsheet, and every text reads back as it was."""

import csv

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.records.register import REGISTER, rebuild_register
from bench.records.store import create_treatment
from bench.records.values import guard_text, unguard_text
from tests.records.record_makers import AT

# What common spreadsheets take for the beginning of a formula (OWASP, CSV injection; from memory).
STARTS = ("=", "+", "-", "@", "\t", "\r")
TEXTS = ['=HYPERLINK("http://x.invalid","look")', "+1-1", "-2+3", "@SUM(A1)", "\t=1+1", "'=1+1", "''=1"]


def cells_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        return [cell for line in list(csv.reader(file))[1:] for cell in line]


@pytest.mark.parametrize("text", TEXTS)
def test_no_cell_begins_a_formula_and_each_reads_back(tmp_path, text):
    row = {"title": text, "owner": text, "note": text, "length_unit": "mm", "temperature_unit": "degC"}
    photograph = {"stage": "intake", "view": text, "file": f"photographs/{text.strip()[:8]}.jpg"}
    photograph |= {"sha256": "0" * 64, "light": text}
    rows = {"treatment": [row], "photographs": [photograph]}
    record = create_treatment(tmp_path, "kept-1", rows, by=text, at=AT)
    rebuild_register(tmp_path)
    files = [*record.folder.glob("*.csv"), tmp_path / REGISTER]
    begun = [cell for file in files for cell in cells_of(file) if cell.startswith(STARTS)]
    assert begun == []
    read = record.read("treatment").iloc[-1]
    assert [read[name] for name in ("title", "owner", "note", "by")] == [text] * 4
    assert record.read("photographs").iloc[-1]["view"] == text


def test_a_number_below_zero_stays_a_number(tmp_path):
    row = {"title": "x", "length_unit": "mm", "temperature_unit": "degC"}
    log = {"stage": "humidity", "cycle": 1, "at": AT, "quantity": "change", "value": -3.5, "unit": "g"}
    record = create_treatment(tmp_path, "kept-2", {"treatment": [row], "log": [log]}, by="Ada", at=AT)
    assert ",-3.5," in (record.folder / "log.csv").read_text(encoding="utf-8")
    assert pd.to_numeric(record.read("log")["value"]).tolist() == [-3.5]


@settings(max_examples=200, deadline=None)
@given(st.text(st.sampled_from("'=+-@\t\r\n ab＝"), max_size=6))
def test_guarding_is_undone_whatever_the_text(text):
    assert unguard_text(guard_text(text)) == text
    assert not guard_text(text).startswith(STARTS)
