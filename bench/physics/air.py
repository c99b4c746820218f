"""Psychrometrics and the humidity of a chamber.

How much water the air holds, where it condenses, what humidity a colder or warmer surface sees,
and what a tray of pure water or of a saturated salt can give.
"""

from __future__ import annotations

from bench.errors import OutOfRange
from bench.physics.salts import (
    HygrometerCheck,
    SaltHumidity,
    check_hygrometer,
    salt_humidity,
    salt_names,
)
from bench.physics.saturation import (
    VAPOUR_CONSTANT,
    ZERO_CELSIUS,
    check_celsius,
    dew_celsius,
    pressure_pa,
)
from bench.units import Q_, Quantity, to_float, to_humidity

__all__ = [
    "HygrometerCheck",
    "SaltHumidity",
    "absolute_humidity",
    "allowed_wall_drop",
    "check_hygrometer",
    "condensation_margin",
    "dew_point",
    "humidity_at_surface",
    "humidity_over_water",
    "salt_humidity",
    "salt_names",
    "saturation_pressure",
    "vapour_pressure",
    "water_in_air",
]

_CHECK_UNIT = "Check the temperature and its unit (°C or °F)"


def _air_celsius(temperature: Quantity, field: str = "air temperature") -> float:
    return check_celsius(temperature, field=field, low=0.0, high=100.0, why=_CHECK_UNIT)


def saturation_pressure(temperature: Quantity) -> Quantity:
    r"""Give the saturation pressure of water vapour over liquid water.

    Parameters
    ----------
    temperature : Quantity [temperature], scalar
        0 to 200 °C.

    Returns
    -------
    Quantity [Pa]

    Raises
    ------
    UnitMismatch, OutOfRange

    Notes
    -----
    .. math:: \ln p = C_8/T + C_9 + C_{10} T + C_{11} T^2 + C_{12} T^3 + C_{13} \ln T

    Hyland and Wexler [ashrae-f1]_, chapter 1, equation 6 (from memory; agrees with PsychroLib).
    Within 0.03 % of IAPWS-IF97 from 0 to 65 °C.  The pressure of the air (enhancement factor,
    0.4 % at room temperature) is left out.

    Examples
    --------
    >>> print(f"{saturation_pressure(Q_(23, 'degC')):.0f~P}")
    2810 Pa
    """
    celsius = check_celsius(temperature, field="temperature", low=0.0, high=200.0, why=_CHECK_UNIT)
    return Q_(pressure_pa(celsius), "Pa")


def vapour_pressure(humidity: Quantity, *, temperature: Quantity) -> Quantity:
    """Give the vapour pressure of air.

    Parameters
    ----------
    humidity : Quantity [dimensionless]
        Relative humidity, 0 to 100 %.
    temperature : Quantity [temperature]
        Of the air, 0 to 100 °C.

    Returns
    -------
    Quantity [Pa]

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange
    """
    return Q_(_vapour_pressure_si(to_humidity(humidity), _air_celsius(temperature)), "Pa")


def _vapour_pressure_si(fraction: float, celsius: float) -> float:
    return fraction * pressure_pa(celsius)


def dew_point(humidity: Quantity, *, temperature: Quantity) -> Quantity:
    """Give the dew point of air: a surface that cold becomes wet.

    Parameters
    ----------
    humidity : Quantity [dimensionless]
        Relative humidity, above 0 to 100 %.
    temperature : Quantity [temperature]
        Of the air, 0 to 100 °C.

    Returns
    -------
    Quantity [degC]

    Raises
    ------
    BadValue, UnitMismatch
    OutOfRange
        The dew point lies below 0 °C, where frost forms and the formula does not hold.

    Notes
    -----
    The saturation formula of :func:`saturation_pressure` inverted by Newton's method to better
    than 1e-9 K, so the doubt is that of the formula (under 0.01 K).

    Examples
    --------
    >>> print(f"{dew_point(Q_(50, 'percent'), temperature=Q_(23, 'degC')):.1f~P}")
    12.0 °C
    """
    return Q_(_dew_point_si(to_humidity(humidity), _air_celsius(temperature)), "degC")


def _dew_point_si(fraction: float, celsius: float) -> float:
    return dew_celsius(_vapour_pressure_si(fraction, celsius))


def absolute_humidity(humidity: Quantity, *, temperature: Quantity) -> Quantity:
    r"""Give the mass of water vapour in a volume of air.

    Parameters
    ----------
    humidity : Quantity [dimensionless]
        Relative humidity, 0 to 100 %.
    temperature : Quantity [temperature]
        Of the air, 0 to 100 °C.

    Returns
    -------
    Quantity [g/m**3]

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange

    Notes
    -----
    .. math:: \rho_v = e / (R_v T), \quad R_v = 461.523\ \mathrm{J/(kg\,K)}

    Water vapour as an ideal gas: 0.2 % low at 23 °C, 0.6 % low at 60 °C and saturation.
    """
    return Q_(_vapour_density_si(to_humidity(humidity), _air_celsius(temperature)) * 1000, "g/m^3")


def _vapour_density_si(fraction: float, celsius: float) -> float:
    return _vapour_pressure_si(fraction, celsius) / (VAPOUR_CONSTANT * (celsius + ZERO_CELSIUS))


def humidity_at_surface(
    humidity: Quantity, *, temperature: Quantity, surface_temperature: Quantity
) -> Quantity:
    """Give the relative humidity that a surface colder or warmer than the air sees.

    Parameters
    ----------
    humidity : Quantity [dimensionless]
        Relative humidity of the air, 0 to 100 %.
    temperature : Quantity [temperature]
        Of the air, 0 to 100 °C.
    surface_temperature : Quantity [temperature]
        0 to 100 °C.

    Returns
    -------
    Quantity [percent]
        Above 100 % means that water condenses on the surface; it is not cut off at 100 %.

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange

    Notes
    -----
    The vapour pressure at the surface is that of the air, e/p_sat(surface).

    Examples
    --------
    >>> seen = humidity_at_surface(
    ...     Q_(98, "percent"), temperature=Q_(23, "degC"), surface_temperature=Q_(24, "degC")
    ... )
    >>> print(f"{seen:.1f~P}")
    92.3 %
    """
    celsius, fraction = _air_celsius(temperature), to_humidity(humidity)
    surface = _air_celsius(surface_temperature, "surface temperature")
    return Q_(100 * _vapour_pressure_si(fraction, celsius) / pressure_pa(surface), "percent")


def allowed_wall_drop(humidity: Quantity, *, temperature: Quantity) -> Quantity:
    """Give how much colder than the air a wall may be before it becomes wet.

    Parameters
    ----------
    humidity : Quantity [dimensionless]
        Relative humidity of the air, above 0 to 100 %.
    temperature : Quantity [temperature]
        Of the air, 0 to 100 °C.

    Returns
    -------
    Quantity [kelvin]
        Air temperature less dew point, 0 at 100 %.

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange

    Examples
    --------
    >>> print(f"{allowed_wall_drop(Q_(98, 'percent'), temperature=Q_(23, 'degC')):.2f~P}")
    0.33 K
    """
    celsius = _air_celsius(temperature)
    return Q_(celsius - _dew_point_si(to_humidity(humidity), celsius), "kelvin")


def condensation_margin(humidity: Quantity, *, temperature: Quantity, wall_temperature: Quantity) -> Quantity:
    """Give how far a wall is above the dew point of the air.

    Parameters
    ----------
    humidity : Quantity [dimensionless]
        Relative humidity of the air, above 0 to 100 %.
    temperature : Quantity [temperature]
        Of the air, 0 to 100 °C.
    wall_temperature : Quantity [temperature]
        Of the wall, lid or item, -40 to 100 °C.

    Returns
    -------
    Quantity [kelvin]
        Wall less dew point: above zero the wall stays dry, zero or below it becomes wet.

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange
    """
    dew = _dew_point_si(to_humidity(humidity), _air_celsius(temperature))
    wall = check_celsius(wall_temperature, field="wall temperature", low=-40.0, high=100.0, why=_CHECK_UNIT)
    return Q_(wall - dew, "kelvin")


def humidity_over_water(*, water_temperature: Quantity, air_temperature: Quantity) -> Quantity:
    """Give the relative humidity that pure water can bring to air of another temperature.

    Parameters
    ----------
    water_temperature : Quantity [temperature]
        Of the water surface, 0 to 100 °C, not above that of the air.
    air_temperature : Quantity [temperature]
        0 to 100 °C.

    Returns
    -------
    Quantity [percent]
        100 % if both are equally warm.

    Raises
    ------
    BadValue, UnitMismatch
    OutOfRange
        Water warmer than the air: it never comes to rest, it fogs and runs down the walls.

    Notes
    -----
    At rest, p_sat(water)/p_sat(air).  A tray that feeds a thirsty item stays below this, and the
    water cools as it evaporates.

    Examples
    --------
    >>> at_rest = humidity_over_water(
    ...     water_temperature=Q_(22.67, "degC"), air_temperature=Q_(23, "degC")
    ... )
    >>> print(f"{at_rest:.1f~P}")
    98.0 %
    """
    water = _air_celsius(water_temperature, "water temperature")
    air = _air_celsius(air_temperature)
    if water > air:
        remedy = "Let the water come to room temperature: warmer water fogs the chamber and drips"
        raise OutOfRange("water temperature", f"{water:g} °C", f"at most that of the air, {air:g} °C", remedy)
    return Q_(100 * pressure_pa(water) / pressure_pa(air), "percent")


def water_in_air(
    volume: Quantity, *, temperature: Quantity, humidity_from: Quantity, humidity_to: Quantity
) -> Quantity:
    """Give the water that a volume of air takes up or gives off between two humidities.

    Parameters
    ----------
    volume : Quantity [length**3]
        Of the chamber, above 0.
    temperature : Quantity [temperature]
        Of the air, 0 to 100 °C, the same before and after.
    humidity_from, humidity_to : Quantity [dimensionless]
        Relative humidity before and after, 0 to 100 %.

    Returns
    -------
    Quantity [g]
        Above zero if the air takes water up.

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange

    Examples
    --------
    >>> gain = water_in_air(
    ...     Q_(60, "litre"),
    ...     temperature=Q_(22, "degC"),
    ...     humidity_from=Q_(45, "percent"),
    ...     humidity_to=Q_(80, "percent"),
    ... )
    >>> print(f"{gain:.2f~P}")
    0.41 g
    """
    cubic_metres = to_float(volume, "m^3", field="chamber volume", low=1e-6, high=1000.0)
    celsius = _air_celsius(temperature)
    before, after = to_humidity(humidity_from), to_humidity(humidity_to)
    gain = _vapour_density_si(after, celsius) - _vapour_density_si(before, celsius)
    return Q_(1000 * cubic_metres * gain, "g")
