"""The item: what the thing is, and how thick it was read to be.

An item is a stapled or glued paper periodical, or a single or folded sheet.  Leaves are leaves of
paper (two pages each); the cover is counted apart.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise

from bench.errors import BadValue
from bench.materials import look_up
from bench.uncertainty import Measured, from_limits
from bench.units import Q_, Amount, Quantity, Told, to_float

LEAST_MASS, MOST_MASS = Q_(0.5, "g"), Q_(5000.0, "g")
"""What a periodical can weigh."""


class Format(StrEnum):
    """How the item holds together."""

    SADDLE_STITCHED = "saddle-stitched"
    SIDE_STAPLED = "square-bound, side-stapled"
    GLUED = "square-bound, glued"
    SHEET = "single or folded sheet"


class Answer(StrEnum):
    """A plain answer that may honestly be unknown."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class Prong(StrEnum):
    """How the ends of a staple lie."""

    FLUSH = "flush"
    PROUD = "proud"


@dataclass(frozen=True)
class Staple:
    """One staple: where it sits and how it looks.

    Attributes
    ----------
    name : str
        ``"upper"``, ``"lower"``, ...
    from_head, from_spine : Quantity
        Place of its middle, from the head and from the spine edge (zero in a fold).
    prong : Prong
        Flush, or standing proud.
    rust : int
        0 none, 1 just visible, 2 plain, 3 loss of metal or staining through a leaf.
    """

    name: str
    from_head: Quantity
    from_spine: Quantity
    prong: Prong = Prong.FLUSH
    rust: int = 0

    def __post_init__(self) -> None:
        to_float(self.from_head, "mm", field=f"{self.name} staple from head", low=0, high=600)
        to_float(self.from_spine, "mm", field=f"{self.name} staple from spine", low=0, high=50)
        if self.rust not in (0, 1, 2, 3):
            raise BadValue(f"rust of {self.name} staple", self.rust, "0, 1, 2 or 3", "Choose a grade of rust")


@dataclass(frozen=True)
class Item:
    """What the thing is.

    Attributes
    ----------
    title : str
        As the owner calls it.
    format : Format
        How it holds together.
    width, height : Quantity
        Trimmed size, spine to fore edge and head to tail.
    leaves : int
        Leaves of the text block, without the cover (see :func:`count_leaves`).
    cover_leaves : int
        2 for a cover, 0 for a self-cover or a sheet.
    text_paper, cover_paper : str
        Names in the materials table.
    cover_coated : Answer
        Coated covers block and cloud when damp and warm.
    glue : str
        Glue of the spine by its name in the materials table, ``"none"`` or ``"unknown"``.
    staples : tuple of Staple
        From head to tail.
    mass : Quantity or None
        Whole item at room humidity, if weighed.
    """

    title: str
    format: Format
    width: Quantity
    height: Quantity
    leaves: int
    cover_leaves: int = 2
    text_paper: str = "newsprint"
    cover_paper: str = "coated cover"
    cover_coated: Answer = Answer.UNKNOWN
    glue: str = "none"
    staples: tuple[Staple, ...] = ()
    mass: Quantity | None = None

    def __post_init__(self) -> None:
        to_float(self.width, "mm", field="width", low=30, high=600)
        height = to_float(self.height, "mm", field="height", low=30, high=800)
        if not isinstance(self.leaves, int) or not 1 <= self.leaves <= 1000:
            raise BadValue(
                "leaves", self.leaves, "1 to 1000", "Count the leaves again (two pages are one leaf)"
            )
        if self.cover_leaves not in (0, 2):
            raise BadValue("cover leaves", self.cover_leaves, "0 or 2", "A cover has a front and a back leaf")
        if self.format is Format.SADDLE_STITCHED and self.leaves % 2:
            remedy = "Folded sheets give leaves in pairs: look for a missing or a tipped-in leaf"
            raise BadValue("leaves of a saddle-stitched item", self.leaves, "an even number", remedy)
        if self.mass is not None:
            least, most = (float(end.magnitude) for end in (LEAST_MASS, MOST_MASS))
            to_float(self.mass, "g", field="mass", low=least, high=most)
        for staple in self.staples:
            if staple.from_head.to("mm").magnitude > height:
                allowed = Told("at most the height, {}", Amount(self.height, "mm", -1))
                came = Told("{}", Amount(staple.from_head, "mm", 1, fine=5e-6))
                raise BadValue(f"{staple.name} staple from head", came, allowed, "Measure from the head edge")

    @property
    def area(self) -> Quantity:
        """Area of one face."""
        return (self.width * self.height).to("m^2")

    @property
    def is_square_bound(self) -> bool:
        """Tell whether the spine is flat and glued."""
        return self.format in (Format.SIDE_STAPLED, Format.GLUED)

    @property
    def all_leaves(self) -> int:
        """Leaves of paper in all, cover included."""
        return self.leaves + self.cover_leaves


def count_leaves(count: int, *, counted_as: str) -> int:
    """Turn a count into leaves, never assuming whether pages or leaves were counted.

    Parameters
    ----------
    count : int
        What was counted, cover not included.
    counted_as : {"leaves", "pages"}
        A leaf is two pages.

    Raises
    ------
    BadValue
        Not a whole number above zero, an odd number of pages, or no answer to the question.
    """
    if not isinstance(count, int) or isinstance(count, bool) or count < 1:
        raise BadValue("count", count, "a whole number, 1 or more", "Count again, cover not included")
    if counted_as == "leaves":
        return count
    if counted_as == "pages":
        if count % 2:
            remedy = "A leaf has two pages: count again, or look for a leaf that is missing or was skipped"
            raise BadValue("count of pages", count, "an even number", remedy)
        return count // 2
    allowed = "leaves or pages"
    raise BadValue("counted as", repr(counted_as), allowed, "Say which was counted: a leaf is two pages")


@dataclass(frozen=True)
class CountJudgement:
    """Whether a count of leaves fits the thickness, and what it likely means if not.

    ``is_other_unit`` tells that the readings fit as soon as they are taken in another unit.
    """

    fits: bool
    per_leaf: Quantity
    expected: tuple[Quantity, Quantity]
    words: str
    is_other_unit: bool = False


# A pile of aged, read paper is fluffier than its sheets: by up to this factor at the light load of
# a hand caliper.  From memory of bulk measurements; wide on purpose, it only has to tell 1 from 2.
_BULK = (0.9, 1.7)


def judge_leaf_count(item: Item, text_block: Measured) -> CountJudgement:
    """Compare a count of leaves with the thickness read over the text block.

    Parameters
    ----------
    item : Item
        With its leaves and papers.
    text_block : Measured
        Thickness over the text block, cover included.

    Returns
    -------
    CountJudgement
        Suspicious when the thickness per leaf is outside what such paper can be; half or double
        points to pages counted as leaves, or leaves as pages.
    """
    paper = look_up(item.text_paper, "thickness")
    low, high = (_BULK[0] * (paper.low or paper.value), _BULK[1] * (paper.high or paper.value))
    cover = item.cover_leaves * cover_thickness(item)
    per_leaf = ((text_block.value - cover) / item.leaves).to("um")
    expected = (low.to("um"), high.to("um"))
    measured = f"{per_leaf.magnitude:.0f} µm a leaf"
    usual = f"{expected[0].magnitude:.0f} to {expected[1].magnitude:.0f} µm is usual for {item.text_paper}"
    if expected[0] <= per_leaf <= expected[1]:
        return CountJudgement(
            True, per_leaf, expected, f"The count fits the thickness: {measured} ({usual})."
        )
    unit, slip = _find_slip(item, text_block.value, cover, expected)
    thin = "thinner than the cover alone" if per_leaf.magnitude <= 0 else measured
    words = f"The count does not fit the thickness: {thin}, but {usual}; {slip}."
    return CountJudgement(False, per_leaf, expected, words, is_other_unit=unit)


def _find_slip(
    item: Item, thickness: Quantity, cover: Quantity, expected: tuple[Quantity, Quantity]
) -> tuple[bool, str]:
    """Find the slip that would explain a thickness: whether it is one of the unit, and what to do."""

    def fits(thick: Quantity, leaves: float) -> bool:
        return bool(expected[0] <= (thick - cover) / leaves <= expected[1])

    millimetre_in_thousandths = Q_(1, "mm").to("thou").magnitude
    if fits(thickness * millimetre_in_thousandths, item.leaves):
        return True, "likely millimetres were entered as thousandths of an inch. Look at the unit"
    if fits(thickness / millimetre_in_thousandths, item.leaves):
        return True, "likely thousandths of an inch were entered as millimetres. Look at the unit"
    if fits(thickness, item.leaves / 2):
        return False, "likely pages were counted as leaves, so the leaves are half as many. Count again"
    if fits(thickness, item.leaves * 2):
        missed = "likely leaves were missed, or leaves were counted as pages"
        return False, f"{missed}, so the leaves are twice as many. Count again"
    return False, "count again, read again, and look at the paper that is named"


def judge_mass(item: Item) -> str:
    """Hold the mass against size, leaves and grammage of the papers; an empty text if it fits.

    Notes
    -----
    The mass of so many leaves of the lightest to the heaviest paper of that name (materials table),
    with a tenth either way for ink, glue, staples, damp and trimming (judgement).
    """
    if item.mass is None:
        return ""
    papers = [(item.leaves, item.text_paper), (item.cover_leaves, item.cover_paper)]
    grammages = [(count, look_up(paper, "grammage")) for count, paper in papers if count]
    low = 0.9 * sum((n * (g.low or g.value) for n, g in grammages), Q_(0.0, "gsm")) * item.area
    high = 1.1 * sum((n * (g.high or g.value) for n, g in grammages), Q_(0.0, "gsm")) * item.area
    if low <= item.mass <= high:
        return ""
    usual = f"{low.to('g').magnitude:.0f} to {high.to('g').magnitude:.0f} g"
    return (
        f"A mass of {item.mass.to('g').magnitude:.1f} g does not fit: {item.leaves} leaves of "
        f"{item.text_paper} of this size{' with their cover' if item.cover_leaves else ''} weigh {usual}. "
        "Weigh again, or look at the count, the size and the papers."
    )


# Places of staples that are usual, from memory of the trade: a staple is about 12 mm wide.
_HALF_STAPLE = Q_(6.0, "mm")
_FOLD = Q_(3.0, "mm")
_SIDE = (Q_(2.0, "mm"), Q_(20.0, "mm"))


def judge_staples(item: Item) -> tuple[str, ...]:
    """Say which staples stand where none should: past an edge, away from a fold, on one another."""
    found: list[str] = []
    for staple in item.staples:
        name, spine = f"The {staple.name} staple", staple.from_spine
        if staple.from_head < _HALF_STAPLE or item.height - staple.from_head < _HALF_STAPLE:
            found.append(f"{name} would reach past the head or the tail of the item.")
        if spine > item.width:
            found.append(f"{name} would stand outside the item, past the fore edge.")
        elif item.format is Format.SADDLE_STITCHED and spine > _FOLD:
            found.append(
                f"{name} stands {spine.to('mm').magnitude:.0f} mm from the spine: in a fold that is 0."
            )
        elif item.format is Format.SIDE_STAPLED and not _SIDE[0] <= spine <= _SIDE[1]:
            usual = f"{_SIDE[0].magnitude:.0f} to {_SIDE[1].magnitude:.0f} mm is usual at the side"
            found.append(f"{name} stands {spine.to('mm').magnitude:.0f} mm from the spine: {usual}.")
    heads = sorted(staple.from_head for staple in item.staples)
    if any(after - before < 2 * _HALF_STAPLE for before, after in pairwise(heads)):
        found.append("Two staples stand on one another.")
    return tuple(f"{words} Measure from the edge again." for words in found)


def cover_thickness(item: Item) -> Quantity:
    """Give the typical thickness of one cover leaf, from the materials table."""
    return look_up(item.cover_paper, "thickness").value.to("um")


@dataclass(frozen=True)
class Thicknesses:
    """How thick the closed item was read to be, place by place.

    Attributes
    ----------
    text_block : Measured
        Over the text block, away from spine and staples, cover included.
    over_staples : mapping of str to Measured
        Over each staple by its name.  A reading may be *lower* than the text block: the wire
        pinches the paper there, so that it took up less water.
    spine_edge, fore_edge : Measured or None
        At the edges, if read.
    was_read : bool
        Whether somebody read them; typical values stand in otherwise.
    """

    text_block: Measured
    over_staples: Mapping[str, Measured] = field(default_factory=dict)
    spine_edge: Measured | None = None
    fore_edge: Measured | None = None
    was_read: bool = True

    @property
    def highest_staple(self) -> tuple[str, Measured] | None:
        """Name and thickness of the highest staple; plans use this one, never the mean."""
        if not self.over_staples:
            return None
        name = max(self.over_staples, key=lambda key: self.over_staples[key].value.to("um").magnitude)
        return name, self.over_staples[name]

    def places(self) -> dict[str, Measured]:
        """Give every thickness by its place, as a record names it."""
        places = {"text block": self.text_block}
        places |= {f"{name} staple": value for name, value in self.over_staples.items()}
        edges = {"spine edge": self.spine_edge, "fore edge": self.fore_edge}
        return places | {name: value for name, value in edges.items() if value is not None}

    def high_places(self) -> dict[str, Measured]:
        """Give the places that the text block must stand above: spine edge and highest staple."""
        places: dict[str, Measured] = {}
        if self.highest_staple:
            name, value = self.highest_staple
            places[f"{name} staple"] = value
        if self.spine_edge is not None:
            places["spine edge"] = self.spine_edge
        return places


def typical_thicknesses(item: Item) -> Thicknesses:
    """Estimate thicknesses when there is no caliper, from the leaf count, with wide uncertainty.

    Text block: leaves times the typical sheet with a bulk factor midway in its range, cover added;
    spine edge and staples are taken as high as the text block plus up to a wire of 0.6 mm flattened
    into the paper (0 to 0.4 mm; from memory, to be replaced by a reading).
    """
    paper = look_up(item.text_paper, "thickness")
    low = item.leaves * _BULK[0] * (paper.low or paper.value).to("mm")
    high = item.leaves * _BULK[1] * (paper.high or paper.value).to("mm")
    cover = (item.cover_leaves * cover_thickness(item)).to("mm")
    source = "typical value, not measured"
    block = from_limits(
        (low + high) / 2 + cover, low + cover, high + cover, cause="no caliper", source=source
    )
    step = from_limits(
        Q_(0.2, "mm"), Q_(0.0, "mm"), Q_(0.4, "mm"), cause="staple height not read", source=source
    )
    staples = {staple.name: block + step for staple in item.staples}
    spine = None if item.format is Format.SHEET else block + step
    return Thicknesses(block, staples, spine_edge=spine, was_read=False)
