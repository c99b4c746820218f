"""Sections for the owner: disclosure of treatment, and how to keep the item."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime

from bench.figures.said import say_change
from bench.treatment.comparison import EdgeChange
from bench.writeup.blocks import Block, Grid, Missing, Points, Section, Text
from bench.writeup.carried_out import size_changes
from bench.writeup.case import Case, say_day

_TAKES_OUT = re.compile(r"(take|taken|remov|pull).*(sheet|interlea)", re.IGNORECASE)
# Kinds of material that would stay in the item.
_ADDED = ("adhesive", "glue", "paste", "filler", "colour", "paint", "tissue", "mend", "staple", "tape")


def days_of(case: Case, *stages: str) -> list[str]:
    """Give the spans of days on which stages were carried out, one for each cycle."""
    spans = []
    done = [r for r in case.rows["steps"] if r["stage"] in stages and r["actual_start"] and _works(r)]
    for cycle in sorted({int(r["cycle"]) for r in done}):
        moments = [
            moment
            for row in done
            if int(row["cycle"]) == cycle
            for moment in (row["actual_start"], row["actual_end"])
            if isinstance(moment, datetime)
        ]
        first, last = say_day(min(moments)), say_day(max(moments))
        spans.append(first if first == last else f"{first} to {last}")
    return spans


def _works(row: dict[str, object]) -> bool:
    """Leave out follow-up checks, which come long after the work."""
    return not str(row["name"]).startswith(("follow-up", "wait for the follow-up"))


def write_disclosure(case: Case) -> Section:
    """Write the text that the owner hands on with the item."""
    damp, pressed, cleaned = (days_of(case, s) for s in ("humidity", "pressing", "cleaning"))
    title = case.treatment["title"]
    blocks: list[Block] = []
    if not (damp or pressed or cleaned):
        blocks.append(
            Text(f"According to this record {title} was neither cleaned nor humidified nor pressed.")
        )
        blocks.append(Text(KEEP_REPORT))
        return Section("disclosure", "Disclosure of treatment", tuple(blocks))
    blocks.append(Text(f"{title} was treated as follows."))
    blocks.append(Points(tuple(say_acts(case))))
    blocks += _size(case, pressed)
    if damp or pressed:
        blocks.append(Text(PERMANENT))
    blocks.append(Text(say_added(case)))
    blocks += say_taken_out(case)
    blocks.append(Text(KEEP_REPORT))
    return Section("disclosure", "Disclosure of treatment", tuple(blocks))


PERMANENT = (
    "Humidifying and pressing change size, thickness, tooth and gloss of paper for good. "
    "This cannot be undone."
)
KEEP_REPORT = (
    "This report goes with the item whenever it changes hands; the conservator keeps a second copy. It is "
    "no appraisal and says nothing about value, age or authenticity beyond what was seen and measured."
)


def say_acts(case: Case, *, only_done: bool = False) -> list[str]:
    """Say what was done to the item and when, and what is not recorded as done unless left out."""
    damp, pressed, cleaned = (days_of(case, s) for s in ("humidity", "pressing", "cleaning"))
    acts = []
    if cleaned:
        tools = list(dict.fromkeys(row["material"] for row in case.of("materials", stage="cleaning")))
        used = f" with {', '.join(tools)}" if tools else "; with what is not recorded"
        acts.append(f"Surface cleaned, dry, on {' and '.join(cleaned)}{used}.")
    elif not only_done:
        acts.append("No cleaning is recorded.")
    if damp:
        acts.append(f"Humidified in water vapour on {' and '.join(damp)}{_cycles(damp)}.")
    elif not only_done:
        acts.append("No humidifying is recorded.")
    sheets = [row for row in case.of("materials", stage="buffering") if row["kind"] == "interleaf"]
    if pressed:
        between = f", with sheets of {sheets[0]['material']} between its leaves" if sheets else ""
        acts.append(f"Pressed flat on {' and '.join(pressed)}{_cycles(pressed)}{between}.")
    elif not only_done:
        acts.append("No pressing is recorded.")
    return acts


def _cycles(spans: list[str]) -> str:
    return f", in {len(spans)} cycles" if len(spans) > 1 else ""


def _size(case: Case, pressed: list[str]) -> list[Block]:
    sizes = size_changes(case)
    if not sizes:
        if not pressed:
            return []
        return [Missing("By how much the size changed was not measured.")]
    return [Text(say_size_changes(case))]


def say_size_changes(case: Case) -> str:
    """Say by how much width and height changed, each by the most of its places."""
    sizes = size_changes(case)
    said = "; ".join(_say_edge(edge, sizes, case) for edge in dict.fromkeys(size.edge for size in sizes))
    return f"Change of size, above zero is growth: {said}."


def _say_edge(edge: str, sizes: Sequence[EdgeChange], case: Case) -> str:
    """Say the largest change of an edge among the places where it was read."""
    places = [size for size in sizes if size.edge == edge]
    most = max(places, key=lambda size: abs(float(size.relative.value.magnitude)))
    where = most.place if len(places) == 1 else f"{most.place}, the most of {len(places)} places"
    return f"{edge} {say_change(most.change, case.units)} ({say_change(most.relative, case.units)}; {where})"


def say_added(case: Case) -> str:
    """Say what may have stayed in the item, or that nothing was added."""
    kept = [
        f"{row['kind']} ({row['material']})"
        for row in case.rows["materials"]
        if any(word in str(row["kind"]).lower() for word in _ADDED) and row["stage"] != "cleaning"
    ]
    if kept:
        return f"Materials are recorded that may have stayed in the item: {', '.join(dict.fromkeys(kept))}."
    return (
        "The record shows nothing added: no colour, filler, adhesive, patch or new staple; and nothing "
        "trimmed."
    )


def say_taken_out(case: Case) -> list[Block]:
    """Say whether the sheets came out again, which the record must show."""
    if not any(row["actual_start"] for row in case.of("steps", stage="buffering")):
        return []
    done = [row for row in case.rows["steps"] if row["actual_start"] and _TAKES_OUT.search(row["name"])]
    if done:
        return [Text(f"The sheets laid between the leaves were taken out again ({done[-1]['name']}).")]
    return [Missing("That the sheets laid between the leaves were taken out again is not recorded.")]


def write_storage(case: Case) -> Section:
    """Recommend how to keep the item, with sources, and say where they disagree."""
    head = ("Advice", "Temperature", "Relative humidity", "Also", "Source")
    rows = (
        (
            "A national library, for comics",
            "cool, room temperature or below",
            "about 35 %",
            "dark, away from vents; sleeves stiff enough; boxes; buffered or neutral boards",
            "Library of Congress",
        ),
        (
            "A library association, for comics",
            "at most 68 °F (20 °C)",
            "30 to 40 %",
            "uncoated polyester, polyethylene or polypropylene, never PVC; no plastic where the humidity "
            "cannot be kept below 80 %; upright with a board",
            "American Library Association",
        ),
        (
            "A museum, for paper",
            "15 to 25 °C, at most 4 °C a day",
            "45 to 55 %, at most 5 % a day",
            "at most 50 lux and 75 µW/lm of ultraviolet",
            "Western Australian Museum",
        ),
        (
            "A standard for archives",
            "cooler keeps longer",
            "drier keeps longer, without sharp swings",
            "from the cold, warm up closed; at most 75 µW/lm",
            "ISO 11799",
        ),
        (
            "Advice to museums on staples",
            "–",
            "below 60 % staples may stay",
            "iron is kept below 35 % where it can be",
            "MUSEUM-L 2010",
        ),
    )
    blocks: list[Block] = [
        Grid(head, rows, caption="Where to keep it: what is published"),
        Text(
            "The sources disagree on humidity. Drier air keeps acid paper longer and the staples from rust; "
            "the museum range is kinder to glue and to paper that is handled. 35 to 50 %, steady, cool and "
            "dark, lies between them; above 60 % is too damp by all of them."
        ),
        Points(advise_storage(case)),
    ]
    return Section("storage", "Recommendations for storage", tuple(blocks))


def advise_storage(case: Case) -> tuple[str, ...]:
    """Give what to do with this item, beside the air it is kept in."""
    points = [
        "Let the item rest at room conditions before it goes into a sleeve: polyester lets no damp out.",
        "Boards: as large as the item, free of lignin, with an alkaline reserve of at least 2 % (from "
        "memory).",
    ]
    if case.treatment["cover_coated"] in ("yes", "unknown", None):
        points.append(
            "Coated cover: a smooth neutral layer next to it; alkaline boards may change some colours "
            "(from memory)."
        )
    points += [
        "Keep poor paper apart from good; take out acid card, tape and old plastic (CCI Notes 11/2).",
        "Look after one week and after one month for warp, odour and rust, and write down what is seen.",
    ]
    return tuple(points)
