"""Treatments of items that no sample resembles, made through the panels as a user works them.

Titles, people and numbers are invented.  The numbers of an item lie far from those of every sample, so
that a number of a sample on its pages is a number of another item.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any
from unittest.mock import patch

from matplotlib.backends.backend_svg import FigureCanvasSVG

from bench.desk import Treatment
from bench.item import Format
from bench.panels.base import Panel
from bench.panels.buffering import build_buffering_panel
from bench.panels.cleaning import build_cleaning_panel
from bench.panels.defects import build_defects_panel
from bench.panels.humidity import build_humidity_panel
from bench.panels.intake import build_intake_panel, build_tests_panel
from bench.panels.item import build_item_panel
from bench.panels.pressing import build_pressing_panel
from bench.panels.readings import build_readings_panel
from bench.panels.review import build_review_panel
from bench.panels.schedule import build_schedule_panel
from bench.records.store import create_treatment, open_record
from bench.treatment.intake.consent import PERMANENT_CHANGES
from bench.treatment.intake.gates import Effect
from bench.treatment.intake.rows import ticked_gates
from bench.treatment.intake.spot_tests import SPOT_TESTS

ZONE = timezone(timedelta(hours=2))
BEGIN = datetime(2026, 6, 1, 9, 0, tzinfo=ZONE)
WHO, OWNER = "P. Larkhill", "S. Undermere"
SCATTER = (-0.01, 0.01, 0.0, 0.01, -0.01)  # mm, of five readings at one place


@dataclass(frozen=True)
class Kind:
    """An item that is to be treated, as the fields of the panels ask for it."""

    title: str
    format: Format
    count: int
    counted_as: str
    size: tuple[float, float]
    block: float
    staples: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    mass: float | None = None
    cover: str = "uncoated cover"
    coated: str = "no"
    glue: str = "none"
    paper: str = "newsprint"
    lift: float = 0.12
    """How far the staples stand above the text block, in mm."""

    @property
    def leaves(self) -> int:
        """Leaves of the text block."""
        return self.count if self.counted_as == "leaves" else self.count // 2


FOLD = {"upper": (71.0, 0.0), "lower": (203.0, 0.0)}
SIDE = {"upper": (52.0, 6.0), "lower": (221.0, 6.5)}
ITEMS = {
    "self-cover": Kind(
        "Fernhollow Gleaner, no. 14",
        Format.SADDLE_STITCHED,
        24,
        "leaves",
        (183.0, 271.0),
        2.21,
        FOLD,
        mass=65.4,
        cover="",
    ),
    "single sheet": Kind(
        "Copperwell Broadside", Format.SHEET, 1, "leaves", (243.0, 389.0), 0.11, mass=5.6, cover=""
    ),
    "4 leaves, one staple": Kind(
        "Brindle Hare Leaflet",
        Format.SADDLE_STITCHED,
        8,
        "pages",
        (139.0, 211.0),
        0.62,
        {"middle": (105.0, 0.0)},
        mass=13.9,
        cover="coated cover",
        coated="yes",
        lift=-0.12,
    ),
    "400 leaves, no staples": Kind(
        "The Quillmere Compendium",
        Format.GLUED,
        800,
        "pages",
        (151.0, 229.0),
        37.4,
        mass=741.0,
        glue="EVA hot melt",
    ),
    "three staples, no glue": Kind(
        "Hobnail Ridge Quarterly",
        Format.SIDE_STAPLED,
        44,
        "leaves",
        (189.0, 273.0),
        4.27,
        {**SIDE, "middle": (137.0, 6.0)},
        mass=131.0,
    ),
    "no mass, cover of unknown kind": Kind(
        "Thistledown Almanack, no. 5",
        Format.SIDE_STAPLED,
        100,
        "pages",
        (177.0, 265.0),
        4.93,
        SIDE,
        cover="coated cover",
        coated="unknown",
        glue="PVAc",
    ),
}
NEW = "not described yet"


class Bench:
    """Somebody who works one treatment panel by panel, with a clock that goes on by itself."""

    def __init__(self, folder: Path, name: str, title: str) -> None:
        self.clock = BEGIN
        row = {
            "title": title,
            "owner": OWNER,
            "conservator": WHO,
            "planned_start": BEGIN,
            "length_unit": "mm",
            "temperature_unit": "degC",
        }
        self.folder = create_treatment(folder, name, {"treatment": [row]}, by=WHO, at=BEGIN).folder

    @property
    def treatment(self) -> Treatment:
        """The treatment opened anew, as each notebook opens it: no panel follows the saves of another."""
        return Treatment(open_record(self.folder), clock=lambda: self.clock)

    def save(self, build: Callable[..., Panel], *, minutes: float = 10, **entries: Any) -> Panel:
        """Build a panel, enter what is given and press Save; the sentence must be that of a save."""
        return self.press(self.build(build), minutes=minutes, **entries)

    def build(self, build: Callable[..., Panel], **options: Any) -> Panel:
        """Build a panel for the treatment as it stands now."""
        return build(self.treatment, **options)

    def press(self, panel: Panel, *, minutes: float = 10, **entries: Any) -> Panel:
        """Enter values into fields of a panel and press Save."""
        self.clock += timedelta(minutes=minutes)
        panel.fill(entries)
        said = panel.save()
        if not said.startswith("●"):
            raise AssertionError(f"{self.folder.name}, {panel.widget._dom_classes}: {said}")
        return panel

    def done_to(self, stage: str) -> None:
        """Enter the steps up to the end of a stage as done at their planned times."""
        treatment = self.treatment
        last = [s for s in treatment.timeline.steps if (s.stage, s.cycle) == (stage, treatment.cycle)][-1]
        self.clock = max(self.clock, last.ends + timedelta(minutes=5))
        self.press(self.build(build_schedule_panel), minutes=0, upto=last.step)

    def read(self, places: Mapping[tuple[str, str], list[float]], *, stage: str = "intake") -> str:
        """Enter readings, one place after another, and give what the panel answers then."""
        cycle = 0 if stage == "intake" else self.treatment.cycle
        panel = self.build(build_readings_panel, stage=stage, cycle=cycle)
        for (quantity, place), values in places.items():
            where = {"place": place} if place else {}
            text = " ".join(f"{value:g}" for value in values)
            self.press(panel, minutes=3, quantity=quantity, **where, readings=text)
        return panel.answer


@contextmanager
def without_pictures() -> Iterator[None]:
    """Let panels answer in words alone while a record is made: nobody looks at their pictures."""

    def blank(canvas: FigureCanvasSVG, file: Any, **_: Any) -> None:
        file.write('<svg xmlns="http://www.w3.org/2000/svg"/>')

    with patch.object(FigureCanvasSVG, "print_svg", blank):
        yield


def _five(value: float) -> list[float]:
    return [round(value + step, 3) for step in SCATTER]


def _readings(kind: Kind, *, growth: float = 1.0, thicker: float = 0.0) -> dict[tuple[str, str], list[float]]:
    """Give what is read of an item: thickness at its places, size, and mass if it was weighed."""
    width, height = kind.size
    block = kind.block + thicker
    sheet = kind.format is Format.SHEET
    found = {("thickness", "text block"): _five(block)}
    found |= {("thickness", f"{name} staple"): _five(block + kind.lift) for name in kind.staples}
    if not sheet:
        found |= {
            ("thickness", "spine edge"): _five(block + 0.6 * kind.lift),
            ("thickness", "fore edge"): _five(block),
        }
    places = ["front cover"] if kind.cover else ["leaf 1"]
    places += [f"leaf {min(10, kind.leaves)}"] if kind.leaves > 1 else []
    for place in places:
        found[("width", place)] = [round(width * growth + step, 1) for step in (-0.1, 0.0, 0.1)]
        found[("height", place)] = [round(height + step, 1) for step in (-0.1, 0.0, 0.1)]
    if kind.mass is not None:
        found[("mass", "")] = [kind.mass]
    return found


def describe(bench: Bench, kind: Kind) -> None:
    """Describe the item in its panel."""
    width, height = kind.size
    entries: dict[str, Any] = {
        "format": kind.format.value,
        "count": str(kind.count),
        "counted_as": kind.counted_as,
        "width": f"{width:g}",
        "height": f"{height:g}",
        "text_paper": kind.paper,
        "cover_leaves": 2 if kind.cover else 0,
        "cover_coated": kind.coated,
        "glue": kind.glue,
    }
    if kind.cover:
        entries["cover_paper"] = kind.cover
    for name, (head, spine) in kind.staples.items():
        entries |= {f"{name}_head": f"{head:g}", f"{name}_spine": f"{spine:g}"}
    bench.save(build_item_panel, **entries)


def examine(bench: Bench, kind: Kind) -> None:
    """Read, test, list two defects, answer every gate and decide."""
    left = "Still to be read: mass." if kind.mass is None else "All that the plans and the review need"
    assert left in bench.read(_readings(kind))
    tests = {test.id: "pass" for test in SPOT_TESTS if test.id != "mould"}
    bench.save(build_tests_panel, minutes=25, **tests)
    box = {"x": "31", "y": "43", "width": "37", "height": "29"}
    face = "recto" if not kind.cover else "front cover, outside"
    leaf = {"leaf": "1"} if not kind.cover else {}
    bench.save(build_defects_panel, term="cockled", face=face, severity=3, **leaf, **box)
    bench.save(build_defects_panel, term="dirty", face=face, severity=1, **leaf, **box)
    answers = {
        gate.id: next(f.key for f in gate.findings if f.effect is Effect.GO) for gate in ticked_gates()
    }
    panel = bench.build(build_intake_panel)
    explained = {f"explained_{name}": True for name in PERMANENT_CHANGES}
    consent = {"given_by": OWNER, "in_writing": True, "cycles": 2, "agreed_on": "2026-05-28"}
    panel.fill({**answers, **explained, **consent})
    reason = "The spine lies outside the platen and a card keeps the warmth off it"
    offered = [e for e in panel._fields if e.key.startswith("override_") and e.box.layout.display != "none"]
    bench.press(panel, **{entry.key: reason for entry in offered}, ended="just now")
    assert "Treat" in panel.answer, panel.answer


def go_through(bench: Bench, kind: Kind) -> None:
    """Plan and do one cycle: chamber, sheets, press, and the readings after it."""
    if bench.treatment.cycle == 1:
        soil = {"soil_leaves": 1} if not kind.cover else {"soil_cover_outside": 1}
        bench.save(build_cleaning_panel, **soil)
    bench.save(build_humidity_panel, source="potassium chloride", wanted="72", hours=20)
    if kind.format is not Format.SHEET:
        bench.save(build_buffering_panel, load_word="light")
    bench.save(build_pressing_panel, platen="35", load_word="light")
    bench.done_to("pressing")
    bench.clock += timedelta(hours=30)
    after = _readings(kind, growth=1.001, thicker=0.02 if kind.leaves > 1 else 0.0)
    assert "All that was read before treatment has been read again" in bench.read(after, stage="review")


def repeat(bench: Bench) -> None:
    """Review the first cycle: better, not yet good; agree to another, warmer one, which may yet reach it."""
    panel = bench.build(build_review_panel)
    grades = {e.key: 2 for e in panel._fields if e.key.startswith("defect_")}
    grades["defect_d2"] = 0
    consent = {} if panel.field("consent").widget.value else {"consent": True}
    bench.press(panel, **grades, **consent, rested="30", next_platen="45")
    assert bench.treatment.cycle == 2, panel.answer


def make_new(folder: Path) -> Treatment:
    """Start a treatment of which nothing is known but its title."""
    return Bench(folder, "item", "Larkspur Gazette").treatment


def make_both(folder: Path, name: str) -> dict[int, Path]:
    """Make a treatment twice: before its first cycle, and with the first done and a second agreed.

    Returns
    -------
    dict
        The cycle at hand to the folder of records that holds the treatment, under the name ``item``.
    """
    kind = ITEMS[name]
    bench = Bench(folder / "second", "item", kind.title)
    describe(bench, kind)
    examine(bench, kind)
    shutil.copytree(folder / "second", folder / "first")
    go_through(bench, kind)
    repeat(bench)
    return {1: folder / "first", 2: folder / "second"}
