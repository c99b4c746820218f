"""Check an exercise before learners see it: every fault as one sentence, none of them lost."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from difflib import get_close_matches

from bench.errors import BenchError
from bench.practice.exercises import BRACES, Exercise
from bench.practice.shapes import Judgement, ReplyKind
from bench.practice.task import Marker, Task, set_task
from bench.practice.told import say_reply
from bench.sources import all_sources
from bench.units import say_count

DRAWS = 200
"""Items that an exercise is tried on: seven learners, from their worked example on."""

_LEARNERS = 7
_NO_VALUE = re.compile(r"\bnan\b|\binf\b|\bNone\b")
_LEAST_DIFFERENT = 3  # one item in three differs from all others
_GIVE_UP = 3  # items none of which could be set: then the rest cannot either
_FEWEST_WORDS = 20
_ENOUGH, _MOST_ALIKE = 30, 0.6  # items, and the share of them that one answer may be right for


def check_exercise(
    exercise: Exercise,
    markers: Mapping[str, Marker],
    draws: int = DRAWS,
    tell: Callable[[int], None] = lambda number: None,
) -> tuple[str, ...]:
    """Draw many items of an exercise and list everything that is wrong with it.

    Parameters
    ----------
    exercise : Exercise
        As it was read.
    markers : mapping of str to Marker
        Those that there are.
    draws : int
        Items to be drawn; where none of the first few could be set, no more are.
    tell : callable
        Called with how many were drawn so far, before each.

    Returns
    -------
    tuple of str
        A sentence for each fault, with how many items show it and the first of them; empty if it is sound.
    """
    found: dict[str, list[str]] = {}
    tasks: list[Task] = []
    drawn = 0
    for number in range(draws):
        if drawn == _GIVE_UP and not tasks:
            break
        tell(number)
        learner, attempt = f"Learner {number % _LEARNERS}", 1 + number // _LEARNERS
        try:
            task = set_task(exercise, markers, learner, attempt)
            faults = list(_task_faults(task))
            tasks.append(task)
        except BenchError as error:
            faults = [f"no item could be set: {error}"]
        except Exception as error:  # whatever else a marker does
            faults = [f"{exercise.marker} broke off ({type(error).__name__}: {error}), a fault of the marker"]
        for fault in dict.fromkeys(faults):
            found.setdefault(fault, []).append(f"{learner}, attempt {attempt}")
        drawn += 1
    said = [_say(fault, places, drawn) for fault, places in found.items()]
    if not tasks:
        return (*_written_faults(exercise), *said)
    alike = (*_never(tasks, exercise, markers), *_few(tasks), *_guessable(tasks))
    return (*_written_faults(exercise), *_text_faults(tasks[0]), *said, *alike)


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


def _text_faults(task: Task) -> Iterator[str]:
    """Yield what is wrong with the texts, once they are filled in."""
    exercise, named = task.exercise, task.facts
    allowed = ", ".join(f"{{{each}}}" for each in sorted(named))
    for name in sorted(exercise.braces - set(named)):
        yield f"a text holds {{{name}}}, which {exercise.marker} does not fill; allowed is {allowed}."
    for text in (exercise.look, exercise.question, exercise.explain, *exercise.hints):
        left = BRACES.sub("", text)
        if found := re.search(r"[^\n]*[{}][^\n]*", left):
            yield f"a brace is left open in “{_short(found[0].strip())}”; write {{name}}, without blanks."
        elif not exercise.braces - set(named) and _NO_VALUE.search(task.say(text)):
            yield f"a text is filled with no value: “{_short(task.say(text))}”."


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:57]}..."


def _written_faults(exercise: Exercise) -> Iterator[str]:
    """Yield what is wrong with the words, whatever the item."""
    known = {source.key for source in all_sources()}
    for source in exercise.sources:
        if source not in known and " " not in source.strip():
            near = ", ".join(get_close_matches(source, known, 3, 0.4)) or "common-practice"
            yield (
                f"the source “{source}” is not known; near to it is {near}. Write one of these, or author, "
                "year and title in words."
            )
    if not exercise.sources:
        yield 'no source is named. Write sources = ["common-practice"] where there is none.'
    if len(exercise.explain.split()) < _FEWEST_WORDS:
        yield f"Explain has {say_count(len(exercise.explain.split()), 'word')}. Write why in 40 to 120."
    if not exercise.wrong:
        yield "wrong is empty. Name one wrong way or more, so that learners hear what they did."
    if not exercise.skill.strip():
        yield "the skill is empty. Write the name of a skill; several exercises may train one."
    if not 1 <= exercise.minutes <= 120:
        yield f"minutes is {exercise.minutes}; allowed is 1 to 120. Write how long it takes, mostly 10 to 30."
    twice = sorted({key for key in exercise.wrong if exercise.wrong.count(key) > 1})
    for key in twice:
        yield f"the wrong way “{key}” is named twice. Leave one of them out."


def _never(tasks: Sequence[Task], exercise: Exercise, markers: Mapping[str, Marker]) -> Iterator[str]:
    """Yield the wrong ways that not every item has room for, where none had."""
    ways = {way.key for task in tasks for way in task.ways()}
    for key in exercise.wrong:
        if key not in ways and key in markers[exercise.marker].sometimes:
            yield (f"the wrong way “{key}” led to no answer of its own in {len(tasks)} items; leave it out.")


def _few(tasks: Sequence[Task]) -> Iterator[str]:
    items = {(task.drawn.item.title, task.drawn.item.leaves) for task in tasks}
    if len(items) * _LEAST_DIFFERENT < len(tasks):
        yield f"only {len(items)} of {len(tasks)} items differ. Ask for a wider kind of item."


def _guessable(tasks: Sequence[Task]) -> Iterator[str]:
    """Yield an answer that is right so often that nobody has to look."""
    answers = Counter(say_reply(task.question, task.solution.right) for task in tasks)
    answer, times = answers.most_common(1)[0]
    if len(tasks) >= _ENOUGH and times > _MOST_ALIKE * len(tasks):
        yield (
            f"“{answer}” is right for {times} of {len(tasks)} items, and learners will guess it. Ask for a "
            "wider kind of item, or change a rule that narrows the answers."
        )
