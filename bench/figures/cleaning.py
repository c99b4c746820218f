"""The order of tools and the time on each surface."""

from __future__ import annotations

from collections.abc import Iterator

from bench.figures.chart import Chart
from bench.figures.marks import Axis, Hatch, Part, Region, Words, plain
from bench.figures.page import Page, bullet_page, sentence_page, table
from bench.figures.style import CURVES, INK, LEAF
from bench.treatment.cleaning.planning import CleaningPlan, SurfaceWork, say_time
from bench.treatment.cleaning.tools import TOOLS

# One a tool, in the order of use.
_HATCHES = (Hatch.NONE, Hatch.LEVEL, Hatch.RISING, Hatch.CROSSED, Hatch.FALLING, Hatch.SQUARED)
_GAIN_SIGNS = {"none": "–", "hardly any": "○", "some": "◐", "plain": "●"}


def draw_work(plan: CleaningPlan) -> Chart:
    """Draw the tools on each surface from left to right in the order of use, as long as they take.

    Parameters
    ----------
    plan : CleaningPlan
        With a pass at least.

    Returns
    -------
    Chart
        Each tool has its own hatch, in the order named above the bar; the gain to be expected
        stands at its end.
    """
    longest = max(plain(work.time, "min") for work in plan.work)
    ticks = tuple((float(-row), work.state.surface.value) for row, work in enumerate(plan.work))
    return Chart(
        Axis("minutes at the bench, best estimate", "min", 0.0, 1.42 * longest),
        Axis("surface", low=0.4 - len(plan.work), high=0.65, ticks=ticks[::-1], is_bare=True),
        tuple(part for row, work in enumerate(plan.work) for part in _draw_bar(-row, work, longest)),
        _read_work(plan),
        height=1.0 + 0.52 * len(plan.work),
        margins=(1.5, 0.45, 0.1, 0.1),
    )


def _draw_bar(row: float, work: SurfaceWork, longest: float) -> Iterator[Part]:
    left = 0.0
    for each in work.passes:
        right = left + plain(each.time, "min")
        number = each.tool.order - 1
        yield Region.between(
            (left, row - 0.3),
            (right, row + 0.12),
            LEAF,
            edge=CURVES[number % len(CURVES)],
            hatch=_HATCHES[number],
            says=f"{each.tool.name}\n{each.surface.spoken}: about {plain(each.time, 'min'):.0f} min",
        )
        left = right
    if work.passes:
        order = " → ".join(p.tool.id for p in work.passes)
        yield Words(0.004 * longest, row + 0.3, order, INK)
    gain = work.state.gain
    words = f"{_GAIN_SIGNS[gain]} gain: {gain}, soil {work.state.soil}" if work.state.soil else "– no soil"
    yield Words(left + 0.012 * longest, row - 0.09, words)


def _read_work(plan: CleaningPlan) -> str:
    busy = [w for w in plan.work if w.passes]
    if not busy:
        return "No surface is cleaned."
    longest = max(busy, key=lambda w: plain(w.time, "min"))
    share = 100 * plain(longest.time, "min") / plain(plan.time.value, "min")
    gained = [w.state.surface.value for w in busy if w.state.gain in ("some", "plain")]
    gain = f"gain is to be expected on: {'; '.join(gained)}" if gained else "print will hide most of the gain"
    time = say_time(plan.time)
    if len(plan.passes) == 1:
        return f"One pass on {longest.state.surface.spoken} takes {time}; {gain}."
    most = "" if len(busy) == 1 else f", {share:.0f} % of it on {longest.state.surface.spoken}"
    where = longest.state.surface.spoken if len(busy) == 1 else f"{len(busy)} surfaces"
    return f"{len(plan.passes)} passes on {where} take {time}{most}; {gain}."


_LONG_MIN = 180  # from here on hours say it better


def work_table(plan: CleaningPlan) -> str:
    """Write every pass in order, with area, time, and when to stop."""
    rows = [
        (
            f"{number}. {p.surface.value}",
            p.tool.name,
            f"{plain(p.area, 'cm^2'):.0f} cm²",
            _say_time(plain(p.time, "min")),
            "; ".join(p.tool.stops),
            p.tool.leaves_behind,
        )
        for number, p in enumerate(plan.passes, start=1)
    ]
    return table(("pass", "tool", "area", "about", "stop too when", "mind"), rows, words=True)


def _say_time(minutes: float) -> str:
    return f"{minutes:.0f} min" if minutes < _LONG_MIN else f"{minutes / 60:.0f} h"


def order_page(plan: CleaningPlan) -> Chart | Page:
    """Show the order of tools in a notebook, or say that none is taken up."""
    if plan.passes:
        return draw_work(plan)
    return sentence_page(f"No tool is taken up in this plan. {plan.because}")


def _left_out(plan: CleaningPlan) -> list[tuple[str, str, str]]:
    soiled = [w for w in plan.work if w.state.soil]
    return [(w.state.surface.value, name, reason) for w in soiled for name, reason in w.left_out]


def left_out_table(plan: CleaningPlan) -> str:
    """Write the tools that are not taken up, surface by surface, and why."""
    rows = _left_out(plan)
    return table(("surface", "not taken up", "why"), rows, words=True) if rows else ""


def left_out_page(plan: CleaningPlan) -> Page:
    """Show the tools that are not taken up, and why."""
    words = [f"{surface}: no {name}, {reason}" for surface, name, reason in _left_out(plan)]
    if words:
        return Page(left_out_table(plan), "; ".join(words))
    return sentence_page(
        "Every tool is taken up." if plan.passes else "Where no soil is entered, no tool is weighed up."
    )


def tool_page() -> Page:
    """Show the tools from the gentlest to the strongest, with rate and risk."""
    rows = [
        (
            f"{t.order}. {t.name}",
            t.how,
            f"{plain(t.rate, 'cm^2/min'):.0f} cm²/min, {t.spread:g} times less or more",
            t.leaves_behind,
        )
        for t in TOOLS
    ]
    head = ("tool", "how", "rate, from memory", "mind")
    return Page(table(head, rows, words=True), "; ".join(t.name for t in TOOLS))


def log_page(plan: CleaningPlan) -> Page:
    """Show what the log of each pass should hold."""
    return bullet_page(plan.prompts, "; ".join(plan.prompts))
