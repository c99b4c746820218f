"""What the plans answer, kept before a change and compared after it.

Run it from the folder of the project::

    python -m tests.benchmarks.bench_answers --keep before.json
    python -m tests.benchmarks.bench_answers --against before.json

Two hundred drawn items of all formats, with choices drawn within their limits, are planned stage by stage;
six more are worked through the panels from description to report, two cycles long.  Every number, sentence,
step, row and line of the reports is kept, and beside them what a user can do: fields, commands, columns.  A
change that is meant to change no answer changes none of them.
"""

from __future__ import annotations

import argparse
import difflib
import hashlib
import json
import random
import re
import tempfile
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from bench.__main__ import build_parser
from bench.desk import Treatment, open_treatment
from bench.errors import BenchError
from bench.item import Answer, Format, Item, Staple, Thicknesses
from bench.panels.writeup import build_writeup_panel
from bench.physics.contact import LOAD_WORDS
from bench.physics.ranges import Range
from bench.records.schema import TABLES
from bench.treatment.buffering import plan_buffering
from bench.treatment.buffering.choices import PACKS, BufferingChoices, LoadPath
from bench.treatment.buffering.load import weigh_spacings
from bench.treatment.cleaning.planning import CleaningChoices, plan_cleaning
from bench.treatment.cleaning.surfaces import SurfaceState, surfaces_of
from bench.treatment.humidity import HumidityChoices, Source, plan_humidity
from bench.treatment.plan import Plan
from bench.treatment.pressing import PressingChoices, plan_pressing
from bench.units import Q_, Quantity, UnitChoice
from bench.writeup.collect import collect_report
from bench.writeup.markdown import render_markdown
from bench.writeup.report import write_report
from tests.makers import annual, read_thou
from tests.notebooks import every_item
from tests.panels.test_every_panel import BUILDERS

COUNT = 200
_SAVE = re.compile(r"(?<=,)[0-9a-f]{8}(?=,)")  # the digest of what was saved together
UNITS = (UnitChoice("mm", "degC"), UnitChoice("thou", "degF"), UnitChoice("um", "degC"))
SALTS = ("potassium sulphate", "potassium chloride", "sodium chloride", "potassium nitrate")


def draw_item(chance: random.Random) -> tuple[Item, Thicknesses]:
    """Draw an item of any format with readings that fit it."""
    kind = chance.choice(list(Format))
    leaves = 1 if kind is Format.SHEET else 2 * chance.randrange(2, 75)
    block = max(4.0, leaves * chance.uniform(3.9, 5.2))
    names = [] if kind in (Format.SHEET, Format.GLUED) else ["upper", "lower", "middle"]
    names = names[: chance.randrange(1, 4)]
    side = 0.0 if kind is Format.SADDLE_STITCHED else chance.uniform(5, 9)
    staples = tuple(Staple(name, Q_(40.0 + 70 * k, "mm"), Q_(side, "mm")) for k, name in enumerate(names))
    item = annual(
        title="Drawn",
        format=kind,
        leaves=leaves,
        cover_leaves=0 if kind is Format.SHEET else 2,
        staples=staples,
        glue=chance.choice(["unknown", "PVAc", "EVA hot melt"]) if side or kind is Format.GLUED else "none",
        width=Q_(chance.uniform(120, 260), "mm"),
        height=Q_(chance.uniform(200, 380), "mm"),
        cover_coated=chance.choice(list(Answer)),
        text_paper=chance.choice(["newsprint", "uncoated writing", "coated text"]),
    )
    over = {name: read_thou(block + chance.uniform(-3, 9), f"{name} staple") for name in names}
    return item, Thicknesses(read_thou(block, "text block"), over)


def draw_humidity(chance: random.Random) -> HumidityChoices:
    """Draw a chamber."""
    source = chance.choice(list(Source))
    planned = Q_(float(chance.randrange(2, 49)), "hour")
    return HumidityChoices(
        source=source,
        salt=chance.choice(SALTS),
        given_humidity=Q_(chance.uniform(70, 97), "percent") if source is Source.GIVEN else None,
        air_temperature=Q_(chance.uniform(16, 26), "degC"),
        chamber_volume=Q_(chance.uniform(20, 200), "litre"),
        source_area=Q_(chance.uniform(200, 2500), "cm^2"),
        is_fanned=chance.random() < 0.3,
        faces=chance.choice(["both", "one"]),
        wanted_humidity=Q_(chance.uniform(60, 88), "percent"),
        planned=planned,
        late=Q_(chance.uniform(0, 6), "hour"),
        hygrometer_correction=Q_(chance.uniform(-3, 3), "percent"),
    )


def draw_buffering(chance: random.Random) -> BufferingChoices:
    """Draw sheets, load and boards."""
    words = chance.choice(list(LOAD_WORDS))
    path = LoadPath(pack=chance.choice(list(PACKS)), even=chance.random() < 0.4)
    return BufferingChoices(
        load=LOAD_WORDS[words], load_words=words, interval=chance.randrange(1, 17), path=path
    )


def draw_pressing(chance: random.Random, damp: Range, sheets: BufferingChoices) -> PressingChoices:
    """Draw a press for what comes out of the chamber."""
    assert sheets.load is not None
    return PressingChoices(
        load=sheets.load,
        load_words=sheets.load_words,
        item_humidity=damp,
        interval=chance.choice([None, sheets.interval]),
        boards=chance.randrange(0, 4),
        cards=chance.randrange(0, 3),
        plate=chance.choice(["aluminium", None]),
        release=chance.choice(["silicone release paper", None]),
        platen_temperature=chance.choice([None, Q_(chance.uniform(35, 70), "degC")]),
        heated=chance.choice(["one", "both"]),
        base=chance.choice(["open", "insulated"]),
        dwell=Q_(chance.uniform(2, 60), "min"),
        room_humidity=Q_(chance.uniform(35, 57), "percent"),
        night=(night := Q_(chance.uniform(8, 18), "hour")),
        late=Q_(20, "hour") - night,
        changes=chance.randrange(0, 5),
        spine_is_cold=chance.random() < 0.3,
    )


def plans_of(number: int) -> Iterator[tuple[str, Plan | str]]:
    """Plan chamber, sheets, press and cleaning of one drawn item; a refusal counts as its sentence."""
    chance = random.Random(1000 + number)
    units = UNITS[number % len(UNITS)]
    item, readings = draw_item(chance)
    damp = Range.of((75, 70, 80), "percent")
    sheets = draw_buffering(chance)
    try:
        chamber = plan_humidity(item, readings, draw_humidity(chance), units=units)
        yield "humidity", chamber
        damp = chamber.item_humidity
    except BenchError as error:
        yield "humidity", str(error)
    try:
        rng = np.random.default_rng(number)
        loads = weigh_spacings(item, readings, sheets, rng=rng, samples=100, intervals=[sheets.interval])
        yield "buffering", plan_buffering(item, readings, sheets, loads=loads, units=units)
    except BenchError as error:
        yield "buffering", str(error)
    try:
        yield "pressing", plan_pressing(item, readings, draw_pressing(chance, damp, sheets), units=units)
    except BenchError as error:
        yield "pressing", str(error)
    states = tuple(
        SurfaceState(surface, soil=chance.randrange(0, 4), share=chance.random(), unprinted=chance.random())
        for surface in surfaces_of(item)
    )
    yield "cleaning", plan_cleaning(item, CleaningChoices(states))


def write_plan(plan: Plan | str) -> Any:
    """Write all that a plan says as plain data, numbers to the last digit."""
    if isinstance(plan, str):
        return plan
    return {
        "verdict": plan.verdict.value,
        "answer": plan.answer,
        "because": plan.because,
        "values": {
            value.key: [repr(float(q.to(value.unit).magnitude)) for q in (value.value, *value.ends)]
            + [value.label, value.limit_source, value.source, str(value.limit)]
            for value in plan.values
        },
        "cautions": [[c.verdict.value, c.words, c.source] for c in plan.cautions],
        "steps": [
            [s.name, _last(s.duration), s.hands, _last(s.at_most), s.if_present, s.note] for s in plan.steps
        ],
        "assumptions": [[a.name, a.words, a.source] for a in plan.assumptions],
    }


def _last(time: Quantity | None) -> str:
    return "" if time is None else f"{float(time.to('min').magnitude):.9g} min"


def worked_through() -> Iterator[tuple[str, Any]]:
    """Work items through the panels, and give their tables and both reports."""
    for name in every_item.ITEMS:
        with tempfile.TemporaryDirectory() as folder, every_item.without_pictures():
            for cycle, records in every_item.make_both(Path(folder), name).items():
                bench = every_item.Bench.__new__(every_item.Bench)
                bench.folder, bench.clock = records / "item", every_item.BEGIN
                record = bench.treatment.record
                at = every_item.BEGIN
                for table in sorted(record.folder.glob("*.csv")):
                    if table.name != "saves.csv":
                        rows = _SAVE.sub("save", table.read_text("utf-8"))
                        yield f"{name}, cycle {cycle}, {table.name}", rows.splitlines()
                report = render_markdown(collect_report(record, at=at, by=every_item.WHO))
                yield f"{name}, cycle {cycle}, report", report.splitlines()


def capabilities() -> Iterator[tuple[str, list[str]]]:
    """Give the fields of every panel, the options of every command, and the columns of every table."""
    treatment = Treatment(open_treatment("tin-orchard-annual-2").record, clock=lambda: every_item.BEGIN)
    builders: dict[str, Any] = {
        **BUILDERS,
        "write-up": partial(build_writeup_panel, collect=collect_report, write=write_report),
    }
    for name, stub in builders.items():  # what stands in for a calculation there is left out
        told = {key: value for key, value in getattr(stub, "keywords", {}).items() if key != "plan"}
        fields = getattr(stub, "func", stub)(treatment, **told)._fields
        yield f"panel {name}", [f"{f.key}: {f.label} ({type(f).__name__})" for f in fields]
    for action in build_parser()._actions:
        for name, parser in (action.choices or {}).items() if isinstance(action.choices, dict) else ():
            yield f"command {name}", parser.format_help().splitlines()
    for table in TABLES.values():
        yield f"table {table.name}", [column.name for column in table.columns]


def gather() -> dict[str, Any]:
    """Gather every answer by a name of its own."""
    found: dict[str, Any] = {}
    for number in range(COUNT):
        for stage, plan in plans_of(number):
            found[f"drawn {number}, {stage}"] = write_plan(plan)
        print(f"\r{number + 1} of {COUNT} drawn items", end="", flush=True)
    print()
    found.update(worked_through())
    found.update(capabilities())
    return found


def compare(before: dict[str, Any], after: dict[str, Any]) -> list[str]:
    """Name every answer that differs, with its first lines that do."""
    told = []
    for name in sorted(before.keys() | after.keys()):
        old, new = (_lines(found.get(name)) for found in (before, after))
        if old != new:
            lines = [line for line in difflib.ndiff(old, new) if line[:2] in ("- ", "+ ")]
            told.append("\n  ".join([name, *lines[:12]]))
    return told


def _lines(answer: Any) -> list[str]:
    return json.dumps(answer, indent=1, ensure_ascii=False).splitlines()


def main() -> None:
    """Keep the answers, or hold them against those that were kept."""
    parser = argparse.ArgumentParser(description="What the plans answer, before a change and after it.")
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--against", type=Path)
    asked = parser.parse_args()
    found = json.loads(json.dumps(gather()))
    digest = hashlib.sha256(json.dumps(found, sort_keys=True).encode()).hexdigest()[:16]
    print(f"{len(found)} answers, digest {digest}")
    if asked.keep:
        asked.keep.write_text(json.dumps(found, ensure_ascii=False), encoding="utf-8")
    if asked.against:
        told = compare(json.loads(asked.against.read_text(encoding="utf-8")), found)
        print("\n".join(told) or "All agree to the last digit.")
        print(f"{len(told)} of {len(found)} differ")


if __name__ == "__main__":
    main()
