"""The trade's own example, worked through: data of its own, nothing of the item at hand."""

from __future__ import annotations

import numpy as np

from bench.physics.bearing.checks import example_item, example_readings
from bench.physics.contact import pressure_from_word
from bench.treatment.buffering.choices import BufferingChoices
from bench.treatment.buffering.load import find_spacing, say_load, weigh_spacings
from bench.treatment.interleaves import LADDER


def say_trade_steps(*, rng: np.random.Generator, samples: int = 500) -> tuple[str, ...]:
    """Say what every 6, 8 and 10 leaves do with the square-bound annual of the trade's example.

    Parameters
    ----------
    rng : numpy.random.Generator
        For what is not known; the same state gives the same answer.
    samples : int
        Draws for each plan.
    """
    choices = BufferingChoices(load=pressure_from_word("medium"), load_words="medium", interval=LADDER[0])
    loads = weigh_spacings(
        example_item(), example_readings(), choices, rng=rng, intervals=LADDER, samples=samples
    )
    return tuple(f"Every {step} leaves: {say_load(find_spacing(loads, step))}" for step in LADDER)
