"""Sections on what was proposed, decided and agreed."""

from __future__ import annotations

from collections.abc import Sequence

from bench.treatment.recorded import count_consented
from bench.writeup.blocks import Block, Bullets, Facts, Grid, Heading, Missing, Section, Text
from bench.writeup.case import Case, Row, say_moment, say_text, upper_first
from bench.writeup.planned import plan_groups
from bench.writeup.words import say_cycles, say_stage

_ENDS = ("treat", "hold", "refer")
_PROPOSED = ("cleaning", "humidity", "buffering", "pressing")


def sorted_decisions(case: Case) -> list[Row]:
    """Give the decisions in the order in which they were taken."""
    return sorted(case.rows["decisions"], key=lambda row: row["decided_at"])


def why_untreated(case: Case) -> str:
    """Say why an item was not treated, if intake ended in anything but a treatment; else empty."""
    taken = [r for r in sorted_decisions(case) if r["stage"] == "intake" and r["decision"] in _ENDS]
    if not taken or taken[-1]["decision"] == "treat" or case.acts:
        return ""
    return f"Nothing: the item was not treated, because intake ended in “{taken[-1]['decision']}”."


def write_agreement(case: Case) -> Section:
    """Say what intake decided, what was proposed for each stage, and to what the owner agreed."""
    rows = sorted_decisions(case)
    blocks: list[Block] = [Heading("Decided at intake"), *_decided(rows)]
    if not why_untreated(case):
        blocks += [Heading("Proposed"), *_proposed(case), *write_consent(case, rows)]
    blocks += _overrides(rows)
    return Section("agreement", "What was proposed and agreed", tuple(blocks))


def _decided(rows: Sequence[Row]) -> list[Block]:
    if not rows:
        return [Missing("No decision and no consent is recorded.")]
    told = [row for row in rows if row["stage"] == "intake" and is_decision(row)]
    if not told:
        return [Missing("No decision at intake is recorded.")]
    return [
        Text(f"{say_moment(row['decided_at'])}, {row['decided_by']}. {say_decision(row)}") for row in told
    ]


def is_decision(row: Row) -> bool:
    """Tell what was decided about the treatment from consent, authority and gates."""
    return not row["gate"] and not str(row["decision"]).startswith(("consent", "authority", "no consent"))


def say_decision(row: Row) -> str:
    """Write a decision with its reason, once where the reason begins with the decision."""
    reason, decision = row["reason"], str(row["decision"])
    if not reason:
        return f"{upper_first(decision)}; why is not recorded."
    if reason.lower().startswith(decision.lower()):
        return str(reason)
    return f"{upper_first(decision)}: {reason}"


def _proposed(case: Case) -> list[Block]:
    """Give the answer of every plan; of the review the decision is told where it was taken."""
    answers = []
    groups = plan_groups(case)
    for (stage, cycle), rows in groups.items():
        said = {row["quantity"]: row["words"] for row in rows if row["words"]}
        if stage in _PROPOSED and said.get("answer"):
            answers.append((upper_first(say_stage(stage, cycle)), said["answer"]))
    blocks: list[Block] = [Facts(tuple(answers))] if answers else []
    if not groups:
        return [Missing("No plan is recorded.")]
    left: dict[str, list[int]] = {}
    for act in case.acts:
        if (act.stage, act.cycle) not in groups:
            left.setdefault(act.stage, []).append(act.cycle)
    unplanned = [f"{say_stage(stage)}, {say_cycles(cycles)}" for stage, cycles in left.items()]
    if unplanned:
        blocks.append(Missing(f"No plan is recorded for: {'; '.join(unplanned)}."))
    return blocks


def write_consent(case: Case, rows: Sequence[Row]) -> list[Block]:
    """Say how many cycles the owner agreed to, and how, under a heading of its own."""
    approved = count_consented(rows)
    if not approved:
        return [Heading("Consent"), Missing("No written consent of the owner is recorded.")]
    cycles = f"{approved} cycle" + ("s" if approved > 1 else "")
    given = [row for row in rows if str(row["decision"]).startswith("consent")]
    blocks: list[Block] = [Heading("Consent"), Text(f"The owner approved {cycles} in writing.")]
    blocks.append(Bullets(tuple(map(_say_consent, given))))
    done = max((act.cycle for act in case.acts), default=0)
    if done > approved:
        blocks.append(Missing(f"{done} cycles were begun, but consent is recorded for {approved} only."))
    return blocks


_CONSENT = (("agreed_on", "agreed on"), ("document", "document:"))


def _say_consent(row: Row) -> str:
    parts = [str(row[name]).rstrip(".") for name in ("reason", "evidence") if row[name]]
    if row["cycles"] is not None:
        parts += [f"covers {row['cycles']} cycles"] if row["cycles"] > 1 else []
        parts += [f"{words} {row[name]}" for name, words in _CONSENT if row[name]]
    how = "; ".join(parts)
    return f"{row['decided_by']}, {say_moment(row['decided_at'])}" + (f": {how}." if how else ".")


def _overrides(rows: Sequence[Row]) -> list[Block]:
    gates = [row for row in rows if row["gate"]]
    if not gates:
        return []
    said = tuple(
        f"“{row['gate']}” was set aside by {row['decided_by']}, {say_moment(row['decided_at'])}. "
        f"Written reason: {row['reason']}"
        for row in gates
    )
    return [Heading("Conditions of intake that were set aside"), Bullets(said)]


def write_decisions(case: Case) -> Section:
    """List every decision with its reason and what it rests on."""
    rows = sorted_decisions(case)
    if not rows:
        return Section("decisions", "Decisions in full", (Text("None."),))
    head = ("When", "Stage", "Decision", "Why", "Evidence", "Who")
    cells = tuple(
        (
            say_moment(row["decided_at"]),
            say_stage(row["stage"], row["cycle"]),
            f"{row['decision']}: {row['gate']}" if row["gate"] else row["decision"],
            say_text(row["reason"]),
            row["evidence"] or "–",
            row["decided_by"],
        )
        for row in rows
    )
    return Section("decisions", "Decisions in full", (Grid(head, cells),))
