"""The spacings of the sheets side by side: clearance, and where the load goes."""

from __future__ import annotations

from collections.abc import Sequence

from bench.figures.bearing import draw_pressure, draw_section
from bench.figures.chapter import prose
from bench.figures.chart import Chart
from bench.figures.marks import Axis, Points, Rule, Shape, around
from bench.figures.page import Page, table
from bench.figures.style import CURVES, STOP
from bench.item import Format, Item
from bench.physics.bearing.results import Bearing, Limits
from bench.physics.ranges import Range
from bench.treatment.buffering.explained import NOT_WEIGHED, ByHand
from bench.treatment.buffering.load import say_unfit
from bench.treatment.buffering.planning import BufferingPlan, SpacingAlternative, say_chance
from bench.uncertainty import Measured
from bench.units import MILLIMETRES, Quantity, UnitChoice, say_length, say_range, unit_label


def draw_load(item: Item, plan: BufferingPlan) -> Chart | Page:
    """Draw where the load goes with the sheets chosen; a sentence where there is no section to draw."""
    if item.format is Format.SHEET:
        return prose("A single sheet lies flat between its two sheets: there is no section to draw.")
    if plan.decision is None:
        return prose(NOT_WEIGHED)
    return draw_pressure(item, plan.decision.chosen, Limits())


def draw_sheets(item: Item, plan: BufferingPlan) -> Chart | None:
    """Draw the section with the sheets chosen, under the load on it; None where there is none."""
    if item.format is Format.SHEET or plan.decision is None:
        return None
    return draw_section(item, plan.decision.chosen)


def draw_intervals(plan: BufferingPlan, units: UnitChoice = MILLIMETRES) -> Chart | Page:
    """Draw clearance with its interval for every spacing, the chosen one marked; or say why none can be."""
    if plan.chosen.tightest is None:
        return prose(
            "No height of a spine or staple is known here, so thickness says nothing about a spacing."
        )
    others = [a for a in plan.alternatives if a.tightest is not None and a is not plan.chosen]
    points = [_clearances("chosen", [plan.chosen], units, Shape.SQUARE, CURVES[1])]
    if others:
        points.insert(0, _clearances("other spacings", others, units, Shape.DOT, CURVES[0]))
    clear_all = [a.interval for a in plan.alternatives if a.chance >= 0.98]
    reads = (
        f"Every spacing up to {max(clear_all)} leaves clears spine and staples with a chance of 98 % or more."
        if clear_all
        else "No spacing clears spine and staples with a chance of 98 %."
    )
    unit = unit_label(units.length)
    return Chart(
        Axis("leaves between sheets", "leaves"),
        Axis(f"clearance under load, {unit}", unit, digits=0 if unit == "µm" else 2),
        (*points, Rule(0.0, "below this line the spine carries the load", STOP)),
        reads,
        height=2.4,
        margins=(0.65, 0.5, 0.15, 0.1),
    )


def hand_page(sums: ByHand, plan: BufferingPlan, units: UnitChoice) -> Page:
    """Show the sums of a plan done by hand, beside what was planned."""

    def said(length: Quantity) -> str:
        return say_length(length, units)

    over = f"{sums.sheets} sheets of {said(sums.sheet)}"
    gain = say_length(plan.chosen.gain.value, units, uncertainty=plan.chosen.gain.expanded())
    rows = [("gain, n t", over, said(sums.gain), gain)]
    if sums.clearance is not None and sums.high is not None and plan.chosen.tightest is not None:
        clear = plan.chosen.tightest[1]
        how = (
            f"({said(sums.block)} + {sums.sheets} sheets) − ({said(sums.high)} + {sums.to_fold} sheets), "
            f"{sums.place}"
        )
        planned = f"under load: {say_length(clear.value, units, uncertainty=clear.expanded())}"
        rows.append(("clearance without load", how, said(sums.clearance), planned))
    words = "; ".join(f"{what}: by hand {hand}, planned {planned}" for what, _, hand, planned in rows)
    return Page(table(("what", "sum", "by hand", "planned"), rows, words=True), words)


def _clearances(
    name: str, alternatives: Sequence[SpacingAlternative], units: UnitChoice, shape: Shape, color: str
) -> Points:
    """Describe clearances with their intervals."""
    found = [(a.interval, a.tightest[1]) for a in alternatives if a.tightest is not None]
    values = [float(clear.value.to(units.length).magnitude) for _, clear in found]
    spreads = [float(clear.expanded().to(units.length).magnitude) for _, clear in found]
    low, high = around(values, spreads)
    return Points(
        name,
        [float(interval) for interval, _ in found],
        values,
        color,
        shape,
        low=low,
        high=high,
    )


def say_alternatives(alternatives: Sequence[SpacingAlternative]) -> str:
    """Say in a line what each spacing comes to."""
    said = [
        f"at most {a.interval} leaves between, {a.sheets} sheets: {say_chance(a.chance)}"
        for a in alternatives
    ]
    return "chance that spine and staples stay free: " + "; ".join(said)


def interval_table(plan: BufferingPlan, units: UnitChoice) -> str:
    """Write the spacings side by side, the chosen one marked."""
    unit = unit_label(units.length)
    head = (
        "a sheet after at most",
        "sheets",
        f"gain, {unit}",
        f"text block reads, {unit}",
        f"clear of the highest place, {unit}",
        "chance it is free",
    )
    rows = [
        (
            f"{a.interval} leaves, by number" if a.is_balanced else f"{a.interval} leaves",
            a.sheets,
            _bare(a.gain, units),
            _bare(a.thickness, units),
            "not read" if a.tightest is None else _bare(a.tightest[1], units),
            "–" if a.tightest is None else say_chance(a.chance),
        )
        for a in plan.alternatives
    ]
    picked = [a is plan.chosen for a in plan.alternatives].index(True)
    return table(head, rows, picked=picked)


def _bare(measured: Measured, units: UnitChoice) -> str:
    """Write a thickness without its unit, which stands at the head of the column."""
    said = say_length(measured.value, units, uncertainty=measured.expanded())
    return said.removesuffix(unit_label(units.length)).strip()


def load_page(plan: BufferingPlan) -> Page:
    """Show in a notebook where the load goes with every plan."""
    chosen = plan.decision.chosen if plan.decision else None
    return Page(load_table(plan.loads, picked=chosen), say_loads(plan.loads))


def say_loads(loads: Sequence[Bearing]) -> str:
    """Say in a line what each plan comes to."""
    said = [
        f"{_say_spacing(load)}, {load.sheets.count} sheets: {_say_width(load)} unpressed, chance of loading "
        f"{load.say_chance()}"
        for load in loads
    ]
    return "; ".join(said)


def load_table(loads: Sequence[Bearing], *, picked: Bearing | None = None) -> str:
    """Write the plans side by side by where the load goes.

    Parameters
    ----------
    loads : sequence of Bearing
        From most sheets to fewest.
    picked : Bearing, optional
        The chosen one of them.
    """
    head = (
        "a sheet after at most",
        "sheets",
        "chance of loading",
        "not pressed, mm",
        "spine, kPa",
        "highest staple, kPa",
        "sheet ends, kPa",
        "guard band",
        "paper, g",
        "water, g",
    )
    rows = [
        (
            _say_spacing(load),
            load.sheets.count,
            _say_loaded(load),
            _between(load.unpressed, "mm") if load.chances else "–",
            _between(load.spine, "kPa") if load.chances else "–",
            _between(max(load.staples.values(), key=_highest), "kPa") if load.staples else "–",
            _between(load.step_peak, "kPa") if load.chances else "–",
            _say_clear(load),
            f"{float(load.mass.to('g').magnitude):.0f}",
            _between(load.water, "g"),
        )
        for load in loads
    ]
    chosen = [k for k, load in enumerate(loads) if load is picked]
    return table(head, rows, picked=chosen[0] if chosen else None)


def _say_loaded(load: Bearing) -> str:
    """Write the chance of loading, unless the press does not press at all or might crush."""
    if not load.chances:
        return "–"
    return say_unfit(load) or load.say_chance().replace("less than", "<")


def _highest(load: Range) -> float:
    return float(load.high.to("kPa").magnitude)


def _say_spacing(load: Bearing) -> str:
    """Name a plan by the spacings that come to it; one between them by its largest group."""
    if not load.intervals:
        return f"{load.group} leaves, by number"
    first, last = min(load.intervals), max(load.intervals)
    return f"{first} leaves" if first == last else f"{first} to {last} leaves"


def _say_width(load: Bearing) -> str:
    return say_range(*load.unpressed.floats("mm", field="width"), "mm")


def _say_clear(load: Bearing) -> str:
    short = [place for place in load.clearance if not load.is_clear(place)]
    if not load.clearance:
        return "–"
    return f"short: {short[0]}" if short else "clear"


def _between(value: Range, unit: str) -> str:
    numbers = value.floats(unit, field="range")
    return "0" if max(map(abs, numbers)) < 1e-6 else say_range(*numbers, "").strip()
