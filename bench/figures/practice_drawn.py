"""What happens to the item of an exercise in chamber, press and review, drawn when it is asked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from bench.figures.buffering import draw_intervals
from bench.figures.chart import Chart
from bench.figures.cleaning import left_out_table, work_table
from bench.figures.humidity import draw_uptake
from bench.figures.intake import gate_table
from bench.figures.marks import Anchor, Axis, Curve, Dash, Points, Rule, Words
from bench.figures.page import table
from bench.figures.pressing import draw_changes, draw_heat
from bench.figures.review import draw_size_changes
from bench.figures.schedule import draw_timeline
from bench.figures.style import ACCENT, CURVES, STOP, Picture
from bench.practice.markers.chamber_holds import Chamber
from bench.practice.markers.chamber_hours import ToChamber
from bench.practice.markers.compare_decide import JudgedCycle
from bench.practice.markers.far_leaf import ToPress
from bench.practice.markers.staples import SheetsNeeded
from bench.practice.markers.two_days import Timed
from bench.treatment.humidity.planning import plan_humidity
from bench.treatment.interleaves import Placement
from bench.treatment.pressing.planning import plan_pressing
from bench.units import UnitChoice

_BELOW = 0.4  # K below the dew point that the picture still shows
_BESIDE = 1.2  # points of humidity between a dot and its words


def draw_chamber_holds(chamber: Chamber, units: UnitChoice) -> Chart:
    """Draw the humidity at a surface against its temperature, from the air down to the dew point."""
    held = chamber.held
    dew = float(held.dew_point.to("degC").magnitude)
    warm = np.linspace(dew, chamber.air, 41)
    curve = [chamber.at(float(each)) for each in warm]
    at_base = chamber.at(chamber.base)
    return Chart(
        Axis("temperature of what the air touches, °C", "°C", dew - _BELOW, chamber.air + _BELOW, digits=1),
        Axis("relative humidity there, %", "% RH", min(curve) - 4, 102.0),
        (
            Curve("humidity at a surface", warm, curve, CURVES[0], place=(0.3, 0.45, 0.85)),
            Points("lowest leaf", [chamber.base], [at_base], CURVES[1]),
            Points("leaf in the air", [chamber.air], [held.percent], CURVES[2]),
            Words(chamber.base, at_base - _BESIDE, "lowest leaf ", anchor=Anchor.END),
            Words(chamber.air, held.percent - _BESIDE, "in the air ", anchor=Anchor.END),
            Rule(chamber.shown, "hygrometer", ACCENT, dash=Dash.DOTTED),
            Rule(dew, "wet from here", STOP, is_upright=True, dash=Dash.DASHED),
        ),
        f"In the air the salt holds {held.percent:.0f} %; on the base, {chamber.air - chamber.base:.1f} K "
        "colder, "
        f"it is {at_base:.0f} %, and from {dew:.1f} °C down a surface is wet.",
    )


def draw_chamber_hours(asked: ToChamber, units: UnitChoice) -> Chart:
    """Draw the uptake of the item in its chamber, taken out when its middle is likely damp enough."""
    return draw_uptake(plan_humidity(asked.item, asked.thicknesses, asked.choices, units=units))


def draw_far_leaf(asked: ToPress, units: UnitChoice) -> Chart | str:
    """Draw near, middle and far leaf against the minutes."""
    plan = plan_pressing(asked.item, asked.thicknesses, asked.choices, units=units)
    return draw_heat(plan, units) or ""


def draw_let_go(asked: ToPress, units: UnitChoice) -> Chart | str:
    """Draw the humidity after the night and after each change of sheets."""
    return draw_changes(plan_pressing(asked.item, asked.thicknesses, asked.choices, units=units)) or ""


def draw_two_days(timed: Timed, units: UnitChoice) -> Chart:
    """Draw the steps by the clock from the latest start."""
    return draw_timeline(timed.days.lay(timed.start), timed.days.day)


def draw_compared(judged: JudgedCycle, units: UnitChoice) -> Chart | Picture:
    """Draw how width and height changed, with the limits of the rules."""
    rules = judged.rules
    return draw_size_changes(
        judged.plan.sizes,
        units,
        growth_limit=rules.most_growth.value,
        shortening_limit=rules.most_shortening.value,
    )


Drawing = Callable[[Any, UnitChoice], Chart | Picture | str]


def draw_fewest(needed: SheetsNeeded, units: UnitChoice) -> Chart | str:
    """Draw the spacings side by side, the fewest sheets that an item needs marked."""
    drawn = draw_intervals(needed.plan(), units)
    return drawn if isinstance(drawn, Chart) else drawn.html


def placement_table(placements: Sequence[Placement]) -> str:
    """Write where each sheet lies and how far it reaches, front to back."""
    rows = [(number, each.words, each.reach) for number, each in enumerate(placements, start=1)]
    return table(("sheet", "lies", "reaches"), rows, words=True)


PICTURES: dict[str, Drawing] = {
    "chamber-holds": draw_chamber_holds,
    "chamber-hours": draw_chamber_hours,
    "compare-decide": draw_compared,
    "far-leaf": draw_far_leaf,
    "let-go": draw_let_go,
    "two-days": draw_two_days,
    "cleaning": lambda plan, _: work_table(plan) + left_out_table(plan),
    "gates": lambda plan, _: gate_table(plan.gates, only_met=True),
    "places": lambda laid, _: placement_table(laid.placements),
    "staples": draw_fewest,
}
"""By the name that a marker gives."""
