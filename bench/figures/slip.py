"""The bench slip: one page with the places to count to, large enough to read while working."""

from __future__ import annotations

from html import escape

from bench.figures.page import Page
from bench.item import Format, Item
from bench.treatment.buffering import BufferingPlan
from bench.treatment.plan import Verdict

_STYLE = (
    "@page{margin:15mm}body{font:16px/1.4 system-ui,'Segoe UI',Roboto,'DejaVu Sans',sans-serif;color:#000;"
    "max-width:180mm;margin:8mm auto}"
)
SLIP_STYLE = (
    ".slip h1{font-size:22px;margin:0 0 2mm}.slip p{margin:1mm 0 4mm;font-size:17px}"
    ".slip ol{list-style:none;margin:0;padding:0;columns:2;column-gap:10mm}"
    ".slip li{border-bottom:1px solid #999;padding:2mm 0;break-inside:avoid}"
    ".slip li{display:flex;align-items:baseline;gap:4mm}"
    ".slip .box{display:inline-block;width:6mm;height:6mm;border:1.5px solid #000;flex:none}"
    ".slip .leaf{font-size:34px;font-weight:700;min-width:30mm;text-align:right;line-height:1.1}"
    ".slip .reach{font-size:15px}"
)


def draw_slip(item: Item, plan: BufferingPlan) -> Page:
    """Write the places of the sheets, front to back, each with a box to tick.

    Parameters
    ----------
    item : Item
    plan : BufferingPlan

    Returns
    -------
    Page
        For the notebook; :func:`slip_document` makes a file of it.  A plan that says stop gets no list to
        work from, but its reason.
    """
    head = f"{item.title}, cycle {plan.cycle}: {plan.chosen.sheets} sheets of {plan.sheet}"
    if plan.verdict is Verdict.STOP:
        why = next((c.words for c in plan.cautions if c.verdict is Verdict.STOP), plan.answer)
        head = f"{item.title}, cycle {plan.cycle}: no slip"
        body = f"<p><b>■ Stop.</b> The plan says stop, so there is no slip to work from. {escape(why)}</p>"
        return Page(_frame(head, body), f"{head}. The plan says stop: {why}")
    if item.format is Format.SHEET:
        count = "One item: one sheet on each face."
    else:
        count = f"Count leaves, not pages, from the front: {item.leaves} in all."
    body = f"<p>{count} Take out as many sheets as went in.</p><ol>{_lines(item, plan)}</ol>"
    places = ", ".join(place.words for place in plan.placements)
    return Page(_frame(head, body), f"{head}: {places}")


def _frame(head: str, body: str) -> str:
    return f'<div class="slip"><style>{SLIP_STYLE}</style><h1>{escape(head)}</h1>{body}</div>'


def _lines(item: Item, plan: BufferingPlan) -> str:
    """Write a line for each sheet: where to count to, and how far it reaches."""
    lines, done = [], 0
    for place in plan.placements:
        count = "a sheet"
        if item.format is not Format.SHEET and place.after_leaf == item.leaves and done < item.leaves:
            count = f"count the last {item.leaves - done}, then a sheet"
        elif 0 < place.after_leaf < item.leaves:
            count = f"count {place.after_leaf - done}, then a sheet"
        ends = {0: "front", item.leaves: "back"}
        shown = ends.get(place.after_leaf, place.after_leaf)
        lines.append(
            f'<li><span class="box"></span><span class="leaf">{shown}</span>'
            f'<span class="reach">{escape(place.words)}: {count}; {escape(place.reach)}</span></li>'
        )
        done = place.after_leaf
    return "".join(lines)


def slip_document(item: Item, plan: BufferingPlan) -> str:
    """Make a page of its own of the slip, to print on one sheet."""
    title = escape(f"Bench slip: {item.title}")
    body = draw_slip(item, plan).html
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{_STYLE}</style></head><body>{body}</body></html>"
    )
