"""A chart on paper: the quiet drawing of print, of the report and of what a notebook stores."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Polygon
from matplotlib.ticker import NullLocator

from bench.figures.marks import (
    Axis,
    Curve,
    Dash,
    Line,
    Numbers,
    Part,
    Points,
    Region,
    Rule,
    Shape,
    Words,
    reach,
)
from bench.figures.style import (
    INK,
    MARGINS,
    SOFT,
    Picture,
    finish,
    frame_curves,
    new_axes,
    plain_frame,
    point_to_curve,
)

_DASHES: dict[Dash, Any] = {
    Dash.SOLID: "-",
    Dash.DASHED: (0, (5, 2)),
    Dash.DOTTED: (0, (1, 1.2)),
    Dash.DASH_DOTTED: "-.",
}
_RULE_DASHES = {**_DASHES, Dash.DASHED: (0, (4, 3))}
_MARKERS = {
    Shape.DOT: "o",
    Shape.RING: "o",
    Shape.SQUARE: "s",
    Shape.OPEN_SQUARE: "s",
    Shape.DIAMOND: "D",
    Shape.TRIANGLE: "^",
}
_LINE_DASHES = {**_DASHES, Dash.DOTTED: ":"}
_OPEN = (Shape.RING, Shape.OPEN_SQUARE)
_SMALL = 8.5
_GROUND = {"edgecolor": "none", "pad": 0.2, "alpha": 0.7}


def draw_on_paper(
    x: Axis,
    y: Axis,
    parts: Sequence[Part],
    reads: str,
    *,
    height: float,
    margins: tuple[float, float, float, float] | None = None,
    is_to_scale: bool = False,
) -> Picture:
    """Draw what a chart holds as SVG, with the sentence that reads it; sizes in inches."""
    figure, axes = new_axes(height=height, margins=margins or MARGINS)
    for part in parts:
        if isinstance(part, Curve) and part.low is not None and part.high is not None:
            axes.fill_between(part.x, part.low, part.high, color=part.color, alpha=0.16, linewidth=0)
    for part in parts:
        if isinstance(part, Curve):
            _draw_curve(axes, part)
        elif isinstance(part, Points):
            _draw_points(axes, part)
        elif isinstance(part, Region | Line):
            _draw_to_scale(axes, part)
        elif isinstance(part, Words):
            _draw_words(axes, part)
    if y.is_log:
        axes.set_yscale("log")
    axes.set_xlim(x.low, x.high)
    axes.set_ylim(y.low, y.high)
    if is_to_scale:
        axes.set_aspect("equal", anchor="NW")
    for part in parts:
        if isinstance(part, Rule):
            _draw_rule(axes, part)
    for axis, side in ((x, axes.xaxis), (y, axes.yaxis)):
        if axis.ticks:
            side.set_ticks([at for at, _ in axis.ticks], [words for _, words in axis.ticks])
            side.set_minor_locator(NullLocator())
    _frame(axes, x, y)
    return finish(figure, reads)


def _frame(axes: Axes, x: Axis, y: Axis) -> None:
    """Frame curves with lines to read by; what is drawn to scale keeps the words along its sides alone."""
    if not y.is_bare:
        frame_curves(axes, x.title, y.title)
        return
    plain_frame(axes, () if x.is_bare else ("bottom",))
    axes.tick_params(axis="y", length=0, labelcolor=INK)
    axes.tick_params(axis="x", labelcolor=SOFT)
    if not y.ticks:
        axes.set_yticks([])
    if x.is_bare:
        axes.set_xticks([])
    else:
        axes.set_xlabel(x.title)


def _draw_to_scale(axes: Axes, part: Region | Line) -> None:
    if isinstance(part, Line):
        axes.plot(part.x, part.y, color=part.color, linewidth=part.width, linestyle=_LINE_DASHES[part.dash])
        return
    corners = np.column_stack([part.x, part.y])
    edge = part.edge or "none"
    with matplotlib.rc_context({"hatch.linewidth": 0.5}):
        axes.add_patch(
            Polygon(
                corners,
                closed=True,
                facecolor=part.face or "none",
                edgecolor=edge,
                linewidth=part.width,
                linestyle=_LINE_DASHES[part.dash],
                hatch=3 * part.hatch.value or None,
            )
        )


def _draw_words(axes: Axes, part: Words) -> None:
    axes.text(
        part.x,
        part.y,
        part.words,
        color=part.color,
        fontsize=_SMALL,
        ha=part.anchor.value,
        va="center",
        rotation=90 if part.is_upright else 0,
        bbox={**_GROUND, "facecolor": part.ground} if part.ground else None,
    )


def _draw_curve(axes: Axes, curve: Curve) -> None:
    axes.plot(curve.x, curve.y, color=curve.color, linewidth=2, linestyle=_DASHES[curve.dash])
    if not curve.name:
        return
    if curve.place is None:
        _write(axes, (curve.x[-1], curve.y[-1]), curve.name, curve.color, (4, 0), va="center")
        return
    share, across, up = curve.place
    at = curve.x[0] + share * (curve.x[-1] - curve.x[0])
    point = (at, float(np.interp(at, curve.x, curve.y)))
    point_to_curve(axes, point, (across, up), curve.name, curve.color)


def _draw_points(axes: Axes, points: Points) -> None:
    fill: dict[str, Any] = {"markerfacecolor": "none"} if points.shape in _OPEN else {}
    axes.errorbar(
        points.x,
        points.y,
        xerr=_reach(points.x, points.left, points.right),
        yerr=_reach(points.y, points.low, points.high),
        fmt=_MARKERS[points.shape],
        linestyle="-" if points.is_joined else "none",
        linewidth=1,
        color=points.color,
        capsize=3,
        markersize=6,
        clip_on=points.shape is not Shape.TRIANGLE,
        zorder=5,
        **fill,
    )
    for x, y, words in zip(points.x, points.y, points.words, strict=False):
        _write(axes, (x, y), words, INK, (5, 4))


def _reach(middle: Numbers, low: Numbers | None, high: Numbers | None) -> Any:
    return None if low is None or high is None else reach(middle, low, high)


def _draw_rule(axes: Axes, rule: Rule) -> None:
    line = {"color": rule.color, "linewidth": 0.9, "linestyle": _RULE_DASHES[rule.dash]}
    if rule.is_upright:
        axes.axvline(rule.at, **line)
        _write(axes, (rule.at, axes.get_ylim()[0]), rule.words, rule.color, (4, 14))
        return
    axes.axhline(rule.at, **line)
    right = axes.get_xlim()[1]
    axes.text(right, rule.at, rule.words, color=rule.color, fontsize=_SMALL, ha="right", va="bottom")


def _write(
    axes: Axes, point: tuple[float, float], words: str, color: str, offset: tuple[float, float], **how: Any
) -> None:
    axes.annotate(
        words, point, xytext=offset, textcoords="offset points", color=color, fontsize=_SMALL, **how
    )
