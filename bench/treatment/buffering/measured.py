"""Which of the bench's own measurements a plan of buffering takes, and what it then reckons with."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from bench.item import Item
from bench.physics.bearing.knowns import Assumed
from bench.physics.bearing.marks import marking_limit
from bench.physics.ranges import Range
from bench.treatment.buffering.choices import PACKS, BufferingChoices
from bench.treatment.measured import (
    BOARD_BENDING,
    K1,
    K2,
    STAPLE_MARKS,
    THINNING,
    Accepted,
    Constant,
    MeasuredHere,
    take,
    value_or,
)
from bench.units import Quantity

_OF_BLOCK = ((K1, "k1"), (K2, "k2"), (THINNING, "thinning"))
_OF_LAW = (K1.key, K2.key)


def taken_here(item: Item, choices: BufferingChoices) -> tuple[Accepted, ...]:
    """Give what the plan takes of what this bench measured, in the order of its assumptions.

    What accepted findings of the bench say of block and boards goes before a trial on scrap.  Readings of
    the item under load are fitted from the trial, so it counts as taken.
    """
    wanted: list[tuple[Constant, str]] = [
        (constant, item.text_paper) for constant, name in _OF_BLOCK if _is_open(choices, name)
    ]
    if choices.assumed is None or choices.assumed.stiffness is None:
        wanted += [(BOARD_BENDING, board) for board, _ in PACKS[choices.path.pack]]
    if item.staples:
        wanted.append((STAPLE_MARKS, paper_over_staples(item)))
    return take(choices.measured, wanted)


def _is_open(choices: BufferingChoices, name: str) -> bool:
    """Tell whether no finding of the bench gave a constant of the block."""
    if name in choices.fitted:
        return False
    return _is_usual(choices.assumed, name) or (bool(choices.read_under) and name in ("k1", "k2"))


def _is_usual(assumed: Assumed | None, name: str) -> bool:
    return assumed is None or getattr(assumed, name) == getattr(Assumed(), name)


def with_measured(assumed: Assumed, fitted: Collection[str], measured: MeasuredHere, paper: str) -> Assumed:
    """Put what was measured of a paper in place of what is believed of the block.

    Parameters
    ----------
    assumed : Assumed
        What is believed, or fitted to findings.
    fitted : collection of str
        Names in it of what findings gave, which stays.
    measured : MeasuredHere
        What this bench measured of itself.
    paper : str
        Of the leaves.
    """
    given = {
        name: value_or(measured, constant, paper, getattr(assumed, name))
        for constant, name in _OF_BLOCK
        if name not in fitted
    }
    return replace(assumed, **given)


def assumed_here(item: Item, choices: BufferingChoices) -> Assumed | None:
    """Give what the plan takes as given of the block; None if nothing was fitted, read or measured."""
    named = {constant.key: name for constant, name in _OF_BLOCK}
    given = {
        named[each.constant.key]: each.value
        for each in taken_here(item, choices)
        if each.constant.key in named and _is_usual(choices.assumed, named[each.constant.key])
    }
    return replace(choices.assumed or Assumed(), **given) if given else choices.assumed


def is_law_measured(item: Item, choices: BufferingChoices) -> bool:
    """Tell whether a constant of the law of the block rests on a trial."""
    return any(each.constant.key in _OF_LAW for each in taken_here(item, choices))


def boards_here(item: Item, choices: BufferingChoices) -> dict[str, Range]:
    """Give the bending stiffness of boards of the pack that were measured, by their names."""
    taken = taken_here(item, choices)
    return {each.about: each.value for each in taken if each.constant.key == BOARD_BENDING.key}


def paper_over_staples(item: Item) -> str:
    """Name the paper that a staple would mark: the cover, or the outer leaves."""
    return item.cover_paper if item.cover_leaves else item.text_paper


def find_staple_marks(item: Item, choices: BufferingChoices) -> Accepted | None:
    """Give the load at which a staple marks, if the plan takes it as measured."""
    taken = taken_here(item, choices)
    return next((each for each in taken if each.constant.key == STAPLE_MARKS.key), None)


def staple_limit(item: Item, choices: BufferingChoices) -> Quantity | None:
    """Give the limit on a staple's wire from the load at which one marks; None if not measured."""
    marks = find_staple_marks(item, choices)
    return None if marks is None else marking_limit(marks.value)
