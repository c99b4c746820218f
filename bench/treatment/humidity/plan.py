"""The shape of a humidity plan: what the operator chooses, what is found at each moment, the result."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.physics.ranges import Range
from bench.physics.transient.inputs import AS_PUBLISHED, TRANSPORT_RATIO
from bench.physics.vapour import COVER_AS_AIR, FANNED_FILM, STILL_AIR_FILM
from bench.treatment import transport
from bench.treatment.choices import by_hand, check, declared, number, one_of, steps, tick
from bench.treatment.doses import NOTHING, Account, Spent
from bench.treatment.entries import Entry
from bench.treatment.humidity.source import HeldHumidity, Source
from bench.treatment.measured import NOTHING_MEASURED, MeasuredHere
from bench.treatment.plan import Plan, hours
from bench.units import Q_, Quantity, to_float, to_humidity

# Where the operator does not say otherwise.
ROOM = Q_(22, "degC")  # as cool as a bench comfortably is: mould is slower; from memory
RESTED = Q_(50, "percent")  # standard atmosphere for paper [iso187]_
WANTED = Q_(85, "percent")  # fibres relax well below saturation; usual range 80 to 95 %, from memory
A_DAY = Q_(24, "hour")  # common practice, no source: a day at 98 % RH
SHORTEST, LONGEST = Q_(0.25, "hour"), Q_(336.0, "hour")  # in the chamber that a plan is made for
MOST_HOURS = 48  # that a control offers: two days are as long as a chamber is planned by hand
A_LITTLE_LATE = Q_(2, "hour")  # judgement: two hours late costs a twelfth more
BOX = Q_(60, "litre")  # a storage box with a lid
LEAK = Q_(0.1, "1/hour")  # a lid that closes well, with looks in: judgement
GIVEN = Q_(85, "percent")  # a machine's humidity that is proposed: as much as is wanted of the leaves
TRAY = Q_(1000, "cm^2")  # a tray or felt of about two pages
NO_CORRECTION = Q_(0, "percent")
FIRST_LOOK = Q_(45, "min")  # 30 to 60 min: archives advise frequent looks at first
LOOK_EVERY = Q_(3, "hour")  # every two to three hours afterwards: seen in advice of archives
FACES = (("both, on a rack", "both"), ("one, on a solid base", "one"))


def _show_hours(planned: Quantity) -> int:
    """Give the hours that the control shows: the usual day in place of a time that it does not offer."""
    given = float(planned.to("hour").magnitude)
    return round(given if given == round(given) and 1 <= given <= MOST_HOURS else float(A_DAY.magnitude))


@dataclass(frozen=True)
class HumidityChoices:
    """What the operator chooses, each declared with its label and limits, and what is handed to the chamber.

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
    faces : str
        ``"both"`` on a rack, ``"one"`` on a solid base.
    late : Quantity [time]
        How much longer it may stay in if nobody comes in time.
    leak : Quantity [1/time]
        Changes of the chamber's air with that of the room.
    transport_ratio, isotherm_scale : Range
        See :class:`bench.physics.transient.Inputs`; weighing the item in the chamber narrows both.
    weighed : str
        Title of the item whose weighings gave the two; empty if they are as published.
    unread : tuple of str
        Treatments of the bench whose weighings could not be read; named among the assumptions.
    measured : MeasuredHere
        What this bench measured of itself.
    cover_as_air : Range
        A coated cover as the layer of still air that equals it.
    sensitivity : str
        To mould, a key of :data:`bench.physics.mould.CLASSES`.
    earlier : Spent
        What the cycles before this one cost.

    Raises
    ------
    BadValue
        A choice is outside its range, or the item is as damp as wanted already.
    UnitMismatch
        A choice is of another kind than its unit.
    """

    source: Source = by_hand(Source.SALT, "source", "Source", group="The chamber", is_first=True, stays=True)
    given_humidity: Quantity | None = number(
        None,
        "given",
        "Humidity of the machine",
        "percent",
        low=5,
        high=100,
        is_first=True,
        stays=True,
        shown=lambda given: given or GIVEN,
    )
    source_area: Quantity = number(
        TRAY, "area", "Wet area of the source", "cm^2", low=1, high=100_000, is_first=True, stays=True
    )
    is_fanned: bool = tick(False, "fan", "A small fan stirs the air", stays=True)
    chamber_volume: Quantity = number(
        BOX, "volume", "Volume of the chamber", "litre", low=1, high=10_000, stays=True
    )
    air_temperature: Quantity = number(ROOM, "air", "Air temperature", "temperature", low=10, high=40)
    wall_temperature: Quantity | None = number(
        None,
        "wall",
        "Wall temperature",
        "temperature",
        is_optional=True,
        hint="the coldest wall or the lid; empty if it was not read",
    )
    hygrometer_correction: Quantity = number(
        NO_CORRECTION,
        "correction",
        "Hygrometer correction",
        "percent",
        low=-20,
        high=20,
        hint="to be added to its readings; from a check against a salt",
    )
    faces: str = one_of("both", "faces", "Open faces", FACES, group="The item", is_first=True, stays=True)
    start_humidity: Quantity = number(RESTED, "start", "Humidity at the start", "percent")
    wanted_humidity: Quantity = number(
        WANTED, "wanted", "Humidity wanted", "percent", hint="by every leaf", is_first=True
    )
    transport_ratio: Range = by_hand(TRANSPORT_RATIO, transport.KEY, transport.LABEL)
    planned: Quantity = steps(
        A_DAY,
        "hours",
        "Hours in the chamber",
        1,
        MOST_HOURS,
        unit="hour",
        group="The clock",
        is_first=True,
        shown=_show_hours,
        taken=hours,
    )
    late: Quantity = number(
        A_LITTLE_LATE, "late", "May come out late by", "hour", low=0, high=48, is_first=True
    )
    first_look: Quantity = number(FIRST_LOOK, "look", "First look-in", "min", low=5, high=120)
    look_every: Quantity = number(LOOK_EVERY, "every", "Time between look-ins", "hour", low=0.5, high=12)
    salt: str = "potassium sulphate"
    leak: Quantity = LEAK
    isotherm_scale: Range = AS_PUBLISHED
    weighed: str = ""
    unread: tuple[str, ...] = ()
    measured: MeasuredHere = NOTHING_MEASURED
    cover_as_air: Range = COVER_AS_AIR
    sensitivity: str = "very sensitive"
    earlier: Spent = NOTHING

    def __post_init__(self) -> None:
        check(self)
        start = to_humidity(self.start_humidity, field="humidity at the start")
        wanted = to_humidity(self.wanted_humidity, field="humidity wanted")
        if wanted <= start:
            remedy = "The item is already there: raise what is wanted, or leave the chamber out"
            allowed = f"above the {100 * start:.0f} % it starts at"
            raise BadValue("humidity wanted", f"{100 * wanted:.0f} %", allowed, remedy)
        low, high = float(SHORTEST.magnitude), float(LONGEST.magnitude)
        to_float(self.planned, "hour", field="hours in the chamber", low=low, high=high)

    @property
    def longest(self) -> Quantity:
        """How long the item may stay in if nobody comes in time."""
        return self.planned + self.late

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


WATER, MACHINE = "water", "machine"
"""What the control of the source gives where it is no salt."""


def source_of(shown: str) -> tuple[Source, str]:
    """Give the source, and the salt if it is one, for what the control shows."""
    kinds = {WATER: Source.WATER, MACHINE: Source.GIVEN}
    source = kinds.get(shown, Source.SALT)
    return source, shown if source is Source.SALT else HumidityChoices().salt


def with_asked_by_hand(choices: HumidityChoices, entered: Iterable[Entry]) -> HumidityChoices:
    """Give a chamber with what was entered of that which a panel asks for by hand.

    Parameters
    ----------
    choices : HumidityChoices
        With all other entries, and with what was found by weighing, if anything was.
    entered : iterable of Entry
        As the record keeps them: the source, and how easily vapour passes the pile.
    """
    asked = declared(HumidityChoices)
    kept = {
        name: entry.kept
        for entry in entered
        for name in ("source", "transport_ratio")
        if entry.is_of(asked[name].key, asked[name].label)
    }
    if "source" in kept:
        source, salt = source_of(kept["source"])
        given = (choices.given_humidity or GIVEN) if source is Source.GIVEN else None
        choices = replace(choices, source=source, salt=salt, given_humidity=given)
    told = kept.get("transport_ratio")
    if told in transport.RATIOS or (told == transport.WEIGHED and choices.weighed):
        choices = replace(choices, **transport.read_transport(told, choices))
    return choices


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
        Places along its width.
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
        What it is called.
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
        That it was planned for.
    held : HeldHumidity
        What the source holds.
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
