"""Weighings in the chamber and after it read as one: what this paper does, and how damp it still is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.item import Item, Thicknesses
from bench.physics.ranges import Range
from bench.physics.transient import Fit, History
from bench.treatment.humidity.plan import HumidityChoices, Moment
from bench.treatment.humidity.words import say_humidity
from bench.treatment.plan import hours
from bench.treatment.pressing.plan import PressingChoices
from bench.treatment.weighing.doubt import Joint, hours_left, join_doubts, settle, shared_doubts
from bench.treatment.weighing.later import (
    BENCH,
    CHANGE,
    NIGHT,
    OUT,
    WEIGHT,
    Damp,
    Later,
    check_later,
    say_moment,
    time_later,
)
from bench.treatment.weighing.reading import (
    Weighed,
    Weighing,
    believe_scale,
    check_chamber,
    check_count,
    check_first,
    doubt_of,
    find_constants,
    judge,
    off_by,
    rms,
    with_found,
)
from bench.treatment.weighing.through import Through, ranges, read_at, read_gain, set_up_through
from bench.units import Q_, Quantity

Floats = NDArray[np.float64]

_ALIKE = 1.5  # points of relative humidity that are told as no difference: judgement
_AT_REST = 3.0  # points above the room within which an item has come to rest: judgement
_HAIR = 1e-6  # h before the end of a phase, so that what is read lies in it


def read_through(
    item: Item,
    thicknesses: Thicknesses,
    choices: HumidityChoices,
    press: PressingChoices,
    weighings: Sequence[Weighing],
    later: Sequence[Later],
    *,
    balance: Quantity,
) -> Weighed:
    r"""Find from weighings in the chamber and after it what this paper does, and how damp it still is.

    Parameters
    ----------
    item : Item
        As described.
    thicknesses : Thicknesses
        As read before the cycle.
    choices : HumidityChoices
        The chamber as it was, left after the hours planned; what is believed before.
    press : PressingChoices
        The press as planned; its own humidity of the item and its own constants are not read.
    weighings : sequence of Weighing
        In the chamber, the first as it goes in (0 h).
    later : sequence of Later
        After it, one or more, the item weighed alone, in the order of time.
    balance : Quantity [mass]
        Largest error of one weighing, plus or minus, handling included.

    Returns
    -------
    Weighed

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange, NotFound
        Too few weighings, a moment that is not planned, masses that contradict each other.

    Notes
    -----
    As :func:`bench.treatment.weighing.read_weighings`, over one course from the chamber to the weight.
    What may be off in film, cover, source, sheets and in the bend of the isotherm moves many weighings at
    once, after the chamber by more than the balance: the fit takes these doubts as shared by all gains
    (least squares of correlated readings [gum]_), and what is told of the item moves them as far as the
    weighings ask.  First order throughout.
    """
    doubt = doubt_of(balance)
    if not weighings:
        remedy = "Begin with a line of 0 h and the mass as it went in"
        raise BadValue("Weighings", "none as it went in", "a first weighing at 0 h", remedy)
    check_count(len(weighings) + len(later), "Weigh as it goes in, and at two moments later at least")
    check_chamber(weighings, float(doubt.magnitude))
    longest = max((one.under for one in later if one.under is not None), default=hours(0.0))
    before = set_up_through(item, thicknesses, choices, press, longest)
    timed = (*weighings, *time_later(later, before.ends))
    check_later(weighings, later, choices.hours, float(doubt.magnitude))
    check_first(before.setting, weighings[0])
    after = _Learned.of(before, timed, later, doubt)
    told = Weighed(
        weighings=timed,
        doubt=doubt,
        believed=choices.transport_ratio,
        believed_scale=believe_scale(choices),
        fit=after.fit,
        off_before=off_by(before.likely, timed),
        off_after=Q_(after.off_after, "g"),
        hours_before=before.setting.hours_to_wanted(before.setting.place)[0],
        hours_after=after.hours(),
        moments_before=before.moments(),
        moments_after=after.moments(),
        later=tuple(later),
        damp=tuple(after.damp(later)),
    )
    return judge(item, told, _say_damp(told, press))


@dataclass(frozen=True)
class _Learned:
    """An item on its way with the constants that were found, and the doubts that are left.

    ``shift`` is how far each cause was moved that is not fitted, in its standard deviations.
    """

    before: Through
    through: Through
    fit: Fit
    joint: Joint
    shift: Floats

    @classmethod
    def of(
        cls, before: Through, timed: Sequence[Weighing], later: Sequence[Later], doubt: Quantity
    ) -> _Learned:
        """Fit the two constants and join all doubts."""
        choices = before.setting.choices
        times = [one.when for one in timed]
        shared = shared_doubts(before.runs, times)
        fit = find_constants(
            before.until(later[-1].phase), tuple(timed), doubt, tuple(map(tuple, shared.tolist()))
        )
        through = replace(before, setting=with_found(before.setting, fit))
        joint = join_doubts(through.runs, fit, choices.transport_ratio, times, doubt)
        ratio, scale = joint.constants(fit)
        return cls(
            before,
            through,
            replace(fit, transport_ratio=ratio, isotherm_scale=scale),
            joint,
            settle(joint, fit, doubt),
        )

    @property
    def off_after(self) -> float:
        """Root mean square of gain read less gain told, g."""
        residuals = np.array([float(r.to("g").magnitude) for r in self.fit.residuals])
        return rms((residuals - self.joint.jacobian @ self.shift).tolist())

    def hours(self) -> Range | None:
        """Give the hours in the chamber, for which what was moved counts as doubt."""
        setting = self.through.setting
        wider = replace(self.joint, covariance=self.joint.known + np.outer(self.shift, self.shift))
        return hours_left(setting, wider.kept(setting.runs))

    def left(self, read: Callable[[History], Floats], unit: str) -> list[Range]:
        """Give what is read of the histories as the weighings leave it."""
        middle = read(self.through.likely) + self.joint.slopes(read) @ self.shift
        reach = self.joint.reach(read)
        return ranges(middle, middle - reach, middle + reach, unit)

    def moments(self) -> tuple[Moment, ...]:
        """Follow leaves and air over the whole time, gain and mean as the weighings leave them."""
        times = self.through.times()
        gains = self.left(lambda h: read_gain(h, times), "g")
        means = self.left(lambda h: read_at(h, h.humidity("mean"), times), "percent")
        rows = zip(self.through.moments(), gains, means, strict=True)
        return tuple(replace(moment, gain=gain, mean=mean) for moment, gain, mean in rows)

    def damp(self, later: Sequence[Later]) -> list[Damp]:
        """Give how damp the item is at each moment after the chamber, weighed or to come."""
        moments = self._when(later)
        times = np.array([when for _, _, when in moments])
        before = self.before.band(lambda h: read_at(h, h.humidity("mean"), times), "percent")
        now = self.left(lambda h: read_at(h, h.humidity("mean"), times), "percent")
        wettest = self.left(lambda h: read_at(h, h.humidity("wettest"), times), "percent")
        weighed = {one.moment for one in later}
        return [
            Damp(words, name, when, *bands, is_weighed=name in weighed)
            for (words, name, when), bands in zip(
                moments, zip(before, now, wettest, strict=True), strict=True
            )
        ]

    def _when(self, later: Sequence[Later]) -> list[tuple[str, str, float]]:
        """Give the moments: words, name, and hour."""
        weighed = {one.moment for one in later}
        ends = {OUT if phase == "chamber" else phase: end for phase, end in self.before.ends.items()}
        found = [
            (say_moment(name), name, end - _HAIR)
            for name, end in ends.items()
            if name in (OUT, NIGHT) or name.startswith(CHANGE) or name in weighed - {WEIGHT}
        ]
        unders = [one.under for one in later if one.under is not None]
        under = unders[-1] if unders else self.before.press.choices.under_weight
        when = self.before.ends[WEIGHT] + float(under.to("hour").magnitude)
        return [*found, (say_moment(WEIGHT, under), WEIGHT, when)]


def _say_damp(told: Weighed, press: PressingChoices) -> str:
    """Say how damp the item still is against what was predicted, and what to do now."""
    last = told.later[-1].moment
    names = [one.name for one in told.damp]
    at = names.index(last)
    said = [_compare(one) for one in told.damp if one.is_weighed and one.name in (NIGHT, last)]
    return " ".join([*said, _what_now(told.damp, at, press)])


def _compare(one: Damp) -> str:
    gap = _percent(one.now) - _percent(one.before)
    than = "as damp as predicted" if abs(gap) < _ALIKE else "drier" if gap < 0 else "damper"
    told = f"{one.moment[0].upper()}{one.moment[1:]} it is at {say_humidity(one.now)} on average"
    if abs(gap) < _ALIKE:
        return f"{told}, {than}: {say_humidity(one.before)}."
    return f"{told}, {than} than the {say_humidity(one.before)} predicted."


def _what_now(damp: Sequence[Damp], at: int, press: PressingChoices) -> str:
    """Say what to do after the last weighing."""
    here, limit = damp[at], _percent(press.release_limit)
    coming = damp[at + 1] if at + 1 < len(damp) else None
    if here.name in (OUT, BENCH):
        assert coming is not None  # the night comes always
        return f"{coming.moment[0].upper()}{coming.moment[1:]} expect {say_humidity(coming.now)}."
    if here.name == WEIGHT:
        return _say_rest(here, press)
    wettest = f"its dampest leaf is at {say_humidity(here.wettest)}"
    if float(here.wettest.high.magnitude) <= limit:
        enough = f"Enough: {wettest}, below the {limit:.0f} % wanted before release"
        return f"{enough}, even at the damp end of its interval."
    if _percent(here.wettest) <= limit:
        return (
            f"Most likely enough: {wettest}, with {limit:.0f} % wanted before release; "
            "one change more makes sure."
        )
    assert coming is not None  # the weight comes last
    if coming.name == WEIGHT:
        return (
            f"Not enough: {wettest}, above the {limit:.0f} % wanted before release, and no further change is "
            "planned. Change the sheets again, or let it rest longer under weight."
        )
    return (
        f"Change the sheets: {wettest}, above the {limit:.0f} % wanted before release; {coming.moment} "
        f"expect {say_humidity(coming.wettest)}."
    )


def _say_rest(here: Damp, press: PressingChoices) -> str:
    room = _percent(press.room_humidity)
    if _percent(here.now) <= room + _AT_REST:
        return f"It rests with the room at {room:.0f} %: release it when two weighings agree to 0.1 g."
    return f"The room is at {room:.0f} %: leave it under weight and weigh again."


def _percent(humidity: Quantity | Range) -> float:
    value = humidity.value if isinstance(humidity, Range) else humidity
    return float(value.to("percent").magnitude)
