"""Pages of gates, conditions and defects."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from bench.figures.faces import HELPS, SIGNS, say_box, say_face
from bench.figures.page import Page, bullet_page, table
from bench.figures.templates import PIECES
from bench.sources import say_sources
from bench.treatment.conditions import Condition, say_condition
from bench.treatment.intake.condition_terms import SEVERITIES
from bench.treatment.intake.consent import PermanentChange
from bench.treatment.intake.defects import Defect, DefectJudgement
from bench.treatment.intake.gates import Effect
from bench.treatment.intake.planning import GateResult, IntakePlan
from bench.treatment.intake.spot_tests import EXAMINATION
from bench.units import UnitChoice

# Class, sign and word of each.
_EFFECTS = {
    Effect.GO: ("go", "●", "open"),
    Effect.CONDITIONS: ("care", "▲", "conditions"),
    Effect.HOLD: ("halt", "■", "hold"),
    Effect.REFER: ("halt", "■", "refer"),
}


def defect_table(judgement: DefectJudgement, units: UnitChoice) -> str:
    """Write the defects with what could help each and whether work on it pays."""
    rows = [
        (
            f"{SIGNS[j.helped_by]} {j.defect.id} {j.defect.term}",
            say_face(j.defect.face, j.defect.leaf),
            say_box(j.defect, units),
            _say_grade(j.defect),
            HELPS[j.helped_by],
            j.words,
        )
        for j in judgement.judged
    ]
    head = ("defect", "face", "size", "severity", "could help", "judged")
    return table(head, rows, words=True)


def _say_grade(defect: Defect) -> str:
    state = "active" if defect.active else "stable"
    return f"{defect.severity} {SEVERITIES[defect.severity]}, {state}"


def gate_table(results: Iterable[GateResult], *, only_met: bool = False) -> str:
    """Write the gates with answer, evidence and what each does.

    Parameters
    ----------
    results : iterable of GateResult
        In the order of the gates.
    only_met : bool
        Write those that act as a table and name the open ones in a line beneath.

    Notes
    -----
    Gates that nobody has answered are named in one line, never in a row each; where only those that act are
    written, the answer of the plan has named them already.
    """
    rows: list[tuple[object, ...]] = []
    open_ones, waiting = [], []
    for result in results:
        if result.finding is None:
            waiting.append(result.gate.name)
            continue
        if only_met and not result.is_met:
            open_ones.append(result.gate.name)
            continue
        does = ("care", "▲", "overridden") if result.override else _EFFECTS[result.effect]
        why = f"{result.reason} Overridden: {result.override}" if result.override else result.reason
        rows.append(
            (result.gate.name, PIECES.effect(*does), f"{result.finding.words} ({result.evidence})", why)
        )
    return "".join(
        (
            table(("gate", "does", "answer", "why"), rows, words=True) if rows else "",
            PIECES.gates_named("go", "●", "nothing against it", open_ones),
            PIECES.gates_named("halt", "■", "not answered yet", () if only_met else waiting),
        )
    )


def gate_page(plan: IntakePlan) -> Page:
    """Show every gate as it was answered."""
    met = [r for r in plan.gates if r.is_met]
    said = [f"{r.gate.name}: {'overridden' if r.override else r.effect}" for r in met]
    words = "; ".join(said) or "every gate is open"
    return Page(gate_table(plan.gates), words)


def condition_list(conditions: Sequence[Condition]) -> str:
    """Write what later stages must heed."""
    if not conditions:
        return '<p class="hint">No conditions for the stages that follow.</p>'
    rows = [
        (say_condition(c), ", ".join(c.stages), c.gate.replace("_", " "), say_sources(c.source))
        for c in conditions
    ]
    return table(("condition", "heeded at", "set by", "source"), rows, words=True)


def condition_page(plan: IntakePlan) -> Page:
    """Show the conditions of a decision."""
    words = " ".join(say_condition(c) for c in plan.conditions) or "no conditions"
    return Page(condition_list(plan.conditions), words)


def examination_page() -> Page:
    """Show the order of the examination with its instruments."""
    rows = [
        (look.what, look.instruments, f"{look.minutes:.0f} min" if look.minutes else "–", look.note)
        for look in EXAMINATION
    ]
    head = ("step", "instruments", "about", "heed")
    return Page(table(head, rows, words=True), "; ".join(look.what for look in EXAMINATION))


def permanent_change_page(changes: Sequence[PermanentChange]) -> Page:
    """Show what changes for good, as it is explained to the owner."""
    told = [change.words for change in changes]
    return bullet_page([f"☐ {words}" for words in told], " ".join(told), kind="cautions")
