"""The list of references, and that whatever the code cites is in it."""

import csv
import re
from importlib import resources
from pathlib import Path

import pytest

import bench
from bench.errors import NotFound
from bench.sources import all_sources, cite

PACKAGE = Path(bench.__file__).parent
CITED = re.compile(r"\[([a-z0-9][a-z0-9-]*)\]_")


def test_no_key_stands_twice():
    text = resources.files("bench").joinpath("sources.csv").read_text(encoding="utf-8")
    rows = list(csv.reader(text.splitlines()))
    assert rows[0] == ["key", "kind", "reference", "status", "short"]
    keys = [row[0] for row in rows[1:]]
    assert all(len(row) == 5 for row in rows)
    assert len(keys) == len(set(keys)) == len(all_sources())


@pytest.mark.parametrize("source", all_sources(), ids=lambda s: s.key)
def test_a_source_says_what_it_is_and_whether_it_was_seen(source):
    assert re.fullmatch(r"[a-z0-9][a-z0-9-]*", source.key)
    assert source.kind in ("standard", "handbook", "article", "library", "web", "trade", "memory")
    assert len(source.reference) > 8
    assert source.status
    assert source.short
    assert source.short != source.key


def test_what_a_module_cites_is_in_the_list():
    keys = {source.key for source in all_sources()}
    cited = {file: {*CITED.findall(file.read_text(encoding="utf-8"))} for file in PACKAGE.rglob("*.py")}
    assert any(cited.values())
    assert {str(file): found - keys for file, found in cited.items() if found - keys} == {}


def test_common_practice_and_memory_are_said_to_be_that():
    assert cite("common-practice").status == "no source"
    assert "from memory" in cite("memory").status


def test_no_short_citation_stands_for_two_sources():
    shorts = [source.short for source in all_sources()]
    assert len(set(shorts)) == len(shorts)


def test_an_unknown_source_is_refused_with_what_to_do():
    with pytest.raises(NotFound, match=r"source is 'hearsay'; .*Add the reference there"):
        cite("hearsay")
