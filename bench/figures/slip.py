"""The bench slip: one page with the places to count to, large enough to read while working."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from bench.figures.page import Page
from bench.figures.templates import TEMPLATES
from bench.item import Format, Item
from bench.treatment.buffering import BufferingPlan
from bench.treatment.interleaves import Placement
from bench.treatment.plan import Verdict

_SLIP: Any = TEMPLATES.get_template("figures/slip.html").module


def draw_slip(item: Item, plan: BufferingPlan) -> Page:
    """Write the places of the sheets, front to back, each with a box to tick.

    Parameters
    ----------
    item : Item
        Whose leaves are counted.
    plan : BufferingPlan
        With the places of its sheets.

    Returns
    -------
    Page
        For the notebook; :func:`slip_document` makes a file of it.  A plan that says stop gets no list to
        work from, but its reason.
    """
    head = f"{item.title}, cycle {plan.cycle}"
    if plan.verdict is Verdict.STOP:
        why = next((c.words for c in plan.cautions if c.verdict is Verdict.STOP), plan.answer)
        head = f"{head}: no slip"
        return Page(str(_SLIP.slip(head, "", (), why)), f"{head}. The plan says stop: {why}")
    head = f"{head}: {plan.chosen.sheets} sheets of {plan.sheet}"
    if item.format is Format.SHEET:
        count = "One item: one sheet on each face."
    else:
        count = f"Count leaves, not pages, from the front: {item.leaves} in all."
    places = ", ".join(place.words for place in plan.placements)
    return Page(str(_SLIP.slip(head, count, tuple(_lines(item, plan)), "")), f"{head}: {places}")


def _lines(item: Item, plan: BufferingPlan) -> Iterator[tuple[str, Placement, str]]:
    """Give for each sheet the leaf it lies after, its place, and how far to count to it."""
    done = 0
    for place in plan.placements:
        count = "a sheet"
        if item.format is not Format.SHEET and place.after_leaf == item.leaves and done < item.leaves:
            count = f"count the last {item.leaves - done}, then a sheet"
        elif 0 < place.after_leaf < item.leaves:
            count = f"count {place.after_leaf - done}, then a sheet"
        ends = {0: "front", item.leaves: "back"}
        yield ends.get(place.after_leaf, str(place.after_leaf)), place, count
        done = place.after_leaf


def slip_document(item: Item, plan: BufferingPlan) -> str:
    """Make a page of its own of the slip, to print on one sheet."""
    return str(_SLIP.document(item.title, draw_slip(item, plan).html))
