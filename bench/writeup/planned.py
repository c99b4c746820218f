"""The appendix of plans: every planned number once, its cycles side by side, and what was taken as given."""

from __future__ import annotations

from collections.abc import Sequence

from bench.errors import BadValue
from bench.records.nouns import entries_in
from bench.records.schema import STAGES
from bench.sources import say_sources
from bench.treatment.chosen import say_entry
from bench.treatment.facts import SHEETS, SPACING
from bench.treatment.interleaves import place_interleaves
from bench.treatment.plan import Caution, Verdict
from bench.treatment.recorded import build_planned_values
from bench.units import join_words, upper_first
from bench.writeup.blocks import Block, Facts, Grid, Heading, Section, Text, listing
from bench.writeup.case import Case, Row, say_number
from bench.writeup.words import say_cycles, say_stage

RULE = "assumed: rule: "
_ASSUMED = "assumed: "
_RULE_HEAD = ("Rule", "Finding", "Says", "Source of the rule")
_RULES_SAY = "What the written rules say (open: nothing against another cycle)"
Cycles = dict[int, list[Row]]


def write_plans(case: Case) -> Section:
    """Give every planned number with limits and sources, and what the plans took as given."""
    stages: dict[str, Cycles] = {}
    for (stage, cycle), rows in case.plans.items():
        stages.setdefault(stage, {})[cycle] = rows
    blocks: list[Block] = []
    for stage in sorted(stages, key=STAGES.index):
        blocks.append(Heading(upper_first(say_stage(stage))))
        blocks += _stage(stage, stages[stage], case)
    return listing("plan", "Plans in numbers", *blocks)


def _stage(stage: str, cycles: Cycles, case: Case) -> list[Block]:
    blocks: list[Block] = []
    for cycle, rows in cycles.items():
        because = next((row["words"] for row in rows if row["quantity"] == "because" and row["words"]), "")
        if because:
            blocks.append(Text(f"{upper_first(say_cycles([cycle])) or 'Why'}: {because}"))
    blocks += _values(cycles, case)
    for cycle, rows in cycles.items():
        if stage == "buffering":
            blocks += _places(cycle, rows, case)
        rules = [row for row in rows if str(row["quantity"]).startswith(RULE)]
        if rules:
            caption = f"{_RULES_SAY}, {say_cycles([cycle])}" if cycle else _RULES_SAY
            blocks.append(Grid(_RULE_HEAD, tuple(map(_rule_cells, rules)), caption=caption))
    return [*blocks, *_entered(stage, cycles, case), *_assumed(cycles)]


def _values(cycles: Cycles, case: Case) -> list[Block]:
    """Set every planned number in one row with its limit and sources, a column for each cycle."""
    found: dict[tuple[str, ...], dict[int, str]] = {}
    for cycle, rows in cycles.items():
        for row in rows:
            if row["value"] is not None:
                found.setdefault(_row_key(row, case), {})[cycle] = say_number(row, case.units)
    if not found:
        return []
    columns = tuple(upper_first(say_cycles([cycle])) if len(cycles) > 1 else "Value" for cycle in cycles)
    head = ("Planned", *columns, "Limit", "Sources")
    cells = [
        (name, *(values.get(cycle, "–") for cycle in cycles), limit, sources)
        for (name, limit, sources), values in found.items()
    ]
    return [Grid(head, _merge_places(cells), frozenset(range(1, len(columns) + 2)))]


def _merge_places(cells: Sequence[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """Put numbers of one kind that are alike at several places into one row."""
    found: dict[tuple[str, ...], list[str]] = {}
    for name, *values in cells:
        kind, _, place = name.partition(", ")
        found.setdefault((kind, *values) if place else (name, *values), []).append(place)
    return tuple(
        (f"{name}, {join_words(places)}" if any(places) else name, *values)
        for (name, *values), places in found.items()
    )


def _row_key(row: Row, case: Case) -> tuple[str, str, str]:
    limit = say_number(row, case.units, "limit")
    parts = [say_sources(row["source"])] if row["source"] else []
    parts += [f"limit: {say_sources(row['limit_source'])}"] if row["limit_source"] else []
    return row["quantity"], limit, "; ".join(parts) or "–"


def _rule_cells(row: Row) -> tuple[str, ...]:
    finding, says = str(row["words"]), row["key"]
    if not says:  # before version 3 the finding ended with it
        finding, _, says = finding.rpartition(" Says: ")
    return row["quantity"].removeprefix(RULE), finding, says.rstrip("."), say_sources(row["source"] or "–")


def _places(cycle: int, rows: Sequence[Row], case: Case) -> list[Block]:
    """Say where the sheets were to go, leaf by leaf."""
    known = {value.key: round(float(value.value.magnitude)) for value in build_planned_values(rows)}
    interval = known.get(SPACING.key)
    if interval is None or case.item is None:
        return []
    try:
        places = place_interleaves(case.item, interval, known.get(SHEETS.key))
    except BadValue:  # the item was described anew since
        return []
    return [
        Text(f"Places of the sheets, {say_cycles([cycle])}: {'; '.join(place.words for place in places)}.")
    ]


def _entered(stage: str, cycles: Cycles, case: Case) -> list[Block]:
    """Say what was chosen otherwise than proposed, cycle by cycle."""
    return [
        Facts(
            tuple((entry.label, say_entry(stage, entry, case.units)) for entry in entries),
            f"Chosen otherwise than proposed, {say_cycles([cycle])}",
        )
        for cycle, rows in cycles.items()
        if (entries := entries_in(rows))
    ]


def _assumed(cycles: Cycles) -> list[Block]:
    """Say what the plans of a stage took as given; what two cycles share is said once."""
    found: dict[tuple[str, str], list[int]] = {}
    for cycle, rows in cycles.items():
        for row in rows:
            name = str(row["quantity"])
            if name.startswith(_ASSUMED) and not name.startswith(RULE):
                words = f"{row['words']} [{say_sources(row['source'] or 'no source')}]"
                found.setdefault((name.removeprefix(_ASSUMED), words), []).append(cycle)
    if not found:
        return []
    pairs = tuple(
        (name if len(known) == len(cycles) else f"{name}, {say_cycles(known)}", words)
        for (name, words), known in found.items()
    )
    return [Facts(pairs, "Taken as given")]


def _verdict(words: str | None) -> Verdict | None:
    return Verdict(words) if words in [v.value for v in Verdict] else None


def cautions_of(rows: Sequence[Row]) -> tuple[Caution, ...]:
    """Build the cautions of a plan from its rows."""
    found = []
    for row in rows:
        if not str(row["quantity"]).startswith("caution ") or not row["words"]:
            continue
        verdict, words = _verdict(row["key"]), row["words"]
        if verdict is None:  # before version 3 the words began with it
            word, _, rest = words.partition(": ")
            verdict = _verdict(word)
            words = rest if verdict else words
        found.append(Caution(verdict or Verdict.CARE, words, row["source"] or ""))
    return tuple(found)
