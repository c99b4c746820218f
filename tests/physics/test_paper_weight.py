"""Basis weight to grammage.  TAPPI T 410 is arithmetic from basis sizes (sizes read on merchants' pages)."""

import pytest

from bench.errors import BadValue, UnitMismatch
from bench.physics.paper_weight import basis_weight_from_grammage, grammage_from_basis_weight
from bench.units import Q_

# Factors of TAPPI T 410 and values as tabulated by merchants, to 0.1 g/m2.
TABLE = [
    ("bond", 20, 75.2),
    ("bond", 24, 90.2),
    ("bond", 28, 105.3),
    ("index", 90, 162.7),
    ("index", 110, 198.9),
    ("cover", 80, 216.3),
    ("cover", 90, 243.4),
    ("cover", 100, 270.4),
    ("book", 50, 74.0),
    ("book", 60, 88.8),
    ("book", 80, 118.4),
    ("news", 28, 45.6),
    ("news", 30, 48.8),
    ("news", 32, 52.1),
]


@pytest.mark.parametrize(("size", "pounds", "printed"), TABLE)
def test_grammage_agrees_with_the_conversion_table(size, pounds, printed):
    found = grammage_from_basis_weight(Q_(pounds, "lb"), basis_size=size)
    assert found.to("gsm").m == pytest.approx(printed, abs=0.051)


@pytest.mark.parametrize(("size", "pounds", "printed"), TABLE)
def test_and_back(size, pounds, printed):
    """0.05 g/m2 of the printed value are at most 0.04 lb."""
    found = basis_weight_from_grammage(Q_(printed, "gsm"), basis_size=size)
    assert found.to("lb").m == pytest.approx(pounds, abs=0.04)


def test_a_merchants_value_for_24_lb_bond():
    """mcgpaper.com (read) rounds the other way: 90.3."""
    found = grammage_from_basis_weight(Q_(24, "lb"), basis_size="bond")
    assert found.to("gsm").m == pytest.approx(90.3, abs=0.1)


def test_kilograms_do_as_well_as_pounds():
    mine = grammage_from_basis_weight(Q_(24 * 0.45359237, "kg"), basis_size="bond")
    assert mine.m == pytest.approx(grammage_from_basis_weight(Q_(24, "lb"), basis_size="bond").m)


def test_pounds_without_a_basis_size_are_refused():
    with pytest.raises(BadValue, match=r"basis weight is 24 lb without a basis size; .*bond \(17 x 22 in\)"):
        grammage_from_basis_weight(Q_(24, "lb"))


def test_an_unknown_basis_size_is_refused_with_those_there_are():
    with pytest.raises(BadValue, match=r"basis size is 'letter'; allowed is bond .*news \(24 x 36 in\)"):
        grammage_from_basis_weight(Q_(24, "lb"), basis_size="letter")


def test_a_grammage_is_no_basis_weight():
    with pytest.raises(UnitMismatch, match="basis weight"):
        grammage_from_basis_weight(Q_(90, "gsm"), basis_size="bond")
