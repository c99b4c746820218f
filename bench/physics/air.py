"""Psychrometrics of a chamber: how much water its air holds, and where it condenses."""

from __future__ import annotations

from bench.physics.saturation import check_celsius, dew_celsius, pressure_pa, vapour_density
from bench.units import Q_, Quantity, to_float, to_humidity

_CHECK_UNIT = "Check the temperature and its unit (°C or °F)"


def _air_celsius(temperature: Quantity) -> float:
    return check_celsius(temperature, field="air temperature", low=0.0, high=100.0, why=_CHECK_UNIT)


def _vapour_pressure(humidity: Quantity, celsius: float) -> float:
    return to_humidity(humidity) * pressure_pa(celsius)


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
    OutOfRange
        The dew point lies below 0 °C, where frost forms and the formula does not hold.

    Notes
    -----
    The saturation formula inverted by Newton's method to better than 1e-9 K, so the doubt is that of the
    formula (under 0.01 K); see :func:`bench.physics.saturation.pressure_pa`.

    Examples
    --------
    >>> print(f"{dew_point(Q_(50, 'percent'), temperature=Q_(23, 'degC')):.1f~P}")
    12.0 °C
    """
    return Q_(_dew_celsius(humidity, _air_celsius(temperature)), "degC")


def _dew_celsius(humidity: Quantity, celsius: float) -> float:
    return dew_celsius(_vapour_pressure(humidity, celsius))


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
    OutOfRange
        The temperature lies outside 0 to 100 °C, or the dew point below 0 °C.

    Examples
    --------
    >>> print(f"{allowed_wall_drop(Q_(98, 'percent'), temperature=Q_(23, 'degC')):.2f~P}")
    0.33 K
    """
    celsius = _air_celsius(temperature)
    return Q_(celsius - _dew_celsius(humidity, celsius), "kelvin")


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
    OutOfRange
        A temperature lies outside its range, or the dew point below 0 °C.
    """
    dew = _dew_celsius(humidity, _air_celsius(temperature))
    wall = check_celsius(wall_temperature, field="wall temperature", low=-40.0, high=100.0, why=_CHECK_UNIT)
    return Q_(wall - dew, "kelvin")


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
    OutOfRange
        The temperature lies outside 0 to 100 °C.

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
    before, after = (_vapour_pressure(humidity, celsius) for humidity in (humidity_from, humidity_to))
    gain = vapour_density(after, celsius) - vapour_density(before, celsius)
    return Q_(1000 * cubic_metres * gain, "g")
