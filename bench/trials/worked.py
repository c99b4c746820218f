"""A trial worked through on an invented bench whose truth is known: for reading, never for a record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bench.physics.ranges import draw
from bench.treatment.measured import Constant
from bench.trials.protocol import Protocol, Readings, TrialOutcome
from bench.units import say_value, unit_label


@dataclass(frozen=True)
class Example:
    """A trial on an invented bench.

    Attributes
    ----------
    protocol : Protocol
        The trial.
    truth : mapping of Constant to float
        What is true of the invented bench, in the unit of each.
    readings : Readings
        As its instruments showed them, errors and all.
    outcome : TrialOutcome
        What the trial says of it.
    """

    protocol: Protocol
    truth: Mapping[Constant, float]
    readings: Readings
    outcome: TrialOutcome

    def say(self) -> str:
        """Say for each constant what is true, what was found, and whether the interval holds it."""
        return "\n".join(
            f"{found.constant.label}: true {self._say_truth(found.constant)}, found "
            f"{found.value.say(found.constant.unit)}: {'held' if self.holds(found.constant) else 'missed'}"
            for found in self.outcome.found
        )

    def _say_truth(self, constant: Constant) -> str:
        return say_value(self.truth[constant], None, unit_label(constant.unit))

    def holds(self, constant: Constant) -> bool:
        """Tell whether the stated interval of a constant holds what is true of it."""
        (found,) = (each for each in self.outcome.found if each.constant is constant)
        _, low, high = found.value.floats(constant.unit, field=constant.label)
        return low <= self.truth[constant] <= high


def draw_truth(protocol: Protocol, about: str, rng: np.random.Generator) -> dict[Constant, float]:
    """Draw what is true of an invented bench from what is believed of all."""
    believed = protocol.believed(about)
    known = {
        each: believed[each.key].floats(each.unit, field=each.label) for each in protocol.finds_of(about)
    }
    return {each: float(draw(ends, rng.standard_normal(1))[0]) for each, ends in known.items()}


def work_example(protocol: Protocol, rng: np.random.Generator, *, about: str = "") -> Example:
    """Invent a bench, read it as its instruments would show it, and work the trial out.

    Parameters
    ----------
    protocol : Protocol
        The trial.
    rng : numpy.random.Generator
        From one seed come the same bench and the same errors.
    about : str
        Of what; by default the usual one.
    """
    of = about or protocol.abouts()[0]
    truth = draw_truth(protocol, of, rng)
    readings = protocol.made_up(of, {constant.key: value for constant, value in truth.items()}, rng)
    return Example(protocol, truth, readings, protocol.fit(readings))
