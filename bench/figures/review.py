"""Before and after: defects, planned beside measured, and how the size changed.

Open marks are before or planned, filled ones after or measured, so that a grey print says the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes

from bench.figures.chart import Chart
from bench.figures.marks import Axis, Dash, Points, Rule
from bench.figures.said import say_compared
from bench.figures.style import CURVES, INK, LINE, SOFT, STOP, Picture, finish, new_axes, plain_frame
from bench.treatment.comparison import SEVERITIES, Agreement, Comparison, DefectCourse, EdgeChange
from bench.uncertainty import Measured
from bench.units import MILLIMETRES, Quantity, UnitChoice, say, unit_label

_BEFORE, _AFTER = CURVES[0], CURVES[1]


def _say_nothing(words: str) -> Picture:
    """Give an empty frame that says why it is empty."""
    figure, axes = new_axes(height=0.5)
    axes.text(0.5, 0.5, words, ha="center", va="center", color=SOFT, transform=axes.transAxes)
    axes.set_axis_off()
    return finish(figure, words)


def draw_defects(courses: Sequence[DefectCourse]) -> Picture:
    """Draw every defect as a line from its grade before treatment to the last one seen.

    Parameters
    ----------
    courses : sequence of DefectCourse
        Those only seen once are marked *not looked at again*.
    """
    if not courses:
        return _say_nothing(_read_defects(courses))
    figure, axes = new_axes(height=0.9 + 0.42 * len(courses))
    for row, course in enumerate(courses):
        _draw_course(axes, row, course)
    axes.set_yticks(range(len(courses)), [_shorten(course.name) for course in courses])
    axes.set_xticks(range(4), [f"{grade} {word}" for grade, word in enumerate(SEVERITIES)])
    axes.set_xlim(-0.35, 3.35)
    axes.set_ylim(len(courses) - 0.4, -0.8)
    plain_frame(axes, ("bottom",))
    axes.grid(True, axis="x", color=LINE, linewidth=0.6)
    axes.tick_params(axis="y", length=0, labelcolor=INK)
    axes.tick_params(axis="x", labelcolor=SOFT)
    return finish(figure, _read_defects(courses))


def _draw_course(axes: Axes, row: int, course: DefectCourse) -> None:
    first, last = course.before.severity, course.last.severity
    axes.plot(first, row, "o", markersize=9, markerfacecolor="white", markeredgecolor=_BEFORE, zorder=3)
    if len(course.sightings) == 1:
        _say_beside(axes, first, row, "not looked at again")
        return
    if first != last:
        arrow = {"arrowstyle": "-|>", "color": SOFT, "shrinkA": 6, "shrinkB": 6, "linewidth": 1.2}
        axes.annotate("", (last, row), xytext=(first, row), arrowprops=arrow, zorder=2)
    axes.plot(last, row, "o", markersize=6, color=_AFTER, zorder=4)
    word = "no change" if first == last else ("better" if last < first else "worse")
    middle = (first + last) / 2
    axes.annotate(
        word,
        (middle if first != last else first, row),
        xytext=(0, 5) if first != last else (9, 0),
        textcoords="offset points",
        ha="center" if first != last else "left",
        va="bottom" if first != last else "center",
        fontsize=8,
        color=STOP if word == "worse" else SOFT,
    )


def _say_beside(axes: Axes, x: float, row: int, words: str) -> None:
    axes.annotate(
        words, (x, row), xytext=(9, 0), textcoords="offset points", va="center", fontsize=8, color=SOFT
    )


def _shorten(text: str, most: int = 44) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip(" ,") + "…"


def _read_defects(courses: Sequence[DefectCourse]) -> str:
    if not courses:
        return "No defects are listed."
    seen = [c for c in courses if len(c.sightings) > 1]
    better = sum(c.last.severity < c.before.severity for c in seen)
    worse = sum(c.last.severity > c.before.severity for c in seen)
    same = len(seen) - better - worse
    words = f"Open ring before, filled dot after: {better} better, {same} unchanged, {worse} worse"
    unseen = len(courses) - len(seen)
    return words + (f", {unseen} not looked at again." if unseen else ".")


def draw_planned_beside_measured(
    comparisons: Sequence[Comparison], units: UnitChoice = MILLIMETRES
) -> Picture:
    """Draw what was measured against what was planned, each row on its own scale.

    The planned value stands on the middle line; a bar is the expanded uncertainty (about 95 %).
    """
    if not comparisons:
        return _say_nothing(_read_comparisons(comparisons))
    figure, axes = new_axes(height=0.55 + 0.62 * len(comparisons))
    axes.vlines(0, -0.5, len(comparisons) - 0.5, color=LINE, linewidth=1)
    for row, comparison in enumerate(comparisons):
        _draw_comparison(axes, row, comparison, units)
    axes.set_yticks(range(len(comparisons)), [_shorten(c.name, 34) for c in comparisons])
    axes.set_xticks([])
    axes.set_xlim(-1.15, 4.6)
    axes.set_ylim(len(comparisons) - 0.5, -0.75)
    axes.text(0, -0.62, "planned", ha="center", color=SOFT, fontsize=8)
    plain_frame(axes, ())
    axes.tick_params(axis="y", length=0, labelcolor=INK)
    return finish(figure, _read_comparisons(comparisons))


def _draw_comparison(axes: Axes, row: int, comparison: Comparison, units: UnitChoice) -> None:
    planned_spread = 0.0
    if comparison.planned.uncertainty is not None:
        planned_spread = _in_difference(comparison, comparison.planned.uncertainty)
    measured_spread = _in_difference(comparison, comparison.measured.expanded())
    value = float(comparison.difference.value.magnitude)
    scale = max(planned_spread, abs(value) + measured_spread, 1e-12)
    common: dict[str, Any] = {"capsize": 3, "linewidth": 1.3, "zorder": 3}
    axes.errorbar(
        0,
        row - 0.14,
        xerr=planned_spread / scale,
        fmt="s",
        markersize=7,
        markerfacecolor="white",
        color=_BEFORE,
        **common,
    )
    axes.errorbar(
        value / scale, row + 0.14, xerr=measured_spread / scale, fmt="o", markersize=6, color=_AFTER, **common
    )
    planned, measured, _ = say_compared(comparison, units)
    words = f"planned {planned}\nmeasured {measured}"
    axes.text(1.25, row, words, va="center", fontsize=8.5, linespacing=1.35)
    wrong = comparison.agreement.is_off
    axes.text(
        4.55,
        row,
        comparison.agreement.value,
        va="center",
        ha="right",
        fontsize=9,
        fontweight="bold" if wrong else "normal",
        color=STOP if wrong else INK,
    )


def _in_difference(comparison: Comparison, spread: Quantity) -> float:
    """Give a spread in the unit of the difference; a temperature's is in kelvin already."""
    unit = str(comparison.difference.value.units)
    return float(spread.to(unit).magnitude)


def _read_comparisons(comparisons: Sequence[Comparison]) -> str:
    if not comparisons:
        return "Nothing that was planned was measured."
    off = [f"{c.name} is {c.agreement}" for c in comparisons if c.agreement.is_off]
    agree = sum(c.agreement is Agreement.AGREES for c in comparisons)
    words = f"{agree} of {len(comparisons)} agree within the uncertainty of both"
    return words + (f"; {', '.join(off)}." if off else ".")


def draw_size_changes(
    sizes: Sequence[EdgeChange],
    units: UnitChoice = MILLIMETRES,
    *,
    growth_limit: Quantity,
    shortening_limit: Quantity,
) -> Chart | Picture:
    """Draw how much every edge grew or shrank, with the limits of the rules."""
    if not sizes:
        return _say_nothing(_read_sizes(sizes, units))
    values, spreads = zip(*(_percent(size.relative) for size in sizes), strict=True)
    limits = [
        Rule(at, f"limit {at:+g} %".replace("-", "−"), STOP, is_upright=True, dash=Dash.DASHED)
        for at in (
            float(growth_limit.to("percent").magnitude),
            -float(shortening_limit.to("percent").magnitude),
        )
    ]
    changes = Points(
        "change",
        values,
        [float(row) for row in range(len(sizes))],
        _AFTER,
        left=[value - spread for value, spread in zip(values, spreads, strict=True)],
        right=[value + spread for value, spread in zip(values, spreads, strict=True)],
    )
    ticks = tuple((float(row), size.name) for row, size in enumerate(sizes))
    ends = [abs(value) + spread for value, spread in zip(values, spreads, strict=True)]
    reach = 1.15 * max(*ends, *(abs(rule.at) for rule in limits))
    return Chart(
        Axis(f"change of size, {unit_label('percent')} (above zero is growth)", "%", -reach, reach, 2),
        Axis("edge", low=-0.6, high=len(sizes) - 0.4, ticks=ticks),
        (changes, *limits, Rule(0.0, is_upright=True)),
        _read_sizes(sizes, units),
        height=1.0 + 0.4 * len(sizes),
        margins=(1.3, 0.5, 0.15, 0.12),
    )


def _percent(change: Measured) -> tuple[float, float]:
    return float(change.value.to("percent").magnitude), float(change.expanded().to("percent").magnitude)


def _read_sizes(sizes: Sequence[EdgeChange], units: UnitChoice) -> str:
    if not sizes:
        return "Width and height were not read at one place before and after."
    most = max(sizes, key=lambda s: abs(_percent(s.relative)[0]))
    change = say(most.relative.value, "percent", uncertainty=most.relative.expanded())
    unit = "mm" if units.long_length == "mm" else "thou"
    length = say(most.change.value, unit, uncertainty=most.change.expanded())
    return f"The largest change is that of the {most.name}: {change}, or {length}."
