"""Which of the bench's own measurements a plan of humidity takes."""

from __future__ import annotations

from bench.item import Item
from bench.treatment.humidity.plan import HumidityChoices
from bench.treatment.measured import Accepted, Constant, find_measured


def taken_here(item: Item, choices: HumidityChoices) -> tuple[Accepted, ...]:
    """Give what the plan takes of what this bench measured, in the order of its assumptions."""
    wanted: tuple[tuple[Constant, str], ...] = ()
    found = (find_measured(choices.measured, constant, about) for constant, about in wanted)
    return tuple(each for each in found if each is not None)
