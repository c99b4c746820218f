"""Uncertainty against the GUM (JCGM 100:2008) and GTC, a maintained GUM calculator."""

import math

import GTC
import pytest

from bench.errors import BadValue
from bench.uncertainty import (
    Component,
    Measured,
    coverage_factor,
    estimate_from_readings,
    exactly,
    from_expanded,
    from_limits,
    guard_band,
)
from bench.units import Q_


@pytest.mark.parametrize(
    ("dof", "printed"),
    [(1, 12.71), (2, 4.30), (4, 2.78), (9, 2.26), (16, 2.12), (25, 2.06), (30, 2.04), (math.inf, 1.96)],
)
def test_t_factors_agree_with_the_printed_table(dof, printed):
    """JCGM 100:2008 Table G.2, column 95 % (from memory; two decimals printed)."""
    assert coverage_factor(dof) == pytest.approx(printed, abs=0.006)


@pytest.mark.parametrize(("dof", "printed"), [(9, 2.32), (4, 2.87), (2, 4.53)])
def test_t_factors_for_two_sigma_agree_with_the_printed_table(dof, printed):
    """JCGM 100:2008 Table G.2, column 95.45 %."""
    assert coverage_factor(dof, 0.9545) == pytest.approx(printed, abs=0.006)


def test_gum_h1_gauge_block():
    """JCGM 100:2008 example H.1: u_c 32 nm, 16 degrees of freedom, U99 = 2.92 × 32 = 93 nm.

    The components 25, 9.7, 2.9 and 16.6 nm and their degrees of freedom are those of the example.
    """
    gauge = Measured(
        Q_(50.000838, "mm"),
        (
            Component("calibration of the standard", Q_(25.0, "nm"), 18),
            Component("measured difference", Q_(9.7, "nm"), 25.6),
            Component("difference in expansion coefficient", Q_(2.9, "nm"), 50),
            Component("difference in temperature", Q_(16.6, "nm"), 2),
        ),
    )
    assert gauge.standard.to("nm").magnitude == pytest.approx(32, abs=0.5)
    assert math.floor(gauge.dof) == 16
    assert coverage_factor(16, 0.99) == pytest.approx(2.92, abs=0.005)
    # The example truncates the degrees of freedom to 16 (here they stay fractional) and rounds.
    assert coverage_factor(16, 0.99) * gauge.standard.to("nm").magnitude == pytest.approx(93, abs=0.6)
    assert gauge.expanded(0.99).to("nm").magnitude == pytest.approx(93, abs=1.5)


def test_sum_and_difference_agree_with_gtc():
    """GTC 1.5.1 works out the same budget with its own code."""
    a = Measured(Q_(4.4, "mm"), (Component("a", Q_(0.02, "mm"), 4), Component("shared", Q_(0.01, "mm"))))
    b = Measured(Q_(4.5, "mm"), (Component("b", Q_(0.03, "mm"), 4), Component("shared", Q_(0.01, "mm"))))
    shared = GTC.ureal(0, 0.01)
    ga, gb = GTC.ureal(4.4, 0.02, 4) + shared, GTC.ureal(4.5, 0.03, 4) + shared
    for ours, theirs in ((a + b, ga + gb), (a - b, ga - gb)):
        assert ours.value.magnitude == pytest.approx(GTC.value(theirs))
        assert ours.standard.magnitude == pytest.approx(GTC.uncertainty(theirs))
        assert ours.dof == pytest.approx(GTC.dof(theirs), rel=1e-9)


def test_readings_agree_with_gtc_type_a():
    readings = [4.40, 4.42, 4.41, 4.39, 4.41]
    theirs = GTC.type_a.estimate(readings)
    ours = estimate_from_readings(
        [Q_(v, "mm") for v in readings],
        place="text block",
        instrument_limit=Q_(0, "mm"),
        resolution=Q_(0, "mm"),
    )
    assert ours.value.magnitude == pytest.approx(theirs.x)
    assert ours.standard.magnitude == pytest.approx(theirs.u)
    assert ours.dof == theirs.df


def test_instrument_limit_and_resolution_are_rectangular():
    """GUM 4.3.7 and F.2.2.1: half width over root 3, step over root 12."""
    one = estimate_from_readings(
        [Q_(4.4, "mm")],
        place="x",
        instrument_limit=Q_(0.02, "mm"),
        resolution=Q_(0.01, "mm"),
        typical_repeatability=Q_(0, "mm"),
    )
    expected = math.hypot(0.02 / math.sqrt(3), 0.01 / math.sqrt(12))
    assert one.standard.magnitude == pytest.approx(expected)


def test_inches_and_millimetres_give_the_same_answer():
    mm = estimate_from_readings(
        [Q_(4.40, "mm"), Q_(4.44, "mm")],
        place="x",
        instrument_limit=Q_(0.02, "mm"),
        resolution=Q_(0.01, "mm"),
    )
    thou = estimate_from_readings(
        [Q_(4.40, "mm").to("thou"), Q_(4.44, "mm").to("thou")],
        place="x",
        instrument_limit=Q_(0.02, "mm"),
        resolution=Q_(0.01, "mm"),
    )
    assert thou.expanded().to("mm").magnitude == pytest.approx(mm.expanded().magnitude)


def test_one_sided_guard_band():
    """JCGM 106 / ISO 14253-1: z = 1.645 for 95 % (from memory)."""
    assert guard_band(Q_(1.0, "um")).magnitude == pytest.approx(1.645, abs=5e-4)


def test_chance_of_a_value_at_its_limit_is_a_half():
    value = from_expanded(Q_(1.0, "mm"), Q_(0.2, "mm"), cause="x")
    assert value.chance_above(Q_(1000.0, "um")) == pytest.approx(0.5)
    assert value.chance_above(Q_(0.8, "mm")) == pytest.approx(0.975, abs=1e-9)
    assert exactly(Q_(1.0, "mm")).chance_above(Q_(2.0, "mm")) == 0.0


def test_shares_sum_to_one_and_the_largest_comes_first():
    value = Measured(Q_(1, "mm"), (Component("small", Q_(1, "um")), Component("large", Q_(3, "um"))))
    assert list(value.shares()) == ["large", "small"]
    assert sum(value.shares().values()) == pytest.approx(1.0)
    assert value.shares()["large"] == pytest.approx(0.9)


def test_a_negative_or_missing_reading_is_refused():
    with pytest.raises(BadValue, match=r"reading at spine edge is -4\.4 mm; allowed is above zero"):
        estimate_from_readings(
            [Q_(-4.4, "mm")], place="spine edge", instrument_limit=Q_(0, "mm"), resolution=Q_(0, "mm")
        )
    with pytest.raises(BadValue, match="readings at text block is empty"):
        estimate_from_readings([], place="text block", instrument_limit=Q_(0, "mm"), resolution=Q_(0, "mm"))
    with pytest.raises(BadValue, match="Put the value between its limits"):
        from_limits(Q_(3, "mm"), Q_(1, "mm"), Q_(2, "mm"), cause="x")


def test_a_second_reading_of_the_same_place_does_not_cancel_the_doubt_of_the_first():
    """GUM 5.1.2: independent readings add in quadrature, also in a difference."""
    facts = {"place": "text block", "instrument_limit": Q_(0.02, "mm"), "resolution": Q_(0.01, "mm")}
    readings = [Q_(v, "mm") for v in (4.40, 4.42, 4.41)]
    before = estimate_from_readings(readings, **facts)
    after = estimate_from_readings(readings, moment="after cycle 1", **facts)
    assert (before - after).standard.magnitude == pytest.approx(math.sqrt(2) * before.standard.magnitude)


@pytest.mark.parametrize("unit", ["degC", "degF"])
def test_the_doubt_of_a_temperature_is_a_difference(unit):
    """2 K are 3.6 °F, wherever on the scale."""
    warm = from_expanded(Q_(40, "degC").to(unit), Q_(2, "delta_degC"), cause="probe")
    assert warm.expanded().to("kelvin").magnitude == pytest.approx(2.0)
    low, high = warm.interval()
    assert (high - low).to("kelvin").magnitude == pytest.approx(4.0)
    assert high.to("degC").magnitude == pytest.approx(42.0)
