"""Weighings of an item in the chamber beside its predicted gain, before and after they are known."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from bench.figures.page import lead_of, table, verdict_tag
from bench.figures.style import (
    CURVES,
    INK,
    LINE,
    MARGINS,
    SOFT,
    Picture,
    finish,
    frame_curves,
    new_axes,
    point_to_curve,
)
from bench.treatment.humidity_plan import Moment
from bench.treatment.humidity_words import say_hours, say_humidity
from bench.treatment.weighing import Weighed, say_factor, say_grams
from bench.treatment.weighing_later import BENCH, WEIGHT, Damp

_BEFORE, _AFTER = CURVES[1], CURVES[0]
_COVERAGE = 1.96  # standard uncertainties to either side, 95 %


def draw_weighings(told: Weighed) -> Picture:
    """Draw the gain read, with its 95 %, over the gain predicted before and after weighing.

    With weighings after the chamber the whole time is drawn, its moments marked.
    """
    figure, axes = new_axes(height=2.9, margins=MARGINS)
    ends = [told.moments_before[-1].gain.value, told.moments_after[-1].gain.value]
    upper, lower = (0.62, 0.28), (0.42, 0.14)  # in the order of the curves, so that no line crosses a name
    if told.later:
        upper, lower = (0.70, 0.80), (0.70, 0.64)
    before, after = (upper, lower) if ends[0] > ends[1] else (lower, upper)
    _course(axes, told.moments_before, _BEFORE, (0, (5, 2)), "believed before", before)
    _course(axes, told.moments_after, _AFTER, "solid", "with what was weighed", after)
    times = [float(w.when.to("hour").magnitude) for w in told.weighings]
    masses = np.array([float(w.mass.to("g").magnitude) for w in told.weighings])
    reach = _COVERAGE * np.sqrt(2) * float(told.doubt.to("g").magnitude)  # a gain is two weighings
    axes.errorbar(
        times[1:], masses[1:] - masses[0], yerr=reach, fmt="o", color=INK, markersize=5, capsize=3, zorder=5
    )
    axes.set_xlim(0, told.moments_before[-1].hours)
    axes.set_ylim(bottom=min(0.0, float(axes.get_ylim()[0])) if told.later else 0)
    for one in told.damp:
        _mark(axes, one)
    where = "since it went in" if told.later else "in the chamber"
    frame_curves(axes, f"hours {where} (points: weighings, bars 95 %)", "gain in mass, g")
    return finish(figure, _read(told))


def _mark(axes: Axes, one: Damp) -> None:
    """Mark a moment after the chamber by a line, its name along it."""
    if one.name in (WEIGHT, BENCH):  # the one has no end, the other follows within minutes
        return
    axes.axvline(one.when, color=LINE, linewidth=1, zorder=0)
    top = axes.get_xaxis_transform()
    axes.text(
        one.when,
        0.98,
        one.name,
        transform=top,
        rotation=90,
        va="top",
        ha="right",
        fontsize=7,
        color=SOFT,
    )


def _course(
    axes: Axes, moments: Sequence[Moment], color: str, dash: Any, words: str, place: tuple[float, float]
) -> None:
    """Draw one course with its band from the start, its name in the empty corner."""
    times = np.array([0.0, *(moment.hours for moment in moments)])
    gains = np.array([(0.0, 0.0, 0.0), *(moment.gain.floats("g", field="gain") for moment in moments)])
    axes.fill_between(times, gains[:, 1], gains[:, 2], color=color, alpha=0.16, linewidth=0)
    axes.plot(times, gains[:, 0], color=color, linewidth=2, linestyle=dash)
    at = 0.45 * float(times[-1])
    point_to_curve(axes, (at, float(np.interp(at, times, gains[:, 0]))), place, words, color)


def _read(told: Weighed) -> str:
    before, after = say_grams(told.off_before), say_grams(told.off_after)
    ends = "runs through the points" if told.is_explained else "misses the points even so"
    return (
        f"Dashed, the gain believed before the item was weighed: off by {before} on average. Solid, with "
        f"what the weighings say: off by {after}; it {ends}. Bands: 95 % of what is believable."
    )


def weighed_lead(told: Weighed) -> str:
    """Write the opening: verdict, what was found and what to do now, against what was believed."""
    tag = verdict_tag(told.verdict, "Learned" if told.is_explained else "Not explained")
    return lead_of(tag, told.answer, told.because)


def weighed_table(told: Weighed) -> str:
    """Write what was believed beside what was found."""
    waits = ["never" if h is None else say_hours(h) for h in (told.hours_before, told.hours_after)]
    ratio = [say_factor(found) for found in (told.believed, told.fit.transport_ratio)]
    scale = [say_factor(found) for found in (told.believed_scale, told.fit.isotherm_scale)]
    rows = [
        ("vapour passes the pile, against still air", *ratio),
        ("water held, against the published isotherm", *scale),
        ("hours until the innermost leaf is damp enough", *waits),
        ("gain off, on average", say_grams(told.off_before), say_grams(told.off_after)),
    ]
    rows += [_damp_row(one) for one in told.damp]
    return table(("", "believed before", "now"), rows, words=True)


def _damp_row(one: Damp) -> tuple[str, str, str]:
    name = f"mean humidity {one.moment}{'' if one.is_weighed else ', not weighed then'}"
    return name, say_humidity(one.before), say_humidity(one.now)
