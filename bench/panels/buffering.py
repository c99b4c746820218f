"""The buffering panel: where the sheets go, where the load goes, and whether spine and staples stay free."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from bench.desk import Treatment
from bench.figures.bearing import draw_chances, draw_pressure, draw_section
from bench.figures.buffering import interval_table, load_page
from bench.figures.page import fold, folded_numbers, lead
from bench.figures.slip import slip_document
from bench.handover.buffering import handed_on_load, minutes_open, planned_interleaves
from bench.handover.intake import conditions_of
from bench.handover.learning import give_of_block
from bench.item import Format, Item, Thicknesses
from bench.materials import look_up
from bench.panels.base import Panel, View
from bench.panels.declared import build_fields, first_keys, read_fields
from bench.panels.fields import Field, GroupLabel, NumberField
from bench.panels.loads import LOAD, load_fields, read_load
from bench.panels.parts import Part
from bench.panels.remembered import Remembered
from bench.panels.standing import flagged, save_as_seen
from bench.physics.bearing.results import Bearing
from bench.physics.contact import LOAD_WORDS
from bench.records.nouns import entered_of, replacing
from bench.treatment.buffering.choices import (
    BufferingChoices,
    LoadPath,
)
from bench.treatment.buffering.explained import say_draws
from bench.treatment.buffering.load import SEED, weigh_spacings
from bench.treatment.buffering.planning import BufferingPlan, hold_back, plan_buffering
from bench.treatment.choices import declared, staying
from bench.treatment.conditions import Condition, Kind
from bench.treatment.interleaves import spacings_of
from bench.treatment.plan import Verdict
from bench.units import Q_, UnitChoice

SAMPLES = 500
"""Samples for each plan in a panel: a chance of 2 % is then known to within 1.3 % (95 %)."""


_ANY_RISK = 0.05  # loads and chances do not hang on it


_recent: deque[tuple[tuple[object, ...], tuple[Bearing, ...]]] = deque(maxlen=8)
"""What was worked out last, for panels that are built anew for the same item."""


class LoadTable:
    """Works out where the load goes, and again only when load, boards or sheet change."""

    def __init__(self, item: Item, thicknesses: Thicknesses) -> None:
        self._item, self._thicknesses = item, thicknesses
        self._spacings = spacings_of(item)
        self._known: tuple[BufferingChoices, tuple[Bearing, ...]] | None = None

    def read(self, choices: BufferingChoices) -> tuple[Bearing, ...]:
        """Give every plan under these choices, with the clearance that the accepted chance asks for."""
        return tuple(replace(load, accepted_risk=choices.accepted_risk) for load in self._loads(choices))

    def _loads(self, choices: BufferingChoices) -> tuple[Bearing, ...]:
        choices = replace(choices, accepted_risk=_ANY_RISK)
        same = replace(choices, interval=self._spacings[0], sheets=None, load_words="", may_lie_open=None)
        if self._known is None or self._known[0] != same:
            self._known = (same, self._weigh(same, self._spacings))
        loads = self._known[1]
        if choices.sheets is not None:
            if any(load.sheets.count == choices.sheets for load in loads):
                return loads
            (own,) = self._weigh(choices, ())
            return tuple(sorted((*loads, own), key=lambda load: -load.sheets.count))
        if choices.interval in self._spacings:
            return loads
        (closer,) = self._weigh(choices, ())
        if closer.sheets.count == loads[0].sheets.count:  # a thin item has no room for more
            return (replace(loads[0], intervals=(choices.interval, *loads[0].intervals)), *loads[1:])
        return (closer, *loads)

    def _weigh(self, choices: BufferingChoices, intervals: Iterable[int]) -> tuple[Bearing, ...]:
        asked = (self._item, self._thicknesses, choices, tuple(intervals))
        for known, loads in _recent:
            if known == asked:
                return loads
        rng = np.random.default_rng(SEED)
        loads = weigh_spacings(
            self._item, self._thicknesses, choices, rng=rng, intervals=asked[-1], samples=SAMPLES
        )
        _recent.append((asked, loads))
        return loads


class LoadTables:
    """The loads of an item as it is described and read: another reading has others."""

    def __init__(self) -> None:
        self._known: tuple[Item, Thicknesses, LoadTable] | None = None

    def of(self, item: Item, thicknesses: Thicknesses) -> LoadTable:
        """Give the loads of an item, the same ones as long as nothing was described or read anew."""
        if self._known is None or self._known[:2] != (item, thicknesses):
            self._known = (item, thicknesses, LoadTable(item, thicknesses))
        return self._known[2]


def _say_wait(conditions: Sequence[Condition]) -> str:
    is_held = any(condition.kind is Kind.NOT_YET for condition in conditions)
    return "Nothing is saved, and no slip is written, before intake decides to treat." if is_held else ""


def build_buffering_panel(
    treatment: Treatment, *, plan: Callable[..., BufferingPlan] = plan_buffering, cycle: int | None = None
) -> Panel:
    """Build the panel.

    Parameters
    ----------
    treatment : Treatment
        At hand.
    plan : callable
        The calculation, the same one that the notebook calls.
    cycle : int, optional
        By default the cycle at hand.
    """
    number = cycle or treatment.cycle
    tables = LoadTables()
    known = Remembered(
        treatment,
        lambda: (
            treatment.item,
            treatment.thicknesses(number),
            give_of_block(treatment, number),
            minutes_open(treatment, number),
            treatment.handed_to("buffering", number),
        ),
    )
    waits = Remembered(treatment, lambda: conditions_of(treatment, "buffering"))
    item = known()[0]
    planned = planned_interleaves(treatment, number)
    handed_on = handed_on_load(treatment, number)
    usual = BufferingChoices(
        load=LOAD_WORDS["medium"], interval=planned.interval, sheets=planned.sheets, sheet=planned.sheet
    )

    def work(values: Mapping[str, Any], units: UnitChoice) -> BufferingPlan:
        item, thicknesses, learned, may_lie_open, _ = known()
        load, words = read_load(values, item.area, handed_on)
        choices = replace(
            usual,
            **read_fields(BufferingChoices, values),
            load=load,
            load_words=words,
            path=_read_path(values),
            may_lie_open=may_lie_open,
            **learned,
        )
        loads = tables.of(item, thicknesses).read(choices)
        made = plan(item, thicknesses, choices, loads=loads, cycle=number, units=units)
        return hold_back(made, waits())

    def show(result: BufferingPlan, units: UnitChoice) -> View:
        view = View(
            lead=lead(result),
            parts=parts(result, units),
            cautions=result.cautions,
            save_says=treatment.say_plan(result, "materials") + _say_slip(result),
            save_blocked=_say_wait(waits.last),
        )
        return flagged(treatment, "buffering", number, view)

    def parts(result: BufferingPlan, units: UnitChoice) -> Iterator[Part]:
        item = known.last[0]
        if item.format is not Format.SHEET:
            yield from _spaced_parts(item, result, units)
        yield folded_numbers(result, units)

    def save(result: BufferingPlan, values: Mapping[str, Any]) -> str:
        item, *_, handed = known.last
        words = save_as_seen(treatment, panel, result, _materials(treatment, result), handed)
        name = treatment.write_file(f"bench-slip-{number}.html", slip_document(item, result))
        if result.verdict is Verdict.STOP:
            return f"{words} The plan says stop, so {name} holds the reason and no slip."
        return f"{words} The bench slip is in {name}."

    panel = Panel(
        name="buffering",
        strip=treatment.heading("buffering", number),
        fields=_fields(item, usual, load_fields(handed_on, by_height=True)),
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        first=(*LOAD, *first_keys(BufferingChoices), *first_keys(LoadPath)),
        entered=entered_of(treatment.record, "buffering", number, stays=staying(LoadPath)),
    )
    return panel


_OF_LEAVES = ("interval", "sheets", "risk")
_OF_SPINE = ("outside", "shim", "shim_width")
"""Keys of what a single sheet is not asked: it has no leaves to count and no spine to load."""


def _fields(item: Item, usual: BufferingChoices, load: Sequence[Field]) -> list[Field | GroupLabel]:
    """Build the fields of sheets, load, and how the load gets to the item."""
    is_sheet = item.format is Format.SHEET
    asked = declared(LoadPath)["outside"]
    outside = NumberField(
        asked.key,
        asked.label,
        None,
        "mm",
        low=Q_(0.0, "mm"),
        high=(0.5 * item.width).to("mm"),
        optional=True,
        hint="empty: the boards cover the spine",
    )
    built = [
        *build_fields(usual, {"load": load}, but=_OF_LEAVES if is_sheet else ()),
        *build_fields(usual.path, {asked.key: [outside]}, but=_OF_SPINE if is_sheet else ()),
    ]
    by_key = {entry.key: entry for entry in built if isinstance(entry, Field)}
    if not is_sheet:
        by_key["shim_width"].use_while(by_key["shim"], lambda entry: bool(entry.strip()))
    return built


def _spaced_parts(item: Item, result: BufferingPlan, units: UnitChoice) -> Iterator[Part]:
    """Give section, table and places of an item that has leaves to put sheets between."""
    if result.decision is not None:
        yield draw_pressure(item, result.decision.chosen)
        yield draw_section(item, result.decision.chosen)
    yield draw_chances(result.loads, result.choices.interval, result.choices.accepted_risk)
    yield load_page(result).html
    yield f'<p class="hint">{say_draws(result.loads)}</p>'
    yield _say_places(result)
    thickness = interval_table(result, units)
    yield fold("By thickness alone", thickness)


def _read_path(values: Mapping[str, Any]) -> LoadPath:
    read = read_fields(LoadPath, values)
    if read.get("shim") is None:
        read["shim_width"] = None
    return LoadPath(**read, outside=values.get("outside"))


def _say_slip(plan: BufferingPlan) -> str:
    return "" if plan.verdict is Verdict.STOP else " Writes the bench slip too."


def _say_places(plan: BufferingPlan) -> str:
    first, *inner, last = plan.placements
    ends = f"A sheet {first.words}, one {last.words}"
    leaves = ", ".join(str(place.after_leaf) for place in inner)
    between = f", and one after leaf {leaves}, counted from the front" if inner else ""
    return f'<p class="because">{ends}{between}.</p>'


def _materials(treatment: Treatment, plan: BufferingPlan) -> dict[str, list[dict[str, Any]]]:
    row = {
        "stage": "buffering",
        "cycle": plan.cycle,
        "kind": "interleaf",
        "material": plan.sheet,
        "count": plan.chosen.sheets,
        "thickness_um": round(float(look_up(plan.sheet, "thickness").value.to("um").magnitude), 1),
        "grammage_gsm": round(float(look_up(plan.sheet, "grammage").value.to("gsm").magnitude), 1),
    }
    return {"materials": replacing(treatment.latest, "materials", [row], ("stage", "cycle", "kind"))}
