"""The section of a buffered item, and the spacings side by side."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.patches import Polygon, Rectangle

from bench.figures.page import Page, table
from bench.figures.style import CURVES, INK, LINE, SOFT, STOP, Picture, finish, new_axes, plain_frame
from bench.item import Format, Item, Thicknesses
from bench.physics.bearing.results import Bearing
from bench.physics.ranges import Range
from bench.treatment.buffering import Alternative, BufferingPlan, say_chance
from bench.treatment.buffering_load import say_share
from bench.uncertainty import Measured
from bench.units import MILLIMETRES, Quantity, UnitChoice, say_length, say_range, unit_label

_PAPER_FACE, _PAPER_EDGE = "#f3ead6", "#8b7d63"


def _mm(quantity: Quantity) -> float:
    return float(quantity.to("mm").magnitude)


def draw_section(
    item: Item, thicknesses: Thicknesses, plan: BufferingPlan, units: UnitChoice = MILLIMETRES
) -> Picture:
    """Draw the section from spine to fore edge with every sheet, thickness exaggerated.

    The spine keeps the height it was read at; the text block rises where the sheets lie between
    its leaves.
    """
    figure, axes = new_axes(height=2.2, margins=(0.05, 0.05, 0.05, 0.05))
    width = _mm(item.width)
    block = _mm(plan.chosen.thickness.value)
    highest = thicknesses.highest_staple
    spine = _mm(highest[1].value if highest else (thicknesses.spine_edge or thicknesses.text_block).value)
    to_fold = sum(place.reach.startswith("to the") for place in plan.placements)
    spine += to_fold * _mm(plan.chosen.gain.value) / plan.chosen.sheets
    stop = max((_mm(s.from_spine) for s in item.staples), default=0.0)
    if item.format is Format.GLUED:
        stop = 8.0  # where a sheet stops short of the glue, drawn only
    flat = stop + 0.09 * width
    outline = [(0, 0), (width, 0), (width, block), (flat, block), (stop + 2, spine), (0, spine)]
    axes.add_patch(Polygon(outline, closed=True, facecolor=_PAPER_FACE, edgecolor=_PAPER_EDGE, linewidth=1))
    _draw_sheets(axes, item, plan, width, spine, block, stop, flat)
    for staple in item.staples[:1]:
        place = _mm(staple.from_spine)
        axes.add_patch(Rectangle((place - 0.6, -0.02 * block), 1.2, spine + 0.04 * block, color="#4a4a4a"))
        axes.annotate(
            "staple",
            (place, 0),
            xytext=(0, -14),
            textcoords="offset points",
            ha="center",
            color=SOFT,
            fontsize=8,
        )
    if item.is_square_bound:
        axes.add_patch(Rectangle((-1.6, 0), 1.6, spine, facecolor="#b98d5a", edgecolor="none"))
    axes.axhline(spine, color=STOP, linewidth=0.8, linestyle=(0, (4, 3)))
    axes.annotate(
        "height of the highest place, with the sheets that reach the fold",
        (width, spine),
        xytext=(0, 3),
        textcoords="offset points",
        ha="right",
        color=STOP,
        fontsize=8,
    )
    sheets = plan.chosen.sheets
    axes.text(
        0.5 * width, block * 1.05, f"{item.leaves} leaves, {sheets} sheets (blue)", ha="center", fontsize=8.5
    )
    axes.text(width, -0.2 * block, "fore edge", ha="right", color=SOFT, fontsize=8)
    axes.text(-1.6, -0.2 * block, "spine", ha="left", color=SOFT, fontsize=8)
    axes.set_xlim(-4, width + 2)
    axes.set_ylim(-0.25 * block, 1.2 * block)
    axes.set_axis_off()
    return finish(figure, _read_section(plan, units))


def _draw_sheets(
    axes: Axes,
    item: Item,
    plan: BufferingPlan,
    width: float,
    spine: float,
    block: float,
    stop: float,
    flat: float,
) -> None:
    leaves = max(item.leaves, 1)
    for place in plan.placements:
        level = 0.02 + 0.96 * (1 - place.after_leaf / leaves)
        if place.reach.startswith("to the"):
            xs, ys = (
                [0.5, stop + 2, flat, width],
                [level * spine, level * spine, level * block, level * block],
            )
        else:
            xs, ys = [stop + 1.5, flat, width], [level * spine, level * block, level * block]
        axes.plot(xs, ys, color=CURVES[0], linewidth=1.4, solid_capstyle="butt")


def _read_section(plan: BufferingPlan, units: UnitChoice) -> str:
    thick = plan.chosen.thickness
    words = (
        f"With {plan.chosen.sheets} sheets the text block reads "
        f"{say_length(thick.value, units, uncertainty=thick.expanded())}"
    )
    if plan.chosen.tightest is None:
        return words + "; the height is drawn many times larger than the width."
    name, clear = plan.chosen.tightest
    return (
        f"{words}; under load it clears the {name} by "
        f"{say_length(clear.value, units, uncertainty=clear.expanded())}. "
        "The height is drawn many times larger than the width."
    )


def draw_intervals(plan: BufferingPlan, units: UnitChoice = MILLIMETRES) -> Picture:
    """Draw clearance with its interval for every spacing, the chosen one marked."""
    figure, axes = new_axes(height=2.4, margins=(0.65, 0.5, 0.15, 0.1))
    marked = [a for a in plan.alternatives if a.tightest is not None and a.interval != plan.chosen.interval]
    _draw_clearances(axes, marked, units, "o", CURVES[0])
    if plan.chosen.tightest is not None:
        place = _draw_clearances(axes, [plan.chosen], units, "s", CURVES[1])
        axes.annotate("chosen", place, xytext=(7, 4), textcoords="offset points", fontsize=8.5)
    axes.axhline(0, color=STOP, linewidth=1)
    axes.text(4, 0, "below this line the spine carries the load", color=STOP, fontsize=8, va="bottom")
    axes.set_xlabel("leaves between sheets")
    axes.set_ylabel(f"clearance under load, {unit_label(units.length)}")
    plain_frame(axes)
    axes.grid(True, axis="y", color=LINE)
    axes.tick_params(colors=INK)
    clear_all = [a.interval for a in plan.alternatives if a.chance >= 0.98]
    reads = (
        f"Every spacing up to {max(clear_all)} leaves clears spine and staples with a chance of 98 % or more."
        if clear_all
        else "No spacing clears spine and staples with a chance of 98 %."
    )
    return finish(figure, reads)


def _draw_clearances(
    axes: Axes, alternatives: Sequence[Alternative], units: UnitChoice, mark: str, color: str
) -> tuple[float, float]:
    """Draw clearances with their intervals; give the place of the last one."""
    found = [(a.interval, a.tightest[1]) for a in alternatives if a.tightest is not None]
    across = [interval for interval, _ in found]
    values = [float(clear.value.to(units.length).magnitude) for _, clear in found]
    spreads = [float(clear.expanded().to(units.length).magnitude) for _, clear in found]
    axes.errorbar(across, values, yerr=spreads, fmt=mark, color=color, capsize=3)
    return (across[-1], values[-1]) if found else (0.0, 0.0)


def interval_page(plan: BufferingPlan, units: UnitChoice) -> Page:
    """Show the spacings side by side in a notebook."""
    return Page(interval_table(plan, units), say_alternatives(plan.alternatives))


def say_alternatives(alternatives: Sequence[Alternative]) -> str:
    """Say in a line what each spacing comes to."""
    said = [f"every {a.interval} leaves, {a.sheets} sheets: {say_chance(a.chance)}" for a in alternatives]
    return "chance that spine and staples stay free: " + "; ".join(said)


def interval_table(plan: BufferingPlan, units: UnitChoice) -> str:
    """Write the spacings side by side, the chosen one marked."""
    unit = unit_label(units.length)
    head = (
        "one sheet after",
        "sheets",
        f"gain, {unit}",
        f"text block reads, {unit}",
        f"clear of the highest place, {unit}",
        "chance it is free",
    )
    rows = [
        (
            f"{a.interval} leaves",
            a.sheets,
            _bare(a.gain, units),
            _bare(a.thickness, units),
            "not read" if a.tightest is None else _bare(a.tightest[1], units),
            "–" if a.tightest is None else say_chance(a.chance),
        )
        for a in plan.alternatives
    ]
    picked = [a.interval for a in plan.alternatives].index(plan.chosen.interval)
    return table(head, rows, picked=picked)


def _bare(measured: Measured, units: UnitChoice) -> str:
    """Write a thickness without its unit, which stands at the head of the column."""
    said = say_length(measured.value, units, uncertainty=measured.expanded())
    return said.removesuffix(unit_label(units.length)).strip()


def load_page(plan: BufferingPlan) -> Page:
    """Show in a notebook where the load goes with every plan."""
    return Page(load_table(plan.loads, picked=plan.chosen.interval), say_loads(plan.loads))


def say_loads(loads: Sequence[Bearing]) -> str:
    """Say in a line what each plan comes to."""
    said = [
        f"{_say_spacing(load)}, {load.sheets.count} sheets: {_say_width(load)} unpressed, chance of loading "
        f"{say_share(load.chance)}"
        for load in loads
    ]
    return "; ".join(said)


def load_table(loads: Sequence[Bearing], *, picked: int | None = None) -> str:
    """Write the plans side by side by where the load goes.

    Parameters
    ----------
    loads : sequence of Bearing
        From most sheets to fewest.
    picked : int, optional
        Leaves between sheets of the chosen one.
    """
    head = (
        "one sheet after",
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
            say_share(load.chance).replace("less than", "<") if load.chances else "–",
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
    chosen = [k for k, load in enumerate(loads) if picked in load.intervals]
    return table(head, rows, picked=chosen[0] if chosen else None)


def _highest(load: Range) -> float:
    return float(load.high.to("kPa").magnitude)


def _say_spacing(load: Bearing) -> str:
    """Name a plan by the spacings that come to it; one between them by its largest group."""
    if not load.intervals:
        return f"{load.group} leaves or fewer, balanced"
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
