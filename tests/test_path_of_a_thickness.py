"""A thickness, followed from the field where it is typed to the line of the report.

Every call within the package is looked at.  A module works on the thickness where one of its functions gives
it back in another form than it was handed in; one that hands it on as it came does not count.  Nor does the
store: it keeps the cells of every row alike, and gives back the rows that it was given.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime, timedelta, timezone
from pathlib import Path
from types import FrameType
from typing import Any

import pint

from bench.desk import SAMPLES, Treatment
from bench.item import Thicknesses
from bench.panels.readings import build_readings_panel
from bench.records import nouns
from bench.records.store import open_record
from bench.treatment.review.comparison import Examination
from bench.uncertainty import Measured
from bench.writeup.case import open_case
from bench.writeup.result import write_result

NOON = datetime(2026, 12, 1, 12, 0, tzinfo=timezone(timedelta(hours=1)))
TYPED = 176.413  # thousandths of an inch, and no other number of the sample
SAID = "176.4"
CYCLE = 3  # after which nothing was read yet
FEW = 12  # rows; what holds more is a whole table, looked through for some other reason

WORK_ON_IT = {
    "units.reading": "reads the text, once",
    "panels.readings": "makes the rows of one place",
    "treatment.rows": "writes the number of a row, and reads it",
    "records.nouns": "reads the rows of a place, and the thicknesses of an item",
    "uncertainty": "makes readings a value with its doubt",
    "item": "gives the thicknesses of an item by their places",
    "units.saying": "writes a number with the digits that it deserves",
    "figures.said": "writes a value with its doubt",
}
"""The modules that may give the thickness back in another form."""
CHANGES = (
    ("units.reading", "text", "Quantity"),
    ("panels.readings", "Quantity", "row"),
    ("records.nouns", "row", "Measured"),
    ("figures.said", "Measured", "text"),
)
"""The forms in which it is handed from room to room; what a function makes of it within is its own affair."""
BESIDE_THE_WAY = {"figures.readings"}  # the panel lists what was read


def form_of(value: Any, depth: int = 0) -> str:
    """Name the form in which a value holds the thickness; empty if it does not."""
    if isinstance(value, str):
        return "text" if SAID in value else ""
    if isinstance(value, float):
        same = any(abs(value - size) < 1e-6 * size for size in (TYPED, TYPED * 0.0254, TYPED * 25.4))
        return "number" if same else ""
    if isinstance(value, pint.Quantity):
        return "Quantity" if form_of(value.magnitude) else ""
    if isinstance(value, Measured):
        return "Measured" if form_of(value.value) else ""
    if isinstance(value, Thicknesses):
        return "Thicknesses" if form_of(value.text_block) else ""
    if isinstance(value, Examination):
        return form_of(value.thicknesses)
    if isinstance(value, Mapping) and "quantity" in value and "unit" in value:
        return "row" if form_of(value.get("value")) else ""
    held = list(value.values()) if isinstance(value, Mapping) else value
    if isinstance(held, list | tuple) and len(held) <= FEW and depth < 3:
        return next(filter(None, (form_of(each, depth + 1) for each in held)), "")
    return ""


class Trace:
    """The changes of form that calls make, in their order: module, from, to."""

    def __init__(self) -> None:
        self.changes: dict[tuple[str, str, str], None] = {}
        self._given: dict[int, set[str]] = {}

    def look(self, frame: FrameType, event: str, result: Any) -> None:
        module = frame.f_globals.get("__name__", "")
        is_making = frame.f_code.co_name.startswith("__")  # what is being made has no value yet
        if (
            event not in ("call", "return")
            or not module.startswith("bench.")
            or is_store(module)
            or is_making
        ):
            return
        if event == "call":
            self._given[id(frame)] = {form_of(value) for value in frame.f_locals.values()} - {""}
        if event != "return":  # calls of what is written in C are told too
            return
        given, form = self._given.pop(id(frame), set()), form_of(result)
        if form and given and form not in given:
            self.changes[module.removeprefix("bench."), min(given), form] = None


def is_store(module: str) -> bool:
    """Tell the store from what reads its rows; the registry makes quantities, as a library would."""
    return module == "bench.units.registry" or (
        module.startswith("bench.records") and module != "bench.records.nouns"
    )


@contextmanager
def traced() -> Iterator[Trace]:
    trace, before = Trace(), sys.getprofile()
    sys.setprofile(trace.look)
    try:
        yield trace
    finally:
        sys.setprofile(before)


def test_a_thickness_goes_the_short_way(tmp_path: Path) -> None:
    folder = shutil.copytree(SAMPLES / "tin-orchard-annual-2", tmp_path / "sample")
    treatment = Treatment(open_record(folder), clock=lambda: NOON)
    panel = build_readings_panel(treatment, stage="review", cycle=CYCLE)
    panel.fill({"quantity": "thickness", "place": "text block"})
    with traced() as trace:
        panel.fill({"readings": " ".join(5 * [f"{TYPED}"])})
        before_save = panel.result.measured
        panel.save()
        after_save = nouns.measured_at(treatment.record, "thickness", stage="review", cycle=CYCLE)
        section = write_result(open_case(open_record(folder)))
    assert SAID in repr(section)
    assert before_save == after_save["text block"]
    assert {module for module, _, _ in trace.changes} - BESIDE_THE_WAY == set(WORK_ON_IT)
    assert tuple(change for change in trace.changes if change in CHANGES) == CHANGES
