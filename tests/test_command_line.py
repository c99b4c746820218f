"""The command line: what it says, what it writes, how it exits."""

import subprocess
import sys
from datetime import datetime

import pytest

from bench.__main__ import copy_sample, main
from bench.records.store import open_record

NEW = ["new", "marl-pit-4", "--title", "Marl Pit Stories, no. 4", "--conservator", "M. Tallow"]


def run(capsys, *words):
    code = main(list(words))
    said = capsys.readouterr()
    return code, said.out, said.err


def test_new_starts_a_record_and_says_how_to_go_on(tmp_path, capsys):
    code, out, _ = run(capsys, *NEW, "--records", str(tmp_path), "--start", "2026-03-02T09:00+01:00")
    assert code == 0
    assert "--treatment marl-pit-4" in out
    row = open_record(tmp_path / "marl-pit-4").read("treatment").iloc[-1]
    assert row["title"] == "Marl Pit Stories, no. 4"
    assert (tmp_path / "register.csv").exists()


def test_new_refuses_a_name_that_is_taken(tmp_path, capsys):
    run(capsys, *NEW, "--records", str(tmp_path))
    code, _, err = run(capsys, *NEW, "--records", str(tmp_path))
    assert code == 2
    assert "marl-pit-4" in err


@pytest.mark.parametrize("start", ["yesterday", "2026-03-02T09:00", "02/03/2026 09:00"])
def test_new_refuses_a_start_without_a_clear_time(tmp_path, capsys, start):
    code, _, err = run(capsys, *NEW, "--records", str(tmp_path), "--start", start)
    assert code == 2
    assert "Write it like 2026-03-02T09:00+01:00" in err
    assert not (tmp_path / "marl-pit-4").exists()


def test_list_says_where_each_stands_and_what_is_due(tmp_path, capsys):
    copy_sample("tin-orchard-annual-2", tmp_path)
    code, out, _ = run(capsys, "list", "--records", str(tmp_path))
    assert code == 0
    assert "The Tin Orchard Annual, no. 2" in out
    assert "stands at" in out


def test_list_marks_what_is_overdue(tmp_path, capsys):
    copy_sample("tin-orchard-annual-2", tmp_path)
    at = "2026-03-20T09:00+01:00"  # long past by any clock that runs this test
    step = {"step": "s99", "stage": "writeup", "cycle": 2, "name": "hand it back", "hands": "yes"}
    moment = datetime.fromisoformat(at)
    rows = {"steps": [{**step, "planned_start": moment, "planned_end": moment}]}
    open_record(tmp_path / "tin-orchard-annual-2").save(rows, by="M. Tallow", at=moment)
    _, out, _ = run(capsys, "list", "--records", str(tmp_path))
    assert "overdue since Fri 20 Mar 2026 09:00: hand it back" in out


def test_list_names_a_broken_record_and_exits_with_1(tmp_path, capsys):
    copy_sample("tin-orchard-annual-2", tmp_path)
    readings = tmp_path / "tin-orchard-annual-2" / "readings.csv"
    readings.write_text(readings.read_text().replace("thickness", "thickness,extra", 1))
    code, out, _ = run(capsys, "list", "--records", str(tmp_path))
    assert code == 1
    assert "fault: readings.csv" in out


def test_check_lists_every_fault_with_its_place(tmp_path, capsys):
    copy_sample("tin-orchard-annual-2", tmp_path)
    readings = tmp_path / "tin-orchard-annual-2" / "readings.csv"
    readings.write_text(readings.read_text().replace(",180.5,", ',"180,5",', 1))
    code, out, _ = run(capsys, "check", "--records", str(tmp_path))
    assert code == 1
    assert "readings.csv row 1 column value" in out
    assert "180.5" in out


def test_check_finds_the_samples_sound(capsys):
    from bench.__main__ import SAMPLES

    code, out, _ = run(capsys, "check", "--records", str(SAMPLES))
    assert code == 0
    assert "tin-orchard-annual-2: sound" in out


def test_an_unknown_folder_or_treatment_is_wrong_use(tmp_path, capsys):
    assert run(capsys, "list", "--records", str(tmp_path / "none"))[0] == 2
    code, _, err = run(capsys, "report", "no-such", "--records", str(tmp_path))
    assert code == 2
    assert "no-such" in err


def test_open_refuses_an_unknown_sample(tmp_path, capsys):
    code, _, err = run(capsys, "open", "--sample", "no-such", "--records", str(tmp_path))
    assert code == 2
    assert "tin-orchard-annual-2" in err


def test_a_sample_is_copied_once_and_never_over_work(tmp_path):
    folder = copy_sample("tin-orchard-annual-2", tmp_path)
    (folder / "mine.txt").write_text("kept")
    assert copy_sample("tin-orchard-annual-2", tmp_path) == folder
    assert (folder / "mine.txt").read_text() == "kept"


@pytest.mark.parametrize("command", ["open", "new", "list", "check", "report"])
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
