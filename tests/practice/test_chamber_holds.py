"""What a chamber holds: the printed table of the salts, saturation of IAPWS, and each wrong way by number."""

import numpy as np
import pytest

from bench.practice.drawing import draw_item
from bench.practice.markers.chamber_holds import MARKER, Chamber, at_surface, draw_chamber, solve
from bench.practice.marking import mark
from bench.practice.shapes import Judgement
from bench.units import Q_

# Greenspan 1977, table 2, potassium chloride and nitrate, percent (from memory, as in the materials table).
PRINTED = {"potassium chloride": {15: 85.92, 20: 85.11}, "potassium nitrate": {15: 95.41, 20: 94.62}}
# IAPWS-IF97, region 4: saturation pressure in Pa at 10, 15 and 20 °C (from memory, four digits).
SATURATED = {10: 1228.0, 15: 1706.0, 20: 2339.0}


@pytest.mark.parametrize("salt", PRINTED)
@pytest.mark.parametrize("celsius", [15, 20])
def test_the_air_holds_what_is_printed_of_its_salt(salt: str, celsius: int):
    assert Chamber(salt, celsius, celsius - 0.5, 90).held.percent == pytest.approx(
        PRINTED[salt][celsius], abs=0.1
    )


@pytest.mark.parametrize(("air", "surface"), [(20, 15), (15, 10), (20, 10)])
def test_a_colder_surface_is_damper_by_the_ratio_of_the_saturation_pressures(air: int, surface: int):
    expected = 50 * SATURATED[air] / SATURATED[surface]
    assert at_surface(50, air, surface) == pytest.approx(expected, rel=2e-3)


def test_a_surface_as_warm_as_the_air_is_no_damper():
    assert at_surface(86.0, 16.0, 16.0) == 86.0


def test_at_the_dew_point_a_surface_is_at_saturation():
    chamber = Chamber("potassium chloride", 16.0, 15.0, 92)
    assert chamber.at(float(chamber.held.dew_point.magnitude)) == pytest.approx(100.0, abs=1e-6)


@pytest.mark.parametrize("seed", range(30))
def test_what_is_drawn_stays_dry_and_its_hygrometer_is_off(seed: int):
    chamber = draw_chamber(np.random.default_rng(seed))
    assert float(chamber.held.margin.magnitude) > 0
    assert chamber.held.percent < chamber.at(chamber.base) < 100
    assert 2.9 < abs(chamber.shown - chamber.held.percent) < 7.6 or chamber.shown == 99


def test_each_wrong_way_is_known_by_its_number(monkeypatch: pytest.MonkeyPatch):
    chamber = Chamber("potassium chloride", 16.0, 14.9, 81)
    monkeypatch.setattr("bench.practice.markers.chamber_holds.draw_chamber", lambda rng: chamber)
    solution = solve(draw_item("any", 3), {})
    ratio = (SATURATED[15] + (SATURATED[20] - SATURATED[15]) / 5) / SATURATED[15]
    assert solution.holds is not None
    right = float(solution.right.magnitude)  # type: ignore[union-attr]
    assert right == pytest.approx(85.76 * (1 + 0.0655 * 1.1), abs=0.6)  # 6.5 % a kelvin at 15 °C
    assert 1.05 < ratio < 1.08  # straight between 15 and 20 °C it is a little more
    by_key = {
        "trusted-hygrometer": 81.0,
        "salt-from-memory": right * 84.34 / 85.76,
        "forgot-cold-base": 85.76,
    }
    for key, percent in by_key.items():
        marked = mark(MARKER.question, solution, Q_(percent, "percent"))
        assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, key)
    assert mark(MARKER.question, solution, Q_(right + 0.3, "percent")).judged is Judgement.RIGHT


def test_the_doubt_is_that_of_salt_and_thermometers():
    """A tenth of a kelvin is over half a point; with that of the salt it is the root of the squares."""
    solution = solve(draw_item("any", 5), {})
    assert solution.holds is not None
    value, low, high = solution.holds.floats("percent", field="humidity")
    from_kelvin = 0.1 * 0.0645 * value
    assert from_kelvin < high - value < (from_kelvin**2 + 1.2**2) ** 0.5
    assert low < value < high
