"""Where water comes to rest between an item and the dry sheets and boards put to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from bench.errors import BadValue, OutOfRange
from bench.physics.isotherms import (
    HIGHEST_ACTIVITY,
    Isotherm,
    alternatives,
    isotherm_of,
    solve_rising,
)
from bench.physics.ranges import Range
from bench.physics.sorption import STANDARD_TEMPERATURE, check_activity, check_temperature
from bench.units import Q_, Quantity, to_float, to_humidity


@dataclass(frozen=True)
class Part:
    """One part of a closed stack: the item, its interleaves, the boards.

    Attributes
    ----------
    name : str
        In words, for messages and tables.
    dry_mass : Quantity [mass]
        Above 0.
    paper : str
        Name in the materials table.
    humidity : Quantity [dimensionless] or None
        Relative humidity at which it rested before, 0 to 99 %.
    content : Quantity [dimensionless] or None
        Or its moisture content (dry basis), e.g. from weighing.  Exactly one of the two is given.
    hysteresis : Quantity [dimensionless]
        What it holds above its isotherm when it gives water off, 0 to 0.05 (about 0.01 for
        paper); it gives nothing off until the air is that much drier.
    """

    name: str
    dry_mass: Quantity
    paper: str
    humidity: Quantity | None = None
    content: Quantity | None = None
    hysteresis: Quantity = field(default_factory=lambda: Q_(0.0, ""))

    def __post_init__(self) -> None:
        to_float(self.dry_mass, "g", field=f"dry mass of {self.name}", low=1e-3, high=1e6)
        to_float(self.hysteresis, "dimensionless", field=f"hysteresis of {self.name}", low=0.0, high=0.05)
        if (self.humidity is None) == (self.content is None):
            given = "neither" if self.humidity is None else "both"
            allowed = "either a relative humidity or a moisture content"
            raise BadValue(f"state of {self.name}", given, allowed, "Give exactly one of the two")
        if self.humidity is not None:
            check_activity(self.humidity, field=f"relative humidity of {self.name}")
        else:
            assert self.content is not None
            to_float(
                self.content, "dimensionless", field=f"moisture content of {self.name}", low=0.0, high=3.0
            )


@dataclass(frozen=True)
class RestingWater:
    """Where the water of a closed stack comes to rest.

    Attributes
    ----------
    humidity : Range [percent]
        Relative humidity within the stack.
    gains : tuple of Quantity [g]
        Water that each part takes up, in the order given; below zero it gives water off.  They
        sum to nothing.
    """

    humidity: Range
    gains: tuple[Quantity, ...]


@dataclass(frozen=True)
class _Body:
    """A part on plain numbers, with one choice of isotherm and its moisture content at the start."""

    grams: float
    fit: Isotherm
    start: float
    hysteresis: float

    def content(self, activity: float, celsius: float) -> float:
        """Moisture content at rest, reached from the start: a dead band as wide as the hysteresis."""
        taken = self.fit.content(activity, celsius)
        if taken >= self.start:
            return taken
        return min(self.start, taken + self.hysteresis)


def _body(part: Part, fit: Isotherm, celsius: float) -> _Body:
    if part.content is not None:
        start = float(part.content.to("dimensionless").magnitude)
    else:
        assert part.humidity is not None
        start = fit.content(to_humidity(part.humidity), celsius)
    hysteresis = float(part.hysteresis.to("dimensionless").magnitude)
    return _Body(float(part.dry_mass.to("g").magnitude), fit, start, hysteresis)


def _rest_si(bodies: Sequence[_Body], celsius: float) -> float | None:
    """Find the activity at which the parts hold together the water they brought; None if too much."""
    water = sum(body.grams * body.start for body in bodies)

    def held(activity: float) -> float:
        return sum(body.grams * body.content(activity, celsius) for body in bodies)

    if water > held(HIGHEST_ACTIVITY) * (1 + 1e-12):
        return None
    total = sum(body.grams for body in bodies)
    return solve_rising(lambda a: held(a) / total, water / total, 0.0, HIGHEST_ACTIVITY)


def _variants(parts: Sequence[Part], celsius: float) -> list[list[_Body]]:
    """List the parts with their own isotherms first, then with one exchanged at a time."""
    own = [_body(part, isotherm_of(part.paper), celsius) for part in parts]
    variants = [own]
    for index, part in enumerate(parts):
        for fit in alternatives(part.paper):
            changed = list(own)
            changed[index] = _body(part, fit, celsius)
            variants.append(changed)
    return variants


def _check_parts(parts: Sequence[Part], temperature: Quantity) -> float:
    if not parts:
        raise BadValue("parts of the stack", "none", "one or more", "Name the item and what lies against it")
    return check_temperature(temperature, field="temperature of the stack")


def _refuse_flood(parts: Sequence[Part]) -> OutOfRange:
    names = ", ".join(part.name for part in parts)
    return OutOfRange(
        "water in the stack",
        f"more than {names} hold at 99 %",
        "less",
        "Check the moisture contents, or add dry sheets",
    )


def _estimate(values: Sequence[float | None]) -> Range:
    """Take the first as the value and all as the interval; a flooded variant ends it at 99 %."""
    numbers = [100 * (HIGHEST_ACTIVITY if value is None else value) for value in values]
    return Range.of((numbers[0], min(numbers), max(numbers)), "percent")


def resting_humidity(parts: Sequence[Part], *, temperature: Quantity = STANDARD_TEMPERATURE) -> RestingWater:
    r"""Estimate the humidity at which parts of a closed stack come to rest together.

    Parameters
    ----------
    parts : sequence of Part
        Any number, e.g. item, interleaves, boards.
    temperature : Quantity [temperature]
        Of all parts, before and after, 10 to 70 °C.

    Returns
    -------
    Rest

    Raises
    ------
    NotFound
        A part has no isotherm and none stands in for it.
    BadValue
        No parts.
    OutOfRange
        More water than the parts hold at 99 %.

    Notes
    -----
    .. math:: \sum_i m_i\,[X_i(a) - X_{i,0}] = 0

    Mass balance of water over dry masses :math:`m_i`, each with its isotherm: nothing leaves the stack and it
    comes fully to rest.  The interval exchanges the isotherm of one part at a time for the other published
    fits.  Where several
    parts lie in their dead band of hysteresis the balance has a band of answers and one of them is
    given.

    Examples
    --------
    >>> item = Part("item", Q_(100, "g"), "writing paper", humidity=Q_(98, "percent"))
    >>> sheets = Part("sheets", Q_(100, "g"), "copy paper", humidity=Q_(50, "percent"))
    >>> rest = resting_humidity([item, sheets])
    >>> print(rest.humidity.say("percent"))
    85 % (79 to 91)
    """
    celsius = _check_parts(parts, temperature)
    variants = _variants(parts, celsius)
    values = [_rest_si(bodies, celsius) for bodies in variants]
    own = values[0]
    if own is None:
        raise _refuse_flood(parts)
    gains = tuple(Q_(body.grams * (body.content(own, celsius) - body.start), "g") for body in variants[0])
    return RestingWater(_estimate(values), gains)
