"""From readings to a value with an uncertainty, after the GUM (JCGM 100).

A :class:`Measured` is a value with the causes of its doubt kept apart, so that a plan can say
what the doubt comes from.  Causes of the same name are taken as fully correlated (they add with
their sign), different names as independent.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import special

from bench.errors import BadValue
from bench.units import Q_, Quantity, difference_unit, to_float


def coverage_factor(dof: float, level: float = 0.95) -> float:
    """Give the two-sided t-factor for a level of confidence.

    Parameters
    ----------
    dof : float
        Degrees of freedom, above 0; infinity gives the normal factor.
    level : float
        For example 0.95.

    Returns
    -------
    float

    Notes
    -----
    Student's t as GUM annex G prescribes; fractional degrees of freedom are not truncated.

    Examples
    --------
    >>> print(f"{coverage_factor(4):.3f}")  # five readings
    2.776
    """
    tail = 0.5 + level / 2
    return float(special.ndtri(tail) if math.isinf(dof) else special.stdtrit(dof, tail))


@dataclass(frozen=True)
class Component:
    """One cause of doubt.

    Attributes
    ----------
    cause : str
        In words, e.g. ``"repeat readings, text block"``.
    u : Quantity
        Standard uncertainty times its sensitivity, with sign, in the unit of the value.
    dof : float
        Degrees of freedom; infinity for a limit that is taken as known.
    is_lasting : bool
        Whether it is the same at every moment, such as that of a correction which all readings carry: it
        cancels in a difference of before and after.
    """

    cause: str
    u: Quantity
    dof: float = math.inf
    is_lasting: bool = False


@dataclass(frozen=True)
class Measured:
    """A value and the causes of its doubt.

    Attributes
    ----------
    value : Quantity
        Best estimate.
    components : tuple of Component
        One for each cause.
    source : str
        Where it comes from, in words: ``"caliper, n = 5"``, ``"typical value"``.
    """

    value: Quantity
    components: tuple[Component, ...] = ()
    source: str = ""

    @property
    def unit(self) -> str:
        """Unit of the value."""
        return str(self.value.units)

    @property
    def _unit_of_doubt(self) -> Any:
        """Unit of the value; of a temperature in degrees, that in which two of them differ."""
        units = self.value.units
        return difference_unit(f"{units}") if self.value.check("[temperature]") else units

    def _variances(self) -> np.ndarray:
        unit = self._unit_of_doubt
        return np.array([float(c.u.to(unit).magnitude) ** 2 for c in self.components])

    @property
    def standard(self) -> Quantity:
        """Combined standard uncertainty, in the unit of the value; of a temperature, as a difference."""
        return Q_(math.sqrt(float(self._variances().sum())), self._unit_of_doubt)

    @property
    def dof(self) -> float:
        """Effective degrees of freedom (Welch and Satterthwaite, GUM G.4)."""
        variances = self._variances()
        weight = sum(v**2 / c.dof for v, c in zip(variances, self.components, strict=True))
        return float(variances.sum() ** 2 / weight) if weight > 0 else math.inf

    def expanded(self, level: float = 0.95) -> Quantity:
        """Give the expanded uncertainty for a level of confidence, in the unit of the value."""
        return coverage_factor(self.dof, level) * self.standard

    def interval(self, level: float = 0.95) -> tuple[Quantity, Quantity]:
        """Interval that covers the value with the level of confidence."""
        spread = self.expanded(level)
        return self.value - spread, self.value + spread

    def chance_above(self, limit: Quantity) -> float:
        """Chance that the true value lies above a limit, 0 to 1.

        Student's t with the effective degrees of freedom around the best estimate; a value
        without doubt gives 0 or 1.
        """
        distance = float((self.value - limit).to(self.value.units).magnitude)
        spread = float(self.standard.magnitude)
        if spread == 0:
            return 1.0 if distance > 0 else 0.0
        ratio = distance / spread
        return float(special.ndtr(ratio) if math.isinf(self.dof) else special.stdtr(self.dof, ratio))

    def relative(self) -> float:
        """Give the expanded uncertainty as a share of the value, which is not zero."""
        return abs(float((self.expanded() / self.value).to("").magnitude))

    def shares(self) -> dict[str, float]:
        """Share of the variance that each cause contributes, largest first; sums to 1."""
        variances = self._variances()
        total = variances.sum()
        if total == 0:
            return {}
        pairs = {c.cause: float(v / total) for c, v in zip(self.components, variances, strict=True)}
        return dict(sorted(pairs.items(), key=lambda pair: -pair[1]))

    def times(self, factor: float) -> Measured:
        """Multiply by a number that carries no doubt."""
        scaled = tuple(replace(c, u=factor * c.u) for c in self.components)
        return Measured(factor * self.value, scaled, self.source)

    def __add__(self, other: Measured) -> Measured:
        return _combine(self, other, +1)

    def __sub__(self, other: Measured) -> Measured:
        return _combine(self, other, -1)


def _combine(first: Measured, second: Measured, sign: int) -> Measured:
    unit = first.value.units
    merged: dict[str, Component] = {c.cause: c for c in first.components}
    for component in second.components:
        u = sign * component.u.to(unit)
        if component.cause in merged:
            known = merged[component.cause]
            merged[component.cause] = replace(known, u=known.u + u, dof=min(known.dof, component.dof))
        else:
            merged[component.cause] = replace(component, u=u)
    value = first.value + sign * second.value.to(unit)
    return Measured(value, tuple(merged.values()), first.source)


def exactly(value: Quantity) -> Measured:
    """Take a value as known without doubt."""
    return Measured(value)


def from_expanded(value: Quantity, expanded: Quantity, *, cause: str, source: str = "") -> Measured:
    """Take a value with a stated 95 % uncertainty (normal, k = 1.96)."""
    return Measured(value, (Component(cause, expanded / coverage_factor(math.inf)),), source)


def from_limits(value: Quantity, low: Quantity, high: Quantity, *, cause: str, source: str = "") -> Measured:
    """Take a value known only between limits (rectangular, GUM 4.3.7: half width over root 3).

    The value need not be the middle; the larger of the two half widths is used, so that doubt is
    not understated on the wide side.
    """
    unit = value.units
    below = float((value - low).to(unit).magnitude)
    above = float((high - value).to(unit).magnitude)
    if below < 0 or above < 0:
        raise BadValue(cause, f"{value:~P}", f"{low:~P} to {high:~P}", "Put the value between its limits")
    return Measured(value, (Component(cause, Q_(max(below, above) / math.sqrt(3), unit)),), source)


def estimate_from_readings(
    readings: Sequence[Quantity],
    *,
    place: str,
    instrument_limit: Quantity,
    resolution: Quantity,
    typical_repeatability: Quantity | None = None,
    moment: str = "",
    source: str = "",
) -> Measured:
    """Turn repeated readings at one place into a value with its uncertainty.

    Parameters
    ----------
    readings : sequence of Quantity
        One or more readings of the same quantity.
    place : str
        Where, for the names of the causes; doubts of different places are independent.
    instrument_limit : Quantity
        Largest error the maker allows (plus or minus); rectangular.
    resolution : Quantity
        Smallest step shown; rectangular over one step.
    typical_repeatability : Quantity, optional
        Standard deviation to assume when there is only one reading; by default 1.5 % of the
        reading (from memory of repeated caliper readings on soft paper; not a citation).
    moment : str
        When, if the same place is read again later: readings of two moments are independent too,
        and their doubts must not cancel in the difference.
    source : str
        Instrument and load in words.

    Returns
    -------
    Measured

    Raises
    ------
    BadValue
        No readings, or a reading that is not above zero.

    Notes
    -----
    Type A: s / sqrt(n) with n - 1 degrees of freedom (GUM 4.2).  Type B: limit / sqrt(3)
    (GUM 4.3.7) and step / sqrt(12) (GUM F.2.2.1).

    Examples
    --------
    >>> five = [Q_(v, "mm") for v in (4.40, 4.42, 4.41, 4.39, 4.41)]
    >>> m = estimate_from_readings(five, place="text block", instrument_limit=Q_(0.02, "mm"),
    ...                            resolution=Q_(0.01, "mm"))
    >>> print(f"{m.value.magnitude:.3f} ± {m.expanded().magnitude:.3f} mm")
    4.406 ± 0.026 mm
    """
    if not readings:
        raise BadValue(
            f"readings at {place}", "empty", "one reading or more", "Measure, or use typical values"
        )
    unit = readings[0].units
    values = np.array([to_float(r, str(unit), field=f"reading at {place}") for r in readings])
    if (values <= 0).any():
        bad = f"{values[values <= 0][0]:g} {unit:~P}"
        raise BadValue(f"reading at {place}", bad, "above zero", "Zero the instrument and read again")
    if len(values) > 1:
        scatter, dof = float(values.std(ddof=1)), len(values) - 1.0
    else:
        typical = Q_(0.015 * values[0], unit) if typical_repeatability is None else typical_repeatability
        scatter, dof = to_float(typical, str(unit), field="repeatability", low=0.0), math.inf
    limit = to_float(instrument_limit, str(unit), field="instrument limit", low=0.0)
    step = to_float(resolution, str(unit), field="resolution", low=0.0)
    where = f"{place}, {moment}" if moment else place
    components = (
        Component(f"repeat readings, {where}", Q_(scatter / math.sqrt(len(values)), unit), dof),
        Component(f"instrument, {where}", Q_(limit / math.sqrt(3), unit)),
        Component(f"resolution, {where}", Q_(step / math.sqrt(12), unit)),
    )
    words = source or "readings"
    return Measured(Q_(float(values.mean()), unit), components, f"{words}, n = {len(values)}")


def guard_band(standard: Quantity, conformance: float = 0.95) -> Quantity:
    """Give the margin to keep from a limit so that conformance is as likely as asked.

    One-sided: g = z u (JCGM 106; ISO 14253-1:2017 takes 95 %, from memory).
    """
    return float(special.ndtri(conformance)) * standard


def say_shares(shares: Mapping[str, float], most: int = 3) -> str:
    """Say in words what a doubt comes from, the largest shares first."""
    named = [f"{cause} ({share:.0%})" for cause, share in list(shares.items())[:most] if share >= 0.01]
    return ", ".join(named).replace("%", " %") if named else "nothing that was given"
