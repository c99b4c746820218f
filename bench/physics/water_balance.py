"""Where water comes to rest between an item and the dry sheets and boards put to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from bench.errors import BadValue, OutOfRange
from bench.physics.isotherms import (
    HIGHEST_ACTIVITY,
    Isotherm,
    alternatives,
    isotherm_of,
    solve_rising,
)
from bench.physics.ranges import Estimate
from bench.physics.saturation import check_celsius
from bench.units import Q_, Quantity, to_float, to_humidity

_ROOM = Q_(23.0, "degC")
_ASSUMPTION = (
    "Nothing leaves the closed stack and it comes fully to rest; "
    "the interval exchanges the isotherm of one part at a time for the other published fits."
)


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
            activity = to_humidity(self.humidity, field=f"relative humidity of {self.name}")
            if activity > HIGHEST_ACTIVITY:
                came, remedy = f"{100 * activity:g} %", "No isotherm holds nearer to 100 %"
                raise OutOfRange(f"relative humidity of {self.name}", came, "0 to 99 %", remedy)
        else:
            assert self.content is not None
            to_float(
                self.content, "dimensionless", field=f"moisture content of {self.name}", low=0.0, high=3.0
            )


@dataclass(frozen=True)
class Rest:
    """Where the water of a closed stack comes to rest.

    Attributes
    ----------
    humidity : Estimate [percent]
        Relative humidity within the stack.
    gains : tuple of Quantity [g]
        Water that each part takes up, in the order given; below zero it gives water off.  They
        sum to nothing.
    """

    humidity: Estimate
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
    return check_celsius(
        temperature,
        field="temperature of the stack",
        low=10.0,
        high=70.0,
        why="The isotherms are not known there: take a temperature within this range",
    )


def _refuse_flood(parts: Sequence[Part]) -> OutOfRange:
    names = ", ".join(part.name for part in parts)
    return OutOfRange(
        "water in the stack",
        f"more than {names} hold at 99 %",
        "less",
        "Check the moisture contents, or add dry sheets",
    )


def _estimate(values: Sequence[float | None]) -> Estimate:
    """Take the first as the value and all as the interval; a flooded variant ends it at 99 %."""
    numbers = [100 * (HIGHEST_ACTIVITY if value is None else value) for value in values]
    cautions: tuple[str, ...] = ()
    if None in values:
        cautions = ("With one of the published fits the stack is flooded: the interval ends at 99 %.",)
    low, high = (Q_(end(numbers), "percent") for end in (min, max))
    return Estimate(Q_(numbers[0], "percent"), low, high, assumption=_ASSUMPTION, cautions=cautions)


def resting_humidity(parts: Sequence[Part], *, temperature: Quantity = _ROOM) -> Rest:
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
    NotFound, BadValue, UnitMismatch
    OutOfRange
        More water than the parts hold at 99 %.

    Notes
    -----
    .. math:: \sum_i m_i\,[X_i(a) - X_{i,0}] = 0

    Mass balance of water over dry masses :math:`m_i`, each with its isotherm.  Where several
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
    return Rest(_estimate(values), gains)


@dataclass(frozen=True)
class DrySheetChanges:
    """How many sets of dry sheets bring an item below a humidity.

    Attributes
    ----------
    humidities : tuple of Estimate [percent]
        At rest with the first set, the second, ...
    limit : Quantity [percent]
        The humidity to get to.
    count : int or None
        Sets needed (0 if none is needed); None if not reached within the sets allowed.
    best, worst : int or None
        The same with the kindest and the harshest of the published fits.
    """

    humidities: tuple[Estimate, ...]
    limit: Quantity
    count: int | None
    best: int | None
    worst: int | None


def changes_of_dry_sheets(
    item: Sequence[Part],
    sheets: Sequence[Part],
    *,
    limit: Quantity,
    temperature: Quantity = _ROOM,
    most: int = 10,
) -> DrySheetChanges:
    """Estimate how many sets of fresh dry sheets bring an item to rest below a humidity.

    Parameters
    ----------
    item : sequence of Part
        What stays in the stack.
    sheets : sequence of Part
        One set of dry sheets (and boards), each time put in fresh in the same state.
    limit : Quantity [dimensionless]
        Relative humidity to come to or below.
    temperature : Quantity [temperature]
        10 to 70 °C.
    most : int
        Sets after which to stop counting, 1 to 50.

    Returns
    -------
    DrySheetChanges
        The series goes on until even the harshest fit is at the limit, or to ``most``.

    Raises
    ------
    NotFound, BadValue, UnitMismatch
    OutOfRange
        The limit is not above the humidity of the dry sheets: it can never be met.

    Notes
    -----
    The balance of :func:`resting_humidity` for each set in turn.  It takes every set to come fully to
    rest before the next.
    """
    celsius = _check_parts([*item, *sheets], temperature)
    goal = to_humidity(limit, field="humidity limit")
    if not item or not sheets:
        raise BadValue("parts of the stack", "no item or no sheets", "at least one of each", "Name both")
    if not 1 <= most <= 50:
        raise BadValue("sets of dry sheets", most, "1 to 50", "Give a number in this range")
    _check_reachable(sheets, goal, celsius)
    variants = _variants([*item, *sheets], celsius)
    runs = [_Run(bodies[: len(item)], bodies[len(item) :], celsius) for bodies in variants]
    series = [[run.alone() for run in runs]]
    while len(series) <= most and any(a is None or a > goal for a in series[-1]):
        series.append([run.change() for run in runs])
        if series[-1][0] is None:
            raise _refuse_flood([*item, *sheets])
    counts = [
        next((sets for sets, row in enumerate(series) if (a := row[index]) is not None and a <= goal), None)
        for index in range(len(runs))
    ]
    met = [count for count in counts if count is not None]
    return DrySheetChanges(
        humidities=tuple(_estimate(row) for row in series[1:]),
        limit=Q_(100 * goal, "percent"),
        count=counts[0],
        best=min(met, default=None),
        worst=None if None in counts else max(met),
    )


class _Run:
    """An item that meets one fresh set of sheets after another, with one choice of isotherms."""

    def __init__(self, item: Sequence[_Body], sheets: Sequence[_Body], celsius: float) -> None:
        self._item, self._sheets, self._celsius = list(item), list(sheets), celsius

    def alone(self) -> float | None:
        """Activity of the item before any sheet is put in: as it came, so without a dead band."""
        return _rest_si([replace(body, hysteresis=0.0) for body in self._item], self._celsius)

    def change(self) -> float | None:
        """Put in a fresh set, let it rest, keep what the item then holds."""
        bodies = [*self._item, *self._sheets]
        activity = _rest_si(bodies, self._celsius)
        end = HIGHEST_ACTIVITY if activity is None else activity
        held = [body.content(end, self._celsius) for body in bodies]
        # what a flooded stack cannot hold stays with the item
        left = sum(body.grams * (body.start - x) for body, x in zip(bodies, held, strict=True))
        share = left / sum(body.grams for body in self._item) if activity is None else 0.0
        self._item = [
            replace(body, start=x + share)
            for body, x in zip(self._item, held[: len(self._item)], strict=True)
        ]
        return activity


def _check_reachable(sheets: Sequence[Part], goal: float, celsius: float) -> None:
    own = [_body(part, isotherm_of(part.paper), celsius) for part in sheets]
    driest = _rest_si(own, celsius)
    if driest is None or goal <= driest:
        dry = 100 * (HIGHEST_ACTIVITY if driest is None else driest)
        remedy = "Dry the sheets further or raise the limit: they cannot take the item below themselves"
        raise OutOfRange(
            "humidity limit", f"{100 * goal:g} %", f"above that of the sheets, {dry:.0f} %", remedy
        )
