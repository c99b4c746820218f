"""The pages for the whole folder: for nobody, for a learner with attempts, for a teacher with her class."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bench.classroom import EXERCISES, Practice
from bench.figures.practice import exercises_page
from bench.panels.practice import (
    ExerciseChooser,
    build_look_again_panel,
    show_class,
    show_exercises,
    show_markers,
    show_skills,
)
from bench.practice.capstone import CAPSTONE, PARTS
from bench.practice.markers import MARKERS
from bench.practice.shapes import Judgement, Marked
from bench.practice.skills import Attempt, SkillStanding, stand_whole, suggest_next

NAME = "reading-thickness"
START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


class Clock:
    """A minute later at each look."""

    def __init__(self) -> None:
        self.at = START

    def __call__(self) -> datetime:
        self.at += timedelta(minutes=1)
        return self.at


def practice_of(learner: str, records: Path) -> Practice:
    return Practice(learner, records, clock=Clock())


def answer(practice: Practice, *judged: str) -> None:
    """Answer the next items: rightly, or by a wrong way of that name."""
    for each in judged:
        task = practice.task(NAME)
        ways = {way.key: way for way in task.ways()}
        marked = Marked(Judgement.WRONG, (ways[each],)) if each in ways else Marked(Judgement(each))
        practice.save(task, marked, answer=f"answer {each}", hints=0, words="It just holds.")


@pytest.fixture
def a_class(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Practice:
    """A teacher, and two learners whose attempts lie in folders of their own."""
    answer(practice_of("Ada Marsh", tmp_path / "ada"), "read", "right", "right", "right")
    answer(practice_of("Bo Fern", tmp_path / "bo"), "read", "right", "lower-staple", "lower-staple")
    monkeypatch.setenv("BENCH_CLASS", str(tmp_path))
    return practice_of("Cleo Marl", tmp_path / "teacher")


def test_pages_for_nobody_say_so(tmp_path: Path) -> None:
    practice = practice_of("Apprentice", tmp_path)
    assert "can do 0 of" in show_skills(practice).words
    assert "Take up next: " in show_exercises(practice).words
    assert "Nobody has tried anything yet." in show_class(practice).html
    panel = build_look_again_panel(practice)
    assert "Not answered yet" in panel.answer
    assert "Right is: " in panel.answer


def test_a_folder_without_an_exercise_is_said(tmp_path: Path) -> None:
    chooser = ExerciseChooser(Practice("Apprentice", tmp_path, exercises=tmp_path))
    assert chooser.panel is None
    assert "no exercise" in chooser._repr_mimebundle_()["text/plain"]
    assert exercises_page({}, ()).words == "0 exercises."


def test_the_chooser_works_any_exercise_also_a_new_one(tmp_path: Path) -> None:
    text = (EXERCISES / f"{NAME}.md").read_text(encoding="utf-8")
    (tmp_path / "a-new-one.md").write_text(text.replace("Read how far", "See how far", 1), encoding="utf-8")
    practice = Practice("Ada Marsh", tmp_path / "r", own=tmp_path, clock=Clock())
    chooser = ExerciseChooser(practice)
    chooser.choice.value = "a-new-one"
    assert chooser.panel is not None
    chooser.panel.widget  # noqa: B018 - it is built
    assert "worked example" in chooser.panel.answer.lower()
    assert chooser.panel._strip()[0] == "See how far a staple stands"
    assert "a-new-one" not in practice.pages


def test_an_exercise_that_cannot_be_set_leaves_the_others(tmp_path: Path) -> None:
    practice = practice_of("Ada Marsh", tmp_path)
    chooser = ExerciseChooser(practice)
    practice.exercises.clear()  # taken away by the teacher meanwhile
    chooser._show()
    assert chooser.panel is None
    assert "Cannot be set" in chooser.widget.children[1].children[0].value


def test_links_lead_only_to_pages_that_are_there(tmp_path: Path) -> None:
    practice = practice_of("Ada Marsh", tmp_path)
    exercises = practice.exercises
    assert f'<a href="{NAME}.ipynb">' in exercises_page(exercises, (), pages={NAME}).html
    assert "<a " not in exercises_page(exercises, ()).html
    assert all((EXERCISES / f"{name}.ipynb").is_file() for name in practice.pages)
    faulty = exercises_page(exercises, (), faults=("mine.md: <b>broken</b>",)).html
    assert "mine.md: &lt;b&gt;broken" in faulty


def test_a_teacher_sees_who_can_do_what_and_how_it_goes_wrong(a_class: Practice) -> None:
    page = show_class(a_class)
    assert "2 learners, 8 attempts." in page.words
    assert "<td>Ada Marsh</td><td>● 4</td><td>–</td>" in page.html
    assert "<td>Bo Fern</td><td>○ 4</td><td>–</td>" in page.html
    assert (
        "<td>Ada Marsh</td><td>Read how far a staple stands</td><td>4</td><td>2 of 2 right</td>" in page.html
    )
    assert "<td>0 of 2 right</td><td>2026-03-02</td>" in page.html
    assert "took the flatter of the staples" in page.html
    assert "Bo Fern, attempt 4: answer lower-staple" in page.html
    assert "It just holds." in page.html


def test_a_whole_treatment_is_told_by_its_parts_and_stands_beside_the_skills(tmp_path: Path) -> None:
    practice = practice_of("Ada Marsh", tmp_path)
    for number, part in enumerate(PARTS):
        task = practice.task(f"{CAPSTONE}{part}")
        practice.save(task, task.mark(task.solution.right), answer="", hints=0, words=f"{number} words")
    page = show_class(practice)
    assert "within a whole treatment" in page.html
    assert "no longer there" not in page.html
    assert f"● {len(PARTS)}" in page.html
    assert "<td>a whole treatment</td><td>● can do</td><td>9 attempts</td>" in show_skills(practice).html
    panel = build_look_again_panel(practice)  # it begins with the last part
    assert "Say what a report has to say, within a whole treatment" in dict(
        panel.field("exercise").widget.options
    )
    assert f"{len(PARTS) - 1} words" in panel.answer


def test_free_words_beyond_a_page_are_folded_away_and_not_lost(tmp_path: Path) -> None:
    practice = practice_of("Ada Marsh", tmp_path)
    answer(practice, *(["right"] * 23))
    html = show_class(practice).html
    assert "<summary>3 earlier answers</summary>" in html
    assert html.count("It just holds.") == 23


def part_of(name: str, number: int, judged: Judgement, hints: int = 0) -> Attempt:
    at = START + timedelta(minutes=number)
    return Attempt(
        "Ada", f"{CAPSTONE}{name}", "a whole treatment", number, "alone", "", judged, "", hints, "", at
    )


@pytest.mark.parametrize(
    ("last", "hints", "standing"),
    [
        (Judgement.RIGHT, 0, SkillStanding.CAN),
        (Judgement.RIGHT, 2, SkillStanding.NEARLY),
        (Judgement.NEAR, 0, SkillStanding.NEARLY),
        (Judgement.WRONG, 0, SkillStanding.NOT_YET),
    ],
)
def test_a_whole_treatment_stands_as_its_weakest_part(
    last: Judgement, hints: int, standing: SkillStanding
) -> None:
    first, *others = PARTS
    parts = [part_of(first, 1, last, hints), *(part_of(name, 1, Judgement.RIGHT) for name in others)]
    assert stand_whole(parts) is standing
    assert stand_whole(parts[1:]) is SkillStanding.NOT_YET  # a part was never worked
    assert stand_whole([*parts, part_of(first, 2, Judgement.WRONG)]) is standing  # another item, only begun


def test_a_teacher_looks_at_an_item_as_the_learner_saw_it(a_class: Practice, tmp_path: Path) -> None:
    panel = build_look_again_panel(a_class)  # begins with the last attempt
    panel.fill({"learner": "bo fern", "exercise": NAME, "attempt": "3"})
    seen = practice_of("Bo Fern", tmp_path / "bo").task(NAME, 3)
    assert all(seen.drawn.say_read(place) in panel.answer for place in seen.drawn.read_mm)
    assert "answer lower-staple" in panel.answer
    assert "wrong, lower-staple" in panel.answer
    panel.fill({"attempt": "0"})
    assert not panel._is_current


def test_who_writes_an_exercise_sees_what_can_be_marked() -> None:
    page = show_markers()
    assert "clearance" in page.words
    for name, marker in MARKERS.items():
        assert f"<td>{name}</td>" in page.html
        assert all(f"<li>{key}: " in page.html for key in marker.wrong)


def attempt(exercise: str, skill: str, judged: Judgement, minute: int) -> Attempt:
    at = START + timedelta(minutes=minute)
    return Attempt("Ada Marsh", exercise, skill, 3, "alone", "", judged, "", 0, "", at)


def test_what_was_begun_comes_before_what_is_new() -> None:
    skills = {"a": "one", "b": "two", "c": "three"}
    assert suggest_next(skills, ()) == "a"
    tried = [attempt("b", "two", Judgement.WRONG, 1), attempt("a", "one", Judgement.RIGHT, 2)]
    assert suggest_next(skills, tried) == "a"
    tried.append(attempt("a", "one", Judgement.RIGHT, 3))
    assert suggest_next(skills, tried) == "b"
    tried += [attempt("b", "two", Judgement.RIGHT, n) for n in (4, 5)]
    assert suggest_next(skills, tried) == "c"
    tried += [attempt("c", "three", Judgement.RIGHT, n) for n in (6, 7)]
    assert suggest_next(skills, tried) == ""
