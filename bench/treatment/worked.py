"""The worked example of the chapters: an item that is made up, so that its numbers are nobody's.

What only one item makes true is shown on this one, under its name, and never on the item at hand.
"""

from __future__ import annotations

from bench.item import Answer, Format, Item, Staple, Thicknesses
from bench.uncertainty import estimate_from_readings
from bench.units import Q_

TITLE = "Gannet Rock Annual (made up)"
_BLOCK = (4.40, 4.41, 4.42)  # mm; about what the trade's own example reads, 173.5 thou [common-practice]


def worked_annual() -> tuple[Item, Thicknesses]:
    """Give the square-bound annual of the worked examples, with its readings.

    Examples
    --------
    >>> item, thicknesses = worked_annual()
    >>> item.title, item.leaves, f"{thicknesses.text_block.value:.2f~P}"
    ('Gannet Rock Annual (made up)', 36, '4.41 mm')
    """
    staples = (
        Staple("upper", Q_(38.0, "mm"), Q_(8.0, "mm")),
        Staple("lower", Q_(215.0, "mm"), Q_(8.0, "mm")),
    )
    item = Item(
        title=TITLE,
        format=Format.SIDE_STAPLED,
        width=Q_(168.0, "mm"),
        height=Q_(257.0, "mm"),
        leaves=36,
        cover_paper="uncoated cover",
        cover_coated=Answer.NO,
        glue="animal glue",
        staples=staples,
        mass=Q_(100.0, "g"),
    )
    block = estimate_from_readings(
        [Q_(value, "mm") for value in _BLOCK],
        place="text block",
        instrument_limit=Q_(0.02, "mm"),
        resolution=Q_(0.01, "mm"),
        source="made-up readings of a caliper",
    )
    return item, Thicknesses(block)
