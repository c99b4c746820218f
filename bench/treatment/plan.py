"""The Plan: the frozen result of a stage.

A panel, a figure, rows of the record and a paragraph of the report all read the same Plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from bench.physics.ranges import Range
from bench.uncertainty import Measured
from bench.units import Q_, Quantity, UnitChoice, difference_unit, say, say_range, unit_label


class Verdict(StrEnum):
    """What a stage says about going on."""

    GO = "go on"
    CARE = "go on with care"
    STOP = "stop"


_ORDER = (Verdict.GO, Verdict.CARE, Verdict.STOP)


@dataclass(frozen=True)
class Caution:
    """Something that must be seen with the plan wherever the plan is shown.

    Attributes
    ----------
    verdict : Verdict
        ``GO`` for a plain note, ``CARE``, or ``STOP`` for what forbids going on.
    words : str
        One or two sentences.
    source : str
        Key of a source, ``"common-practice"`` or ``"memory"``.
    """

    verdict: Verdict
    words: str
    source: str = "common-practice"

    @staticmethod
    def of_unread(taught: str, unread: Sequence[str]) -> tuple[Caution, ...]:
        """Name the treatments of a bench that could not be read for what was learned there, if any."""
        if not unread:
            return ()
        words = (
            f"Not read for what {taught}: {', '.join(unread)}. A fit accepted there is not used. "
            "Check the records."
        )
        return (Caution(Verdict.CARE, words),)


@dataclass(frozen=True)
class PlannedValue:
    """One number of a plan.

    Attributes
    ----------
    name : str
        In the words of the bench; unique within a plan.
    value : Quantity
        Best estimate.
    unit : str
        Unit it is saved in.
    uncertainty : Quantity or None
        Expanded (about 95 %), as a difference.
    limit : Quantity or None
        Limit it is held against.
    limit_source, source : str
        Where the limit and the value come from.
    low, high : Quantity or None
        Believable limits of the value, where these do not lie evenly about it.
    """

    name: str
    value: Quantity
    unit: str
    uncertainty: Quantity | None = None
    limit: Quantity | None = None
    limit_source: str = ""
    source: str = ""
    low: Quantity | None = None
    high: Quantity | None = None

    def say(self, units: UnitChoice) -> str:
        """Write the value in the operator's unit, with its uncertainty."""
        if self.low is not None and self.high is not None:
            shown = shown_unit(self.unit, units)
            value, low, high = (float(q.to(shown).magnitude) for q in (self.value, self.low, self.high))
            return say_range(value, low, high, unit_label(shown))
        plain = float(self.value.magnitude) if self.unit in ("", "dimensionless") else None
        if plain is not None and plain.is_integer() and self.uncertainty is None:
            return f"{plain:.0f}"  # a count
        return say(self.value, shown_unit(self.unit, units), uncertainty=self.uncertainty)


def shown_unit(unit: str, units: UnitChoice) -> str:
    """Choose the unit to show for one saved in ``unit``: lengths and temperatures follow the operator."""
    return {"um": units.length, "degC": units.temperature, "mm": units.long_length}.get(unit, unit)


def planned(name: str, measured: Measured, unit: str, **more: object) -> PlannedValue:
    """Make a planned value from a measured one."""
    uncertainty = measured.expanded()
    return PlannedValue(name, measured.value, unit, uncertainty, source=measured.source, **more)  # type: ignore[arg-type]


def planned_range(name: str, estimate: Range, unit: str, **more: object) -> PlannedValue:
    """Make a planned value from a value with believable limits.

    The uncertainty is the wider of its two sides, so that a comparison with what was measured is
    never stricter than the limits.
    """
    value, low, high = (float(q.to(unit).magnitude) for q in (estimate.value, estimate.low, estimate.high))
    delta = difference_unit(unit)
    wider = Q_(max(high - value, value - low), delta)
    ends = {"low": Q_(low, unit), "high": Q_(high, unit)}
    return PlannedValue(name, Q_(value, unit), unit, wider, **ends, **more)  # type: ignore[arg-type]


@dataclass(frozen=True)
class PlannedStep:
    """One step to be laid out by the clock.

    Attributes
    ----------
    name : str
        What happens, e.g. ``"put in the humidity chamber"``.
    duration : Quantity
        How long it takes, or at least lasts if nobody is needed.
    hands : bool
        Whether someone must be there the whole time.
    at_most : Quantity or None
        Longest a waiting step may stretch over a night; None if it may stretch.
    if_present : bool
        A look-in that is left out when it falls outside the working day.
    note : str
        What to look for.
    """

    name: str
    duration: Quantity
    hands: bool
    at_most: Quantity | None = None
    if_present: bool = False
    note: str = ""


@dataclass(frozen=True)
class Assumption:
    """Something taken as given, with where it came from."""

    name: str
    words: str
    source: str


@dataclass(frozen=True, kw_only=True)
class Plan:
    """The result of a stage, shared by panel, figure, record and report.

    Attributes
    ----------
    stage : str
        ``"cleaning"``, ``"humidity"``, ``"buffering"``, ``"pressing"``, ...
    cycle : int
        1 for the first pass, 2 for a repeat; 0 before any cycle.
    verdict : Verdict
        The worst of its cautions, or what the stage itself found.
    answer : str
        What to do and how sure, in a sentence or two.
    because : str
        Why, and what the doubt comes from.
    values : tuple of PlannedValue
    cautions : tuple of Caution
    steps : tuple of PlannedStep
    assumptions : tuple of Assumption
    """

    stage: str
    cycle: int
    verdict: Verdict
    answer: str
    because: str
    values: tuple[PlannedValue, ...] = ()
    cautions: tuple[Caution, ...] = ()
    steps: tuple[PlannedStep, ...] = ()
    assumptions: tuple[Assumption, ...] = ()

    def value(self, name: str) -> PlannedValue:
        """Give a planned value by its name."""
        return next(value for value in self.values if value.name == name)


def worst(verdicts: Iterable[Verdict], at_least: Verdict = Verdict.GO) -> Verdict:
    """Give the most severe of some verdicts."""
    return max((at_least, *verdicts), key=_ORDER.index)


def minutes(value: float) -> Quantity:
    """Give a duration in minutes."""
    return Q_(value, "min")


def hours(value: float) -> Quantity:
    """Give a duration in hours."""
    return Q_(value, "hour")
