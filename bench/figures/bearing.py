"""Where the load goes: the section with the pressure over it, and the plans side by side."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from bench.figures.chapter import prose
from bench.figures.chart import Chart
from bench.figures.marks import (
    Anchor,
    Axis,
    Curve,
    Dash,
    Line,
    Pick,
    Points,
    Region,
    Rule,
    Shape,
    Words,
    plain,
)
from bench.figures.page import Page, table
from bench.figures.style import (
    ACCENT,
    CURVES,
    SOFT,
    STOP,
)
from bench.item import Format, Item
from bench.physics.bearing.fit import BenchFit
from bench.physics.bearing.results import Bearing, Limits, say_bearing
from bench.physics.ranges import Range
from bench.treatment.buffering.load import say_unfit
from bench.treatment.interleaves import CLOSEST, WIDEST
from bench.units import say_range, to_float

Floats = NDArray[np.float64]

_PAPER_FACE, _PAPER_EDGE, _WIRE_COLOR = "#f3ead6", "#8b7d63", "#4a4a4a"
_SECTION = (0.6, 0.5, 0.15, 0.1)  # inches about pressure and section, which stand over each other
_NOTHING = 1e-6  # of mm, kPa, N/m or g: what is less is noise of the arithmetic
_NONE = 0.05  # where a chance that no sample shows is drawn, %
_CHANCES = ((_NONE, "none found"), (0.1, "0.1"), (1.0, "1"), (10.0, "10"), (100.0, "100"))
_CHANCE = Axis("chance of loading\nspine or staple, %", "%", 0.03, 150.0, 1, _CHANCES, is_log=True)
_BESIDE_WORDS = (1.15, 0.5, 0.2, 0.15)  # inches, with room for the words of that axis
_STRIPS = 12  # half as many along the spine and half as many beyond, each of which says how thick it is
_NEAR_SPINE = 30.0  # mm
_TALL = 8  # times that thickness is drawn larger than width, as the picture says


def draw_pressure(item: Item, bearing: Bearing) -> Chart:
    """Draw the pressure on the cover from the spine to the fore edge, staples and the bare strip marked.

    Parameters
    ----------
    item : Item
        Whose staples are marked.
    bearing : Bearing
        Of the plan of sheets.

    Returns
    -------
    Chart
        Pressure between staples with the limits of 95 %, and the limit on a staple where it is within
        reach; the section beneath is :func:`draw_section`.
    """
    places = np.round(np.asarray(bearing.curve.places.to("mm").magnitude), 6)
    low, middle, high = _pressures(bearing)
    name = "between staples" if item.staples else "pressure"
    curve = Curve(name, places, middle, CURVES[0], low=low, high=high, place=(0.7, 0.55, 0.8))
    staples = list(_staple_loads(item, bearing))
    top = max([float(high.max()), *(point.high[0] for point in staples if point.high is not None)])
    limit = to_float(bearing.staple_limit, "kPa", field="limit on a staple")
    rules = list(_mark_unpressed(bearing))
    if item.staples and limit < 1.15 * top:
        rules.append(Rule(limit, "limit on a staple", STOP, dash=Dash.DASHED))
    return Chart(
        Axis("mm from the spine", "mm", -4.0, float(places[-1]) + 4),
        Axis("pressure on the cover, kPa", "kPa", 0.0, 1.18 * max(top, 0.1), digits=1),
        (curve, *staples, *rules),
        read_pressure(bearing),
        height=2.4,
        margins=_SECTION,
    )


def _pressures(bearing: Bearing) -> tuple[Floats, Floats, Floats]:
    """Give low, likely and high pressure between staples along the section, kPa."""
    curve = bearing.curve
    low, middle, high = (np.asarray(p.to("kPa").magnitude) for p in (curve.low, curve.pressure, curve.high))
    return np.round(low, 6), np.round(middle, 6), np.round(high, 6)


def _staple_loads(item: Item, bearing: Bearing) -> Iterator[Points]:
    """Describe the pressure on each wire with its limits; side by side where they lie on one line."""
    for number, staple in enumerate(item.staples):
        value, low, high = (
            round(end, 6) for end in bearing.staples[staple.name].floats("kPa", field="pressure")
        )
        if high > 0:
            place = plain(staple.from_spine, "mm") + 1.2 * number
            name = f"{staple.name} staple"
            yield Points(name, [place], [value], STOP, Shape.DIAMOND, [low], [high], words=(name,))


def _mark_unpressed(bearing: Bearing) -> Iterator[Rule]:
    """Mark where the bare strip ends; a pressed spine may lie before it, and then where it begins."""
    width = round(plain(bearing.unpressed.value, "mm"), 6)
    if width < 1:
        return
    places, bare = bearing.curve.places.to("mm").magnitude, bearing.curve.reached < 0.5
    start = round(float(places[int(np.argmax(bare))]), 6) if bare.any() and not bare[0] else 0.0
    if start > 0:
        yield Rule(start, "", SOFT, is_upright=True, dash=Dash.DOTTED)
    words = f"{width:.0f} mm up to here not pressed"
    yield Rule(start + width, words, SOFT, is_upright=True, dash=Dash.DOTTED)


def draw_section(item: Item, bearing: Bearing) -> Chart:
    """Draw the section to scale, thickness exaggerated, with where the sheets lie."""
    everywhere = np.asarray(bearing.curve.places.to("mm").magnitude, dtype=np.float64)
    places = _choose_places(float(everywhere[-1]))
    free = np.asarray(bearing.curve.free.to("mm").magnitude, dtype=np.float64)
    half = np.round(0.5 * _TALL * np.interp(places, everywhere, free), 6)
    low, high = -1.15 * float(half.max()), 1.2 * float(half.max())
    ends = plain(bearing.curve.stop, "mm")
    words = f"The sheets between the leaves end {ends:.0f} mm from the spine." if bearing.sheets.inner else ""
    title = f"mm from the spine; thickness drawn {_TALL} times larger than width"
    return Chart(
        Axis(title, "mm", -4.0, float(places[-1]) + 4),
        Axis("thickness", "mm", 1.1 * low, high, is_bare=True),
        (
            *_slices(bearing, places, half),
            *_sheets_in_section(bearing, places, half, low),
            *_wires_in_section(item, places, half, low),
            *_name_ends(item, float(places[-1]), low),
        ),
        words or "No sheet lies between the leaves.",
        height=2.0,
        margins=_SECTION,
    )


def _choose_places(width: float) -> Floats:
    """Choose places at which the section is drawn, more of them along the spine, where it changes fast."""
    near = min(_NEAR_SPINE, 0.5 * width)
    places = np.concatenate([np.linspace(0, near, _STRIPS + 1), np.linspace(near, width, _STRIPS + 1)[1:]])
    return np.round(places, 6).astype(np.float64)


def _slices(bearing: Bearing, places: Floats, half: Floats) -> Iterator[Region]:
    """Describe the item without load, its middle at zero, both faces alike, in strips that say how thick.

    The outline lies over them: it has an edge, and they have none.
    """
    everywhere, pressures = bearing.curve.places.to("mm").magnitude, _pressures(bearing)
    for first in range(0, len(places) - 1, 2):
        x, y = places[first : first + 3], half[first : first + 3]
        low, middle, high = (float(np.interp(x[1], everywhere, part)) for part in pressures)
        thick, pressure = 2 * float(y[1]) / _TALL, say_range(middle, low, high, "kPa")
        says = f"{x[0]:.0f} to {x[-1]:.0f} mm from the spine\n{thick:.2f} mm thick, {pressure}"
        yield Region([*x, *x[::-1]], [*y, *-y[::-1]], _PAPER_FACE, says=says)


def _sheets_in_section(bearing: Bearing, places: Floats, half: Floats, low: float) -> Iterator[Line | Words]:
    x, y = [*places, *places[::-1], places[0]], [*half, *-half[::-1], half[0]]
    yield Line(x, y, _PAPER_EDGE, 1.0)
    stop, inner = plain(bearing.curve.stop, "mm"), bearing.sheets.inner
    levels = [(2 * (k + 1) / (inner + 1) - 1, stop) for k in range(inner)]
    levels += [(0.94, 0.0), (-0.94, 0.0)] if bearing.sheets.to_fold else []
    levels += [(0.0, 0.0)] if bearing.sheets.to_fold > 2 else []
    for level, start in levels:
        beyond = places[places > start]
        x = [start, *beyond]
        yield Line(x, np.round(level * np.interp(x, places, half), 6), CURVES[0], 1.2)
    if inner:
        yield Line([stop, stop], [low, 1.1 * float(half.max())], CURVES[0], 0.8, Dash.DOTTED)
        yield Words(stop + 1, low, "sheets end", CURVES[0])


def _wires_in_section(item: Item, places: Floats, half: Floats, low: float) -> Iterator[Region | Words]:
    if not item.staples:
        return
    line = float(np.mean([staple.from_spine.to("mm").magnitude for staple in item.staples]))
    tall = float(np.interp(line, places, half)) * 1.03
    says = f"staples, {line:.1f} mm from the spine"
    yield Region.between((line - 0.35, -tall), (line + 0.35, tall), _WIRE_COLOR, says=says)
    anchor = Anchor.END if line > 3 else Anchor.BEGIN
    yield Words(line - 1, low, "staple", anchor=anchor)


def _name_ends(item: Item, width: float, low: float) -> Iterator[Words]:
    if item.format is not Format.SHEET:
        yield Words(-3.5, 0, "spine", anchor=Anchor.MIDDLE, is_upright=True)
    yield Words(width, low, "fore edge", anchor=Anchor.END)


def read_pressure(bearing: Bearing) -> str:
    """Read the picture in one sentence."""
    width = bearing.unpressed.say("mm")
    block = bearing.block.say("kPa")
    words = f"The text block carries {block}, and {width} along the spine stay unpressed"
    if not bearing.chances:
        return words + "."
    chance = bearing.say_chance()
    if bearing.chance == 0:
        return f"{words}; the chance that spine or staples are loaded beyond their limits is {chance}."
    return f"{words}; the {bearing.worst_place} is loaded beyond its limit with a chance of {chance}."


def draw_plans(plans: Sequence[Bearing]) -> Chart | Page:
    """Draw what fewer sheets win and risk: width unpressed against chance; or say that there is no choice."""
    if len(plans) < 2 or not plans[0].chances:
        return prose("Here every spacing comes to the same sheets, so there is nothing to weigh.")
    chances = [max(100 * plan.chance, _NONE) for plan in plans]
    widths = [round(plain(plan.unpressed.value, "mm"), 6) for plan in plans]
    risk = 100 * Limits().accepted_risk
    most, least = plans[0], plans[-1]
    turn = "narrows" if widths[-1] < widths[0] else "goes"
    reads = (
        f"From {most.sheets.count} to {least.sheets.count} sheets the strip along the spine {turn} from "
        f"{widths[0]:.0f} to {widths[-1]:.0f} mm, and the chance of loading spine or staple goes from "
        f"{most.say_chance()} to {least.say_chance()}."
    )
    sheets = tuple(str(plan.sheets.count) for plan in plans)
    return Chart(
        Axis("width along the spine that stays unpressed, mm (numbers: sheets)", "mm"),
        _CHANCE,
        (
            Points("sheets", widths, chances, CURVES[0], words=sheets, is_joined=True),
            Rule(risk, "accepted", STOP, dash=Dash.DASHED),
        ),
        reads,
        height=2.9,
        margins=_BESIDE_WORDS,
    )


def _draw_plans(
    name: str, plans: Sequence[tuple[int, Bearing]], color: str, shape: Shape
) -> Iterator[Points]:
    """Mark the chances of some plans; those that the press does not press, or crushes, are not joined."""
    if not plans:
        return
    hover = tuple(
        f"at most {i} leaves between, {load.sheets.count} sheets, {say_unfit(load) or load.say_chance()}"
        for i, load in plans
    )
    chances = [max(100 * load.chance, _NONE) for _, load in plans]
    is_joined = shape is Shape.DOT
    yield Points(name, [float(i) for i, _ in plans], chances, color, shape, is_joined=is_joined, hover=hover)


def draw_chances(loads: Sequence[Bearing], interval: int, accepted: float) -> Chart | None:
    """Draw the chance of loading spine or staple by the leaves between sheets; None where there is none.

    Parameters
    ----------
    loads : sequence of Bearing
        Every plan; a plan stands for all spacings that come to the same sheets.
    interval : int
        The chosen one.
    accepted : float
        Chance that is accepted, 0 to 1.
    """
    known = [(i, load) for load in loads if load.chances for i in load.intervals]
    if len(known) < 2:
        return None
    known.sort(key=lambda pair: pair[0])
    fit = [(i, load) for i, load in known if not say_unfit(load)]
    unfit = [(i, load) for i, load in known if say_unfit(load)]
    chosen = next((load for i, load in known if i == interval), None)
    said = (
        ""
        if chosen is None
        else f"At most {interval} leaves between two sheets: {say_unfit(chosen) or chosen.say_chance()}. "
    )
    more = "Wider spacings press more of the spine and load it sooner." if len(fit) > 1 else ""
    if unfit:
        more = f"{more} Rings: {' or '.join(dict.fromkeys(say_unfit(load) for _, load in unfit))}.".strip()
    return Chart(
        Axis("most leaves between two sheets", "leaves", CLOSEST - 0.5, WIDEST + 0.5),
        _CHANCE,
        (
            *_draw_plans("plans", fit, CURVES[0], Shape.DOT),
            *_draw_plans("not for this press", unfit, SOFT, Shape.RING),
            Rule(100 * accepted, "accepted", STOP, dash=Dash.DASHED),
            Rule(float(interval), "chosen", ACCENT, is_upright=True, dash=Dash.DASHED, is_choice=True),
        ),
        f"{said}{more}",
        height=2.4,
        margins=_BESIDE_WORDS,
        pick=Pick("interval", "", CLOSEST, WIDEST, "the spacing"),
    )


def plans_page(plans: Sequence[Bearing], *, picked: int | None = None) -> Page:
    """Show the plans side by side in numbers; ``picked`` is the number of sheets of the chosen one."""
    head = (
        "sheets",
        "most leaves between",
        "gain, mm",
        "spine, kPa",
        "highest staple, kPa",
        "step, kPa",
        "step, N/m",
        "unpressed, mm",
        "chance of loading",
        "first at",
        "paper, g",
        "water, g",
    )
    rows = [_plan_row(plan) for plan in plans]
    counts = [plan.sheets.count for plan in plans]
    words = "; ".join(say_bearing(plan) for plan in plans)
    return Page(table(head, rows, picked=counts.index(picked) if picked in counts else None), words)


def _plan_row(plan: Bearing) -> tuple[object, ...]:
    return (
        plan.sheets.count,
        plan.group,
        say_bare(plan.gain, "mm"),
        say_bare(plan.spine, "kPa"),
        say_heaviest(plan),
        say_bare(plan.step_peak, "kPa"),
        say_bare(plan.step_line, "N/m"),
        say_bare(plan.unpressed, "mm"),
        plan.say_chance() if plan.chances else "–",
        plan.worst_place if plan.chance > 0 else "–",
        f"{plain(plan.mass, 'g'):.0f}",
        say_bare(plan.water, "g"),
    )


def say_bare(value: Range, unit: str) -> str:
    """Write a range without its unit, which stands at the head of the column."""
    numbers = value.floats(unit, field="range")
    return "0" if max(map(abs, numbers)) < _NOTHING else say_range(*numbers, "")


def say_heaviest(plan: Bearing) -> str:
    """Write the pressure on the staple that may be loaded most, kPa, or a dash without staples."""
    if not plan.staples:
        return "–"
    return say_bare(max(plan.staples.values(), key=lambda load: plain(load.high, "kPa")), "kPa")


def fit_table(fit: BenchFit) -> str:
    """Write every number predicted, before and after a fit, beside what was found."""
    head = ("treatment", "what", "believed before, mm", "after the fit, mm", "found, mm (95 %)")
    names = {"thickness": ("thickness after", 2), "unpressed": ("width left unpressed", 1)}
    rows = []
    for row in fit.compared:
        name, digits = names[row.quantity]
        numbers = (row.before, row.after, row.found.value, row.found.expanded())
        before, after, found, doubt = (f"{plain(number, 'mm'):.{digits}f}" for number in numbers)
        rows.append((row.name, name, before, after, f"{found} ± {doubt}"))
    return table(head, rows)
