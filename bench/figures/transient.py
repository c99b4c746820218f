"""Pictures of checks: what the model finds as lines, exact values as rings."""

from __future__ import annotations

from collections.abc import Sequence

from bench.figures import marks
from bench.figures.chart import Chart
from bench.figures.page import Page, table
from bench.figures.style import ACCENT, CURVES, INK, SOFT, Picture, finish, new_axes
from bench.physics.transient.checks import Check, CheckCurve, say_checks

# Line styles stand beside the colours, so that the colour is never needed.
_DASHES = tuple(marks.Dash)


def draw_curves(curves: Sequence[CheckCurve], *, x: str, y: str, reads: str, name_at: float = 0.5) -> Chart:
    """Draw curves with the exact values on them.

    Parameters
    ----------
    curves : sequence of CheckCurve
        At most four.
    x, y : str
        Names of the axes, with units.
    reads : str
        The sentence that reads the picture.
    name_at : float
        Where along each curve its name is written, 0 to 1.
    """
    parts: list[marks.Curve | marks.Points] = []
    for number, curve in enumerate(curves):
        color, dash = CURVES[number % len(CURVES)], _DASHES[number % len(_DASHES)]
        place = (name_at, min(0.75, name_at + 0.02), 0.9 - 0.12 * number)
        parts.append(marks.Curve(curve.label, curve.x, curve.y, color, dash, place=place))
        if len(curve.exact_x):
            exact = marks.Points(f"exact, {curve.label}", curve.exact_x, curve.exact_y, INK, marks.Shape.RING)
            parts.append(exact)
    return Chart(marks.Axis(x, digits=3), marks.Axis(y, digits=4), tuple(parts), reads, height=3.0)


def draw_differences(checks: Sequence[Check], *, reads: str) -> Picture:
    """Draw each difference as a share of what is allowed: within the lines it holds.

    Parameters
    ----------
    checks : sequence of Check
    reads : str
    """
    figure, axes = new_axes(7.2, 0.5 + 0.2 * len(checks), margins=(3.4, 0.45, 0.15, 0.05))
    places = list(range(len(checks)))[::-1]
    shares = [(c.found - c.published) / c.allowed for c in checks]
    axes.axvline(0, color=SOFT, linewidth=0.8)
    for side in (-1, 1):
        axes.axvline(side, color=ACCENT, linewidth=1.0, linestyle="--")
    axes.hlines(places, 0, shares, color=SOFT, linewidth=1.0)
    axes.plot(shares, places, "o", color=CURVES[0], markersize=4)
    axes.set_yticks(places, [c.name for c in checks], fontsize=8)
    axes.set_xlim(min(-1.3, *shares), max(1.3, *shares))
    axes.set_ylim(-0.7, len(checks) - 0.3)
    axes.set_xlabel("difference, as a share of what is allowed")
    return finish(figure, reads)


def check_page(checks: Sequence[Check]) -> Page:
    """Show checks as a table with their sources."""
    rows = []
    for c in checks:
        digits = f"{c.found:.5g}"
        verdict = "● holds" if c.holds else "■ does not hold"
        unit = f" {c.unit}" if c.unit else ""
        rows.append(
            (c.name, f"{c.published:g}{unit}", f"{digits}{unit}", f"{c.allowed:g}", verdict, c.source)
        )
    head = ("problem", "published", "found", "allowed", "verdict", "source")
    return Page(table(head, rows), say_checks(checks))
