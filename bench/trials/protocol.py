"""The shape of a trial on the bench: what it asks to be read, how that is fitted, and what it finds.

A protocol says everything that a page, a record or another stage needs to know of it; panel and pictures are
the same for all.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from bench.errors import NotYet
from bench.physics.ranges import Range
from bench.treatment.calibration import Calibrated, InstrumentCheck
from bench.treatment.measured import Constant
from bench.treatment.needed import Instrument
from bench.treatment.plan import Caution, Notice, Verdict, worst
from bench.uncertainty import Component, Measured, coverage_factor
from bench.units import Q_, Quantity, difference_unit


@dataclass(frozen=True)
class Asked:
    """One thing that a trial asks to be read or said; it becomes a field of the panel.

    Attributes
    ----------
    key, label : str
        Its name in the record, and for people.
    unit : str
        As fields take it: ``"thickness"`` and ``"temperature"`` follow the operator, others are fixed
        (``"g"``, ``"mm"``, ``"min"``, ``"kg"``, ``"percent"``, ...).
    low, high : float
        Closed range allowed, in ``unit`` (mm for a thickness, °C for a temperature).
    most : int
        Readings that it takes, with blanks between.
    usual : float or None
        Proposed, in ``unit``; None leaves the field empty.
    is_optional : bool
        Whether it may stay empty.
    tool : Instrument or None
        What it is read with, whose doubt it carries; None for what is counted or set.
    group : str
        Heading that begins with it.
    hint : str
        How to read it.
    """

    key: str
    label: str
    unit: str
    low: float
    high: float
    most: int = 1
    usual: float | None = None
    is_optional: bool = False
    tool: Instrument | None = None
    group: str = ""
    hint: str = ""

    @property
    def plain_unit(self) -> str:
        """Unit of its limits and of what is saved."""
        return {"thickness": "mm", "temperature": "degC"}.get(self.unit, self.unit)

    def quantity(self, number: float) -> Quantity:
        """Give a number in its unit as a quantity."""
        return Q_(number, self.plain_unit)


@dataclass(frozen=True)
class Readings:
    """What was read in a trial.

    Attributes
    ----------
    about : str
        Of what: one of :meth:`Protocol.abouts`.
    read : mapping of str to tuple of Quantity
        By the key of what was asked; what was left out is not there.
    calibrated : mapping of str to Calibrated or InstrumentCheck
        By the name of the instrument, where it was checked.
    """

    about: str
    read: Mapping[str, tuple[Quantity, ...]]
    calibrated: Mapping[str, Calibrated | InstrumentCheck] = field(default_factory=dict)

    def has(self, asked: Asked) -> bool:
        """Tell whether something was read."""
        return bool(self.read.get(asked.key))

    def number(self, asked: Asked) -> float:
        """Give the mean of the readings as a plain number in the unit of what was asked, corrected.

        Raises
        ------
        NotYet
            Nothing was read.
        """
        return float(self.measured(asked).value.to(asked.plain_unit).magnitude)

    def measured(self, asked: Asked) -> Measured:
        """Give what was read with its doubt: scatter, step and limit of the instrument, or its calibration.

        The doubt of one instrument is one cause wherever it is read, and cancels in a difference.  A single
        reading is taken to repeat to about one step.

        Raises
        ------
        NotYet
            Nothing was read.
        """
        readings = self.read.get(asked.key, ())
        if not readings:
            raise NotYet(asked.label, "not read yet", "", "Read it and enter it")
        unit = asked.plain_unit
        delta = difference_unit(unit)
        values = np.array([float(reading.to(unit).magnitude) for reading in readings])
        if asked.tool is None:
            return Measured(Q_(float(values.mean()), unit), (), "as set")
        tool = asked.tool
        step = float(tool.step.to(delta).magnitude)
        scatter = float(values.std(ddof=1)) if len(values) > 1 else step
        dof = len(values) - 1.0 if len(values) > 1 else float("inf")
        found = self.calibrated.get(tool.name)
        known = None if found is None else found.near(Q_(float(values.mean()), unit))
        correction = 0.0 if known is None else float(known.correction.to(delta).magnitude)
        limit = tool.limit / np.sqrt(3) if known is None else known.standard
        components = (
            Component(f"repeat readings, {asked.label}", Q_(scatter / np.sqrt(len(values)), delta), dof),
            Component(f"step, {asked.label}", Q_(step / np.sqrt(12), delta)),
            Component(tool.name, Q_(float(limit.to(delta).magnitude), delta)),
        )
        value = Q_(float(values.mean()) + correction, unit)
        return Measured(value, components, f"{tool.name}, n = {len(values)}")


@dataclass(frozen=True)
class Found:
    """One constant as a trial found it.

    Attributes
    ----------
    constant : Constant
        Which one.
    value : Range
        With its interval of 95 %.
    before : Range
        What was believed without the trial.
    """

    constant: Constant
    value: Range
    before: Range

    @property
    def narrower(self) -> float:
        """Width of the interval before over the width now."""
        unit = self.constant.unit
        _, low, high = self.value.floats(unit, field=self.constant.label)
        _, lowest, highest = self.before.floats(unit, field=self.constant.label)
        return (highest - lowest) / max(high - low, 1e-12)


@dataclass(frozen=True)
class FitPoint:
    """One reading beside its fit, both in the unit of the axes; ``doubt`` is its expanded uncertainty."""

    x: float
    y: float
    doubt: float
    fitted: float
    series: str = ""


@dataclass(frozen=True)
class FitShown:
    """What is drawn of a fit: readings with their doubt, the fitted curves, and what is left.

    Attributes
    ----------
    x, y : (str, str)
        Label and unit of each axis.
    points : tuple of FitPoint
        The readings.
    curves : mapping of str to sequence of (x, y)
        By the name of the series; one curve or more.
    """

    x: tuple[str, str]
    y: tuple[str, str]
    points: tuple[FitPoint, ...]
    curves: Mapping[str, Sequence[tuple[float, float]]]

    @cached_property
    def misfit(self) -> float:
        """Root mean square of what is left, in standard uncertainties of the readings."""
        parts = [
            (point.y - point.fitted) / max(point.doubt / coverage_factor(float("inf")), 1e-12)
            for point in self.points
        ]
        return float(np.sqrt(np.mean(np.square(parts)))) if parts else 0.0


@dataclass(frozen=True)
class TrialOutcome:
    """What a trial found.

    Attributes
    ----------
    answer, because : str
        What was found and what follows; how well it fits and what the doubt comes from.
    found : tuple of Found
        The constants.
    shown : FitShown
        For the picture.
    cautions : tuple of Caution
        One that says stop keeps it from being used.
    """

    answer: str
    because: str
    found: tuple[Found, ...]
    shown: FitShown
    cautions: tuple[Caution, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """The worst of its cautions."""
        return worst(caution.verdict for caution in self.cautions)

    @property
    def is_usable(self) -> bool:
        """Whether plans may take it."""
        return self.verdict is not Verdict.STOP


MadeUp = Callable[[str, Mapping[str, float], np.random.Generator | None], Readings]


@dataclass(frozen=True)
class Protocol:
    """A trial that a workshop can carry out with what it has.

    Attributes
    ----------
    key : str
        Joins it to its records; it never changes.
    title : str
        With a verb: ``"Measure how stiff a board is"``.
    question : str
        In the words of the bench.
    takes, waits : str
        Time at work, and time until it is done.
    needs : tuple of str
        What must be at hand.
    steps : tuple of str
        Six, each a sentence or two.
    cautions : tuple of Notice
        Those that hold for everyone who carries it out.
    of : str
        Label of the list of what it can be about: ``"Board"``.
    abouts : callable
        Gives that list, names in the tables of materials; the usual one first.
    asked : tuple of Asked
        Everything to be read, in order.
    fit : callable
        ``fit(readings)`` gives a :class:`TrialOutcome`; it raises NotYet while readings are missing, and
        BadValue for one that cannot be.
    finds : tuple of Constant
        What it finds, of one thing or another.
    believed : callable
        ``believed(about)`` gives what is believed of what it finds of a thing without the trial, by key.
    again_after : int
        Days after which it should be done again.
    why_again : str
        What changes meanwhile.
    made_up : callable
        ``made_up(about, truth, rng)`` gives readings of a bench with that truth, one number a constant by its
        key and in its unit; without ``rng`` without any error.  For worth and checks, never for a record.
    """

    key: str
    title: str
    question: str
    takes: str
    waits: str
    needs: tuple[str, ...]
    steps: tuple[str, ...]
    cautions: tuple[Notice, ...]
    of: str
    abouts: Callable[[], tuple[str, ...]]
    asked: tuple[Asked, ...]
    fit: Callable[[Readings], TrialOutcome]
    finds: tuple[Constant, ...]
    believed: Callable[[str], Mapping[str, Range]]
    again_after: int
    why_again: str
    made_up: MadeUp

    def finds_of(self, about: str) -> tuple[Constant, ...]:
        """Give the constants that it finds of one thing."""
        believed = self.believed(about)
        return tuple(constant for constant in self.finds if constant.key in believed)


__all__ = [
    "Asked",
    "Calibrated",
    "FitPoint",
    "FitShown",
    "Found",
    "MadeUp",
    "Protocol",
    "Readings",
    "TrialOutcome",
]
