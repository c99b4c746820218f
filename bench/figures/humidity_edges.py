"""The humidity of the middle leaf from spine to fore edge, at some hours in the chamber."""

from __future__ import annotations

from bench.figures.style import CURVES, MARGINS, Picture, finish, frame_curves, new_axes
from bench.treatment.humidity_edges import say_edges
from bench.treatment.humidity_plan import EdgeProfile


def draw_edges(profiles: tuple[EdgeProfile, ...]) -> Picture | None:
    """Draw the middle leaf along its width, one curve a time; None without profiles."""
    if not profiles:
        return None
    figure, axes = new_axes(height=2.3, margins=MARGINS)
    width = float(profiles[0].from_spine[-1])
    lowest = min(float(profile.humidity[0]) for profile in profiles)
    for profile, color, dash in zip(profiles, CURVES, ("solid", (0, (5, 2)), (0, (1, 1.2))), strict=False):
        axes.plot(profile.from_spine, profile.humidity, color=color, linewidth=2, linestyle=dash)
        axes.annotate(
            f"after {profile.hours:.2g} h",
            (0.02 * width, float(profile.humidity[0])),
            xytext=(0, 3),
            textcoords="offset points",
            color=color,
            fontsize=8.5,
        )
    axes.set_xlim(0, width)
    axes.set_ylim(max(0.0, lowest - 5), 101)
    frame_curves(axes, "from the spine to the fore edge, mm", "middle leaf, % RH")
    return finish(figure, say_edges(profiles))
