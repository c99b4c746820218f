"""What the operator chooses for the buffering: sheets, load, boards, and how the load gets there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import MISSING, dataclass, field
from functools import cache

from bench.errors import BadValue
from bench.materials import materials_of_kind
from bench.physics.bearing.knowns import Assumed, Press
from bench.physics.bearing.plates import Pack, build_pack
from bench.physics.bearing.zones import USUAL_SHEET, Shim
from bench.physics.contact import LOAD_WORDS
from bench.physics.ranges import Range
from bench.treatment.choices import by_hand, check, listed, number, offer, steps
from bench.treatment.facts import LOAD, Fact
from bench.treatment.interleaves import CLOSEST, SHEETS, WIDEST
from bench.treatment.measured import NOTHING_MEASURED, MeasuredHere
from bench.treatment.plan import Caution, Notice, PlannedValue, Verdict, find_value
from bench.units import Q_, Quantity

PACKS: dict[str, tuple[tuple[str, int], ...]] = {
    "2 backing boards 24 pt and an index card": (("backing board 24 pt", 2), ("card 90 lb index", 1)),
    "1 backing board 24 pt": (("backing board 24 pt", 1),),
    "2 backing boards 42 pt and an index card": (("backing board 42 pt", 2), ("card 90 lb index", 1)),
    "1 blotter and an index card": (("blotter", 1), ("card 90 lb index", 1)),
}
"""Packs on each side, from common practice (the first) to stiffer and softer ones to compare."""


@cache
def say_pack(name: str) -> str:
    """Name a pack with its thickness, which a count of points and pounds hides.

    Examples
    --------
    >>> say_pack(USUAL_PACK)
    '1.40 mm: 2 backing boards 24 pt and an index card'
    """
    return f"{float(_build(name).thickness.to('mm').magnitude):.2f} mm: {name}"


PACK = "pack"
PRESS = {False: "press: level", True: "press: even"}
PRESSES = {False: "a platen kept level", True: "loose weights"}
"""Keys of what a plan takes as given of boards and press, and the words for a press by whether it tilts."""

USUAL_PACK = next(iter(PACKS))
GAP = "gap of the press"


STOP_CHANCE = 0.10
"""Chance of loading spine or staple above which a plan says stop.  Chosen here, no source: one book in ten
crushed is no risk to take with care."""


def judge_chance(loaded: float) -> Verdict:
    """Say how grave a chance of loading spine or staple is that is more than was accepted."""
    return Verdict.STOP if loaded > STOP_CHANCE else Verdict.CARE


FIRMEST = LOAD_WORDS["firm"].high
"""What a hand press comes to at most: beyond it no practice is known, common practice, no source."""

_HEAVY_LOAD = Notice(
    "load-beyond-hand-press",
    Verdict.CARE,
    "The load, {load}, is more than a firm hand press comes to ({firmest:.0f~P}): no practice is known "
    "there, and paper grows thinner for good. Take a lighter load.",
)


def cautions_of_load(load: Range) -> list[Caution]:
    """Say that a load is beyond what a hand press comes to; nothing within it."""
    if load.value <= FIRMEST:
        return []
    return [_HEAVY_LOAD(load=load.say("kPa"), firmest=FIRMEST)]


PRESSED_BY = (("a platen kept level", False), ("loose weights that tilt with it", True))
STRIP = Q_(6.0, "mm")
"""Width of a strip over the spine that is proposed: judgement."""


@dataclass(frozen=True)
class LoadPath:
    """How the load gets from the press to the item.

    Attributes
    ----------
    pack : str
        Boards and cards on each side, a key of :data:`PACKS`.
    even : bool
        Loose weights that tilt with the item, instead of a platen that is kept level.
    stops : Quantity or None
        Room that stops beside the item leave to item and sheets.
    outside : Quantity or None
        By how much the spine hangs outside the boards, up to half of the width.
    shim, shim_width : Quantity or None
        Thickness of a strip laid over the spine, both sides together; its width, from the spine.

    Raises
    ------
    BadValue
        A choice is outside its range, stops are given for loose weights, or half a strip is described.
    """

    pack: str = listed(
        USUAL_PACK,
        "pack",
        "Boards on each side",
        lambda: [(say_pack(name), name) for name in PACKS],
        group="How the load gets there",
        stays=True,
    )
    even: bool = listed(False, "even", "Pressed by", lambda: PRESSED_BY, stays=True)
    stops: Quantity | None = number(
        None,
        "gap",
        GAP.capitalize(),
        "thickness",
        low=0.1,
        high=100,
        is_optional=True,
        is_first=True,
        hint="room left to item and sheets by stops beside it, or by a press set by height; empty: none",
    )
    outside: Quantity | None = by_hand(None, "outside", "Spine outside the boards by")
    shim: Quantity | None = number(
        None,
        "shim",
        "Strip over the spine, thickness",
        "thickness",
        low=0.01,
        high=5,
        is_optional=True,
        hint="empty: none",
    )
    shim_width: Quantity | None = number(
        None,
        "shim_width",
        "Strip over the spine, width",
        "mm",
        low=1,
        high=100,
        shown=lambda width: width or STRIP,
    )

    def __post_init__(self) -> None:
        check(self)
        if self.stops is not None and self.even:
            remedy = "Leave the stops out, or press under a platen kept level"
            raise BadValue(GAP, "given for loose weights", "stops only under a level platen", remedy)
        if (self.shim is None) != (self.shim_width is None):
            remedy = "Give the thickness of the strip and its width, or neither"
            raise BadValue("strip over the spine", "half described", "thickness and width", remedy)

    def build_press(self, load: Range | None, boards: Mapping[str, Range] | None = None) -> Press:
        """Build the press that presses so, under a load, or closed to its stops.

        Parameters
        ----------
        load : Range [pressure] or None
            On the face.
        boards : mapping of str to Range [N m], optional
            Bending stiffness of one board by its name, where it was measured.
        """
        shim = None
        if self.shim is not None and self.shim_width is not None:
            shim = Shim(self.shim, self.shim_width)
        # A rule reads stops to a tenth of a millimetre at best; from memory.
        gap = None if self.stops is None else Range(self.stops, 0.98 * self.stops, 1.02 * self.stops)
        return Press(
            load=load,
            gap=gap,
            pack=_build(self.pack, boards),
            even=self.even,
            outside=self.outside,
            shim=shim,
        )


def _build(pack: str, boards: Mapping[str, Range] | None = None) -> Pack:
    return build_pack(*PACKS[pack], measured=boards)


def _show_spacing(interval: int) -> int:
    """Give a spacing that the control can show; a thick balanced plan has larger groups."""
    return min(max(interval, CLOSEST), WIDEST)


def _show_sheets(sheets: int | None) -> Quantity | None:
    return None if sheets is None else Q_(float(sheets), "")


def _take_sheets(entered: Quantity | None) -> int | None:
    if entered is None:
        return None
    number = float(entered.magnitude)
    if number != round(number) or number < 1:
        remedy = "Enter another number, or leave it to the spacing"
        raise BadValue(SHEETS, f"{number:g}", "a whole number of sheets", remedy)
    return round(number)


@dataclass(frozen=True, kw_only=True)
class BufferingChoices:
    """What the operator chooses.

    Attributes
    ----------
    interval : int
        Most leaves between two sheets.
    sheets : int or None
        Sheets in all, spread evenly (a balanced plan); in place of the spacing.
    sheet : str
        Interleaf by its name in the materials table.
    load : Range [pressure] or None
        On the face; None for a press set by height, whose load follows from the room its stops leave.
    accepted_risk : float
        Chance of loading spine or staple that is accepted, 0 to 1.
    path : LoadPath
        Boards, platen, stops, shim.
    load_words : str
        The load as the operator named it: ``"medium"``, ``"12 kg"``.
    assumed : Assumed or None
        What findings on this bench say of paper and boards; None as believed without them.
    learned : str
        Which findings these are, in words; empty without them.
    fitted : tuple of str
        Names in ``assumed`` of what these findings gave; the others are as believed.
    unread : tuple of str
        Treatments of this bench that could not be read for what was learned there.
    measured : MeasuredHere
        What this bench measured of itself.
    read_under : str
        Readings of the text block under load that gave the constants of its law; empty without them.
    unsettled : str
        Why such readings are not used, in a sentence; empty if they are or there are none.
    may_lie_open : PlannedValue or None
        How long the item may lie open out of the chamber, from the humidity plan; None if not planned.

    Raises
    ------
    BadValue
        No load and no stops, a chance that is not accepted, or a sheet that is no interleaf.
    """

    interval: int = steps(
        6,
        "interval",
        "One sheet after every … leaves",
        CLOSEST,
        WIDEST,
        group="Choose",
        is_first=True,
        shown=_show_spacing,
    )
    sheets: int | None = number(
        None,
        "sheets",
        SHEETS.capitalize(),
        "dimensionless",
        is_optional=True,
        is_first=True,
        hint="empty: as many as the spacing asks; a number is spread evenly, also between spacings",
        shown=_show_sheets,
        taken=_take_sheets,
    )
    sheet: str = listed(
        USUAL_SHEET, "sheet", "Sheet", lambda: offer(materials_of_kind("interleaf")), is_first=True
    )
    load: Range | None = by_hand(MISSING, "load", "Load", is_first=True)
    accepted_risk: float = steps(
        0.02,
        "risk",
        "Chance of loading the spine that I accept, %",
        1,
        round(100 * STOP_CHANCE),
        is_first=True,
        shown=lambda chance: round(100 * chance),
        taken=lambda percent: percent / 100,
    )
    path: LoadPath = field(default_factory=LoadPath)
    load_words: str = "as given"
    assumed: Assumed | None = None
    learned: str = ""
    fitted: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    measured: MeasuredHere = NOTHING_MEASURED
    read_under: str = ""
    unsettled: str = ""
    may_lie_open: PlannedValue | None = None

    def __post_init__(self) -> None:
        check(self)
        if self.load is None and self.path.stops is None:
            remedy = "Measure the room between the packs, or say how hard it presses"
            raise BadValue(GAP, "empty", "the room that a press set by height leaves", remedy)
        if not 0 < self.accepted_risk <= STOP_CHANCE:
            came, allowed = f"{self.accepted_risk:.1%}", f"above 0 and at most {100 * STOP_CHANCE:.0f} %"
            raise BadValue("accepted chance", came, allowed, "Choose a small chance, such as 2 %")


def planned_load(values: Iterable[PlannedValue], fact: Fact = LOAD) -> tuple[Range, str] | None:
    """Read a load back from planned values, as wide as it was; None if none was planned.

    Parameters
    ----------
    values : iterable of PlannedValue
        Of a plan, just made or read back from a record.
    fact : Fact
        As what the plan saved it.

    Returns
    -------
    load : Range [kPa]
        As planned.  A record from before version 3 kept the wider side of its doubt alone: a load known by a
        word then has the range of the word, of any other the low end is taken as many times below the value
        as the high end is above it.
    words : str
        As the operator named it.
    """
    found = find_value(values, fact)
    if found is None:
        return None
    words = found.source or "as planned"
    if found.low is not None and found.high is not None:
        return Range(found.value, found.low, found.high), words
    if words in LOAD_WORDS:
        return LOAD_WORDS[words], words
    value = float(found.value.to("kPa").magnitude)
    doubt = 0.0 if found.uncertainty is None else float(found.uncertainty.to("kPa").magnitude)
    ends = (value, value * value / (value + doubt), value + doubt)
    return Range(*(Q_(end, "kPa") for end in ends)), words
