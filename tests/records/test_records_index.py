"""The index of a folder of records: what has not changed is not read again, and nothing rests on it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

import pytest

from bench.records import index as index_module
from bench.records import register
from bench.records.index import INDEX, look_up
from bench.records.register import list_treatments
from bench.records.store import open_record
from tests.records.record_makers import SAVING, make, step
from tests.records.test_records_crash import full, tables_kept_out


@pytest.fixture
def records(tmp_path: Path) -> Path:
    for name in ("lantern-1", "lantern-2", "lantern-3"):
        make(tmp_path, name)
    return tmp_path


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Which treatments were read since the list was last emptied."""
    seen: list[str] = []
    describe = register._describe

    def note(folder: Path) -> dict[str, Any]:
        seen.append(folder.name)
        return describe(folder)

    monkeypatch.setattr(register, "_describe", note)
    return seen


def test_only_what_changed_is_read_again(records: Path, read: list[str]):
    first = list_treatments(records)
    assert read == ["lantern-1", "lantern-2", "lantern-3"]
    read.clear()
    assert list_treatments(records).equals(first)
    assert read == []
    open_record(records / "lantern-2").save({"steps": [step(stage="humidity")]}, **SAVING)
    again = list_treatments(records)
    assert read == ["lantern-2"]
    assert again.loc[1, "next_step"] == "press"
    assert again.loc[1, "due_at"].utcoffset() is not None
    read.clear()
    shutil.rmtree(records / "lantern-3")
    make(records, "lantern-4")
    assert list_treatments(records)["treatment_id"].tolist() == ["lantern-1", "lantern-2", "lantern-4"]
    assert read == ["lantern-4"]


def test_a_save_that_waits_is_seen(records: Path, read: list[str]):
    list_treatments(records)
    read.clear()
    with tables_kept_out(full):
        open_record(records / "lantern-2").save({"steps": [step(stage="humidity")]}, **SAVING)
    assert list_treatments(records).loc[1, "next_step"] == "press"
    assert read == ["lantern-2"]


def test_the_index_forgets_what_is_gone(records: Path):
    list_treatments(records)
    shutil.rmtree(records / "lantern-3")
    list_treatments(records)
    assert "lantern-3" not in (records / INDEX).read_text()


def test_a_change_that_hides_its_time_is_seen(records: Path, read: list[str]):
    """Length and time of the content are put back; the time of the entry itself cannot be."""
    list_treatments(records)
    read.clear()
    path = records / "lantern-1" / "treatment.csv"
    stat = path.stat()
    path.write_text(path.read_text().replace("Lantern Annual", "Lantern Manual"))
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert path.stat().st_size == stat.st_size
    assert list_treatments(records).loc[0, "title"] == "Lantern Manual"
    assert read == ["lantern-1"]


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[1]", b'{"program": "x", "kept": {}}', b'{"kept": 3}', b"\xff\xfe", b"[" * 100_000],
)
def test_an_index_that_cannot_be_used_is_made_anew(records: Path, read: list[str], content: bytes):
    first = list_treatments(records)
    read.clear()
    (records / INDEX).write_bytes(content)
    assert list_treatments(records).equals(first)
    assert len(read) == 3
    read.clear()
    list_treatments(records)
    assert read == []


def test_another_program_reads_everything_anew(
    records: Path, read: list[str], monkeypatch: pytest.MonkeyPatch
):
    list_treatments(records)
    read.clear()
    monkeypatch.setattr(index_module, "_program", lambda: "of next year")
    list_treatments(records)
    assert len(read) == 3


def test_a_folder_that_cannot_take_an_index_is_listed_all_the_same(
    records: Path, monkeypatch: pytest.MonkeyPatch
):
    def refuse(path: Path, data: bytes) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(index_module.disk, "replace_file", refuse)
    assert len(list_treatments(records)) == 3
    assert not (records / INDEX).exists()


def count_lines(folder: Path) -> dict[str, Any]:
    """Describes a treatment; a function of a module, which another process can call."""
    return {"lines": (folder / "log.csv").read_text().count("\n"), "process": os.getpid()}


@pytest.mark.slow
def test_a_thousand_treatments_are_read_once_and_by_all_processors(tmp_path: Path):
    """The bound is on the work, not on seconds: 1,000 reads, then none, then one."""
    folders = [tmp_path / f"item-{number:04d}" for number in range(1000)]
    for number, folder in enumerate(folders):
        folder.mkdir()
        (folder / "log.csv").write_text("line\n" * (number % 7))
    seen: list[tuple[int, int]] = []
    found = look_up(tmp_path, folders, count_lines, progress=lambda done, of: seen.append((done, of)))
    assert [facts["lines"] for facts in found] == [number % 7 for number in range(1000)]
    assert seen == [(done, 1000) for done in range(1, 1001)]
    if (os.cpu_count() or 1) > 1:
        assert os.getpid() not in {facts["process"] for facts in found}
    seen.clear()
    assert look_up(tmp_path, folders, count_lines, progress=lambda *n: seen.append(n)) == found
    assert seen == []
    (folders[500] / "log.csv").write_text("line\nline\n")
    again = look_up(tmp_path, folders, count_lines, progress=lambda *n: seen.append(n))
    assert seen == [(1, 1)]
    assert again[500]["lines"] == 2
