"""Readings as a table: what is to be read, and what was."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bench.figures.page import table
from bench.figures.said import say_measured
from bench.treatment.needed import WHOLE, Needed, instruments_for
from bench.uncertainty import Measured
from bench.units import UnitChoice


def reading_table(
    needed: Sequence[Needed], found: Mapping[tuple[str, str], Measured], units: UnitChoice
) -> str:
    """Write what is needed and what was read, one row a quantity and place.

    Parameters
    ----------
    needed : sequence of Needed
        What plans and review ask for; it comes first.
    found : mapping of (str, str) to Measured
        Quantity and place to what was read there.
    units : UnitChoice
        Of the values.
    """
    wanted = {(each.quantity, each.place): each for each in needed}
    rows = []
    for quantity, place in dict.fromkeys([*wanted, *found]):
        name = quantity if place == WHOLE else f"{quantity}, {place}"
        measured = found.get((quantity, place))
        if measured is not None:
            rows.append((name, say_measured(measured, units), measured.source))
        else:
            each = wanted[quantity, place]
            times = "once" if each.times == 1 else f"{each.times} times"
            rows.append((name, "to be read", f"{instruments_for(quantity)[0].name}, {times}"))
    return table(("what", "value (95 %)", "with"), rows)
