"""The chamber as a logger kept its air, over the picture of the plan, and both in numbers."""

from __future__ import annotations

from dataclasses import replace
from itertools import filterfalse

import numpy as np

from bench.figures.chart import Chart
from bench.figures.humidity import AVERAGE, draw_uptake
from bench.figures.marks import Curve, Dash, Part
from bench.figures.page import table
from bench.figures.style import CURVES, INK
from bench.treatment.doses import Spent
from bench.treatment.humidity.logged import LoggedChamber, read_bins
from bench.treatment.humidity.words import say_humidity, say_time
from bench.treatment.plan import hours

_FINE = 240  # parts of the time that are drawn: a look-in of minutes is still seen
_AIR_NAME = "air as logged"
_AT_AIR, _AT_LEAF = (0.3, 0.40, 0.46), (0.1, 0.40, 0.06)  # above and below the names of the plan's curves


def draw_logged(told: LoggedChamber) -> Chart:
    """Draw the logged air over the planned uptake, and the innermost leaf as followed with it.

    The planned average of the leaves is left out: it would lie across both.

    Parameters
    ----------
    told : LoggedChamber
        Held against its plan.
    """
    planned = draw_uptake(told.plan)
    fine = read_bins(told.air, told.stay, _FINE)
    curves = [Curve(_AIR_NAME, fine.middles, fine.percent, CURVES[3], Dash.DASH_DOTTED, place=_AT_AIR)]
    if told.followed is not None:
        value, low, high = told.followed.core.T
        name = f"{told.plan.last} as logged"
        curves.append(Curve(name, told.followed.hours, value, INK, Dash.SOLID, low, high, _AT_LEAF))
    lowest = min(min(curve.y if curve.low is None else curve.low) for curve in curves)
    assert planned.x.high is not None  # the hours of the plan
    assert planned.y.low is not None  # the humidity at the start
    return replace(
        planned,
        x=replace(planned.x, high=max(planned.x.high, told.hours)),
        y=replace(planned.y, low=min(planned.y.low, 5 * np.floor(lowest / 5)), high=_top(max(fine.percent))),
        parts=(*filterfalse(_is_average, planned.parts), *curves),
        reads=f"{planned.reads} {_read(told)}",
        pick=None,
    )


def _is_average(part: Part) -> bool:
    return isinstance(part, Curve) and part.name == AVERAGE


def _top(highest: float) -> float:
    """Give the upper end of the axis: a sensor near saturation may show a little more than 100 %."""
    return max(100.0, float(np.ceil(highest)))


def _read(told: LoggedChamber) -> str:
    gaps = "Where nothing was read a straight line is drawn. " if told.gaps else ""
    air = f"{gaps}As logged the air came to {told.bins.percent[-1]:.0f} % RH"
    if told.followed is None:
        return f"{air}; the leaves are not followed."
    return f"{air} and the {told.plan.last} to {say_humidity(told.followed.end_core)}."


def logged_table(told: LoggedChamber) -> str:
    """Write what was planned and what came of it with the logged air side by side; empty if not followed.

    Parameters
    ----------
    told : LoggedChamber
        Held against its plan.
    """
    followed, plan = told.followed, told.plan
    if followed is None:
        return ""
    rows: list[tuple[str, ...]] = [
        ("in the chamber", say_time(plan.choices.planned), say_time(hours(round(told.hours, 1))))
    ]
    if plan.leaves > 1:
        rows.append(("average of the leaves", say_humidity(plan.end.mean), say_humidity(followed.end_mean)))
    rows += [
        (plan.last, say_humidity(plan.end.core), say_humidity(followed.end_core)),
        *_dose_rows(plan.spent, followed.spent),
    ]
    words = "Later stages, doses and review still count what was planned."
    return f'{table(("", "as planned", "as logged"), rows)}<p class="chapter">{words}</p>'


def _dose_rows(planned: Spent, logged: Spent) -> list[tuple[str, ...]]:
    """Give what both cost in damp hours and in time for mould."""
    reads = (
        ("dampest sheet above 80 % RH", "wet", "{:.0f} h"),
        ("mould: of the strict rule of days", "strict", "{:.0f} %"),
        ("mould: of the milder rule of days", "milder", "{:.0f} %"),
        ("mould: growth model (1 is the first growth)", "index", "{:.2f}"),
    )
    return [
        (name, *(form.format(getattr(spent, part)) for spent in (planned, logged)))
        for name, part, form in reads
    ]
