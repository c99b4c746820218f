"""Before and after: the same readings again, planned beside measured, and each defect's course.

Readings of different moments are taken as independent, also where one instrument took both: what
they share (a zero error, say) would cancel in the difference, so the doubt is never understated.  Only the
doubt of one check of that instrument, whose correction both carry, is known to be shared, and cancels.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from bench.errors import BadValue
from bench.item import Thicknesses
from bench.physics.size_change import measure_size_change
from bench.treatment.plan import PlannedValue
from bench.uncertainty import Measured, from_expanded
from bench.units import Q_, Quantity, to_float


class Agreement(StrEnum):
    """How a measured value stands to the planned one."""

    AGREES = "agrees"
    HIGHER = "higher"
    LOWER = "lower"
    UNKNOWN = "uncertainty not known"

    @property
    def is_off(self) -> bool:
        """Whether it contradicts the plan."""
        return self in (Agreement.HIGHER, Agreement.LOWER)


@dataclass(frozen=True)
class Examination:
    """What was read at one moment.

    Attributes
    ----------
    thicknesses : Thicknesses or None
        Of the closed item without its interleaves.
    widths, heights : mapping of str to Measured
        Spine to fore edge and head to tail, by place (``"cover"``, ``"leaf 3"``, ...).  Leaves of a
        trimmed fold differ by design, so only like places are compared.
    mass : Measured or None
        Whole item after a rest at room humidity.
    """

    thicknesses: Thicknesses | None = None
    widths: Mapping[str, Measured] = field(default_factory=dict)
    heights: Mapping[str, Measured] = field(default_factory=dict)
    mass: Measured | None = None


@dataclass(frozen=True)
class Comparison:
    """A planned value beside the measured one.

    Attributes
    ----------
    planned : PlannedValue
        As planned.
    measured : Measured
        A temperature in kelvin, in which its doubt can be worked with.
    difference : Measured
        Measured less planned, with the doubt of both; a temperature in kelvin.
    agreement : Agreement
        ``AGREES`` if the difference is no larger than its expanded uncertainty, ``UNKNOWN`` if
        neither side carries one.
    """

    planned: PlannedValue
    measured: Measured
    difference: Measured
    agreement: Agreement

    @property
    def label(self) -> str:
        """Of the planned value."""
        return self.planned.label


@dataclass(frozen=True)
class EdgeChange:
    """How one edge changed at one place.

    Attributes
    ----------
    edge : str
        ``"width"`` or ``"height"``.
    place : str
        Where it was read.
    before, after : Measured
        As read.
    change : Measured
        After less before; above zero is growth.
    relative : Measured
        The change as a share of the size before, in percent.
    """

    edge: str
    place: str
    before: Measured
    after: Measured
    change: Measured
    relative: Measured

    @property
    def name(self) -> str:
        """Edge and place in one."""
        return f"{self.edge}, {self.place}"


def subtract_readings(after: Measured, before: Measured) -> Measured:
    r"""Subtract a reading from a later one, doubts taken as independent unless they are known to last.

    Parameters
    ----------
    after, before : Measured
        Of the same kind; temperatures give a difference in kelvin.

    Returns
    -------
    Measured
        In the unit of ``after``.

    Notes
    -----
    .. math:: u^2(d) = u^2(a) + u^2(b)

    GUM 5.1.2 with sensitivities +1 and -1 and no correlation, but for the correction of one check that both
    carry (GUM F.1.2.3); the effective degrees of freedom follow Welch and Satterthwaite (GUM G.4).

    Examples
    --------
    >>> from bench.units import Q_
    >>> a = from_expanded(Q_(4.43, "mm"), Q_(0.03, "mm"), cause="reading")
    >>> b = from_expanded(Q_(4.41, "mm"), Q_(0.04, "mm"), cause="reading")
    >>> d = subtract_readings(a, b)
    >>> print(f"{d.value.magnitude:.2f} ± {d.expanded().magnitude:.2f} mm")
    0.02 ± 0.05 mm
    """
    return _of_moment(_without_offset(after), "after") - _of_moment(_without_offset(before), "before")


def _of_moment(measured: Measured, moment: str) -> Measured:
    named = tuple(
        c if c.is_lasting else replace(c, cause=f"{c.cause}, {moment}") for c in measured.components
    )
    return Measured(measured.value, named, measured.source)


def _without_offset(measured: Measured) -> Measured:
    """Give a temperature in kelvin, so that it can be subtracted; anything else as it is."""
    if not measured.value.check("[temperature]"):
        return measured
    parts = tuple(replace(c, u=c.u.to("kelvin")) for c in measured.components)
    return Measured(measured.value.to("kelvin"), parts, measured.source)


def compare_with_plan(planned: PlannedValue, measured: Measured) -> Comparison:
    """Hold a measured value against the planned one.

    Parameters
    ----------
    planned : PlannedValue
        A plan without a stated uncertainty is taken as it stands, so that the doubt of the
        difference is that of the reading alone.
    measured : Measured
        What came out.

    Returns
    -------
    Comparison

    Raises
    ------
    UnitMismatch
        The two are of different kinds.
    """
    to_float(measured.value, str(planned.value.units), field=f"measured {planned.label}")
    expected = Measured(planned.value, (), planned.source)
    if planned.uncertainty is not None:
        expected = from_expanded(planned.value, planned.uncertainty, cause="plan", source=planned.source)
    difference = subtract_readings(measured, expected)
    plain = _without_offset(measured)
    judged = judge_difference(difference)
    if judged is Agreement.UNKNOWN and _is_count(planned.value) and _is_count(measured.value):
        judged = Agreement.HIGHER if difference.value.magnitude > 0 else Agreement.LOWER
    return Comparison(planned, plain, difference, judged)


def _is_count(value: Quantity) -> bool:
    """Tell whether a value is a whole number of things, which is counted without doubt."""
    return value.dimensionless and value.units == Q_(1, "").units and float(value.magnitude).is_integer()


def judge_difference(difference: Measured) -> Agreement:
    """Say whether a difference is within its expanded uncertainty (about 95 %), above or below.

    Where neither side carries a doubt, a difference other than zero cannot be judged.
    """
    value = float(difference.value.magnitude)
    spread = float(difference.expanded().to(difference.value.units).magnitude)
    if spread == 0 and value != 0:
        return Agreement.UNKNOWN
    # Readings come in decimal steps: a difference equal to its doubt must not fall to rounding.
    if abs(value) <= spread * (1 + 1e-9) + 1e-12:
        return Agreement.AGREES
    return Agreement.HIGHER if value > 0 else Agreement.LOWER


def compare_all(
    planned: Sequence[PlannedValue], measured: Mapping[str, Measured]
) -> tuple[tuple[Comparison, ...], tuple[PlannedValue, ...]]:
    """Hold every planned value against what was measured under its name.

    Returns
    -------
    compared : tuple of Comparison
    left : tuple of PlannedValue
        Planned, but not measured.
    """
    compared = tuple(compare_with_plan(p, measured[p.key]) for p in planned if p.key in measured)
    return compared, tuple(p for p in planned if p.key not in measured)


def compare_sizes(before: Examination, after: Examination) -> tuple[EdgeChange, ...]:
    """Work out the change of every edge that was read at the same place before and after.

    The relative change and its doubt are those of :func:`bench.physics.size_change.measure_size_change`.
    """
    pairs = (("width", before.widths, after.widths), ("height", before.heights, after.heights))
    return tuple(
        _edge_change(edge, place, old[place], new[place])
        for edge, old, new in pairs
        for place in old
        if place in new
    )


def _edge_change(edge: str, place: str, before: Measured, after: Measured) -> EdgeChange:
    share = measure_size_change(before, after).change
    return EdgeChange(edge, place, before, after, subtract_readings(after, before), in_percent(share))


def in_percent(share: Measured) -> Measured:
    """Give a plain share in percent."""
    parts = tuple(replace(c, u=c.u.to("percent")) for c in share.components)
    return Measured(share.value.to("percent"), parts, share.source)


def compare_thicknesses(before: Thicknesses, after: Thicknesses) -> dict[str, Measured]:
    """Give after less before for every place that was read both times."""
    old, new = before.places(), after.places()
    return {place: subtract_readings(new[place], old[place]) for place in old if place in new}


SEVERITIES = ("none", "just visible", "plain", "loss")


@dataclass(frozen=True)
class Sighting:
    """A defect as it was seen once.

    Attributes
    ----------
    cycle : int
        After which cycle; 0 before any.
    severity : int
        0 none, 1 just visible, 2 plain, 3 loss of function or legibility.
    size : Quantity or None
        Its longer side, if measured.
    """

    cycle: int
    severity: int
    size: Quantity | None = None

    def __post_init__(self) -> None:
        if self.severity not in (0, 1, 2, 3):
            raise BadValue("severity", self.severity, "0, 1, 2 or 3", "Choose a grade of severity")
        if self.size is not None:
            to_float(self.size, "mm", field="size of the defect", low=0, high=1000)


@dataclass(frozen=True)
class DefectCourse:
    """One defect through the treatment.

    Attributes
    ----------
    defect : str
        Its id.
    term, face : str
        Standard term, and where it is.
    helped_by : str
        ``"clean"``, ``"humidify and press"`` or ``"none"``.
    in_scope : bool
        Whether the owner wants it treated.
    limits_outcome : bool
        Whether it limits what can be reached.
    sightings : tuple of Sighting
        In order of their cycles; the first is the state before treatment.
    """

    defect: str
    term: str
    face: str
    helped_by: str
    in_scope: bool
    sightings: tuple[Sighting, ...]
    limits_outcome: bool = False

    def __post_init__(self) -> None:
        cycles = [s.cycle for s in self.sightings]
        if not cycles or cycles[0] != 0 or sorted(set(cycles)) != cycles:
            remedy = "Give one sighting before treatment (cycle 0) and one after each cycle"
            raise BadValue(f"sightings of {self.defect}", cycles, "0 first, then rising", remedy)

    @property
    def name(self) -> str:
        """Id, term and face in one."""
        return f"{self.defect} {self.term}, {self.face}"

    @property
    def counts(self) -> bool:
        """Whether it decides about another cycle: in scope, and pressing could help it."""
        return self.in_scope and self.helped_by == "humidify and press"

    @property
    def before(self) -> Sighting:
        """As it was before treatment."""
        return self.sightings[0]

    @property
    def last(self) -> Sighting:
        """As it was last seen."""
        return self.sightings[-1]

    def after(self, cycle: int) -> Sighting | None:
        """Give the sighting after a cycle, or None if nobody looked again."""
        return next((s for s in self.sightings if s.cycle == cycle), None)

    def seen_as(self, cycle: int, severity: int | None) -> DefectCourse:
        """Give the course with another grade after a cycle, its size kept; None if nobody looked."""
        known = self.after(cycle)
        others = tuple(s for s in self.sightings if s.cycle != cycle)
        if severity is None:
            return replace(self, sightings=others)
        seen = Sighting(cycle, severity, known.size if known else None)
        return replace(self, sightings=tuple(sorted((*others, seen), key=lambda s: s.cycle)))

    def amount(self, sighting: Sighting) -> float:
        """Weigh a sighting: its grade, times its size as a share of the size before, if both are known.

        A convention that makes gains comparable, no measurement: a crease that goes from grade 2
        and 60 mm to grade 1 and 30 mm goes from 2 to 0.5.
        """
        share = 1.0
        if sighting.size is not None and self.before.size is not None:
            old = float(self.before.size.to("mm").magnitude)
            share = float(sighting.size.to("mm").magnitude) / old if old > 0 else 1.0
        return sighting.severity * share

    def gain(self, cycle: int) -> float | None:
        """Give what a cycle took away, in grades; None if it was not looked at before or after."""
        old, new = self.after(cycle - 1), self.after(cycle)
        return None if old is None or new is None else self.amount(old) - self.amount(new)


def total_gain(courses: Sequence[DefectCourse], cycle: int) -> float | None:
    """Sum what a cycle took away over the defects that count; None if one was not looked at."""
    gains = [course.gain(cycle) for course in courses if course.counts]
    if any(gain is None for gain in gains):
        return None
    return math.fsum(gain for gain in gains if gain is not None)
