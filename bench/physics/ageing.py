r"""What a treatment costs in ageing: days at 20 °C and 50 % RH that would age paper as much."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from bench.errors import OutOfRange
from bench.physics.exposure import Exposure, read_history
from bench.units import Q_, Quantity, to_float, to_humidity

_GAS = 8.314462618  # J/(mol K), CODATA
_REFERENCE_KELVIN = 293.15
_REFERENCE_HUMIDITY = 0.50
PAPER_ENERGY = Q_(100, "kJ/mol")
"""Activation energy of the ageing of paper in Michalski's multiplier; 70 kJ/mol for yellowing."""

_STRLIC_DATA_PERCENT = 80.0  # above it the equation is carried beyond its data


@dataclass(frozen=True)
class AgeingCost:
    """Equivalent days at 20 °C and 50 % RH, by two sources.

    Attributes
    ----------
    michalski : Quantity [day]
        By the lifetime multiplier with 100 kJ/mol.
    strlic : Quantity [day]
        By the equation for cellulose in historic paper.
    words : str
        Both in a sentence, with what is doubtful about them.
    """

    michalski: Quantity
    strlic: Quantity
    words: str


def lifetime_multiplier(
    *, temperature: Quantity, humidity: Quantity, activation_energy: Quantity = PAPER_ENERGY
) -> Quantity:
    r"""Give how many times longer paper lasts than at 20 °C and 50 % RH (Michalski).

    Parameters
    ----------
    temperature : Quantity [temperature]
        -20 to 100 °C.
    humidity : Quantity, dimensionless
        5 to 100 % RH: in dry air the power law would promise eternity.
    activation_energy : Quantity [energy/substance]
        100 kJ/mol for paper, 70 for yellowing; 40 to 150 kJ/mol allowed.

    Returns
    -------
    Quantity, dimensionless
        Below 1 it ages faster.

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange

    Notes
    -----
    .. math:: LM = \left(\frac{50}{RH}\right)^{1.3}
              \exp\!\left[\frac{E_a}{R}\left(\frac1T - \frac1{293.15}\right)\right]

    From [michalski2002]_ (from memory).

    Examples
    --------
    >>> print(f"{lifetime_multiplier(temperature=Q_(22, 'degC'), humidity=Q_(98, '%')).magnitude:.3f}")
    0.316
    """
    celsius = to_float(temperature, "degC", field="temperature")
    energy = to_float(
        activation_energy,
        "J/mol",
        field="activation energy",
        low=4e4,
        high=1.5e5,
        remedy="Take 70 or 100 kJ/mol",
    )
    return Q_(1 / _michalski_rate(celsius, to_humidity(humidity), energy), "")


def _check_range(celsius: float, fraction: float) -> None:
    if not -20 <= celsius <= 100:
        raise OutOfRange("temperature", f"{celsius:g} °C", "-20 to 100 °C", "Ageing laws do not reach there")
    if not fraction >= 0.05:
        raise OutOfRange(
            "relative humidity",
            f"{100 * fraction:g} %",
            "5 to 100 %",
            "In dry air ageing follows another law",
        )


def _michalski_rate(celsius: float, fraction: float, energy: float = 1e5) -> float:
    _check_range(celsius, fraction)
    heat = energy / _GAS * (1 / _REFERENCE_KELVIN - 1 / (celsius + 273.15))
    return float((fraction / _REFERENCE_HUMIDITY) ** 1.3 * math.exp(heat))


def moisture_in_paper(*, temperature: Quantity, humidity: Quantity) -> Quantity:
    r"""Give the moisture content that the equation of Strlic and others takes for paper.

    Parameters
    ----------
    temperature : Quantity [temperature]
        -20 to 100 °C.
    humidity : Quantity, dimensionless
        Relative humidity, 0 to 99.9 %.

    Returns
    -------
    Quantity, dimensionless
        Water over dry mass.

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange

    Notes
    -----
    .. math:: X = \left[\frac{\ln(1 - RH)}{1.67\,t - 285.655}\right]^{1/(2.491 - 0.012\,t)}

    with *t* in °C, after Paltakari and Karlsson as quoted in [strlic2015]_ (from memory).  Only
    for use with that equation: other isotherms of this workbook fit papers better.
    """
    celsius = to_float(temperature, "degC", field="temperature", low=-20.0, high=100.0)
    return Q_(_paltakari(celsius, to_humidity(humidity)), "")


def _paltakari(celsius: float, fraction: float) -> float:
    if fraction > 0.999:
        raise OutOfRange(
            "relative humidity", f"{100 * fraction:g} %", "0 to 99.9 %", "At 100 % the isotherm has no end"
        )
    power = 1 / (2.491 - 0.012 * celsius)
    return float((math.log1p(-fraction) / (1.67 * celsius - 285.655)) ** power)


def degradation_rate(
    *, temperature: Quantity, humidity: Quantity, acidity: float, moisture_content: Quantity | None = None
) -> Quantity:
    r"""Give the rate at which the cellulose of a paper breaks (Strlic and others).

    Parameters
    ----------
    temperature : Quantity [temperature]
        -20 to 100 °C.
    humidity : Quantity, dimensionless
        5 to 99.9 % RH.
    acidity : float
        pH of the cold extract, 3 to 10.
    moisture_content : Quantity, dimensionless, optional
        If it is not the one in equilibrium (a sealed, heated stack).

    Returns
    -------
    Quantity [1/year]
        Of 1/DP.

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange

    Notes
    -----
    .. math:: \ln k = 36.981 + 36.72\,X + 0.244 \ln[H^+] - 14300/T, \qquad
              1/DP - 1/DP_0 = k t

    From [strlic2015]_ (from memory).  Rag and bleached papers; groundwood lies outside its data.

    Examples
    --------
    >>> k = degradation_rate(temperature=Q_(20, "degC"), humidity=Q_(50, "percent"), acidity=7)
    >>> print(f"{k.magnitude:.2e}")
    2.13e-06
    """
    if not 3 <= acidity <= 10:
        raise OutOfRange("pH", acidity, "3 to 10", "Measure it again")
    celsius = to_float(temperature, "degC", field="temperature")
    water = None
    if moisture_content is not None:
        water = to_float(moisture_content, "", field="moisture content", low=0.0, high=0.5)
    logarithm = _strlic_log(celsius, to_humidity(humidity), water)
    return Q_(math.exp(36.981 + logarithm - 0.244 * acidity * math.log(10)), "1/year")


def _strlic_log(celsius: float, fraction: float, moisture: float | None) -> float:
    """Give the part of ln k that depends on temperature and water."""
    _check_range(celsius, fraction)
    water = _paltakari(celsius, fraction) if moisture is None else moisture
    return 36.72 * water - 14300 / (celsius + 273.15)


def equivalent_days(history: Iterable[Exposure]) -> AgeingCost:
    """Give what a history costs in ageing, as days at 20 °C and 50 % RH.

    Parameters
    ----------
    history : iterable of Exposure
        In any order.  A step with its own moisture content (a stack heated with its water in it)
        uses it in the second source.

    Returns
    -------
    AgeingCost

    Raises
    ------
    BadValue
    OutOfRange
        A step below 5 % RH or, without its own moisture content, above 99.9 %.

    Notes
    -----
    Sum of duration times rate over the rate at 20 °C and 50 % RH, by
    :func:`lifetime_multiplier` and by :func:`degradation_rate`, in which the pH cancels.

    Examples
    --------
    >>> day = Exposure(Q_(24, "hour"), Q_(22, "degC"), Q_(98, "percent"))
    >>> print(f"{equivalent_days([day]).michalski:.1f~P}")
    3.2 d
    """
    steps = read_history(history)
    reference = _strlic_log(20.0, _REFERENCE_HUMIDITY, None)
    first = math.fsum(s.hours / 24 * _michalski_rate(s.celsius, s.fraction) for s in steps)
    second = math.fsum(
        s.hours / 24 * math.exp(_strlic_log(s.celsius, s.fraction, s.moisture) - reference) for s in steps
    )
    words = (
        f"As much ageing as {first:.1f} days at 20 °C and 50 % RH by one law (Michalski), {second:.1f} by "
        "another (Strlič and others). How humidity counts is not settled."
    )
    if any(100 * s.fraction > _STRLIC_DATA_PERCENT and s.hours > 0 for s in steps):
        words += " The second is carried beyond its data above 80 % RH and is likely too high there."
    return AgeingCost(Q_(first, "day"), Q_(second, "day"), words)
