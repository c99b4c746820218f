"""Which of the bench's own measurements a plan of pressing takes."""

from __future__ import annotations

from bench.item import Item
from bench.treatment.measured import Accepted, Constant, find_measured
from bench.treatment.pressing.plan import PressingChoices


def taken_here(item: Item, choices: PressingChoices) -> tuple[Accepted, ...]:
    """Give what the plan takes of what this bench measured, in the order of its assumptions."""
    wanted: tuple[tuple[Constant, str], ...] = ()
    found = (find_measured(choices.measured, constant, about) for constant, about in wanted)
    return tuple(each for each in found if each is not None)
