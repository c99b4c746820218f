"""What a panel says at its head when its plan is out of date, or when another window has saved."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from html import escape
from typing import Any

from bench.desk import Treatment
from bench.errors import BenchError
from bench.figures.page import lead, verdict_tag
from bench.panels.base import Panel, View
from bench.panels.parts import LatePart
from bench.records import nouns
from bench.treatment.plan import Notice, Plan, Verdict
from bench.treatment.resting import NOTEBOOKS, say_changes
from bench.treatment.standing import Flag, flag_sheets, say_flags

_OUT_OF_DATE, _SHEETS = "Saved plan out of date", "Sheets do not add up"
_AGREED = Notice("review-decided", Verdict.GO, "The review of cycle {cycle} decided: {reason}")
_THEN = "The answer below is worked out with what holds now: look at it, then save it."


def view_of(treatment: Treatment, plan: Plan, parts: Iterable[LatePart]) -> View:
    """Show a plan that is laid out by the clock once it is saved, and may not be where it says stop.

    Parameters
    ----------
    treatment : Treatment
        At hand.
    plan : Plan
        With what goes into ``materials``.
    parts : iterable
        Pictures and tables, as :class:`bench.panels.base.View` takes them.
    """
    stopped = "The plan says stop, so it is not saved: its steps would stand in the schedule."
    return View(
        lead=lead(plan),
        parts=parts,
        cautions=plan.cautions,
        save_says=treatment.say_plan(plan, "materials"),
        save_refused=stopped if plan.verdict is Verdict.STOP else "",
    )


def flagged(treatment: Treatment, stage: str, cycle: int, view: View, *, own: Sequence[Flag] = ()) -> View:
    """Put at the head of a view what no longer agrees with the record, and what other windows saved.

    Parameters
    ----------
    treatment : Treatment
        At hand.
    stage, cycle : str, int
        Whose plan the panel shows.
    view : View
        As it would be shown otherwise.
    own : sequence of Flag
        What the answer shown, not yet saved, does not agree with.

    Returns
    -------
    View
    """
    if reason := nouns.repeats_of(treatment.record).get(cycle - 1):
        view = replace(view, cautions=(*view.cautions, _AGREED(cycle=cycle - 1, reason=reason)))
    saved = [flag for flag in treatment.flags if (flag.stage, flag.cycle) == (stage, cycle)]
    stale = [flag for flag in saved if flag.changes]
    counted = own or [replace(flag, mend=_THEN) for flag in saved if not flag.changes]
    said = [*map(_say_flag, counted), *(_say_stale(flag, treatment) for flag in stale)]
    told = "".join([_say_news(treatment), *said])
    if not told:
        return view
    says = view.save_says
    if saved and says:
        says = f"{says} It takes the place of the plan that is out of date."
    return replace(view, lead=told + view.lead, save_says=says)


def all_flagged(treatment: Treatment, view: View) -> View:
    """Put at the head of a view every plan that is out of date, and what other windows saved."""
    flags = treatment.flags
    told = _say_news(treatment)
    if flags:
        grave = [flag for flag in flags if flag.is_grave]
        tag = (
            verdict_tag(Verdict.STOP, _SHEETS)
            if grave
            else verdict_tag(Verdict.CARE, "A plan is out of date")
        )
        told += tag + f'<p class="because">{escape(say_flags(flags))}</p>'
    return replace(view, lead=told + view.lead) if told else view


def _say_news(treatment: Treatment) -> str:
    news = treatment.watch.look()
    return f'<p class="because">{escape(f"{news[:1].upper()}{news[1:]}.")}</p>' if news else ""


def _say_flag(flag: Flag) -> str:
    return f'{verdict_tag(flag.verdict, _SHEETS)}<p class="because">{escape(str(flag))}</p>'


def _say_stale(flag: Flag, treatment: Treatment) -> str:
    """Say that the saved plan is out of date; the answer beneath is worked out with what holds now."""
    words = f"When it was saved, {say_changes(flag.changes, treatment.units)}. {_THEN}"
    return f'{verdict_tag(flag.verdict, _OUT_OF_DATE)}<p class="because">{escape(words)}</p>'


def flag_taken(treatment: Treatment, cycle: int, taken: int) -> tuple[Flag, ...]:
    """Hold the sheets of a press plan that is not saved yet against those that go in."""
    flag = flag_sheets(treatment.tables, cycle, taken=taken)
    if flag is None:
        return ()
    there = NOTEBOOKS["buffering"]
    mend = f"Set the spacing here to that of the buffering plan, or plan the sheets anew in {there}."
    return (replace(flag, mend=mend),)


def save_as_seen(
    treatment: Treatment,
    panel: Panel,
    plan: Plan,
    extra: Mapping[str, Sequence[Mapping[str, Any]]],
    handed: Mapping[str, str],
) -> str:
    """Save a plan as it is shown; one that another window has made out of date is shown anew instead.

    Raises
    ------
    BenchError
        What it rests on changed since it was worked out.
    """
    try:
        return treatment.save_plan(plan, extra, entered=panel.entries(), handed=handed)
    except BenchError:
        panel.refresh()
        raise
