"""Leaves counted from page numbers: how the balance tells them, and each wrong way by its number."""

from dataclasses import replace

import numpy as np
import pytest

from bench.item import Format, Item, count_leaves, judge_mass
from bench.materials import look_up
from bench.practice.drawing import draw_item
from bench.practice.markers.leaves import MARKER, Paging, draw_paging, leaves_from_mass, say_check, solve
from bench.practice.marking import mark
from bench.practice.shapes import Judgement
from bench.units import Q_

A4 = Q_(210, "mm"), Q_(297, "mm")
KINDS = ("side-stapled", "saddle-stitched", "glued")


def test_sixteen_sheets_of_a4_weigh_their_grammage():
    """ISO 216 makes A4 a sixteenth of a square metre, so 64 leaves weigh 4 times their grammage (ISO 536)."""
    newsprint = look_up("newsprint", "grammage")
    bare = Item("A", Format.SIDE_STAPLED, *A4, leaves=64, cover_leaves=0)
    for grammage, end in ((newsprint.low, 1), (newsprint.high, 0)):
        assert grammage is not None
        four_square_metres = Q_(4 * float(grammage.to("gsm").magnitude), "g")
        assert leaves_from_mass(replace(bare, mass=four_square_metres))[end] == pytest.approx(64, rel=3e-3)


def test_the_cover_is_weighed_out_before_leaves_are_counted():
    item = Item("A", Format.SIDE_STAPLED, *A4, leaves=64, mass=Q_(200, "g"))
    cover = 2 * float(look_up("coated cover", "grammage").value.to("gsm").magnitude) / 16
    bare = replace(item, cover_leaves=0, mass=Q_(200 - cover, "g"))
    assert leaves_from_mass(item) == pytest.approx(leaves_from_mass(bare), rel=1e-3)


@pytest.mark.parametrize("kind", KINDS)
def test_a_drawn_mass_tells_pages_from_leaves(kind: str):
    for seed in range(12):
        drawn = draw_item(kind, seed, level=seed % 5)
        balance = dict(solve(drawn, {}).look)["the balance says"]
        weighed = replace(drawn.item, mass=Q_(float(balance.split()[0]), "g"))
        assert judge_mass(weighed) == ""  # as intake would judge it
        leaves = drawn.item.leaves
        assert "does not agree" not in say_check(weighed, leaves)
        assert "does not agree" in say_check(weighed, 2 * leaves)


@pytest.mark.parametrize("kind", KINDS)
def test_page_numbers_fit_the_leaves_that_are_there(kind: str):
    """Leaf by leaf: those that are numbered and not gone, and those without a number."""
    for seed in range(60):
        drawn = draw_item(kind, seed, level=seed % 5)
        paging = draw_paging(drawn.item, drawn.level, np.random.default_rng(seed))
        printed = {*range(paging.first, paging.pages + 1)}
        gone = {*range(paging.gap + 1, paging.gap + 2 * paging.lost + 1)}
        if kind == "saddle-stitched":
            far = paging.pages + 2 - paging.gap
            gone = {paging.gap + 1, paging.gap + 2, far - 1, far}
        assert gone < printed
        assert len(gone) == 2 * paging.lost
        assert len(printed - gone) / 2 + paging.inserted == drawn.item.leaves == paging.leaves
        assert (paging.gap % 2, paging.first % 2) == (0, 1)  # leaves begin on odd pages


def test_both_leaves_of_a_lost_sheet_lie_on_one_sheet():
    """Page numbers of the two leaves of a folded sheet add up to the same sum as those of the cover."""
    drawn = draw_item("saddle-stitched", 4)
    paging = draw_paging(drawn.item, 0, np.random.default_rng(4))
    cover = 1 + (paging.pages + 2)  # front cover, outside, and back cover, outside
    far = paging.pages + 2 - paging.gap
    assert (paging.gap + 1) + far == cover


# 3 to 95 printed, the back of 95 bare, 48 leaves with the front cover; 2 gone, 4 without a number: 49.
BY_HAND = Paging(first=3, last=95, is_last_bare=True, inserted=4, lost=2, gap=30)


def test_a_count_by_hand():
    assert BY_HAND.leaves == 96 // 2 - 1 - 2 + 4 == 49
    assert count_leaves(98, counted_as="pages") == 49


@pytest.mark.parametrize(
    ("off", "way"),
    [("pages", "pages-for-leaves"), (1, "cover-in"), (-4, "insert-left-out"), (2, "lost-leaf-in")],
)
def test_wrong_ways_are_told_by_their_numbers(off: int | str, way: str, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("bench.practice.markers.leaves.draw_paging", lambda *_: BY_HAND)
    drawn = replace(draw_item("side-stapled", 1), item=replace(draw_item("side-stapled", 1).item, leaves=49))
    answer = 98 if isinstance(off, str) else 49 + off
    marked = mark(MARKER.question, solve(drawn, {}), Q_(float(answer), ""))
    assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, way)


def test_a_leaf_more_or_less_is_not_right():
    solution = solve(draw_item("glued", 5), {})
    leaves = float(solution.right.magnitude)  # type: ignore[union-attr]
    assert mark(MARKER.question, solution, Q_(leaves, "")).judged is Judgement.RIGHT
    for off in (-1, -0.5, 0.5):
        assert mark(MARKER.question, solution, Q_(leaves + off, "")).judged is Judgement.WRONG
