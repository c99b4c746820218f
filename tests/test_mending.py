"""Commands that keep a record sound, and output that stays a sentence whatever it meets."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from bench import __main__ as command_line
from bench.records.at_hand import AT_HAND, find_at_hand
from bench.records.check import check_treatment
from bench.records.record import Record
from bench.records.restore_points import list_restore_points
from bench.records.store import open_record
from tests.records.record_makers import SAVING, make, reading, remark


@pytest.fixture
def record(tmp_path: Path) -> Record:
    record = make(tmp_path)
    record.save({"readings": [reading(4.39)], "log": [remark("first")]}, **SAVING)
    return record


def run(record: Record, *words: str) -> int:
    return command_line.main([*words, "--records", str(record.folder.parent)])


def test_a_silent_edit_is_found_taken_over_and_gone(record: Record, capsys: pytest.CaptureFixture[str]):
    path = record.folder / "readings.csv"
    path.write_text(path.read_text().replace(",4.39,", ",4.93,"))
    assert run(record, "check", "lantern-1") == 1
    assert "readings.csv row 1: row 1 of save" in capsys.readouterr().out
    assert run(record, "take-over", "lantern-1", "--by", "M. Reed", "--why", "digits were turned round") == 0
    assert "Taken over: readings, row 1" in capsys.readouterr().out
    assert run(record, "check", "lantern-1") == 0
    assert run(record, "take-over", "lantern-1", "--by", "M. Reed", "--why", "again") == 0
    assert "nothing to take over" in capsys.readouterr().out


def test_a_restore_point_is_kept_listed_put_back_and_undone(
    record: Record, capsys: pytest.CaptureFixture[str]
):
    assert run(record, "restore", "lantern-1") == 0
    assert "There is no restore point" in capsys.readouterr().out
    assert run(record, "keep", "lantern-1") == 0
    (point,) = list_restore_points(record.folder)
    before = {path.name: path.read_bytes() for path in record.folder.glob("*.csv")}
    record.save({"log": [remark("a mistake"), remark("and another")]}, **SAVING)
    (record.folder / "steps.csv").write_text("torn")
    assert run(record, "restore", "lantern-1") == 0
    assert f"{point.path.name}: " in capsys.readouterr().out
    assert run(record, "restore", "lantern-1", "--by", "M. Reed", "--why", "the disk tore a table") == 0
    after = {path.name: path.read_bytes() for path in record.folder.glob("*.csv")}
    saves = after.pop("saves.csv")
    assert saves.startswith(before.pop("saves.csv"))
    assert b"the disk tore a table" in saves
    assert after == before
    assert check_treatment(record.folder) == []
    assert [point.why for point in list_restore_points(record.folder)] == ["on-demand", "before-restore"]
    open_record(record.folder).save({"log": [remark("goes on")]}, **SAVING)
    assert check_treatment(record.folder) == []


def test_a_damaged_restore_point_changes_nothing(record: Record, capsys: pytest.CaptureFixture[str]):
    assert run(record, "keep", "lantern-1") == 0
    (point,) = list_restore_points(record.folder)
    point.path.write_bytes(point.path.read_bytes()[:200])
    before = {path.name: path.read_bytes() for path in record.folder.glob("*.csv")}
    assert run(record, "restore", "lantern-1", "--by", "M. Reed", "--why", "a try") == 1
    assert "cannot be read" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in record.folder.glob("*.csv")} == before


@pytest.mark.parametrize("name", ["../outside", "/etc", ".", "..", "nothing\0", ""])
@pytest.mark.parametrize("command", ["report", "keep", "check"])
def test_a_name_never_leads_out_of_the_records(
    record: Record, command: str, name: str, capsys: pytest.CaptureFixture[str]
):
    (record.folder.parent.parent / "outside").mkdir(exist_ok=True)
    assert run(record, command, name) == 2
    assert "Choose one of these" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["../outside", "/etc", "..", "a\0b", "gone"])
def test_the_treatment_at_hand_is_one_of_the_folder(record: Record, name: str):
    parent = record.folder.parent
    (parent.parent / "outside").mkdir(exist_ok=True)
    (parent / AT_HAND).write_text(name)
    assert find_at_hand(parent) is None


def test_what_steers_a_terminal_is_shown_as_a_sign(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """ESC and CSI of ECMA-48 would clear the screen or rename the window."""
    record = make(tmp_path)
    record.save(
        {"treatment": [{**description(record), "title": "Lantern\x1b]0;owned\x07\x9b2J Annual"}]}, **SAVING
    )
    assert run(record, "list") == 0
    said = capsys.readouterr().out
    assert "Lantern\N{REPLACEMENT CHARACTER}]0;owned" in said
    assert not {"\x1b", "\x07", "\x9b"} & set(said)


def description(record: Record) -> dict[str, object]:
    """The description of the item as it could be saved again."""
    stamps = ("row", "replaces", "saved_at", "by", "save")
    return {name: value for name, value in record.rows("treatment")[0].items() if name not in stamps}


def words_of(record: Record, *more: str) -> list[str]:
    return [sys.executable, "-m", "bench", *more, "--records", str(record.folder.parent)]


@pytest.mark.slow
def test_an_output_of_few_letters_a_closed_pipe_and_a_full_device_are_no_tracebacks(record: Record):
    plain = {**os.environ, "PYTHONIOENCODING": "ascii"}
    record.save({"treatment": [{**description(record), "title": "Größe ½"}]}, **SAVING)
    done = subprocess.run(words_of(record, "list"), capture_output=True, env=plain, check=False)
    assert (done.returncode, done.stderr) == (0, b"")
    assert rb"Gr\xf6\xdfe" in done.stdout
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(words_of(record, "list"), stdout=write, stderr=subprocess.PIPE, check=False)
    os.close(write)
    assert b"Traceback" not in done.stderr
    if Path("/dev/full").exists():
        with open("/dev/full", "wb") as device:
            done = subprocess.run(
                words_of(record, "list"), stdout=device, stderr=subprocess.PIPE, check=False
            )
        assert done.returncode == 1
        assert b"Traceback" not in done.stderr
        assert b"No space left on device" in done.stderr


def test_two_copies_are_brought_together_and_conflicts_asked_about(
    record: Record, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    folder = Path(shutil.copytree(record.folder, tmp_path / "tablet"))
    record.save({"readings": [reading(4.40, replaces=1)]}, **SAVING)
    open_record(folder).save({"readings": [reading(4.41, replaces=1)], "log": [remark("there")]}, **SAVING)
    words = ("merge", "lantern-1", str(folder), "--by", "M. Reed")
    assert run(record, *words) == 1
    said = capsys.readouterr().out
    assert "Which holds? readings 2: value: here “4.4”, there “4.41”" in said
    assert "Nothing was written." in said
    assert run(record, *words, "--there", "readings 2") == 0
    assert "Brought 1 save: 1 to readings, 1 to log." in capsys.readouterr().out
    assert [row["value"] for row in open_record(record.folder).rows("readings")] == [4.41]
    assert run(record, *words) == 0
    assert "The other copy holds nothing more." in capsys.readouterr().out
