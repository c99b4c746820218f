"""Which readings a treatment needs, where, and with what: one definition for intake and for review.

Review compares like with like: an edge that was not read before treatment says nothing after it, and a cycle
of which the growth is not known ends in *hold*.  So intake asks for what review will read again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from bench.item import Format, Item
from bench.uncertainty import Measured
from bench.units import Q_, Quantity, join_words

Read = Callable[[str], Mapping[str, Measured]]

WHOLE = "whole item"
SIZES = ("width", "height")
_COVER = "front cover"
_INNER = 10  # a leaf well inside the block: common practice, no source


@dataclass(frozen=True)
class Instrument:
    """What a reading is taken with, and how far it can be trusted if its maker is not asked.

    Attributes
    ----------
    name : str
        As a record names it.
    limit : Quantity
        Largest error that makers allow for such an instrument, plus or minus.
    step : Quantity
        Smallest step that it shows.
    """

    name: str
    limit: Quantity
    step: Quantity


# From memory of DIN 862 (calipers), DIN 863 (micrometers), DIN 866 (rules) and of common balances; a rule
# without a loupe is read to half a millimetre.
_THICKNESS = (
    Instrument("caliper", Q_(0.02, "mm"), Q_(0.01, "mm")),
    Instrument("micrometer", Q_(0.004, "mm"), Q_(0.001, "mm")),
    Instrument("dial caliper", Q_(0.02, "mm"), Q_(0.02, "mm")),
)
_SIZE = (
    Instrument("steel rule and loupe", Q_(0.1, "mm"), Q_(0.1, "mm")),
    Instrument("steel rule", Q_(0.1, "mm"), Q_(0.5, "mm")),
)
_MASS = (
    Instrument("balance", Q_(0.02, "g"), Q_(0.01, "g")),
    Instrument("kitchen scale", Q_(1.0, "g"), Q_(1.0, "g")),
)
_STRIP = (Instrument("steel rule", Q_(1.5, "mm"), Q_(0.5, "mm")),)  # its edge is not sharp: judgement


def instruments_for(quantity: str) -> tuple[Instrument, ...]:
    """Give the instruments that fit a quantity, the usual one first.

    Examples
    --------
    >>> [instrument.name for instrument in instruments_for("mass")]
    ['balance', 'kitchen scale']
    """
    if quantity == "thickness":
        return _THICKNESS
    if quantity == "mass":
        return _MASS
    return _SIZE if quantity in SIZES else _STRIP


@dataclass(frozen=True)
class Needed:
    """One reading that is needed.

    Attributes
    ----------
    quantity, place : str
        As a record writes them.
    times : int
        How often it is read.
    """

    quantity: str
    place: str
    times: int


def needed_readings(item: Item, before: Read | None = None) -> tuple[Needed, ...]:
    """Give the readings that are needed of an item.

    Parameters
    ----------
    item : Item
        What is read; staples and spine are places of their own.
    before : callable, optional
        For a review: ``before("width")`` gives place to value as read before treatment.  Sizes and mass are
        then asked for where they were read, since only like places are compared.

    Returns
    -------
    tuple of Needed
        Thickness at its places (five times each), width and height of the cover and of a named leaf (three
        times), mass (once: a balance repeats to about a step); how often is common practice, no source.

    Examples
    --------
    >>> from bench.item import Format, Item
    >>> issue = Item("An issue", Format.SADDLE_STITCHED, Q_(168, "mm"), Q_(257, "mm"), 16)
    >>> [f"{n.quantity} {n.place}" for n in needed_readings(issue)][:4]
    ['thickness text block', 'thickness spine edge', 'width front cover', 'width leaf 10']
    """
    thickness = ["text block", *(f"{staple.name} staple" for staple in item.staples)]
    if item.format is not Format.SHEET:
        thickness.append("spine edge")
    found = [Needed("thickness", place, 5) for place in thickness]
    for quantity in SIZES:
        places = _size_places(item) if before is None else tuple(before(quantity))
        found += [Needed(quantity, place, 3) for place in places]
    if before is None or before("mass"):
        found.append(Needed("mass", WHOLE, 1))
    return tuple(found)


def _size_places(item: Item) -> tuple[str, ...]:
    """Name where width and height are read: the outside, and a leaf inside, found again by its number."""
    inner = f"leaf {min(_INNER, item.leaves)}"
    outer = _COVER if item.cover_leaves else "leaf 1"
    return (outer,) if outer == inner else (outer, inner)


def still_needed(item: Item, read: Read, before: Read | None = None) -> tuple[Needed, ...]:
    """Give the readings that are needed and were not taken.

    Parameters
    ----------
    item : Item
        What is read.
    read : callable
        ``read("width")`` gives place to value as read so far.
    before : callable, optional
        As in :func:`needed_readings`.

    Notes
    -----
    At intake another leaf or another side of the cover serves as well as the one proposed.
    """
    missing: list[Needed] = []
    for quantity, group in groupby(needed_readings(item, before), key=lambda each: each.quantity):
        wanted, places = list(group), list(read(quantity))
        if quantity in SIZES and before is None:
            missing += _unless_served(wanted, places)
        else:
            missing += [each for each in wanted if each.place not in places]
    return tuple(missing)


def _unless_served(wanted: Sequence[Needed], places: Iterable[str]) -> list[Needed]:
    """Leave out as many places as others of their kind were read in their stead."""
    spare = [place for place in places if place not in {each.place for each in wanted}]
    left = []
    for each in wanted:
        if each.place in places:
            continue
        instead = next((place for place in spare if ("cover" in place) == ("cover" in each.place)), None)
        if instead is None:
            left.append(each)
        else:
            spare.remove(instead)
    return left


def say_needed(missing: Sequence[Needed]) -> str:
    """Say in one sentence what is still to be read; an empty text if nothing is.

    Examples
    --------
    >>> widths = Needed("width", "front cover", 3), Needed("width", "leaf 10", 3)
    >>> say_needed((*widths, Needed("mass", WHOLE, 1)))
    'Still to be read: width (front cover, leaf 10) and mass.'
    """
    parts = []
    for quantity, group in groupby(missing, key=lambda each: each.quantity):
        places = ", ".join(each.place for each in group if each.place != WHOLE)
        parts.append(f"{quantity} ({places})" if places else quantity)
    if not parts:
        return ""
    return f"Still to be read: {join_words(parts)}."
