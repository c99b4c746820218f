"""The schema as data: whole, consistent, and fit for a page of documentation."""

import pytest

from bench.records.schema import COMMON, STAMPS, TABLES, Column, Table, staple_at

KINDS = {"integer", "number", "text", "word", "name", "time", "file", "checksum"}
COLUMNS = [(table, column) for table in TABLES.values() for column in table.columns]


def test_the_tables_are_those_of_a_treatment():
    named = (
        "treatment staples readings tests defects decisions plans steps log materials photographs loggers "
    )
    named += "trials trial_readings trial_findings attempts"
    assert list(TABLES) == named.split()


def test_every_table_starts_with_the_common_columns_and_names_each_column_once():
    for table in TABLES.values():
        assert table.header[:5] == ("row", "replaces", "saved_at", "by", "save")
        assert len(set(table.header)) == len(table.header)
    assert set(STAMPS) == {column.name for column in COMMON} - {"replaces"}


@pytest.mark.parametrize(("table", "column"), COLUMNS, ids=lambda part: part.name)
def test_a_column_can_be_documented(table: Table, column: Column):
    assert column.kind in KINDS
    assert column.meaning
    assert column.allowed_words
    assert (column.kind == "word") <= bool(column.allowed)
    if column.low is not None and column.high is not None:
        assert column.low < column.high
    for ending, unit in {"_mm": "mm", "_g": "g", "_um": "µm", "_gsm": "g/m²", "_n": "N"}.items():
        if column.name.endswith(ending):
            assert column.unit == unit


@pytest.mark.parametrize(
    ("place", "staple"),
    [
        ("upper staple", "upper"),
        ("over the lower staple", "lower"),
        ("staple: upper", "upper"),
        ("Staple upper left", "upper left"),
        ("text block", None),
        ("spine edge", None),
        ("staple", None),
    ],
)
def test_a_place_names_its_staple(place: str, staple: str | None):
    assert staple_at(place) == staple
