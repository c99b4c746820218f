"""How far the staples stand above the text block: reading thickness, and what a reading is worth."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from bench.item import Format
from bench.physics.ranges import as_range
from bench.practice.drawing import Drawn
from bench.practice.markers.places import SHEET_MM
from bench.practice.marking import number_of
from bench.practice.shapes import Question, Reply, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.uncertainty import Measured
from bench.units import Q_, Quantity, say

WRONG = {
    "mean-of-staples": "took the mean of the staples",
    "lower-staple": "took the flatter of the staples",
    "staple-alone": "gave the reading over the staple, with the text block still in it",
}


_FAR_MM = 1.0  # more than that too much, and the block no longer closes: judgement


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
        comes_of=partial(_comes_of, right.value),
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
    return (
        f"The sheets would fill {short:.2f} mm too little, about {short / SHEET_MM:.1f} sheets of copy "
        "paper. The high staple would carry the load and come through the cover."
    )


def _comes_of(right: Quantity, reply: Reply) -> str:
    over = number_of(reply, "mm") - float(right.to("mm").magnitude)
    if over < 0:
        return _say_short(right, right + Q_(over, "mm"))
    if over > _FAR_MM:
        return _TOO_MANY
    return (
        f"The sheets would fill {over:.2f} mm too much, about {over / SHEET_MM:.1f} sheets of copy paper. "
        "The staples are safe, but leaves are bent round sheets that were not needed."
    )


MARKER = Marker(
    question=Question(ReplyKind.NUMBER, "The highest staple stands above the text block by", "thickness"),
    solve=solve,
    wrong=WRONG,
    formats=(Format.SIDE_STAPLED, Format.SADDLE_STITCHED),
)
