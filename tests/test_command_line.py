"""The command line: what it says, what it writes, how it exits."""

import subprocess
import sys
from datetime import datetime

import pytest

from bench.__main__ import copy_sample, main
from bench.records.store import open_record
from tests.makers import ANNUAL, SAMPLES

NEW = ["new", "marl-pit-4", "--title", "Marl Pit Stories, no. 4", "--conservator", "M. Tallow"]


def run(capsys, records, *words):
    code = main([*words, "--records", str(records)])
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture
def sample(tmp_path):
    """A sample, alone in a folder of records."""
    return copy_sample(ANNUAL, tmp_path)


def spoil(sample, old, new):
    readings = sample / "readings.csv"
    readings.write_text(readings.read_text().replace(old, new, 1))


def test_new_starts_a_record_and_says_how_to_go_on(tmp_path, capsys):
    code, out, _ = run(capsys, tmp_path, *NEW, "--start", "2026-03-02T09:00+01:00")
    assert code == 0
    assert "--treatment marl-pit-4" in out
    row = open_record(tmp_path / "marl-pit-4").read("treatment").iloc[-1]
    assert row["title"] == "Marl Pit Stories, no. 4"
    assert (tmp_path / "register.csv").exists()


def test_new_refuses_a_name_that_is_taken(tmp_path, capsys):
    run(capsys, tmp_path, *NEW)
    code, _, err = run(capsys, tmp_path, *NEW)
    assert code == 2
    assert "marl-pit-4" in err


@pytest.mark.parametrize("start", ["yesterday", "2026-03-02T09:00", "02/03/2026 09:00"])
def test_new_refuses_a_start_without_a_clear_time(tmp_path, capsys, start):
    code, _, err = run(capsys, tmp_path, *NEW, "--start", start)
    assert code == 2
    assert "Write it like 2026-03-02T09:00+01:00" in err
    assert not (tmp_path / "marl-pit-4").exists()


def test_list_says_where_each_stands_and_what_is_due(sample, capsys):
    code, out, _ = run(capsys, sample.parent, "list")
    assert code == 0
    assert "The Tin Orchard Annual, no. 2" in out
    assert "stands at" in out


def test_list_marks_what_is_overdue(sample, capsys):
    at = "2026-03-20T09:00+01:00"  # long past by any clock that runs this test
    step = {"step": "s99", "stage": "writeup", "cycle": 2, "name": "hand it back", "hands": "yes"}
    moment = datetime.fromisoformat(at)
    rows = {"steps": [{**step, "planned_start": moment, "planned_end": moment}]}
    open_record(sample).save(rows, by="M. Tallow", at=moment)
    _, out, _ = run(capsys, sample.parent, "list")
    assert "overdue since Fri 20 Mar 2026 09:00: hand it back" in out


def test_list_names_a_broken_record_and_exits_with_1(sample, capsys):
    spoil(sample, "thickness", "thickness,extra")
    code, out, _ = run(capsys, sample.parent, "list")
    assert code == 1
    assert "fault: readings.csv" in out


def test_check_lists_every_fault_with_its_place(sample, capsys):
    spoil(sample, ",180.5,", ',"180,5",')
    code, out, _ = run(capsys, sample.parent, "check")
    assert code == 1
    assert "readings.csv row 1 column value" in out
    assert "180.5" in out


def test_check_finds_the_samples_sound(capsys):
    code, out, _ = run(capsys, SAMPLES, "check")
    assert code == 0
    assert f"{ANNUAL}: sound" in out


def test_an_unknown_folder_or_treatment_is_wrong_use(tmp_path, capsys):
    assert run(capsys, tmp_path / "none", "list")[0] == 2
    code, _, err = run(capsys, tmp_path, "report", "no-such")
    assert code == 2
    assert "no-such" in err


def test_open_refuses_an_unknown_sample(tmp_path, capsys):
    code, _, err = run(capsys, tmp_path, "open", "--sample", "no-such")
    assert code == 2
    assert ANNUAL in err


def test_a_sample_is_copied_once_and_never_over_work(sample):
    (sample / "mine.txt").write_text("kept")
    assert copy_sample(ANNUAL, sample.parent) == sample
    assert (sample / "mine.txt").read_text() == "kept"


@pytest.mark.parametrize("command", ["open", "new", "list", "check", "report", "practise"])
def test_every_command_has_help(command):
    done = subprocess.run(
        [sys.executable, "-m", "bench", command, "--help"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0
    assert "--records" in done.stdout


def test_no_command_is_wrong_use():
    done = subprocess.run([sys.executable, "-m", "bench"], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "COMMAND" in done.stderr
