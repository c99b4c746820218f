"""Which of the bench's own measurements a plan of pressing takes."""

from __future__ import annotations

from bench.item import Answer, Item
from bench.physics.transient.cells import is_barrier
from bench.physics.transient.inputs import AS_PUBLISHED
from bench.treatment.measured import (
    COVER_AS_AIR,
    GLUE_SOFTENS,
    HYSTERESIS,
    ISOTHERM_SCALE,
    LEAF_HEAT,
    PLATEN_ERROR,
    PLATEN_HALF_LIFE,
    PLATEN_HEATING,
    PRESS,
    RELEASE_AS_AIR,
    Accepted,
    Constant,
    find_measured,
    take,
)
from bench.treatment.prediction import COATED_COVER
from bench.treatment.pressing.plan import PressingChoices


def taken_here(item: Item, choices: PressingChoices) -> tuple[Accepted, ...]:
    """Give what the plan takes of what this bench measured, in the order of its assumptions.

    How much water the paper holds is taken where no weighings say it.
    """
    wanted: list[tuple[Constant, str]] = []
    if choices.isotherm_scale == AS_PUBLISHED and not choices.weighed:
        wanted.append((ISOTHERM_SCALE, item.text_paper))
    wanted.append((HYSTERESIS, item.text_paper))
    if item.cover_leaves and item.cover_coated is Answer.YES:
        wanted.append((COVER_AS_AIR, COATED_COVER))
    if choices.release is not None and is_barrier(choices.release):
        wanted.append((RELEASE_AS_AIR, choices.release))
    if choices.is_warm:
        wanted += [(PLATEN_ERROR, PRESS), (PLATEN_HEATING, PRESS), (LEAF_HEAT, item.text_paper)]
        half_life = find_measured(choices.measured, PLATEN_HALF_LIFE, PRESS)
        if half_life is not None and half_life.value == choices.half_life:  # else the operator knows better
            wanted.append((PLATEN_HALF_LIFE, PRESS))
    if item.is_square_bound:
        wanted.append((GLUE_SOFTENS, item.glue))
    return take(choices.measured, wanted)
