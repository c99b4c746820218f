"""Weighings after the chamber: the moments at which the item lies alone on the balance."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bench.errors import BadValue
from bench.physics.ranges import Range
from bench.physics.transient import Weighing
from bench.treatment.plan import hours
from bench.units import Quantity, to_float

OUT, BENCH, NIGHT, CHANGE, WEIGHT = "out", "bench", "night", "change", "weight"
"""Words for the moments after the chamber; ``change 1`` is when the first fresh sheets come out."""

LONGEST_WEIGHT = 240.0  # h that the rest under weight is followed
_MOST_LOSS = 0.15  # of the first mass; paper from a room holds 0.05 to 0.1 of it as water: judgement
_SIGMAS = 3.0  # a rise or fall by more than this many standard uncertainties is no scatter


@dataclass(frozen=True)
class Later:
    """One weighing of the item, alone and without interleaves, after it left the chamber.

    Attributes
    ----------
    moment : str
        ``out`` of the chamber; ``bench``, as it goes into the press; after the ``night``; ``change 1``,
        ``change 2``, ..., as the fresh sheets of that change come out; under ``weight``.
    mass : Quantity [mass]
        As read.
    under : Quantity [time] or None
        Time under weight, there alone.
    """

    moment: str
    mass: Quantity
    under: Quantity | None = None

    @property
    def grams(self) -> float:
        """Mass in g, a plain number."""
        return to_float(self.mass, "g", field="Weighings", low=0.1, high=1e4)

    @property
    def line(self) -> str:
        """The moment as it is written on a line, e.g. ``weight 24``."""
        return self.moment if self.under is None else f"{self.moment} {_hours(self.under):g}"

    @property
    def phase(self) -> str:
        """The phase that it ends, or for the weight the one that it lies in."""
        return "chamber" if self.moment == OUT else self.moment


@dataclass(frozen=True)
class Damp:
    """How damp the item is at a moment after the chamber; relative humidities in percent.

    Attributes
    ----------
    moment : str
        In words, e.g. ``after the night``.
    name : str
        The moment as it is written on a line, without time.
    when : float
        Hours since the item went in.
    before, now : Range
        Mean of cover and leaves, as believed before weighing and as the weighings leave it.
    wettest : Range
        Of the dampest leaf, as the weighings leave it.
    is_weighed : bool
        Whether the item was weighed then.
    """

    moment: str
    name: str
    when: float
    before: Range
    now: Range
    wettest: Range
    is_weighed: bool


def say_moment(moment: str, under: Quantity | None = None) -> str:
    """Write a moment in words, e.g. ``after the night``."""
    if moment == WEIGHT:
        return "under weight" if under is None else f"after {_hours(under):g} h under weight"
    if moment.startswith(CHANGE):
        return f"after {moment} of the sheets"
    said = {
        OUT: "as it came out of the chamber",
        BENCH: "as it went into the press",
        NIGHT: "after the night",
    }
    return said[moment]


def time_later(later: Sequence[Later], ends: Mapping[str, float]) -> tuple[Weighing, ...]:
    """Give the weighings by their time since the item went in, each phase ending as planned.

    Parameters
    ----------
    later : sequence of Later
        In the order in which they were entered.
    ends : mapping of str to float
        Phase to the hour at which it ends; ``weight`` to that at which it begins.

    Raises
    ------
    BadValue
        A moment that is not planned, or not in the order of time.
    """
    found: list[Weighing] = []
    for number, one in enumerate(later):
        if one.phase not in ends:
            moments = [OUT, *(name for name in ends if name not in ("chamber", "hot", WEIGHT)), WEIGHT]
            allowed = f"{', '.join(moments[:-1])} or {moments[-1]}, as the press is planned"
            remedy = "Plan the press as it was and save that plan, or mend the line"
            raise BadValue("Weighings", repr(one.line), allowed, remedy)
        when = ends[one.phase] + _under(one)
        if found and hours(when) <= found[-1].when:
            came = f"{one.line!r} after {later[number - 1].line!r}"
            allowed = "each moment once, in the order out, bench, night, changes, weight"
            raise BadValue("Weighings", came, allowed, "Put them in the order of the clock")
        found.append(Weighing(hours(when), one.mass))
    return tuple(found)


def check_later(chamber: Sequence[Weighing], later: Sequence[Later], out: float, doubt: float) -> None:
    """Refuse masses that contradict each other.

    Parameters
    ----------
    chamber : sequence of Weighing
        The first as the item went in.
    later : sequence of Later
        In the order of time.
    out : float
        Hours after which it came out.
    doubt : float
        Standard uncertainty of one weighing, g.

    Raises
    ------
    BadValue
        A mass that falls in the chamber or rises after it, or hours in the chamber beyond its end.
    """
    last = to_float(chamber[-1].when, "hour", field="Weighings")
    if last >= out and not (last == out and later[0].moment != OUT):
        came = f"{last:g} h in the chamber, and then {later[0].line!r}"
        allowed = f"hours below the {out:g} h after which it came out"
        remedy = "Set the hours planned to those it was in; the last mass there is written with out"
        raise BadValue("Weighings", came, allowed, remedy)
    first = to_float(chamber[0].mass, "g", field="Weighings")
    scatter = scatter_of(doubt)
    before = to_float(chamber[-1].mass, "g", field="Weighings")
    if later[0].moment == OUT and later[0].grams < before - scatter:
        raise fallen_in_chamber(f"{later[0].grams:g} g with out, after {before:g} g at {last:g} h")
    for number, one in enumerate(later):
        if number and one.grams > later[number - 1].grams + scatter:
            came = f"{one.grams:g} g with {one.line!r}, after {later[number - 1].grams:g} g"
            remedy = "Take every interleaf out before it is weighed, and look for a slip of the pen"
            raise BadValue("Weighings", came, "a mass that does not rise out of the chamber", remedy)
        least = (1 - _MOST_LOSS) * first
        if one.grams < least:
            came = f"{one.grams:g} g with {one.line!r}, from {first:g} g as it went in"
            allowed = f"at least {least:.4g} g: no paper from a room holds more water than that to lose"
            raise BadValue("Weighings", came, allowed, "Look for a slip, or for a part that was left out")


def scatter_of(doubt: float) -> float:
    """Give by how much two weighings of one mass may differ, from the standard uncertainty of one."""
    return _SIGMAS * math.sqrt(2) * doubt


def fallen_in_chamber(came: str) -> BadValue:
    """Make the error of a mass that fell where paper only takes up water."""
    remedy = "Read it again: a cold draught, a hand on the pan, or a slip of the pen"
    return BadValue("Weighings", came, "a mass that does not fall in the chamber", remedy)


def _under(one: Later) -> float:
    if one.under is None:
        return 0.0
    return to_float(one.under, "hour", field="Weighings", low=0.1, high=LONGEST_WEIGHT)


def _hours(time: Quantity) -> float:
    return float(time.to("hour").magnitude)
