"""Exercises on a page: what lies before the learner, what came of her answer, how far a class has come."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from bench.figures import practice_drawn
from bench.figures.chart import Chart
from bench.figures.page import Page, lead_of, table, verdict_tag
from bench.figures.style import Picture
from bench.figures.templates import PIECES
from bench.practice.exercises import Exercise
from bench.practice.shapes import Judged, Marked
from bench.practice.skills import Attempt, Standing, by_skill, commonest_ways
from bench.practice.task import Help, Marker, Task
from bench.sources import say_sources
from bench.treatment.plan import Verdict
from bench.units import UnitChoice, say_count, upper_first

Drawing = Callable[[Any, UnitChoice], Chart | Picture | str]

PICTURES: dict[str, Drawing] = {**practice_drawn.PICTURES}
"""What shows what happens, by the name that a marker gives."""

_TAGS = {
    Judged.RIGHT: (Verdict.GO, "Right"),
    Judged.NEAR: (Verdict.CARE, "Near"),
    Judged.WRONG: (Verdict.CARE, "Not yet"),
    Judged.READ: (Verdict.GO, "Worked through"),
}
_MARKS = {Standing.CAN: "● can do", Standing.NEARLY: "◐ nearly", Standing.NOT_YET: "○ not yet"}


def look_part(task: Task, hints: int) -> str:
    """Write what lies before the learner: story, readings, the steps that are shown, and hints asked for."""
    parts = [
        str(PIECES.paragraphs([task.say(task.exercise.look)], "")),
        table(("on the bench", ""), task.solution.look, words=True),
        str(PIECES.paragraphs([task.say(task.exercise.question)], "say")),
    ]
    steps = task.shown_steps()
    if steps:
        head = "The way, worked out:" if task.help is Help.WORKED else "The way, as far as the half:"
        parts.append(str(PIECES.paragraphs([head], "because")) + str(PIECES.bullets(steps, "")))
    told = [task.say(hint) for hint in task.exercise.hints[:hints]]
    if told:
        parts.append(str(PIECES.bullets([f"Hint: {hint}" for hint in told], "hints")))
    return "".join(parts)


def ask_lead(task: Task) -> str:
    """Write the opening before an answer: what is asked, and how much help there is."""
    how = {
        Help.WORKED: "Read how it is done, then take an item of your own.",
        Help.HALF: "Half of the way is shown. Commit to an answer, then see what happens.",
        Help.ALONE: "Commit to an answer, then see what happens. Nothing is shown before.",
    }[task.help]
    tag = verdict_tag(Verdict.GO, upper_first(str(task.help)))
    return lead_of(tag, how, "")


def marked_lead(task: Task, marked: Marked) -> str:
    """Write what an answer was, by which way, and what would have happened."""
    verdict, word = _TAGS[marked.judged]
    if marked.wrong is not None:
        verdict = Verdict.CARE
        return lead_of(verdict_tag(verdict, word), f"You {marked.wrong.words}. {marked.wrong.harm}", "")
    is_read = task.solution.holds is not None
    off = "outside what the readings allow" if is_read else "one is missing or too many"
    said = {
        Judged.RIGHT: "Within what the readings allow." if is_read else "That is it.",
        Judged.NEAR: f"Close, but {off}. Look at the way below.",
        Judged.WRONG: "Not the answer, and by no way that is known here. Look at the way below.",
        Judged.READ: "Kept for your teacher to read.",
    }[marked.judged]
    if task.help is Help.WORKED:
        said = "This is how it is done. Now press “Another item”, and do the second half by yourself."

    return lead_of(verdict_tag(verdict, word), said, "")


def told_part(task: Task, answer: str) -> str:
    """Write what was right beside what was answered, the way there, why, and where it comes from."""
    explain = [words for words in task.say(task.exercise.explain).split("\n\n") if words.strip()]
    sources = "; ".join(say_sources(source) for source in task.exercise.sources)
    return "".join(
        (
            str(PIECES.paragraphs([f"Your answer: {answer}."], "")) if answer else "",
            str(PIECES.bullets(task.solution.steps, "")),
            str(PIECES.paragraphs(explain, "")),
            str(PIECES.paragraphs([f"Sources: {sources}."], "because")),
        )
    )


def happens(task: Task, units: UnitChoice) -> Chart | Picture | str | None:
    """Draw what happens to the item, where the exercise has a picture of it."""
    draw = PICTURES.get(task.marker.picture)
    return None if draw is None or task.solution.plan is None else draw(task.solution.plan, units)


def skills_page(learner: str, exercises: Mapping[str, Exercise], attempts: Sequence[Attempt]) -> Page:
    """Show a learner what she can do, skill by skill, and what to take up next."""
    standing = by_skill(attempts)
    rows = [
        (skill, _MARKS[standing.get((learner, skill), Standing.NOT_YET)], _say_tried(own, attempts))
        for skill, own in _skills(exercises).items()
    ]
    done = sum(mark == _MARKS[Standing.CAN] for _, mark, _ in rows)
    words = f"{learner} can do {done} of {len(rows)} skills."
    return Page(f"{PIECES.paragraphs([words], '')}{table(('skill', '', 'tried'), rows, words=True)}", words)


def _skills(exercises: Mapping[str, Exercise]) -> dict[str, list[Exercise]]:
    found: dict[str, list[Exercise]] = {}
    for exercise in exercises.values():
        found.setdefault(exercise.skill, []).append(exercise)
    return found


def _say_tried(own: Iterable[Exercise], attempts: Sequence[Attempt]) -> str:
    names = {exercise.name for exercise in own}
    count = sum(each.exercise in names for each in attempts)
    return say_count(count, "attempt") if count else "not tried"


def class_page(
    exercises: Mapping[str, Exercise],
    attempts: Sequence[Attempt],
    unread: Sequence[str],
    markers: Mapping[str, Marker],
) -> Page:
    """Show a teacher her class: learners by skills, the commonest wrong ways, and free words to read."""
    learners = sorted({each.learner for each in attempts})
    skills = list(_skills(exercises))
    standing = by_skill(attempts)
    rows = [
        (who, *(_MARKS[standing[who, s]] if (who, s) in standing else "–" for s in skills))
        for who in learners
    ]
    words = f"{say_count(len(learners), 'learner')}, {say_count(len(attempts), 'attempt')}."
    if unread:
        words += f" Not read: {'; '.join(unread)}."
    body = [str(PIECES.paragraphs([words], ""))]
    if rows:
        body.append(table(("learner", *skills), rows, words=True))
        body += [_ways_table(exercises, attempts, markers), _words_table(attempts)]
    return Page("".join(body), words)


def _ways_table(
    exercises: Mapping[str, Exercise], attempts: Sequence[Attempt], markers: Mapping[str, Marker]
) -> str:
    rows = []
    for name, key, count, last in commonest_ways(attempts):
        exercise = exercises.get(name)
        known = {} if exercise is None else markers[exercise.marker].wrong
        rows.append((known.get(key, key), name, f"{count}", f"{last.learner}: {last.answer}"))
    return (
        table(("commonest wrong ways: they …", "exercise", "times", "for example"), rows, words=True)
        if rows
        else ""
    )


def _words_table(attempts: Sequence[Attempt]) -> str:
    rows = [
        (each.learner, each.exercise, each.words, f"{each.at:%Y-%m-%d %H:%M}")
        for each in sorted(attempts, key=lambda each: each.at, reverse=True)
        if each.words
    ]
    return table(("learner", "exercise", "in their own words", "when"), rows, words=True) if rows else ""
