"""Pictures of checks: what the model finds as lines, exact values as rings."""

from __future__ import annotations

from collections.abc import Sequence

from bench.figures.page import Page, table
from bench.figures.style import ACCENT, CURVES, INK, SOFT, Picture, finish, name_curve, new_axes
from bench.physics.transient.checks import Check, Curve, say_checks

# Line styles stand beside the colours, so that the colour is never needed.
_DASHES = ("-", "--", "-.", ":")


def draw_curves(curves: Sequence[Curve], *, x: str, y: str, reads: str, name_at: float = 0.5) -> Picture:
    """Draw curves with the exact values on them.

    Parameters
    ----------
    curves : sequence of Curve
        At most four.
    x, y : str
        Names of the axes, with units.
    reads : str
        The sentence that reads the picture.
    name_at : float
        Where along each curve its name is written, 0 to 1.
    """
    figure, axes = new_axes(7.2, 3.0)
    for number, curve in enumerate(curves):
        colour = CURVES[number % len(CURVES)]
        axes.plot(curve.x, curve.y, _DASHES[number % 4], color=colour, linewidth=1.6)
        axes.plot(curve.exact_x, curve.exact_y, "o", color=INK, markersize=4, markerfacecolor="none")
        where = curve.x[0] + name_at * (curve.x[-1] - curve.x[0])
        index = int(abs(curve.x - where).argmin())
        name_curve(axes, float(curve.x[index]), float(curve.y[index]), curve.label, colour)
    axes.set_xlabel(x)
    axes.set_ylabel(y)
    return finish(figure, reads)


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
