"""Staples under rising weights: another fit of censored data, prediction by textbook, coverage."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from bench.errors import BadValue, NotYet
from bench.physics.bearing.marks import (
    MARKS,
    estimate_marking,
    load_on_wire,
    marking_limit,
    pressure_on_wire,
)
from bench.physics.bearing.results import Limits
from bench.physics.ranges import Range, draw
from bench.treatment.plan import Verdict
from bench.trials import PROTOCOLS
from bench.trials.staple_marking import STAPLE_MARKING, fit, made_up
from bench.units import Q_

COVER = "coated cover"


def read(pairs, *, together=3.0, board=0.1, crown=12.0):
    """Readings of pairs of kilograms without and with a mark, None where that end was not seen."""
    read_off = {"together": (Q_(together, ""),), "board": (Q_(board, "kg"),), "crown": (Q_(crown, "mm"),)}
    for number, (bare, marked) in enumerate(pairs, start=1):
        if bare is not None:
            read_off[f"bare_{number}"] = (Q_(bare, "kg"),)
        if marked is not None:
            read_off[f"marked_{number}"] = (Q_(marked, "kg"),)
    return replace(made_up(COVER, {"staple-marks": 8.0}, None), read=read_off)


USUAL = ((2.0, 2.5), (2.5, 3.2), (1.6, 2.0), (2.0, 2.5), (2.5, 3.2), (3.2, 4.0))


def keys_of(outcome):
    return {caution.key: caution.verdict for caution in outcome.cautions}


def test_many_staples_agree_with_another_fit_of_interval_censored_data():
    """SciPy's maximum likelihood (scipy.stats.CensoredData), 400 staples in steps of a quarter."""
    rng = np.random.default_rng(2)
    thresholds = rng.normal(math.log(7.0), 0.35, 400)
    step = math.log(1.25)
    low = np.floor(thresholds / step) * step
    marking = estimate_marking(low, low + step)
    middle, scatter = stats.norm.fit(stats.CensoredData(interval=np.column_stack([low, low + step])))
    assert marking.middle == pytest.approx(middle, abs=0.02)
    assert marking.scatter == pytest.approx(scatter, rel=0.05)


def test_one_staple_more_lies_where_the_textbook_puts_it():
    """Prediction of one more of a lognormal, exp(m +- 1.96 s sqrt(1 + 1/n)); the eye adds its 0.12."""
    rng = np.random.default_rng(3)
    thresholds = rng.normal(math.log(7.0), 0.3, 300)
    marking = estimate_marking(thresholds - 1e-3, thresholds + 1e-3)
    m, s = thresholds.mean(), math.hypot(thresholds.std(ddof=1), 0.12)
    for part, z in ((0.025, -1.96), (0.5, 0.0), (0.975, 1.96)):
        expected = math.exp(m + z * s * math.sqrt(1 + 1 / 300))
        assert marking.quantile(part) == pytest.approx(expected, rel=0.05)


def test_a_weight_is_shared_by_the_staples_and_counts_by_the_length_of_the_wire():
    """3 kg on three staples are 9.8 N on each; on a wire twice as long they count as half."""
    tight = [(2.95, 3.05)] * 6
    value = fit(read(tight, board=0)).found[0].value
    assert value.value.to("N").magnitude == pytest.approx(9.80665, rel=0.05)
    longer = fit(read(tight, board=0, crown=24.0)).found[0].value
    assert longer.value.to("N").magnitude == pytest.approx(9.80665 / 2, rel=0.05)
    with_board = fit(read([(1.95, 2.05)] * 6, board=1.0)).found[0].value
    assert with_board.value.magnitude == pytest.approx(value.value.magnitude, rel=1e-6)


def test_the_pressure_is_that_on_the_wire_of_the_section():
    """Newtons over 12 mm by 0.7 mm, by hand."""
    assert pressure_on_wire(Q_(8.4, "N")).to("kPa").magnitude == pytest.approx(1000)
    assert load_on_wire(pressure_on_wire(Q_(3, "N"))).to("N").magnitude == pytest.approx(3)
    assert marking_limit(MARKS).to("kPa").magnitude == pytest.approx(Limits().staple.to("kPa").magnitude)


def test_the_limit_goes_by_half_of_the_low_end_and_never_beyond_what_crushes_paper():
    marks = Range.of((5.0, 2.1, 9.0), "N")
    assert marking_limit(marks).to("kPa").magnitude == pytest.approx(0.5 * 2.1 / (12e-3 * 0.7e-3) / 1e3)
    assert marking_limit(Range.of((50.0, 40.0, 90.0), "N")).to("kPa").magnitude == pytest.approx(500)


def test_what_was_not_seen_moves_the_interval_to_its_side():
    usual = fit(read(USUAL)).found[0].value
    never = fit(read((*USUAL[:4], (2.5, None), (3.2, None)))).found[0].value
    at_once = fit(read((*USUAL[:4], (None, 1.0), (None, 1.0)))).found[0].value
    assert at_once.value < usual.value < never.value


def test_the_outcome_says_what_follows():
    outcome = fit(read(USUAL))
    (found,) = outcome.found
    assert outcome.is_usable
    assert found.before is MARKS
    assert found.narrower > 2
    assert len(outcome.answer.split()) <= 50
    limit = float(marking_limit(found.value).magnitude)
    assert f"{limit:.0f} kPa as the limit on a staple" in outcome.answer
    assert outcome.shown.misfit < 2


def test_more_staples_raise_the_low_end():
    few, many = fit(read(USUAL[:3])), fit(read(USUAL))
    assert few.found[0].value.low < many.found[0].value.low
    assert keys_of(few)["staples-few"] is Verdict.CARE
    assert "staples-few" not in keys_of(many)


@pytest.mark.parametrize("pairs", [(), USUAL[:2], ((2.0, 2.5), (3.0, None), (2.5, None))])
def test_too_few_staples_are_waited_for(pairs):
    with pytest.raises(NotYet):
        fit(read(pairs))


def test_a_mark_below_what_left_none_is_refused():
    with pytest.raises(BadValue) as told:
        fit(read((*USUAL[:3], (3.0, 2.0))))
    assert "Staple 4" in str(told.value)


def test_staples_of_several_kinds_stop_it():
    outcome = fit(read(((0.1, 0.2), (20, 25), (0.3, 0.4), (10, 12), (0.1, 0.2), (40, 50))))
    assert keys_of(outcome)["staples-unlike"] is Verdict.STOP
    assert not outcome.is_usable


def test_coarse_steps_and_staples_that_never_marked_are_told():
    outcome = fit(read(((1.0, 4.0), (2.0, 2.5), (2.0, 2.5), (2.5, 3.2), (2.5, None))))
    assert keys_of(outcome)["staple-steps-coarse"] is Verdict.CARE
    assert keys_of(outcome)["staple-never-marked"] is Verdict.GO


def test_it_is_complete_and_registered():
    assert STAPLE_MARKING in PROTOCOLS
    assert len(STAPLE_MARKING.steps) == 6
    assert {"coated cover", "newsprint"} <= set(STAPLE_MARKING.abouts())


@pytest.mark.slow
def test_the_interval_holds_the_truth_as_often_as_it_says():
    """Truths drawn from what is believed; 95 % wanted, 90 % allowed in 200 draws, misses on both sides."""
    rng, before = np.random.default_rng(5), MARKS.floats("N", field="marks")
    below = above = 0
    for _ in range(200):
        truth = float(draw(before, rng.standard_normal(1))[0])
        _, low, high = fit(made_up(COVER, {"staple-marks": truth}, rng)).found[0].value.floats("N", field="m")
        below, above = below + (truth < low), above + (truth > high)
    assert below + above <= 20
    assert below + above < 8 or min(below, above) > 0
