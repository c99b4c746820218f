r"""What a treatment costs in ageing: days at 20 °C and 50 % RH that would age paper as much."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from bench.errors import OutOfRange
from bench.physics.exposure import Exposure, read_history
from bench.physics.saturation import ZERO_CELSIUS
from bench.units import Q_, Quantity

_GAS = 8.314462618  # J/(mol K), CODATA
_ENERGY = 1e5  # J/mol, activation energy of the ageing of paper
_REFERENCE_KELVIN = 293.15
_REFERENCE_HUMIDITY = 0.50


@dataclass(frozen=True)
class AgeingCost:
    """Equivalent days at 20 °C and 50 % RH, by two sources.

    Attributes
    ----------
    michalski : Quantity [day]
        By the lifetime multiplier with 100 kJ/mol.
    strlic : Quantity [day]
        By the equation for cellulose in historic paper.
    """

    michalski: Quantity
    strlic: Quantity


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


def _michalski_rate(celsius: float, fraction: float) -> float:
    heat = _ENERGY / _GAS * (1 / _REFERENCE_KELVIN - 1 / (celsius + ZERO_CELSIUS))
    return float((fraction / _REFERENCE_HUMIDITY) ** 1.3 * math.exp(heat))


def _paltakari(celsius: float, fraction: float) -> float:
    """Moisture content that the second law takes; the other isotherms of the workbook fit papers better."""
    if fraction > 0.999:
        raise OutOfRange(
            "relative humidity", f"{100 * fraction:g} %", "0 to 99.9 %", "At 100 % the isotherm has no end"
        )
    power = 1 / (2.491 - 0.012 * celsius)
    return float((math.log1p(-fraction) / (1.67 * celsius - 285.655)) ** power)


def _strlic_log(celsius: float, fraction: float, moisture: float | None) -> float:
    """Give the part of ln k that depends on temperature and water."""
    water = _paltakari(celsius, fraction) if moisture is None else moisture
    return 36.72 * water - 14300 / (celsius + ZERO_CELSIUS)


def equivalent_days(history: Iterable[Exposure]) -> AgeingCost:
    r"""Give what a history costs in ageing, as days at 20 °C and 50 % RH.

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
        Something in it is not an :class:`Exposure`.
    OutOfRange
        A step below -20 °C, below 5 % RH or, without its own moisture content, above 99.9 %.

    Notes
    -----
    Sum of duration times rate over the rate at 20 °C and 50 % RH, by Michalski's lifetime multiplier
    [michalski2002]_ with the activation energy of paper (70 kJ/mol would be that of yellowing), and by
    the equation of Strlič and others [strlic2015]_, both from memory:

    .. math:: LM = \left(\frac{50}{RH}\right)^{1.3}
              \exp\!\left[\frac{E_a}{R}\left(\frac1T - \frac1{293.15}\right)\right], \qquad
              \ln k = 36.981 + 36.72\,X + 0.244 \ln[H^+] - 14300/T

    in which the pH cancels.  Rag and bleached papers; groundwood lies outside the data of the second, which
    above 80 % RH is carried beyond them and likely too high.  How humidity counts is not settled.
    Its moisture content, where a step does not bring its own, is that of Paltakari and Karlsson as quoted
    there, *t* in °C:

    .. math:: X = \left[\frac{\ln(1 - RH)}{1.67\,t - 285.655}\right]^{1/(2.491 - 0.012\,t)}

    Examples
    --------
    >>> day = Exposure(Q_(24, "hour"), Q_(22, "degC"), Q_(98, "percent"))
    >>> print(f"{equivalent_days([day]).michalski:.1f~P}")
    3.2 d
    """
    steps = read_history(history)
    for step in steps:
        _check_range(step.celsius, step.fraction)
    reference = _strlic_log(20.0, _REFERENCE_HUMIDITY, None)
    first = math.fsum(s.hours / 24 * _michalski_rate(s.celsius, s.fraction) for s in steps)
    second = math.fsum(
        s.hours / 24 * math.exp(_strlic_log(s.celsius, s.fraction, s.moisture) - reference) for s in steps
    )
    return AgeingCost(Q_(first, "day"), Q_(second, "day"))
