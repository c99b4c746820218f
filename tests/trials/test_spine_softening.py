"""Where a spine's glue lets go: against counting in steps, a closed form, and made-up spines."""

import math

import numpy as np
import pytest
from scipy import stats

from bench.errors import BadValue, NotYet
from bench.materials import look_up
from bench.physics.ranges import REACH, as_range, draw
from bench.treatment.plan import Verdict
from bench.trials import spine_softening as trial
from bench.trials.spine_softening import GAVE, LEVELS, SPINE_SOFTENING
from bench.units import Q_
from tests.trials.draws import assert_covered, changed, found_of

EVA = "EVA hot melt"


def counts(*numbers):
    return {asked.key: (Q_(float(n), ""),) for asked, n in zip(GAVE, numbers, strict=False)}


def fit(*numbers, about=EVA, spines=5, humidity=70, ice=0.0):
    read = counts(*numbers)
    read |= {"spines": (Q_(float(spines), ""),), "humidity": (Q_(float(humidity), "percent"),)}
    if ice is not None:
        read["ice"] = (Q_(ice, "degC"),)
    return SPINE_SOFTENING.fit(trial.Readings(about, read))


def found(outcome):
    return found_of(outcome)["glue-softens"]


def keys(outcome):
    return {caution.key for caution in outcome.cautions}


def test_what_is_believed_is_the_density_that_draws_come_from():
    """Two halves of a normal distribution over the logarithm: one in forty beyond each end."""
    before = as_range(look_up(EVA, "softening temperature")).floats("degC", field="glue")
    density = trial._density(before)
    share = np.cumsum(density) / density.sum()
    drawn = draw(before, np.array([-REACH, 0.0, REACH]))
    assert np.interp(drawn, trial._MIDDLES + 0.25, share) == pytest.approx([0.025, 0.5, 0.975], abs=0.003)


def test_with_many_spines_it_is_the_interval_censored_maximum_likelihood():
    """2,400 spines counted as a normal distribution of 49 and 4 K gives them: the next spine's percentiles.

    Turnbull's and Finkelstein's case of grouped data, for which scipy's quantiles are the answer; the
    thermometer known exactly.
    """
    wanted = stats.norm(49.0, 4.0)
    shares = np.diff(wanted.cdf(LEVELS), prepend=0.0, append=1.0)
    fresh = tuple(int(n) for n in np.round(2400 * shares))
    before = as_range(look_up(EVA, "softening temperature")).floats("degC", field="glue")
    (middle, low, high), spread, _ = trial._posterior(tuple(float(t) for t in LEVELS), fresh, 1e-6, before)
    assert middle == pytest.approx(49.0, abs=0.4)
    assert (low, high) == pytest.approx(wanted.interval(0.95), abs=1.0)
    assert spread == pytest.approx(4.0, abs=0.5)


def test_a_spine_that_held_and_then_gave_lies_between_the_two_steps():
    value, low, high = found(fit(0, 0, 0, 0, 5))
    assert 45 < value < 50
    assert low < 45
    assert high > 50  # the thermometer, and the next spine


def test_the_truth_is_found_without_errors_to_half_a_step():
    for softens in (42.0, 52.0, 58.0):
        readings = SPINE_SOFTENING.made_up(EVA, {"glue-softens": softens}, None)
        value, low, high = found(SPINE_SOFTENING.fit(readings))
        assert value == pytest.approx(softens, abs=2.5)
        assert low < softens < high


def test_spines_that_differ_more_widen_the_interval():
    _, low, high = found(fit(0, 0, 0, 0, 5))
    _, lower, higher = found(fit(0, 0, 1, 2, 4, 5))
    assert higher - lower > high - low


def test_more_spines_narrow_it():
    few, many = found(fit(0, 0, 0, 1, 2, 3, spines=3)), found(fit(0, 0, 0, 4, 8, 12, spines=12))
    assert many[2] - many[1] < few[2] - few[1]


def test_the_correction_in_ice_moves_it():
    """A thermometer that shows 2 °C in ice shows steps that are 2 K cooler in truth."""
    assert found(fit(0, 0, 0, 0, 5, ice=2.0))[0] == pytest.approx(found(fit(0, 0, 0, 0, 5))[0] - 2.0, abs=0.4)


def test_without_ice_it_is_known_less_well():
    checked, not_checked = found(fit(0, 0, 0, 0, 5)), found(fit(0, 0, 0, 0, 5, ice=None))
    assert not_checked[2] - not_checked[1] > 1.04 * (checked[2] - checked[1])


def test_a_step_left_out_makes_the_interval_longer():
    _, low, high = found(fit(0, 0, 0, 0, 5))
    read = counts(0, 0, 0, 0, 5)
    read.pop(GAVE[3].key)
    read |= {"spines": (Q_(5.0, ""),), "humidity": (Q_(70.0, "percent"),), "ice": (Q_(0.0, "degC"),)}
    _, lower, higher = found(SPINE_SOFTENING.fit(trial.Readings(EVA, read)))
    assert higher - lower > high - low


def test_all_held_leaves_the_upper_end_as_believed_and_says_so():
    outcome = fit(0, 0, 0, 0, 0, 0, 0, 0)
    value, low, high = found(outcome)
    assert low > 60
    assert high >= 100
    assert value > 65
    assert "trial-spines-held" in keys(outcome)
    assert outcome.is_usable
    assert "trial-spines-held" not in keys(fit(0, 0, 0, 0, 5))


def test_all_gave_at_once_is_told():
    outcome = fit(5, about="PVAc")
    assert found(outcome)[2] < 40
    assert "trial-spines-gave-at-once" in keys(outcome)


def test_spines_of_two_glues_cannot_be_accepted():
    outcome = fit(3, 3, 3, 3, 3, 3, 3, 6, spines=6)
    assert "trial-spines-differ" in keys(outcome)
    assert outcome.verdict is Verdict.STOP
    assert "trial-spines-differ" not in keys(fit(0, 0, 1, 3, 5))


def test_animal_glue_tried_dry_cannot_be_accepted_and_others_ask_for_care():
    """Water decides on animal glue: tried dry, a damp spine would be called safe."""
    dry, damp = (fit(0, 0, 0, 0, 0, 5, about="animal glue", humidity=h) for h in (50, 70))
    assert dry.verdict is Verdict.STOP
    assert "trial-spines-dry" in keys(dry)
    assert damp.is_usable
    assert "trial-spines-dry" not in keys(damp)
    assert "trial-spines-drier" in keys(fit(0, 0, 0, 0, 5, humidity=50))
    assert "trial-spines-drier" not in keys(fit(0, 0, 0, 0, 5, humidity=70))


def test_what_is_missing_is_not_yet_there():
    whole = SPINE_SOFTENING.made_up(EVA, {"glue-softens": 52.0}, None)
    for key in ("spines", "humidity", GAVE[0].key):
        with pytest.raises(NotYet):
            SPINE_SOFTENING.fit(changed(whole, **{key: None}))
    with pytest.raises(NotYet, match="steps"):
        fit(2)


@pytest.mark.parametrize("numbers", [(0, 2, 1), (0, 0, 6), (0, 3, 5, 4)])
def test_counts_that_fall_or_pass_the_spines_are_refused(numbers):
    with pytest.raises(BadValue, match="given by"):
        fit(*numbers)


def test_an_unknown_glue_is_not_offered():
    assert "unknown" not in SPINE_SOFTENING.abouts()
    assert SPINE_SOFTENING.abouts()[0] == EVA


def test_the_answer_is_short():
    for numbers in ((0, 0, 0, 0, 5), (0,) * 8):
        assert len(fit(*numbers).answer.split()) <= 50


@pytest.mark.slow
@pytest.mark.parametrize("glue", [EVA, "PVAc"])
def test_nineteen_in_twenty_intervals_hold_the_truth(glue):
    believed = {"glue-softens": as_range(look_up(glue, "softening temperature"))}
    assert_covered(SPINE_SOFTENING, glue, believed)


def test_five_spines_halve_what_was_believed_of_hot_melt():
    outcome = fit(0, 0, 0, 1, 4, 5)
    assert outcome.found[0].narrower > 2
    assert math.isfinite(outcome.shown.misfit)
