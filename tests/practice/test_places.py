"""Where sheets lie: places counted by hand, what practice asks of any placing, and each wrong way by number.

No source is published for it: the checks by hand are common practice.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from bench.item import Format, Item
from bench.practice.drawing import Drawn, draw_item
from bench.practice.markers.places import MARKER, solve
from bench.practice.marking import mark
from bench.practice.shapes import Judgement, Reply, Solution
from bench.treatment.interleaves import CLOSEST, WIDEST
from bench.units import Q_

# 74 pages at every 6 come to 13 groups: nine of 6 and four of 5.
FOR_PAGES = tuple(int(place) for place in np.cumsum((6,) * 9 + (5,) * 4)[:-1])


def is_spread(item: Item, places: Sequence[int], interval: int) -> bool:
    """Tell whether sheets lie after leaves that there are, in order, and never further apart than allowed."""
    bounds = (0, *places, item.leaves)
    return all(0 < after - before <= interval for before, after in pairwise(bounds))


def solved(format_: Format, leaves: int, interval: int) -> Solution:
    item = Item("Larkspur Reader, no. 5", format_, Q_(170, "mm"), Q_(260, "mm"), leaves=leaves)
    return solve(Drawn(item, {}, {}, np.random.default_rng(1), level=3), {"spacings": [interval]})


@pytest.mark.parametrize(
    ("format_", "leaves", "interval", "places"),
    [
        (Format.SIDE_STAPLED, 36, 6, (6, 12, 18, 24, 30)),  # comes out even
        (Format.GLUED, 37, 6, (6, 12, 17, 22, 27, 32)),  # 7 groups: two of 6, five of 5
        (Format.GLUED, 41, 10, (9, 17, 25, 33)),  # 5 groups: 9 and four 8
        (Format.SADDLE_STITCHED, 32, 6, (6, 11, 16, 21, 26)),  # 16 a half: 6 5 5, mirrored
        (Format.SADDLE_STITCHED, 16, 6, (4, 8, 12)),  # 8 a half: 4 4
    ],
)
def test_places_counted_by_hand(format_: Format, leaves: int, interval: int, places: tuple[int, ...]):
    assert solved(format_, leaves, interval).right == places


@pytest.mark.parametrize("kind", ["side-stapled", "glued", "saddle-stitched"])
def test_every_answer_that_is_right_is_spread_and_spends_no_sheet_more(kind: str):
    for seed in range(40):
        drawn = draw_item(kind, seed, level=seed % 5)
        solution = solve(drawn, {})
        for answer in (solution.right, *solution.also_right):
            assert isinstance(answer, tuple)
            places = [int(place) for place in answer]
            assert is_spread(drawn.item, places, solution.plan.interval)
            assert len(places) == len(solution.plan.inner)
            if kind == "saddle-stitched":
                assert drawn.item.leaves // 2 in places  # the centre spread, over the prongs


def test_odd_counts_come_from_the_third_level_on():
    counts = [draw_item("side-stapled", seed, level=3).item.leaves for seed in range(20)]
    assert all(count % 2 for count in counts)


def judged(solution: Solution, answer: Reply) -> tuple[Judgement, str]:
    marked = mark(MARKER.question, solution, answer)
    return marked.judged, marked.wrong.key if marked.wrong else ""


@pytest.mark.parametrize(
    ("answer", "way"),
    [
        (FOR_PAGES, "pages-for-leaves"),
        ((7, 13, 18, 23, 28, 33), "front-cover-counted"),
        ((6, 12, 17, 22, 27, 32, 37), "cover-as-well"),
        ((18,), "to-the-middle"),
        ((6, 12, 18, 24, 30, 36), "counted-off"),
    ],
)
def test_wrong_ways_of_37_leaves(answer: tuple[int, ...], way: str):
    solution = solved(Format.GLUED, 37, 6)
    assert judged(solution, answer) == (Judgement.WRONG, way)


def test_counting_off_is_as_good_while_half_a_group_is_left():
    """40 leaves at every 6 leave 4; 37 leave 1.  Common practice, no source."""
    assert judged(solved(Format.SIDE_STAPLED, 40, 6), (6, 12, 18, 24, 30, 36)) == (Judgement.RIGHT, "")
    assert judged(solved(Format.SIDE_STAPLED, 37, 6), (6, 12, 18, 24, 30, 36))[0] is Judgement.WRONG


def test_larger_groups_may_lie_at_the_back():
    assert judged(solved(Format.GLUED, 37, 6), (5, 10, 15, 20, 25, 31)) == (Judgement.RIGHT, "")


def test_counting_off_past_the_centre_spread_is_told_with_its_prongs():
    solution = solved(Format.SADDLE_STITCHED, 32, 6)
    assert judged(solution, (6, 12, 18, 24, 30)) == (Judgement.WRONG, "counted-off")
    assert "prongs" in next(way.harm for way in solution.wrong if way.key == "counted-off")


def test_one_place_missing_is_near():
    solution = solved(Format.GLUED, 37, 6)
    assert judged(solution, (6, 12, 17, 22, 27)) == (Judgement.NEAR, "")
    assert judged(solution, (6, 12, 17, 22))[0] is Judgement.WRONG


@pytest.mark.parametrize("answer", [(18,) * 6, (15, 16, 17, 18, 19, 20)])
def test_all_sheets_in_the_middle_are_known_however_they_are_written(answer: tuple[int, ...]):
    solution = solved(Format.GLUED, 37, 6)
    assert len(solution.plan.inner) == 6
    assert judged(solution, answer) == (Judgement.WRONG, "to-the-middle")


def test_places_may_be_written_in_any_order_but_none_twice():
    solution = solved(Format.SIDE_STAPLED, 36, 6)
    assert judged(solution, (30, 6, 12, 24, 18)) == (Judgement.RIGHT, "")
    assert judged(solution, (6, 6, 12, 18, 24, 30)) == (Judgement.NEAR, "")


@pytest.mark.parametrize(
    ("answer", "comes"),
    [
        ((6, 12, 18, 24), "After leaf 24 come 12 leaves without a sheet, where 6 are the most"),
        ((12, 18, 24, 30), "From the front come 12 leaves"),
        ((6, 12, 18, 24, 30, 40), "The block ends at leaf 36"),
        ((4, 8, 12, 18, 24, 30), "1 sheet more than it takes raise the block by 0.1 mm"),
        ((5, 11, 17, 23, 29, 35), "1 sheet more"),
    ],
)
def test_what_comes_of_other_places_is_told_by_what_is_worst(answer: tuple[int, ...], comes: str):
    assert comes in mark(MARKER.question, solved(Format.SIDE_STAPLED, 36, 6), answer).comes


def test_no_sheet_at_the_centre_spread_is_told_first():
    assert "centre spread" in mark(MARKER.question, solved(Format.SADDLE_STITCHED, 32, 6), (4, 10, 20)).comes


def test_a_spacing_that_a_teacher_sets_is_used_and_a_wrong_one_refused():
    drawn = draw_item("glued", 3)
    for interval in (CLOSEST, WIDEST):
        assert solve(drawn, {"spacings": [interval]}).plan.interval == interval
    with pytest.raises(ValueError, match="whole number"):
        solve(replace(drawn, rng=np.random.default_rng(1)), {"spacings": [0]})
