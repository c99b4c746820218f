"""Weighings of an item in the chamber beside its predicted gain, before and after they are known."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bench.figures.chart import Chart
from bench.figures.marks import Axis, Curve, Dash, Points, Rule, plain
from bench.figures.page import lead_of, table, verdict_tag
from bench.figures.style import CURVES, SOFT
from bench.physics.ranges import REACH
from bench.treatment.humidity.plan import Moment
from bench.treatment.humidity.words import say_hours, say_humidity
from bench.treatment.weighing.later import BENCH, WEIGHT, Damp
from bench.treatment.weighing.reading import Weighed, say_factor, say_grams

_BEFORE, _AFTER = CURVES[1], CURVES[0]


def draw_weighings(told: Weighed) -> Chart:
    """Draw the gain read, with its 95 %, over the gain predicted before and after weighing.

    With weighings after the chamber the whole time is drawn, its moments marked.
    """
    ends = [told.moments_before[-1].gain.value, told.moments_after[-1].gain.value]
    upper, lower = (0.62, 0.28), (0.42, 0.14)  # in the order of the curves, so that no line crosses a name
    if told.later:
        upper, lower = (0.70, 0.80), (0.70, 0.64)
    before, after = (upper, lower) if ends[0] > ends[1] else (lower, upper)
    first, *rest = told.weighings
    gains = [plain(w.mass - first.mass, "g") for w in rest]
    reach = REACH * math.sqrt(2) * plain(told.doubt, "g")  # a gain is two weighings
    weighed = Points(
        "weighed",
        [plain(w.when, "hour") for w in rest],
        gains,
        low=[gain - reach for gain in gains],
        high=[gain + reach for gain in gains],
    )
    where = "since it went in" if told.later else "in the chamber"
    return Chart(
        Axis(f"hours {where} (points: weighings, bars 95 %)", "h", 0.0, told.moments_before[-1].hours, 1),
        Axis("gain in mass, g", "g", None if told.later else 0.0, digits=2),
        (
            _course("believed before", told.moments_before, _BEFORE, Dash.DASHED, before),
            _course("with what was weighed", told.moments_after, _AFTER, Dash.SOLID, after),
            weighed,
            *(_mark(one) for one in told.damp if one.name not in (WEIGHT, BENCH)),
        ),
        _read(told),
        height=2.9,
    )


def _mark(one: Damp) -> Rule:
    """Mark a moment after the chamber by a line; the rest under weight has no end, the bench is minutes."""
    return Rule(one.when, one.name, SOFT, is_upright=True, dash=Dash.DOTTED)


def _course(
    name: str, moments: Sequence[Moment], color: str, dash: Dash, place: tuple[float, float]
) -> Curve:
    """Describe one course with its band from the start, its name in the empty corner of the paper."""
    gains = [(0.0, 0.0, 0.0), *(moment.gain.floats("g", field="gain") for moment in moments)]
    value, low, high = zip(*gains, strict=True)
    times = (0.0, *(moment.hours for moment in moments))
    return Curve(name, times, value, color, dash, low, high, (0.45, *place))


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
