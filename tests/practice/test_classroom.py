"""The classroom: who practises, where attempts are kept, whose exercises there are."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from bench import practising
from bench.__main__ import main
from bench.classroom import EXERCISES, NOBODY, Practice, open_practice
from bench.practice.shapes import Judgement, Marked
from bench.records.at_hand import BENCH_FOLDER
from bench.treatment.measured import NOTHING_MEASURED
from tests.makers import AS_ROOT

NAME = "reading-thickness"
SOUND = (EXERCISES / f"{NAME}.md").read_text(encoding="utf-8")


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, object]]:
    """Collect what would have been served, and serve nothing."""
    calls: list[dict[str, object]] = []
    monkeypatch.setattr(practising, "open_workbook", lambda **words: calls.append(words) or 0)
    return calls


def practise(tmp_path: Path, *words: str) -> int:
    return main(["practise", "--records", str(tmp_path / "r"), "--no-browser", *words, *AS_ROOT])


def test_the_command_opens_the_exercises_for_a_learner(
    tmp_path: Path, opened: list[dict[str, object]]
) -> None:
    assert practise(tmp_path, "--learner", "Ada Marsh", "--exercises", str(tmp_path)) == 0
    (call,) = opened
    assert call["learner"] == "Ada Marsh"
    assert call["records"] == (tmp_path / "r").resolve()
    assert call["exercises"] == tmp_path.resolve()
    assert call["first"] == "practice/00_practice.ipynb"
    assert (EXERCISES.parent / str(call["first"])).is_file()


def test_who_gives_no_name_is_asked_or_known_or_an_apprentice(
    tmp_path: Path, opened: list[dict[str, object]], monkeypatch: pytest.MonkeyPatch
) -> None:
    practise(tmp_path)  # nobody is there to be asked
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda _: " Bo Fern ")
    practise(tmp_path)
    monkeypatch.setattr("builtins.input", lambda _: "")
    practise(tmp_path)
    monkeypatch.setenv("BENCH_LEARNER", "Cleo Marl")
    practise(tmp_path)
    assert [call["learner"] for call in opened] == [NOBODY, "Bo Fern", NOBODY, "Cleo Marl"]


@pytest.mark.parametrize(
    ("words", "said"),
    [(["--learner", "—"], "a name with letters"), (["--exercises", "none"], "a folder that")],
)
def test_what_cannot_be_used_is_refused_before_anything_is_served(
    words: list[str],
    said: str,
    tmp_path: Path,
    opened: list[dict[str, object]],
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert practise(tmp_path, *words) == 2
    assert said in capsys.readouterr().err
    assert opened == []


def test_a_page_finds_attempts_learner_and_exercises(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "my-own.md").write_text(SOUND, encoding="utf-8")
    monkeypatch.setenv("BENCH_RECORDS", str(tmp_path / "records"))
    monkeypatch.setenv("BENCH_LEARNER", "Ada Marsh")
    monkeypatch.setenv("BENCH_EXERCISES", str(tmp_path / "mine"))
    practice = open_practice()
    assert (practice.learner, practice.records, practice.is_scratch) == (
        "Ada Marsh",
        tmp_path / "records",
        False,
    )
    assert {NAME, "my-own"} <= set(practice.exercises)
    monkeypatch.setenv("BENCH_ATTEMPTS", str(tmp_path / "attempts"))
    practice = open_practice()
    task = practice.task("my-own")
    practice.save(task, Marked(Judgement.READ), answer="", hints=0, words="")
    assert [each.exercise for each in practice.attempts] == ["my-own"]
    assert [path.name for path in (tmp_path / "attempts").iterdir() if path.is_dir()] == [
        "_practice-ada-marsh"
    ]
    assert not (tmp_path / "records").exists()


def test_a_faulty_exercise_of_the_teacher_leaves_the_others(tmp_path: Path) -> None:
    (tmp_path / "broken.md").write_text("no front matter", encoding="utf-8")
    (tmp_path / f"{NAME}.md").write_text(SOUND.replace("Read how far", "See how far", 1), encoding="utf-8")
    practice = Practice("Ada Marsh", tmp_path, own=tmp_path)
    assert practice.exercises[NAME].title.startswith("See how far")  # hers takes the place of the workbook's
    assert [fault.table for fault in practice.faults] == ["broken.md"]


def test_a_copy_of_the_bench_beside_exercises_is_what_they_reckon_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only that copy counts, not what lies beside the learner's attempts."""
    asked: list[Path] = []
    monkeypatch.setattr(
        "bench.classroom.look_at_trials", lambda folder: asked.append(folder) or NOTHING_MEASURED
    )
    (tmp_path / "records" / BENCH_FOLDER).mkdir(parents=True)
    practice = Practice("Ada Marsh", tmp_path / "records", own=tmp_path / "mine")
    assert practice.measured is NOTHING_MEASURED
    assert asked == []
    shutil.copytree(tmp_path / "records" / BENCH_FOLDER, tmp_path / "mine" / BENCH_FOLDER)
    assert practice.measured is NOTHING_MEASURED
    assert [folder.parent for folder in asked] == [tmp_path / "mine"]
