"""Where the load goes: the section with the pressure over it, and the plans side by side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon, Rectangle

from bench.figures.chapter import prose
from bench.figures.page import Page, table
from bench.figures.style import (
    CURVES,
    INK,
    LINE,
    SOFT,
    STOP,
    Picture,
    finish,
    new_axes,
    new_rows,
    plain_frame,
)
from bench.item import Format, Item
from bench.physics.bearing.fit import BenchFit
from bench.physics.bearing.results import Bearing, Limits, say_bearing
from bench.physics.ranges import Range
from bench.units import Quantity, say_range, to_float

_PAPER_FACE, _PAPER_EDGE, _WIRE_COLOR = "#f3ead6", "#8b7d63", "#4a4a4a"
_NONE = 0.05  # where a chance that no sample shows is drawn, %
_TALL = 8  # times that thickness is drawn larger than width, as the picture says


def draw_pressure(item: Item, bearing: Bearing, limits: Limits | None = None) -> Picture:
    """Draw the section to scale, thickness exaggerated, with the pressure on the cover over it.

    Parameters
    ----------
    item : Item
    bearing : Bearing
        Of the plan of sheets.
    limits : Limits, optional
        Whose limit on the staples is drawn, where it is within reach.

    Returns
    -------
    Picture
        Pressure between staples with the limits of 95 %, staples and sheet ends marked.
    """
    figure, (above, below) = new_rows(2, height=4.4, margins=(0.6, 0.5, 0.15, 0.1))
    places = np.round(np.asarray(bearing.curve.places.to("mm").magnitude), 6)
    low, middle, high = (
        np.round(np.asarray(getattr(bearing.curve, name).to("kPa").magnitude), 6)
        for name in ("low", "pressure", "high")
    )
    above.fill_between(places, low, high, color=CURVES[0], alpha=0.18, linewidth=0)
    above.plot(places, middle, color=CURVES[0], linewidth=1.8)
    top = _draw_staple_loads(above, item, bearing, float(high.max()), limits or Limits())
    above.set_ylim(0, 1.18 * max(top, 0.1))
    above.set_ylabel("pressure on the cover, kPa")
    above.annotate(
        "between staples, with the limits of 95 %" if item.staples else "with the limits of 95 %",
        (0.62 * float(places[-1]), float(high[len(high) * 3 // 4])),
        xytext=(0, 4),
        textcoords="offset points",
        ha="center",
        color=CURVES[0],
        fontsize=8.5,
    )
    _mark_unpressed(above, bearing, top)
    plain_frame(above)
    above.grid(True, axis="y", color=LINE)
    _draw_item(below, item, bearing, places)
    below.set_xlabel(f"mm from the spine; thickness drawn {_TALL} times larger than width")
    plain_frame(below, ("bottom",))
    below.set_yticks([])
    below.set_xlim(-4, float(places[-1]) + 4)
    return finish(figure, read_pressure(bearing))


def _draw_staple_loads(axes: Axes, item: Item, bearing: Bearing, top: float, limits: Limits) -> float:
    """Draw the pressure on each wire as a bar with its limits; give the highest value drawn."""
    for number, staple in enumerate(item.staples):
        value, low, high = (
            round(end, 6) for end in bearing.staples[staple.name].floats("kPa", field="pressure")
        )
        if high <= 0:
            continue
        place = float(staple.from_spine.to("mm").magnitude) + 1.2 * number
        axes.errorbar(
            [place],
            [value],
            yerr=[[value - low], [high - value]],
            fmt="D",
            color=STOP,
            capsize=3,
            markersize=4,
        )
        axes.annotate(
            f"{staple.name} staple",
            (place, high),
            xytext=(5, -4),
            textcoords="offset points",
            color=STOP,
            fontsize=8,
        )
        top = max(top, high)
    limit = to_float(limits.staple, "kPa", field="limit on a staple")
    if item.staples and limit < 1.15 * top:
        axes.axhline(limit, color=STOP, linewidth=0.8, linestyle=(0, (4, 3)))
        axes.text(
            float(bearing.curve.places[-1].to("mm").magnitude),
            limit,
            "limit on a staple",
            color=STOP,
            fontsize=8,
            ha="right",
            va="bottom",
        )
    return top


def _mark_unpressed(axes: Axes, bearing: Bearing, top: float) -> None:
    """Mark the strip, from where pressure mostly fails to arrive: a pressed spine may lie before it."""
    width = round(float(bearing.unpressed.value.to("mm").magnitude), 6)
    if width < 1:
        return
    places, bare = bearing.curve.places.to("mm").magnitude, bearing.curve.reached < 0.5
    start = round(float(places[int(np.argmax(bare))]), 6) if bare.any() and not bare[0] else 0.0
    ends = ((start, 1.08 * top), (start + width, 1.08 * top))
    axes.annotate("", *ends, arrowprops={"arrowstyle": "<->", "color": INK, "linewidth": 0.9})
    axes.text(start + width + 1.5, 1.08 * top, f"{width:.0f} mm not pressed", va="center", fontsize=8.5)


def _draw_item(axes: Axes, item: Item, bearing: Bearing, places: np.ndarray) -> None:
    """Draw the item without load, its middle at zero, both faces alike."""
    half = np.round(0.5 * _TALL * bearing.curve.free.to("mm").magnitude, 6)
    outline = np.column_stack([np.r_[places, places[::-1]], np.r_[half, -half[::-1]]])
    axes.add_patch(Polygon(outline, closed=True, facecolor=_PAPER_FACE, edgecolor=_PAPER_EDGE, linewidth=1))
    stop = float(bearing.curve.stop.to("mm").magnitude)
    inner = bearing.sheets.inner
    levels = [(2 * (k + 1) / (inner + 1) - 1, stop) for k in range(inner)]
    levels += [(0.94, 0.0), (-0.94, 0.0)] if bearing.sheets.to_fold else []
    levels += [(0.0, 0.0)] if bearing.sheets.to_fold > 2 else []
    for level, start in levels:
        part = places >= start
        axes.plot(places[part], level * half[part], color=CURVES[0], linewidth=1.2)
    low = -1.15 * float(half.max())
    if inner:
        axes.plot([stop, stop], [low, 1.1 * float(half.max())], color=CURVES[0], linewidth=0.8, linestyle=":")
        axes.text(stop + 1, low, "sheets end", color=CURVES[0], fontsize=8, va="bottom")
    if item.staples:
        line = float(np.mean([staple.from_spine.to("mm").magnitude for staple in item.staples]))
        tall = float(np.interp(line, places, half)) * 1.03
        axes.add_patch(Rectangle((line - 0.35, -tall), 0.7, 2 * tall, color=_WIRE_COLOR))
        axes.text(
            line - 1, low, "staple", color=SOFT, fontsize=8, ha="right" if line > 3 else "left", va="bottom"
        )
    if item.format is not Format.SHEET:
        axes.text(-3.5, 0, "spine", color=SOFT, fontsize=8, rotation=90, ha="center", va="center")
    axes.text(float(places[-1]), low, "fore edge", color=SOFT, fontsize=8, ha="right", va="bottom")
    axes.set_ylim(1.1 * low, 1.2 * float(half.max()))


def read_pressure(bearing: Bearing) -> str:
    """Read the picture in one sentence."""
    width = _say(bearing.unpressed, "mm")
    block = _say(bearing.block, "kPa")
    words = f"The text block carries {block}, and {width} along the spine stay unpressed"
    if not bearing.chances:
        return words + "."
    chance = bearing.say_chance()
    if bearing.chance == 0:
        return f"{words}; the chance that spine or staples are loaded beyond their limits is {chance}."
    return f"{words}; the {bearing.worst_place} is loaded beyond its limit with a chance of {chance}."


def _say(value: Range, unit: str) -> str:
    return say_range(*value.floats(unit, field="range"), unit)


def draw_plans(plans: Sequence[Bearing], limits: Limits | None = None) -> Picture | Page:
    """Draw what fewer sheets win and risk: width unpressed against chance; or say that there is no choice."""
    if len(plans) < 2 or not plans[0].chances:
        return prose("Here every spacing comes to the same sheets, so there is nothing to weigh.")
    figure, axes = new_axes(height=2.9, margins=(1.0, 0.5, 0.2, 0.15))
    chances = [max(100 * plan.chance, _NONE) for plan in plans]
    widths = [round(float(plan.unpressed.value.to("mm").magnitude), 6) for plan in plans]
    axes.plot(widths, chances, "o-", color=CURVES[0], linewidth=1)
    for plan, width, chance in zip(plans, widths, chances, strict=True):
        words = f"{plan.sheets.count}"
        axes.annotate(words, (width, chance), xytext=(4, 5), textcoords="offset points", fontsize=8.5)
    axes.set_yscale("log")
    axes.set_ylim(0.03, 150)
    axes.set_yticks([_NONE, 0.1, 1, 10, 100], ["none found", "0.1", "1", "10", "100"])
    axes.minorticks_off()
    risk = 100 * (limits or Limits()).accepted_risk
    axes.axhline(risk, color=STOP, linewidth=0.8, linestyle=(0, (4, 3)))
    axes.text(max(widths), risk, "accepted", color=STOP, fontsize=8, ha="right", va="bottom")
    axes.set_xlabel("width along the spine that stays unpressed, mm (numbers: sheets)")
    axes.set_ylabel("chance of loading\nspine or staple, %")
    plain_frame(axes)
    axes.grid(True, axis="y", color=LINE)
    most, least = plans[0], plans[-1]
    turn = "narrows" if widths[-1] < widths[0] else "goes"
    reads = (
        f"From {most.sheets.count} to {least.sheets.count} sheets the strip along the spine {turn} from "
        f"{widths[0]:.0f} to {widths[-1]:.0f} mm, and the chance of loading spine or staple goes from "
        f"{most.say_chance()} to {least.say_chance()}."
    )
    return finish(figure, reads)


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
    staples = sorted(plan.staples.values(), key=lambda load: float(load.high.to("kPa").magnitude))
    return (
        plan.sheets.count,
        plan.group,
        _bare(plan.gain, "mm"),
        _bare(plan.spine, "kPa"),
        _bare(staples[-1], "kPa") if staples else "–",
        _bare(plan.step_peak, "kPa"),
        _bare(plan.step_line, "N/m"),
        _bare(plan.unpressed, "mm"),
        plan.say_chance() if plan.chances else "–",
        plan.worst_place if plan.chance > 0 else "–",
        f"{_float(plan.mass, 'g'):.0f}",
        _bare(plan.water, "g"),
    )


def _float(quantity: Quantity, unit: str) -> float:
    return float(quantity.to(unit).magnitude)


def _bare(value: Range, unit: str) -> str:
    numbers = value.floats(unit, field="range")
    return "0" if max(map(abs, numbers)) == 0 else say_range(*numbers, "")


def fit_table(fit: BenchFit) -> str:
    """Write every number predicted, before and after a fit, beside what was found."""
    head = ("treatment", "what", "believed before, mm", "after the fit, mm", "found, mm (95 %)")
    names = {"thickness": ("thickness after", 2), "unpressed": ("width left unpressed", 1)}
    rows = []
    for row in fit.compared:
        name, digits = names[row.quantity]
        numbers = (row.before, row.after, row.found.value, row.found.expanded())
        before, after, found, doubt = (f"{_float(number, 'mm'):.{digits}f}" for number in numbers)
        rows.append((row.name, name, before, after, f"{found} ± {doubt}"))
    return table(head, rows)


def fit_page(fit: BenchFit) -> Page:
    """Show predicted beside found, before and after a fit."""
    return Page(fit_table(fit), fit.words)
