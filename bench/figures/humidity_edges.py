"""The humidity of the middle leaf from spine to fore edge, at some hours in the chamber."""

from __future__ import annotations

import numpy as np

from bench.figures.chart import Chart
from bench.figures.marks import Axis, Curve, Dash
from bench.figures.style import CURVES
from bench.treatment.humidity.edges import Floats, say_edges
from bench.treatment.humidity.plan import EdgeProfile

_BEND_MM, _EVERY = 25.0, 5  # width along the fore edge that is drawn in full; of the rest every fifth place


def _thin_out(profile: EdgeProfile) -> tuple[Floats, Floats]:
    """Leave out most places where the curve hardly bends, far from the fore edge."""
    place = profile.from_spine
    number = np.arange(len(place))
    kept = (place > place[-1] - _BEND_MM) | (number % _EVERY == 0)
    return place[kept], profile.humidity[kept]


def draw_edges(profiles: tuple[EdgeProfile, ...]) -> Chart | None:
    """Draw the middle leaf along its width, one curve a time; None without profiles."""
    if not profiles:
        return None
    lowest = min(float(profile.humidity[0]) for profile in profiles)
    curves = tuple(
        Curve(
            f"after {profile.hours:.2g} h",
            *_thin_out(profile),
            color,
            dash,
            place=(0.3, 0.03 + 0.15 * number, 0.12),
        )
        for number, (profile, color, dash) in enumerate(zip(profiles, CURVES, Dash, strict=False))
    )
    return Chart(
        Axis("from the spine to the fore edge, mm", "mm", 0.0, float(profiles[0].from_spine[-1])),
        Axis("middle leaf, % RH", "% RH", max(0.0, lowest - 5), 101.0),
        curves,
        say_edges(profiles),
        height=2.3,
    )
