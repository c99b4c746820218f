"""A value known only within limits, and what a calculation makes of such values.

Most constants of paper are known to a factor, not to a per cent.  A :class:`Range` carries
the value with the lowest and the highest that are believable, and so does what is made of it.
Everywhere it means the same: the truth lies below the low end once in forty times, and above the high end
once in forty; :func:`draw` says how it is spread between.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypeAlias

import numpy as np

from bench.errors import BadValue
from bench.physics.arrays import Floats
from bench.uncertainty import Measured, coverage_factor
from bench.units import Q_, Quantity, name_of, say_range, to_float, unit_label

Triple: TypeAlias = tuple[float, float, float]


@dataclass(frozen=True)
class Range:
    """A value with the lowest and the highest that are believable: an interval of 95 %, its value the median.

    Attributes
    ----------
    value, low, high : Quantity
        Of one dimension, ``low <= value <= high``.

    Raises
    ------
    BadValue
        The three are not in order.
    UnitMismatch
        The three measure different things, or a bare number came.
    """

    value: Quantity
    low: Quantity
    high: Quantity

    def __post_init__(self) -> None:
        is_bare = not hasattr(self.value, "units")  # it is refused below
        unit = "dimensionless" if is_bare else name_of(self.value)
        value = to_float(self.value, unit, field="value of a range")
        low = to_float(self.low, unit, field="low end of a range")
        high = to_float(self.high, unit, field="high end of a range")
        if not low <= value <= high:
            raise BadValue(
                "range",
                f"{value:g} with {low:g} to {high:g} {unit_label(unit)}",
                "a low end below and a high end above the value",
                "Give low, value and high in that order",
            )

    @classmethod
    def of(cls, numbers: Iterable[float], unit: str) -> Range:
        """Build from value, low and high as plain numbers in one unit."""
        value, low, high = (Q_(float(number), unit) for number in numbers)
        return cls(value, low, high)

    @classmethod
    def spanning(cls, value: float, others: Iterable[float], unit: str) -> Range:
        """Build from a value and from other answers to the same question: its interval reaches them all."""
        reach = [value, *others]
        return cls.of((value, min(reach), max(reach)), unit)

    def floats(self, unit: str, *, field: str, low: float | None = None, high: float | None = None) -> Triple:
        """Give value, low and high as plain floats, each checked against the allowed range."""
        value = to_float(self.value, unit, field=field, low=low, high=high)
        lowest = to_float(self.low, unit, field=f"{field} (low end)", low=low, high=high)
        highest = to_float(self.high, unit, field=f"{field} (high end)", low=low, high=high)
        return value, lowest, highest

    def say(self, unit: str) -> str:
        """Write value and limits with as many digits as the limits carry, e.g. ``27 h (12 to 62)``."""
        return say_range(*self.floats(unit, field="range"), unit_label(unit))


class HasLimits(Protocol):
    """Anything with a value and believable limits, such as a property from the material tables."""

    @property
    def value(self) -> Quantity:
        """The value."""

    @property
    def low(self) -> Quantity | None:
        """Lowest believable value, or None if unknown."""

    @property
    def high(self) -> Quantity | None:
        """Highest believable value, or None if unknown."""


RangeLike: TypeAlias = Quantity | tuple[Quantity, Quantity, Quantity] | HasLimits | Measured


def as_range(given: RangeLike) -> Range:
    """Read a value as a range.

    Parameters
    ----------
    given : Quantity, (value, low, high), Range, Measured, or anything with value, low and high
        A plain quantity is taken as exactly known, and so is an end that is None.  A measured
        value gives its interval of 95 %.

    Examples
    --------
    >>> from bench.units import Q_
    >>> print(as_range((Q_(0.03, ""), Q_(0.01, ""), Q_(0.1, ""))).say(""))
    0.03 (0.01 to 0.10)
    """
    if isinstance(given, Range):
        return given
    if isinstance(given, Measured):
        return Range(given.value, *given.interval())
    if isinstance(given, tuple):
        return Range(*given)
    value: Any = getattr(given, "value", given)  # a bare number is refused by Range, with its reason
    low, high = getattr(given, "low", None), getattr(given, "high", None)
    return Range(value, value if low is None else low, value if high is None else high)


REACH = coverage_factor(math.inf)
"""Standard deviations from the median to either end of an interval of 95 %."""


def draw(given: Triple, deviates: Floats) -> Floats:
    r"""Draw from a range: two halves of a normal distribution that meet at its value.

    Parameters
    ----------
    given : (value, low, high)
        Plain numbers.  A range above zero is drawn over its logarithm, since what is known to a factor is as
        likely twice as large as half; one that begins at zero is never drawn below it.
    deviates : array
        Standard normal deviates, one a draw.

    Returns
    -------
    array
        As many values.  One in forty lies below the low end, one in forty above the high end.

    Notes
    -----
    With :math:`z` the deviate,

    .. math:: x = v + z\,\frac{h - v}{1.96} \;(z > 0), \qquad x = v + z\,\frac{v - l}{1.96} \;(z \le 0)

    (two-piece normal with the value as its median; JCGM 101 [gum]_ leaves the choice of distribution to what
    is known of the quantity).

    Examples
    --------
    >>> print(draw((1.0, 0.5, 4.0), np.array([-REACH, 0.0, REACH])))
    [0.5 1.  4. ]
    """
    value, low, high = given
    if low > 0:
        ends = (math.log(value), math.log(low), math.log(high))
        return np.asarray(np.exp(_two_halves(ends, deviates)))
    drawn = _two_halves(given, deviates)
    return np.maximum(drawn, 0.0) if low == 0 else drawn


def _two_halves(given: Triple, deviates: Floats) -> Floats:
    value, low, high = given
    side = np.where(deviates > 0, high - value, value - low)
    return value + deviates * side / REACH


def join_ends(middle: Floats, ends: Sequence[tuple[str, Floats]]) -> tuple[Floats, Floats, dict[str, Floats]]:
    r"""Join runs with one input at its end each to an interval, the inputs taken as independent.

    Parameters
    ----------
    middle : array
        With every input at its value.
    ends : sequence of (str, array)
        Cause, and the same with that input at one of its ends.

    Returns
    -------
    low, high : array
    squares : dict of str to array
        What each cause adds to the square of the interval.

    Notes
    -----
    .. math:: y_{high} = y + \sqrt{\sum_i \max(0, y_i - y)^2}

    with :math:`y_i` the result with one input at its end and the others at their value, the farther of its
    two, and likewise downwards.  The law of propagation of uncertainty [gum]_ with ends in place of standard
    uncertainties and no linearisation.  Results that range over factors are joined over their logarithm.
    Not valid where one input only matters if another is extreme.
    """
    up: dict[str, Floats] = {}
    down: dict[str, Floats] = {}
    for cause, values in ends:
        step = values - middle
        up[cause] = np.maximum(up.get(cause, np.zeros_like(middle)), step)
        down[cause] = np.maximum(down.get(cause, np.zeros_like(middle)), -step)
    squares = {cause: np.maximum(up[cause], down[cause]) ** 2 for cause in up}
    high = middle + np.sqrt(sum((step**2 for step in up.values()), start=np.zeros_like(middle)))
    low = middle - np.sqrt(sum((step**2 for step in down.values()), start=np.zeros_like(middle)))
    return low, high, squares


def shares_of(squares: dict[str, Floats]) -> dict[str, float]:
    """Rank causes by their share in the square of an interval, those below one in a thousand left out."""
    plain = {cause: float(np.sum(square)) for cause, square in squares.items()}
    total = sum(plain.values())
    order = sorted(plain, key=lambda cause: -plain[cause])
    return {cause: plain[cause] / total for cause in order if total > 0 and plain[cause] > 1e-3 * total}


def spread(function: Callable[..., float], **inputs: Triple) -> Triple:
    """Carry ranges through a calculation, one input at a time; see :func:`join_ends`.

    Parameters
    ----------
    function : callable
        Takes each input by name, gives a float.
    **inputs : (value, low, high)
        Each of whatever the function takes.

    Returns
    -------
    value, low, high : float

    Examples
    --------
    >>> print(spread(lambda a, b: a - b, a=(5.0, 2.0, 8.0), b=(1.0, 1.0, 5.0)))
    (4.0, -1.0, 7.0)
    """
    central = {name: triple[0] for name, triple in inputs.items()}
    middle = np.array(function(**central))
    ends = [
        (name, np.array(function(**{**central, name: end})))
        for name, triple in inputs.items()
        for end in triple[1:]
    ]
    low, high, _ = join_ends(middle, ends)
    return float(middle), float(low), float(high)
