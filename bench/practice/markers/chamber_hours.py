"""How long in the chamber, until the innermost leaf is damp enough: nearly the square of the pile."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import Any

import numpy as np

from bench.item import Answer, Format, Item, Thicknesses
from bench.physics.ranges import Range
from bench.physics.transient import hours_until
from bench.practice.drawing import Drawn
from bench.practice.marking import number_of
from bench.practice.settings import MarkerSetting, with_usual
from bench.practice.shapes import Question, Reply, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.treatment.humidity.plan import HumidityChoices
from bench.treatment.humidity.uptake import set_up
from bench.treatment.prediction import follow
from bench.uncertainty import Measured
from bench.units import Q_, Quantity

WRONG = {
    "outer-leaves": "took the time of the outer leaves, and the innermost one decides",
    "a-day": "took a day because it is always a day",
    "in-proportion": "took twice the time for twice the leaves",
}
_A_DAY = 24.0
_SHORT = 0.71  # of the likely hours: beneath it an answer lies outside most intervals
_KEPT = 256  # items that were followed: a class and its tests ask for the same ones again
_TRIES = 6  # chambers drawn for an item
_USUAL_SPREAD = (1.2, 1.08)
"""Factors to which weighings tell how easily vapour passes a paper, and how much it holds: judgement."""


SETTINGS = (
    MarkerSetting(
        "transport_known_to",
        "factor to which it is known how easily vapour passes the paper",
        _USUAL_SPREAD[0],
        1.05,
        1.3,
    ),
    MarkerSetting(
        "water_known_to",
        "factor to which it is known how much water the paper holds",
        _USUAL_SPREAD[1],
        1.01,
        1.1,
    ),
)


@dataclass(frozen=True)
class ToChamber:
    """An item and its chamber, ready to be planned."""

    item: Item
    thicknesses: Thicknesses
    choices: HumidityChoices


def draw_chamber(rng: np.random.Generator, spreads: tuple[float, float] = _USUAL_SPREAD) -> HumidityChoices:
    """Draw a chamber of a bench that has weighed items of this paper in it before."""
    ratio, scale = float(rng.uniform(0.03, 0.055)), float(rng.uniform(0.92, 1.08))
    return HumidityChoices(
        is_fanned=bool(rng.random() < 0.5),
        air_temperature=Q_(float(rng.integers(18, 24)), "degC"),
        start_humidity=Q_(float(rng.integers(44, 55)), "percent"),
        wanted_humidity=Q_(float(rng.choice((80.0, 85.0))), "percent"),
        transport_ratio=_around(ratio, spreads[0]),
        isotherm_scale=_around(scale, spreads[1]),
        weighed="an earlier number",
    )


def _around(value: float, factor: float) -> Range:
    return Range.of((value, value / factor, value * factor), "")


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Work out the hours of the middle leaf; an item of half the leaves was weighed in the same chamber."""
    own = with_usual(SETTINGS, settings)
    spreads = (float(own["transport_known_to"]), float(own["water_known_to"]))
    half = drawn.item.leaves // 2
    item = replace(drawn.item, leaves=2 * half, cover_paper="uncoated cover", cover_coated=Answer.NO)
    block = drawn.thicknesses.text_block.times(2 * half / drawn.item.leaves)
    choices, earlier = _draw_telling(item, block, drawn, spreads)
    right, first = _follow(item, block, choices)
    hours = float(right.value.magnitude)
    thick = float(block.value.to("mm").magnitude)
    return Solution(
        right=right.value,
        holds=right,
        wrong=(
            WrongWay("outer-leaves", Q_(first, "hour"), _say_outer(choices, hours, first)),
            WrongWay("a-day", Q_(_A_DAY, "hour"), _say_off(hours, _A_DAY)),
            WrongWay("in-proportion", Q_(2 * earlier, "hour"), _say_proportion(hours, 2 * earlier)),
        ),
        comes_of=partial(_comes_of, hours),
        look=(
            *replace(drawn, item=item).look,
            ("leaves", f"{item.leaves}"),
            ("text block", f"{thick:.1f} mm"),
            ("chamber", f"over potassium sulphate, {_say_fan(choices)}, on a rack, both faces free"),
            ("leaves now", f"{choices.start_humidity.magnitude:.0f} % RH"),
            ("wanted of every leaf", f"{choices.wanted:.0f} % RH"),
            (
                "an earlier number of the same title",
                f"{half} leaves: its middle leaf came to {choices.wanted:.0f} % in "
                f"{_say_hours(earlier)}, by weighing",
            ),
        ),
        steps=(
            f"The first leaf is there in {_say_hours(first)}. The middle one is reached last, from both "
            "faces, and it decides.",
            f"The earlier number had {half} leaves and took {_say_hours(earlier)}. This one has "
            f"{item.leaves}: twice the way, and twice the water to bring in.",
            f"Both together are the square: 2 times 2 is 4, so about {_say_hours(4 * earlier)}.",
            "Cover and still air are as thick as before, and of their part the time only grows with the "
            "leaves: somewhat less than the square.",
            f"Followed leaf by leaf it is {right.say('hour')}.",
        ),
        facts={
            "leaves": f"{item.leaves}",
            "half": f"{half}",
            "hours": right.say("hour"),
            "earlier": _say_hours(earlier),
            "times": f"{hours / earlier:.1f}",
            "wanted": f"{choices.wanted:.0f} %",
        },
        plan=ToChamber(item, Thicknesses(text_block=block), replace(choices, planned=_planned(hours))),
    )


def _draw_telling(
    item: Item, block: Measured, drawn: Drawn, spreads: tuple[float, float]
) -> tuple[HumidityChoices, float]:
    """Draw chambers until a day, and twice the time, would be wrong; with the hours of half the leaves."""
    for _ in range(_TRIES):
        choices = replace(draw_chamber(drawn.rng, spreads), measured=drawn.measured)
        half = replace(item, leaves=item.leaves // 2)
        earlier = round(_likely_hours(half, block.times(0.5), choices), 1)  # as it is told
        likely = _likely_hours(item, block, choices)
        if 2 * earlier < _SHORT * likely and not _SHORT * likely < _A_DAY < likely / _SHORT:
            break
    return choices, earlier


@lru_cache(maxsize=_KEPT)
def _follow(item: Item, block: Measured, choices: HumidityChoices) -> tuple[Range, float]:
    """Give the hours of the leaf that comes last, and of the first; kept, it is dear."""
    setting = set_up(item, Thicknesses(text_block=block), choices)
    right, _ = setting.hours_to_wanted(setting.place)
    outer = hours_until(setting.likely, choices.wanted_humidity, place="first leaf")
    assert right is not None  # potassium sulphate holds more than is ever wanted here
    assert outer is not None
    return right, float(outer.magnitude)


@lru_cache(maxsize=4 * _KEPT)
def _likely_hours(item: Item, block: Measured, choices: HumidityChoices) -> float:
    """Give the likely hours of the leaf that comes last: one run, where an interval takes eleven."""
    setting = set_up(item, Thicknesses(text_block=block), choices)
    found = hours_until(follow(setting.course), setting.choices.wanted_humidity, place=setting.place)
    assert found is not None
    return float(found.magnitude)


def _planned(hours: float) -> Quantity:
    return Q_(max(0.5, round(hours, 1)), "hour")


def _say_hours(hours: float) -> str:
    return f"{hours:.1f} h" if hours < 10 else f"{hours:.0f} h"


def _say_fan(choices: HumidityChoices) -> str:
    return "a small fan stirs the air" if choices.is_fanned else "the air is still"


def _say_outer(choices: HumidityChoices, hours: float, first: float) -> str:
    return (
        f"After {_say_hours(first)} the outer leaves are soft and the middle is as stiff as it went in: it "
        f"needs {_say_hours(hours)}. Pressed so, creases inside crack instead of easing."
    )


def _comes_of(hours: float, reply: Reply) -> str:
    return _say_off(hours, number_of(reply, "hour"))


def _say_off(hours: float, taken: float) -> str:
    """Say what comes of it who leaves the item in the chamber for another time than it needs."""
    if hours < taken:
        return (
            f"{_say_hours(taken - hours)} longer than it needs: hours near saturation for nothing, in which "
            "staples rust, mould gains on you, and outer leaves grow slack."
        )
    return (
        f"After {_say_hours(taken)} the middle still lacks {_say_hours(hours - taken)}. You would press a "
        "stiff middle between soft leaves, and its creases crack."
    )


def _say_proportion(hours: float, taken: float) -> str:
    return (
        f"You would take it out {_say_hours(hours - taken)} too early: the damp has twice as far to go and "
        "twice as much to bring. The middle is still stiff when the board comes down."
    )


MARKER = Marker(
    question=Question(ReplyKind.NUMBER, "The innermost leaf is damp enough after", "hour"),
    solve=solve,
    wrong=WRONG,
    picture="chamber-hours",
    settings=SETTINGS,
    formats=(Format.SIDE_STAPLED, Format.GLUED),  # half of the leaves are a block of their own
)
