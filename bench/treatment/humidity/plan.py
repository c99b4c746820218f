"""The shape of a humidity plan: what the operator chooses, what is found at each moment, the result."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.physics.ranges import Range
from bench.physics.transient.inputs import AS_PUBLISHED, TRANSPORT_RATIO
from bench.physics.vapour import COVER_AS_AIR, FANNED_FILM, STILL_AIR_FILM
from bench.treatment.doses import NOTHING, Account, Spent
from bench.treatment.humidity.source import HeldHumidity, Source
from bench.treatment.plan import Plan
from bench.units import Q_, Quantity, to_float, to_humidity

# Where the operator does not say otherwise.
ROOM = Q_(22, "degC")  # as cool as a bench comfortably is: mould is slower; from memory
RESTED = Q_(50, "percent")  # standard atmosphere for paper [iso187]_
WANTED = Q_(85, "percent")  # fibres relax well below saturation; usual range 80 to 95 %, from memory
A_DAY = Q_(24, "hour")  # common practice, no source: a day at 98 % RH
SHORTEST, LONGEST = Q_(0.25, "hour"), Q_(336.0, "hour")  # in the chamber that a plan is made for
MOST_HOURS = 48  # that a control offers: two days are as long as a chamber is planned by hand
A_LITTLE_LONGER = Q_(26, "hour")  # judgement: two hours late costs a twelfth more
BOX = Q_(60, "litre")  # a storage box with a lid
LEAK = Q_(0.1, "1/hour")  # a lid that closes well, with looks in: judgement
TRAY = Q_(1000, "cm^2")  # a tray or felt of about two pages
NO_CORRECTION = Q_(0, "percent")
FIRST_LOOK = Q_(45, "min")  # 30 to 60 min: archives advise frequent looks at first
LOOK_EVERY = Q_(3, "hour")  # every two to three hours afterwards: seen in advice of archives


@dataclass(frozen=True)
class HumidityChoices:
    """What the operator chooses.

    Attributes
    ----------
    source : Source
        A saturated salt, wet felt or blotter, or a machine that holds a humidity.
    salt : str
        Its name in the materials table.
    given_humidity : Quantity or None
        Held by the machine.
    air_temperature : Quantity
        Of air, source and item alike.
    wall_temperature : Quantity or None
        Of the coldest wall or the lid, if it was read.
    chamber_volume, source_area : Quantity
        Of the closed chamber; of the wet surface.
    leak : Quantity [1/time]
        Changes of the chamber's air with that of the room.
    is_fanned : bool
        Whether a small fan stirs the air.
    faces : str
        ``"both"`` on a rack, ``"one"`` on a solid base.
    start_humidity, wanted_humidity : Quantity
        At which the item rested; which every leaf is to reach.
    planned : Quantity [time]
        How long the item stays in.
    longest : Quantity [time]
        How long it may stay in if nobody comes in time.
    transport_ratio, isotherm_scale : Range
        See :class:`bench.physics.transient.Inputs`; weighing the item in the chamber narrows both.
    weighed : str
        Title of the item whose weighings gave the two; empty if they are as published.
    unread : tuple of str
        Treatments of the bench whose weighings could not be read; named among the assumptions.
    hygrometer_correction : Quantity
        To be added to its readings, in points of relative humidity.
    cover_as_air : Range
        A coated cover as the layer of still air that equals it.
    first_look, look_every : Quantity [time]
        First look-in, and the time between those from the second hour on.
    sensitivity : str
        To mould, a key of :data:`bench.physics.mould.CLASSES`.
    earlier : Spent
        What the cycles before this one cost.

    Raises
    ------
    BadValue, UnitMismatch
    """

    source: Source = Source.SALT
    salt: str = "potassium sulphate"
    given_humidity: Quantity | None = None
    air_temperature: Quantity = ROOM
    wall_temperature: Quantity | None = None
    chamber_volume: Quantity = BOX
    source_area: Quantity = TRAY
    leak: Quantity = LEAK
    is_fanned: bool = False
    faces: str = "both"
    start_humidity: Quantity = RESTED
    wanted_humidity: Quantity = WANTED
    planned: Quantity = A_DAY
    longest: Quantity = A_LITTLE_LONGER
    transport_ratio: Range = TRANSPORT_RATIO
    isotherm_scale: Range = AS_PUBLISHED
    weighed: str = ""
    unread: tuple[str, ...] = ()
    hygrometer_correction: Quantity = NO_CORRECTION
    cover_as_air: Range = COVER_AS_AIR
    first_look: Quantity = FIRST_LOOK
    look_every: Quantity = LOOK_EVERY
    sensitivity: str = "very sensitive"
    earlier: Spent = NOTHING

    def __post_init__(self) -> None:
        start = to_humidity(self.start_humidity, field="humidity at the start")
        wanted = to_humidity(self.wanted_humidity, field="humidity wanted")
        if wanted <= start:
            remedy = "The item is already there: raise what is wanted, or leave the chamber out"
            allowed = f"above the {100 * start:.0f} % it starts at"
            raise BadValue("humidity wanted", f"{100 * wanted:.0f} %", allowed, remedy)
        planned = to_float(
            self.planned,
            "hour",
            field="hours in the chamber",
            low=float(SHORTEST.magnitude),
            high=float(LONGEST.magnitude),
        )
        to_float(self.longest, "hour", field="longest time in the chamber", low=planned, high=400.0)
        to_float(self.chamber_volume, "litre", field="volume of the chamber", low=1.0, high=10_000.0)
        to_float(self.source_area, "cm^2", field="wet area of the source", low=1.0, high=100_000.0)
        to_float(self.hygrometer_correction, "percent", field="hygrometer correction", low=-20, high=20)
        to_float(self.first_look, "min", field="first look-in", low=5, high=120)
        to_float(self.look_every, "hour", field="time between look-ins", low=0.5, high=12)

    @property
    def film(self) -> Range:
        """Vapour film of source and item."""
        return FANNED_FILM if self.is_fanned else STILL_AIR_FILM

    @property
    def hours(self) -> float:
        """Planned hours, a plain number."""
        return float(self.planned.to("hour").magnitude)

    @property
    def wanted(self) -> float:
        """Humidity wanted in percent, a plain number."""
        return float(self.wanted_humidity.to("percent").magnitude)


@dataclass(frozen=True)
class Moment:
    """Item and air at one time; relative humidities in percent, each with its interval.

    The mean is over cover and leaves by their dry mass; the core is the leaf that the damp comes to last.
    """

    hours: float
    mean: Range
    core: Range
    air: Range
    gain: Range


@dataclass(frozen=True)
class EdgeProfile:
    """The middle leaf from spine to fore edge at one time.

    Attributes
    ----------
    hours : float
        In the chamber.
    from_spine : array, mm
    humidity : array, percent
        With the likely values.
    ahead : Range [mm]
        How far from the fore edge the leaf is at least 5 % RH damper than at the spine; 0 if nowhere.
    """

    hours: float
    from_spine: NDArray[np.float64] = field(compare=False)
    humidity: NDArray[np.float64] = field(compare=False)
    ahead: Range


@dataclass(frozen=True)
class ChamberAlternative:
    """One way to set the chamber up and what it would do, most likely values.

    Attributes
    ----------
    words : str
    held : float
        Humidity over the source, percent.
    mean, core : float
        Of the leaves after the planned hours, percent.
    hours : float or None
        Until the innermost leaf is at the humidity wanted; None if it never is.
    is_allowed : bool
        Whether it keeps within the highest humidity handed down from intake.
    """

    words: str
    held: float
    mean: float
    core: float
    hours: float | None
    is_allowed: bool


@dataclass(frozen=True, kw_only=True)
class HumidityPlan(Plan):
    """The chamber, the uptake, what limits it, and what it does to mould and staples.

    Attributes
    ----------
    choices : HumidityChoices
    held : HeldHumidity
    water : Range [g]
        To be taken up until it is at rest with the source.
    air_water : Quantity [g]
        What the air of the chamber itself takes from room humidity to the source's.
    supply : Range [g/day]
        What the source gives for each per cent that the air is below it.
    moments : tuple of Moment
        In the order of time; the last is at the planned hours or later.
    end : Moment
        At the planned hours.
    hours_mean, hours_core, hours_cover : Range [hour] or None
        Until mean, innermost leaf and front cover are at the humidity wanted; None if the source never
        brings them there.
    earliest, latest : Quantity [hour] or None, Quantity [hour]
        Sensible times to take it out: every leaf is damp enough; half of the strict rule's days for
        mould is used up.
    edges : tuple of EdgeProfile
        The middle leaf along its width, at up to three times.
    bench : Range [minute] or None
        Until the first leaf has lost 5 % RH on the bench; None if that takes longer than was followed.
    limits : str
        What holds it up most, and what would help.
    hindrances : dict of str to float
        Share of source, film, cover and pile in the whole resistance.
    doubts : dict of str to float
        What the doubt about the hours comes from.
    spent : Spent
        What this stage costs in mould, rust and ageing.
    account : Account
        The same with the cycles before, against their limits.
    alternatives : tuple of ChamberAlternative
        The choice first.
    leaves : int
        Of the item, cover included.
    """

    choices: HumidityChoices
    held: HeldHumidity
    water: Range
    air_water: Quantity
    supply: Range
    moments: tuple[Moment, ...]
    end: Moment
    hours_mean: Range | None
    hours_core: Range | None
    hours_cover: Range | None
    earliest: Quantity | None
    latest: Quantity
    edges: tuple[EdgeProfile, ...]
    bench: Range | None
    limits: str
    hindrances: dict[str, float]
    doubts: dict[str, float]
    spent: Spent
    account: Account
    alternatives: tuple[ChamberAlternative, ...]
    leaves: int

    @property
    def last(self) -> str:
        """What the damp reaches last, in words: a single sheet has no innermost leaf."""
        return "innermost leaf" if self.leaves > 1 else "sheet"

    @property
    def item_humidity(self) -> Range:
        """Mean humidity of the leaves when they come out, for the stages that follow."""
        return self.end.mean
