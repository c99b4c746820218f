"""Change of width and height."""

import math

import pytest

from bench.errors import BadValue, NotFound, UnitMismatch
from bench.physics import size_change
from bench.uncertainty import Component, Measured, from_expanded
from bench.units import Q_


def test_a_page_of_168_mm_grows_for_good():
    """0.25 to 1 % across the grain (Muñoz-Viñas, abstract seen): 0.4 to 1.7 mm of 168 mm."""
    found = size_change.estimate_permanent_change(Q_(168, "mm"), direction="across")
    assert (round(found.low.to("mm").m, 1), round(found.high.to("mm").m, 1)) == (0.4, 1.7)


def test_and_its_height_may_shrink():
    """Up to 0.30 % along the grain: at most 0.8 mm of 257 mm."""
    found = size_change.estimate_permanent_change(Q_(257, "mm"), direction="along")
    assert found.low.to("mm").m == pytest.approx(-0.77, abs=0.005)
    assert found.high.m == 0


# --- measured ------------------------------------------------------------------------------------


def width(millimetres, doubt=0.2):
    return from_expanded(Q_(millimetres, "mm"), Q_(doubt, "mm"), cause="ruler, width")


def test_change_and_uncertainty_by_hand():
    """(168.5 - 168.0)/168.0, u = sqrt(2) u / 168; equal names of causes do not cancel."""
    found = size_change.measure_size_change(width(168.0), width(168.5))
    assert found.change.value.to("percent").m == pytest.approx(0.2976, abs=1e-4)
    assert found.change.expanded().to("percent").m == pytest.approx(100 * 0.2 * math.sqrt(2) / 168, rel=1e-6)


@pytest.mark.parametrize(
    ("after", "verdict"),
    [
        (168.0, "below the limit"),
        (168.4, "below the limit"),
        (168.8, "cannot tell"),
        (169.5, "past the limit"),
        (166.5, "past the limit"),
        (167.2, "cannot tell"),
    ],
)
def test_verdicts(after, verdict):
    """The limit of 0.5 % is 0.84 mm either way; one-sided 95 %."""
    found = size_change.measure_size_change(width(168.0), width(after))
    assert found.verdict == verdict
    assert "limit 0.5 %" in found.words


def test_poor_readings_cannot_tell():
    found = size_change.measure_size_change(width(168.0, 2.0), width(168.0, 2.0))
    assert found.verdict == "cannot tell"


def test_readings_without_doubt_are_judged_as_they_are():
    sure = (Measured(Q_(200.0, "mm")), Measured(Q_(201.1, "mm")))
    assert size_change.measure_size_change(*sure).verdict == "past the limit"
    assert size_change.measure_size_change(sure[0], sure[0]).verdict == "below the limit"


def test_inches_and_millimetres_agree():
    inch = Measured(Q_(168 / 25.4, "inch"), (Component("ruler", Q_(0.1 / 25.4, "inch")),))
    millimetre = Measured(Q_(169.0, "mm"), (Component("ruler", Q_(0.1, "mm")),))
    found = size_change.measure_size_change(inch, millimetre)
    assert found.change.value.m == pytest.approx(1 / 168)
    assert found.change.standard.m == pytest.approx(math.sqrt(2) * 0.1 / 168)


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (
            lambda: size_change.estimate_permanent_change(Q_(168, "mm"), direction="thickness"),
            NotFound,
            "allowed is along, across",
        ),
        (lambda: size_change.measure_size_change(width(168), width(257)), BadValue, "width is compared"),
        (
            lambda: size_change.measure_size_change(width(168), width(168), limit=0.5),
            UnitMismatch,
            "stop limit is the bare number",
        ),
        (
            lambda: size_change.measure_size_change(width(168), width(168), limit=Q_(0.5, "")),
            BadValue,
            "stop limit is 0.5",
        ),
    ],
)
def test_refusals(call, error, words):
    with pytest.raises(error, match=words):
        call()
