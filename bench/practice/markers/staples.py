"""How many sheets a high staple asks for, so that the text block carries the load in its place."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from typing import Any

import numpy as np

from bench.item import Format, Item, Thicknesses
from bench.materials import look_up
from bench.physics.contact import LOAD_WORDS, estimate_give, pressure_from_word
from bench.physics.ranges import Range
from bench.practice.drawing import Drawn
from bench.practice.marking import number_of
from bench.practice.settings import MarkerSetting, with_usual
from bench.practice.shapes import Question, Reply, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.treatment.buffering.choices import BufferingChoices
from bench.treatment.buffering.planning import (
    BufferingPlan,
    SpacingAlternative,
    compare_intervals,
    plan_buffering,
)
from bench.uncertainty import Measured, coverage_factor
from bench.units import Q_

WRONG = {
    "mean-of-staples": "took the mean of the staples",
    "lower-staple": "took the flatter of the staples",
    "lighter-sheet": "took the thickness of a lighter sheet",
    "cover-sheets-counted": "counted on the sheets under the covers, which raise the staple too",
    "nothing-in-hand": "kept nothing in hand for the doubt",
}
SHEET, LIGHTER = "copy paper 24 lb", "copy paper 20 lb"
TO_FOLD = 2  # sheets under the covers of a square-bound item: they pass over the staples
LOAD, RISK = "firm", 0.02

# Heavy wire, its crown in front and its prongs behind both standing on the cover, mm: judgement.
_HIGH = (0.62, 1.35)
_DIFFERENCE = (0.62, 0.70)
_ROUNDING = 0.010  # mm: two numbers of two digits, and a sheet of three
_LEVEL_MM = 0.02  # of a caliper: a staple that stands less above the block stands level with it
_USUAL_IN_HAND = 0.10  # mm; the search begins there


SETTINGS = (
    MarkerSetting("load", "how hard it is pressed", LOAD, allowed=tuple(LOAD_WORDS)),
    MarkerSetting("risk", "chance of loading a staple that is accepted, 0.02 for 2 of 100", RISK, 0.001, 0.2),
)


@dataclass(frozen=True)
class SheetsNeeded:
    """What an item needs, and what it rests on.

    Attributes
    ----------
    item : Item
        What is pressed.
    thicknesses : Thicknesses
        Read before buffering.
    load : str
        How hard it is pressed, in a word.
    risk : float
        Chance of loading a staple that is accepted.
    sheets : int
        The fewest that do, in all.
    in_hand : float
        Millimetres to keep for the doubt of readings, sheets and give.
    """

    item: Item
    thicknesses: Thicknesses
    load: str
    risk: float
    sheets: int
    in_hand: float

    def plan(self) -> BufferingPlan:
        """Plan the buffering with so many sheets, by thickness alone."""
        load = pressure_from_word(self.load)
        choices = BufferingChoices(
            load=load, load_words=self.load, sheet=SHEET, sheets=self.sheets, accepted_risk=self.risk
        )
        return plan_buffering(self.item, self.thicknesses, choices)


def sheet_mm(sheet: str) -> float:
    """Give the thickness of a sheet in millimetres, from the materials table."""
    return float(look_up(sheet, "thickness").value.to("mm").magnitude)


@lru_cache(maxsize=8)
def _give(load: str) -> Measured:
    return estimate_give(pressure=pressure_from_word(load))


def weigh_sheets(item: Item, thicknesses: Thicknesses, sheets: int, give: Measured) -> SpacingAlternative:
    """Work out clearance and chance with so many sheets in all, by the thickness rule of buffering.

    Notes
    -----
    By thickness alone only the number of sheets counts, not how many leaves lie between them; so a block of
    as many groups of six is weighed in place of the item.
    """
    stand_in = replace(item, leaves=6 * (sheets - 1))
    (found,) = compare_intervals(stand_in, thicknesses, SHEET, give, (6,))
    return found


def find_fewest(
    item: Item, thicknesses: Thicknesses, give: Measured, risk: float = RISK
) -> tuple[int, SpacingAlternative]:
    """Find the fewest sheets with which the chance of loading a staple is no more than is accepted.

    Parameters
    ----------
    item, thicknesses
        What is pressed, and how thick it was read.
    give : Measured, dimensionless
        Of the text block between reading and press.
    risk : float
        Chance that is accepted, 0 to 1.
    """
    sheets = count_by_hand(rise_mm(thicknesses) + _USUAL_IN_HAND, sheet_mm(SHEET))  # near it, to begin with
    found = weigh_sheets(item, thicknesses, sheets, give)
    if found.chance < 1 - risk:
        while found.chance < 1 - risk:
            sheets += 1
            found = weigh_sheets(item, thicknesses, sheets, give)
        return sheets, found
    while sheets > TO_FOLD:
        fewer = weigh_sheets(item, thicknesses, sheets - 1, give)
        if fewer.chance < 1 - risk:
            break
        sheets, found = sheets - 1, fewer
    return sheets, found


def rise_mm(thicknesses: Thicknesses) -> float:
    """Give by how much the highest staple was read above the text block, in millimetres."""
    assert thicknesses.highest_staple is not None  # only stapled items are drawn here
    _, highest = thicknesses.highest_staple
    return float((highest.value - thicknesses.text_block.value).to("mm").magnitude)


def margin_mm(found: SpacingAlternative, rise: float, risk: float = RISK) -> float:
    """Give what must be kept in hand over the bare sum of sheets and rise, in millimetres.

    Notes
    -----
    Bare sum less what of the clearance is left when the doubt is taken off it, one-sided (guard band after
    JCGM 106): the give of the block and all doubts in one number.
    """
    assert found.tightest is not None
    clearance = found.tightest[1]
    factor = coverage_factor(clearance.dof, 1 - 2 * risk)
    sure = float((clearance.value - factor * clearance.standard).to("mm").magnitude)
    return (found.sheets - TO_FOLD) * sheet_mm(SHEET) - rise - sure


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Work out the fewest sheets, from readings, sheet and load."""
    drawn = _with_heavy_wire(drawn)
    own = with_usual(SETTINGS, settings)
    load, risk = str(own["load"]), float(own["risk"])
    thick = drawn.thicknesses
    sheets, found = find_fewest(drawn.item, thick, _give(load), risk)
    rise = rise_mm(thick)
    needed = SheetsNeeded(drawn.item, thick, load, risk, sheets, round(margin_mm(found, rise, risk), 2))
    return Solution(
        right=Q_(float(sheets), ""),
        holds=Range.of((sheets, sheets - 0.4, sheets + 0.4), ""),
        near=3.5,  # a sheet more or less
        wrong=_wrong_ways(needed, rise) if _is_plain(needed, rise) else (),
        comes_of=partial(_comes_of, needed, rise),
        look=(*drawn.look, *_look(drawn, needed)),
        steps=_steps(needed, rise),
        facts={
            "sheets": f"{sheets}",
            "inner": f"{sheets - TO_FOLD}",
            "rise": f"{rise:.2f} mm",
            "highest": _highest(needed),
            "in_hand": f"{needed.in_hand:.2f} mm",
        },
        plan=needed,
    )


def _is_plain(needed: SheetsNeeded, rise: float) -> bool:
    """Tell whether a pencil, rounding as it does, comes to the same sheets; such an item alone is fair."""
    musts = (rise + needed.in_hand + off for off in (-_ROUNDING, _ROUNDING))
    return all(count_by_hand(must, sheet_mm(SHEET)) == needed.sheets for must in musts)


def _with_heavy_wire(drawn: Drawn) -> Drawn:
    """Give the item staples of heavy wire: the higher one stays the higher."""
    block = drawn.true_mm["text block"]
    low, high = sorted((name for name in drawn.true_mm if "staple" in name), key=lambda n: drawn.true_mm[n])
    rise = float(drawn.rng.uniform(*_HIGH))
    true = dict(drawn.true_mm)
    true[high], true[low] = block + rise, block + rise - float(drawn.rng.uniform(*_DIFFERENCE))
    read = {
        place: _moved(shown, true[place] - drawn.true_mm[place]) for place, shown in drawn.read_mm.items()
    }
    return replace(drawn, true_mm=true, read_mm=read)


def _moved(shown: tuple[float, ...], by: float) -> tuple[float, ...]:
    return tuple(round(value + by, 2) for value in shown)


def _highest(needed: SheetsNeeded) -> str:
    assert needed.thicknesses.highest_staple is not None
    return needed.thicknesses.highest_staple[0]


def _look(drawn: Drawn, needed: SheetsNeeded) -> list[tuple[str, str]]:
    heavy, light = sheet_mm(SHEET), sheet_mm(LIGHTER)
    return [
        *((f"readings, {place}", drawn.say_read(place)) for place in drawn.read_mm),
        ("wire", "heavy; crown in front and prongs behind stand on the cover"),
        ("sheets cut", "24 lb copy paper"),
        ("thickness of a sheet", f"20 lb {light:.3f} mm, 24 lb {heavy:.3f} mm"),
        ("press", f"{needed.load}, by hand"),
        (
            "to keep in hand",
            f"{needed.in_hand:.2f} mm, for the doubt of readings and sheets and for the give of the block "
            f"(chance of loading {100 * needed.risk:g} %)",
        ),
    ]


def _steps(needed: SheetsNeeded, rise: float) -> tuple[str, ...]:
    thick, inner = sheet_mm(SHEET), needed.sheets - TO_FOLD
    must = rise + needed.in_hand
    return (
        f"The {_highest(needed)} staple decides: it stands {rise:.2f} mm above the text block.",
        f"With {needed.in_hand:.2f} mm in hand the block must be raised by {must:.2f} mm.",
        f"A sheet of 24 lb is {thick:.3f} mm thick: {must:.2f} over {thick:.3f} is {must / thick:.1f}, so "
        f"{inner} sheets that stop short of the staples.",
        f"Two more lie under the covers and raise the staples too: {needed.sheets} in all.",
    )


def count_by_hand(must_mm: float, sheet: float) -> int:
    """Give the sheets in all that raise a block by so much, those under the covers raising nothing.

    Examples
    --------
    >>> count_by_hand(0.61, 0.12)
    8
    """
    return TO_FOLD + max(0, math.ceil(must_mm / sheet - 1e-9))


def _wrong_ways(needed: SheetsNeeded, rise: float) -> tuple[WrongWay, ...]:
    thick, hand = sheet_mm(SHEET), needed.in_hand
    block = needed.thicknesses.text_block.value
    rises = [
        float((read.value - block).to("mm").magnitude) for read in needed.thicknesses.over_staples.values()
    ]
    answers = {
        "mean-of-staples": count_by_hand(float(np.mean(rises)) + hand, thick),
        "lower-staple": count_by_hand(min(rises) + hand, thick),
        "lighter-sheet": count_by_hand(rise + hand, sheet_mm(LIGHTER)),
        "cover-sheets-counted": needed.sheets - TO_FOLD,
        "nothing-in-hand": count_by_hand(rise, thick),
    }
    counts = list(answers.values())
    own = {
        key: count
        for key, count in answers.items()
        if key != "nothing-in-hand" or (counts.count(count) == 1 and count < needed.sheets)
    }
    return tuple(
        WrongWay(key, Q_(float(count), ""), _say_off(needed, rise, count)) for key, count in own.items()
    )


def _comes_of(needed: SheetsNeeded, rise: float, reply: Reply) -> str:
    taken = number_of(reply, "")
    return _say_off(needed, rise, math.floor(taken) if taken < needed.sheets else math.ceil(taken))


def _say_off(needed: SheetsNeeded, rise: float, count: int) -> str:
    """Say what comes of it who puts in another number of sheets than is needed."""
    thick = sheet_mm(SHEET)
    if count > needed.sheets:
        over = (count - needed.sheets) * thick
        return (
            f"Nothing is crushed, but {count - needed.sheets} more than needed spread the block by "
            f"{over:.2f} mm: leaves are bent around them at the staples, and the holes pull."
        )
    short = rise + needed.in_hand - (count - TO_FOLD) * thick
    stands = rise - (count - TO_FOLD) * thick
    if stands > _LEVEL_MM:
        harm = (
            "marks the cover"
            if needed.load == "light"
            else "goes through the cover and cuts into the first leaves"
        )
        return (
            f"The {_highest(needed)} staple would still stand {stands:.2f} mm above the block: it takes the "
            f"load and {harm}."
        )
    return (
        f"The block lacks {short:.2f} mm of what is needed to be sure. With caliper or give a little off, "
        f"the {_highest(needed)} staple takes the load."
    )


MARKER = Marker(
    question=Question(ReplyKind.NUMBER, "Sheets in all, the two under the covers with them", "dimensionless"),
    solve=solve,
    wrong=WRONG,
    picture="staples",
    settings=SETTINGS,
    formats=(Format.SIDE_STAPLED, Format.SADDLE_STITCHED),
    sometimes=frozenset({"nothing-in-hand"}),
)
