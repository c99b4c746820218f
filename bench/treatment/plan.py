"""The Plan: the frozen result of a stage.

A panel, a figure, rows of the record and a paragraph of the report all read the same Plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from bench.physics.ranges import Range
from bench.treatment.facts import Fact
from bench.uncertainty import Measured
from bench.units import Q_, Quantity, UnitChoice, difference_unit, say, say_range, unit_label


class Verdict(StrEnum):
    """What a stage says about going on."""

    GO = "go on"
    CARE = "go on with care"
    STOP = "stop"


_ORDER = tuple(Verdict)


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
    key : str
        Of the notice that it was made from; empty where its words come from elsewhere, such as a condition of
        intake.
    """

    verdict: Verdict
    words: str
    source: str = "common-practice"
    key: str = field(default="", compare=False)


@dataclass(frozen=True)
class Notice:
    """A caution as it is written, once; the rule that raises it hands over the facts that are left open.

    Attributes
    ----------
    key : str
        Its name, alone of its kind: ``"wall-is-wet"``.
    verdict : Verdict
        How grave it is, unless the rule says otherwise.
    template : str
        One or two sentences, with the facts in braces as :meth:`str.format` takes them.
    source : str
        Key of a source, ``"common-practice"`` or ``"memory"``.

    Examples
    --------
    >>> wet = Notice("wall-is-wet", Verdict.STOP, "The wall is {below:.1f} K too cold.", "ashrae-f1")
    >>> wet(below=1.25).words
    'The wall is 1.2 K too cold.'
    """

    key: str
    verdict: Verdict
    template: str
    source: str = "common-practice"

    def __call__(self, verdict: Verdict | None = None, **facts: object) -> Caution:
        """Raise it.

        Parameters
        ----------
        verdict : Verdict, optional
            How grave it is here; by default as it is written.
        facts : object
            By the names in the template.

        Raises
        ------
        KeyError
            A fact that the template names was not handed over.
        """
        return Caution(verdict or self.verdict, self.template.format(**facts), self.source, self.key)


THICKNESS_NOT_READ = Notice(
    "thickness-not-read", Verdict.CARE, "No thickness was read: {so}. Read with a caliper."
)
"""Of every stage that takes a typical thickness; what follows from it differs."""

_UNREAD = Notice(
    "bench-not-read",
    Verdict.CARE,
    "Not read for what {taught}: {names}. A fit accepted there is not used. Check the records.",
)


def caution_of_unread(taught: str, unread: Sequence[str]) -> tuple[Caution, ...]:
    """Name the treatments of a bench that could not be read for what was learned there, if any."""
    return (_UNREAD(taught=taught, names=", ".join(unread)),) if unread else ()


@dataclass(frozen=True)
class PlannedValue:
    """One number of a plan.

    Attributes
    ----------
    fact : Fact
        Which number it is: its key, its label, its unit.
    value : Quantity
        Best estimate.
    uncertainty : Quantity or None
        Expanded (about 95 %), as a difference.
    limit : Quantity or None
        Limit it is held against.
    limit_source, source : str
        Where the limit and the value come from.
    low, high : Quantity or None
        Believable limits of the value, where these do not lie evenly about it.
    """

    fact: Fact
    value: Quantity
    uncertainty: Quantity | None = None
    limit: Quantity | None = None
    limit_source: str = ""
    source: str = ""
    low: Quantity | None = None
    high: Quantity | None = None

    @property
    def key(self) -> str:
        """Key of its fact."""
        return self.fact.key

    @property
    def label(self) -> str:
        """What people read."""
        return self.fact.label

    @property
    def unit(self) -> str:
        """Unit it is saved in."""
        return self.fact.unit

    @property
    def ends(self) -> tuple[Quantity, Quantity]:
        """Both ends of its interval: as planned, or the uncertainty to both sides, or the value twice."""
        if self.low is not None and self.high is not None:
            return self.low, self.high
        if self.uncertainty is None:
            return self.value, self.value
        return self.value - self.uncertainty, self.value + self.uncertainty

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


def by_key(values: Iterable[PlannedValue]) -> dict[str, PlannedValue]:
    """Give planned values by the key of their fact."""
    return {value.key: value for value in values}


def find_value(values: Iterable[PlannedValue], fact: Fact) -> PlannedValue | None:
    """Give the planned value of a fact; None if it was not planned."""
    return next((value for value in values if value.key == fact.key), None)


def planned_count(fact: Fact, count: float, **more: Any) -> PlannedValue:
    """Make a planned value from a plain count or share."""
    return PlannedValue(fact, Q_(float(count), ""), **more)


def planned(fact: Fact, measured: Measured, **more: Any) -> PlannedValue:
    """Make a planned value from a measured one."""
    return PlannedValue(fact, measured.value, measured.expanded(), source=measured.source, **more)


def planned_range(fact: Fact, estimate: Range, **more: Any) -> PlannedValue:
    """Make a planned value from a value with believable limits.

    The uncertainty is the wider of its two sides, so that a comparison with what was measured is
    never stricter than the limits.
    """
    unit = fact.unit
    value, low, high = estimate.floats(unit, field=fact.label)
    wider = Q_(max(high - value, value - low), difference_unit(unit))
    return PlannedValue(fact, Q_(value, unit), wider, low=Q_(low, unit), high=Q_(high, unit), **more)


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
    """Something taken as given, with where it came from.

    Attributes
    ----------
    name, words, source : str
        For people.
    key : str
        By which a record is read back, where it is; empty otherwise.
    """

    name: str
    words: str
    source: str
    key: str = ""


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
        The numbers, as they are saved.
    cautions : tuple of Caution
        What must be seen with it, in the order in which it is shown.
    steps : tuple of PlannedStep
        What is done, for the clock to lay out.
    assumptions : tuple of Assumption
        What was taken as given.
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

    def value(self, fact: Fact) -> PlannedValue:
        """Give the planned value of a fact."""
        return next(value for value in self.values if value.key == fact.key)


def worst(verdicts: Iterable[Verdict], at_least: Verdict = Verdict.GO) -> Verdict:
    """Give the most severe of some verdicts."""
    return max((at_least, *verdicts), key=_ORDER.index)


def minutes(value: float) -> Quantity:
    """Give a duration in minutes."""
    return Q_(value, "min")


def hours(value: float) -> Quantity:
    """Give a duration in hours."""
    return Q_(value, "hour")
