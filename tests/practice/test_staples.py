"""Sheets that a high staple asks for: closed form, a guard band, and each wrong way by its number."""

import math
from dataclasses import replace

import numpy as np
import pytest

from bench.classroom import EXERCISES, read_exercises
from bench.item import Format, Item, Staple, Thicknesses
from bench.materials import look_up
from bench.physics.contact import estimate_give, pressure_from_word
from bench.practice.drawing import Drawn, draw_item
from bench.practice.markers import MARKERS
from bench.practice.markers.staples import (
    MARKER,
    SHEET,
    count_by_hand,
    find_fewest,
    margin_mm,
    rise_mm,
    sheet_mm,
    solve,
    weigh_sheets,
)
from bench.practice.marking import mark
from bench.practice.shapes import Judgement, Solution
from bench.practice.task import set_task
from bench.uncertainty import exactly, from_expanded
from bench.units import Q_

NO_GIVE = exactly(Q_(0.0, ""))
STAPLES = tuple(Staple(name, Q_(at, "mm"), Q_(7, "mm")) for name, at in (("upper", 55), ("lower", 180)))
ITEM = Item(
    "Mossgate Lantern, no. 7",
    Format.SIDE_STAPLED,
    Q_(170, "mm"),
    Q_(260, "mm"),
    leaves=60,
    staples=STAPLES,
)
FIRM = estimate_give(pressure=pressure_from_word("firm"))


def thick(upper: float, lower: float = 6.1, *, doubt: float = 0.0) -> Thicknesses:
    def read(value: float, place: str):  # type: ignore[no-untyped-def]
        return from_expanded(Q_(value, "mm"), Q_(doubt, "mm"), cause=f"reading, {place}")

    over = {"upper": read(upper, "upper"), "lower": read(lower, "lower")}
    return Thicknesses(read(6.0, "text block"), over)


def test_a_sheet_is_as_thick_as_the_table_and_the_bench_say():
    """24 lb bond is 4.8 mil in a paper maker's table, 0.12 mm by common practice (no source)."""
    assert sheet_mm(SHEET) == pytest.approx(4.8 * 0.0254)
    assert sheet_mm(SHEET) == pytest.approx(0.12, abs=0.005)


@pytest.mark.parametrize("rise", [0.10, 0.40, 0.70, 1.00])
def test_without_any_doubt_the_sum_is_closed(rise: float, monkeypatch: pytest.MonkeyPatch):
    """Sheets that stop short times their thickness must reach the rise: 2 + ceil(r / t)."""
    monkeypatch.setattr(
        "bench.treatment.buffering.planning._sheet_thickness",
        lambda _: exactly(Q_(sheet_mm(SHEET), "mm").to("um")),
    )
    sheets, found = find_fewest(ITEM, thick(6.0 + rise), NO_GIVE)
    assert sheets == 2 + math.ceil(rise / sheet_mm(SHEET)) == count_by_hand(rise, sheet_mm(SHEET))
    assert margin_mm(found, rise) == pytest.approx(0.0, abs=1e-9)


def test_what_is_kept_in_hand_is_a_guard_band():
    """JCGM 106: one-sided, z times the standard uncertainty; z is 2.054 for 98 % (normal table)."""
    rise, doubt = 0.80, 0.05
    sheets, found = find_fewest(ITEM, thick(6.0 + rise, doubt=doubt), NO_GIVE)
    entry = look_up(SHEET, "thickness")
    assert entry.uncertainty is not None
    of_sheets = (sheets - 2) * float(entry.uncertainty.to("mm").magnitude) / 1.96
    standard = math.hypot(math.sqrt(2) * doubt / 1.96, of_sheets)
    assert margin_mm(found, rise) == pytest.approx(2.054 * standard, rel=2e-3)


@pytest.mark.parametrize("upper", [6.68, 6.85, 7.05])
def test_fewest_is_enough_and_one_fewer_is_not(upper: float):
    read = thick(upper, doubt=0.03)
    sheets, found = find_fewest(ITEM, read, FIRM)
    assert found.chance >= 0.98 > weigh_sheets(ITEM, read, sheets - 1, FIRM).chance
    assert sheets >= count_by_hand(rise_mm(read), sheet_mm(SHEET))


def test_the_plan_of_a_real_treatment_agrees():
    """Planned with that many sheets the chance is accepted, with one fewer it is not."""
    for seed in range(6):
        solution = solve(draw_item("side-stapled", seed, level=3), {})
        plan = solution.plan.plan()
        assert len(plan.placements) == solution.plan.sheets
        assert plan.chosen.chance >= 0.98
        fewer = [each for each in plan.alternatives if each.sheets < solution.plan.sheets]
        assert all(each.chance < 0.98 for each in fewer)


def solved() -> Solution:
    """Upper 0.80 mm, lower 0.20 mm above the block, read without scatter."""
    drawn = Drawn(
        ITEM,
        {"text block": 6.0, "upper staple": 6.80, "lower staple": 6.20},
        {"text block": (6.0,) * 5, "upper staple": (6.80,) * 5, "lower staple": (6.20,) * 5},
        np.random.default_rng(1),
        level=3,
    )
    return solve(drawn, {})


def by_hand(solution: Solution) -> dict[str, int]:
    """Sheets by the pencil, from the readings that are shown."""
    look = dict(solution.look)
    block, upper, lower = (
        float(look[f"readings, {place}"].split()[0])
        for place in ("text block", "upper staple", "lower staple")
    )
    hand = float(look["to keep in hand"].split()[0])
    return {
        "right": 2 + math.ceil((upper - block + hand) / 0.122),
        "mean-of-staples": 2 + math.ceil(((upper + lower) / 2 - block + hand) / 0.122),
        "lower-staple": 2 + math.ceil((lower - block + hand) / 0.122),
        "lighter-sheet": 2 + math.ceil((upper - block + hand) / 0.0965),
        "cover-sheets-counted": math.ceil((upper - block + hand) / 0.122),
        "nothing-in-hand": 2 + math.ceil((upper - block) / 0.122),
    }


def test_right_and_wrong_ways_come_out_as_by_the_pencil():
    solution = solved()
    pencil = by_hand(solution)
    assert mark(MARKER.question, solution, Q_(float(pencil.pop("right")), "")).judged is Judgement.RIGHT
    told = {way.key: float(way.answer.magnitude) for way in solution.wrong}  # type: ignore[union-attr]
    assert told == {key: pencil[key] for key in told}
    for key in told:
        marked = mark(MARKER.question, solution, Q_(told[key], ""))
        assert marked.judged is Judgement.WRONG
        assert marked.wrong is not None


def test_what_is_on_the_bench_is_enough_for_the_pencil():
    """In every item that is set, the sum with what is shown gives the answer of the plan."""
    exercise = read_exercises(EXERCISES)["staple-decides"]
    for attempt in range(1, 20):
        task = set_task(exercise, MARKERS, "Ada Marsh", attempt)
        look = dict(task.solution.look)
        rows = {place: look[f"readings, {place}"].split()[:-1] for place in task.drawn.read_mm}
        means = {place: float(np.mean([float(each) for each in row])) for place, row in rows.items()}
        high = max(mean for place, mean in means.items() if "staple" in place)
        hand = float(look["to keep in hand"].split()[0])
        counted = count_by_hand(round(high - means["text block"], 2) + hand, 0.122)
        assert task.mark(Q_(float(counted), "")).judged is Judgement.RIGHT


def test_a_sheet_more_is_near_and_half_a_sheet_is_none():
    solution = solved()
    sheets = solution.plan.sheets
    assert mark(MARKER.question, solution, Q_(float(sheets + 1), "")).judged is Judgement.NEAR
    assert mark(MARKER.question, solution, Q_(sheets + 0.5, "")).judged is not Judgement.RIGHT


def test_too_few_sheets_say_what_comes_through_and_too_many_do_not():
    solution = solved()
    sheets = solution.plan.sheets
    few, many = (mark(MARKER.question, replace(solution, wrong=()), Q_(sheets + off, "")) for off in (-5, 2))
    assert "goes through the cover" in few.comes
    assert "Nothing is crushed" in many.comes


def test_a_staple_that_stands_level_is_no_drama_and_a_light_press_less_of_one():
    """A caliper tells no hundredth of a millimetre: what stands level is told as what is not sure."""
    for seed in range(40):
        for load, marks in (("firm", "goes through the cover"), ("light", "marks the cover")):
            solution = solve(draw_item("side-stapled", seed, level=3), {"load": load})
            sheets = solution.plan.sheets
            said = [
                mark(MARKER.question, replace(solution, wrong=()), Q_(sheets - fewer, "")).comes
                for fewer in range(1, sheets + 1)
            ]
            assert not any("0.00 mm above" in each or "0.01 mm above" in each for each in said)
            assert marks in said[-1]
