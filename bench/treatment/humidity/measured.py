"""Which of the bench's own measurements a plan of humidity takes."""

from __future__ import annotations

from bench.item import Answer, Item
from bench.physics.transient.inputs import AS_PUBLISHED
from bench.physics.vapour import COVER_AS_AIR as BELIEVED
from bench.treatment.humidity.plan import HumidityChoices
from bench.treatment.measured import (
    COVER_AS_AIR,
    HYSTERESIS,
    ISOTHERM_SCALE,
    Accepted,
    Constant,
    take,
)
from bench.treatment.prediction import COATED_COVER


def taken_here(item: Item, choices: HumidityChoices) -> tuple[Accepted, ...]:
    """Give what the plan takes of what this bench measured, in the order of its assumptions.

    How much water the paper holds is taken where neither weighings nor the operator say it, and likewise how
    tight the cover is.
    """
    wanted: list[tuple[Constant, str]] = []
    if choices.isotherm_scale == AS_PUBLISHED and not choices.weighed:
        wanted.append((ISOTHERM_SCALE, item.text_paper))
    wanted.append((HYSTERESIS, item.text_paper))
    is_usual = choices.cover_as_air == BELIEVED
    if item.cover_leaves and item.cover_coated is Answer.YES and is_usual:
        wanted.append((COVER_AS_AIR, COATED_COVER))
    return take(choices.measured, wanted)
