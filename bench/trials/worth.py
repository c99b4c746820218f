"""What a trial is worth before anyone begins: which answers it would narrow, and how much."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from bench.treatment.measured import Accepted, MeasuredHere
from bench.treatment.plan import Plan, PlannedValue
from bench.trials.protocol import Found, Protocol, TrialOutcome

LEAST = 1.1
"""Times narrower from which an answer is told: less is not worth an afternoon, judgement."""
MOST = 4
"""Answers that are told of a trial."""


@dataclass(frozen=True)
class Worth:
    """One answer with its interval as it is, and as it would be.

    Attributes
    ----------
    label, stage, unit : str
        Which number of which plan, and its unit.
    before, after : (float, float, float)
        Value, low and high end, in that unit.
    """

    label: str
    stage: str
    unit: str
    before: tuple[float, float, float]
    after: tuple[float, float, float]

    @property
    def narrower(self) -> float:
        """Width of the interval as it is over the width with the trial."""
        wide, narrow = (ends[2] - ends[1] for ends in (self.before, self.after))
        return wide / narrow if narrow > 0 else 1.0


@dataclass(frozen=True)
class Beforehand:
    """What a trial is worth for an item, reckoned before anyone begins.

    Attributes
    ----------
    about : str
        Of what it would be.
    answers : tuple of Worth
        Answers of the plans for the item that it would narrow, the most narrowed first.
    found : tuple of Found
        What it would find, as wide as its readings would leave it.
    """

    about: str
    answers: tuple[Worth, ...]
    found: tuple[Found, ...]


def likely_outcome(protocol: Protocol, about: str) -> TrialOutcome:
    """Give what a trial would find if all is as it is believed to be, read without any error.

    The interval that it states is that of real readings: it follows from their doubts.

    Parameters
    ----------
    protocol : Protocol
        The trial.
    about : str
        Of what.
    """
    believed = protocol.believed(about)
    truth = {
        constant.key: float(believed[constant.key].value.to(constant.unit).magnitude)
        for constant in protocol.finds_of(about)
    }
    return protocol.fit(protocol.made_up(about, truth, None))


def with_outcome(measured: MeasuredHere, outcome: TrialOutcome, about: str, day: date) -> MeasuredHere:
    """Give what a bench has measured with what a trial would add to it, or put in its place."""
    new = tuple(Accepted(found.constant, about, found.value, day, day) for found in outcome.found)
    keys = {(each.constant.key, each.about) for each in new}
    return (*new, *(each for each in measured if (each.constant.key, each.about) not in keys))


def compare_plans(before: Plan, after: Plan) -> list[Worth]:
    """List the answers of a plan that another one states more narrowly, the most narrowed first.

    Parameters
    ----------
    before, after : Plan
        Of one stage, as it is and with the trial.
    """
    later = {value.key: value for value in after.values}
    found = [
        Worth(value.label, before.stage, value.unit, _ends(value), _ends(later[value.key]))
        for value in before.values
        if value.key in later and value.ends[0] < value.ends[1]
    ]
    told = [each for each in found if each.narrower >= LEAST]
    return sorted(told, key=lambda each: -each.narrower)


def _ends(value: PlannedValue) -> tuple[float, float, float]:
    low, high = value.ends
    return tuple(float(end.to(value.unit).magnitude) for end in (value.value, low, high))  # type: ignore[return-value]
