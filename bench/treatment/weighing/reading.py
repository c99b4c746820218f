"""Weighing beats guessing: what the balance says of this paper, and what to do now.

The weighings of an item in the chamber are held against its predicted gain.  They give how easily
vapour passes the pile and how much water the paper holds, and with these the hours are told anew.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from bench.errors import BadValue
from bench.item import Item, Thicknesses
from bench.physics.ranges import Range
from bench.physics.transient import Course, Fit, History, Weighing, fit_weighings
from bench.physics.transient.inputs import SCALE_BELIEF
from bench.treatment.humidity.plan import HumidityChoices, Moment
from bench.treatment.humidity.uptake import Setting, set_up
from bench.treatment.humidity.words import say_hours, say_time
from bench.treatment.plan import Caution, Notice, Verdict, hours
from bench.treatment.weighing.doubt import read_gains, what_is_left
from bench.treatment.weighing.later import Damp, Later, fallen_in_chamber, scatter_of
from bench.units import Q_, Quantity, say_range, to_float

__all__ = ["LEAST", "RATIO", "SCALE", "Weighed", "Weighing", "read_weighings"]

RATIO, SCALE = "transport ratio", "isotherm scale"
"""Names under which a fit keeps its two constants."""

LEAST = 3  # weighings: before, and two later ones for two unknowns
MISFIT = 2.0  # scatter over what the balance explains, above which the model is not believed: judgement
_MOST_GAIN = 0.30  # of the first mass; paper from a room takes up about 0.2 up to 98 % RH: judgement
_MASS_FACTOR = 2.0  # a mass off by more from that of the item was read in another unit: judgement
_LONGEST = 336.0  # h, as for the chamber
_NARROWED = (
    0.7  # share of the width believed before (in logarithms) below which weighing told something: judgement
)

_NOT_EXPLAINED = Notice(
    "weighings-not-explained",
    Verdict.CARE,
    "The model does not explain the weighings: the fit may be saved, but not used.",
    "gum",
)
_NOT_WEIGHED_BEFORE = Notice(
    "mass-from-tables",
    Verdict.CARE,
    "The item was not weighed at intake, so its mass is taken from tables of papers; an error in "
    "it passes for water held by the paper.",
)
_COVER_OR_PILE = Notice(
    "cover-or-pile",
    Verdict.GO,
    "To a balance a tight cover and a tight pile look alike: the intervals allow for that. The finding "
    "holds best for the same paper under a like cover.",
)
_LOOKS_COST_WATER = Notice(
    "looks-cost-water",
    Verdict.GO,
    "Each look costs the item water: weigh within a minute, lid closed again at once.",
    "memory",
)
_AS_IT_RESTED = Notice(
    "humidity-counts-from-rest",
    Verdict.GO,
    "How damp it is told to be counts from the humidity at which it rested before the chamber: what that "
    "was off shifts every humidity after it, by up to as much.",
)
_TIMES_AS_PLANNED = Notice(
    "weighed-at-planned-times",
    Verdict.GO,
    "After the chamber the times are those of the plan, ten minutes on the bench among them; sheets, "
    "boards and room are taken as dry as planned, to 5 % RH. Weigh the item alone, every interleaf out.",
)


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """What weighings of an item in the chamber say.

    Attributes
    ----------
    verdict : Verdict
        ``CARE`` where the fit should not be used, or the item waits for a decision.
    answer, because : str
        What was found and what to do now; against what was believed.
    weighings : tuple of Weighing
        Hours since going in, mass.
    doubt : Quantity [g]
        Standard uncertainty of one weighing.
    believed, believed_scale : Range, dimensionless
        Transport ratio and isotherm scale before.
    fit : Fit
        Of the two constants.
    off_before, off_after : Quantity [g]
        Root mean square of gain read less gain predicted.
    hours_before, hours_after : Range [hour] or None
        Until the innermost leaf is at the humidity wanted; None if it never is.
    moments_before, moments_after : tuple of Moment
        The predicted course.
    cautions : tuple of Caution
        Those that belong to the weighings.
    later : tuple of Later
        Weighings after the chamber, the last of ``weighings``; the courses then reach to the end.
    damp : tuple of Damp
        How damp the item is at the moments after the chamber.
    """

    verdict: Verdict = Verdict.GO
    answer: str = ""
    because: str = ""
    weighings: tuple[Weighing, ...]
    doubt: Quantity
    believed: Range
    believed_scale: Range
    fit: Fit
    off_before: Quantity
    off_after: Quantity
    hours_before: Range | None
    hours_after: Range | None
    moments_before: tuple[Moment, ...]
    moments_after: tuple[Moment, ...]
    cautions: tuple[Caution, ...] = ()
    later: tuple[Later, ...] = ()
    damp: tuple[Damp, ...] = ()

    @property
    def is_explained(self) -> bool:
        """Whether the model explains the weighings, so that the fit may be used."""
        return self.fit.misfit <= MISFIT

    @property
    def found(self) -> dict[str, tuple[Range, str]]:
        """The two constants with the unit to keep them in."""
        return {RATIO: (self.fit.transport_ratio, ""), SCALE: (self.fit.isotherm_scale, "")}


def read_weighings(
    item: Item,
    thicknesses: Thicknesses,
    choices: HumidityChoices,
    weighings: Sequence[Weighing],
    *,
    balance: Quantity,
) -> Weighed:
    r"""Find from weighings what vapour meets in this paper, and tell the hours anew.

    Parameters
    ----------
    item : Item
        As described.
    thicknesses : Thicknesses
        As read before the cycle.
    choices : HumidityChoices
        The chamber as it was; its transport ratio and isotherm scale are what is believed before.
    weighings : sequence of Weighing
        In the order of time, the first as it goes in (0 h).
    balance : Quantity [mass]
        Largest error of one weighing, plus or minus, handling included.

    Returns
    -------
    Weighed

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange, NotFound
        Too few weighings, times out of order, a mass that falls or cannot be.

    Notes
    -----
    :func:`bench.physics.transient.fit_weighings`.  The largest error is taken as the half-width of an
    even distribution, so that one weighing has the standard uncertainty :math:`a/\sqrt{3}` [gum]_.
    Films, cover and source stay at their middle values in the fit; what they may be off is in the
    intervals, by :func:`bench.treatment.weighing.doubt.what_is_left`.
    """
    doubt = doubt_of(balance)
    check_count(len(weighings), "Weigh as it goes in, then at two look-ins at least")
    check_chamber(weighings, float(doubt.magnitude))
    last = max(choices.hours, float(weighings[-1].when.to("hour").magnitude))
    choices = replace(choices, planned=hours(last))
    before = set_up(item, thicknesses, choices)
    check_first(before, weighings[0])
    fit = find_constants(_until_last(before, last), tuple(weighings), doubt)
    after = with_found(before, fit)
    left = what_is_left(after, fit, choices.transport_ratio, weighings, doubt)
    fit = replace(fit, transport_ratio=left.ratio, isotherm_scale=left.scale)
    told = Weighed(
        weighings=tuple(weighings),
        doubt=doubt,
        believed=choices.transport_ratio,
        believed_scale=believe_scale(choices),
        fit=fit,
        off_before=off_by(before.likely, weighings),
        off_after=Q_(rms([float(r.magnitude) for r in fit.residuals]), "g"),
        hours_before=before.hours_to_wanted(before.place)[0],
        hours_after=left.hours,
        moments_before=before.moments(before.water()),
        moments_after=left.moments,
    )
    return judge(item, told, _what_now(told, choices))


def judge(item: Item, told: Weighed, now: str) -> Weighed:
    """Add verdict, words and cautions to what was found; ``now`` says what to do."""
    verdict = Verdict.GO if told.is_explained else Verdict.CARE
    return replace(
        told,
        verdict=verdict,
        answer=_answer(told, now),
        because=_because(told),
        cautions=_cautions(item, told),
    )


def doubt_of(balance: Quantity) -> Quantity:
    """Give the standard uncertainty of one weighing from its largest error."""
    return Q_(to_float(balance, "g", field="Balance right within ±", low=1e-3, high=20.0) / math.sqrt(3), "g")


def check_count(count: int, remedy: str) -> None:
    """Refuse fewer weighings than the unknowns ask for.

    Raises
    ------
    BadValue
        There are fewer; ``remedy`` says when to weigh.
    """
    if count < LEAST:
        raise BadValue("Weighings", f"{count} in number", f"{LEAST} or more", remedy)


def check_chamber(weighings: Sequence[Weighing], doubt: float) -> None:
    """Refuse weighings that no careful observer could have read in a chamber.

    Parameters
    ----------
    weighings : sequence of Weighing
        One or more.
    doubt : float
        Standard uncertainty of one weighing, g.

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange
        Times that do not rise from 0 h, or a mass that falls, or grows by more than paper can take up.
    """
    times = [to_float(w.when, "hour", field="Weighings", low=0.0, high=_LONGEST) for w in weighings]
    masses = [to_float(w.mass, "g", field="Weighings", low=0.1, high=1e4) for w in weighings]
    if times[0] != 0:
        remedy = "Begin with the mass as it went in"
        raise BadValue("Weighings", f"first at {times[0]:g} h", "a first weighing at 0 h", remedy)
    most = masses[0] * (1 + _MOST_GAIN)
    for number in range(1, len(weighings)):
        if times[number] <= times[number - 1]:
            came = f"{times[number]:g} h after {times[number - 1]:g} h"
            raise BadValue("Weighings", came, "times that rise", "Put them in the order of the clock")
        if masses[number] < masses[number - 1] - scatter_of(doubt):
            came = f"{masses[number]:g} g at {times[number]:g} h, after {masses[number - 1]:g} g"
            raise fallen_in_chamber(came)
        if masses[number] > most:
            came = f"{masses[number]:g} g at {times[number]:g} h, from {masses[0]:g} g"
            allowed = f"at most {most:.4g} g, {100 * _MOST_GAIN:.0f} % more: no paper takes up more from air"
            raise BadValue("Weighings", came, allowed, "Look for a slip, or for drops on the item")


def check_first(setting: Setting, first: Weighing) -> None:
    """Refuse a first mass that is not that of this item.

    Raises
    ------
    BadValue
        It is half as much or twice as much.
    """
    item = setting.item
    known = setting.likely.item_mass()[0] if item.mass is None else item.mass
    grams, mass = float(known.to("g").magnitude), float(first.mass.to("g").magnitude)
    if not grams / _MASS_FACTOR <= mass <= grams * _MASS_FACTOR:
        origin = "from tabled papers" if item.mass is None else "as weighed at intake"
        allowed = f"about the {grams:.0f} g of the item {origin}"
        raise BadValue("Weighings", f"{mass:g} g at 0 h", allowed, "Enter the mass of the item alone, in g")


def _until_last(setting: Setting, last: float) -> Course:
    """Give the chamber followed just beyond the last weighing, which is all that a fit needs."""
    phase = replace(setting.chamber(setting.held.step_end), duration=hours(1.01 * last))
    return replace(setting.course, phases=(phase,))


@lru_cache(maxsize=16)
def find_constants(
    course: Course,
    weighings: tuple[Weighing, ...],
    doubt: Quantity,
    shared: tuple[tuple[float, ...], ...] = (),
) -> Fit:
    """Fit, or give the fit that was made of the same weighings before; ``shared`` in g²."""
    return fit_weighings(
        course.stack,
        course.phases,
        weighings,
        uncertainty=doubt,
        inputs=course.inputs,
        shared=np.array(shared) if shared else None,
        start=course.start,
        tolerance=course.tolerance,
    )


def with_found(setting: Setting, fit: Fit) -> Setting:
    """Give the same chamber with the constants that were found."""
    learned = replace(
        setting.choices,
        transport_ratio=fit.transport_ratio,
        isotherm_scale=fit.isotherm_scale,
        weighed=setting.item.title,
    )
    return replace(setting, choices=learned)


def believe_scale(choices: HumidityChoices) -> Range:
    """Give the scale with the ends that the fit starts from."""
    value = choices.isotherm_scale.value
    return Range(value, value / SCALE_BELIEF, value * SCALE_BELIEF)


def off_by(history: History, weighings: Sequence[Weighing]) -> Quantity:
    """Give the root mean square of gain read less gain predicted, g."""
    read = np.array([float(w.mass.to("g").magnitude) for w in weighings])
    predicted = read_gains(history, [w.when for w in weighings])
    return Q_(rms((read[1:] - read[0] - predicted).tolist()), "g")


def rms(numbers: Sequence[float]) -> float:
    """Give the root of the mean square."""
    return math.sqrt(sum(number**2 for number in numbers) / len(numbers))


def say_grams(mass: Quantity) -> str:
    """Write a small mass to two digits."""
    return f"{float(mass.to('g').magnitude):.2g} g"


def _width(found: Range) -> float:
    _, low, high = found.floats("", field="width")
    return math.log(high / low)


def _answer(told: Weighed, now: str) -> str:
    if not told.is_explained:
        places = "chamber, press or room" if told.later else "the chamber"
        return (
            f"The weighings scatter {told.fit.misfit:.1f} times as much as the balance explains, so the "
            "model does not explain them and nothing is learned. Look for a slip in a mass or a time, or in "
            f"what was said of {places}, before anything is taken from them."
        )
    ratio, believed, held = (
        say_factor(found) for found in (told.fit.transport_ratio, told.believed, told.fit.isotherm_scale)
    )
    words = (
        f"Vapour passes this pile {ratio} times as easily as still air, where {believed} was believed; the "
        f"paper holds {held} times the water of its table."
    )
    return f"{words} {now}"


def _what_now(told: Weighed, choices: HumidityChoices) -> str:
    now = float(told.weighings[-1].when.to("hour").magnitude)
    at, wanted = say_time(hours(now)), f"{choices.wanted:.0f} %"
    if told.hours_after is None:
        return f"This source never brings the innermost leaf to {wanted}: take a damper one, or ask for less."
    value, low, high = told.hours_after.floats("hour", field="hours")
    takes = f"the innermost leaf is at {wanted} after {say_hours(told.hours_after)}"
    if now >= high:
        return f"Take it out: {takes}, and the last weighing was at {at}."
    if now >= value:
        return f"It is most likely ready: {takes}, and the last weighing was at {at}; look, then take it out."
    if now >= low:
        return f"It may be ready, but most likely needs about {_more(value - now)} more: {takes}."
    return f"Leave it in for about {_more(value - now)} more after the weighing at {at}: {takes}."


def say_factor(found: Range) -> str:
    """Write a plain number with its interval, e.g. ``0.020 (0.014 to 0.027)``."""
    return say_range(*found.floats("", field="factor"), "").strip()


def _more(duration: float) -> str:
    """Write hours to go to the half hour, or minutes to the five below one hour."""
    if duration >= 1:
        return f"{round(2 * duration) / 2:g} h"
    return f"{max(5, 5 * round(12 * duration)):.0f} min"


def _because(told: Weighed) -> str:
    before = "never" if told.hours_before is None else say_hours(told.hours_before)
    after = "never" if told.hours_after is None else say_hours(told.hours_after)
    off_before, off_after, doubt = (say_grams(q) for q in (told.off_before, told.off_after, told.doubt))
    words = (
        f"The predicted gain was off by {off_before} on average; with what the weighings found it is "
        f"off by {off_after}, where one weighing has a standard uncertainty of {doubt}. Hours until the "
        f"innermost leaf is damp enough: before weighing {before}, now {after}."
    )
    if _width(told.fit.transport_ratio) > _NARROWED * _width(told.believed):
        words += " So far the weighings narrow little: weigh once or twice more, further apart."
    return words


def _cautions(item: Item, told: Weighed) -> tuple[Caution, ...]:
    found = [] if told.is_explained else [_NOT_EXPLAINED()]
    if item.mass is None:
        found.append(_NOT_WEIGHED_BEFORE())
    found += [_COVER_OR_PILE(), _LOOKS_COST_WATER()]
    return (*found, _AS_IT_RESTED(), _TIMES_AS_PLANNED()) if told.later else tuple(found)
