"""Check an exercise before learners see it: every fault as one sentence, none of them lost."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from bench.errors import BenchError
from bench.practice.exercises import Exercise
from bench.practice.shapes import Judgement, ReplyKind
from bench.practice.task import Marker, Task, set_task
from bench.sources import all_sources

DRAWS = 200
"""Items that an exercise is tried on: seven learners, from their worked example on."""

_LEARNERS = 7
_NO_VALUE = re.compile(r"\bnan\b|\binf\b|\bNone\b")
_LEAST_DIFFERENT = 3  # one item in three differs from all others


def check_exercise(exercise: Exercise, markers: Mapping[str, Marker], draws: int = DRAWS) -> tuple[str, ...]:
    """Draw many items of an exercise and list everything that is wrong with it.

    Parameters
    ----------
    exercise : Exercise
        As it was read.
    markers : mapping of str to Marker
        Those that there are.
    draws : int
        Items to be drawn.

    Returns
    -------
    tuple of str
        A sentence for each fault, with how many items show it and the first of them; empty if it is sound.
    """
    found: dict[str, list[str]] = {}
    items: set[tuple[object, ...]] = set()
    ways: set[str] = set()
    for number in range(draws):
        learner, attempt = f"Learner {number % _LEARNERS}", 1 + number // _LEARNERS
        where = f"{learner}, attempt {attempt}"
        try:
            task = set_task(exercise, markers, learner, attempt)
            faults = list(_task_faults(task))
            items.add((task.drawn.item.title, task.drawn.item.leaves))
            ways |= {way.key for way in task.ways()}
        except BenchError as error:
            faults = [f"no item could be set: {error}"]
        except Exception as error:  # whatever a marker does with a setting it cannot use
            remedy = "look at the settings in the front matter"
            faults = [f"{exercise.marker} broke off ({type(error).__name__}: {error}); {remedy}"]
        for fault in dict.fromkeys(faults):
            found.setdefault(fault, []).append(where)
    said = [_say(fault, places, draws) for fault, places in found.items()]
    never = [
        f"the wrong way “{key}” led to no answer in {draws} items; leave it out of wrong."
        for key in exercise.wrong
        if items and key not in ways and key in markers[exercise.marker].sometimes
    ]
    return (*_written_faults(exercise), *said, *never, *_few(items, draws))


def _say(fault: str, places: list[str], draws: int) -> str:
    return f"{fault.rstrip('.')}. (In {len(places)} of {draws} items, the first of {places[0]}.)"


def _task_faults(task: Task) -> Iterator[str]:
    """Yield what is wrong with one item."""
    solution = task.solution
    if task.question.kind is ReplyKind.TEXT:
        if task.mark("some words").judged is not Judgement.READ:
            yield "free words are marked; they should only be kept"
    elif task.mark(solution.right).judged is not Judgement.RIGHT:
        yield "the right answer is not marked as right"
    known = {way.key: way for way in task.ways()}
    for key in task.exercise.wrong:
        if key not in known and key not in task.marker.sometimes:
            yield f"the wrong way “{key}” leads to no answer; leave it out of wrong"
    for key, way in known.items():
        marked = task.mark(way.answer)
        if marked.judged is not Judgement.WRONG or marked.wrong is None or marked.wrong.key != key:
            taken = f"“{marked.wrong.key}”" if marked.wrong else marked.judged
            yield f"the answer of the wrong way “{key}” is taken for {taken}; leave one of them out"
        if not way.harm.strip():
            yield f"the wrong way “{key}” does not say what would have happened"
    if not solution.steps:
        yield "no step of the way to the answer is told"
    if not solution.look:
        yield "nothing lies before the learner"
    yield from _text_faults(task)


def _text_faults(task: Task) -> Iterator[str]:
    exercise = task.exercise
    open_ = exercise.braces - set(task.facts)
    for name in sorted(open_):
        allowed = ", ".join(f"{{{each}}}" for each in sorted(task.facts))
        yield f"a text holds {{{name}}}, which {exercise.marker} does not fill; allowed is {allowed}"
    if open_:
        return
    for text in (exercise.look, exercise.question, exercise.explain, *exercise.hints):
        said = task.say(text)
        if "{" in said or "}" in said:
            yield f"a brace is left open in “{_short(said)}”; write {{name}}, without blanks"
        if _NO_VALUE.search(said):
            yield f"a text is filled with no value: “{_short(said)}”"


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}..."


def _written_faults(exercise: Exercise) -> Iterator[str]:
    """Yield what is wrong with the words, whatever the item."""
    known = {source.key for source in all_sources()}
    for source in exercise.sources:
        if source not in known and " " not in source.strip():
            yield f"the source “{source}” is no key of bench/sources.csv. Write one, or a reference in words."
    if not exercise.sources:
        yield 'no source is named. Write sources = ["common-practice"] where there is none.'
    if not exercise.skill.strip():
        yield "the skill is empty. Write the name of a skill; several exercises may train one."
    if not 1 <= exercise.minutes <= 120:
        yield f"minutes is {exercise.minutes}; allowed is 1 to 120. Write how long it takes, mostly 10 to 30."
    twice = sorted({key for key in exercise.wrong if exercise.wrong.count(key) > 1})
    for key in twice:
        yield f"the wrong way “{key}” is named twice. Leave one of them out."


def _few(items: set[tuple[object, ...]], draws: int) -> Iterator[str]:
    if items and len(items) * _LEAST_DIFFERENT < draws:
        yield f"only {len(items)} of {draws} items differ. Ask for a wider kind of item."
