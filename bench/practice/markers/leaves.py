"""How many leaves a text block has, from printed page numbers that seldom tell it by themselves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from bench.item import Format, Item, count_leaves
from bench.materials import look_up
from bench.practice.drawing import Drawn
from bench.practice.markers.places import SHEET_MM
from bench.practice.marking import number_of
from bench.practice.shapes import Question, Reply, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.treatment.interleaves import LADDER, place_interleaves
from bench.units import Q_, Quantity, say_count

WRONG = {
    "pages-for-leaves": "counted pages for leaves",
    "cover-in": "counted the cover in",
    "insert-left-out": "left out the leaves that carry no number",
    "lost-leaf-in": "counted leaves that are no longer there",
}

_GRAMMAGE = (46.0, 51.5)  # g/m2 of newsprint in these items, within the range of the materials table
_FROM_LEVEL = 2  # from here on the last page may carry no number


@dataclass(frozen=True)
class Paging:
    """What is printed in an item, and what is not.

    Attributes
    ----------
    first, last : int
        First and last number printed on the text block.
    is_last_bare : bool
        Whether the last printed number is on the front of its leaf, its back without one.
    inserted : int
        Leaves without a number.
    lost : int
        Numbered leaves that are gone.
    gap : int
        Last number before the jump.
    """

    first: int
    last: int
    is_last_bare: bool
    inserted: int
    lost: int
    gap: int

    @property
    def cover_in(self) -> int:
        """Leaves of the cover that the numbers run over."""
        return self.first // 2

    @property
    def pages(self) -> int:
        """Pages that the numbers run over, the back of the last leaf with it."""
        return self.last + self.is_last_bare

    @property
    def leaves(self) -> int:
        """Leaves of the text block that are there."""
        return count_leaves(self.pages, counted_as="pages") - self.cover_in - self.lost + self.inserted


def draw_paging(item: Item, level: int, rng: np.random.Generator) -> Paging:
    """Draw page numbers that fit the leaves of an item.

    In a saddle-stitched issue leaves come and go in pairs, as folded sheets.
    """
    is_folded = item.format is Format.SADDLE_STITCHED
    cover_in = 1 if is_folded or rng.random() < 0.5 else 0
    lost = 2 if cover_in else 1  # so that no slip of one kind comes to the number of another
    inserted = int(rng.choice((4, 8) if is_folded else (4, 6, 8)))
    pages = 2 * (item.leaves + lost - inserted + cover_in)
    gap = 2 * int(rng.integers(3, max(4, pages // 4)))
    is_bare = level >= _FROM_LEVEL and rng.random() < 0.5
    return Paging(1 + 2 * cover_in, pages - is_bare, is_bare, inserted, lost, gap)


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Work out the leaves of the text block, and hold them against the balance."""
    item, paging = drawn.item, draw_paging(drawn.item, drawn.level, drawn.rng)
    right = paging.leaves
    mass = _draw_mass(item, drawn.rng)
    return Solution(
        right=Q_(float(right), ""),
        wrong=_wrong_ways(item, paging, right),
        comes_of=partial(_comes_of, right),
        look=(*drawn.look, *_look(item, paging), *_say_balance(item, mass)),
        steps=(*_steps(item, paging, right), say_check(replace(item, mass=mass), right)),
        facts={"leaves": f"{right}", "pages": f"{2 * right}", "last": f"{paging.last}"},
        plan=paging,
    )


def _draw_mass(item: Item, rng: np.random.Generator) -> Quantity:
    text = item.leaves * Q_(float(rng.uniform(*_GRAMMAGE)), "gsm") * item.area
    return Q_(round(float((text + _cover_mass(item)).to("g").magnitude), 1), "g")


def _cover_mass(item: Item) -> Quantity:
    return (item.cover_leaves * look_up(item.cover_paper, "grammage").value * item.area).to("g")


def leaves_from_mass(item: Item) -> tuple[float, float]:
    r"""Give the fewest and the most leaves that the mass of an item allows.

    Parameters
    ----------
    item : Item
        With its mass.

    Notes
    -----
    :math:`n = (m - m_{cover}) / (g\,A)` with :math:`g` the grammage (ISO 536) at the ends of its range in
    the materials table; the cover at its usual grammage.
    """
    paper = look_up(item.text_paper, "grammage")
    assert item.mass is not None
    text = item.mass - _cover_mass(item)
    ends = (paper.high or paper.value, paper.low or paper.value)
    low, high = (float((text / (grammage * item.area)).to("").magnitude) for grammage in ends)
    return low, high


def say_check(item: Item, leaves: int) -> str:
    """Hold a count of leaves against the mass of the item, in a sentence."""
    low, high = leaves_from_mass(item)
    fits = "agrees" if low - 0.5 <= leaves <= high + 0.5 else "does not agree"
    return (
        f"The balance {fits}: its mass less the cover's, over grammage times area, comes to {low:.0f} to "
        f"{high:.0f} leaves."
    )


def _say_balance(item: Item, mass: Quantity) -> tuple[tuple[str, str], ...]:
    paper = look_up(item.text_paper, "grammage")
    cover = look_up(item.cover_paper, "grammage").value
    low, high = (float((end or paper.value).to("gsm").magnitude) for end in (paper.low, paper.high))
    return (
        ("the balance says", f"{float(mass.to('g').magnitude):.1f} g, cover included (± 0.1 g)"),
        (f"grammage of {item.text_paper}", f"{low:.0f} to {high:.0f} g/m² (from memory)"),
        ("grammage of the cover", f"about {float(cover.to('gsm').magnitude):.0f} g/m² (from memory)"),
    )


def _look(item: Item, paging: Paging) -> list[tuple[str, str]]:
    last = f"{paging.last}"
    last += ", its back without a number" if paging.is_last_bare else ", on the back of the last leaf"
    rows = [
        ("first number in the text block", f"{paging.first}, on a right-hand page"),
        ("last number", last),
    ]
    if item.format is Format.SADDLE_STITCHED:
        # A folded sheet has one leaf in each half, so that the numbers jump twice.
        far = paging.pages + 2 - paging.gap
        jump = (
            f"from {paging.gap} to {paging.gap + 3}, and from {far - 2} to {far + 1}: a folded sheet is gone"
        )
        where = "in the middle, under the same staples"
    else:
        stub = "a torn stub" if paging.lost == 1 else "torn stubs"
        jump = f"from {paging.gap} to {paging.gap + 2 * paging.lost + 1}: {stub}"
        where = "bound in"
    insert = f"{paging.inserted} leaves without numbers, {where}, of the same paper"
    return [*rows, ("the numbers jump", jump), ("insert", insert)]


def _steps(item: Item, paging: Paging, right: int) -> tuple[str, ...]:
    odd = f" ({paging.last} and the bare back of that leaf)" if paging.is_last_bare else ""
    numbered = count_leaves(paging.pages, counted_as="pages")
    cover = (
        f"They begin with {paging.first}, so the front cover is their first leaf: {numbered - 1} without it."
        if paging.cover_in
        else "They begin with 1 inside, so the cover is not among them."
    )
    gone = "1 leaf is" if paging.lost == 1 else f"{paging.lost} leaves are"
    return (
        f"The numbers run over {paging.pages} pages{odd}: two pages are a leaf, so {numbered} leaves.",
        cover,
        f"At the jump {gone} gone: {numbered - paging.cover_in - paging.lost} are left.",
        f"The insert has {paging.inserted} leaves that no number counts: {right} leaves in all.",
    )


def _wrong_ways(item: Item, paging: Paging, right: int) -> tuple[WrongWay, ...]:
    interval = LADDER[0]
    sheets, too_many = (len(place_interleaves(replace(item, leaves=n), interval)) for n in (right, 2 * right))
    thick = SHEET_MM * (too_many - sheets)
    pages_harm = (
        f"At every {interval} leaves you would cut {too_many} sheets where {sheets} belong. All of them put "
        f"in, the block grows {thick:.1f} mm too thick, and the binding is wrenched when it closes."
    )
    covers = right + (1 if paging.cover_in else item.cover_leaves)
    cover_harm = (
        f"Every place from there on is {covers - right} off on your slip. Nothing tears, but the cover "
        "weighs and gives otherwise than a leaf, and thickness and damp are reckoned for paper that is not "
        "there."
    )
    few = right - paging.inserted
    insert_harm = (
        f"The chamber and the sheets would be set for {few} leaves. The {paging.inserted} you left out are "
        "in the damp all the same, with no sheet beside them: they dry last and cockle."
    )
    lost_harm = (
        f"You would look for leaf {right + paging.lost} in a block that ends with {right}, and the record "
        "would call the item complete. The owner would later miss the leaf and ask you for it."
    )
    return (
        _way("pages-for-leaves", 2 * right, pages_harm),
        *([_way("pages-for-leaves", paging.last, pages_harm)] if paging.last != 2 * right else []),
        _way("cover-in", covers, cover_harm),
        _way("insert-left-out", few, insert_harm),
        _way("lost-leaf-in", right + paging.lost, lost_harm),
    )


def _comes_of(right: int, reply: Reply) -> str:
    taken = number_of(reply, "")
    if taken > right:
        return (
            f"You would look for leaf {taken:g} in a block that ends with {right}: slip and block do not "
            "agree, and the last sheets find no place."
        )
    return (
        f"The last {say_count(math.ceil(right - taken), 'leaf', 'leaves')} would have no place on your slip "
        "and no sheet beside them: they dry last and cockle."
    )


def _way(key: str, leaves: int, harm: str) -> WrongWay:
    return WrongWay(key, Q_(float(leaves), ""), harm)


MARKER = Marker(
    question=Question(ReplyKind.NUMBER, "Leaves of the text block", "dimensionless"),
    solve=solve,
    wrong=WRONG,
)
