"""Sections on what the thing is and in which state it came: identification, condition, tests, photographs."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby

from bench.figures.said import say_measured
from bench.treatment.review.comparison import SEVERITIES
from bench.uncertainty import Measured
from bench.units import join_words, upper_first
from bench.writeup.blocks import Block, Facts, Grid, Heading, Missing, Section, Text, listing
from bench.writeup.case import Case, Row, say_day, say_length, say_number, say_text
from bench.writeup.pictures import show, sort_photographs

_QUANTITIES = ("thickness", "width", "height", "mass")


def write_identification(case: Case) -> Section:
    """Say what the thing is, whose it is, and what it is made of."""
    row = case.treatment
    count = f"{row['count']} {row['counted_as']}" if row["count"] else None
    if case.item is not None and row["counted_as"] == "pages":
        count = f"{count}, so {case.item.leaves} leaves"
    leaves = row["cover_leaves"]
    cover = {0: "none", 2: "front and back leaf"}.get(leaves if leaves is not None else -1)
    facts = [
        ("Title", say_text(row["title"])),
        ("Treatment", say_text(row["treatment_id"])),
        ("Owner", say_text(row["owner"])),
        ("Conservator", say_text(row["conservator"])),
        ("Binding", say_text(row["format"])),
        ("Width, spine to fore edge", say_length(row["width_mm"], case.units)),
        ("Height, head to tail", say_length(row["height_mm"], case.units)),
        ("Text block, without cover", say_text(count)),
        ("Cover", say_text(cover)),
        ("Text paper", say_text(row["text_paper"])),
    ]
    if leaves != 0:
        facts += [
            ("Cover paper", say_text(row["cover_paper"])),
            ("Cover coated", say_text(row["cover_coated"])),
        ]
    facts += [
        ("Glue of the spine", say_text(row["glue"])),
        ("Mass at room humidity", _say_mass(case)),
        ("Staples", "; ".join(_say_staple(staple, case) for staple in _staples(case)) or "none recorded"),
    ]
    blocks: list[Block] = [Facts(tuple(facts))]
    if row["note"]:
        blocks.append(Text(row["note"]))
    blank = [name.lower() for name, value in facts if value == say_text(None)]
    if blank:
        blocks.append(Missing(f"Not recorded: {', '.join(blank)}."))
    return Section("identification", "The item", tuple(blocks))


def _say_mass(case: Case) -> str:
    """Give the mass as read at intake."""
    read = list(case.read("mass", stage="intake", cycle=0).values())
    return say_measured(read[0], case.units) if read else say_text(None)


def _staples(case: Case) -> list[Row]:
    return sorted(case.rows["staples"], key=lambda r: float(r["from_head_mm"]))


def _say_staple(row: Row, case: Case) -> str:
    head, spine = (say_length(row[name], case.units) for name in ("from_head_mm", "from_spine_mm"))
    rust = f"rust {SEVERITIES[int(row['rust'])]}" if row["rust"] else "no rust"
    return f"{row['staple']}, {head} from the head and {spine} from the spine, prongs {row['prong']}, {rust}"


def write_examination(case: Case) -> Section:
    """Give the condition as it was seen, the photographs, the readings and the tests, before treatment."""
    blocks: list[Block] = [Heading("Seen"), *_condition(case)]
    blocks += [Heading("Photographs"), *_photographs(case)]
    blocks += [Heading("Measured"), *_readings(case)]
    blocks += [Heading("Tested"), *_tested(case)]
    return Section("examination", "Condition before treatment", tuple(blocks))


def _condition(case: Case) -> list[Block]:
    rows = case.of("defects", moment="before")
    if not rows:
        return [Missing("No defects before treatment are listed.")]
    head = ("No.", "Defect", "Where", "Place and size", "Grade", "May be helped by", "To be treated")
    cells = tuple(_defect_cells(row, case) for row in rows)
    words = (
        "As seen, without interpretation. Grades: none, just visible, plain, loss. Places are measured from "
        "the left edge and the head of the face."
    )
    active = [str(row["term"]) for row in rows if row["state"] == "active"]
    limiting = [str(row["term"]) for row in rows if row["limits_outcome"] == "yes"]
    said = [f"Still going on: {join_words(active)}."] if active else []
    said += [f"What limits the outcome: {join_words(limiting)}."] if limiting else []
    notes = [f"{row['term']}: {row['note']}." for row in rows if row["note"]]
    return [Grid(head, cells), Text(" ".join([words, *said])), *(Text(upper_first(note)) for note in notes)]


def _defect_cells(row: Row, case: Case) -> tuple[str, ...]:
    leaf = f", leaf {row['leaf']}" if row["leaf"] and row["face"] in ("recto", "verso") else ""
    helped: dict[str, str] = {
        "clean": "cleaning",
        "humidify and press": "damp and pressing",
        "none": "nothing here",
    }
    return (
        row["defect"],
        row["term"],
        f"{row['face']}{leaf}",
        say_place(row, case),
        SEVERITIES[int(row["severity"])],
        helped[row["helped_by"]],
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


def _readings(case: Case) -> list[Block]:
    rows = case.of("readings", stage="intake")
    if not rows:
        return [Missing("No reading before treatment is recorded.")]
    facts: list[tuple[str, str]] = []
    for quantity in _QUANTITIES:
        for cycle in sorted({int(r["cycle"]) for r in rows}):
            read = case.read(quantity, stage="intake", cycle=cycle)
            facts += [(quantity, _say_places(read, case))] if read else []
    facts += [
        (r["quantity"], f"{r['place']} {say_number(r, case.units)} ({say_text(r['instrument'])})")
        for r in rows
        if r["quantity"] not in _QUANTITIES
    ]
    words = "Uncertainties hold at a level of confidence of about 95 %; n is the number of readings."
    left = [q for q in _QUANTITIES if q not in {r["quantity"] for r in rows}]
    blocks: list[Block] = [
        Facts(tuple((upper_first(name), value) for name, value in facts)),
        Text(" ".join(filter(None, (words, case.say_checks("intake"))))),
    ]
    if left:
        blocks.append(Missing(f"Not read before treatment: {', '.join(left)}."))
    return blocks


def _say_places(read: Mapping[str, Measured], case: Case) -> str:
    """Write every place of one quantity; what they were read with stands once behind those that share it."""
    said = []
    for source, places in groupby(read.items(), key=lambda place: place[1].source):
        values = [f"{place} {say_measured(value, case.units)}" for place, value in places]
        said.append(f"{', '.join(values)} ({source})")
    return "; ".join(said)


def _photographs(case: Case) -> list[Block]:
    if not case.rows["photographs"]:
        return [Missing("No photographs are recorded.")]
    before = sort_photographs(case).before
    return [show(case, *before)] if before else [Missing("No photographs before treatment are recorded.")]


def _tested(case: Case) -> list[Block]:
    rows = sorted(case.rows["tests"], key=lambda row: row["taken_at"])
    if not rows:
        return [Missing("No test is recorded.")]
    days = join_words(list(dict.fromkeys(say_day(row["taken_at"]) for row in rows)))
    passed = [row["test"] for row in rows if row["result"] == "pass"]
    others = [row for row in rows if row["result"] != "pass"]
    said = f"Tested on {days}. Passed: {join_words(passed)}." if passed else f"Tested on {days}."
    return [Text(said), *(Text(_say_test(row)) for row in others)]


def _say_test(row: Row) -> str:
    """Write a test that was not passed: where, what was seen, what it forbids."""
    result = {"fail": "failed", "doubt": "gave no clear result", "not done": "was not done"}[row["result"]]
    where = f" ({row['place']})" if row["place"] else ""
    seen = f": {row['note']}" if row["note"] else ""
    return f"{upper_first(row['test'])}{where} {result}{seen}{_say_forbidden(row)}"


def _say_forbidden(row: Row) -> str:
    """Say what a result forbids; what it asks for instead is a sentence already."""
    forbids = (row["forbids"] or "").rstrip(". ")
    if not forbids:
        return "."
    return f". {forbids}." if forbids[0].isupper() else f"; it forbids {forbids}."


def write_tests(case: Case) -> Section:
    """List the spot tests and what they forbid."""
    head = ("Test", "Where", "How", "Result", "Seen")
    cells = tuple(
        (
            row["test"],
            say_text(row["place"]),
            say_text(row["method"]),
            row["result"],
            (row["note"] or "–") + _say_forbidden(row).removesuffix("."),
        )
        for row in case.rows["tests"]
    )
    return listing("tests", "Tests in full", Grid(head, cells))
