"""Heat between the leaves of a scrap book: against closed forms, the full model, and made-up runs."""

import math

import numpy as np
import pytest
from scipy.special import erfc

from bench.errors import NotYet, OutOfRange
from bench.materials import look_up
from bench.physics.transient import simulate_together
from bench.treatment.plan import Verdict
from bench.trials.heat_run import USUAL_RATIO, Setup, predict
from bench.trials.leaf_temperature import AT, BELIEVED, LEAF_TEMPERATURE
from bench.units import Q_
from tests.trials.draws import assert_covered, changed, found_of

PACK = Setup("newsprint", 40, 2, 4.2, 0.6, 55.0, 60.0, 22.0)
BARE = Setup("newsprint", 150, 0, 20.0, 0.0, 80.0, 60.0, 22.0)
CONTACT = 200.0  # W/(m2 K), table: paper on metal
MIDDLE, FAR = 0, 1


def exact(factor=1.0):
    return LEAF_TEMPERATURE.made_up("newsprint", {"leaf-heat": factor}, None)


def found(outcome):
    return found_of(outcome)["leaf-heat"]


def keys(outcome):
    return {caution.key for caution in outcome.cautions}


@pytest.mark.parametrize("factor", [0.7, 1.0, 1.5])
def test_in_the_end_it_is_the_series_of_resistances(factor):
    """Steady state by hand (Incropera, composite wall): the rise falls with the resistance passed."""
    board, block = 2 * 0.6e-3 / 0.09, 4.2e-3 / 0.12
    within = np.array([1 / CONTACT, board, 1 / CONTACT, block, 1 / CONTACT, board, 1 / CONTACT]) * factor
    total = within.sum() + 1 / 8.0
    half_leaf = factor * block / 80
    middle = 1 - (within[:3].sum() + within[3] / 2) / total
    far = 1 - (within[:4].sum() - half_leaf) / total
    shares = predict(PACK, math.log(factor), math.log(8.0), 0.0, np.array([60.0]))
    assert shares[:, 0] == pytest.approx([middle, far], abs=0.02)  # vapour carries some


def test_at_first_it_is_the_half_space_behind_a_contact():
    """Carslaw and Jaeger 2.7, a half-space warmed through a contact, in the middle of a bare 20 mm block.

    Dry paper at 1400 J/(kg K) and the 7 % of water at 4180 in it; before the far side is felt.
    """
    depth, conductivity = 10e-3, 0.12
    dry = 80e-3 * 150 / 20e-3 / 1.065  # kg/m3
    kept = dry * (1400 + 0.065 * 4180)
    diffusivity = conductivity / kept
    for minutes in (8.0, 12.0):
        root = math.sqrt(diffusivity * 60 * minutes)
        h = CONTACT / conductivity
        wanted = erfc(depth / 2 / root) - math.exp(h * depth + (h * root) ** 2) * erfc(
            depth / 2 / root + h * root
        )
        share = predict(BARE, 0.0, math.log(8.0), 0.0, np.array([minutes]))[MIDDLE, 0]
        assert share == pytest.approx(wanted, rel=0.06)  # vapour carries a little of the heat


def test_the_kept_runs_are_those_of_the_full_model():
    """To 0.2 % of the rise, between the runs that are kept as well."""
    minutes = np.array([0.5, 1, 2, 4, 6, 8, 12, 20, 40, 60.0])
    cases = [(f, loss) for f in (0.42, 0.6, 0.83, 1.1, 1.7, 2.4) for loss in (3.0, 5.0, 8.0, 14.0, 20.0)]
    histories = simulate_together([PACK.course(f, loss, USUAL_RATIO, 60.0) for f, loss in cases])
    for (factor, loss), history in zip(cases, histories, strict=True):
        kept = predict(PACK, math.log(factor), math.log(loss), 0.0, minutes)
        assert np.abs(kept - PACK.shares(history, minutes)).max() < 0.002


@pytest.mark.parametrize("factor", [0.6, 1.0, 1.6])
def test_the_truth_is_found_without_errors(factor):
    value, low, high = found(LEAF_TEMPERATURE.fit(exact(factor)))
    assert value == pytest.approx(factor, rel=0.02)
    assert low < factor < high


def test_an_error_of_the_thermometer_that_all_temperatures_share_cancels():
    warmer = {
        key: tuple(each + Q_(1.0, "delta_degC") for each in values)
        for key, values in exact().read.items()
        if values[0].check("[temperature]") and key != "ice"
    }
    assert found(LEAF_TEMPERATURE.fit(changed(exact(), **warmer)))[0] == pytest.approx(1.0, abs=0.02)


def test_one_probe_in_the_middle_does_but_tells_less():
    read = dict.fromkeys((asked.key for asked in AT[FAR]), None)
    whole, half = found(LEAF_TEMPERATURE.fit(exact())), found(LEAF_TEMPERATURE.fit(changed(exact(), **read)))
    assert half[0] == pytest.approx(1.0, abs=0.05)
    assert half[2] - half[1] > whole[2] - whole[1]


def test_too_few_temperatures_or_no_stack_are_not_yet_a_run():
    few = dict.fromkeys((asked.key for asked in (*AT[FAR], *AT[MIDDLE][5:])), None)
    with pytest.raises(NotYet, match="temperatures"):
        LEAF_TEMPERATURE.fit(changed(exact(), **few))
    for key in ("leaves", "block", "mass", "width", "height", "platen-shown", "room"):
        with pytest.raises(NotYet):
            LEAF_TEMPERATURE.fit(changed(exact(), **{key: None}))


def test_temperatures_of_another_stack_are_refused():
    """A block that warms as if it were five times as thin."""
    thick = changed(exact(), block=(Q_(21.0, "mm"),))
    with pytest.raises(OutOfRange, match=r"0\.4 to 2\.5"):
        LEAF_TEMPERATURE.fit(thick)


def test_probes_that_were_mixed_up_cannot_be_accepted():
    read = exact().read
    swapped = {
        one.key: read[other.key]
        for near, far in zip(*AT, strict=True)
        for one, other in ((near, far), (far, near))
    }
    outcome = LEAF_TEMPERATURE.fit(changed(exact(), **swapped))
    assert "trial-leaf-misfit" in keys(outcome)
    assert outcome.verdict is Verdict.STOP
    assert LEAF_TEMPERATURE.fit(exact()).is_usable


def test_the_answer_says_which_way_it_goes_in_few_words():
    for factor, words in ((0.6, "better than"), (1.0, "about as"), (1.6, "worse than")):
        said = LEAF_TEMPERATURE.fit(exact(factor)).answer
        assert words in said
        assert len(said.split()) <= 50


def test_without_conduction_known_better_the_belief_is_that_of_the_plans():
    conduction = look_up("paper", "thermal conductivity")
    assert conduction.value.magnitude > 0
    assert BELIEVED.low.magnitude == pytest.approx(1 / 1.5)
    assert BELIEVED.high.magnitude == pytest.approx(1 / 0.6)


@pytest.mark.slow
def test_nineteen_in_twenty_intervals_hold_the_truth():
    assert_covered(LEAF_TEMPERATURE, "newsprint", {"leaf-heat": BELIEVED})


def test_it_narrows_what_was_believed():
    outcome = LEAF_TEMPERATURE.fit(
        LEAF_TEMPERATURE.made_up("newsprint", {"leaf-heat": 1.2}, np.random.default_rng(3))
    )
    assert outcome.found[0].narrower > 1.8
    assert set(outcome.shown.curves) == {"middle", "far"}
    assert len(outcome.shown.points) == 2 * len(AT[0])
