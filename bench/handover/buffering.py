"""What the buffering is planned from: the sheets and the load of the cycle, and how long it may lie open."""

from __future__ import annotations

from dataclasses import dataclass

from bench.handover.at_hand import AtHand
from bench.handover.cycles import decided_for
from bench.physics.contact import spread_load
from bench.physics.ranges import Range
from bench.records.nouns import interleaf_of, planned_number, planned_values
from bench.treatment import facts
from bench.treatment.buffering.choices import USUAL_SHEET, planned_load
from bench.treatment.facts import Fact
from bench.treatment.interleaves import LADDER, place_interleaves
from bench.treatment.plan import PlannedValue, find_value
from bench.units import Q_, Quantity, say


def minutes_open(treatment: AtHand, cycle: int) -> PlannedValue | None:
    """Give how long the item may lie open out of the chamber, as planned; None if it was not."""
    return find_value(planned_values(treatment.record, "humidity", cycle), facts.MINUTES_OPEN)


@dataclass(frozen=True)
class PlannedSheets:
    """The interleaves of a cycle, as planned or as usual.

    Attributes
    ----------
    interval : int
        Most leaves between two.
    sheets : int or None
        In all, where no spacing comes to so many (a balanced plan).
    sheet : str
        By its name in the materials table.
    chance : float or None
        That spine and staples stay free of load.
    """

    interval: int
    sheets: int | None
    sheet: str
    chance: float | None


def planned_interleaves(treatment: AtHand, cycle: int) -> PlannedSheets:
    """Give spacing and sheet of the interleaves and the chance of a free spine, as planned or as usual.

    Before a cycle is planned its spacing is the one that the review of the cycle before decided on.
    """
    interval = _planned(treatment, facts.SPACING, cycle)
    if interval is None and (decided := decided_for(treatment, cycle).interval) is not None:
        interval = Q_(float(decided), "")
    chance = _planned(treatment, facts.CHANCE_FREE, cycle)
    loaded = _planned(treatment, facts.CHANCE_LOADED, cycle)
    if loaded is not None:  # where the load goes says more than thickness alone
        chance = 1 - loaded.to("")
    spacing = LADDER[min(cycle, len(LADDER)) - 1] if interval is None else round(float(interval.magnitude))
    return PlannedSheets(
        spacing,
        _balanced(treatment, cycle, spacing),
        interleaf_of(treatment.record, cycle) or USUAL_SHEET,
        None if chance is None else float(chance.to("").magnitude),
    )


def _balanced(treatment: AtHand, cycle: int, spacing: int) -> int | None:
    """Give the number of sheets planned if the spacing alone would come to another."""
    planned = _planned(treatment, facts.SHEETS, cycle)
    if planned is None:
        return None
    sheets = round(float(planned.magnitude))
    return None if sheets == len(place_interleaves(treatment.item, spacing)) else sheets


def _planned(treatment: AtHand, fact: Fact, cycle: int) -> Quantity | None:
    return planned_number(treatment.record, "buffering", cycle, fact)


def handed_on_load(treatment: AtHand, cycle: int) -> tuple[Range, str] | None:
    """Give the load that the buffering was planned for, with its words.

    Before a cycle is planned it is the load of the cycle before, or the one that its review decided on.
    None if there is neither.
    """
    own = planned_load(planned_values(treatment.record, "buffering", cycle))
    if own is not None or cycle == 1:
        return own
    before = planned_load(
        planned_values(treatment.record, "pressing", cycle - 1), facts.FACE_PRESSURE
    ) or planned_load(planned_values(treatment.record, "buffering", cycle - 1))
    decided = decided_for(treatment, cycle).pressure
    if decided is None or (before is not None and _is_same(before[0].value, decided)):
        return before
    return spread_load(decided), f"decided at review, {say(decided, 'kPa')}"


def _is_same(planned: Quantity, decided: Quantity) -> bool:
    """Whether two loads differ by no more than the digits that a record keeps."""
    first, second = (float(load.to("kPa").magnitude) for load in (planned, decided))
    return abs(first - second) <= 1e-3 * first
