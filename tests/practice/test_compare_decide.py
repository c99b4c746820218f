"""Before and after: the doubt of a difference after the GUM, the rules, each wrong way by its ticks."""

import math
from dataclasses import replace

import numpy as np
import pytest

from bench.physics.bearing.spots import Hope
from bench.practice.drawing import Drawn, draw_item
from bench.practice.markers import compare_decide
from bench.practice.markers.compare_decide import (
    AGAIN,
    CREASE,
    DENT,
    MARKER,
    REFER,
    SHORTER,
    STOP,
    THINNER,
    WIDER,
    Reviewed,
    decided,
    draw_reviewed,
    review,
    solve,
)
from bench.practice.marking import mark
from bench.practice.shapes import Judgement
from bench.uncertainty import Measured, from_expanded, guard_band
from bench.units import Q_


def read(length: float, expanded: float = 0.2) -> Measured:
    return from_expanded(Q_(length, "mm"), Q_(expanded, "mm"), cause="reading")


# Thickness differs by 0.03 mm, its doubt is 0.03 √2 = 0.042 mm; the width has grown by 0.6 mm of 170, 0.35 %,
# its doubt is 0.2 √2 = 0.28 mm; the height has shrunk by 0.5 mm.
REVIEWED = Reviewed(
    thick=(read(5.20, 0.03), read(5.17, 0.03)),
    width=(read(170.0), read(170.6)),
    height=(read(260.0), read(259.5)),
    hopes={CREASE: Hope.POSSIBLE, DENT: Hope.UNLIKELY},
    marks=(),
)


@pytest.fixture
def drawn() -> Drawn:
    return draw_item("stapled", 8)


def test_the_doubt_of_a_difference_is_the_root_of_the_squares():
    """GUM 5.1.2, two independent readings."""
    change = compare_decide._change(REVIEWED.width)
    assert float(change.expanded().to("mm").magnitude) == pytest.approx(math.hypot(0.2, 0.2), rel=1e-6)
    assert float(change.value.to("mm").magnitude) == pytest.approx(0.6)
    assert REVIEWED.real == {WIDER, SHORTER}


@pytest.mark.parametrize(
    ("difference", "is_real"), [(0.28, False), (0.29, True), (0.0, False), (-0.5, False)]
)
def test_a_change_is_real_beyond_its_doubt_and_in_its_own_direction(difference: float, is_real: bool):
    changed = replace(REVIEWED, width=(read(170.0), read(170.0 + difference)))
    assert (WIDER in changed.real) is is_real


def test_a_reading_that_keeps_the_limit_by_a_guard_band_is_past_it_once_in_twenty(drawn: Drawn):
    """JCGM 106, 8.3.2: a guard band of 1.645 standard uncertainties for 95 %."""
    standard = Q_(math.hypot(0.2, 0.2) / 1.96, "mm")
    band = float(guard_band(standard).to("mm").magnitude)
    assert band == pytest.approx(1.645 * math.hypot(0.2, 0.2) / 1.96, rel=1e-3)
    at_band = replace(REVIEWED, width=(read(170.0), read(170.0 + 0.85 - band)))  # 0.5 % of 170 mm is 0.85 mm
    size = review(drawn, at_band).sizes[0]
    assert size.relative.chance_above(Q_(0.5, "percent")) == pytest.approx(0.05, abs=0.001)


@pytest.mark.parametrize(
    ("changes", "decision"),
    [
        ({}, AGAIN),
        ({"hopes": {CREASE: Hope.UNLIKELY, DENT: Hope.UNLIKELY}}, STOP),
        ({"width": (read(170.0), read(171.0))}, STOP),  # 0.59 %
        ({"marks": ("set-off",)}, REFER),
    ],
)
def test_the_rules_decide_as_they_are_written(drawn: Drawn, changes: dict[str, object], decision: str):
    """Common practice, no source: the rules are the workbook's own, with limits as the review states."""
    assert decided(review(drawn, replace(REVIEWED, **changes))) == decision  # type: ignore[arg-type]


def test_each_wrong_way_is_known_by_its_ticks(drawn: Drawn, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(compare_decide, "draw_reviewed", lambda *_: REVIEWED)
    solution = solve(drawn, {})
    assert solution.right == {WIDER, SHORTER, CREASE, AGAIN}
    by_key = {
        "not-flat-yet": {WIDER, SHORTER, CREASE, DENT, AGAIN},
        "ignored-growth": {SHORTER, CREASE, AGAIN},
        "within-doubt": {THINNER, WIDER, SHORTER, CREASE, AGAIN},
    }
    for key, ticks in by_key.items():
        marked = mark(MARKER.question, solution, frozenset(ticks))
        assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, key)


def test_who_leaves_out_a_growth_past_the_limit_goes_on(drawn: Drawn, monkeypatch: pytest.MonkeyPatch):
    grown = replace(REVIEWED, width=(read(170.0), read(171.0)))
    monkeypatch.setattr(compare_decide, "draw_reviewed", lambda *_: grown)
    solution = solve(drawn, {})
    assert solution.right == {WIDER, SHORTER, CREASE, STOP}
    marked = mark(MARKER.question, solution, frozenset({SHORTER, CREASE, AGAIN}))
    assert marked.wrong is not None
    assert marked.wrong.key == "ignored-growth"


def test_a_wrong_decision_alone_is_not_near(drawn: Drawn, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(compare_decide, "draw_reviewed", lambda *_: REVIEWED)
    marked = mark(MARKER.question, solve(drawn, {}), frozenset({WIDER, SHORTER, CREASE, STOP}))
    assert marked.judged is Judgement.WRONG


def test_every_decision_is_drawn_and_a_growth_is_always_real():
    decisions = set()
    for seed in range(40):
        item = replace(draw_item("stapled", seed), rng=np.random.default_rng(seed))
        reviewed = draw_reviewed(item)
        decisions.add(decided(review(item, reviewed)))
        assert WIDER in reviewed.real
        assert len(reviewed.hopeful) < 2
    assert decisions == {AGAIN, STOP, REFER}
