"""Psychrometrics against steam tables, printed tables and limits."""

import iapws
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.errors import BadValue, OutOfRange, UnitMismatch
from bench.physics import air
from bench.physics.saturation import pressure_pa, vapour_density
from bench.units import Q_

psychrolib.SetUnitSystem(psychrolib.SI)


def celsius(value):
    return Q_(value, "degC")


def percent(value):
    return Q_(value, "percent")


# --- saturation pressure -------------------------------------------------------------------------


@pytest.mark.parametrize("t", [0.01, 15, 20, 23, 25, 30, 40, 50, 60, 65])
def test_saturation_pressure_agrees_with_psychrolib(t):
    """The same formula in PsychroLib 2.5.0, so equal but for rounding."""
    assert pressure_pa(t) == pytest.approx(psychrolib.GetSatVapPres(t), rel=1e-7)


@pytest.mark.parametrize("t", [0.01, 15, 20, 23, 25, 30, 40, 50, 60, 65])
def test_saturation_pressure_agrees_with_steam_tables(t):
    """IAPWS-IF97 by iapws 1.5.5; the two formulas differ by up to 0.025 %."""
    steam = iapws.iapws97._PSat_T(t + 273.15) * 1e6
    assert pressure_pa(t) == pytest.approx(steam, rel=2.5e-4)


def test_saturation_pressure_near_the_printed_check_value():
    """IAPWS R7-97 table 35: 0.353658941e-2 MPa at 300 K (from memory); formulas differ by 0.025 %."""
    assert pressure_pa(300 - 273.15) == pytest.approx(0.353658941e4, rel=2.5e-4)


def test_the_steam_library_gives_the_printed_check_value():
    """Shows that the comparison above is with the formulation named; all printed digits."""
    assert iapws.iapws97._PSat_T(300.0) == pytest.approx(0.353658941e-2, rel=1e-8)


# --- dew point -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("t", "rh"), [(20, 50), (23, 50), (25, 50), (23, 98), (25, 98), (60, 10), (60, 50), (22, 75), (22, 95)]
)
def test_dew_point_agrees_with_psychrolib(t, rh):
    """PsychroLib 2.5.0 stops its iteration at 0.001 K."""
    mine = air.dew_point(percent(rh), temperature=celsius(t)).to("degC").m
    assert mine == pytest.approx(psychrolib.GetTDewPointFromRelHum(t, rh / 100), abs=1e-3)


def test_dew_point_of_the_standard_atmosphere():
    """23 °C and 50 % (ISO 187, TAPPI T 402) have their dew point at about 12.0 °C: one decimal."""
    assert air.dew_point(percent(50), temperature=celsius(23)).to("degC").m == pytest.approx(12.0, abs=0.05)


@given(t=st.floats(15, 99.9), rh=st.floats(40, 100))
def test_air_at_its_dew_point_is_saturated(t, rh):
    """Exact inverse; 1e-9 is the promise of the docstring, in kelvin, here in pressure."""
    dew = air.dew_point(percent(rh), temperature=celsius(t))
    assert pressure_pa(dew.to("degC").m) == pytest.approx(rh / 100 * pressure_pa(t), rel=1e-9)
    assert dew.m <= t + 1e-9


@given(t=st.floats(15, 90), rh=st.floats(40, 99), more=st.floats(0.01, 1))
def test_damper_air_has_a_higher_dew_point(t, rh, more):
    drier = air.dew_point(percent(rh), temperature=celsius(t))
    damper = air.dew_point(percent(rh + more), temperature=celsius(t))
    assert damper.m > drier.m


@pytest.mark.parametrize("t", [0, 5, 23, 60, 100])
def test_saturated_air_has_its_dew_point_at_its_own_temperature(t):
    assert air.dew_point(percent(100), temperature=celsius(t)).to("degC").m == pytest.approx(t, abs=1e-9)


def test_air_that_would_form_frost_is_refused():
    with pytest.raises(OutOfRange, match=r"dew point is below 0 °C.*frost and not dew"):
        air.dew_point(percent(20), temperature=celsius(20))


# --- water in the air, surfaces ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("t", "printed"), [(15, 12.841), (20, 17.314), (23, 20.598), (25, 23.075), (40, 51.242), (60, 130.425)]
)
def test_the_density_of_vapour_at_saturation_agrees_with_steam_tables(t, printed):
    """IAPWS-95 by CoolProp 8.0.0, real gas; the ideal gas here is up to 0.6 % low."""
    mine = 1000 * vapour_density(pressure_pa(t), t)
    assert printed * (1 - 0.006) < mine < printed


@pytest.mark.parametrize("rh", [75, 80, 85, 90, 95])
def test_allowed_wall_drop_agrees_with_psychrolib(rh):
    """PsychroLib 2.5.0 at 22 °C, to its 0.001 K."""
    expected = 22 - psychrolib.GetTDewPointFromRelHum(22, rh / 100)
    assert air.allowed_wall_drop(percent(rh), temperature=celsius(22)).to("kelvin").m == pytest.approx(
        expected, abs=1e-3
    )


@pytest.mark.parametrize(("wall", "sign"), [(19, -1), (20, 1)])
def test_condensation_margin_has_a_sign(wall, sign):
    """22 °C and 85 % have their dew point at 19.4 °C (PsychroLib 2.5.0): 19 °C is wet, 20 °C is dry."""
    margin = air.condensation_margin(percent(85), temperature=celsius(22), wall_temperature=celsius(wall))
    assert margin.to("kelvin").m == pytest.approx(
        wall - psychrolib.GetTDewPointFromRelHum(22, 0.85), abs=1e-3
    )
    assert margin.m * sign > 0


def test_a_wall_as_warm_as_the_air_has_the_whole_allowed_drop_as_margin():
    margin = air.condensation_margin(percent(90), temperature=celsius(22), wall_temperature=celsius(22))
    assert margin.m == pytest.approx(air.allowed_wall_drop(percent(90), temperature=celsius(22)).m)


def test_sixty_litres_take_up_four_tenths_of_a_gram():
    """By hand: 19.4 g/m3 at 22 °C (steam tables) x 0.35 x 0.060 m3 = 0.41 g."""
    gain = air.water_in_air(
        Q_(60, "litre"), temperature=celsius(22), humidity_from=percent(45), humidity_to=percent(80)
    )
    assert gain.to("g").m == pytest.approx(0.41, abs=0.005)


def test_water_in_air_is_given_back_on_the_way_down():
    up = air.water_in_air(
        Q_(1, "m^3"), temperature=celsius(22), humidity_from=percent(45), humidity_to=percent(80)
    )
    down = air.water_in_air(
        Q_(1000, "litre"), temperature=celsius(22), humidity_from=percent(80), humidity_to=percent(45)
    )
    assert up.m == pytest.approx(-down.m)


@pytest.mark.parametrize("function", [air.dew_point, air.allowed_wall_drop])
def test_an_impossible_humidity_is_refused_by_name(function):
    with pytest.raises(BadValue, match=r"relative humidity is 5500 %; allowed is 0 to 100 %"):
        function(percent(5500), temperature=celsius(23))


def test_a_bare_temperature_is_refused_by_name():
    with pytest.raises(UnitMismatch, match="air temperature is the bare number 23"):
        air.dew_point(percent(50), temperature=23)
