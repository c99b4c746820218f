"""Trials of the bench: what to do and what it is worth, the fit with what is left, and what is in use."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

import numpy as np

from bench.figures.chart import Chart
from bench.figures.marks import Axis, Curve, Dash, Points, Rule, Shape
from bench.figures.page import Page, caution_list, lead_of, table, verdict_tag
from bench.figures.style import CURVES, SOFT
from bench.figures.templates import PIECES
from bench.treatment.measured import MeasuredHere
from bench.treatment.plan import Verdict
from bench.trials.protocol import FitPoint, Protocol, TrialOutcome
from bench.trials.worked import Example, work_example
from bench.trials.worth import Beforehand
from bench.units import lower_first, say_count, say_range, unit_label

_SHAPES = (Shape.DOT, Shape.RING, Shape.SQUARE, Shape.DIAMOND)
_DASHES = (Dash.SOLID, Dash.DASHED, Dash.DOTTED)


def protocol_page(protocol: Protocol, worth: Beforehand, item: str) -> Page:
    """Show in a notebook what a trial asks for, its six steps, its cautions, and what it is worth.

    Parameters
    ----------
    protocol : Protocol
        The trial.
    worth : Beforehand
        What it would narrow, for the item at hand.
    item : str
        Title of the item at hand.
    """
    waits = f"; until it is done {protocol.waits}" if protocol.waits else ""
    takes = f"At work {protocol.takes}{waits}."
    again = f"Again after {say_days(protocol.again_after)}: {lower_first(protocol.why_again)}."
    needs = f"At hand: {'; '.join(protocol.needs)}."
    cautions = caution_list(notice() for notice in protocol.cautions)
    said = say_worth(worth, item)
    body = str(PIECES.trial(protocol.question, protocol.steps, (takes, needs, again))) + cautions
    body += f"{PIECES.paragraphs([said], 'because')}{worth_table(worth)}"
    return Page(body, f"{protocol.question} {' '.join(protocol.steps)} {takes} {said}")


def say_days(days: int) -> str:
    """Say after how long a trial is due again, in the unit that people count in.

    Examples
    --------
    >>> say_days(730), say_days(182), say_days(30)
    ('2 years', '6 months', '30 days')
    """
    if days >= 365 and round(days / 365) * 365 == days:
        years = days // 365
        return "a year" if years == 1 else f"{years} years"
    return f"{round(days / 30.4)} months" if days >= 60 else f"{days} days"


def say_worth(worth: Beforehand, item: str) -> str:
    """Say in a sentence or two what a trial is worth for an item, before anyone begins."""
    of = f"Worth, reckoned beforehand for {item} from readings as they are likely to come ({worth.about}): "
    if worth.answers:
        best = worth.answers[0]
        return f"{of}the interval of “{best.label}” becomes {best.narrower:.1f} times narrower."
    most = max(worth.found, key=lambda each: each.narrower)
    return (
        f"{of}“{most.constant.label}” is known {most.narrower:.1f} times better. Alone it narrows no answer "
        "of the plans for this item by a tenth."
    )


def worth_table(worth: Beforehand) -> str:
    """Write what a trial would find and which answers it would narrow, before and after."""
    rows = [
        (f"{each.label} ({each.stage})", _say(each.before, each.unit), _say(each.after, each.unit))
        for each in worth.answers
    ]
    rows += [
        (
            f"{each.constant.label} (itself)",
            each.before.say(each.constant.unit),
            each.value.say(each.constant.unit),
        )
        for each in worth.found
    ]
    return table(("what", "as it is", "with the trial, likely"), rows, words=True)


def _say(ends: tuple[float, float, float], unit: str) -> str:
    return say_range(*ends, unit_label(unit))


def trial_lead(outcome: TrialOutcome) -> str:
    """Write the opening: whether it can be used, what was found, how well it fits."""
    words = {Verdict.STOP: "Not to be used", Verdict.CARE: "Found, with care", Verdict.GO: "Found"}
    return lead_of(verdict_tag(outcome.verdict, words[outcome.verdict]), outcome.answer, outcome.because)


def found_table(outcome: TrialOutcome) -> str:
    """Write each constant as believed before beside what the trial found."""
    rows = [
        (
            each.constant.label,
            each.before.say(each.constant.unit),
            each.value.say(each.constant.unit),
            f"{each.narrower:.1f} times",
        )
        for each in outcome.found
    ]
    return table(("constant", "believed before", "found", "narrower"), rows, words=True)


def example_of(protocol: Protocol, seed: int) -> Example:
    """Work a trial out on an invented bench; the same seed gives the same page."""
    return work_example(protocol, np.random.default_rng(seed))


def draw_fit(outcome: TrialOutcome) -> Chart:
    """Draw the readings with their 95 % and the fitted curves."""
    shown = outcome.shown
    series = _series(shown.points)
    names = [*series, *(name for name in shown.curves if name not in series)]
    curves = [
        Curve(
            _name(name, len(shown.curves)),
            [x for x, _ in course],
            [y for _, y in course],
            CURVES[names.index(name) % len(CURVES)],
            _DASHES[names.index(name) % len(_DASHES)],
        )
        for name, course in shown.curves.items()
    ]
    points = [
        Points(
            name or "read",
            [point.x for point in own],
            [point.y for point in own],
            CURVES[names.index(name) % len(CURVES)],
            _SHAPES[names.index(name) % len(_SHAPES)],
            low=[point.y - point.doubt for point in own],
            high=[point.y + point.doubt for point in own],
        )
        for name, own in series.items()
    ]
    return Chart(
        _axis(shown.x, shown.points, 0), _axis(shown.y, shown.points, 1), (*curves, *points), _read(outcome)
    )


def draw_left(outcome: TrialOutcome) -> Chart:
    """Draw what the fit leaves of each reading, with its 95 %: it should lie about zero without a pattern."""
    shown = outcome.shown
    series = _series(shown.points)
    parts = [
        Points(
            name or "left",
            [point.x for point in own],
            [point.y - point.fitted for point in own],
            CURVES[number % len(CURVES)],
            _SHAPES[number % len(_SHAPES)],
            low=[point.y - point.fitted - point.doubt for point in own],
            high=[point.y - point.fitted + point.doubt for point in own],
        )
        for number, (name, own) in enumerate(series.items())
    ]
    label, unit = shown.y
    biggest = max((abs(point.y - point.fitted) + point.doubt for point in shown.points), default=1.0)
    left = Axis(f"{label}, read less fitted, {unit_label(unit)}", unit_label(unit), digits=_digits(biggest))
    reads = (
        "Read less fitted, bars 95 %. Nineteen bars of twenty should cross the line, above and below it "
        "without a pattern; a bow means that the model misses something."
    )
    return Chart(_axis(shown.x, shown.points, 0), left, (Rule(0.0, "", SOFT), *parts), reads, height=1.9)


def _series(points: Iterable[FitPoint]) -> dict[str, list[FitPoint]]:
    found: dict[str, list[FitPoint]] = {}
    for point in points:
        found.setdefault(point.series, []).append(point)
    return found


def _name(name: str, count: int) -> str:
    return name or ("fitted" if count == 1 else "the fit")


def _axis(named: tuple[str, str], points: Sequence[FitPoint], side: int) -> Axis:
    label, unit = named
    values = [(point.x, point.y)[side] for point in points]
    sign = unit_label(unit)
    title = f"{label}, {sign}" if sign else label
    return Axis(title, sign, digits=_digits(max(map(abs, values), default=1.0)))


def _digits(biggest: float) -> int:
    return 0 if biggest >= 100 else 1 if biggest >= 10 else 2 if biggest >= 1 else 3 if biggest >= 0.1 else 5


def _read(outcome: TrialOutcome) -> str:
    count, misfit = len(outcome.shown.points), outcome.shown.misfit
    return (
        f"{count} readings with their 95 %, and the curve fitted to them. They lie {misfit:.1f} standard "
        "uncertainties from it on average; about one is what their doubts allow."
    )


def in_use_table(measured: MeasuredHere) -> str:
    """Write what plans take of this bench, with the day it was found and the day it is due again."""
    rows = [
        (
            f"{each.constant.label}, {each.about}",
            each.value.say(each.constant.unit),
            f"{each.done_on:%Y-%m-%d}",
            f"▲ since {each.due_on:%Y-%m-%d}" if each.is_due else f"{each.due_on:%Y-%m-%d}",
            ", ".join(each.constant.stages),
        )
        for each in measured
    ]
    return table(("constant", "in use", "measured", "due again", "taken by"), rows, words=True)


def in_use_page(measured: MeasuredHere) -> Page:
    """Show in a notebook what this bench has measured of itself and plans take."""
    if not measured:
        words = "This bench has measured nothing of itself yet: plans go by what the books say."
        return Page(str(PIECES.paragraphs([words], "")), words)
    due = [each.constant.label for each in measured if each.is_due]
    words = f"In use on this bench: {say_count(len(measured), 'constant')}"
    words += f"; to be measured again: {', '.join(due)}." if due else "; none is due again."
    return Page(f"{PIECES.paragraphs([words], '')}{in_use_table(measured)}", words)


def trial_rows(trials: Iterable[tuple[str, datetime, str, bool, str]]) -> str:
    """Write the trials of one protocol: what of, when, what was found, whether and why it is used."""
    rows = [
        (about, f"{done:%Y-%m-%d}", said, "used" if used else "left", reason)
        for about, done, said, used, reason in trials
    ]
    return table(("of", "done", "found", "", "why"), rows, words=True) if rows else ""
