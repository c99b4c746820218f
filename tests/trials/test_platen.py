"""The platen's map and times, against a lump that cools by the textbook, and over made-up presses."""

import math

import numpy as np
import pytest

from bench.errors import BadValue, NotYet
from bench.physics.ranges import Range
from bench.physics.transient.inputs import PLATEN
from bench.treatment.plan import Verdict
from bench.treatment.pressing.plan import PLATEN_HALF_LIFE
from bench.trials.platen import PLATEN_MAP
from bench.trials.platen_readings import COOLING, HEATING, HEATING_BELIEVED, MAP, ROOM
from bench.units import Q_
from tests.trials.draws import assert_covered, changed, found_of

TRUTH = {"platen-error": 2.0, "platen-half-life": 38.0, "platen-heating": 22.0}
BELIEVED = {
    "platen-error": PLATEN,
    "platen-half-life": PLATEN_HALF_LIFE,
    "platen-heating": HEATING_BELIEVED,
}


def exact():
    return PLATEN_MAP.made_up("press", TRUTH, None)


def fit(**read):
    return PLATEN_MAP.fit(changed(exact(), **read))


def celsius(*values):
    return tuple(Q_(value, "degC") for value in values)


def keys(outcome):
    return {caution.key for caution in outcome.cautions}


def test_a_lump_cools_as_the_textbook_says():
    """Incropera, lumped capacitance: T = T_room + (T_0 - T_room) exp(-h t / (rho c L)).

    12 mm of aluminium, 2800 kg/m3 and 880 J/(kg K), that loses 10 W/(m2 K): half of its warmth is gone after
    ln 2 rho c L / h = 2049 s.
    """
    rate = 10.0 / (2800 * 880 * 0.012)
    read = {
        asked.key: celsius(21 + 39 * math.exp(-rate * 60 * float(asked.key.rpartition("-")[2])))
        for asked in COOLING
    }
    found = found_of(fit(**read, room=celsius(21)))["platen-half-life"]
    assert found[0] == pytest.approx(math.log(2) / rate / 60, rel=1e-5)
    assert found[0] * 60 == pytest.approx(2049, abs=1)


def test_heating_along_a_straight_line_is_read_off_it():
    """2 K a minute from 20 °C: 58 °C, 2 K below the 60 °C where it settles, is reached after 19 min."""
    line = {asked.key: celsius(20 + 2.0 * float(asked.key.rpartition("-")[2])) for asked in HEATING}
    found = found_of(fit(**line, **dict.fromkeys((a.key for a in MAP), celsius(60))))["platen-heating"]
    assert found[0] == pytest.approx(19.0)


def test_without_errors_the_truth_is_found():
    found = found_of(PLATEN_MAP.fit(exact()))
    assert found["platen-error"][0] == pytest.approx(2.0)
    assert found["platen-half-life"][0] == pytest.approx(38.0)
    assert found["platen-heating"][0] == pytest.approx(22.0, abs=0.5)
    for key, (_, low, high) in found.items():
        assert low < TRUTH[key] < high


def test_the_correction_in_ice_goes_into_the_map_and_not_into_the_cooling():
    """1 °C in ice is 1 K too warm: the platen is 1 K less off, its times stay the same."""
    before, after = found_of(fit()), found_of(fit(ice=celsius(1.0)))
    assert after["platen-error"][0] == pytest.approx(before["platen-error"][0] - 1.0)
    assert after["platen-half-life"] == pytest.approx(before["platen-half-life"])


def test_without_ice_the_limit_of_the_thermometer_stays_in_the_interval_and_is_told():
    """Rectangular limits of 2 K are 1.15 K standard, 2.26 K at 95 %."""
    outcome = fit(ice=None)
    value, low, high = found_of(outcome)["platen-error"]
    assert high - value == pytest.approx(2.26, abs=0.05)
    assert value - low == pytest.approx(high - value)
    assert "trial-platen-probe" in keys(outcome)
    assert "trial-platen-probe" not in keys(fit())


def test_an_uneven_face_widens_the_interval_and_is_told():
    """Places at -4, -2, 0, 2, 4 K: s is 3.162 K, and t(4) is 2.776: 7.3 K for the mean over an item."""
    read = {a.key: celsius(62 + off) for a, off in zip(MAP, (-4, -2, 0, 2, 4), strict=True)}
    outcome = fit(**read)
    value, _, high = found_of(outcome)["platen-error"]
    assert value == pytest.approx(2.0)
    assert high - value == pytest.approx(2.776 * 3.162 * math.sqrt(0.49 + 0.2), rel=0.04)
    assert "trial-platen-uneven" in keys(outcome)
    assert "trial-platen-uneven" not in keys(fit())


def test_what_was_not_read_is_not_found_and_the_rest_is():
    outcome = fit(**dict.fromkeys((a.key for a in (*HEATING, *COOLING)), None))
    assert set(found_of(outcome)) == {"platen-error"}
    assert "trial-platen-without" in keys(outcome)
    assert outcome.is_usable


@pytest.mark.parametrize("left_out", [{MAP[2].key: None}, {ROOM.key: None}, {"set": None}])
def test_a_map_with_a_gap_is_not_yet_one(left_out):
    with pytest.raises(NotYet):
        fit(**left_out)


def test_two_readings_of_a_cooling_are_not_yet_one():
    with pytest.raises(NotYet, match="cooling"):
        fit(**dict.fromkeys((a.key for a in COOLING[2:]), None))


def test_a_heating_that_was_not_followed_to_its_end_is_not_yet_one():
    with pytest.raises(NotYet, match="heating"):
        fit(**dict.fromkeys((a.key for a in HEATING[3:]), None))


def test_a_cold_platen_a_cooling_that_rises_and_a_warm_start_are_refused():
    with pytest.raises(BadValue, match="map"):
        fit(**dict.fromkeys((a.key for a in MAP), celsius(25)))
    with pytest.raises(BadValue, match="cooling"):
        fit(**dict.fromkeys((a.key for a in COOLING), celsius(25)))
    with pytest.raises(BadValue, match="heating"):
        fit(heating_0=celsius(61))
    with pytest.raises(BadValue, match="melting ice"):
        fit(ice=celsius(9))


def test_a_press_that_was_opened_while_it_cooled_cannot_be_accepted():
    outcome = fit(cooling_20=celsius(35), cooling_40=celsius(45))
    assert "trial-platen-misfit" in keys(outcome)
    assert not outcome.is_usable
    assert fit().is_usable


def test_a_thermostat_that_is_far_off_and_a_platen_that_never_cools_cannot_be_accepted():
    """The model of the press follows 15 K and 300 min at most."""
    far = fit(set=celsius(42))
    assert "trial-platen-too-far" in keys(far)
    slow = PLATEN_MAP.fit(PLATEN_MAP.made_up("press", TRUTH | {"platen-half-life": 400.0}, None))
    assert "trial-platen-half-life" in keys(slow)
    assert far.verdict is slow.verdict is Verdict.STOP


def test_the_answer_is_short_and_names_all_three():
    said = PLATEN_MAP.fit(exact()).answer
    assert len(said.split()) <= 50
    assert "2.0 K warmer" in said
    assert "38 min" in said


def test_the_picture_shows_every_reading_of_both_series():
    shown = PLATEN_MAP.fit(exact()).shown
    assert len(shown.points) == len(HEATING) + len(COOLING)
    assert set(shown.curves) == {"heating", "cooling"}
    assert shown.misfit == pytest.approx(0.0, abs=1e-6)


def test_units_do_not_matter():
    read = exact().read
    fahrenheit = {key: tuple(each.to("degF") for each in values) for key, values in read.items()}
    found = found_of(PLATEN_MAP.fit(changed(exact(), **fahrenheit)))
    assert np.allclose(
        [found[key] for key in TRUTH], [found_of(PLATEN_MAP.fit(exact()))[key] for key in TRUTH]
    )


@pytest.mark.slow
def test_nineteen_in_twenty_intervals_hold_the_truth():
    assert_covered(PLATEN_MAP, "press", BELIEVED)


def test_it_narrows_what_was_believed_of_the_half_life():
    outcome = PLATEN_MAP.fit(PLATEN_MAP.made_up("press", TRUTH, np.random.default_rng(1)))
    by_key = {each.constant.key: each for each in outcome.found}
    assert by_key["platen-half-life"].narrower > 4
    assert isinstance(by_key["platen-error"].before, Range)
