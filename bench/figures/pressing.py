"""The press stack to scale, its heat against time, and its humidity against changes of sheets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bench.figures.as_read import mark_as_read
from bench.figures.chapter import prose
from bench.figures.chart import Chart
from bench.figures.marks import (
    Anchor,
    Axis,
    Curve,
    Dash,
    Line,
    Part,
    Pick,
    Points,
    Region,
    Rule,
    Shape,
    Words,
    plain,
)
from bench.figures.page import Page, table
from bench.figures.style import ACCENT, CURVES, INK, SOFT, STOP
from bench.physics.ranges import Range
from bench.stack import Layer, Role, Stack
from bench.treatment.actual.observed import ReadSince
from bench.treatment.humidity.words import say_humidity
from bench.treatment.pressing.explained import COLD, Resistance, end_by_hand, list_resistances
from bench.treatment.pressing.plan import LONGEST_DWELL, PressingPlan
from bench.treatment.pressing.stack import ITEM_ROLES
from bench.treatment.pressing.words import say_dwell, say_temperature
from bench.units import MILLIMETRES, Q_, Quantity, UnitChoice, say_length, say_minutes, unit_label

_FACES = {
    Role.BOARD: "#d9c7a3",
    Role.CARD: "#efe2c4",
    Role.RELEASE: "#cfd6dd",
    Role.COVER: "#b98d5a",
    Role.LEAF: "#f7f0dd",
    Role.INTERLEAF: CURVES[0],
    Role.PLATE: "#a9adb1",
}
_WIDTH = 10.0  # of the drawn stack; only the thickness is to scale
_STEP = 0.062  # least distance of two labels, as a share of the height
_BARE = (0.05, 0.05, 0.05, 0.05)  # inches about the stack, which has no axes


@dataclass(frozen=True)
class _Label:
    """Words beside a layer: where the layer is and what it is called."""

    height: float
    words: str


def draw_stack(plan: PressingPlan, units: UnitChoice = MILLIMETRES) -> Chart:
    """Draw the press stack to scale in its thickness, the hot platen at the top, every layer named."""
    return _draw_stack(plan.stack, plan.choices.is_warm, plan.choices.heated == "both", units)


@lru_cache(maxsize=8)  # most controls of the panel leave the stack as it is
def _draw_stack(stack: Stack, is_warm: bool, from_both: bool, units: UnitChoice) -> Chart:
    total = plain(stack.thickness(), "mm")
    platen = 0.07 * total
    parts: list[Part] = [*_describe_platen(total, platen, is_warm, from_both)]
    labels: list[_Label] = []
    top = total
    inside: list[float] = []
    for layer in stack.layers:
        thick = plain(layer.total_thickness, "mm")
        parts += _describe_layer(layer, top - thick, thick, units)
        if layer.role in ITEM_ROLES:
            inside.append(top - thick / 2)
        else:
            labels.append(_Label(top - thick / 2, _say_layer(layer, units)))
        top -= thick
    labels.append(_Label(float(np.mean(inside)), _say_item(stack, units)))
    parts += _place_labels(labels, total)
    thickness = say_length(stack.thickness(), units)
    reads = f"From the platen down, {thickness} in all; thickness to scale, width not.{_say_sheets(stack)}"
    return Chart(
        Axis("across", low=-0.3, high=2.05 * _WIDTH, is_bare=True),
        Axis("thickness", "mm", -0.09 * total, total + 1.7 * platen, is_bare=True),
        tuple(parts),
        reads,
        height=3.5,
        margins=_BARE,
    )


def _say_sheets(stack: Stack) -> str:
    """Say where the interleaves lie; empty if there are none."""
    count = _count(stack, Role.INTERLEAF)
    if not count:
        return ""
    if _count(stack, Role.LEAF) == 1:
        return " A sheet (blue) lies on each face."
    return f" {count} interleaves (blue) lie between the leaves."


def _describe_platen(total: float, height: float, is_warm: bool, from_both: bool) -> Iterator[Part]:
    face = "#e8c4b8" if is_warm else "#d6d6d3"
    words = "hot platen" if is_warm else "platen, not heated"
    yield Region.between((-0.2, total), (_WIDTH + 0.2, total + height), face, edge=SOFT, says=words)
    yield Words(_WIDTH / 2, total + height / 2, words, INK, Anchor.MIDDLE)
    under = "hot platen" if from_both and is_warm else "base of the press"
    yield Words(_WIDTH / 2, -0.045 * total, under, anchor=Anchor.MIDDLE)


def _describe_layer(layer: Layer, bottom: float, thick: float, units: UnitChoice) -> Iterator[Region]:
    says, face = _say_layer(layer, units), _FACES[layer.role]
    if layer.role is Role.LEAF:  # single leaves would be a grey smear
        yield Region.between((0, bottom), (_WIDTH, bottom + thick), face, says=says)
        return
    edge, each = "" if layer.role is Role.INTERLEAF else "#8b7d63", thick / layer.count
    for sheet in range(layer.count):
        low = bottom + sheet * each
        yield Region.between((0, low), (_WIDTH, low + each), face, edge=edge, says=says)


def _say_layer(layer: Layer, units: UnitChoice) -> str:
    count = f"{layer.count} × " if layer.count > 1 else ""
    return f"{count}{layer.material}, {say_length(layer.total_thickness, units)}"


def _count(stack: Stack, role: Role) -> int:
    return sum(layer.count for layer in stack.of(role))


def _say_item(stack: Stack, units: UnitChoice) -> str:
    thick = stack.thickness(*ITEM_ROLES)
    interleaves = _count(stack, Role.INTERLEAF)
    sheets = f"{interleaves} interleaves, " if interleaves else ""
    cover = " and cover" if stack.of(Role.COVER) else ""
    leaves = _count(stack, Role.LEAF)
    named = "1 leaf" if leaves == 1 else f"{leaves} leaves"
    return f"the item: {named}{cover}\n{sheets}{say_length(thick, units)}"  # on a narrow screen too


def _place_labels(labels: Sequence[_Label], total: float) -> Iterator[Part]:
    """Put the labels beside the stack, apart from each other, each with a line to its layer."""
    order = sorted(labels, key=lambda label: -label.height)
    places = [label.height for label in order]
    step = _STEP * total
    for _ in range(200):  # push neighbours apart until none overlap
        moved = False
        for index in range(len(places) - 1):
            short = step - (places[index] - places[index + 1])
            if short > 1e-9:
                places[index] += short / 2
                places[index + 1] -= short / 2
                moved = True
        if not moved:
            break
    for label, place in zip(order, places, strict=True):
        yield Line([_WIDTH, _WIDTH + 0.5, _WIDTH + 0.9], [label.height, place, place], SOFT, 0.6)
        yield Words(_WIDTH + 1.0, place, label.words, INK)


def draw_heat(
    plan: PressingPlan, units: UnitChoice = MILLIMETRES, read: Sequence[ReadSince] = ()
) -> Chart | None:
    """Draw the temperature of near, middle and far leaf against the minutes; None in a cold press.

    A click sets the dwell.

    Parameters
    ----------
    plan : PressingPlan
        With its heat, if its press is warm.
    units : UnitChoice
        Of the temperatures.
    read : sequence of ReadSince
        Temperatures of leaves as they were read in this cycle.
    """
    heat, choices = plan.heat, plan.choices
    if heat is None or choices.platen_temperature is None:
        return None
    unit = units.temperature
    platen, room = (plain(q, unit) for q in (choices.platen_temperature, choices.room_temperature))
    dwell = plain(choices.dwell, "min")
    parts: list[Curve | Points] = []
    for name, color, dash, curve, place in _leaves_under_heat(plan):
        values = Q_(np.array(curve), "degC").to(unit).magnitude
        value, low, high = place.floats(unit, field="temperature")
        ends = Points(f"{name} then", [dwell], [value], color, low=[low], high=[high], of=name)
        own = _read_of(read, name)
        as_read = mark_as_read(own, f"{name} as read", color, time_unit="min", unit=unit, of=name)
        parts += [Curve(name, heat.minutes, values, color, dash), ends, *as_read]
    rules = (
        Rule(platen, "platen", ACCENT),
        Rule(dwell, "end of the dwell", STOP, is_upright=True, dash=Dash.DASHED, is_choice=True),
    )
    reads = f"After {say_dwell(plan)} the {heat.slowest_called} is at {say_temperature(heat.slowest, units)}."
    if choices.heated != "both" and choices.base == "open":
        reads += " Through boards and over a cold base it never comes to the temperature of the platen."
    if any(isinstance(part, Points) and part.shape is Shape.DIAMOND for part in parts):
        reads += " Diamonds: as it was read, bars 95 %."
    end = 1.14 * heat.minutes[-1]
    return Chart(
        Axis("minutes under the hot platen", "min", 0.0, end, digits=1),
        Axis(f"temperature, {unit_label(unit)}", unit_label(unit), room, platen + 0.08 * (platen - room)),
        (*parts, *rules),
        reads,
        height=2.8,
        pick=Pick("dwell", "min", 1.0, plain(LONGEST_DWELL, "min"), "the dwell"),
    )


def _read_of(read: Sequence[ReadSince], name: str) -> list[ReadSince]:
    """Give what was read of a leaf; of a single sheet all is its own."""
    return [each for each in read if name == "sheet" or each.where == name.removesuffix(" leaf")]


def _leaves_under_heat(plan: PressingPlan) -> Iterator[tuple[str, str, Dash, Sequence[float], Range]]:
    """Give name, look, course and end of the leaves that differ: a single sheet has one alone."""
    heat = plan.heat
    assert heat is not None
    names = ("near leaf", "middle leaf", "far leaf")
    found = list(zip(names, CURVES, Dash, heat.curves, (heat.top, heat.middle, heat.bottom), strict=False))
    if heat.slowest_called == "sheet":
        yield ("sheet", *found[-1][1:])
        return
    yield from found[:2] if plan.choices.heated == "both" else found


def draw_changes(plan: PressingPlan) -> Chart | None:
    """Draw the humidity after the night and after each change of sheets; None without interleaves.

    A click sets the number of changes.
    """
    if not plan.water.changes:
        return None
    points = [
        humidity.floats("percent", field="humidity") for humidity in (plan.water.rest, *plan.water.changes)
    ]
    values = np.array(points)[:, 0]
    limit = plain(plan.choices.release_limit, "percent")
    needed = plan.changes_needed
    end = "more than were counted" if needed is None else str(needed)
    reads = (
        f"After the night the leaves stand at {say_humidity(plan.water.rest)}{_say_falling(values)} "
        f"(beyond those planned likely values only). Changes needed to come below the limit: {end}."
    )
    last = len(points) - 1
    ticks = ((0.0, "night"), *((float(n), str(n)) for n in range(1, last + 1)))
    return Chart(
        Axis(
            f"changes of all {plan.interleaves} interleaves for dry ones",
            low=-0.5,
            high=last + 0.5,
            ticks=ticks,
        ),
        Axis("mean of the leaves, % RH", "% RH"),
        (*_points_of_changes(points, plan.choices.changes), Rule(limit, "limit for release", STOP)),
        reads,
        height=2.6,
        pick=Pick("changes", "", 0.0, float(last), "the changes of sheets"),
    )


def _points_of_changes(points: Sequence[tuple[float, float, float]], planned: int) -> Iterator[Points]:
    """Tell the changes before the planned number from it and from those beyond."""
    kinds = (
        ("before that", Shape.DOT, CURVES[0], range(planned)),
        ("planned", Shape.SQUARE, CURVES[1], range(planned, planned + 1)),
        ("beyond that", Shape.RING, CURVES[0], range(planned + 1, len(points))),
    )
    for name, shape, color, numbers in kinds:
        these = [number for number in numbers if number < len(points)]
        if these:
            value, low, high = zip(*(points[number] for number in these), strict=True)
            words = (name,) if shape is Shape.SQUARE else ()
            yield Points(name, [float(n) for n in these], value, color, shape, low, high, words=words)


def _say_falling(values: NDArray[np.float64]) -> str:
    """Say that each change brings less than the one before it, where that is so."""
    falls = -np.diff(values)
    if len(falls) > 1 and np.all(falls > 0) and np.all(np.diff(falls) < 0):
        return "; each change of sheets brings them down by less than the one before"
    return f"; the last change drawn leaves them at {values[-1]:.0f} % RH"


def heat_table(plan: PressingPlan, units: UnitChoice) -> str:
    """Write the ways to bring heat to the slowest leaf side by side; empty in a cold press."""
    if not plan.alternatives:
        return ""
    head = ("press", "slowest leaf after the dwell", "within 5 % of its warmest after", "dwell")
    rows = [
        (
            way.words,
            _say_celsius(way.celsius, units),
            say_minutes(way.minutes).replace(" ", "\u00a0"),
            say_minutes(plain(way.dwell, "min")).replace(" ", "\u00a0"),
        )
        for way in plan.alternatives
    ]
    return table(head, rows, picked=0)


def heat_page(plan: PressingPlan, units: UnitChoice) -> Page:
    """Show the ways to bring heat side by side in a notebook."""
    if not plan.alternatives:
        return prose(COLD)
    words = "; ".join(f"{way.words}: {_say_celsius(way.celsius, units)}" for way in plan.alternatives)
    return Page(heat_table(plan, units), words)


def _say_celsius(celsius: float, units: UnitChoice) -> str:
    return f"{plain(Q_(celsius, 'degC'), units.temperature):.0f} {unit_label(units.temperature)}"


def hand_page(plan: PressingPlan, units: UnitChoice) -> Page:
    """Show by hand where the far leaf ends: the resistances above and below it, the end beside the plan."""
    end = end_by_hand(plan)
    if end is None or plan.heat is None:
        return prose(COLD)
    hand, planned = (_say_celsius(plain(t, "degC"), units) for t in (end, plan.heat.slowest_final.value))
    words = f"By hand {hand}, planned {planned}."
    if plan.choices.heated == "both" or plan.choices.base != "open":
        return prose(
            "No heat flows on in the end, so everything comes to the temperature of the platen.", words
        )
    parts = list_resistances(plan)
    sums = Resistance(
        "in all", *(sum((getattr(p, side) for p in parts), start=Q_(0.0, "m^2*K/W")) for side in _SIDES)
    )
    rows = [(part.words, *(_milli(getattr(part, side)) for side in _SIDES)) for part in (*parts, sums)]
    head = ("what heat passes", "above the far leaf, 10⁻³ m² K/W", "below it")
    return Page(f"{table(head, rows)}<p>{words}</p>", words)


_SIDES = ("above", "below")


def _milli(resistance: Quantity) -> str:
    value = 1000 * plain(resistance, "m^2*K/W")
    return f"{value:.1f}" if value >= 0.05 else "–"


def water_page(plan: PressingPlan) -> Page:
    """Show what each part takes up until the end of the night, and that nothing is lost."""
    gains = {name: plain(gain, "g") for name, gain in plan.water.gains.items()}
    rows = [*gains.items(), ("in all", sum(gains.values()))]
    said = [(name, f"{gram:+.2f}".replace("-", "−") if abs(gram) >= 0.005 else "0.00") for name, gram in rows]
    words = "; ".join(f"{name} {gram} g" for name, gram in said)
    return Page(table(("part", "water gained until the morning, g"), said), words)
