"""The panel of an exercise: look, commit to an answer, find out, and again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, cast

import ipywidgets as widgets

from bench.classroom import Practice
from bench.errors import BadValue, BenchError, RecordError
from bench.figures.practice import ask_lead, happens, look_part, marked_lead, told_part, wait_lead
from bench.panels.base import Panel, View
from bench.panels.fields import ChoiceField, Field, GroupLabel, NumberField, Shown, TextField, TickField
from bench.panels.parts import LatePart
from bench.practice.shapes import Judgement, Marked, Question, Reply, ReplyKind
from bench.practice.task import Guidance, Task
from bench.practice.told import say_reply
from bench.units import Q_, UnitChoice, read_numbers, read_time

_COMMIT, _READ = "Commit to this answer", "I have read it"
_NOT_CHOSEN = ("choose …", "")
_MOST = 9999  # leaves or sheets that anybody counts
_NEVER_NEGATIVE = ("hour", "percent", "dimensionless")
_RANKS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


@dataclass
class _State:
    """What is on the table: the task, hints asked for, and what came of the answer once it is committed.

    ``waits`` names the part of the capstone that comes first; ``is_elsewhere`` says that another window has
    answered this item.
    """

    task: Task
    hints: int = 0
    marked: Marked | None = None
    answer: str = ""
    waits: str = ""
    is_elsewhere: bool = False


@dataclass(frozen=True)
class _EnteredReply:
    """An answer as it stands in the fields, or none yet."""

    reply: Reply | None
    answer: str
    words: str


def build_exercise_panel(practice: Practice, name: str) -> Panel:
    """Build the panel.

    Parameters
    ----------
    practice : Practice
        Of the learner: her attempts are kept there.
    name : str
        Of the exercise.
    """
    state = _State(practice.task(name))
    question = state.task.question
    commit = widgets.Button(description=_READ if state.task.help is Guidance.WORKED else _COMMIT)
    hint = widgets.Button(description="A hint")
    again = widgets.Button(description="Another item")
    for button, kind in ((commit, "commit"), (hint, "hint"), (again, "another")):
        button.add_class(f"bench-{kind}")
        button.layout.width = "auto"  # else its words are cut off

    def work(values: Mapping[str, Any], units: UnitChoice) -> _EnteredReply:
        reply = _read_reply(question, values)
        return _EnteredReply(reply, "" if reply is None else say_reply(question, reply), values["words"])

    def show(entered: _EnteredReply, units: UnitChoice) -> View:
        state.waits = "" if state.marked else practice.waits_for(state.task)
        _arrange(state, commit, hint, again)
        is_asked = state.task.help is not Guidance.WORKED and not state.waits
        for entry in answers:  # there is nothing to answer where all is worked out
            entry.box.layout.display = "" if is_asked else "none"
            if isinstance(entry, Field):
                entry.widget.disabled = state.marked is not None
        return View(lead=_lead(state), parts=_parts(state, units))

    def do_commit(_: object) -> None:
        if state.marked is not None or state.is_elsewhere:
            return
        try:
            entered = panel.plan()
            if entered.reply is None and state.task.help is not Guidance.WORKED:
                panel.tell("Nothing was kept: give your answer first.")
                return
            if practice.is_answered(state.task):
                state.is_elsewhere = True
                panel.refresh()
                panel.tell("Nothing was kept: this item was answered in another window. Take another item.")
                return
            marked, answer = _mark(state.task, entered), entered.answer
            practice.save(state.task, marked, answer=answer, hints=state.hints, words=entered.words)
        except (BenchError, RecordError, OSError) as error:
            panel.tell(f"Nothing was kept. {error}")
            return
        state.marked, state.answer = marked, answer
        practice.switch.saves += 1  # other panels and the strip follow

    def do_hint(_: object) -> None:
        state.hints = min(state.hints + 1, len(state.task.exercise.hints))
        panel.refresh()

    def do_again(_: object) -> None:
        nonlocal state
        state = _State(practice.task(name))
        panel.fill({entry.key: entry.first for entry in fields if isinstance(entry, Field)})
        practice.switch.saves += 1

    answers = _fields(question)
    fields = [
        *answers,
        Shown(widgets.HBox([commit, hint, again], layout={"flex_flow": "row wrap"})),
    ]
    panel = Panel(
        name="exercise",
        strip=lambda: [state.task.exercise.title, practice.learner, f"attempt {state.task.attempt}"],
        fields=fields,
        work=work,
        show=show,
        units=practice.switch,
        has_switch=False,  # items are told in millimetres and degrees Celsius; any unit may be typed
        stays=lambda: _parts(state, practice.switch.choice),
    )
    commit.on_click(do_commit)
    hint.on_click(do_hint)
    again.on_click(do_again)
    return panel


def _arrange(state: _State, commit: widgets.Button, hint: widgets.Button, again: widgets.Button) -> None:
    """Offer what can be done now.

    A button that waits for an answer is not dimmed: whoever has just typed one presses it before the field is
    read, and would press in vain.
    """
    is_worked, is_over = state.task.help is Guidance.WORKED, state.marked is not None or state.is_elsewhere
    commit.description = _READ if is_worked else _COMMIT
    commit.disabled = is_over or bool(state.waits)
    hint.disabled = commit.disabled or is_worked or state.hints >= len(state.task.exercise.hints)
    again.disabled = not is_over


def _lead(state: _State) -> str:
    if state.waits:
        return wait_lead(state.waits)
    return ask_lead(state.task) if state.marked is None else marked_lead(state.task, state.marked)


def _parts(state: _State, units: UnitChoice) -> Iterator[LatePart]:
    if state.waits:
        return
    if state.marked is None:
        yield look_part(state.task, state.hints)
        return
    yield told_part(state.task, state.marked, state.answer)
    yield happens(state.task, units)
    yield look_part(state.task, state.hints)


def _mark(task: Task, entered: _EnteredReply) -> Marked:
    if task.help is Guidance.WORKED or entered.reply is None:
        return Marked(Judgement.READ)
    return task.mark(entered.reply)


def _fields(question: Question) -> list[Field | GroupLabel]:
    return [
        GroupLabel("Your answer"),
        *_reply_fields(question),
        TextField(
            "words", "In your own words, a line or two", long=True, hint="why; for your teacher, not marked"
        ),
    ]


def _reply_fields(question: Question) -> list[Field]:
    label, choices = question.label, [_NOT_CHOSEN, *((words, key) for key, words in question.options)]
    if question.kind is ReplyKind.NUMBER:
        low = Q_(0.0, question.unit) if question.unit in _NEVER_NEGATIVE else None
        return [NumberField("reply", label, None, question.unit, low=low, optional=True)]
    if question.kind is ReplyKind.CLOCK:
        return [TextField("reply", label, hint="as a clock shows it, like 14:30")]
    if question.kind is ReplyKind.CHOICE:
        return [ChoiceField("reply", label, choices, "")]
    if question.kind is ReplyKind.TICKS:
        ticks: list[Field] = [
            TickField(f"reply-{k}", words) for k, words in question.options if k not in question.one_of
        ]
        if not question.one_of:
            return ticks
        decisions = [_NOT_CHOSEN, *((words, k) for k, words in question.options if k in question.one_of)]
        return [ChoiceField("reply", "Your decision", decisions, ""), *ticks]
    if question.kind is ReplyKind.ORDER:
        return [
            ChoiceField(f"reply-{number}", upper, choices, "")
            for number, upper in enumerate(_RANKS[: len(question.options)])
        ]
    if question.kind is ReplyKind.PLACES:
        return [TextField("reply", label, hint="leaf numbers with blanks between, like 6 12 18")]
    return [TextField("reply", label, long=True)]


def _read_reply(question: Question, values: Mapping[str, Any]) -> Reply | None:
    """Read an answer; None while none is given.

    Raises
    ------
    BadValue
        Places that are no leaf numbers, or no time of day.
    """
    if question.kind is ReplyKind.TICKS:
        ticked = frozenset(key for key, _ in question.options if values.get(f"reply-{key}"))
        if not question.one_of:
            return ticked or None
        return ticked | {values["reply"]} if values["reply"] else None
    if question.kind is ReplyKind.ORDER:
        ranked = tuple(values[f"reply-{number}"] for number in range(len(question.options)))
        return ranked if all(ranked) and len(set(ranked)) == len(ranked) else None
    reply = values["reply"]
    if reply is None or reply == "":
        return None
    if question.kind is ReplyKind.CLOCK:
        at = read_time(reply, field=question.label)
        return Q_(at.hour + at.minute / 60, "hour")
    if question.kind is ReplyKind.NUMBER and question.unit == "dimensionless":
        _check_whole(question.label, float(reply.magnitude))
    if question.kind is not ReplyKind.PLACES:
        return cast("Reply", reply)
    reply = reply.replace(",", " ")  # no leaf has a part of a number
    numbers = [float(each.magnitude) for each in read_numbers(reply, "dimensionless", field=question.label)]
    if any(number != round(number) or number < 1 for number in numbers):
        raise BadValue(question.label, reply, "whole numbers of leaves, from 1", "Count the leaves again")
    return tuple(round(number) for number in numbers)


def _check_whole(label: str, number: float) -> None:
    """Refuse a count that is none.

    Raises
    ------
    BadValue
        A part of a thing, or more of them than there are.
    """
    if number != round(number) or number > _MOST:
        raise BadValue(label, f"{number:g}", f"a whole number, 0 to {_MOST}", "Count again")
