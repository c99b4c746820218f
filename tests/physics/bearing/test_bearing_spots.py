"""Where defects lie: pressure there, and the plain rule of what may relax."""

import numpy as np
import pytest

from bench.errors import BadValue, UnitMismatch
from bench.physics.bearing.answers import estimate_bearing
from bench.physics.bearing.knowns import Press
from bench.physics.bearing.spots import Hope, Spot, judge_spots
from bench.physics.bearing.zones import Sheets
from bench.physics.softening import fibre_margin
from bench.units import Q_
from tests.makers import annual, annual_readings

SOFT = fibre_margin(temperature=Q_(60, "degC"), moisture_content=Q_(20, "percent"))
STIFF = fibre_margin(temperature=Q_(22, "degC"), moisture_content=Q_(3, "percent"))
BETWEEN = fibre_margin(temperature=Q_(60, "degC"), moisture_content=Q_(8, "percent"))


@pytest.fixture(scope="module")
def bearing():
    return estimate_bearing(
        annual(), annual_readings(), Sheets(5, 2), Press(), rng=np.random.default_rng(4), samples=400
    )


def judge(bearing, millimetres, margin, width=0.0):
    spot = Spot("crease", Q_(millimetres, "mm"), Q_(width, "mm"))
    return judge_spots(annual(), bearing, [spot], margin)[0]


@pytest.mark.parametrize(
    ("millimetres", "margin", "hope", "why"),
    [
        (90, SOFT, Hope.LIKELY, "nearly sure"),
        (90, BETWEEN, Hope.POSSIBLE, "may not be soft enough"),
        (90, STIFF, Hope.UNLIKELY, "stay stiff"),
        (4, SOFT, Hope.UNLIKELY, "hardly any pressure arrives"),
        (4, STIFF, Hope.UNLIKELY, "hardly any pressure arrives"),
        (14, SOFT, Hope.POSSIBLE, "pressure there is not sure"),
    ],
)
def test_the_rule(bearing, millimetres, margin, hope, why):
    """The margins are what their names say, so that the rule and not the chemistry is tried."""
    assert (SOFT.verdict, STIFF.verdict, BETWEEN.verdict) == ("soft", "stiff", "may be soft")
    judged = judge(bearing, millimetres, margin)
    assert judged.hope is hope
    assert why in judged.words


def test_a_wide_defect_is_judged_by_its_least_pressed_part(bearing):
    assert judge(bearing, 30, SOFT).hope is Hope.LIKELY
    assert judge(bearing, 30, SOFT, width=50).hope is Hope.UNLIKELY
    assert judge(bearing, 30, SOFT, width=50).pressure.m == 0


def test_the_pressure_at_a_spot_is_that_of_the_curve(bearing):
    node = len(bearing.curve.places) // 2
    judged = judge(bearing, float(bearing.curve.places[node].to("mm").m), SOFT)
    assert judged.pressure.to("kPa").m == pytest.approx(float(bearing.curve.pressure[node].to("kPa").m))


def test_a_spot_beside_the_item_is_refused(bearing):
    with pytest.raises(BadValue, match="crease from spine is 400 mm"):
        judge(bearing, 400, SOFT)
    with pytest.raises(UnitMismatch, match="bare number"):
        judge_spots(annual(), bearing, [Spot("crease", 4)], SOFT)
