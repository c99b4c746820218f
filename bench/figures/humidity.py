"""The hours in the humidity chamber: leaves and air against time, and other ways beside the chosen one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bench.errors import OutOfRange
from bench.figures.as_read import mark_as_read
from bench.figures.chapter import prose
from bench.figures.chart import Chart
from bench.figures.intake import condition_list
from bench.figures.marks import Axis, Curve, Dash, Pick, Points, Rule, Shape, plain
from bench.figures.page import Page, sentence_page, table
from bench.figures.style import CURVES, INK, STOP
from bench.physics.air import allowed_wall_drop
from bench.physics.ranges import Range
from bench.physics.salts import salt_humidity, salt_names
from bench.treatment.actual.observed import ReadSince
from bench.treatment.conditions import Condition, say_condition
from bench.treatment.humidity.plan import MOST_HOURS, HumidityPlan
from bench.treatment.humidity.ways import say_ways
from bench.treatment.humidity.words import look_in_hours, say_humidity, say_time
from bench.treatment.plan import hours
from bench.units import MILLIMETRES, Quantity, UnitChoice, difference_unit, say_value, unit_label

_AIR_NAME = "air of the chamber"
AVERAGE = "average of the leaves"
_SHORTEST = 8.0  # hours along the axis at least, so that a hand can always choose more
_MEAN, _CORE, _AIR = CURVES[0], CURVES[1], CURVES[2]


def _percent(bands: Sequence[Range]) -> np.ndarray:
    """Values, low and high ends in percent, one column each."""
    return np.array([band.floats("percent", field="relative humidity") for band in bands])


def draw_uptake(plan: HumidityPlan, read: Sequence[ReadSince] = ()) -> Chart:
    """Draw the humidity of air, average of the leaves and last leaf against the hours.

    Bands are intervals of about 95 %; triangles on the axis are look-ins.  A click sets the hours.

    Parameters
    ----------
    plan : HumidityPlan
        With its moments, its look-ins and what was chosen.
    read : sequence of ReadSince
        The air of the chamber as it was read in this cycle.
    """
    times = [moment.hours for moment in plan.moments]
    air, mean, core = (
        _percent([getattr(moment, name) for moment in plan.moments]) for name in ("air", "mean", "core")
    )
    start = plain(plan.choices.start_humidity, "percent")
    curves = [
        Curve(_AIR_NAME, times, air[:, 0], _AIR, Dash.DOTTED, place=(0.015, 0.40, 0.36)),
        *([_band(AVERAGE, times, mean, _MEAN, Dash.SOLID, 0.045)] if plan.leaves > 1 else ()),
        _band(plan.last, times, core, _CORE, Dash.DASHED, 0.075),
    ]
    looks = look_in_hours(plan)
    wanted, out = plan.choices.wanted, f"out after {say_time(plan.choices.planned)}"
    rules = (
        Rule(wanted, f"wanted {wanted:.0f} %", INK),
        Rule(plan.choices.hours, out, STOP, is_upright=True, dash=Dash.DASHED, is_choice=True),
    )
    return Chart(
        Axis("hours in the chamber", "h", 0.0, max(times[-1], _SHORTEST), digits=1),
        Axis("relative humidity, %", "% RH", start, 100.0),
        (
            *curves,
            *rules,
            Points("look-in", looks, [start] * len(looks), INK, Shape.TRIANGLE, is_read=False),
            *mark_as_read(read, "air as read", _AIR, time_unit="hour", unit="percent", of=_AIR_NAME),
        ),
        _read_uptake(plan, read),
        height=3.1,
        pick=Pick("hours", "hour", 1.0, MOST_HOURS, "the hours in the chamber"),
    )


def _band(name: str, times: Sequence[float], ends: np.ndarray, color: str, dash: Dash, share: float) -> Curve:
    """Describe a curve with its interval, its name in the empty corner of the paper."""
    place = (share, 0.40, 0.26 if dash is Dash.SOLID else 0.16)
    return Curve(name, times, ends[:, 0], color, dash, ends[:, 1], ends[:, 2], place)


def _read_uptake(plan: HumidityPlan, read: Sequence[ReadSince]) -> str:
    first = next(m for m in plan.moments if m.hours >= min(1.0, plan.choices.hours))
    last = f"{plan.last} comes last and" if plan.leaves > 1 else plan.last
    air = say_humidity(first.air)
    return (
        f"The air stands at {air} after {say_time(hours(first.hours))}; the {last} is at "
        f"{say_humidity(plan.end.core)} when the item comes out. "
        "Bands: 95 % of what is believable. Triangles: look-ins; the schedule leaves out those at night."
        + (" Diamonds: the air as it was read, bars 95 %." if read else "")
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
    return Page(ways_table(plan) + prose(words).html, words)


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
    unit = difference_unit(units.temperature)
    return f"{drop.to(unit).magnitude:.1f} {unit_label(unit)}"


def handed_down_page(conditions: Sequence[Condition]) -> Page:
    """Show what intake asks of a stage."""
    if not conditions:
        return sentence_page("Intake sets no condition for this stage.")
    return Page(condition_list(conditions), " ".join(say_condition(condition) for condition in conditions))
