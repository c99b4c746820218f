"""The panel of the clock: the whole treatment laid out, moved by what really happened."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bench.desk import Treatment
from bench.figures.page import fold, verdict_tag
from bench.figures.schedule import draw_timeline, say_timeline, say_when, step_table, window_table
from bench.handover.buffering import minutes_open
from bench.handover.schedule import referral_of, whole_timeline
from bench.panels.base import Panel, View
from bench.panels.ended import read_moment
from bench.panels.fields import ChoiceField, GroupLabel, TextField, TickField
from bench.panels.offered import offer
from bench.panels.parts import opening
from bench.panels.remembered import Remembered
from bench.panels.standing import all_flagged
from bench.records.nouns import step_rows
from bench.treatment.clock.done import take_over_plan
from bench.treatment.clock.schedule import (
    Step,
    Timeline,
    WorkingDay,
    find_better_start,
    move_start,
    note_step,
    record_actual,
    start_better,
)
from bench.treatment.clock.times import (
    ACTUAL_END,
    ACTUAL_START,
    CONFIRMED,
    SURE,
    ask_about_step,
    caution_of_gap,
)
from bench.treatment.intake import IntakePlan
from bench.treatment.plan import Caution, Verdict
from bench.units import UnitChoice, read_time

_NOTHING = "none"
_UPTO = "Done as planned, up to and with"
_DAY = {"opens": "Day begins", "closes": "Day ends"}
_USUAL = WorkingDay()


@dataclass(frozen=True)
class Laid:
    """A timeline as the panel shows it.

    Attributes
    ----------
    timeline : Timeline
        All steps by the clock.
    proposed : tuple of str
        Stages that stand in it with their usual choices because no plan of them was saved.
    better : datetime or None
        A start with fewer cautions, if there is one.
    day : WorkingDay
        In which steps by hand fall.
    now : datetime
        When it was laid out.
    gap : tuple of Caution
        On how long the item lies open between chamber and sheets.
    """

    timeline: Timeline
    proposed: tuple[str, ...]
    better: datetime | None
    day: WorkingDay
    now: datetime
    gap: tuple[Caution, ...] = ()


def build_schedule_panel(treatment: Treatment, *, cycle: int | None = None) -> Panel:
    """Build the panel of the whole treatment by the clock.

    Parameters
    ----------
    treatment : Treatment
        At hand.
    cycle : int, optional
        By default the cycle at hand.
    """
    number = cycle or treatment.cycle
    refers = Remembered(treatment, lambda: referral_of(treatment))
    known = Remembered(treatment, lambda: whole_timeline(treatment, number, start=treatment.start))
    may_lie_open = Remembered(treatment, lambda: minutes_open(treatment, number))
    begins, options = treatment.start, _step_options(())
    if refers() is None:
        laid, _ = known()
        begins, options = laid.start, _step_options(laid.steps)
    steps = ChoiceField("step", "Step that was done", options, _NOTHING)
    hint = "look-ins too; the record says that the times were planned, not measured"
    upto = ChoiceField("upto", _UPTO, options, _NOTHING, hint=hint)
    sure = TickField("sure", SURE)

    def work(values: Mapping[str, Any], units: UnitChoice) -> Laid | IntakePlan:
        referral = refers()
        if referral is not None:
            return referral
        opens, closes = (read_time(values[key], field=label) for key, label in _DAY.items())
        day = WorkingDay(opens, closes)
        timeline, proposed = known()
        if day != _USUAL:
            timeline, proposed = whole_timeline(treatment, number, start=treatment.start, day=day)
        zone = timeline.start
        start = read_moment(values["start"], "Start", zone)
        if start is not None and start != zone.replace(second=0, microsecond=0):  # as the field shows it
            timeline = move_start(timeline, start, day=day)
        if values["propose"]:
            timeline = start_better(timeline, day=day, now=treatment.now())
        sure.box.layout.display = "none"
        if values["step"] != _NOTHING:
            started = read_moment(values["began"], ACTUAL_START, zone)
            ended = read_moment(values["ended"], ACTUAL_END, zone)
            sure.box.layout.display = ""  # out of sight again where nothing is asked
            began, now, is_sure = treatment.began, treatment.now(), values["sure"]
            ask_about_step(timeline, values["step"], started, ended, began=began, now=now, sure=is_sure)
            sure.box.layout.display = "" if values["sure"] else "none"
            timeline = record_actual(timeline, values["step"], started=started, ended=ended, day=day)
            if values["sure"]:
                timeline = note_step(timeline, values["step"], CONFIRMED)
        if values["upto"] != _NOTHING:
            timeline = take_over_plan(timeline, values["upto"], now=treatment.now(), day=day)
        better = find_better_start(timeline, day=day, now=treatment.now())
        gap = caution_of_gap(timeline, number, may_lie_open())
        return Laid(timeline, proposed, better, day, treatment.now(), gap)

    def show(result: Laid | IntakePlan, units: UnitChoice) -> View:
        if isinstance(result, IntakePlan):
            return _show_referral(treatment, result)
        timeline = result.timeline
        changed = bool(step_rows(timeline, treatment.record))
        view = View(
            lead=_say_lead(result),
            parts=[
                lambda: draw_timeline(timeline, result.day),
                window_table(timeline),
                fold("Every step", step_table(timeline)),
            ],
            cautions=(*timeline.cautions, *result.gap),
            save_says="Writes the steps that changed to steps." if changed else "",
            save_blocked="" if changed else "Nothing has changed since the schedule was saved.",
        )
        return all_flagged(treatment, view)

    def offer_steps(timeline: Timeline) -> None:
        for entry in (steps, upto):
            offer(entry, _step_options(timeline.steps))

    def save(result: Laid, values: Mapping[str, Any]) -> str:
        words = treatment.save({"steps": step_rows(result.timeline, treatment.latest)})
        known.forget()  # else the answer below would be that of before
        offer_steps(result.timeline)
        return words

    def follow(panel: Panel) -> None:
        if refers() is not None:
            return
        timeline, _ = known()
        panel.propose("start", f"{timeline.start:%Y-%m-%d %H:%M}")
        offer_steps(timeline)

    return Panel(
        name="schedule",
        strip=treatment.heading("schedule", number),
        fields=[
            GroupLabel("When"),
            TextField("start", "Start", f"{begins:%Y-%m-%d %H:%M}", hint="of the first step"),
            TickField("propose", "Start later, so that no wait ends at night"),
            TextField("opens", _DAY["opens"], f"{_USUAL.start:%H:%M}"),
            TextField("closes", _DAY["closes"], f"{_USUAL.end:%H:%M}"),
            GroupLabel("What was done"),
            upto,
            steps,
            TextField("began", ACTUAL_START, hint="like 2026-03-02 09:10; empty if as planned"),
            TextField("ended", ACTUAL_END, hint="empty while it still goes on"),
            sure,
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save this schedule",
        follow=follow,
    )


def _show_referral(treatment: Treatment, plan: IntakePlan) -> View:
    """Say that no hours are laid out, what must happen first, and what was done until then."""
    say = f"{treatment.item.title} is referred: no stage is laid out by the clock."
    because = f"{plan.answer} The stages are laid out once that is settled and intake decides to treat."
    steps = () if treatment.timeline is None else treatment.timeline.steps
    done = tuple(step for step in steps if step.actual_start is not None)
    return View(
        lead=opening(say, because, tag=verdict_tag(Verdict.STOP, "Refer")),
        parts=[step_table(Timeline(done)) if done else None],
        cautions=plan.cautions,
        save_blocked="Nothing is laid out, so there is nothing to save.",
    )


def _step_options(steps: Sequence[Step]) -> list[tuple[str, str]]:
    """Offer the steps that are not done."""
    return [
        ("none", _NOTHING),
        *((f"{step.step} {step.name}", step.step) for step in steps if step.actual_end is None),
    ]


def _say_lead(result: Laid) -> str:
    timeline = result.timeline
    late = sum(step.is_late and step.actual_end is None for step in timeline.steps)
    past = [step for step in timeline.steps if step.actual_end is None and step.ends < result.now]
    verdict, word = Verdict.GO, "Fits the day"
    because = "No wait that is to come lasts longer than it may, and every hand is needed by day."
    if any(step.is_unseen for step in timeline.steps):
        verdict, word = Verdict.CARE, "Nobody looks in"
        because = "Look-ins that fall outside the day are left out of the schedule."
    if late:
        verdict, word = Verdict.CARE, "A wait ends at night"
        because = f"{_waits(late)} longer than allowed, because nobody is there to end it."
    if verdict is Verdict.CARE and result.better is not None:
        because += f" A start on {say_when(result.better)} avoids it."
    if past:
        verdict, word = Verdict.CARE, "Behind the clock"
        because = f"{_say_past(timeline, past)} {because}"
    if result.proposed:
        stages = ", ".join(result.proposed)
        because += f" Not planned yet, and laid out with usual choices: {stages}."
    return opening(say_timeline(timeline), because, tag=verdict_tag(verdict, word))


def _waits(late: int) -> str:
    return "One wait would last" if late == 1 else f"{late} waits would last"


def _say_past(timeline: Timeline, past: Sequence[Step]) -> str:
    """Say that planned times have gone by without a word in the record, and what to do."""
    if not any(step.actual_start for step in timeline.steps):
        what = "is past and nothing is recorded as done: mark what was done, or move the start"
        return f"The start, {say_when(timeline.start)}, {what}."
    count = "One step is" if len(past) == 1 else f"{len(past)} steps are"
    return f"{count} past by the clock and not recorded as done: mark them, up to {past[-1].step}."
