"""Sections that let a reader check the report: corrections, sources, signatures."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

from bench.records.schema import COMMON, TABLES
from bench.sources import all_sources
from bench.treatment.actual.followed import is_of_logger
from bench.writeup.blocks import (
    Block,
    Bullets,
    Cautions,
    Facts,
    Grid,
    Section,
    SignatureLines,
    Text,
)
from bench.writeup.case import Case, say_moment, with_none
from bench.writeup.words import say_column

# Tables that are saved again whenever a plan is worked out anew: counted, not listed.
_WORKED_OUT = ("plans", "steps")
# What a save changes besides the facts.
_OWN = frozenset(column.name for column in COMMON)
# Steps are laid out anew and renumbered as plans are saved; only a changed actual time is a correction.
_STEP_IS = ("stage", "cycle", "name")
# What one row of a table is called, and the columns that say which one it is.
_ONE_OF = {
    "treatment": "description",
    "staples": "staple",
    "readings": "reading",
    "tests": "test",
    "defects": "defect",
    "decisions": "decision",
    "steps": "step",
    "materials": "material",
    "photographs": "photograph",
    "loggers": "logger",
}
_ABOUT = {
    "staples": ("staple",),
    "readings": ("quantity", "place"),
    "tests": ("test", "place"),
    "defects": ("term", "face"),
    "decisions": ("decision",),
    "steps": ("name",),
    "log": ("quantity",),
    "materials": ("kind", "material"),
    "photographs": ("view",),
    "loggers": ("place", "file"),
}
_STEP_TIMES = frozenset({"actual_start", "actual_end"})


def write_corrections(case: Case) -> Section:
    """List every fact that a later row replaced: what it was, what it is, who changed it and when."""
    cells: list[tuple[str, ...]] = []
    replaced = 0
    for name in TABLES:
        rows = with_none(case.record.all_rows(name))
        if name in _WORKED_OUT:
            replaced += sum(row["replaces"] is not None for row in rows)
        if name != "plans":
            cells += _changes(name, rows)
    blocks: list[Block] = []
    if cells:
        head = ("What", "Was", "Is", "Why", "By", "When")
        blocks.append(Grid(head, tuple(cells)))
    else:
        blocks.append(Text("No recorded fact was corrected."))
    if replaced:
        words = "planned values and steps were replaced as plans were worked out again; the record keeps all."
        blocks.append(Text(f"{replaced} {words}"))
    return Section("corrections", "Corrections", tuple(blocks))


def _changes(name: str, rows: list[dict[str, Any]]) -> list[tuple[str, ...]]:
    by_number = {row["row"]: row for row in rows}
    found: list[tuple[str, ...]] = []
    for row in rows:
        old = by_number.get(row["replaces"])
        if old is None or (name == "steps" and any(old[key] != row[key] for key in _STEP_IS)):
            continue
        if name == "log" and is_of_logger(old):  # worked out anew: the logger's own row tells why
            continue
        for column, was in old.items():
            skipped = column in _OWN or (name == "steps" and column not in _STEP_TIMES)
            if skipped or was is None or row[column] == was:
                continue
            why = row.get("note") or "–"
            who, when = str(row["by"]), say_moment(row["saved_at"])
            found.append((_say_what(name, old, column), _say(was), _say(row[column]), why, who, when))
    return found


def _say_what(table: str, row: dict[str, Any], column: str) -> str:
    """Name what was corrected by what the row is about: ``reading, mass, whole item: value``."""
    is_about = [str(row[key]) for key in _ABOUT.get(table, ()) if row[key] is not None]
    return f"{', '.join([_ONE_OF.get(table, table), *is_about])}: {say_column(column)}"


def _say(value: object) -> str:
    if value is None:
        return "blank"
    if isinstance(value, datetime):
        return say_moment(value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def write_sources(sections: tuple[Section, ...]) -> Section:
    """Give the full reference of every source that the sections before name, with how well it was seen."""
    text = "\n".join(words for section in sections for block in section.blocks for words in _words(block))
    named = [s for s in all_sources() if _is_named(s.key, text) or _is_named(s.short, text)]
    if not named:
        return Section("sources", "Sources", (Text("No source is named."),))
    cells = tuple((s.short, s.reference, s.status) for s in named)
    return Section("sources", "Sources", (Grid(("Cited as", "Reference", "How it was read"), cells),))


def _is_named(words: str, text: str) -> bool:
    return re.search(rf"(?<![\w-]){re.escape(words)}(?![\w-])", text) is not None


def _words(block: Block) -> list[str]:
    """Give the places of a block where a source is named."""
    if isinstance(block, Grid):
        return [cell for row in block.rows for cell in row]
    if isinstance(block, Facts):
        return [value for _, value in block.pairs]
    if isinstance(block, Cautions):
        return [caution.source for caution in block.cautions]
    return list(block.items) if isinstance(block, Bullets) else []


def write_signatures(case: Case) -> Section:
    """Leave room to sign: two copies, one for the owner."""
    row = case.treatment
    lines = (
        f"Conservator: {row['conservator'] or ''}".strip(),
        f"Owner, received with this report: {row['owner'] or ''}".strip(),
    )
    blocks = (
        Text("Two copies: the owner keeps one with the item, the conservator keeps the other."),
        SignatureLines(lines),
    )
    return Section("signatures", "Signatures", blocks)
