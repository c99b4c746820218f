"""Where interleaves go, by leaf number, for each way an item holds together."""

from __future__ import annotations

from dataclasses import dataclass

from bench.errors import BadValue
from bench.item import Format, Item

SHEETS = "sheets in all"
_FEW_LEAVES = 12  # on one side of a fold, or in all: the widest spacing compared comes to one group
CLOSEST, WIDEST = 2, 12  # leaves between sheets that a control offers
LADDER = (6, 8, 10)  # leaves between sheets, cycle after cycle: common practice, no source


@dataclass(frozen=True)
class Placement:
    """Where one interleaf goes: after which leaf, and how far towards the spine."""

    after_leaf: int
    reach: str
    words: str

    @property
    def is_to_fold(self) -> bool:
        """Whether it reaches in to the fold, and so passes over spine and staples."""
        return self.reach.startswith("to the")


def balance_groups(leaves: int, interval: int) -> tuple[int, ...]:
    """Divide leaves into the fewest groups of at most ``interval``, as equal as they can be.

    Examples
    --------
    >>> balance_groups(40, 6)
    (6, 6, 6, 6, 6, 5, 5)
    """
    if not isinstance(interval, int) or interval < 1:
        raise BadValue("leaves between sheets", interval, "a whole number, 1 or more", "Choose a spacing")
    return _divide(leaves, -(-leaves // interval))


def _divide(leaves: int, groups: int) -> tuple[int, ...]:
    small, larger = divmod(leaves, groups)
    return (small + 1,) * larger + (small,) * (groups - larger)


def spacings_of(item: Item) -> tuple[int, ...]:
    """Give the spacings that are worth comparing: every 4 to every 12 leaves, closer where leaves are few.

    In a folded issue of 16 leaves every 4 and every 7 leaves come to the same two sheets beside those at
    the fold, which raise spine and staples with the text block; only closer spacings give it more.

    Examples
    --------
    >>> from bench.units import Q_
    >>> size = Q_(168, "mm"), Q_(257, "mm")
    >>> spacings_of(Item("Saltmarsh Signal, no. 31", Format.SADDLE_STITCHED, *size, leaves=16))[:3]
    (2, 3, 4)
    """
    leaves = item.leaves // 2 if item.format is Format.SADDLE_STITCHED else item.leaves
    return tuple(range(CLOSEST if leaves <= _FEW_LEAVES else 4, WIDEST + 1))


def group_leaves(item: Item, interval: int, sheets: int | None = None) -> tuple[int, ...]:
    """Give the leaves of each group between two sheets, front to back.

    Parameters
    ----------
    item : Item
        A saddle-stitched one is divided half by half, so that a sheet lies at its centre spread.
    interval : int
        Most leaves between two sheets.
    sheets : int, optional
        Sheets in all, spread evenly; in place of the spacing.

    Raises
    ------
    BadValue
        A spacing or a number of sheets that cannot be, or more sheets than leaves.
    """
    halves = 2 if item.format is Format.SADDLE_STITCHED else 1
    leaves = item.leaves // halves
    if sheets is None:
        groups = balance_groups(leaves, interval)
    else:
        _check_sheets(item, sheets, halves)
        groups = _divide(leaves, (sheets - 1) // halves)
    if halves * len(groups) + 1 > item.leaves:
        allowed = f"at most {item.leaves}, the leaves of the item"
        raise BadValue("interleaves", halves * len(groups) + 1, allowed, "Choose more leaves between sheets")
    return (*groups, *reversed(groups)) if halves == 2 else groups


def _check_sheets(item: Item, sheets: int, halves: int) -> None:
    least = halves + 1
    if not isinstance(sheets, int) or not least <= sheets <= item.leaves:
        allowed = f"a whole number from {least} to {item.leaves}, the leaves of the item"
        raise BadValue(SHEETS, sheets, allowed, "Enter another number, or leave it to the spacing")
    if halves == 2 and sheets % 2 == 0:
        remedy = "Add one or take one: one sheet lies at the centre spread, the others alike in both halves"
        raise BadValue(SHEETS, sheets, "an odd number for a saddle-stitched item", remedy)


def say_spacing(groups: tuple[int, ...]) -> str:
    """Say how many leaves lie between two sheets: they are spread evenly, and seldom come out alike.

    Examples
    --------
    >>> say_spacing((8, 8, 8, 7, 7)), say_spacing((6, 6, 6))
    ('every 7 or 8 leaves', 'every 6 leaves')
    """
    sizes = sorted(set(groups))
    return f"every {' or '.join(str(size) for size in sizes)} lea{'f' if sizes == [1] else 'ves'}"


def place_interleaves(item: Item, interval: int, sheets: int | None = None) -> tuple[Placement, ...]:
    """Say where every sheet goes, by leaf number from the front.

    Parameters
    ----------
    item : Item
        Its format decides how far sheets reach.
    interval, sheets
        As in :func:`group_leaves`.

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
    groups = group_leaves(item, interval, sheets)
    bounds = [sum(groups[:k]) for k in range(1, len(groups))]
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
