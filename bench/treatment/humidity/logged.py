"""A chamber as a logger kept its air: beside the plan, and followed with that air in place of the plan's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue, BenchError
from bench.physics.ranges import Range, join_ends
from bench.physics.transient import Air, History, Open, Phase, SolidBase
from bench.treatment.actual.followed import FollowedChamber
from bench.treatment.actual.logged import LoggedAir
from bench.treatment.actual.observed import Stay
from bench.treatment.actual.seen import AIR_PROBE, HYGROMETER
from bench.treatment.doses import Spent
from bench.treatment.humidity.plan import HumidityPlan
from bench.treatment.humidity.source import HIGHEST_STEP
from bench.treatment.humidity.uptake import Setting, read_smooth, with_inputs_at_ends
from bench.treatment.prediction import LIKELY, LOOSE, follow_once, join_alike
from bench.units import Q_

Floats = NDArray[np.float64]

MOST_BINS = 48
"""Into so many equal parts the time in the chamber is divided: half an hour each of a day."""
_ALIKE, _WARMTH = 0.5, 0.3  # % RH and K within which neighbours are followed as one: far below any doubt
FIRST_HOUR = 1.0
"""In it the air recovers from the open lid: nothing is held against the plan yet."""
LEAST_RUN = 1.0
"""Hours for which the air must stand off the plan to be told of: a look-in is shorter.  Judgement."""
MOST_UNREAD = 0.1
"""Share of the time in the chamber that may be without readings where the leaves are followed: judgement."""
_DOUBT = float(HYGROMETER.to("percent").magnitude)
_WARM_DOUBT = float(AIR_PROBE.to("delta_degC").magnitude)


@dataclass(frozen=True)
class Bins:
    """The logged air in equal parts of the time, each at its mean.

    Attributes
    ----------
    edges : tuple of float
        Hours since the item went in; one more than there are parts.
    percent, celsius : tuple of float
        Means over time, a straight line taken between readings.
    read : tuple of bool
        Whether at least half of the part was read.
    """

    edges: tuple[float, ...]
    percent: tuple[float, ...]
    celsius: tuple[float, ...]
    read: tuple[bool, ...]

    @property
    def middles(self) -> Floats:
        """Hours in the middle of each part."""
        return (np.array(self.edges[:-1]) + np.array(self.edges[1:])) / 2

    def without_likes(self) -> Bins:
        """Make neighbours that hardly differ one: fewer parts to follow, the same mean."""
        groups: list[list[int]] = []
        for k in range(len(self.percent)):
            if groups and self._are_alike([*groups[-1], k]):
                groups[-1].append(k)
            else:
                groups.append([k])
        return Bins(
            (*(self.edges[group[0]] for group in groups), self.edges[-1]),
            tuple(float(np.mean([self.percent[k] for k in group])) for group in groups),
            tuple(float(np.mean([self.celsius[k] for k in group])) for group in groups),
            tuple(any(self.read[k] for k in group) for group in groups),
        )

    def _are_alike(self, group: Sequence[int]) -> bool:
        damp, warm = ([values[k] for k in group] for values in (self.percent, self.celsius))
        return max(damp) - min(damp) <= _ALIKE and max(warm) - min(warm) <= _WARMTH


@dataclass(frozen=True)
class OffPlan:
    """A time over which the air stood off the plan by more than the doubts of both.

    Attributes
    ----------
    begins, ends : float
        Hours since the item went in.
    is_to_the_end : bool
        Whether it lasted as long as the two can be compared.
    points : Range [percent]
        By how many points of per cent it stood higher, on average; below zero where it stood lower.
    """

    begins: float
    ends: float
    is_to_the_end: bool
    points: Range


@dataclass(frozen=True)
class AsLogged:
    """The item followed with the air as it was logged.

    Attributes
    ----------
    hours : array
        Since the item went in.
    mean, core : array
        Relative humidity of the leaves on average, and of the leaf that the damp comes to last, percent:
        likely value and both ends, shape (n, 3).
    spent : Spent
        What that time cost in mould, rust and ageing.
    """

    hours: Floats
    mean: Floats
    core: Floats
    spent: Spent

    @property
    def end_mean(self) -> Range:
        """Average of the leaves at the end."""
        return Range.of(self.mean[-1], "percent")

    @property
    def end_core(self) -> Range:
        """The innermost leaf at the end."""
        return Range.of(self.core[-1], "percent")


@dataclass(frozen=True)
class LoggedChamber:
    """The time in the chamber as a logger kept it, held against its plan.

    Attributes
    ----------
    plan : HumidityPlan
        As it was planned.
    stay : Stay
        From when to when the item was in.
    air : LoggedAir
        Within that time, corrected.
    bins : Bins
        The same in parts.
    off : tuple of OffPlan
        When the air stood off the plan; empty where it stood as planned.
    points, warmer : Range or None
        On average over the time compared, by how many points of per cent it stood higher than planned, and by
        how many kelvin it was warmer; None where the first hour is all that was read.
    gaps, too_damp : tuple of (datetime, datetime)
        Where nothing was read; where the air was damper than any isotherm of paper is known.
    followed : AsLogged or None
        None where the air does not allow it.
    refused : str
        Why not; empty where it does.
    """

    plan: HumidityPlan
    stay: Stay
    air: LoggedAir
    bins: Bins
    off: tuple[OffPlan, ...]
    points: Range | None
    warmer: Range | None
    gaps: tuple[tuple[datetime, datetime], ...]
    too_damp: tuple[tuple[datetime, datetime], ...]
    followed: AsLogged | None
    refused: str = ""

    @property
    def hours(self) -> float:
        """Hours from going in to coming out, or to the last reading before."""
        return self.bins.edges[-1]

    @property
    def counts(self) -> bool:
        """Whether what was followed stands in place of the plan.

        It was followed until it came out, and both times were read: planned ones move with the schedule.
        """
        return self.followed is not None and not self.ends_early and not self.stay.planned

    def hand_on(self, file: str) -> FollowedChamber | None:
        """Give what later stages take in place of the plan; None where the plan's numbers hold.

        Parameters
        ----------
        file : str
            Of the logger, inside the folder of the treatment.
        """
        if self.followed is None or not self.counts:
            return None
        return FollowedChamber(self.plan.cycle, file, self.followed.end_mean, self.followed.spent)

    @property
    def begins_late(self) -> bool:
        """Whether the item was in before the first reading."""
        return self.air.begin - self.stay.begins > self.air.holds

    @property
    def ends_early(self) -> bool:
        """Whether the item was in after the last reading."""
        return self.stay.ends - self.air.end > self.air.holds


def hold_against_plan(plan: HumidityPlan, setting: Setting, air: LoggedAir, stay: Stay) -> LoggedChamber:
    """Hold the air that a logger kept against the plan of the chamber, and follow the item with it.

    Parameters
    ----------
    plan : HumidityPlan
        Of that cycle.
    setting : Setting
        Item and chamber of the plan, as :func:`bench.treatment.humidity.uptake.set_up` gives it.
    air : LoggedAir
        Corrected, and longer than the stay or not.
    stay : Stay
        From when to when the item was in the chamber.

    Raises
    ------
    BadValue
        The logger read nothing, or only one thing, while the item was in.

    Notes
    -----
    The interval of a difference joins the doubt of the hygrometer, which is the same at every reading, and
    that of the plan.  What is followed is :class:`bench.physics.transient.Air` part by part; its interval
    joins the inputs at their ends as in the plan, with the logger's own doubt in place of the source's.
    """
    inside = air.between(stay.begins, stay.ends)
    if len(inside.seconds) < 2:
        allowed = "two readings or more while the item was in the chamber"
        raise BadValue("logged air", "one reading", allowed, "Check the zone and the clock of the logger")
    bins = read_bins(inside, stay)
    shifts, is_compared = _shifts(plan, bins), _is_compared(plan, bins)
    followed, refused = _try_to_follow(setting, bins, inside, stay)
    return LoggedChamber(
        plan=plan,
        stay=stay,
        air=inside,
        bins=bins,
        off=tuple(_runs_off(bins, shifts, is_compared)),
        points=Range.of(shifts[is_compared].mean(axis=0), "percent") if is_compared.any() else None,
        warmer=_warmer(plan, bins, is_compared),
        gaps=tuple(inside.gaps()),
        too_damp=tuple(inside.above(HIGHEST_STEP)),
        followed=followed,
        refused=refused,
    )


def read_bins(air: LoggedAir, stay: Stay, count: int = MOST_BINS) -> Bins:
    """Divide the time from going in to coming out, or to the last reading, into parts, each with its mean.

    Before the first reading the air is taken as at the first, and after the last as at the last.

    Parameters
    ----------
    air : LoggedAir
        Within the stay, two readings or more.
    stay : Stay
        From when to when the item was in.
    count : int
        Of the parts.
    """
    hours = _hours(stay, air.begin) + air.seconds / 3600
    edges = np.linspace(0.0, _hours(stay, min(stay.ends, air.end + air.holds)), count + 1)
    return Bins(
        tuple(edges.tolist()),
        tuple(_means(hours, air.percent, edges).tolist()),
        tuple(_means(hours, air.celsius, edges).tolist()),
        tuple((_unread_by_part(air, stay, edges) <= 0.5).tolist()),
    )


def _means(hours: Floats, values: Floats, edges: Floats) -> Floats:
    """Give means over time between edges, a straight line taken between readings."""
    nodes = np.union1d(hours, edges)
    at = np.interp(nodes, hours, values)
    areas = np.r_[0.0, np.cumsum(np.diff(nodes) * (at[1:] + at[:-1]) / 2)]
    return np.asarray(np.diff(areas[np.searchsorted(nodes, edges)]) / np.diff(edges))


def _unread(air: LoggedAir, stay: Stay) -> list[tuple[float, float]]:
    """Give the hours without readings from going in to the last one: before the first, and in gaps."""
    late = [(stay.begins, air.begin)] if air.begin - stay.begins > air.holds else []
    return [(_hours(stay, begin), _hours(stay, end)) for begin, end in (*late, *air.gaps())]


def _hours(stay: Stay, moment: datetime) -> float:
    return (moment - stay.begins).total_seconds() / 3600


def _unread_by_part(air: LoggedAir, stay: Stay, edges: Floats) -> Floats:
    """Give the share of each part that was not read."""
    lost = np.zeros(len(edges) - 1)
    for begin, end in _unread(air, stay):
        lost += np.clip(np.minimum(edges[1:], end) - np.maximum(edges[:-1], begin), 0.0, None)
    return np.asarray(lost / np.diff(edges))


def _is_compared(plan: HumidityPlan, bins: Bins) -> NDArray[np.bool_]:
    """Tell which parts are held against the plan: read, after the first hour, and as far as the plan goes."""
    middles = bins.middles
    return np.asarray(bins.read) & (middles > FIRST_HOUR) & (middles <= plan.moments[-1].hours)


def _shifts(plan: HumidityPlan, bins: Bins) -> Floats:
    """Give how much higher the air stood than planned, with both ends, percent; shape (parts, 3)."""
    times = [moment.hours for moment in plan.moments]
    planned = np.array([moment.air.floats("percent", field="air") for moment in plan.moments]).T
    value, low, high = (np.interp(bins.middles, times, band) for band in planned)
    shift = np.array(bins.percent) - value
    below, above = np.hypot(_DOUBT, high - value), np.hypot(_DOUBT, value - low)
    return np.stack([shift, shift - below, shift + above], axis=1)


def _runs_off(bins: Bins, shifts: Floats, is_compared: NDArray[np.bool_]) -> list[OffPlan]:
    """Find the times over which the air stood off the plan on one side, one after the other."""
    sides = np.where(shifts[:, 1] > 0, 1, np.where(shifts[:, 2] < 0, -1, 0))
    compared = np.flatnonzero(is_compared)
    found = []
    for side, group in groupby(compared.tolist(), key=lambda k: int(sides[k])):
        parts = list(group)
        begins, ends = max(FIRST_HOUR, bins.edges[parts[0]]), bins.edges[parts[-1] + 1]
        if side and ends - begins >= LEAST_RUN:
            points = Range.of(shifts[parts].mean(axis=0), "percent")
            found.append(OffPlan(begins, ends, parts[-1] == int(compared[-1]), points))
    return found


def _warmer(plan: HumidityPlan, bins: Bins, is_compared: NDArray[np.bool_]) -> Range | None:
    if not is_compared.any():
        return None
    planned = float(plan.choices.air_temperature.to("degC").magnitude)
    shift = float(np.array(bins.celsius)[is_compared].mean()) - planned
    return Range.of((shift, shift - _WARM_DOUBT, shift + _WARM_DOUBT), "delta_degC")


def _try_to_follow(setting: Setting, bins: Bins, air: LoggedAir, stay: Stay) -> tuple[AsLogged | None, str]:
    """Follow the item with the logged air, or say why it cannot be followed."""
    unread = sum(end - begin for begin, end in _unread(air, stay)) / bins.edges[-1]
    if unread > MOST_UNREAD:
        return None, f"nothing was read for {100 * unread:.0f} % of the time"
    try:
        return follow_as_logged(setting, bins), ""
    except BenchError as error:
        return None, str(error).rstrip(".")


def follow_as_logged(setting: Setting, bins: Bins) -> AsLogged:
    """Follow an item with the air as it was logged.

    Parameters
    ----------
    setting : Setting
        Item, its start and what is not known of it, as planned.
    bins : Bins
        The air in parts.  Above 98 % it is taken as 98 %: nothing is known of paper there.

    Raises
    ------
    OutOfRange
        The air is warmer, colder or drier than the model holds for.
    """
    few = bins.without_likes()
    likely = replace(setting.course, phases=phases_as_logged(setting, few, 0.0), tolerance=LIKELY)
    courses = with_inputs_at_ends(likely)
    for shift in (-_DOUBT, _DOUBT):
        moved = replace(likely, phases=phases_as_logged(setting, few, shift), tolerance=LOOSE)
        courses.append(("hygrometer of the logger", moved))
    histories = follow_once(tuple(course for _, course in courses))
    times = np.unique(np.r_[np.geomspace(0.1, 1.0, 8) * min(1.0, bins.edges[-1]), bins.edges[1:]])
    bands = _bands(setting, times, [cause for cause, _ in courses], histories, few)
    spent = Spent.during(join_alike(histories[0].steps("wettest")), sensitivity=setting.choices.sensitivity)
    return AsLogged(times, bands[:, 0], bands[:, 1], spent)


def phases_as_logged(setting: Setting, bins: Bins, shift: float) -> tuple[Phase, ...]:
    """Give what the item goes through in the logged air, part by part.

    Parameters
    ----------
    setting : Setting
        Film of air and open faces, as planned.
    bins : Bins
        The air in parts.
    shift : float
        Points of per cent by which all of it stood higher than the logger showed.
    """
    top = Open(setting.choices.film.value)
    bottom = top if setting.choices.faces == "both" else SolidBase()
    lasting = np.diff(bins.edges)
    return tuple(
        Phase(f"logged {k}", Q_(float(hours), "hour"), _air(celsius, percent + shift), top, bottom)
        for k, (hours, percent, celsius) in enumerate(zip(lasting, bins.percent, bins.celsius, strict=True))
    )


def _air(celsius: float, percent: float) -> Air:
    return Air(Q_(celsius, "degC"), Q_(min(HIGHEST_STEP, percent), "percent"))


def _bands(
    setting: Setting, times: Floats, causes: Sequence[str], histories: Sequence[History], bins: Bins
) -> Floats:
    """Join the runs to intervals, shape (times, 2, 3); none beyond the air itself with its doubt."""
    reads = [
        lambda h: 100 * h.series("activity", "mean"),
        lambda h: 100 * h.series("activity", setting.place),
    ]
    curves = [read_smooth(times, history, reads) for history in histories]
    low, high, _ = join_ends(curves[0], list(zip(causes[1:], curves[1:], strict=True)))
    start = float(setting.choices.start_humidity.to("percent").magnitude)
    least = min(start, min(bins.percent) - _DOUBT)
    most = max(start, min(HIGHEST_STEP, max(bins.percent) + _DOUBT))
    middle = np.clip(curves[0], least, most)
    return np.stack([middle, np.clip(low, least, middle), np.clip(high, middle, most)], axis=2)
