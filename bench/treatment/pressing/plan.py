"""The shape of a press plan: what the operator chooses, and the result."""

from __future__ import annotations

from dataclasses import MISSING, dataclass

from bench.errors import BadValue
from bench.materials import materials_for, materials_of_kind
from bench.physics.ranges import Range
from bench.physics.softening import Margin
from bench.physics.transient.faces import LONGEST_HALF_LIFE
from bench.physics.transient.inputs import AS_PUBLISHED, TRANSPORT_RATIO
from bench.stack import Stack
from bench.treatment import transport
from bench.treatment.choices import NONE, by_hand, check, listed, number, offer, one_of, steps, tick
from bench.treatment.doses import NOTHING, Account, Spent
from bench.treatment.intake.gates import WARM_PLATEN
from bench.treatment.measured import NOTHING_MEASURED, PLATEN_ERROR, PRESS, MeasuredHere, find_measured
from bench.treatment.plan import Plan
from bench.units import Q_, Quantity, to_float, to_humidity

# Where the operator does not say otherwise.
ROOM = Q_(22, "degC")  # as in the humidity chamber
ROOM_HUMIDITY = Q_(50, "percent")  # standard atmosphere for paper [iso187]_
DWELL = Q_(999, "s")  # common practice, no source: about 16 and a half minutes
SHORTEST_DWELL, LONGEST_DWELL = Q_(0.5, "min"), Q_(240.0, "min")
HOTTEST = Q_(70.0, "degC")
"""Above it nothing here is known, and paper ages fast."""
PLATEN_HALF_LIFE = Range.of((45, 20, 90), "min")
"""In which a platen that was switched off loses half of its warmth above the room by itself.  Judgement, no
source: with what a plate loses to a room, that of 6 to 25 mm of aluminium.  Measured, it is known better."""
_MEASURED = 0.1  # of a half-life that was read off a thermometer and a clock: judgement
OVERNIGHT = Q_(14, "hour")  # left in the press overnight: common practice, no source
RELEASE_LIMIT = Q_(60, "percent")  # advice of museums for original staples [staples-museum]_
BETWEEN_CHANGES = Q_(2, "hour")  # attention is needed for the first hours; a short path rests in one or two
UNDER_WEIGHT = Q_(24, "hour")  # at least a day at room humidity under light weight; from memory
DRIEST, DAMPEST = Q_(1, "percent"), Q_(98, "percent")
"""Humidity of an item between which isotherms of paper are known well enough to reckon with."""
COATED_HUMIDITY = Q_(80, "percent")  # with the next: both together stick; from memory, low confidence
COATED_HEAT = Q_(40, "degC")

LATE = Q_(4, "hour")  # judgement: from closing time to the middle of the next morning
HEATED = (("from above", "one"), ("both", "both"))
BASES = (("loses heat to the room", "open"), ("is insulated", "insulated"))
PLATE = "aluminium"


def measured_half_life(time: Quantity) -> Range:
    """Give a half-life of the platen that the operator measured, with the doubt of such a reading."""
    return Range(time, (1 - _MEASURED) * time, (1 + _MEASURED) * time)


def _show_half_life(half_life: Range) -> Quantity | None:
    if half_life == PLATEN_HALF_LIFE:
        return None
    return Q_(round(float(half_life.value.to("min").magnitude), 1), "min")


def _take_half_life(entered: Quantity | None) -> Range:
    return PLATEN_HALF_LIFE if entered is None else measured_half_life(entered)


def read_half_life(entered: Quantity | None, proposed: Range) -> Range:
    """Read a half-life off its field; what was proposed keeps its interval, also where it was measured."""
    shown = _show_half_life(proposed)
    if entered is not None and shown is not None and abs(entered - shown) < Q_(0.051, "min"):
        return proposed
    return _take_half_life(entered)


@dataclass(frozen=True, kw_only=True)
class PressingChoices:
    """What the operator chooses.

    Attributes
    ----------
    load : Range [pressure]
        On the face.
    item_humidity : Range [dimensionless]
        Mean humidity of the leaves when they come out of the chamber, 1 to 98 %; its ends are followed no
        further.
    interval : int or None
        Most leaves between two interleaves; None for none.
    sheets : int or None
        Interleaves in all where they are spread evenly in place of the spacing.
    load_words : str
        The load as the operator named it.
    sheet : str
        Interleaf by its name in the materials table.
    board, card : str
        Above and below the item, by their names in the materials table.
    boards, cards : int
        On each side.
    plate : str or None
        Under the whole pack.
    release : str or None
        Non-stick sheet against each cover.
    platen_temperature : Quantity or None
        None for a cold press.
    heated : str
        ``"one"``: from above; ``"both"`` sides.
    base : str
        What the far side loses heat to: ``"open"`` to the room, or ``"insulated"``.
    dwell : Quantity [time]
        Hot and under load.
    half_life : Range [time]
        In which the platen, switched off, loses half of its warmth above the room by itself; 0 to 300 min.
    room_temperature, room_humidity : Quantity
        Of the room; interleaves and boards have rested in it.
    night, late : Quantity [time]
        In the press without heat; how much longer it may stay.
    changes : int
        Changes of interleaves wished after the night.
    release_limit : Quantity [dimensionless]
        Humidity in the stack below which the item may be released.
    under_weight : Quantity [time]
        Rest under a light weight at the end.
    spine_chance : float or None
        Chance that spine and staples stay free of load, from the buffering plan.
    coated_humidity, coated_heat : Quantity
        A coated cover may not pass both.
    transport_ratio, isotherm_scale : Range
        See :class:`bench.physics.transient.Inputs`; weighing the item in the chamber narrows both.
    weighed : str
        Title of the item whose weighings gave the two; empty if they are as published.
    unread : tuple of str
        Treatments of the bench whose weighings could not be read; named among the assumptions.
    measured : MeasuredHere
        What this bench measured of itself.
    chamber, earlier : Spent
        What the chamber of this cycle and the cycles before it cost in mould, rust and ageing.
    logger : str
        File of the logger from which humidity and cost of the chamber come; empty where they are as planned.
    logger_humidity : Range or None
        Of the leaves, by that logger; it was entered by hand where the humidity of the item is another.
    sensitivity : str
        To mould.

    Raises
    ------
    BadValue
        A choice is outside its range, or dry sheets cannot bring the item as low as wanted.
    UnitMismatch
        A choice is of another kind than its unit.
    """

    load: Range = by_hand(MISSING, "load", "Load", group="Load and heat", is_first=True)
    platen_temperature: Quantity | None = number(
        WARM_PLATEN,
        "platen",
        "Platen temperature",
        "temperature",
        is_optional=True,
        is_first=True,
        hint="empty for a cold press",
    )
    dwell: Quantity = number(
        DWELL,
        "dwell",
        "Dwell",
        "s",
        low=float(SHORTEST_DWELL.to("s").magnitude),
        high=float(LONGEST_DWELL.to("s").magnitude),
        is_first=True,
        hint="hot and under load; 999 s is about 17 min",
    )
    heated: str = one_of("one", "heated", "Heated sides", HEATED, is_first=True, stays=True)
    base: str = listed("open", "base", "Far side", lambda: BASES, stays=True, hint="with one side heated")
    half_life: Range = number(
        PLATEN_HALF_LIFE,
        "half_life",
        "Platen loses half of its warmth in",
        "min",
        low=0,
        high=float(LONGEST_HALF_LIFE.to("min").magnitude),
        is_optional=True,
        stays=True,
        hint="above the room, heat off, press closed and empty; empty if not measured: "
        f"{PLATEN_HALF_LIFE.say('min')}, judgement",
        shown=_show_half_life,
        taken=_take_half_life,
    )
    spine_is_cold: bool = tick(False, "cold_spine", "The spine stays off the warm platen")
    board: str = listed(
        "backing board 24 pt",
        "board",
        "Board",
        lambda: offer(materials_of_kind("board")),
        group="The stack",
        stays=True,
    )
    boards: int = steps(2, "boards", "Boards on each side", 0, 4, most=10, stays=True)
    card: str = listed(
        "card 90 lb index", "card", "Card", lambda: offer(materials_of_kind("card")), stays=True
    )
    cards: int = steps(1, "cards", "Cards", 0, 4, most=10, stays=True, hint="on each side")
    release: str | None = listed(
        "silicone release paper",
        "release",
        "Non-stick sheet at each cover",
        lambda: [*offer(materials_for("release sheet")), (NONE, NONE)],
        stays=True,
        shown=lambda sheet: sheet or NONE,
        taken=lambda shown: None if shown == NONE else shown,
    )
    plate: str | None = tick(
        PLATE,
        "plate",
        "Aluminium plate underneath",
        stays=True,
        shown=lambda plate: plate is not None,
        taken=lambda is_there: PLATE if is_there else None,
    )
    interval: int | None = by_hand(6, "interval", "One interleaf after every … leaves")
    item_humidity: Range = by_hand(MISSING, "humidity", "Humidity of the item", group="Water and time")
    transport_ratio: Range = by_hand(TRANSPORT_RATIO, transport.KEY, transport.LABEL)
    room_temperature: Quantity = number(
        ROOM, "room", "Room temperature", "temperature", low=10, high=40, stays=True
    )
    room_humidity: Quantity = number(
        ROOM_HUMIDITY, "room_humidity", "Humidity of the room", "percent", stays=True
    )
    night: Quantity = number(
        OVERNIGHT, "night", "Night in the press", "hour", low=0.5, high=96, is_first=True
    )
    late: Quantity = number(LATE, "late", "May stay longer by", "hour", low=0, high=24)
    changes: int = steps(2, "changes", "Changes of interleaves", 0, 12, most=20, is_first=True)
    between_changes: Quantity = number(
        BETWEEN_CHANGES, "between", "Time between changes", "hour", low=0.25, high=48
    )
    release_limit: Quantity = number(RELEASE_LIMIT, "limit", "Humidity before release", "percent")
    under_weight: Quantity = number(
        UNDER_WEIGHT, "weight", "Rest under weight", "hour", low=1, high=720, is_first=True
    )
    load_words: str = "as given"
    sheets: int | None = None
    sheet: str = "copy paper 24 lb"
    spine_chance: float | None = None
    coated_humidity: Quantity = COATED_HUMIDITY
    coated_heat: Quantity = COATED_HEAT
    chamber: Spent = NOTHING
    earlier: Spent = NOTHING
    logger: str = ""
    logger_humidity: Range | None = None
    isotherm_scale: Range = AS_PUBLISHED
    weighed: str = ""
    unread: tuple[str, ...] = ()
    measured: MeasuredHere = NOTHING_MEASURED
    sensitivity: str = "very sensitive"

    def __post_init__(self) -> None:
        check(self)
        self.load.floats("kPa", field="load", low=0.0, high=500.0)
        self._check_air()
        self._check_heat()

    @property
    def longest_night(self) -> Quantity:
        """How long it may stay in the press without heat."""
        return self.night + self.late

    @property
    def is_damp_as_logged(self) -> bool:
        """Whether the humidity of the item is that which the logger of the chamber gives."""
        return self.logger_humidity is not None and self.item_humidity == self.logger_humidity

    @property
    def followed_ends(self) -> tuple[Quantity, Quantity]:
        """Ends of the humidity of the item as they are followed: no paper is known beyond 1 to 98 %."""
        low, high = self.item_humidity.low, self.item_humidity.high
        return max(low, DRIEST), min(high, DAMPEST)

    def _check_air(self) -> None:
        for end in (self.item_humidity.low, self.item_humidity.high):
            to_humidity(end, field="humidity of the item")
        if not DRIEST <= self.item_humidity.value <= DAMPEST:
            came = f"{self.item_humidity.value.to('percent').magnitude:.4g} %"
            allowed = f"{DRIEST.magnitude:.0f} to {DAMPEST.magnitude:.0f} %"
            remedy = "Beyond it nobody knows what paper holds: let it come nearer to the room, read it again"
            raise BadValue("humidity of the item", came, allowed, remedy)
        room = to_humidity(self.room_humidity, field="humidity of the room")
        limit = to_humidity(self.release_limit, field="humidity before release")
        if limit <= room:
            came, allowed = f"{100 * limit:.0f} %", f"above the {100 * room:.0f} % of the room and its sheets"
            remedy = "Dry sheets cannot bring the item below themselves: raise the limit, or dry the room"
            raise BadValue("humidity before release", came, allowed, remedy)
        to_humidity(self.coated_humidity, field="humidity limit of a coated cover")

    def _check_heat(self) -> None:
        room = to_float(self.room_temperature, "degC", field="room temperature", low=10.0, high=40.0)
        if self.platen_temperature is not None and self.platen_really is not None:
            to_float(
                self.platen_temperature,
                "degC",
                field="platen temperature",
                low=room,
                high=float(HOTTEST.magnitude),
                remedy="Above 70 °C nothing here is known, and paper ages fast; 60 °C is about 140 °F",
            )
            to_float(
                self.platen_really,
                "degC",
                field="platen temperature, with what it was measured to be off",
                low=0.0,
                high=float(HOTTEST.magnitude),
                remedy="Set it lower by as much as the platen is warmer than it says",
            )
        longest = 1.1 * float(LONGEST_HALF_LIFE.magnitude)  # the doubt of the longest is not refused
        self.half_life.floats("min", field="half-life of the platen", low=0.0, high=longest)

    @property
    def is_warm(self) -> bool:
        """Whether the platen is warmer than the room."""
        if self.platen_really is None:
            return False
        return bool(self.platen_really > self.room_temperature.to("degC") + Q_(1, "delta_degC"))

    @property
    def platen_really(self) -> Quantity | None:
        """How warm the platen likely is: as it is set, and what this bench measured that it is off."""
        if self.platen_temperature is None:
            return None
        found = find_measured(self.measured, PLATEN_ERROR, PRESS)
        off = Q_(0, "delta_degC") if found is None else found.value.value
        return self.platen_temperature.to("degC") + off


@dataclass(frozen=True)
class Heat:
    """What the heat does.

    Attributes
    ----------
    time : Range [minute]
        Until the slowest leaf is within 5 % of the warmest it can become.
    top, middle, bottom : Range [temperature]
        Of the item at the end of the dwell; the top is at the hot platen.
    slowest, slowest_final : Range [temperature]
        Of the slowest leaf at the end of the dwell, and if the dwell were endless.
    slowest_name, slowest_called : str
        ``"far leaf"``, or ``"middle leaf"`` with both sides hot; and how a sentence calls it: a single
        sheet has no far leaf.
    minutes : tuple of float
        Times of the curves.
    curves : tuple of (tuple of float, ...)
        Most likely temperatures in °C of top, middle and bottom at these minutes.
    cooling : Range [minute]
        From the dwell's end, the platen switched off, until the warmest leaf is within 5 K of the room.
    doubts : dict of str to float
        What the doubt about the slowest leaf comes from.
    cover_humidity, cover_heat, spine_heat : Quantity [percent], Quantity [degC], Quantity [degC]
        The highest at either cover, and of any sheet, from the closing of the press to the end of the night.
    """

    time: Range
    top: Range
    middle: Range
    bottom: Range
    slowest: Range
    slowest_final: Range
    slowest_name: str
    slowest_called: str
    minutes: tuple[float, ...]
    curves: tuple[tuple[float, ...], ...]
    cooling: Range
    doubts: dict[str, float]
    cover_humidity: Quantity
    cover_heat: Quantity
    spine_heat: Quantity

    @property
    def whole(self) -> Range:
        """Coldest to warmest of the item, the middle between."""
        return Range(
            self.middle.value, min(self.bottom.low, self.middle.low), max(self.top.high, self.middle.high)
        )


@dataclass(frozen=True)
class Water:
    """Where the water goes.

    Attributes
    ----------
    warm : Range [percent]
        Of the dampest sheet while it is hot (or cold, without heat).
    rest : Range [percent]
        Mean of cover and leaves after the night.
    dampest : Quantity [percent]
        Of the dampest sheet then.
    doubts : dict of str to float
        What the doubt about the humidity after the night comes from.
    gains : dict of str to Quantity [g]
        What each part takes up until then; below zero it gives water off.
    changes : tuple of Range [percent]
        Mean after each change of sheets; beyond those planned only the likely value is known.
    needed : int or None
        Changes until no leaf is above the limit, most likely; None if not within those followed.
    fewest, most : int or None
        The same within the doubts.  The fewest are looked for as far as those needed; most is None if more
        than planned.
    released : Range [percent]
        After the changes wished.
    sheet_mass : Quantity [g]
        Of one set of interleaves, at room humidity.
    ratio : float
        Mass of a set over that of the item.
    conditioning : Range [hour] or None
        Under light weight until nine tenths of what is left are gone, the upper face free; None if its value
        or its longer end is not within 60 days.
    release : Quantity [hour] or None
        Under light weight from which it may be released: no leaf above the limit, all within 5 % RH of
        each other and within 2 K of the room; None if not in ten days.
    """

    warm: Range
    rest: Range
    dampest: Quantity
    doubts: dict[str, float]
    gains: dict[str, Quantity]
    changes: tuple[Range, ...]
    needed: int | None
    fewest: int | None
    most: int | None
    released: Range
    sheet_mass: Quantity
    ratio: float
    conditioning: Range | None
    release: Quantity | None


@dataclass(frozen=True)
class HeatAlternative:
    """One way to bring heat to the far leaf, most likely values.

    Attributes
    ----------
    words : str
        What it is called.
    celsius : float
        Of the far leaf at the end of the dwell.
    minutes : float
        Until it is within 5 % of the warmest it can become.
    dwell : Quantity [time]
        That it takes.
    """

    words: str
    celsius: float
    minutes: float
    dwell: Quantity


@dataclass(frozen=True, kw_only=True)
class PressingPlan(Plan):
    """The press stack, the load, the heat, the water, and what they cost.

    Attributes
    ----------
    choices : PressingChoices
        That it was planned for.
    stack : Stack
        From the hot platen down.
    interleaves : int
        Sheets in the item.
    ridge : Quantity [kPa]
        Pressure on the spine edge if it alone carried the load.
    heat : Heat or None
        None in a cold press.
    water : Water
        Where it is in the stack, and where it goes.
    glue : Margin or None
        Of the spine glue at its temperature in the press; None without glue.
    fibres : Margin
        Of the fibres: soft is what is wanted.
    sizes : dict of str to Range [mm]
        Expected change of width and height for good, for the grain along the spine, the usual one.
    spent : Spent
        What chamber and press of this cycle cost in mould, rust and ageing.
    account : Account
        The whole treatment until release, against its limits.
    alternatives : tuple of HeatAlternative
        The choice first; empty in a cold press.
    """

    choices: PressingChoices
    stack: Stack
    interleaves: int
    ridge: Quantity
    heat: Heat | None
    water: Water
    glue: Margin | None
    fibres: Margin
    sizes: dict[str, Range]
    spent: Spent
    account: Account
    alternatives: tuple[HeatAlternative, ...]

    @property
    def changes_needed(self) -> int | None:
        """Changes of interleaves until below the limit, most likely; None if not within reach."""
        return self.water.needed

    @property
    def changes_reach(self) -> tuple[int | None, int | None]:
        """Fewest and most changes that may be needed; None beyond those planned."""
        return self.water.fewest, self.water.most
