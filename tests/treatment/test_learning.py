"""Learning from the bench: made findings give back what made them, and nothing is claimed beyond them."""

import math
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial

import numpy as np
import pytest

from bench.errors import BadValue
from bench.figures.bearing import fit_table
from bench.figures.learning import draw_found, lesson_page, show_found
from bench.figures.marks import Points
from bench.physics.bearing.knowns import Assumed
from bench.physics.ranges import Range
from bench.treatment.learning import (
    CONSTANTS,
    NothingFound,
    assumed_of,
    learn_from,
    say_learned,
    say_thinning,
)
from bench.treatment.plan import Verdict
from bench.uncertainty import from_expanded
from bench.units import Q_
from tests.physics.bearing import test_bearing_fit as bearing_fit
from tests.physics.bearing.test_bearing_fit import TRUE_RAMP, TRUE_THINNING, finding


@pytest.fixture(scope="module")
def lesson():
    return learn_from([finding("first", 5), finding("second", 4), finding("third", 3)])


def test_made_findings_give_back_the_constants_that_made_them(lesson):
    """Exact: the model run forwards with 4.5 % and 9 mm, which the fit does not know."""
    fitted = lesson.fit.assumed
    for found, true, unit in ((fitted.thinning, TRUE_THINNING, ""), (fitted.ramp, TRUE_RAMP * 1e3, "mm")):
        value, low, high = found.floats(unit, field="found")
        assert low < true < high
        assert abs(value - true) < 0.5 * (high - low)
    assert lesson.is_explained
    assert "3 cycles on this bench narrows thinning of the damp block" in lesson.answer


def test_an_interval_never_grows_narrower_than_one_reading_of_it_allows():
    """Hand: thinning is 1 - T2/T1, so u² = (u2² + (1 - s)² u1²)/T1², joined with what was believed before."""
    one = learn_from([finding(width=False)])
    read = one.findings[0]
    block = read.thicknesses.text_block
    first, last = (float((m.standard / block.value).to("").magnitude) for m in (block, read.thickness))
    own = math.hypot(last, (1 - TRUE_THINNING) * first)
    before = 0.06 / (2 * 1.96)  # 0 to 6 %
    _, low, high = one.fit.assumed.thinning.floats("", field="thinning")
    assert (high - low) / (2 * 1.96) == pytest.approx(1 / math.hypot(1 / own, 1 / before), rel=0.03)
    assert "ramp where the sheets end" in one.because
    assert any("No unpressed width was read" in caution.words for caution in one.cautions)


def test_the_interval_of_the_thinning_holds_the_truth_as_often_as_it_says():
    """Repeated findings with both readings scattered by their doubt: 95 % of the intervals hold it."""
    rng, held, rounds = np.random.default_rng(5), 0, 200
    made = finding(width=False)
    block = made.thicknesses.text_block
    first, last = (float(m.standard.to("mm").magnitude) for m in (block, made.thickness))
    for _ in range(rounds):
        read = replace(block, value=block.value + Q_(first * rng.standard_normal(), "mm"))
        found = replace(made.thickness, value=made.thickness.value + Q_(last * rng.standard_normal(), "mm"))
        scattered = replace(made, thicknesses=replace(made.thicknesses, text_block=read), thickness=found)
        value = learn_from([scattered]).fit.assumed.thinning
        _, low, high = value.floats("", field="thinning")
        held += low <= TRUE_THINNING <= high
    assert held / rounds > 0.91  # three standard deviations of 200 draws below 95 %


def test_what_the_model_cannot_explain_is_not_to_be_used():
    """A block that reads 10 % thicker after pressing than before: thinning cannot be below zero."""
    grown = finding(width=False)
    thick = from_expanded(1.1 * grown.thicknesses.text_block.value, Q_(20, "um"), cause="slip")
    told = learn_from([replace(grown, thickness=thick)])
    assert not told.is_explained
    assert told.verdict is Verdict.STOP
    assert "does not explain it" in told.answer


def test_without_findings_there_is_nothing_to_learn_and_the_reason_is_said():
    with pytest.raises(BadValue, match=r"findings is none \(x, cycle 1: no plan\).*Read the thickness"):
        learn_from([], ["x, cycle 1: no plan"])


def test_a_saved_fit_gives_back_what_is_assumed(lesson):
    found = {name: value for name, (value, _) in lesson.found().items()}
    assert set(found) == {"thinning", "ramp"}
    again = assumed_of(found)
    assert (again.thinning, again.ramp) == (lesson.fit.assumed.thinning, lesson.fit.assumed.ramp)
    assert again.k1 == Assumed().k1
    assert again.stiffness is None  # nothing was learned of the boards: their own range stays
    with pytest.raises(BadValue, match="fit of the bench"):
        assumed_of({**found, "glue": found["ramp"]})
    assert say_learned("x", datetime(2026, 3, 9, tzinfo=UTC)) == (
        "findings on this bench, accepted on 2026-03-09 with x"
    )


def test_predicted_stands_beside_found_with_the_line_of_equality(lesson):
    thickness, unpressed = draw_found(lesson)
    assert "found as predicted" in thickness.svg
    assert "Open rings: as believed before" in unpressed.reads
    for chart, quantity in ((thickness, "thickness"), (unpressed, "unpressed")):
        rows = [row for row in lesson.fit.compared if row.quantity == quantity]
        before, after = (part for part in chart.parts if isinstance(part, Points))
        assert before.x == pytest.approx([row.before.m_as("mm") for row in rows])
        assert after.x == pytest.approx([row.after.m_as("mm") for row in rows])
        assert after.y == before.y == pytest.approx([row.found.value.m_as("mm") for row in rows])
    assert fit_table(lesson.fit).count("<tr") == 1 + 6
    words = lesson_page(lesson).html
    assert all(name in words for _, name, _ in CONSTANTS)


def test_the_thinning_by_hand_stands_beside_the_fit(lesson):
    """Hand: made with 4.5 % exactly."""
    assert say_thinning(lesson).startswith("by hand, first: 4.5 %; second: 4.5 %; third: 4.5 %; by the fit")
    nothing = NothingFound(("x, cycle 1: no plan.",))
    assert "Left out: x, cycle 1: no plan. Read the thickness" in say_thinning(nothing)
    assert [page.words for page in show_found(nothing)] == [nothing.answer]
    assert show_found(lesson) == draw_found(lesson)


def test_what_was_left_out_is_named(lesson):
    told = learn_from(lesson.findings, ["saltmarsh-signal-31: the folder cannot be read"])
    assert any("Left out: saltmarsh-signal-31" in caution.words for caution in told.cautions)
    assert told.verdict is Verdict.CARE


@pytest.mark.parametrize("gap", [0.86, 2.14, 3.0])
def test_a_gap_that_every_cycle_shared_does_not_drive_the_ramp_out_of_its_interval(gap, monkeypatch):
    """Made with the gap of the sheets off by a standard uncertainty, alike in every cycle; 9 mm is true."""
    monkeypatch.setattr(bearing_fit, "Assumed", partial(Assumed, sheet_gap=Range(*3 * (Q_(gap, "mm"),))))
    made = [
        bearing_fit.finding(name, inner, thickness=False) for name, inner in (("a", 5), ("b", 4), ("c", 3))
    ]
    monkeypatch.undo()
    _, low, high = learn_from(made).fit.assumed.ramp.floats("mm", field="ramp")
    assert low < TRUE_RAMP * 1e3 < high
