"""Sections on what was decided and what was planned."""

from __future__ import annotations

import re

from bench.errors import BadValue
from bench.records.schema import STAGES
from bench.sources import say_sources
from bench.treatment.interleaves import place_interleaves
from bench.treatment.plan import Caution, Verdict
from bench.treatment.recorded import count_consented
from bench.writeup.blocks import (
    Block,
    Cautions,
    Facts,
    Finding,
    Grid,
    Heading,
    Missing,
    Points,
    Section,
    Text,
)
from bench.writeup.case import Case, Row, say_moment, say_number, say_text

RULE = "assumed: rule: "
_RULE_HEAD = ("Rule", "Finding", "Says", "Source of the rule")
_RULES_SAY = "What the written rules say (open: nothing against another cycle)"


def write_decisions(case: Case) -> Section:
    """List every decision with its reason, the consent, and every gate that was overridden."""
    rows = sorted(case.rows["decisions"], key=lambda r: r["decided_at"])
    if not rows:
        words = "No decision and no consent is recorded."
        return Section("decisions", "Decision and consent", (Missing(words),))
    head = ("When", "Stage", "Decision", "Why", "On what evidence", "Who")
    cells = tuple(
        (
            say_moment(row["decided_at"]),
            say_stage(row["stage"], row["cycle"]),
            row["decision"],
            say_text(row["reason"]),
            say_text(row["evidence"]),
            row["decided_by"],
        )
        for row in rows
        if not row["gate"]
    )
    blocks: list[Block] = [Grid(head, cells)] if cells else []
    blocks += write_consent(case, rows)
    blocks += _overrides(rows)
    return Section("decisions", "Decision and consent", tuple(blocks))


def write_consent(case: Case, rows: list[Row]) -> list[Block]:
    """Say how many cycles the owner agreed to, under a heading of its own."""
    approved = count_consented(rows)
    done = max((int(r["cycle"]) for r in case.rows["steps"] if r["actual_start"]), default=0)
    if not approved:
        return [Heading("Consent"), Missing("No written consent of the owner is recorded.")]
    cycles = f"{approved} cycle" + ("s" if approved > 1 else "")
    blocks: list[Block] = [Heading("Consent"), Text(f"The owner approved {cycles} in writing.")]
    if done > approved:
        words = f"{done} cycles were begun, but consent is recorded for {approved} only."
        blocks.append(Missing(words))
    return blocks


def _overrides(rows: list[Row]) -> list[Block]:
    gates = [row for row in rows if row["gate"]]
    if not gates:
        return [Heading("Gates that were overridden"), Text("None.")]
    said = tuple(
        f"“{row['gate']}” was overridden by {row['decided_by']} on {say_moment(row['decided_at'])}. "
        f"Written reason: {row['reason']}"
        for row in gates
    )
    return [Heading("Gates that were overridden"), Points(said)]


def say_stage(stage: str, cycle: object) -> str:
    """Name a stage with its cycle."""
    number = int(str(cycle))
    return f"{stage}, cycle {number}" if number else stage


def plan_groups(case: Case) -> dict[tuple[str, int], list[Row]]:
    """Give the rows of every plan by stage and cycle, cycle by cycle in the order of the work."""
    groups: dict[tuple[str, int], list[Row]] = {}
    for row in case.rows["plans"]:
        if row["words"] == "no longer planned":
            continue
        groups.setdefault((row["stage"], int(row["cycle"])), []).append(row)
    return dict(sorted(groups.items(), key=lambda g: (g[0][1], STAGES.index(g[0][0]))))


def write_plans(case: Case) -> Section:
    """Give every plan: its answer, its values with limits and sources, what it took as given."""
    groups = plan_groups(case)
    if not groups:
        return Section("plan", "Plan", (Missing("No plan is recorded."),))
    blocks: list[Block] = []
    given: dict[tuple[str, str], str] = {}
    for (stage, cycle), rows in groups.items():
        blocks.append(Heading(say_stage(stage, cycle).capitalize()))
        blocks += _flagged(case, stage, cycle)
        blocks += _plan(rows, case)
        blocks += _assumed(rows, say_stage(stage, cycle), given)
    unplanned = [s for s in ("humidity", "buffering", "pressing") if (s, 1) not in groups]
    if unplanned:
        blocks.append(Missing(f"No plan is recorded for: {', '.join(unplanned)}."))
    return Section("plan", "Plan", tuple(blocks))


def _flagged(case: Case, stage: str, cycle: int) -> list[Block]:
    """Say with a plan that it is out of date, or that its sheets do not add up."""
    found = tuple(
        Caution(flag.verdict, str(flag)) for flag in case.flags if (flag.stage, flag.cycle) == (stage, cycle)
    )
    return [Cautions(found)] if found else []


def _plan(rows: list[Row], case: Case) -> list[Block]:
    said = {row["quantity"]: row["words"] for row in rows if row["words"]}
    blocks: list[Block] = []
    if said.get("answer"):
        # A review may stop because all is well: its tag says what it decided.
        word = re.split("[:.]", said["answer"])[0] if rows[0]["stage"] == "review" else ""
        verdict = _verdict(said.get("verdict"))
        blocks.append(Finding(verdict, said["answer"], said.get("because") or "", word))
    values = [row for row in rows if row["value"] is not None]
    if values:
        head = ("Planned", "Value", "Limit", "Source of the limit", "Source of the value")
        blocks.append(Grid(head, tuple(_value_cells(row, case) for row in values), frozenset({1, 2})))
    if rows[0]["stage"] == "buffering":
        blocks += _places(values, case)
    rules = [row for row in rows if str(row["quantity"]).startswith(RULE)]
    if rules:
        blocks.append(Grid(_RULE_HEAD, tuple(map(_rule_cells, rules)), caption=_RULES_SAY))
    # What does not forbid going on stands once, in the section of cautions.
    grave = tuple(c for c in cautions_of(rows) if c.verdict is Verdict.STOP)
    if grave:
        blocks.append(Cautions(grave))
    return blocks


def _rule_cells(row: Row) -> tuple[str, ...]:
    finding, _, says = str(row["words"]).rpartition(" Says: ")
    return row["quantity"].removeprefix(RULE), finding, says.rstrip("."), say_sources(row["source"] or "–")


def _places(values: list[Row], case: Case) -> list[Block]:
    """Say where the sheets were to go, leaf by leaf."""
    said = {row["quantity"]: row["value"] for row in values}
    interval, sheets = said.get("leaves between sheets"), said.get("sheets")
    if interval is None or case.item is None:
        return []
    try:
        places = place_interleaves(case.item, int(interval), None if sheets is None else int(sheets))
    except BadValue:  # the item was described anew since
        return []
    return [Text(f"Places of the sheets: {'; '.join(place.words for place in places)}.")]


def _assumed(rows: list[Row], stage: str, given: dict[tuple[str, str], str]) -> list[Block]:
    """Say what a plan took as given; what an earlier one said already is not said again."""
    new: list[tuple[str, str]] = []
    known: list[str] = []
    for row in rows:
        if not str(row["quantity"]).startswith("assumed: ") or row["quantity"].startswith(RULE):
            continue
        name = row["quantity"].removeprefix("assumed: ")
        words = f"{row['words']} [{say_sources(row['source'] or 'no source')}]"
        if (name, words) in given:
            known.append(given[name, words])
        else:
            given[name, words] = stage
            new.append((name, words))
    blocks: list[Block] = [Facts(tuple(new), "Taken as given")] if new else []
    if known:
        also = "also " if new else ""
        blocks.append(Text(f"Taken as given {also}as in {', '.join(dict.fromkeys(known))}."))
    return blocks


def _verdict(words: str | None) -> Verdict | None:
    return Verdict(words) if words in [v.value for v in Verdict] else None


def _value_cells(row: Row, case: Case) -> tuple[str, ...]:
    return (
        row["quantity"],
        say_number(row, case.units),
        say_number(row, case.units, "limit"),
        say_sources(row["limit_source"] or "–"),
        say_sources(row["source"] or "–"),
    )


def cautions_of(rows: list[Row]) -> tuple[Caution, ...]:
    """Build the cautions of a plan from its rows."""
    found = []
    for row in rows:
        if not str(row["quantity"]).startswith("caution ") or not row["words"]:
            continue
        word, _, rest = row["words"].partition(": ")
        verdict = _verdict(word)
        found.append(Caution(verdict or Verdict.CARE, rest if verdict else row["words"], row["source"] or ""))
    return tuple(found)
