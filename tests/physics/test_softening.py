"""Softening of fibres and glues.  Constants from memory; check values calculated apart from this code."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.errors import BadValue, UnitMismatch
from bench.physics import softening
from bench.physics.ranges import Range
from bench.units import Q_

# Water 0 to 20 % of the polymer phase, whole degrees; the dry values of Goring (abstract seen).
TABLE = [(0, 167, 181), (5, 115, 127), (10, 75, 85), (15, 43, 52), (20, 17, 24)]


@pytest.mark.parametrize(("percent", "xylan", "glucomannan"), TABLE)
def test_the_softer_and_the_stiffer_hemicellulose_are_the_ends(percent, xylan, glucomannan):
    """With as much water in the hemicellulose as in the paper: w = X / (1 + X)."""
    held = Q_(percent / (100 - percent), "")
    found = softening.fibre_softening_temperature(held, water_ratio=Q_(1, ""))
    assert found.low.to("degC").m == pytest.approx(xylan, abs=0.75)
    assert found.high.to("degC").m == pytest.approx(glucomannan, abs=0.75)


def test_room_dry_paper_softens_between_60_and_110_degrees():
    """At 50 % RH (6 to 7 % moisture) hemicellulose about 60 to 80 °C, from memory.

    A calendering patent, US 4 624 744, has T = 234.2 exp(-0.131 m) with m in per cent (from memory), for
    fast calendering: 100 °C, higher but believable.
    """
    found = softening.fibre_softening_temperature(Q_(6.5, "percent"))
    assert 60 < found.value.to("degC").m < 85
    patent = 234.2 * math.exp(-0.131 * 6.5)
    assert found.value.to("degC").m < patent < found.high.to("degC").m


@settings(max_examples=40)
@given(st.floats(0, 20), st.floats(0.1, 5))
def test_more_water_softens_at_lower_temperature(percent, more):
    first = softening.fibre_softening_temperature(Q_(percent, "percent"))
    damper = softening.fibre_softening_temperature(Q_(percent + more, "percent"))
    assert damper.value.m < first.value.m


@pytest.mark.parametrize(
    ("celsius", "moisture", "verdict"),
    [(22, 0.05, "stiff"), (22, 0.25, "soft"), (60, 0.20, "soft"), (60, 0.09, "may be soft")],
)
def test_whether_fibres_let_go(celsius, moisture, verdict):
    """Either much water in the cold or less of it in the warm relaxes a crease; dry and cold does not."""
    found = softening.fibre_margin(temperature=Q_(celsius, "degC"), moisture_content=Q_(moisture, ""))
    assert found.verdict == verdict


def test_a_margin_is_temperature_less_softening():
    found = softening.fibre_margin(temperature=Q_(140, "degF"), moisture_content=Q_(0.08, ""))
    expected = 60 - found.softening.value.to("degC").m
    assert found.margin.value.to("kelvin").m == pytest.approx(expected)
    assert found.margin.low.m == pytest.approx(60 - found.softening.high.to("degC").m)


@pytest.mark.parametrize(
    ("low", "value", "high", "verdict"),
    [(20, 28, 35, "soft"), (45, 55, 65, "may be soft"), (70, 90, 110, "stiff")],
)
def test_glue_in_a_press_at_60_degrees(low, value, high, verdict):
    """PVAc about 28 °C (course notes seen); hot melt holds to 45 to 65 °C, softens at 70 to 110 (memory)."""
    limit = Range(Q_(value, "degC"), Q_(low, "degC"), Q_(high, "degC"))
    found = softening.glue_margin(temperature=Q_(60, "degC"), softening=limit, glue="hot melt")
    assert found.verdict == verdict
    assert found.words.startswith("Hot melt")


def test_a_doubtful_temperature_makes_the_verdict_careful():
    sure = softening.glue_margin(temperature=Q_(40, "degC"), softening=Q_(45, "degC"), glue="glue")
    warm = Range(Q_(40, "degC"), Q_(35, "degC"), Q_(50, "degC"))
    unsure = softening.glue_margin(temperature=warm, softening=Q_(45, "degC"), glue="glue")
    assert (sure.verdict, unsure.verdict) == ("stiff", "may be soft")


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: softening.fibre_softening_temperature(Q_(0.4, "")), BadValue, "moisture content is 0.4"),
        (lambda: softening.fibre_softening_temperature(8), UnitMismatch, "bare number 8"),
        (
            lambda: softening.fibre_margin(temperature=Q_(60, "kelvin"), moisture_content=Q_(0.1, "")),
            BadValue,
            "temperature is -213",
        ),
    ],
)
def test_refusals(call, error, words):
    with pytest.raises(error, match=words):
        call()
