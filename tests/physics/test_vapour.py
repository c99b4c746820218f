"""What passes a film of air, and what a wet surface gives; no printed measurement of a chamber was found."""

import pytest

from bench.errors import BadValue, OutOfRange, UnitMismatch
from bench.physics import vapour
from bench.units import Q_

ROOM = Q_(22, "degC")


def test_permeability_of_air():
    """hamopy 0.4.0, formula seen there: 2.653e-5 m2/s at 22 °C (calculated, four digits)."""
    gas = 461.523 * 295.15  # R_v T of an ideal gas, J/kg
    assert vapour.air_permeability(22.0) * gas == pytest.approx(2.653e-5, rel=2e-4)


@pytest.mark.parametrize(("heat", "speed"), [(1, 0.95), (2, 1.89), (3, 2.84), (5, 4.73), (10, 9.46)])
def test_film_by_lewis(heat, speed):
    """Calculated apart from this code (Lewis, from memory), three digits; air properties differ by 1 %."""
    film = vapour.vapour_film(heat_film=Q_(heat, "W/m^2/K"))
    assert film.value.to("mm/s").m == pytest.approx(speed, rel=0.01)


def supply(**other):
    given = {"area": Q_(0.1, "m^2"), "deficit": Q_(1, "percent"), "temperature": ROOM}
    return vapour.water_supply(**(given | other))


def test_supply_of_a_wet_tray_in_still_air():
    """4.2 g a day for 0.1 m2 and 1 % RH of deficit at 22 °C, film 2.5 mm/s (calculated, two digits)."""
    assert supply().value.to("g/day").m == pytest.approx(4.2, abs=0.05)
    assert supply().low.to("g/day").m == pytest.approx(4.2 / 2.5, abs=0.02)


def test_what_a_periodical_drinks_needs_a_few_points_of_deficit():
    """15 g in 24 h through 0.1 m2 needs a mean deficit of about 3.5 % RH (calculated, said as about)."""
    assert supply(deficit=Q_(3.5, "percent")).value.to("g/day").m == pytest.approx(15, abs=0.4)


def test_fahrenheit_and_square_feet_give_the_same_supply():
    same = supply(area=Q_(0.1, "m^2").to("ft^2"), temperature=Q_(71.6, "degF"))
    assert same.value.m == pytest.approx(supply().value.m)


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        ({"area": 0.1}, UnitMismatch, "area of the source is the bare number 0.1"),
        ({"area": Q_(0, "m^2")}, BadValue, "area of the source is 0"),
        ({"temperature": Q_(-5, "degC")}, OutOfRange, "temperature is -5 °C"),
        ({"film": Q_(0, "mm/s")}, BadValue, "vapour film is 0"),
        ({"deficit": Q_(200, "percent")}, BadValue, "humidity deficit is 200 %"),
    ],
)
def test_refusals(change, error, words):
    with pytest.raises(error, match=words):
        supply(**change)
