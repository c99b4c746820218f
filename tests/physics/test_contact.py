"""Load on a pile and how much it gives."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.errors import BadValue, NotFound, UnitMismatch
from bench.physics import contact
from bench.physics.ranges import Range
from bench.units import Q_

# A page of 6 5/8 x 10 1/4 in; the area is its product, no measurement.
PAGE = Q_(6.625, "inch") * Q_(10.25, "inch")


@pytest.mark.parametrize(
    ("kilograms", "kilopascals", "psi"),
    [
        (2, 0.45, 0.065),
        (5, 1.12, 0.16),
        (10, 2.24, 0.33),
        (20, 4.48, 0.65),
        (30.8, 6.90, 1.00),
        (89, 20, 2.9),
    ],
)
def test_weight_on_a_page(kilograms, kilopascals, psi):
    """Arithmetic of m g / A, to the digits given (some of them rounded twice)."""
    pressure = contact.pressure_from_mass(Q_(kilograms, "kg"), area=PAGE)
    assert pressure.to("kPa").m == pytest.approx(kilopascals, abs=0.0051, rel=4e-3)
    assert pressure.to("psi").m == pytest.approx(psi, abs=0.006, rel=4e-3)


def test_the_same_weight_on_a_spine_ridge():
    """10 kg on a ridge of 2 x 260 mm: 98 N / 0.00052 m2 = 189 kPa (arithmetic)."""
    ridge = Q_(2 * 260, "mm^2")
    assert contact.pressure_from_mass(Q_(10, "kg"), area=ridge).to("kPa").m == pytest.approx(189, abs=0.5)
    mean = contact.pressure_from_mass(Q_(10, "kg"), area=PAGE)
    assert contact.pressure_on_ridge(mean, face=PAGE, ridge=ridge).to("kPa").m == pytest.approx(189, abs=0.5)


def test_a_caliper_presses_hard():
    """5 N on 50 mm2 is 100 kPa (arithmetic)."""
    assert contact.pressure_from_force(Q_(5, "N"), area=Q_(50, "mm^2")).to("kPa").m == pytest.approx(100)


def test_mass_and_force_agree():
    """1 kgf is the weight of 1 kg under standard gravity, by definition."""
    mass = contact.pressure_from_mass(Q_(7, "kg"), area=PAGE)
    force = contact.pressure_from_force(Q_(7, "kgf"), area=PAGE)
    assert force.m == pytest.approx(mass.m, rel=1e-12)


def test_a_gauge_shows_the_pressure_of_its_piston():
    """Force is kept: p A_piston = P A_item."""
    pressure = contact.pressure_from_gauge(Q_(2, "bar"), piston_area=Q_(20, "cm^2"), area=Q_(400, "cm^2"))
    assert pressure.to("bar").m == pytest.approx(0.1)


def test_words_are_ranges_in_order_that_meet():
    light, medium, firm = (contact.pressure_from_word(word) for word in ("light", "medium", "firm"))
    assert light.high == medium.low
    assert medium.high == firm.low
    assert light.value < medium.value < firm.value
    # Board and weight 0.5 to 5 kPa, a hand-screwed press 50 kPa and more: from memory of practice.
    assert light.low == Q_(0.5, "kPa")
    assert firm.high == Q_(50, "kPa")
    with pytest.raises(NotFound, match="load is 'hard'; allowed is light, medium, firm"):
        contact.pressure_from_word("hard")


# --- give between reading and press --------------------------------------------------------------


def known(**more):
    return {"k1": Q_(5, "kPa"), "k2": Q_(60, "")} | more


@pytest.mark.parametrize(("k1", "k2", "ratio"), [(5, 60, 0.989), (1, 40, 0.981)])
def test_thickness_at_100_over_50_kilopascals(k1, k2, ratio):
    """Calculated apart from this code, three digits."""
    give = contact.estimate_give(
        pressure=Q_(100, "kPa"), reading_pressure=Q_(50, "kPa"), k1=Q_(k1, "kPa"), k2=Q_(k2, "")
    )
    assert 1 - give.value.m == pytest.approx(ratio, abs=5e-4)
    assert give.standard.m == 0


def test_no_difference_of_pressure_is_no_give():
    assert (
        contact.estimate_give(pressure=Q_(20, "kPa"), reading_pressure=Q_(20, "kPa"), **known()).value.m == 0
    )


def test_a_reading_under_more_load_than_the_press_makes_the_block_thicker_there():
    give = contact.estimate_give(pressure=Q_(2, "kPa"), reading_pressure=Q_(50, "kPa"), **known())
    assert give.value.m < 0


def test_more_doubt_gives_a_wider_interval():
    sure = contact.estimate_give(pressure=Q_(20, "kPa"), reading_pressure=Q_(5, "kPa"))
    word = contact.LOAD_WORDS["firm"]
    unsure = contact.estimate_give(pressure=word, reading_pressure=Q_(5, "kPa"))
    worse = contact.estimate_give(
        pressure=word, reading_pressure=Range(Q_(5, "kPa"), Q_(1, "kPa"), Q_(50, "kPa"))
    )
    assert 0 < sure.standard < unsure.standard < worse.standard
    assert sure.value.m == pytest.approx(unsure.value.m)


@settings(max_examples=25)
@given(st.floats(0, 200), st.floats(0, 200))
def test_more_pressure_gives_more(first, more):
    lesser = contact.estimate_give(pressure=Q_(first, "kPa"), **known())
    greater = contact.estimate_give(pressure=Q_(first + more, "kPa"), **known())
    assert lesser.value <= greater.value


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: contact.pressure_from_mass(Q_(-1, "kg"), area=PAGE), BadValue, "mass is -1 kg"),
        (lambda: contact.pressure_from_mass(Q_(1, "N"), area=PAGE), UnitMismatch, "mass is 1 N"),
        (lambda: contact.pressure_from_mass(10, area=PAGE), UnitMismatch, "bare number 10"),
        (lambda: contact.pressure_from_force(Q_(5, "N"), area=Q_(0, "mm^2")), BadValue, "area is 0"),
        (
            lambda: contact.pressure_on_ridge(Q_(1, "kPa"), face=Q_(1, "cm^2"), ridge=Q_(2, "cm^2")),
            BadValue,
            "ridge is 200 mm²; allowed is at most the face, 100 mm²",
        ),
        (lambda: contact.estimate_give(pressure=Q_(1, "MPa")), BadValue, "pressure is 1000 kPa"),
        (lambda: contact.estimate_give(pressure=Q_(20, "kPa"), k1=Q_(0, "kPa")), BadValue, "K1 is 0"),
    ],
)
def test_refusals(call, error, words):
    with pytest.raises(error, match=words):
        call()
