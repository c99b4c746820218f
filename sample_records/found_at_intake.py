"""What intake found on the three invented items, as rows of their records.

``make.py`` saves them; the rows come from the same functions that the panels use.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from bench.item import Item
from bench.treatment.intake import decide_intake
from bench.treatment.intake.consent import NO_CONSENT, PERMANENT_CHANGES, Consent
from bench.treatment.intake.defects import Defect, judge_defects
from bench.treatment.intake.rows import answer_rows, decision_rows, defect_row, test_rows, ticked_gates
from bench.treatment.intake.spot_tests import Result, TestResult
from bench.units import Q_

Rows = dict[str, list[dict[str, Any]]]

AGREED = Consent("E. Fenwright", True, PERMANENT_CHANGES)
# Every gate that is answered by looking, at its first answer: nothing found.
NOTHING_FOUND = {gate.id: gate.findings[0].key for gate in ticked_gates()}


def annual_at_intake(item: Item, *, by: str, at: datetime) -> Rows:
    """Find the annual sound, with a glue that softens; a written reason keeps warmth off the spine only."""
    tests = (
        TestResult("rub", Result.PASS, "title, front cover"),
        TestResult("damp", Result.PASS, "red, blue, yellow and black, inner margins"),
        TestResult("vapour", Result.PASS, "both covers, lower fore edge corner", "20 minutes, no change"),
        TestResult("flex", Result.PASS, "leaves 1 and 20"),
        TestResult("ultraviolet", Result.PASS),
    )
    defects = (
        _defect("d1", "cockled", "front cover, outside", (45, 60, 95, 130), severity=2),
        _defect("d2", "crease", "front cover, outside", (118, 12, 46, 4), severity=2),
        _defect("d3", "spine roll", "spine", (0, 0, 4.6, 258), severity=2),
        _defect("d4", "dirty", "back cover, outside", (12, 18, 140, 215), severity=2),
        _defect("d5", "ripple", "recto", (30, 25, 110, 200), leaf="1", severity=1),
        _defect("d6", "tear", "back cover, outside", (3, 240, 9, 14), severity=1, note="short, lies flat"),
        _defect("d7", "foxing", "verso", (60, 90, 40, 35), leaf="38", severity=1, in_scope=False),
    )
    reason = "The spine lies outside the platen, and a strip of card keeps the warmth off it"
    return _rows(item, NOTHING_FOUND, tests, defects, {"spine_glue": reason}, AGREED, by=by, at=at)


def issue_at_intake(item: Item, *, by: str, at: datetime) -> Rows:
    """Find the stapled issue with a coated cover that takes vapour, and smudgy ink inside."""
    tests = (
        TestResult("rub", Result.FAIL, "black of leaf 4", "grey on the swab"),
        TestResult("damp", Result.PASS, "each colour, inner margins"),
        TestResult("vapour", Result.PASS, "front cover, lower spine corner", "15 minutes, no change"),
        TestResult("flex", Result.PASS, "leaves 1 and 8"),
        TestResult("ultraviolet", Result.PASS),
    )
    defects = (
        _defect("d1", "curl", "front cover, outside", (120, 20, 45, 215), severity=2),
        _defect("d2", "crease", "front cover, outside", (8, 150, 60, 3), severity=1),
        _defect("d3", "dusty", "back cover, outside", (0, 0, 165, 255), severity=1),
        _defect("d4", "loss of gloss", "front cover, outside", (70, 90, 30, 30), severity=1, in_scope=False),
    )
    answers = {**NOTHING_FOUND, "ink": "rubs"}
    return _rows(item, answers, tests, defects, {}, AGREED, by=by, at=at)


def referred_at_intake(item: Item, *, by: str, at: datetime) -> Rows:
    """Find the one with old mould and a colour that bleeds; it is referred before consent is asked."""
    tests = (
        TestResult("rub", Result.DOUBT, "red of the title"),
        TestResult("damp", Result.FAIL, "red of the title, inner margin", "pink on the strip"),
        TestResult("mould", Result.PASS, "leaf 3, tail", "dry and powdery"),
        TestResult("flex", Result.DOUBT, "leaf 1"),
    )
    defects = (
        _defect("d1", "mould", "recto", (20, 190, 120, 60), leaf="3", severity=2),
        _defect("d2", "tideline", "recto", (0, 180, 160, 6), leaf="3", severity=3),
        _defect("d3", "stain", "back cover, outside", (30, 150, 90, 80), severity=2),
    )
    answers = {**NOTHING_FOUND, "past_mould": "yes", "brittle_leaves": "stiff", "ink": "bleeds"}
    return _rows(item, answers, tests, defects, {}, NO_CONSENT, by=by, at=at)


def _defect(name: str, term: str, face: str, box: tuple[float, float, float, float], **more: Any) -> Defect:
    x, y, width, height = (Q_(side, "mm") for side in box)
    return Defect(name, term, face, x, y, width, height, **more)


def _rows(
    item: Item,
    answers: dict[str, str],
    tests: Sequence[TestResult],
    defects: Sequence[Defect],
    overrides: dict[str, str],
    consent: Consent,
    *,
    by: str,
    at: datetime,
) -> Rows:
    plan = decide_intake(
        item, findings=answers, tests=tests, defects=defects, overrides=overrides, consent=consent
    )
    return {
        "tests": [*answer_rows(answers, at=at), *test_rows(tests, at=at)],
        "defects": [defect_row(judged) for judged in judge_defects(item, defects).judged],
        "decisions": decision_rows(plan, (), answers, by=by, at=at),
    }
