"""The check of exercises: a sound one passes, and each way to spoil one is told in a sentence."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from bench.__main__ import main
from bench.classroom import EXERCISES, look_at_exercises
from bench.practice.checking import check_exercise
from bench.practice.exercises import read_exercise
from bench.practice.markers import MARKERS
from bench.practice.task import Marker, set_task
from bench.units import Q_

SOUND = (EXERCISES / "reading-thickness.md").read_text(encoding="utf-8")
FEW = 6


def with_line(name: str, line: str) -> str:
    """Give the text of an exercise with a line in its front matter, in place of its own if it has one."""
    key = line.split(" = ")[0]
    lines = (EXERCISES / f"{name}.md").read_text(encoding="utf-8").splitlines()
    return "\n".join(["+++", line, *(each for each in lines[1:] if not each.startswith(f"{key} = "))]) + "\n"


def faults_of(text: str, markers: dict[str, Marker] = MARKERS) -> tuple[str, ...]:
    return check_exercise(read_exercise(text, "tried", markers), markers, draws=FEW)


def spoil(old: str, new: str) -> str:
    assert old in SOUND
    return SOUND.replace(old, new, 1)


def test_a_sound_exercise_has_no_fault() -> None:
    assert faults_of(SOUND) == ()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("{rise}", "{risen}", "a text holds {risen}, which clearance does not fill; allowed is {doubt}"),
        ("{rise}", "{ rise }", "a brace is left open"),
        ("minutes = 15", "minutes = 900", "minutes is 900; allowed is 1 to 120"),
        ('"gum"', '"gumm"', "the source “gumm” is not known; near to it is gum"),
        ('["gum", "common-practice"]', "[]", "no source is named"),
        ('"staple-alone"]', '"staple-alone", "staple-alone"]', "“staple-alone” is named twice"),
        ('"reading thickness"', '" "', "the skill is empty"),
    ],
)
def test_each_fault_is_told(old: str, new: str, said: str) -> None:
    assert any(said in fault for fault in faults_of(spoil(old, new)))


def test_a_text_is_looked_at_once_and_not_in_every_item() -> None:
    (fault,) = faults_of(spoil("{rise}", "{risen}"))
    assert fault.endswith("{title}.")


def test_where_no_item_can_be_set_no_more_are_drawn() -> None:
    """A wrong way that is right as often as not: what to leave out is said, and nobody waits for it."""
    drawn: list[int] = []

    def solve(drawn_item, settings):  # type: ignore[no-untyped-def]
        found = MARKERS["staples"].solve(drawn_item, settings)
        return replace(found, wrong=tuple(replace(way, answer=found.right) for way in found.wrong))

    text = with_line("staple-decides", "risk = 0.05")
    markers = {"staples": replace(MARKERS["staples"], solve=solve)}
    (fault,) = check_exercise(read_exercise(text, "tried", markers), markers, tell=drawn.append)
    assert drawn == [0, 1, 2]
    assert (
        "leave out a wrong way that is right as often as not, or leave load as usual, or leave risk" in fault
    )
    assert fault.endswith("(In 3 of 3 items, the first of Learner 0, attempt 1.)")


def test_an_answer_that_can_be_guessed_is_told() -> None:
    marker = MARKERS["leaves"]
    markers = {
        "leaves": replace(marker, solve=lambda *given: replace(marker.solve(*given), right=Q_(42.0, "")))
    }
    exercise = read_exercise((EXERCISES / "pages-or-leaves.md").read_text(encoding="utf-8"), "tried", markers)
    said = " ".join(check_exercise(exercise, markers, draws=30))
    assert "“42” is right for 30 of 30 items, and learners will guess it." in said


@pytest.mark.parametrize("name", ["My Own", "my_own", "büro", "capstone-mine"])
def test_a_file_has_a_name_that_attempts_can_be_joined_by(name: str, tmp_path: Path) -> None:
    (tmp_path / f"{name}.md").write_text(SOUND, encoding="utf-8")
    _, wrong = look_at_exercises(tmp_path)
    assert "the file's name" in f"{wrong[name][0]}"
    assert "Rename it" in f"{wrong[name][0]}"


def test_a_marker_that_marks_wrongly_is_found() -> None:
    """The right answer is moved out of its own interval; a wrong way is left without a word on its harm."""
    marker = MARKERS["clearance"]

    def solve(drawn, settings):  # type: ignore[no-untyped-def]
        found = marker.solve(drawn, settings)
        silent = tuple(replace(way, harm="") for way in found.wrong)
        return replace(found, right=found.right + 3 * (found.holds.high - found.holds.low), wrong=silent)

    said = " ".join(faults_of(SOUND, {"clearance": replace(marker, solve=solve)}))
    assert "the right answer is not marked as right" in said
    assert "the wrong way “lower-staple” does not say what would have happened" in said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (SOUND.replace("## Look", "Some words.\n\n## Look"), "stands before the first heading"),
        (SOUND + "\n## Notes\n\nMore.\n", "Notes: is a heading nobody sees; allowed is Look, Question"),
        (SOUND + "\n## Look\n\nAgain.\n", "Look: stands there 2 times; keep one"),
        (SOUND.replace("marks =", "mark ="), "marks: is missing"),
        ("no front matter", "begins with 'no front matter'; allowed is a first line with +++ alone"),
        ("+++\ntitle = 1\n", "has no line with +++ alone beneath the front matter"),
        (
            spoil("minutes = 15", "minutes = 15 min"),
            "line 13, or the one before it, cannot be read: 'minutes = 15 min'",
        ),
        (
            with_line("staple-decides", "risk = 0,05"),
            "line 2, or the one before it, cannot be read: 'risk = 0,05'",
        ),
        (spoil("minutes = 15", "minutes = 15\nminutes = 15"), "A name stands there once"),
        (spoil("place = 1\n+++\n", "place = 1\nplace = 2\n+++  \n"), "cannot be read: 'place = 2'"),
        (
            spoil('item = "stapled"', 'item = "glued"'),
            "item: is “glued”; clearance marks stapled, side-stapled, sad",
        ),
        (spoil('"Read how far', '"Read {title} how far'), "title: holds a brace"),
        (re.sub(r"hints = \[.*?\]", 'hints = ["one"]', SOUND, flags=re.DOTALL), "hints: has fewer than two"),
        (with_line("reading-thickness", "slips = 3"), "slips: means nothing to clearance; allowed is"),
        (with_line("staple-decides", 'risk = "0.05"'), "risk: is '0.05'; allowed is a number, 0.001 to 0.2"),
        (with_line("staple-decides", "risk = 5"), "risk: is 5; allowed is a number, 0.001 to 0.2"),
        (
            with_line("staple-decides", 'load = "hard"'),
            'load: is \'hard\'; allowed is "light" or "medium" or "firm"',
        ),
        (
            with_line("sheets-place", "spacings = 6"),
            "spacings: is 6; allowed is a list of whole numbers, each 2 to 12, like [6, 8",
        ),
        (
            with_line("sheets-place", "spacings = [6, 40]"),
            "spacings: is [6, 40]; allowed is a list of whole numbers",
        ),
    ],
)
def test_what_nobody_would_see_is_told_when_it_is_read(text: str, said: str, tmp_path: Path) -> None:
    (tmp_path / "mine.md").write_text(text, encoding="utf-8")
    sound, wrong = look_at_exercises(tmp_path)
    assert sound == {}
    assert any(said in f"{fault}" for fault in wrong["mine"])


def test_the_command_checks_a_teachers_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One that cannot be read hides no other, and the exit code tells."""
    (tmp_path / "a-bad.md").write_bytes(b"\xff\xfe")
    assert main(["practise", "--check", str(tmp_path)]) == 1
    (tmp_path / "b-open.md").write_text(spoil("{rise}", "{risen}"), encoding="utf-8")
    assert main(["practise", "--check", str(tmp_path)]) == 1
    said = capsys.readouterr().out
    assert "a-bad: 1 fault\n    a-bad.md: is no plain text in UTF-8" in said
    assert "b-open: 1 fault\n    a text holds {risen}" in said


def test_the_command_says_what_a_teacher_should_know(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "reading-thickness.md").write_text(
        spoil('"reading thickness"', '"feeling paper"'), encoding="utf-8"
    )
    (tmp_path / "mine.md.txt").write_text(SOUND, encoding="utf-8")
    assert main(["practise", "--check", str(tmp_path)]) == 1
    said = capsys.readouterr().out
    assert "it takes the place of the workbook's own of that name" in said
    assert "“feeling paper” is a skill that none of the workbook's own trains" in said
    assert "mine.md.txt is not looked at: the name of an exercise ends in .md" in said


def test_an_empty_or_missing_folder_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["practise", "--check", str(tmp_path)]) == 0
    assert "No exercise in" in capsys.readouterr().out
    assert main(["practise", "--check", str(tmp_path / "none")]) == 2
    assert "a folder that exists" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("name", "line", "said"),
    [
        ("let-go", "limit = 55", "55 % RH, the rule of this bench"),
        ("compare-decide", "most_growth = 0.8", "0.8 % of the width, in all"),
        ("sheets-place", "spacings = [5]", "at most 5 leaves between two sheets"),
        ("staple-decides", "risk = 0.1", "(chance of loading 10 %)"),
    ],
)
def test_a_rule_of_the_teachers_own_is_used_and_lies_before_the_learner(
    name: str, line: str, said: str
) -> None:
    exercise = read_exercise(with_line(name, line), "mine", MARKERS)
    assert check_exercise(exercise, MARKERS, draws=5 * FEW) == ()
    look = set_task(exercise, MARKERS, "Ada Marsh", 3).solution.look
    assert any(said in value for _, value in look)


def test_every_rule_that_may_be_set_is_one_that_would_be_accepted() -> None:
    for name, marker in MARKERS.items():
        for each in marker.settings:
            ((key, value),) = tomllib.loads(each.say_usual()).items()
            assert (key, each.fault(value)) == (each.key, ""), name
