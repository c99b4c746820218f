"""What is asked of a pile of scrap under load: dry, dry a second time, damp, and dry again."""

from __future__ import annotations

from collections.abc import Sequence

from bench.treatment.needed import instruments_for
from bench.trials.protocol import Asked

LEVELS = (1, 2, 5, 10)
"""Kilograms on the foot; on 50 mm across 5 to 50 kPa, from a medium load to what a caliper presses with."""

ALONE = 0
"""The level of foot and tray alone: a light load, which tells K1 from K2."""


_CALIPER = instruments_for("thickness")[0]

ZERO = Asked(
    "zero",
    "Foot on the bare plate",
    "thickness",
    1,
    150,
    5,
    tool=_CALIPER,
    group="The pile",
    hint="plate and foot together, under 1 kg, without the pile: it is taken off every reading below",
)
LEAVES = Asked("leaves", "Leaves in the pile", "dimensionless", 10, 500, usual=150, hint="count, not pages")
FOOT = Asked(
    "foot", "Foot across", "mm", 20, 150, usual=50, hint="round; the leaves are cut to it", tool=_CALIPER
)
REST = Asked(
    "rest",
    "Foot and tray",
    "kg",
    0,
    5,
    usual=0.2,
    is_optional=True,
    hint="what lies on the pile besides the weights",
)


def _under(
    name: str, words: str, group: str, *, levels: Sequence[int] = LEVELS, is_optional: bool = True
) -> dict[int, Asked]:
    return {
        level: Asked(
            f"{name}_{level}",
            f"{words}, under {f'{level} kg' if level else 'foot and tray alone'}",
            "thickness",
            1,
            150,
            5,
            is_optional=is_optional or level == ALONE,
            tool=_CALIPER,
            group=group if level == levels[0] else "",
            hint="plate, pile and foot together, after a minute" if level == levels[0] else "",
        )
        for level in levels
    }


FIRST = _under("first", "Dry, first time", "Dry", levels=(ALONE, *LEVELS), is_optional=False)
SECOND = _under("second", "Dry, second time", "Dry, loaded again")
DAMP = _under("damp", "Damp", "Damp, and dry again")
HELD = Asked(
    "held",
    "Weight under which it dried",
    "kg",
    0.2,
    20,
    usual=1,
    is_optional=True,
    hint="so much as gives the pressure of your press",
)
AGAIN = Asked(
    "again_1",
    "Dry again, under 1 kg",
    "thickness",
    1,
    150,
    5,
    is_optional=True,
    tool=_CALIPER,
    hint="two days later, in the same room; with it the thinning is found",
)
ASKED = (LEAVES, FOOT, REST, ZERO, *FIRST.values(), *SECOND.values(), *DAMP.values(), HELD, AGAIN)
