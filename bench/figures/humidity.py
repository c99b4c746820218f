"""The hours in the humidity chamber: leaves and air against time, and other ways beside the chosen one."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np
from matplotlib.axes import Axes

from bench.errors import OutOfRange
from bench.figures.intake import condition_list
from bench.figures.page import Page, table
from bench.figures.style import (
    CURVES,
    INK,
    MARGINS,
    STOP,
    Picture,
    finish,
    frame_curves,
    new_axes,
    point_to_curve,
)
from bench.physics.air import allowed_wall_drop
from bench.physics.ranges import Range
from bench.physics.salts import salt_humidity, salt_names
from bench.treatment.conditions import Condition, say_condition
from bench.treatment.humidity_plan import HumidityPlan
from bench.treatment.humidity_ways import say_ways
from bench.treatment.humidity_words import look_in_hours, say_humidity, say_time
from bench.treatment.plan import hours
from bench.units import MILLIMETRES, Quantity, UnitChoice, say_value, unit_label

_MEAN, _CORE, _AIR = CURVES[0], CURVES[1], CURVES[2]


def _percent(bands: Sequence[Range]) -> np.ndarray:
    """Values, low and high ends in percent, one column each."""
    return np.array([band.floats("percent", field="relative humidity") for band in bands])


def draw_uptake(plan: HumidityPlan) -> Picture:
    """Draw the humidity of air, mean of the leaves and innermost leaf against the hours.

    Bands are intervals of about 95 %; triangles on the axis are look-ins.
    """
    figure, axes = new_axes(height=3.1, margins=MARGINS)
    times = np.array([moment.hours for moment in plan.moments])
    air = _percent([moment.air for moment in plan.moments])
    mean = _percent([moment.mean for moment in plan.moments])
    core = _percent([moment.core for moment in plan.moments])
    axes.fill_between(times, core[:, 1], core[:, 2], color=_CORE, alpha=0.16, linewidth=0)
    axes.fill_between(times, mean[:, 1], mean[:, 2], color=_MEAN, alpha=0.16, linewidth=0)
    axes.plot(times, air[:, 0], color=_AIR, linewidth=1.8, linestyle=(0, (1, 1.2)))
    axes.plot(times, mean[:, 0], color=_MEAN, linewidth=2)
    axes.plot(times, core[:, 0], color=_CORE, linewidth=2, linestyle=(0, (5, 2)))
    names = ("air of the chamber", "average of the leaves" if plan.leaves > 1 else "", plan.last)
    curves = zip(names, (air, mean, core), (_AIR, _MEAN, _CORE), (0.015, 0.045, 0.075), strict=True)
    for row, (words, curve, color, share) in enumerate(curves):
        if words:
            _name(axes, times, curve[:, 0], share, words, color, 0.36 - 0.1 * row)
    start, end = float(plan.choices.start_humidity.to("percent").magnitude), float(times[-1])
    wanted, planned = plan.choices.wanted, plan.choices.hours
    axes.axhline(wanted, color=INK, linewidth=0.9)
    axes.text(end, wanted, f"wanted {wanted:.0f} %", ha="right", va="bottom", fontsize=8.5)
    axes.axvline(planned, color=STOP, linewidth=0.9, linestyle=(0, (4, 3)))
    axes.annotate(
        f"out after {say_time(plan.choices.planned)}",
        (planned, start),
        xytext=(4, 14),
        textcoords="offset points",
        color=STOP,
        fontsize=8.5,
    )
    looks = look_in_hours(plan)
    axes.plot(looks, [start] * len(looks), "^", color=INK, markersize=6, clip_on=False, zorder=5)
    axes.set_xlim(0, end)
    axes.set_ylim(start, 100)
    frame_curves(
        axes,
        "hours in the chamber (triangles: look-ins; the schedule leaves out those at night)",
        "relative humidity, %",
    )
    return finish(figure, _read_uptake(plan))


def _name(
    axes: Axes, times: np.ndarray, values: np.ndarray, share: float, words: str, color: str, row: float
) -> None:
    """Write a curve's name in the empty corner, with a line to where the curve still climbs."""
    at = share * float(times[-1])
    point_to_curve(axes, (at, float(np.interp(at, times, values))), (0.40, row), words, color)


def _read_uptake(plan: HumidityPlan) -> str:
    first = next(m for m in plan.moments if m.hours >= min(1.0, plan.choices.hours))
    last = f"{plan.last} comes last and" if plan.leaves > 1 else plan.last
    return (
        f"The air sags to {say_humidity(first.air)} after {say_time(hours(first.hours))}; the {last} is at "
        f"{say_humidity(plan.end.core)} when the item comes out. "
        "Bands: 95 % of what is believable."
    )


def ways_table(plan: HumidityPlan) -> str:
    """Write the choice and other ways side by side."""
    wanted = f"{plan.choices.wanted:.0f} %"
    head = (
        "chamber",
        "source holds",
        "average then",
        f"{plan.last} then",
        f"all at {wanted} after",
        "allowed",
    )
    rows = [
        (
            way.words,
            f"{way.held:.0f} %",
            f"{way.mean:.0f} %",
            f"{way.core:.0f} %",
            "never" if way.hours is None else say_time(hours(_rounded(way.hours))).replace(" ", "\u00a0"),
            "yes" if way.is_allowed else "no: too damp",
        )
        for way in plan.alternatives
    ]
    return table(head, rows, picked=0)


def _rounded(value: float) -> float:
    """Round hours to what such an estimate can carry."""
    return float(round(value)) if value >= 2 else round(value, 1)


def ways_page(plan: HumidityPlan) -> Page:
    """Show the ways side by side in a notebook, with what they change for this item."""
    words = say_ways(plan.alternatives)
    return Page(f'{ways_table(plan)}<p class="chapter">{escape(words)}</p>', words)


def salts_page(temperature: Quantity, units: UnitChoice = MILLIMETRES) -> Page:
    """Show what each saturated salt holds, by two published fits, and how near to wet its air is."""
    rows = []
    for name in salt_names():
        salt = salt_humidity(name, temperature=temperature)
        second = "–" if salt.second_humidity is None else f"{salt.second_humidity.magnitude:.1f} %"
        held = say_value(salt.humidity.magnitude, salt.uncertainty.magnitude, "%")
        rows.append((name, held, second, _say_drop(salt.humidity, temperature, units), salt.hazard))
    head = ("salt", "holds", "second fit", "a wall may be colder by", "hazard")
    words = "; ".join(f"{name} {held}" for name, held, *_ in rows)
    return Page(table(head, rows, words=True), words)


def _say_drop(humidity: Quantity, temperature: Quantity, units: UnitChoice) -> str:
    try:
        drop = allowed_wall_drop(humidity, temperature=temperature)
    except OutOfRange:
        return "no wall above freezing gets wet"
    unit = f"delta_{units.temperature}"
    return f"{drop.to(unit).magnitude:.1f} {unit_label(unit)}"


def handed_down_page(conditions: Sequence[Condition]) -> Page:
    """Show what intake asks of a stage."""
    if not conditions:
        words = "Intake sets no condition for this stage."
        return Page(f"<p>{words}</p>", words)
    return Page(condition_list(conditions), " ".join(say_condition(condition) for condition in conditions))
