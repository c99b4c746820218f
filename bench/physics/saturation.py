"""Saturation pressure of water and its inverse, on plain numbers (°C and Pa).

The one formula that every psychrometric quantity rests on; :mod:`bench.physics.air` and
:mod:`bench.physics.salts` wrap it in quantities with units.
"""

from __future__ import annotations

import math

from bench.errors import OutOfRange
from bench.units import Q_, Amount, Quantity, Told, to_float

ZERO_CELSIUS = 273.15  # K
VAPOUR_CONSTANT = 461.523  # J/(kg K), gas constant of water vapour

# Hyland and Wexler, p in Pa and T in K; see pressure_pa.
_C8, _C9, _C10 = -5.8002206e3, 1.3914993, -4.8640239e-2
_C11, _C12, _C13 = 4.1764768e-5, -1.4452093e-8, 6.5459673


def _log_pressure(kelvin: float) -> float:
    powers = _C9 + kelvin * (_C10 + kelvin * (_C11 + kelvin * _C12))
    return _C8 / kelvin + powers + _C13 * math.log(kelvin)


def _log_pressure_slope(kelvin: float) -> float:
    powers = _C10 + kelvin * (2 * _C11 + 3 * _C12 * kelvin)
    return -_C8 / kelvin**2 + powers + _C13 / kelvin


def pressure_pa(celsius: float) -> float:
    r"""Give the saturation pressure in Pa over liquid water at 0 to 200 °C (not checked here).

    Notes
    -----
    .. math:: \ln p = C_8/T + C_9 + C_{10} T + C_{11} T^2 + C_{12} T^3 + C_{13} \ln T

    Hyland and Wexler [ashrae-f1]_, chapter 1, equation 6 (from memory; agrees with PsychroLib).
    Within 0.03 % of IAPWS-IF97 from 0 to 65 °C.  The pressure of the air (enhancement factor,
    0.4 % at room temperature) is left out.

    Examples
    --------
    >>> print(round(pressure_pa(23.0)))
    2810
    """
    return math.exp(_log_pressure(celsius + ZERO_CELSIUS))


def vapour_density(pascal: float, celsius: float) -> float:
    """Give the mass of vapour of a pressure in a volume of air, kg/m3.

    An ideal gas: 0.2 % low at 23 °C, 0.6 % low at 60 °C and saturation.
    """
    return pascal / (VAPOUR_CONSTANT * (celsius + ZERO_CELSIUS))


LOWEST_DEW_PRESSURE = pressure_pa(0.0)
HIGHEST_DEW_PRESSURE = pressure_pa(100.0)


def dew_celsius(pascal: float) -> float:
    """Give the temperature at which a vapour pressure is the saturation pressure.

    Parameters
    ----------
    pascal : float
        Vapour pressure in Pa.

    Returns
    -------
    float
        Dew point in °C.

    Raises
    ------
    OutOfRange
        The dew point would lie below 0 °C (frost, another formula) or above 100 °C.

    Notes
    -----
    Newton on the logarithm of the Hyland-Wexler formula, which is nearly straight in 1/T: six
    steps from 20 °C bring it below 1e-9 K anywhere from 0 to 100 °C.
    """
    if not LOWEST_DEW_PRESSURE * (1 - 1e-12) <= pascal <= HIGHEST_DEW_PRESSURE * (1 + 1e-12):
        dry = pascal < LOWEST_DEW_PRESSURE
        came = "below 0 °C" if dry else "above 100 °C"
        remedy = (
            "Air this dry forms frost and not dew: no surface above freezing gets wet"
            if dry
            else "Check the temperature of the air and its unit"
        )
        raise OutOfRange("dew point", came, "0 to 100 °C", remedy)
    inverse = 1 / (20.0 + ZERO_CELSIUS)
    target = math.log(pascal)
    for _ in range(8):  # in 1/T: d ln p/d(1/T) = -T² d ln p/dT
        kelvin = 1 / inverse
        inverse += (_log_pressure(kelvin) - target) / (kelvin**2 * _log_pressure_slope(kelvin))
    return 1 / inverse - ZERO_CELSIUS


_LEAST_BOILING, _MOST_BOILING = 60_000.0, 110_000.0  # Pa: from 4000 m to the deepest valley


def boiling_celsius(pascal: float) -> float:
    """Give the temperature at which water boils under a pressure of the air.

    Parameters
    ----------
    pascal : float
        Pressure of the air where it boils, 60 to 110 kPa.

    Returns
    -------
    float
        In °C; 99.974 at 101 325 Pa, as IAPWS gives it (from memory).

    Raises
    ------
    OutOfRange
        No pressure of the air where people work.
    """
    if not _LEAST_BOILING <= pascal <= _MOST_BOILING:
        remedy = "Check the pressure of the air, its unit and the altitude"
        raise OutOfRange("pressure of the air", f"{pascal / 100:.0f} hPa", "600 to 1100 hPa", remedy)
    celsius, target = 95.0, math.log(pascal)
    for _ in range(8):  # Newton, as for the dew point
        kelvin = celsius + ZERO_CELSIUS
        celsius -= (_log_pressure(kelvin) - target) / _log_pressure_slope(kelvin)
    return celsius


def pressure_at_altitude(sea_level: float, metres: float) -> float:
    r"""Give the pressure of the air at an altitude from that which a weather report reduces to sea level.

    Parameters
    ----------
    sea_level : float
        In Pa.
    metres : float
        Above sea level, up to some 4000.

    Returns
    -------
    float
        In Pa.

    Notes
    -----
    .. math:: p = p_0 (1 - 0.0065 h / 288.15)^{5.2559}

    the standard atmosphere (ISO 2533, from memory); the weather of the day makes a few hPa.
    """
    return sea_level * (1 - 0.0065 * metres / 288.15) ** 5.2559


def check_celsius(temperature: Quantity, *, field: str, low: float, high: float, why: str) -> float:
    """Check that a temperature lies in the range of a model and give it in °C.

    Parameters
    ----------
    temperature : Quantity
        For example ``Q_(23, "degC")``.
    field : str
        Name of the field, for the error.
    low, high : float
        Closed range in °C.
    why : str
        What to do if it is refused.

    Raises
    ------
    UnitMismatch
        Not a temperature.
    OutOfRange
        Outside the range.
    """
    celsius = to_float(temperature, "degC", field=field)
    if not low <= celsius <= high:
        ends = (Amount(Q_(low, "degC"), "degC", 1, bare=True), Amount(Q_(high, "degC"), "degC", -1))
        came = Amount(Q_(celsius, "degC"), "degC", 1 if celsius > high else -1, fine=5e-6)
        raise OutOfRange(field, Told("{}", came), Told("{} to {}", *ends), why)
    return celsius
