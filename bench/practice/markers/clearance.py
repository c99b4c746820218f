"""How far the staples stand above the text block: reading thickness, and what a reading is worth."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bench.physics.ranges import as_range
from bench.practice.drawing import Drawn
from bench.practice.shapes import Question, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.uncertainty import Measured
from bench.units import Q_, Quantity, say

WRONG = {
    "mean-of-staples": "took the mean of the staples",
    "lower-staple": "took the staple that stands lower",
    "staple-alone": "gave the reading over the staple, with the text block still in it",
}


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Work out by how much the highest staple stands above the text block, from the readings."""
    block = drawn.measure("text block")
    over = {staple.name: drawn.measure(f"{staple.name} staple") for staple in drawn.item.staples}
    rises = {name: read - block for name, read in over.items()}
    highest = max(rises, key=lambda name: float(rises[name].value.magnitude))
    lowest = min(rises, key=lambda name: float(rises[name].value.magnitude))
    right = rises[highest]
    low = rises[lowest].value
    mean = Q_(sum(_mm(each) for each in rises.values()) / len(rises), "mm")
    look = [(f"readings, {place}", drawn.say_read(place)) for place in drawn.read_mm]
    return Solution(
        right=right.value,
        holds=as_range(right),
        wrong=(
            WrongWay("mean-of-staples", mean, _say_short(right.value, mean)),
            WrongWay("lower-staple", low, _say_short(right.value, low)),
            WrongWay("staple-alone", over[highest].value, _TOO_MANY),
        ),
        look=(*drawn.look, *look, ("instrument", "hand caliper, to 0.01 mm, its maker allows ± 0.02 mm")),
        steps=(
            f"The mean of the five readings over the text block is {_say_mm(block.value)}.",
            *(f"Over the {name} staple the mean is {_say_mm(read.value)}." for name, read in over.items()),
            f"The {highest} staple stands higher: it will meet the board first, so it alone decides.",
            f"{_say_mm(over[highest].value)} less {_say_mm(block.value)} is "
            f"{say(right.value, 'mm', uncertainty=right.expanded())} (95 %).",
        ),
        facts={
            "highest": highest,
            "rise": say(right.value, "mm", uncertainty=right.expanded()),
            "doubt": _say_mm(right.expanded()),
        },
    )


def _say_mm(length: Quantity) -> str:
    return f"{float(length.to('mm').magnitude):.2f} mm"


def _mm(measured: Measured) -> float:
    return float(measured.value.to("mm").magnitude)


_TOO_MANY = (
    "With such a number the block would be filled until it no longer closes: leaves bulge, and the binding "
    "is wrenched instead of crushed."
)


def _say_short(right: Quantity, taken: Quantity) -> str:
    short = float((right - taken).to("mm").magnitude)
    sheets = short / 0.12
    return (
        f"The sheets would fill {short:.2f} mm too little, about {sheets:.1f} sheets of copy paper. The high "
        "staple would carry the load and come through the cover."
    )


MARKER = Marker(
    question=Question(ReplyKind.NUMBER, "The highest staple stands above the text block by", "thickness"),
    solve=solve,
    wrong=WRONG,
)
