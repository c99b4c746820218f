"""Where interleaves go, by leaf number, for each way an item holds together."""

from __future__ import annotations

from dataclasses import dataclass

from bench.errors import BadValue
from bench.item import Format, Item

LADDER = (6, 8, 10)  # leaves between sheets, cycle after cycle: common practice, no source


@dataclass(frozen=True)
class Placement:
    """Where one interleaf goes: after which leaf, and how far towards the spine."""

    after_leaf: int
    reach: str
    words: str


def balance_groups(leaves: int, interval: int) -> tuple[int, ...]:
    """Divide leaves into the fewest groups of at most ``interval``, as equal as they can be.

    Examples
    --------
    >>> balance_groups(40, 6)
    (6, 6, 6, 6, 6, 5, 5)
    """
    if not isinstance(interval, int) or interval < 1:
        raise BadValue("leaves between sheets", interval, "a whole number, 1 or more", "Choose a spacing")
    groups = -(-leaves // interval)
    small, larger = divmod(leaves, groups)
    return (small + 1,) * larger + (small,) * (groups - larger)


def place_interleaves(item: Item, interval: int) -> tuple[Placement, ...]:
    """Say where every sheet goes, by leaf number from the front.

    Parameters
    ----------
    item : Item
        Its format decides how far sheets reach.
    interval : int
        Most leaves between two sheets.

    Returns
    -------
    tuple of Placement
        Square-bound: one under each cover in to the spine fold, the others stop at the staples (or
        short of the glue).  Saddle-stitched: each half is divided by itself, so that a sheet always
        lies at the centre spread over the prongs; that one and those under the covers go in to the
        fold, the others stop short of it, where the folded paper stands proud.  A sheet: one on
        each face.

    Raises
    ------
    BadValue
        A spacing that is no whole number above zero, or more sheets than leaves.
    """
    if item.format is Format.SHEET:
        return (
            Placement(0, "over the whole face", "on the front face"),
            Placement(item.leaves, "over the whole face", "on the back face"),
        )
    if item.format is Format.SADDLE_STITCHED:
        half = balance_groups(item.leaves // 2, interval)
        groups = (*half, *reversed(half))
    else:
        groups = balance_groups(item.leaves, interval)
    bounds = [sum(groups[:k]) for k in range(1, len(groups))]
    if len(bounds) + 2 > item.leaves:
        allowed = f"at most {item.leaves}, the leaves of the item"
        raise BadValue("interleaves", len(bounds) + 2, allowed, "Choose more leaves between sheets")
    under = "to the spine fold"
    places = [Placement(0, under, "under the front cover" if item.cover_leaves else "before the first leaf")]
    places += [Placement(leaf, _reach(item, leaf), f"after leaf {leaf}") for leaf in bounds]
    last = "under the back cover" if item.cover_leaves else "after the last leaf"
    return (*places, Placement(item.leaves, under, last))


def _reach(item: Item, leaf: int) -> str:
    if item.format is Format.SIDE_STAPLED:
        return "stops at the staples"
    if item.format is Format.GLUED:
        return "stops short of the glue"
    if leaf == item.leaves // 2:
        return "to the fold at the centre spread, over the prongs"
    return "stops 3 mm short of the fold"
