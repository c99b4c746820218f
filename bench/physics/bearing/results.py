"""What a plan of sheets does with the load: results, and what they come to in words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from bench.errors import BadValue
from bench.physics.arrays import Floats
from bench.physics.bearing.zones import Sheets
from bench.physics.ranges import REACH, Range
from bench.uncertainty import guard_band
from bench.units import Q_, Quantity, to_float


@dataclass(frozen=True)
class Limits:
    """What must not be exceeded.

    Attributes
    ----------
    spine : Quantity [pressure] or None
        Mean over the spine zone; None: no more than the mean load, its even share.  Chosen here.
    staple : Quantity [pressure]
        On a staple's wire.  50 kPa is what a thickness gauge presses with [tappi-t411]_, and leaves no
        mark on dry paper; damp and warm, less is wise.  Chosen here; the operator may edit it.
    enough : Quantity, dimensionless
        Part of the mean load below which a place counts as not pressed.  Chosen here.
    accepted_risk : float
        Chance of exceeding a limit that is accepted.
    """

    spine: Quantity | None = None
    staple: Quantity = field(default_factory=lambda: Q_(50.0, "kPa"))
    enough: Quantity = field(default_factory=lambda: Q_(25.0, "percent"))
    accepted_risk: float = 0.02

    def __post_init__(self) -> None:
        if self.spine is not None:
            to_float(self.spine, "kPa", field="limit on the spine", low=0.0, high=10_000)
        to_float(self.staple, "kPa", field="limit on a staple", low=0.0, high=10_000)
        to_float(self.enough, "percent", field="part of the load that is enough", low=0.1, high=100)
        if not 0 < self.accepted_risk < 0.5:
            came, allowed = f"{self.accepted_risk:.1%}", "above 0 and below 50 %"
            raise BadValue("accepted chance", came, allowed, "Choose a small chance, such as 2 %")


@dataclass(frozen=True)
class BearingCurve:
    """Pressure along the section between staples.

    Attributes
    ----------
    places : Quantity (n,) [length]
        From the spine.
    pressure, low, high : Quantity (n,) [pressure]
        Median and the limits of 95 % of the samples at each place.
    reached : array (n,)
        Chance that enough pressure arrives.
    free : Quantity (n,) [length]
        Height of the item there without load, without doubt.
    stop : Quantity [length]
        Where the sheets end.
    """

    places: Quantity
    pressure: Quantity
    low: Quantity
    high: Quantity
    reached: Floats
    free: Quantity
    stop: Quantity


@dataclass(frozen=True)
class Bearing:
    """What one plan of sheets does with the load.

    All ranges are median and the limits of 95 % of the samples.  A sample without a balance within the laws
    is crushed: at spine and staples it counts with the pressure at which the laws end (10 MPa); of all else
    only the samples with a balance are told.

    Attributes
    ----------
    sheets : Sheets
        The plan.
    load : Range [pressure]
        Mean on the face: as given, or as it follows from the height to which the press closes.
    group : int
        Most leaves between two sheets.
    intervals : tuple of int
        The spacings asked for that come to this plan; empty for a balanced plan between them.
    gain : Range [length]
        What the sheets add to the text block.
    spine, block : Range [pressure]
        Mean on the spine zone between staples, and on the text block.
    staples : dict of str to Range [pressure]
        On the wire of each.
    step_peak : Range [pressure]
        Highest where the sheets end.
    step_line : Range [force / length]
        Load along that line beyond the even load of the text block.
    clearance : dict of str to Range [length]
        Room left over spine and staples between the boards; below zero they are pressed by as much.
    doubt : dict of str to Quantity [length]
        Standard uncertainty of the clearance.
    unpressed : Range [length]
        Width along the spine without enough pressure.
    chances : dict of str to float
        Of exceeding the limit at the spine and at each staple.
    mass : Quantity [mass]
        Of the paper used.
    water : Range [mass]
        What the sheets take up from 50 to 80 % relative humidity.
    curve : BearingCurve
        Pressure along the section between staples.
    solved : float
        Part of the samples that found a balance within the laws, between staples and at each; the others
        count as exceeding.
    samples : int
        How many were drawn, which is how well a chance can be known.
    accepted_risk : float
        For which :attr:`guard` is needed.
    staple_limit : Quantity [pressure]
        On a staple's wire, for which its chance is told.
    """

    sheets: Sheets
    load: Range
    group: int
    intervals: tuple[int, ...]
    gain: Range
    spine: Range
    block: Range
    staples: Mapping[str, Range]
    step_peak: Range
    step_line: Range
    clearance: Mapping[str, Range]
    doubt: Mapping[str, Quantity]
    unpressed: Range
    chances: Mapping[str, float]
    mass: Quantity
    water: Range
    curve: BearingCurve
    solved: float
    samples: int
    accepted_risk: float
    staple_limit: Quantity = field(default_factory=lambda: Limits().staple)

    @property
    def guard(self) -> dict[str, Quantity]:
        """Clearance needed for the accepted risk, from its doubt."""
        return {place: guard_band(u, 1 - self.accepted_risk) for place, u in self.doubt.items()}

    @property
    def chance(self) -> float:
        """Chance of exceeding the limit at the worst place."""
        return max(self.chances.values(), default=0.0)

    def say_chance(self) -> str:
        """Write that chance as far as the samples tell it."""
        return say_sampled(self.chance, self.samples)

    @property
    def worst_place(self) -> str:
        """Name of the place that is most likely loaded too much; empty for a sheet."""
        return max(self.chances, key=lambda name: self.chances[name], default="")

    def is_clear(self, place: str) -> bool:
        """Decide by guard band: whether the clearance is at least what its doubt asks for."""
        return bool(self.clearance[place].value >= self.guard[place])


def recommend_plan(plans: Sequence[Bearing], limits: Limits | None = None) -> tuple[Bearing, str]:
    """Recommend the fewest sheets that keep the chance of loading spine or staple under the risk.

    Parameters
    ----------
    plans : sequence of Bearing
        From which to choose.
    limits : Limits, optional
        For the accepted risk.

    Returns
    -------
    Bearing, str
        The plan, and why in one sentence.
    """
    risk = (limits or Limits()).accepted_risk
    accepted = f"{100 * risk:g} %"
    good = [plan for plan in plans if plan.chance <= risk]
    if not good:
        best = min(plans, key=lambda plan: plan.chance)
        return best, (
            f"No plan keeps the chance of loading spine or staple under {accepted}; the least, with "
            f"{best.sheets.count} sheets, is {best.say_chance()} at the {best.worst_place}."
        )
    best = min(good, key=lambda plan: plan.sheets.count)
    fewer = [plan for plan in plans if plan.sheets.count < best.sheets.count]
    words = f"{best.sheets.count} sheets (at most {best.group} leaves between them) are the fewest that "
    if fewer:
        after = max(fewer, key=lambda plan: plan.sheets.count)
        words += (
            f"keep the chance of loading spine or staple under {accepted}: with {after.sheets.count} it is "
            f"{after.say_chance()} at the {after.worst_place}, for {_less(best, after)} less width unpressed."
        )
    else:
        words += f"were compared, and keep the chance of loading spine or staple under {accepted}."
    return best, words


def _less(more: Bearing, fewer: Bearing) -> str:
    narrower = (more.unpressed.value - fewer.unpressed.value).to("mm").magnitude
    return f"{max(narrower, 0.0):.1f} mm"


def say_sampled(chance: float, samples: int) -> str:
    r"""Write a chance found in samples; of what happened in none of them only an upper limit is known.

    Parameters
    ----------
    chance : float
        Share of the samples.
    samples : int
        How many there were.

    Notes
    -----
    Where none of *n* samples shows it, the chance is below 3/*n* with 95 % confidence, because
    :math:`(1 - 3/n)^n \approx e^{-3} = 0.05`; likewise where all do.

    Examples
    --------
    >>> say_sampled(0.0, 500), say_sampled(0.002, 500), say_sampled(0.25, 500), say_sampled(1.0, 500)
    ('less than 0.6 %', '0.2 %', '25 %', 'more than 99.4 %')
    """
    hits = round(chance * samples)
    limit = _round_up(300 / samples)
    if hits == 0:
        return f"less than {limit:g} %"
    if hits == samples:
        return f"more than {100 - limit:.4g} %"
    return f"{100 * chance:.1f} %" if chance < 0.095 else f"{100 * chance:.0f} %"


def _round_up(limit: float) -> float:
    """Give a limit in one digit, never below itself."""
    step = 10.0 ** math.floor(math.log10(limit))
    return float(f"{math.ceil(limit / step - 1e-9) * step:.1g}")


def sampled_range(chance: float, samples: int) -> Range:
    """Give a chance found in samples with its 95 % limits, percent (Wilson's score interval).

    SciPy has it too, in a part that takes most of a second to import; a test holds this one against it.
    """
    z2 = REACH**2 / samples
    centre = (chance + z2 / 2) / (1 + z2)
    half = math.sqrt(z2 * (chance * (1 - chance) + z2 / 4)) / (1 + z2)
    low, high = min(chance, max(0.0, centre - half)), max(chance, min(1.0, centre + half))  # 0 and 1 rounded
    return Range.of((100 * chance, 100 * low, 100 * high), "percent")


def say_bearing(bearing: Bearing) -> str:
    """Say in two sentences what a plan does."""
    width = bearing.unpressed.say("mm")
    words = f"{bearing.sheets.count} sheets: {width} along the spine stay unpressed"
    if not bearing.chances:
        return words + "."
    chance = bearing.say_chance()
    place = bearing.worst_place
    load = bearing.spine if place == "spine" else bearing.staples[place.removesuffix(" staple")]
    if bearing.chance == 0:
        return f"{words}, and in no sample is spine or staple loaded beyond its limit."
    return (
        f"{words}. The {place} is the first to be loaded: {load.say('kPa')} there, with a chance of "
        f"{chance} to exceed its limit."
    )
