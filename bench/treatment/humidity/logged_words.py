"""In words: how the air that a logger kept stood beside the plan, and what it did to the leaves."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from bench.physics.ranges import Range
from bench.treatment.actual.logged import LoggedAir
from bench.treatment.humidity.logged import LoggedChamber, OffPlan
from bench.treatment.humidity.source import HIGHEST_STEP, Source
from bench.treatment.humidity.words import say_humidity, say_time
from bench.treatment.plan import Verdict, hours, minutes
from bench.units import MILLIMETRES, UnitChoice, difference_unit, say_range, unit_label

_MOST_NAMED = 3  # times without readings, or too damp, that are named one by one


def judge(told: LoggedChamber) -> Verdict:
    """Say whether anything asks for care."""
    asks = (*told.off, *told.gaps, *told.too_damp, *told.stay.planned)
    is_warm = told.warmer is not None and _side(told.warmer) != 0
    is_cut = told.begins_late or told.ends_early or bool(told.refused)
    return Verdict.CARE if asks or is_warm or is_cut else Verdict.GO


def answer(told: LoggedChamber, units: UnitChoice = MILLIMETRES) -> str:
    """Say how the chamber stood beside its plan, and what the leaves came to.

    Parameters
    ----------
    told : LoggedChamber
        As held against the plan.
    units : UnitChoice
        For the temperature.
    """
    return " ".join(part for part in (_say_air(told), _say_warmth(told, units), _say_core(told)) if part)


def _say_air(told: LoggedChamber) -> str:
    if told.points is None:
        return (
            "Nothing was read after the first hour, and before that the air only recovers from the open lid."
        )
    if not told.off:
        how = "lower" if float(told.points.value.magnitude) < 0 else "higher"
        return f"The chamber stood as planned: {_say_size(told.points, 'percent', '%')} {how} on average."
    longest = max(told.off, key=lambda off: off.ends - off.begins)
    return f"{_say_off(longest)}: {_remedy(told, longest)}."


def _say_off(off: OffPlan) -> str:
    when = (
        f"From {off.begins:.1f} h on" if off.is_to_the_end else f"From {off.begins:.1f} to {off.ends:.1f} h"
    )
    how = "lower" if _side(off.points) < 0 else "higher"
    return f"{when} the chamber stood {_say_size(off.points, 'percent', '%')} {how} than planned"


def _remedy(told: LoggedChamber, off: OffPlan) -> str:
    if _side(off.points) > 0:
        return "look for drops, and for what is damper than the source"
    return "look at the machine" if told.plan.choices.source is Source.GIVEN else "look at lid and source"


def _side(difference: Range) -> int:
    """Give 1 where a difference lies above zero with all of its interval, -1 below, 0 across it."""
    if float(difference.low.magnitude) > 0:
        return 1
    return -1 if float(difference.high.magnitude) < 0 else 0


def _say_size(difference: Range, unit: str, label: str) -> str:
    """Write how large a difference is, whichever its side."""
    value, low, high = difference.floats(unit, field="difference")
    return say_range(-value, -high, -low, label) if value < 0 else say_range(value, low, high, label)


def _say_warmth(told: LoggedChamber, units: UnitChoice) -> str:
    if told.warmer is None:
        return ""
    side = _side(told.warmer)
    if side == 0:
        return "It was as warm as planned."
    unit = difference_unit(units.temperature)
    how = "warmer" if side > 0 else "colder"
    return f"It was {_say_size(told.warmer, unit, unit_label(unit))} {how} than planned."


def _say_core(told: LoggedChamber) -> str:
    if told.followed is None:
        return ""
    last = told.plan.last
    then, planned = say_humidity(told.followed.end_core), say_humidity(told.plan.end.core)
    return f"The {last} came to {then}; planned was {planned}."


def because(told: LoggedChamber) -> str:
    """Say what the answer rests on: times, what was not read, what is not known."""
    said = (
        _say_stay(told),
        _say_mean(told),
        _say_others(told),
        _say_unread(told),
        _say_too_damp(told),
        f"The leaves are not followed: {told.refused}." if told.refused else "",
        "Doubt: 3 % RH of the logger, and that of the plan.",
    )
    return " ".join(sentence for sentence in said if sentence)


def say_counts(told: LoggedChamber) -> str:
    """Say whether later stages take what the logger says, or the plan."""
    if told.counts:
        return (
            "Once it is saved, press, next cycles, review and report take the humidity of the leaves and the "
            "mould, rust and ageing of this chamber from the logger, not from the plan."
        )
    keep = "Press, next cycles, review and report keep to the plan"
    if told.followed is None or told.ends_early:
        return f"{keep}: not all of the time in the chamber was followed."
    return (
        f"{keep}, as long as it is only planned when the item was in: enter its times on the page of the "
        "day, then save this logger again."
    )


def _say_stay(told: LoggedChamber) -> str:
    stay = told.stay
    when = f"In from {_moment(stay.begins, told)} to {_moment(stay.ends, told)}"
    if len(stay.planned) == 2:
        return f"{when}, both only as planned: enter when it really was, on the page of the day."
    if stay.planned:
        which = {"begin": "the first", "end": "the last"}[stay.planned[0]]
        return f"{when}, {which} only as planned."
    return f"{when}."


def _say_mean(told: LoggedChamber) -> str:
    if told.followed is None or told.plan.leaves == 1:
        return ""
    then, planned = say_humidity(told.followed.end_mean), say_humidity(told.plan.end.mean)
    out = say_time(hours(round(told.hours, 1)))
    after = say_time(told.plan.choices.planned)
    return f"On average the leaves came to {then} after {out}; planned was {planned} after {after}."


def _say_others(told: LoggedChamber) -> str:
    longest = max(told.off, key=lambda off: off.ends - off.begins, default=None)
    others = [f"{_say_off(off)}." for off in told.off if off is not longest]
    if told.hours > told.plan.moments[-1].hours:
        others.append(f"The plan speaks of the first {told.plan.moments[-1].hours:.0f} h alone.")
    return " ".join(others)


def _say_unread(told: LoggedChamber) -> str:
    said = []
    if told.begins_late:
        late = _length(told.air.begin - told.stay.begins)
        said.append(
            f"The logger begins {late} after the item went in: until then its first reading is taken."
        )
    if told.gaps:
        between = "a straight line is taken between"
        said.append(f"Nothing was read {_say_times(told, told.gaps)}: {between}.")
    if told.ends_early:
        early = _length(told.stay.ends - told.air.end)
        end = _moment(told.air.end, told)
        said.append(
            f"The logger ends at {end}, {early} before the item came out: nothing is said of the rest."
        )
    return " ".join(said)


def _say_too_damp(told: LoggedChamber) -> str:
    if not told.too_damp:
        return ""
    total = _length(sum((end - begin for begin, end in told.too_damp), start=timedelta()))
    return (
        f"Above {HIGHEST_STEP:.0f} % RH for {total} in all, {_say_times(told, told.too_damp)}: nothing is "
        f"known of paper there, and the leaves are followed as at {HIGHEST_STEP:.0f} %."
    )


def _say_times(told: LoggedChamber, times: Sequence[tuple[datetime, datetime]]) -> str:
    named = [f"from {_moment(a, told)} to {_moment(b, told)}" for a, b in times[:_MOST_NAMED]]
    more = len(times) - len(named)
    return ", ".join(named) + (f" and {more} times more" if more else "")


def _moment(moment: datetime, told: LoggedChamber) -> str:
    return f"{moment.astimezone(told.stay.begins.tzinfo):%a %d %b %H:%M}"


def _length(span: timedelta) -> str:
    whole = span.total_seconds() / 60
    return say_time(minutes(round(whole))) if whole < 90 else say_time(hours(round(whole / 60, 1)))


def say_read(air: LoggedAir, units: UnitChoice = MILLIMETRES) -> str:
    """Say what a logger read, from first to last.

    Parameters
    ----------
    air : LoggedAir
        Corrected, with its begin in the zone in which the times are to be written.
    units : UnitChoice
        For the temperature.
    """
    percent = f"{air.percent.min():.0f} to {air.percent.max():.0f} % RH"
    warm = [air.celsius.min(), air.celsius.max()]
    if units.temperature == "degF":
        warm = [1.8 * celsius + 32 for celsius in warm]
    celsius = f"{warm[0]:.1f} to {warm[1]:.1f} {unit_label(units.temperature)}"
    first, last = (f"{moment:%Y-%m-%d %H:%M}" for moment in (air.begin, air.end))
    return f"{len(air.seconds):,} readings from {first} to {last}: {percent}, {celsius}."
