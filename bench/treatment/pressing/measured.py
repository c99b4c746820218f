"""Which of the bench's own measurements a plan of pressing takes."""

from __future__ import annotations

from bench.item import Item
from bench.treatment.measured import (
    GLUE_SOFTENS,
    LEAF_HEAT,
    PLATEN_ERROR,
    PLATEN_HALF_LIFE,
    PLATEN_HEATING,
    PRESS,
    Accepted,
    Constant,
    find_measured,
)
from bench.treatment.pressing.plan import PressingChoices


def taken_here(item: Item, choices: PressingChoices) -> tuple[Accepted, ...]:
    """Give what the plan takes of what this bench measured, in the order of its assumptions."""
    wanted: tuple[tuple[Constant, str], ...] = ()
    if choices.is_warm:
        wanted += ((PLATEN_ERROR, PRESS), (PLATEN_HEATING, PRESS), (LEAF_HEAT, item.text_paper))
        half_life = find_measured(choices.measured, PLATEN_HALF_LIFE, PRESS)
        if half_life is not None and half_life.value == choices.half_life:  # else the operator knows better
            wanted += ((PLATEN_HALF_LIFE, PRESS),)
    if item.is_square_bound:
        wanted += ((GLUE_SOFTENS, item.glue),)
    found = (find_measured(choices.measured, constant, about) for constant, about in wanted)
    return tuple(each for each in found if each is not None)
