r"""Mould: how far a history of damp hours has gone, by three sources that disagree.

- the VTT growth index: 0 nothing, 1 first growth seen under a microscope, 3 growth seen by eye,
  6 the surface overgrown;
- the share used up of the days that museum rules of thumb allow;
- the hours on the clock of a disaster rule (above 60 % RH and 21 °C, water-damaged stock).

None of them knows the item.  Dirt, old mould, starch and glue shorten all times.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from bench.errors import NotFound
from bench.physics.exposure import Exposure, hours_above, read_history
from bench.units import Q_, Quantity

CLOCK_LIMIT = Q_(48, "hour")
"""Hours above 60 % RH and 21 °C in still air, after which mould on wet stock is all but certain.

The disaster clock [nps-disaster]_, written for water-damaged stock: stricter than a dry item needs.
"""


@dataclass(frozen=True)
class _Class:
    """Constants of one class of sensitivity [ojanen2010]_."""

    slow: float  # k1 while M < 1
    fast: float  # k1 from M = 1
    a: float
    b: float
    c: float
    lowest: float  # % RH
    decline: float  # relative to pine


CLASSES = {
    "very sensitive": _Class(1.0, 2.0, 1.0, 7.0, 2.0, 80.0, 1.0),
    "sensitive": _Class(0.578, 0.386, 0.3, 6.0, 1.0, 80.0, 0.5),
    "medium resistant": _Class(0.072, 0.097, 0.0, 5.0, 1.5, 85.0, 0.25),
    "resistant": _Class(0.033, 0.014, 0.0, 3.0, 1.0, 85.0, 0.1),
}
"""Sensitivity classes; sized, starched or soiled paper belongs in ``"very sensitive"``."""

DAY_RULES = {
    "strict": ((70.0, 100.0), (80.0, 10.0), (90.0, 2.0)),
    "milder": ((75.0, 100.0), (80.0, 30.0), (90.0, 5.0), (100.0, 2.0)),
}
"""Days until mould is seen, by % RH, at 25 to 30 °C on susceptible materials, both from memory.

*Strict*: museum chapter of a handbook of air conditioning and conservation notes, medium
confidence [mould-days]_.  *Milder*: a curve of the same school with low confidence
[mould-curve]_.
"""

_STEEP = 2.3  # how the growth levels off towards its ceiling [hukka1999]_
_NO_GROWTH_BELOW = 65.0  # % RH: none of the rules sees growth below 60 to 65 %


@dataclass(frozen=True)
class MouldOutlook:
    """Three readings of one history, side by side.

    Attributes
    ----------
    index : Quantity, dimensionless
        VTT growth index, 0 to 6; 1 is first growth under a microscope.
    share_of_days : Quantity, dimensionless
        Share of the days that the strict rule allows; 1 is used up.
    share_of_days_milder : Quantity, dimensionless
        The same by the milder rule.
    clock : Quantity [hour]
        Hours above 60 % RH and above 21 °C, against :data:`CLOCK_LIMIT`.
    """

    index: Quantity
    share_of_days: Quantity
    share_of_days_milder: Quantity
    clock: Quantity


def _class(sensitivity: str) -> _Class:
    try:
        return CLASSES[sensitivity]
    except KeyError:
        raise NotFound(
            "sensitivity", repr(sensitivity), ", ".join(CLASSES), "Take the most sensitive part of the item"
        ) from None


def _critical_percent(celsius: float, kind: _Class) -> float:
    if celsius > 20:
        return kind.lowest
    cubic = ((-0.00267 * celsius + 0.160) * celsius - 3.13) * celsius + 100
    return max(cubic, kind.lowest)


def _ceiling(celsius: float, percent: float, kind: _Class) -> float:
    """Largest index that these conditions lead to."""
    critical = _critical_percent(celsius, kind)
    excess = (critical - percent) / (critical - 100)
    return kind.a + kind.b * excess - kind.c * excess**2


def _rate(celsius: float, percent: float) -> float:
    """Index per day on planed pine, before the factors of class and ceiling."""
    return math.exp(0.68 * math.log(celsius) + 13.9 * math.log(percent) - 66.02) / 7


def _can_grow(celsius: float, percent: float, kind: _Class) -> bool:
    return 0 < celsius <= 50 and percent >= _critical_percent(celsius, kind)


def _grow(index: float, rate: float, ceiling: float, days: float) -> float:
    r"""Solve dM/dt = rate (1 - exp(2.3 (M - ceiling))) exactly over some days.

    With y = exp(-2.3 (M - ceiling)) - 1 it becomes dy/dt = -2.3 rate y.
    """
    if index >= ceiling:
        return index
    left = math.expm1(_STEEP * (ceiling - index)) * math.exp(-_STEEP * rate * days)
    return ceiling - math.log1p(left) / _STEEP


def _days_to(index: float, goal: float, rate: float, ceiling: float) -> float:
    """Invert :func:`_grow`; infinite if the ceiling is not above the goal."""
    if index >= goal:
        return 0.0
    if goal >= ceiling:
        return math.inf
    ratio = math.expm1(_STEEP * (ceiling - index)) / math.expm1(_STEEP * (ceiling - goal))
    return math.log(ratio) / (_STEEP * rate)


def _step(index: float, dry: float, step: Exposure, kind: _Class) -> tuple[float, float]:
    """Carry index and hours since growth stopped over one step of a history."""
    celsius, percent = step.celsius, 100 * step.fraction
    if not _can_grow(celsius, percent, kind):
        end = dry + step.hours
        fall = 0.032 * (min(end, 6.0) - min(dry, 6.0)) + 0.016 * (max(end, 24.0) - max(dry, 24.0))
        return max(0.0, index - kind.decline * fall / 24), end
    rate, ceiling, days = _rate(celsius, percent), _ceiling(celsius, percent, kind), step.hours / 24
    if index < 1:
        until = _days_to(index, 1.0, kind.slow * rate, ceiling)
        if until >= days:
            return _grow(index, kind.slow * rate, ceiling, days), 0.0
        index, days = 1.0, days - until
    return _grow(index, kind.fast * rate, ceiling, days), 0.0


def growth_index(history: Iterable[Exposure], *, sensitivity: str = "very sensitive") -> Quantity:
    r"""Give the VTT mould index after a history that starts clean.

    Parameters
    ----------
    history : iterable of Exposure
        In the order of time.
    sensitivity : str
        A key of :data:`CLASSES`.

    Returns
    -------
    Quantity, dimensionless
        0 to 6; 1 is first growth under a microscope, 3 is seen by eye.

    Raises
    ------
    BadValue
        Something in it is not an :class:`Exposure`.
    NotFound
        No such class of sensitivity.

    Notes
    -----
    .. math:: \frac{dM}{dt} = \frac{k_1 k_2}{7 \exp(-0.68 \ln T - 13.9 \ln RH + 66.02)}

    per day, *T* in °C, RH in per cent, :math:`k_2 = \max(0, 1 - e^{2.3(M - M_{max})})`
    [hukka1999]_, classes and ceiling :math:`M_{max}` of [ojanen2010]_ (read in an open
    implementation, not in print); wood terms left out.  Between growing spells the index falls
    by 0.032 a day for 6 h, stands until 24 h, then falls by 0.016 a day, times the factor of
    the class.  Each step is solved exactly.

    Made for wood and building boards at 5 to 40 °C (from memory); for paper it is an analogy.

    Examples
    --------
    >>> day = Exposure(Q_(24, "hour"), Q_(20, "degC"), Q_(98, "percent"))
    >>> print(f"{growth_index([day]).magnitude:.2f}")
    0.11
    """
    kind = _class(sensitivity)
    index, dry = 0.0, 0.0
    for step in read_history(history):
        index, dry = _step(index, dry, step, kind)
    return Q_(index, "")


def _days_si(percent: float, points: tuple[tuple[float, float], ...]) -> float:
    if percent < _NO_GROWTH_BELOW:
        return math.inf
    if percent >= points[-1][0]:
        return points[-1][1]
    upper = next(i for i in range(1, len(points)) if percent < points[i][0])
    (h1, d1), (h2, d2) = points[upper - 1], points[upper]
    return d1 * (d2 / d1) ** ((percent - h1) / (h2 - h1))


def share_of_days(history: Iterable[Exposure], *, rule: str = "strict") -> Quantity:
    """Give the share used up of the days that a rule of thumb allows, step by step added.

    Parameters
    ----------
    history : iterable of Exposure
        In any order: nothing is forgotten in dry spells.
    rule : str
        A key of :data:`DAY_RULES`.

    Returns
    -------
    Quantity, dimensionless
        1 means used up.

    Raises
    ------
    BadValue
        Something in it is not an :class:`Exposure`.
    NotFound
        No such rule.

    Examples
    --------
    >>> day = Exposure(Q_(24, "hour"), Q_(22, "degC"), Q_(98, "percent"))
    >>> print(share_of_days([day]).magnitude)
    0.5
    """
    if rule not in DAY_RULES:
        raise NotFound("rule", repr(rule), ", ".join(DAY_RULES), "Choose one of these")
    used = (days_used(step.hours, step.celsius, step.fraction, rule) for step in read_history(history))
    return Q_(math.fsum(used), "")


def days_used(hours: float, celsius: float, fraction: float, rule: str = "strict") -> float:
    """Give the share of a rule's days that one step uses up, in plain numbers; see :func:`share_of_days`."""
    return hours / 24 / _days_si(100 * fraction, DAY_RULES[rule]) if celsius > 0 else 0.0


def assess_mould(history: Iterable[Exposure], *, sensitivity: str = "very sensitive") -> MouldOutlook:
    """Read one history by all three sources, side by side.  They disagree, and the strictest counts.

    Parameters
    ----------
    history : iterable of Exposure
        Chamber, and the hours that the stack stays damp after it, in the order of time.
    sensitivity : str
        A key of :data:`CLASSES`.

    Returns
    -------
    MouldOutlook

    Raises
    ------
    BadValue
        Something in it is not an :class:`Exposure`.
    NotFound
        No such class of sensitivity.
    """
    steps = read_history(history)
    return MouldOutlook(
        growth_index(steps, sensitivity=sensitivity),
        share_of_days(steps),
        share_of_days(steps, rule="milder"),
        hours_above(steps, 0.60, 21.0),
    )
