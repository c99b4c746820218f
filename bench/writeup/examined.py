"""Sections on what the thing is and in which state it came: identification, examination, tests."""

from __future__ import annotations

from bench.errors import BenchError, RecordError
from bench.figures.photographs import REPORT_PX, look_at
from bench.figures.said import say_measured
from bench.records.photographs import by_view, read_file
from bench.treatment.comparison import SEVERITIES
from bench.writeup.blocks import Block, Facts, Grid, Heading, Missing, Photographs, Section, Text
from bench.writeup.case import (
    Case,
    Row,
    say_day,
    say_length,
    say_number,
    say_text,
)

_QUANTITIES = ("thickness", "width", "height", "mass")


def write_identification(case: Case) -> Section:
    """Say what the thing is, whose it is, and what it is made of."""
    row = case.treatment
    count = f"{row['count']} {row['counted_as']}" if row["count"] else None
    if case.item is not None and row["counted_as"] == "pages":
        count = f"{count}, so {case.item.leaves} leaves"
    cover = {0: "none", 2: "front and back leaf"}.get(
        row["cover_leaves"] if row["cover_leaves"] is not None else -1
    )
    mass = next(iter(case.read("mass", stage="intake", cycle=0).values()), None)
    facts = (
        ("Title", say_text(row["title"])),
        ("Treatment", say_text(row["treatment_id"])),
        ("Owner", say_text(row["owner"])),
        ("Conservator", say_text(row["conservator"])),
        ("Binding", say_text(row["format"])),
        ("Size, spine to fore edge", say_length(row["width_mm"], case.units)),
        ("Size, head to tail", say_length(row["height_mm"], case.units)),
        ("Text block, without cover", say_text(count)),
        ("Cover", say_text(cover)),
        ("Text paper", say_text(row["text_paper"])),
        ("Cover paper", say_text(row["cover_paper"])),
        ("Cover coated", say_text(row["cover_coated"])),
        ("Glue of the spine", say_text(row["glue"])),
        ("Mass at room humidity", say_measured(mass, case.units) if mass else say_text(None)),
    )
    blocks: list[Block] = [Facts(facts), *_staples(case)]
    if row["note"]:
        blocks.append(Text(row["note"]))
    blank = [name.lower() for name, value in facts if value == say_text(None)]
    if blank:
        blocks.append(Missing(f"Not recorded: {', '.join(blank)}."))
    return Section("identification", "Identification", tuple(blocks))


def _staples(case: Case) -> list[Block]:
    rows = sorted(case.rows["staples"], key=lambda r: float(r["from_head_mm"]))
    if not rows:
        return [Text("No staples are recorded.")]
    cells = tuple(
        (
            row["staple"],
            say_length(row["from_head_mm"], case.units),
            say_length(row["from_spine_mm"], case.units),
            row["prong"],
            f"{row['rust']} {SEVERITIES[int(row['rust'])]}",
        )
        for row in rows
    )
    head = ("Staple", "From the head", "From the spine edge", "Prongs", "Rust")
    return [Grid(head, cells, frozenset({1, 2}), "Staples")]


def write_examination(case: Case) -> Section:
    """Give the readings before treatment, the condition as it was seen, and the photographs."""
    blocks: list[Block] = [Heading("Readings before treatment"), *_readings(case)]
    blocks += [Heading("Condition by observation"), *_condition(case)]
    blocks += [Heading("Photographs"), *_photographs(case)]
    return Section("examination", "Examination", tuple(blocks))


def _readings(case: Case) -> list[Block]:
    rows = case.of("readings", stage="intake")
    if not rows:
        return [Missing("No reading before treatment is recorded.")]
    cells: list[tuple[str, ...]] = []
    for quantity in _QUANTITIES:
        for cycle in sorted({int(r["cycle"]) for r in rows}):
            for place, value in case.read(quantity, stage="intake", cycle=cycle).items():
                cells.append((quantity, place, say_measured(value, case.units), value.source))
    others = [r for r in rows if r["quantity"] not in _QUANTITIES]
    cells += [
        (r["quantity"], r["place"], say_number(r, case.units), say_text(r["instrument"])) for r in others
    ]
    head = ("Quantity", "Place", "Value", "Read with, readings")
    words = "A value is given with its expanded uncertainty, at a level of confidence of about 95 %."
    left = [q for q in _QUANTITIES if q not in {r["quantity"] for r in rows}]
    blocks: list[Block] = [Grid(head, tuple(cells), frozenset({2})), Text(words)]
    if left:
        blocks.append(Missing(f"Not read before treatment: {', '.join(left)}."))
    return blocks


def _condition(case: Case) -> list[Block]:
    rows = case.of("defects", moment="before")
    if not rows:
        return [Missing("No defects before treatment are listed.")]
    head = ("Defect", "Where", "Place and size", "Grade", "State", "Could be helped by", "Agreed to treat")
    cells = tuple(_defect_cells(row, case) for row in rows)
    grades = ", ".join(f"{grade} {word}" for grade, word in enumerate(SEVERITIES))
    words = (
        f"As seen, without interpretation. Grades: {grades}. Places are from the head-left corner of the "
        "face, to the right and down."
    )
    notes = tuple(f"{row['defect']}: {row['note']}" for row in rows if row["note"])
    limiting = [row["defect"] for row in rows if row["limits_outcome"] == "yes"]
    said = (
        f"What limits the outcome: {', '.join(limiting)}."
        if limiting
        else "No defect was held to limit the outcome."
    )
    return [Grid(head, cells), Text(words), Text(said), *(Text(note) for note in notes)]


def _defect_cells(row: Row, case: Case) -> tuple[str, ...]:
    leaf = f", leaf {row['leaf']}" if row["leaf"] else ""
    return (
        f"{row['defect']} {row['term']}",
        f"{row['face']}{leaf}",
        say_place(row, case),
        f"{row['severity']} {SEVERITIES[int(row['severity'])]}",
        row["state"],
        row["helped_by"],
        row["in_scope"],
    )


def say_place(row: Row, case: Case) -> str:
    """Write place and size of a defect."""
    parts = []
    if row["x_mm"] is not None and row["y_mm"] is not None:
        parts.append(f"at {say_length(row['x_mm'], case.units)}, {say_length(row['y_mm'], case.units)}")
    if row["width_mm"] is not None and row["height_mm"] is not None:
        across, along = (say_length(row[name], case.units) for name in ("width_mm", "height_mm"))
        parts.append(f"{across} × {along}")
    return "; ".join(parts) or say_text(None)


def _photographs(case: Case) -> list[Block]:
    rows = case.rows["photographs"]
    if not rows:
        return [Missing("No photographs are recorded.")]
    head = ("Stage", "View", "Light", "Scale", "File", "Checksum, first 12", "Taken")
    cells = tuple(
        (
            row["stage"],
            row["view"],
            say_text(row["light"]),
            say_text(row["scale"]),
            row["file"],
            row["sha256"][:12],
            say_day(row["taken_at"]) if row["taken_at"] else say_text(None),
        )
        for row in rows
    )
    return [
        *(Photographs(tuple(show_photograph(case, row) for row in view)) for view in by_view(rows)),
        Grid(head, cells),
    ]


def show_photograph(case: Case, row: Row) -> tuple[str, str, str]:
    """Give small copy, caption and file; a file that cannot be shown says so in its caption."""
    light = f", light: {row['light']}" if row["light"] else ""
    moment = {"intake": "before treatment", "review": "after treatment"}.get(row["stage"], row["stage"])
    caption, file = f"{row['view']}, {moment}{light}", str(row["file"])
    try:
        source = look_at(read_file(case.record, file), longest=REPORT_PX, name=file).source
    except (BenchError, RecordError) as error:
        return "", f"{caption}: {error}", file
    return source, caption, file


def write_tests(case: Case) -> Section:
    """List the spot tests and what they forbid."""
    rows = case.rows["tests"]
    if not rows:
        return Section("tests", "Tests", (Missing("No test is recorded."),))
    head = ("Test", "Where", "How", "Result", "Seen", "Forbids")
    cells = tuple(
        (
            row["test"],
            say_text(row["place"]),
            say_text(row["method"]),
            row["result"],
            row["note"] or "–",
            row["forbids"] or "nothing",
        )
        for row in rows
    )
    days = dict.fromkeys(say_day(row["taken_at"]) for row in sorted(rows, key=lambda r: r["taken_at"]))
    return Section("tests", "Tests", (Grid(head, cells, caption=f"Tested on {', '.join(days)}"),))
