"""Opening the workbook: what happens before a server is started, and how wrong use is answered."""

from __future__ import annotations

import json
import os
import stat
import threading
from pathlib import Path

import pytest

from bench import __main__ as command_line
from bench import lab
from bench.errors import BadValue, NotFound
from tests.makers import ANNUAL, AS_ROOT


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, object]]:
    """Collect what would have been served, and serve nothing."""
    calls: list[dict[str, object]] = []
    monkeypatch.setattr(command_line, "open_workbook", lambda **words: calls.append(words) or 0)
    return calls


def test_a_sample_is_copied_once_and_opened(tmp_path: Path, opened: list[dict[str, object]]) -> None:
    records = tmp_path / "records"
    words = ["open", "--sample", ANNUAL, "--records", str(records), "--no-browser", *AS_ROOT]
    assert command_line.main(words) == 0
    mine = records / ANNUAL / "my-note.txt"
    mine.write_text("keep", encoding="utf-8")
    assert command_line.main(words) == 0
    assert mine.read_text(encoding="utf-8") == "keep"
    assert [call["treatment"] for call in opened] == [ANNUAL, ANNUAL]
    assert opened[0]["records"] == records.resolve()
    assert opened[0]["browser"] is False
    assert not list(records.glob(".copy-*"))


def test_an_unknown_sample_is_answered_with_the_known(
    tmp_path: Path, opened: list[dict[str, object]], capsys: pytest.CaptureFixture[str]
) -> None:
    assert command_line.main(["open", "--sample", "nothing", "--records", str(tmp_path)]) == 2
    message = capsys.readouterr().err
    assert "'nothing'" in message
    assert ANNUAL in message
    assert opened == []


def test_an_unknown_treatment_is_refused(tmp_path: Path, opened: list[dict[str, object]]) -> None:
    assert command_line.main(["open", "--treatment", "nothing", "--records", str(tmp_path)]) == 2
    assert opened == []


def test_a_file_in_place_of_the_records_is_refused(
    tmp_path: Path, opened: list[dict[str, object]], capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "records").write_text("a file", encoding="utf-8")
    assert command_line.main(["open", "--records", str(tmp_path / "records")]) == 2
    assert "a folder that can be written" in capsys.readouterr().err
    assert opened == []


@pytest.mark.parametrize("words", [["--help"], ["open", "--help"], ["--version"]])
def test_help_and_version_are_no_fault(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        command_line.main(words)
    assert end.value.code == 0
    assert "bench" in capsys.readouterr().out


def test_a_missing_workbook_is_named(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="folder of notebooks"):
        lab.open_workbook(records=tmp_path, workbook=tmp_path / "none")


@pytest.mark.parametrize("port", [0, -1, 65536])
def test_an_impossible_port_is_refused(port: int, tmp_path: Path) -> None:
    with pytest.raises(BadValue, match="1 to 65535"):
        lab.open_workbook(records=tmp_path, workbook=tmp_path, port=port)


def test_the_kernels_get_the_record_and_none_of_the_users_settings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JUPYTER_PATH", "somewhere")
    monkeypatch.setenv("BENCH_TREATMENT", "stale")
    got = lab._environment(tmp_path, records=tmp_path / "r", treatment=None, token="t")
    assert got["BENCH_RECORDS"] == str((tmp_path / "r").resolve())
    assert "JUPYTER_PATH" not in got
    assert "BENCH_TREATMENT" not in got
    assert got["PATH"] == os.environ["PATH"]
    assert all(got[name].startswith(str(tmp_path)) for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR"))


def test_the_superuser_serves_it_only_if_asked_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 1000, raising=False)
    lab._check_user(as_root=False)
    monkeypatch.setattr(os, "geteuid", lambda: 0, raising=False)
    with pytest.raises(BadValue, match=r"user is root; allowed is .* add --as-root"):
        lab.open_workbook(records=tmp_path, workbook=tmp_path)
    lab._check_user(as_root=True)
    assert "--allow-root" not in lab._command(tmp_path, 8888)
    assert "--allow-root" in lab._command(tmp_path, 8888, as_root=True)


def test_the_browser_is_not_told_the_token_on_its_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    monkeypatch.setattr(lab.webbrowser, "open", lambda address: bool(asked.append(address)) or True)
    monkeypatch.setattr(lab, "_PAGE_S", 0.0)
    later: list[threading.Timer] = []
    monkeypatch.setattr(threading.Timer, "start", lambda timer: later.append(timer))
    assert lab._open_browser("http://127.0.0.1:1/lab?token=secret", tmp_path)
    page = tmp_path / "open.html"
    assert asked == [page.as_uri()]
    assert stat.S_IMODE(page.stat().st_mode) == 0o600
    assert "token=secret" in page.read_text(encoding="utf-8")
    (removal,) = later
    removal.run()
    assert not page.exists()


def test_news_updates_and_autosave_are_off(tmp_path: Path) -> None:
    lab.write_settings(tmp_path)
    folder = tmp_path / "config" / "labconfig"
    page = json.loads((folder / "page_config.json").read_text(encoding="utf-8"))
    assert page["disabledExtensions"]["@jupyterlab/apputils-extension:announcements"] is True
    settings = json.loads((folder / "default_setting_overrides.json").read_text(encoding="utf-8"))
    assert settings["@jupyterlab/docmanager-extension:plugin"]["autosave"] is False
    command = lab._command(tmp_path, 8888)
    assert "--ServerApp.ip=127.0.0.1" in command
    assert "--LabApp.news_url=None" in command


def test_who_practises_and_her_exercises_reach_the_kernels(tmp_path: Path) -> None:
    words = {"records": tmp_path / "r", "treatment": None, "token": "t"}
    got = lab._environment(tmp_path, **words, learner="Ada Marsh", exercises=tmp_path / "mine")
    assert got["BENCH_LEARNER"] == "Ada Marsh"
    assert got["BENCH_EXERCISES"] == str((tmp_path / "mine").resolve())
    assert {"BENCH_LEARNER", "BENCH_EXERCISES"} & set(lab._environment(tmp_path, **words)) == set()


def test_a_page_of_a_folder_within_is_the_first_only_if_it_is_there(tmp_path: Path) -> None:
    page = tmp_path / lab.FIRST_OF_PRACTICE
    asked = f"--LabApp.default_url=/lab/tree/{lab.FIRST_OF_PRACTICE}"
    assert asked not in lab._command(tmp_path, 8888, first=lab.FIRST_OF_PRACTICE)
    page.parent.mkdir()
    page.touch()
    assert asked in lab._command(tmp_path, 8888, first=lab.FIRST_OF_PRACTICE)
