"""Exercises on a page: what lies before the learner, what came of her answer, how far a class has come."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import Any

from bench.figures import practice_drawn
from bench.figures.chart import Chart
from bench.figures.page import Page, fold, lead_of, table, verdict_tag
from bench.figures.style import Picture
from bench.figures.templates import PIECES
from bench.practice.capstone import SKILL as WHOLE
from bench.practice.capstone import title_of
from bench.practice.exercises import Exercise
from bench.practice.shapes import Judgement, Marked, ReplyKind
from bench.practice.skills import ALONE, Attempt, SkillStanding, by_skill, commonest_ways, suggest_next
from bench.practice.task import Guidance, Marker, Task, try_out
from bench.practice.told import say_reply
from bench.sources import say_sources
from bench.treatment.plan import Verdict
from bench.units import UnitChoice, say_count, upper_first

Drawing = Callable[[Any, UnitChoice], Chart | Picture | str]

PICTURES: dict[str, Drawing] = {**practice_drawn.PICTURES}
"""What shows what happens, by the name that a marker gives."""

_TAGS = {
    Judgement.RIGHT: (Verdict.GO, "Right"),
    Judgement.NEAR: (Verdict.CARE, "Near"),
    Judgement.WRONG: (Verdict.CARE, "Not yet"),
    Judgement.READ: (Verdict.GO, "Worked through"),
}
_SIGNS = {SkillStanding.CAN: "●", SkillStanding.NEARLY: "◐", SkillStanding.NOT_YET: "○"}
_LATEST = 20  # free answers that are shown at once


def look_part(task: Task, hints: int) -> str:
    """Write what lies before the learner: story, readings, the steps that are shown, and hints asked for."""
    parts = [
        str(PIECES.paragraphs([task.say(task.exercise.look)], "")),
        table(("on the bench", ""), task.solution.look, words=True),
        str(PIECES.paragraphs([task.say(task.exercise.question)], "say")),
    ]
    steps = task.shown_steps()
    if steps:
        head = "The way, worked out:" if task.help is Guidance.WORKED else "The way, as far as the half:"
        parts.append(str(PIECES.paragraphs([head], "because")) + str(PIECES.bullets(steps, "")))
    told = [task.say(hint) for hint in task.exercise.hints[:hints]]
    if told:
        parts.append(str(PIECES.bullets([f"Hint: {hint}" for hint in told], "hints")))
    return "".join(parts)


def ask_lead(task: Task) -> str:
    """Write the opening before an answer: what is asked, and how much help there is."""
    how = {
        Guidance.WORKED: "Read how it is done, then take an item of your own.",
        Guidance.HALF: "Half of the way is shown. Commit to an answer, then see what happens.",
        Guidance.ALONE: "Commit to an answer, then see what happens. Nothing is shown before.",
    }[task.help]
    tag = verdict_tag(Verdict.GO, upper_first(str(task.help)))
    return lead_of(tag, how, "")


def wait_lead(title: str) -> str:
    """Write the opening of a part that shows what an earlier one asks for."""
    tag = verdict_tag(Verdict.CARE, "Not yet open")
    return lead_of(tag, f"First commit to an answer above: {title}.", "It shows what is asked there.")


def marked_lead(task: Task, marked: Marked) -> str:
    """Write what an answer was, by which way, and what would have happened."""
    verdict, word = _TAGS[marked.judged]
    if marked.wrong is not None:
        verdict = Verdict.CARE
        return lead_of(
            verdict_tag(verdict, word), f"You {task.say_way(marked.wrong)}. {marked.wrong.harm}", ""
        )
    is_read = task.question.kind is ReplyKind.NUMBER and task.question.unit not in ("", "dimensionless")
    said = {
        Judgement.RIGHT: "Within what the readings allow." if is_read else "That is it.",
        Judgement.NEAR: f"Close, but not yet it. {marked.comes}",
        Judgement.WRONG: f"Not the answer. {marked.comes}",
        Judgement.READ: "Kept for your teacher to read.",
    }[marked.judged]
    if task.help is Guidance.WORKED:
        said = "This is how it is done. Now press “Another item”, and do the second half by yourself."

    return lead_of(verdict_tag(verdict, word), said.strip(), "")


def told_part(task: Task, marked: Marked, answer: str) -> str:
    """Write what was right beside what was answered, the way there, why, and where it comes from."""
    explain = [words for words in task.say(task.exercise.explain).split("\n\n") if words.strip()]
    sources = "; ".join(say_sources(source) for source in task.exercise.sources)
    own = [f"Your answer: {answer}."] if answer else []
    if marked.ways:  # the first of them stands at the head
        own += [f"You also {task.say_way(way)}. {way.harm}" for way in marked.ways[1:]]
        own += [marked.comes] if marked.comes else []
    return "".join(
        (
            str(PIECES.paragraphs(own, "")) if own else "",
            str(PIECES.bullets(task.solution.steps, "")),
            str(PIECES.paragraphs(explain, "")),
            str(PIECES.paragraphs([f"Sources: {sources}."], "because")),
        )
    )


def happens(task: Task, units: UnitChoice) -> Chart | Picture | str | None:
    """Draw what happens to the item, where the exercise has a picture of it."""
    draw = PICTURES.get(task.marker.picture)
    if draw is None or task.solution.plan is None:
        return None
    drawn = draw(task.solution.plan, units)
    return drawn.as_past() if isinstance(drawn, Chart) else drawn


def skills_page(learner: str, exercises: Mapping[str, Exercise], attempts: Sequence[Attempt]) -> Page:
    """Show a learner what she can do, skill by skill, then with a whole treatment."""
    standing = by_skill(attempts)
    skills = _skills(exercises)
    of = {skill: standing.get((learner, skill), SkillStanding.NOT_YET) for skill in (*skills, WHOLE)}
    rows = [
        (skill, f"{_SIGNS[came]} {came}", _say_tried(each.skill == skill for each in attempts))
        for skill, came in of.items()
    ]
    done = sum(of[skill] is SkillStanding.CAN for skill in skills)
    words = f"{learner} can do {done} of {len(skills)} skills."
    return Page(f"{PIECES.paragraphs([words], '')}{table(('skill', '', 'tried'), rows, words=True)}", words)


def _skills(exercises: Mapping[str, Exercise]) -> tuple[str, ...]:
    """Give the skills that exercises train, in the order of the work."""
    return tuple(dict.fromkeys(exercise.skill for exercise in exercises.values()))


def _say_tried(found: Iterable[bool]) -> str:
    count = sum(found)
    return say_count(count, "attempt") if count else "not tried"


def exercises_page(
    exercises: Mapping[str, Exercise],
    attempts: Sequence[Attempt],
    *,
    pages: Collection[str] = (),
    faults: Sequence[object] = (),
) -> Page:
    """List the exercises with what was tried of each, and say which to take up next.

    Parameters
    ----------
    exercises : mapping of str to Exercise
        By name.
    attempts : sequence of Attempt
        Of one learner.
    pages : collection of str
        Names of those that have a page of their own, which is linked to.
    faults : sequence
        What keeps other exercises from being worked.
    """
    rows = [
        (
            PIECES.link(f"{name}.ipynb", each.title) if name in pages else each.title,
            each.skill,
            f"{each.minutes} min",
            _say_tried(tried.exercise == name for tried in attempts),
        )
        for name, each in exercises.items()
    ]
    following = suggest_next({name: each.skill for name, each in exercises.items()}, attempts)
    words = f"{say_count(len(exercises), 'exercise')}."
    if following:
        words += f" Take up next: {exercises[following].title}."
    elif exercises:
        words += " You can do them all. Come back in some weeks: what is not used is lost."
    body = [str(PIECES.paragraphs([words], "say"))]
    if rows:
        body.append(table(("exercise", "skill", "takes", "tried"), rows, words=True))
    if faults:
        told = [f"{fault}" for fault in faults]
        words += f" {say_count(len(told), 'fault')} in other exercises."
        body.append(str(PIECES.paragraphs(["For your teacher: some exercises cannot be worked."], "")))
        body.append(str(PIECES.bullets(told, "because")))
    return Page("".join(body), words)


def markers_page(markers: Mapping[str, Marker]) -> Page:
    """List what can be marked: each marker with its question, wrong ways, and what a teacher may write."""
    rows = [
        (
            name,
            marker.question.label,
            PIECES.bullets([f"{key}: {words}" for key, words in marker.wrong.items()], ""),
            _say_open(name, marker),
        )
        for name, marker in sorted(markers.items())
    ]
    words = f"{say_count(len(rows), 'judgement')} can be marked: {', '.join(name for name, *_ in rows)}."
    head = ("marks", "asks", "wrong ways: they …", "yours to write")
    return Page(f"{PIECES.paragraphs([words], '')}{table(head, rows, words=True)}", words)


def _say_open(name: str, marker: Marker) -> Any:
    """List what an exercise may choose for a marker: kinds of item, rules of its own, and names in braces."""
    facts = sorted(try_out(name, marker).facts)
    rules = [f"{each.say_usual()} – {each.words}; {each.say_allowed()}" for each in marker.settings]
    said = [f"item: {', '.join(marker.kinds)}", f"in braces: {', '.join(facts)}", *rules]
    return PIECES.bullets(said, "")


def item_part(task: Task) -> str:
    """Write an item as a learner saw it, then what is right and where each wrong way leads."""
    right = say_reply(task.question, task.solution.right)
    ways = [
        (f"who {task.say_way(way)}", say_reply(task.question, way.answer), way.harm) for way in task.ways()
    ]
    return "".join(
        (
            look_part(task, len(task.exercise.hints)),
            str(PIECES.paragraphs([f"Right is: {right}"], "say")),
            str(PIECES.bullets(task.solution.steps, "")),
            table(("wrong way", "leads to", "and then"), ways, words=True) if ways else "",
        )
    )


def answered_part(attempt: Attempt | None) -> str:
    """Write what a learner answered, how it was marked, and her own words."""
    if attempt is None:
        return str(PIECES.paragraphs(["Not answered yet: this is the item that waits for her."], ""))
    rows = [
        ("answered", attempt.answer or "–"),
        ("marked", str(attempt.judged) + (f", {attempt.wrong_way}" if attempt.wrong_way else "")),
        ("help", f"{attempt.help}, {say_count(attempt.hints, 'hint')}"),
        ("in her own words", attempt.words or "–"),
        ("when", f"{attempt.at:%Y-%m-%d %H:%M}"),
    ]
    return table(("what she did", ""), rows, words=True)


def class_page(
    exercises: Mapping[str, Exercise],
    attempts: Sequence[Attempt],
    unread: Sequence[str],
    markers: Mapping[str, Marker],
) -> Page:
    """Show a teacher her class: learners by skills, the commonest wrong ways, and free words to read."""
    learners = sorted({each.learner for each in attempts})
    words = f"{say_count(len(learners), 'learner')}, {say_count(len(attempts), 'attempt')}."
    if unread:
        words += f" Not read: {'; '.join(unread)}."
    body = [str(PIECES.paragraphs([words], ""))]
    if not learners:
        body.append(str(PIECES.paragraphs(["Nobody has tried anything yet."], "because")))
    else:
        body += [
            _standing_table(learners, exercises, attempts),
            fold("What each has tried", _tried_table(exercises, attempts)),
            _ways_table(exercises, attempts, markers),
            _words_table(exercises, attempts),
        ]
    return Page("".join(body), words)


def _standing_table(
    learners: Sequence[str], exercises: Mapping[str, Exercise], attempts: Sequence[Attempt]
) -> str:
    """Write how far each learner has come with each skill, and how often she tried it; signs told beneath."""
    skills = [*_skills(exercises), WHOLE]
    standing = by_skill(attempts)
    tried = Counter((each.learner, each.skill) for each in attempts)
    rows = [
        (
            who,
            *(f"{_SIGNS[standing[who, s]]} {tried[who, s]}" if (who, s) in standing else "–" for s in skills),
        )
        for who in learners
    ]
    told = "; ".join(f"{sign} {standing}" for standing, sign in _SIGNS.items())
    note = f"{told}; the number behind it: attempts; – not tried."
    return table(("learner", *skills), rows, words=True) + str(PIECES.paragraphs([note], "because"))


def _tried_table(exercises: Mapping[str, Exercise], attempts: Sequence[Attempt]) -> str:
    """Write what each learner has tried: how often, how it went alone, and the last time."""
    groups: dict[tuple[str, str], list[Attempt]] = {}
    for each in attempts:
        groups.setdefault((each.learner, each.exercise), []).append(each)
    rows = []
    for (learner, name), own in sorted(groups.items()):
        alone = [each for each in own if each.help == ALONE and each.judged is not Judgement.READ]
        right = sum(each.judged is Judgement.RIGHT for each in alone)
        went = f"{right} of {len(alone)} right" if alone else "not yet alone"
        last = f"{max(each.at for each in own):%Y-%m-%d}"
        rows.append((learner, title_of(name, exercises), f"{len(own)}", went, last))
    return table(("learner", "tried", "attempts", "alone", "last"), rows, words=True)


def _ways_table(
    exercises: Mapping[str, Exercise], attempts: Sequence[Attempt], markers: Mapping[str, Marker]
) -> str:
    rows = []
    for name, key, count, last in commonest_ways(attempts):
        exercise = exercises.get(name)
        known = {} if exercise is None else markers[exercise.marker].wrong
        example = f"{last.learner}, attempt {last.number}: {last.answer}"
        rows.append((known.get(key, key), title_of(name, exercises), f"{count}", example))
    head = ("commonest wrong ways: they …", "exercise", "times", "the last of them")
    return table(head, rows, words=True) if rows else ""


def _words_table(exercises: Mapping[str, Exercise], attempts: Sequence[Attempt]) -> str:
    """Write the free words, the latest first; more than a page of them is folded away."""
    rows = [
        (each.learner, title_of(each.exercise, exercises), each.words, f"{each.at:%Y-%m-%d %H:%M}")
        for each in sorted(attempts, key=lambda each: each.at, reverse=True)
        if each.words
    ]
    head = ("learner", "exercise", "in their own words", "when")
    if not rows:
        return ""
    older = rows[_LATEST:]
    folded = (
        fold(f"{say_count(len(older), 'earlier answer')}", table(head, older, words=True)) if older else ""
    )
    return table(head, rows[:_LATEST], words=True) + folded
