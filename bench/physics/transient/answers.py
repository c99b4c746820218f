"""What the bench asks of a prediction: when, how warm, how dry, what limits it, when it may be released."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.physics.mould import days_used
from bench.physics.transient.history import History, PhaseHistory
from bench.stack import Role
from bench.units import Q_, Quantity, to_float, to_humidity

Floats = NDArray[np.float64]


def first_time(seconds: Floats, values: Floats, level: float, *, rising: bool) -> float | None:
    """Give when (or where) a curve first passes a level upwards or downwards; None if it does not."""
    reached = values >= level if rising else values <= level
    if not bool(reached.any()):
        return None
    index = int(reached.argmax())
    if index == 0:
        return float(seconds[0])
    low, high = values[index - 1 : index + 1]
    share = (level - low) / (high - low)
    return float(seconds[index - 1] + share * (seconds[index] - seconds[index - 1]))


def _during(history: History, phase: str | None, what: str, place: str) -> tuple[Floats, Floats]:
    """Give seconds and values at a place during one phase (from its start) or all."""
    seconds, values = history.seconds, history.series(what, place)
    if phase is None:
        return seconds, values
    part = slice_of(history, phase)
    return seconds[part] - history.phase(phase).start, values[part]


def slice_of(history: History, phase: str) -> slice:
    """Give where a phase lies in the series of a history."""
    wanted, first = history.phase(phase), 0
    for one in history.phases:
        if one is wanted:
            break
        first += len(one.times)
    return slice(first, first + len(wanted.times))


def hours_until(
    history: History, humidity: Quantity, *, place: str = "middle leaf", phase: str | None = None
) -> Quantity | None:
    """Give the hours until a place has become as damp as that, or None if it never does.

    Parameters
    ----------
    history : History
        As the model sees it.
    humidity : Quantity, dimensionless
        To be reached.
    place : str
        One of :data:`bench.physics.transient.history.PLACES`.
    phase : str, optional
        Count from the start of this phase and look no further than its end.

    Returns
    -------
    Quantity [hour] or None

    Raises
    ------
    NotFound
        No such place, or no phase of that name.
    """
    level = to_humidity(humidity)
    seconds, values = _during(history, phase, "activity", place)
    found = first_time(seconds, values, level, rising=True)
    return None if found is None else Q_(found / 3600, "hour")


def minutes_before_loss(
    history: History,
    phase: str,
    *,
    points: Quantity,
    place: str = "first leaf",
) -> Quantity | None:
    """Give how long the outer leaves may lie on the bench before they have dried by so much.

    Parameters
    ----------
    history : History
        With a phase on the bench.
    phase : str
        The one on the bench.
    points : Quantity, dimensionless
        Fall of relative humidity allowed, e.g. 10 %.
    place : str
        ``"first leaf"``, ``"last leaf"``, ``"front cover"`` ...

    Returns
    -------
    Quantity [minute] or None
        None if it does not fall that far within the phase.

    Raises
    ------
    NotFound
        No such place, or no phase of that name.
    """
    fall = to_humidity(points, field="fall of humidity")
    seconds, values = _during(history, phase, "activity", place)
    found = first_time(seconds, values, float(values[0]) - fall, rising=False)
    return None if found is None else Q_(found / 60, "minute")


def dwell_needed(
    history: History, phase: str, *, temperature: Quantity, place: str = "last leaf"
) -> Quantity | None:
    """Give the minutes of a phase until a place is as warm as that, or None if it never is."""
    level = to_float(temperature, "degC", field="temperature wanted", low=0.0, high=100.0)
    seconds, values = _during(history, phase, "celsius", place)
    found = first_time(seconds, values, level, rising=True)
    return None if found is None else Q_(found / 60, "minute")


@dataclass(frozen=True)
class Resting:
    """Humidity within the item at the end of a phase: its mean, and the wettest and driest sheet."""

    mean: Quantity
    wettest: Quantity
    driest: Quantity


def humidity_after(history: History, phase: str) -> Resting:
    """Give the humidity within the item at the end of a phase, such as the night in the press."""
    places = ("mean", "wettest", "driest")
    return Resting(*(Q_(100 * history.after(phase, "activity", place), "percent") for place in places))


def water_moved(history: History, phase: str) -> dict[Role, Quantity]:
    """Give the water that each kind of sheet took up during a phase, g; below zero it gave water off."""
    one = history.phase(phase)
    roles = dict.fromkeys(s.role for s in one.cut.sheets if bool(one.cut.slices.wet[s.cells].all()))
    grams = 1000 * one.cut.area
    return {role: Q_(grams * float(w[-1] - w[0]), "g") for role in roles for w in [one.water(role)]}


def changes_until(history: History, phases: Sequence[str], *, limit: Quantity) -> int | None:
    """Count the changes of sheets until the wettest leaf ends a phase at or below a humidity.

    Parameters
    ----------
    history : History
        With changes of sheets.
    phases : sequence of str
        In order: the first with the first dry sheets, then each with fresh ones.
    limit : Quantity, dimensionless
        Mean humidity to come to or below.

    Returns
    -------
    int or None
        0 if the first set is enough; None if not even the last.
    """
    goal = to_humidity(limit, field="humidity limit")
    for count, name in enumerate(phases):
        if history.after(name, "activity", "wettest") <= goal:
            return count
    return None


RELEASE_DIFFERENCE, RELEASE_WARMTH = Q_(5, "percent"), Q_(2, "delta_degC")
"""Leaves within 5 % RH of each other do not pull, and within 2 K of the room do not sweat; no source."""


def release_time(
    history: History,
    *,
    limit: Quantity,
    room_temperature: Quantity,
    difference: Quantity = RELEASE_DIFFERENCE,
    warmth: Quantity = RELEASE_WARMTH,
) -> Quantity | None:
    """Give the hour from which the item may be released, or None.

    Parameters
    ----------
    history : History
        Of the rest before the release.
    limit : Quantity, dimensionless
        Humidity that no leaf may exceed.
    room_temperature : Quantity [temperature]
        To which the item cools.
    difference : Quantity, dimensionless
        Most between the wettest and the driest leaf.
    warmth : Quantity [temperature difference]
        Most above the room.

    Returns
    -------
    Quantity [hour] or None
        The earliest moment from which all three hold to the end of the history.
    """
    room = to_float(room_temperature, "degC", field="room temperature", low=0.0, high=60.0)
    allowed = to_float(warmth, "delta_degC", field="warmth allowed", low=0.0, high=20.0)
    apart = to_humidity(difference, field="difference of humidity")
    leaves, warm = history.sheets("activity"), history.sheets("celsius")
    good = leaves.max(axis=1) <= to_humidity(limit, field="humidity limit")
    good &= leaves.max(axis=1) - leaves.min(axis=1) <= apart
    good &= warm.max(axis=1) <= room + allowed
    if not good[-1]:
        return None
    last_bad = int(np.flatnonzero(~good)[-1]) if not good.all() else -1
    return Q_(float(history.hours.magnitude[last_bad + 1]), "hour")


LIMITS_IN_WORDS = {
    "source": "the source: give it more area, or stir it",
    "film": "the still air: a small fan, or more room about the item",
    "cover": "the tight cover: nothing but time helps, or opening it",
    "pile": "the thickness of the pile: only time helps",
    "one face": "one closed face: put the item on a mesh or a rack",
}


@dataclass(frozen=True)
class Hindrances:
    """What holds up the uptake of water.

    Attributes
    ----------
    shares : dict of str to float
        Share of each hindrance in the whole, the largest first; they sum to one.
    words : str
        The largest, and what would help.
    """

    shares: dict[str, float]
    words: str


def what_limits(history: History, phase: str) -> Hindrances:
    r"""Say what holds up the exchange of water in a phase: source, film, cover, pile or a closed face.

    Notes
    -----
    Resistances in series for the whole item, s Pa/kg: the source, the films of the open faces, the
    covers, and a third of a path through the pile (the lumped form of the plane sheet).  What a closed
    face costs is the pile's resistance with one face less that with two.
    """
    one = history.phase(phase)
    outside, slices = one.equations.outside, one.cut.slices
    open_faces = [face for face in (0, 1) if outside.vapour[face] > 0]
    if not open_faces:
        allowed = "a phase with at least one open face"
        raise BadValue(
            "open faces", f"none in {phase}", allowed, "Ask of a phase in which air gets to the item"
        )
    parts = dict.fromkeys(("source", "film", "cover", "pile", "one face"), 0.0)
    parts["source"] = 1 / outside.chamber[0] if outside.chamber is not None else 0.0
    number = len(open_faces)
    films = [1 / outside.vapour[f] - float(slices.half_vapour[(0, -1)[f]]) for f in open_faces]
    parts["film"] = sum(films) / number**2
    covers = _resistances(one, Role.COVER)
    pile = sum(_resistances(one, Role.LEAF)) / 3
    parts["cover"] = sum(covers) / max(1, len(covers)) / number
    parts["pile"] = pile / 4
    if number == 1:
        parts["one face"] = pile - pile / 4
    total = sum(parts.values())
    shares = {k: v / total for k, v in sorted(parts.items(), key=lambda pair: -pair[1]) if v > 0}
    first = next(iter(shares))
    return Hindrances(
        shares, f"What holds it up most ({100 * shares[first]:.0f} %) is {LIMITS_IN_WORDS[first]}."
    )


def _resistances(one: PhaseHistory, role: Role) -> list[float]:
    slices = one.cut.slices
    return [2 * float(slices.half_vapour[s.cells].sum()) for s in one.cut.sheets if s.role is role]


@dataclass(frozen=True)
class TakeOut:
    """When to take the item out of the chamber.

    Attributes
    ----------
    earliest : Quantity [hour] or None
        The middle leaf is as damp as wanted; None if it never is.
    latest : Quantity [hour]
        A share of the days that the strict rule on mould allows is used up, or the phase ends.
    words : str
        The same in a sentence.
    """

    earliest: Quantity | None
    latest: Quantity
    words: str


def take_out_window(
    history: History,
    phase: str,
    *,
    wanted: Quantity,
    mould_share: Quantity = Q_(50, "percent"),  # noqa: B008 - a quantity does not change
) -> TakeOut:
    """Give the earliest and the latest sensible time to take the item out of the chamber.

    Parameters
    ----------
    history : History
        With a phase in the chamber.
    phase : str
        The one in the chamber.
    wanted : Quantity, dimensionless
        Humidity that the middle leaf should reach.
    mould_share : Quantity, dimensionless
        Share of the strict rule's days [mould-days]_ that the chamber may use up; the hours in the
        press, still damp, take their share later.

    Returns
    -------
    TakeOut
    """
    earliest = hours_until(history, wanted, place="middle leaf", phase=phase)
    share = to_humidity(mould_share, field="share of the days for mould")
    used, seconds = [0.0], [0.0]
    for step in history.steps("wettest", phases=[phase]):
        used.append(used[-1] + days_used(step.hours, step.celsius, step.fraction))
        seconds.append(seconds[-1] + step.hours * 3600)
        if used[-1] >= share:  # what comes after does not matter
            break
    found = first_time(np.array(seconds), np.array(used), share, rising=True)
    latest = Q_((seconds[-1] if found is None else found) / 3600, "hour")
    if earliest is None:
        words = "The middle leaf does not get that damp in this time."
    elif earliest > latest:
        words = "By the time the middle leaf is damp, the time for mould is used up: open the chamber sooner."
    else:
        words = f"Take it out between {earliest.magnitude:.0f} and {latest.magnitude:.0f} h."
    return TakeOut(earliest, latest, words)
