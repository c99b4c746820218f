"""What the operator chooses for the buffering: sheets, load, boards, and how the load gets there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from bench.errors import BadValue
from bench.physics.bearing.knowns import Assumed, Press
from bench.physics.bearing.plates import Pack, build_pack
from bench.physics.bearing.zones import USUAL_SHEET, Shim
from bench.physics.contact import LOAD_WORDS
from bench.physics.ranges import Range
from bench.treatment.facts import LOAD, Fact
from bench.treatment.plan import Caution, PlannedValue, Verdict, find_value
from bench.units import Q_, Quantity, to_float

PACKS: dict[str, tuple[tuple[str, int], ...]] = {
    "2 backing boards 24 pt and an index card": (("backing board 24 pt", 2), ("card 90 lb index", 1)),
    "1 backing board 24 pt": (("backing board 24 pt", 1),),
    "2 backing boards 42 pt and an index card": (("backing board 42 pt", 2), ("card 90 lb index", 1)),
    "1 blotter and an index card": (("blotter", 1), ("card 90 lb index", 1)),
}
"""Packs on each side, from common practice (the first) to stiffer and softer ones to compare."""


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

FIRMEST = LOAD_WORDS["firm"].high
"""What a hand press comes to at most: beyond it no practice is known, common practice, no source."""


def cautions_of_load(load: Range) -> list[Caution]:
    """Say that a load is beyond what a hand press comes to; nothing within it."""
    if load.value <= FIRMEST:
        return []
    words = (
        f"The load, {load.say('kPa')}, is more than a firm hand press comes to ({FIRMEST:.0f~P}): no "
        "practice is known there, and paper grows thinner for good. Take a lighter load."
    )
    return [Caution(Verdict.CARE, words)]


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
        Room that stops beside the item leave to item and sheets, 0.1 to 100 mm.
    outside : Quantity or None
        By how much the spine hangs outside the boards, up to half of the width.
    shim : Quantity or None
        Thickness of a strip laid over the spine, both sides together.
    shim_width : Quantity or None
        Of that strip, from the spine.
    """

    pack: str = USUAL_PACK
    even: bool = False
    stops: Quantity | None = None
    outside: Quantity | None = None
    shim: Quantity | None = None
    shim_width: Quantity | None = None

    def __post_init__(self) -> None:
        if self.pack not in PACKS:
            raise BadValue("boards on each side", repr(self.pack), "; ".join(PACKS), "Choose one of these")
        if self.stops is not None:
            to_float(self.stops, "mm", field=GAP, low=0.1, high=100)
            if self.even:
                remedy = "Leave the stops out, or press under a platen kept level"
                raise BadValue(GAP, "given for loose weights", "stops only under a level platen", remedy)
        if (self.shim is None) != (self.shim_width is None):
            remedy = "Give the thickness of the strip and its width, or neither"
            raise BadValue("strip over the spine", "half described", "thickness and width", remedy)

    def build_press(self, load: Range | None) -> Press:
        """Build the press that presses so, under a load, or closed to its stops."""
        shim = None
        if self.shim is not None and self.shim_width is not None:
            shim = Shim(self.shim, self.shim_width)
        # A rule reads stops to a tenth of a millimetre at best; from memory.
        gap = None if self.stops is None else Range(self.stops, 0.98 * self.stops, 1.02 * self.stops)
        return Press(
            load=load, gap=gap, pack=_build(self.pack), even=self.even, outside=self.outside, shim=shim
        )


def _build(pack: str) -> Pack:
    return build_pack(*PACKS[pack])


@dataclass(frozen=True)
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
    load_words : str
        The load as the operator named it: ``"medium"``, ``"12 kg"``.
    accepted_risk : float
        Chance of loading spine or staple that is accepted, 0 to 1.
    path : LoadPath
        Boards, platen, stops, shim.
    assumed : Assumed or None
        What findings on this bench say of paper and boards; None as believed without them.
    learned : str
        Which findings these are, in words; empty without them.
    unread : tuple of str
        Treatments of this bench that could not be read for what was learned there.
    read_under : str
        Readings of the text block under load that gave the constants of its law; empty without them.
    unsettled : str
        Why such readings are not used, in a sentence; empty if they are or there are none.
    may_lie_open : PlannedValue or None
        How long the item may lie open out of the chamber, from the humidity plan; None if not planned.
    """

    load: Range | None
    load_words: str = "as given"
    interval: int = 6
    sheets: int | None = None
    sheet: str = USUAL_SHEET
    accepted_risk: float = 0.02
    path: LoadPath = field(default_factory=LoadPath)
    assumed: Assumed | None = None
    learned: str = ""
    unread: tuple[str, ...] = ()
    read_under: str = ""
    unsettled: str = ""
    may_lie_open: PlannedValue | None = None

    def __post_init__(self) -> None:
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
