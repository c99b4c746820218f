"""How warm the far leaf is when the heat goes off: not the display, not the mean, not the end of it all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import Any

import numpy as np

from bench.item import Item, Thicknesses
from bench.physics.ranges import Range
from bench.practice.drawing import Drawn
from bench.practice.marking import number_of
from bench.practice.shapes import Question, Reply, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.treatment.pressing.heat import slowest_after_dwell, slowest_when_it_stands
from bench.treatment.pressing.plan import PressingChoices
from bench.treatment.pressing.run import set_up
from bench.uncertainty import Measured
from bench.units import Q_

WRONG = {
    "display": "read the display of the platen as the temperature of the leaves",
    "mean": "took the mean of platen and room",
    "in-the-end": "gave what the far leaf comes to after hours, and the heat goes off sooner",
}
_SHARE = (0.10, 0.20)  # of the time in which the far leaf comes to rest: 3 to 10 min
_KEPT = 256  # items that were followed: a class and its tests ask for the same ones again
_FIRST_MIN, _EACH_MIN = 15.0, 0.38  # that time in minutes, about, as the model has it; only to draw a dwell


@dataclass(frozen=True)
class ToPress:
    """An item and its press, ready to be planned."""

    item: Item
    thicknesses: Thicknesses
    choices: PressingChoices


def draw_press(rng: np.random.Generator, leaves: int) -> PressingChoices:
    """Draw a press that is heated from above, and a dwell in which the far leaf does not come to rest."""
    minutes = float(rng.uniform(*_SHARE)) * (_FIRST_MIN + _EACH_MIN * leaves)
    load = float(rng.integers(10, 31))
    humidity = float(rng.integers(78, 88))
    return PressingChoices(
        load=Range.of((load, 0.8 * load, 1.2 * load), "kPa"),
        item_humidity=Range.of((humidity, humidity - 3, humidity + 3), "percent"),
        platen_temperature=Q_(float(rng.integers(52, 66)), "degC"),
        room_temperature=Q_(float(rng.integers(17, 24)), "degC"),
        dwell=Q_(30.0 * round(2 * minutes), "s"),
        boards=int(rng.integers(1, 3)),
        heated="one",
        base="open",
    )


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Follow the heat to the end of the dwell, through boards and leaves, from the platen above."""
    choices = replace(draw_press(drawn.rng, drawn.item.leaves), measured=drawn.measured)
    thicknesses = Thicknesses(text_block=drawn.measure("text block"))
    right, final, half = _follow(drawn.item, thicknesses.text_block, choices)
    platen, room = _celsius(choices)
    mean, leaf = (platen + room) / 2, float(right.value.magnitude)
    thick = float(thicknesses.text_block.value.to("mm").magnitude)
    minutes = float(choices.dwell.to("min").magnitude)
    share = (leaf - room) / (final - room)
    return Solution(
        right=right.value,
        holds=right,
        wrong=(
            WrongWay("display", Q_(platen, "degC"), _say_display(platen, leaf)),
            WrongWay("mean", Q_(mean, "degC"), _say_mean(mean, leaf)),
            WrongWay("in-the-end", Q_(final, "degC"), _say_final(final, leaf, minutes)),
        ),
        comes_of=partial(_comes_of, leaf, (room, platen)),
        look=(
            *drawn.look,
            ("text block", f"{thick:.1f} mm, {drawn.item.leaves} leaves, an interleaf after every 6"),
            ("platen above", f"its display holds {platen:.0f} °C"),
            ("room, boards and base", f"{room:.0f} °C"),
            ("between platen and item", f"{say_boards(choices)}, a card, a release sheet; the same beneath"),
            ("far side", "an aluminium plate on the bench"),
            (
                "a scrap block as thick, in this press before",
                f"a thermocouple at its far leaf came to {final:.0f} °C in the end, and half of the way "
                f"there after {half:.1f} min",
            ),
            ("dwell now", f"{minutes:.1f} min, then the heat goes off"),
        ),
        steps=(
            f"The display tells of the platen: {platen:.0f} °C. Between it and the far leaf lie boards and "
            f"{thick:.1f} mm of paper, which hold heat back about as wood does.",
            "Beneath, the bench takes heat away all the time. After hours the far leaf would come to "
            f"{final:.0f} °C, never to {platen:.0f} °C.",
            f"Half of the way takes {half:.1f} min, half of the rest as long again, and so on.",
            f"In {minutes:.1f} min the far leaf makes about {100 * share:.0f} % of the way from {room:.0f} "
            f"to {final:.0f} °C.",
            f"It stands at {right.say('degC')} when the heat goes off.",
        ),
        facts={
            "platen": f"{platen:.0f} °C",
            "leaf": right.say("degC"),
            "final": f"{final:.0f} °C",
            "minutes": f"{minutes:.1f} min",
        },
        plan=ToPress(drawn.item, thicknesses, choices),
    )


@lru_cache(maxsize=_KEPT)
def _follow(item: Item, block: Measured, choices: PressingChoices) -> tuple[Range, float, float]:
    """Give the far leaf at the end of the dwell, in °C what it comes to at last, and minutes to half of that.

    What was followed is kept: it is dear.
    """
    run = set_up(item, Thicknesses(text_block=block), choices)
    final, half = slowest_when_it_stands(run)
    return slowest_after_dwell(run), float(final.magnitude), float(half.magnitude)


def _celsius(choices: PressingChoices) -> tuple[float, float]:
    assert choices.platen_temperature is not None  # a warm press is drawn
    platen, room = choices.platen_temperature.to("degC"), choices.room_temperature.to("degC")
    return float(platen.magnitude), float(room.magnitude)


def say_boards(choices: PressingChoices) -> str:
    """Write how many boards lie on each side of the item."""
    return "one board" if choices.boards == 1 else f"{choices.boards} boards"


def _comes_of(leaf: float, ends: tuple[float, float], reply: Reply) -> str:
    taken, (room, platen) = number_of(reply, "degC"), ends
    if not room <= taken <= platen:
        return (
            f"Nothing in this press can be at {taken:.0f} °C: it lies between the room's {room:.0f} °C and "
            f"the platen's {platen:.0f} °C."
        )
    if taken > leaf:
        return _say_display(taken, leaf)
    return (
        f"The far leaf is {leaf - taken:.0f} K warmer than you think. You would keep the heat on longer for "
        "nothing, and the leaves at the platen dry out and age meanwhile."
    )


def _say_display(platen: float, leaf: float) -> str:
    return (
        f"You count on {platen:.0f} °C where the far leaf has {leaf:.0f} °C. Half the block was pressed "
        "nearly cold: its creases come back, and you blame the damp."
    )


def _say_mean(mean: float, leaf: float) -> str:
    return (
        f"The mean is right in the middle of a wall after hours, not at the far leaf after minutes: it is "
        f"{mean - leaf:.0f} K colder. Damp paper that cold stays stiff under the load."
    )


def _say_final(final: float, leaf: float, minutes: float) -> str:
    return (
        f"The heat goes off after {minutes:.1f} min, and the far leaf still lacks {final - leaf:.0f} K. Its "
        "fibres have not softened, while those at the platen have: the block dries warped."
    )


MARKER = Marker(
    question=Question(ReplyKind.NUMBER, "The far leaf stands at", "temperature"),
    solve=solve,
    wrong=WRONG,
    picture="far-leaf",
)
