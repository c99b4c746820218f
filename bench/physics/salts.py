"""Saturated salt solutions: what humidity they hold, and a hygrometer checked against them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bench.errors import BadValue
from bench.materials import has_property, look_up, look_up_note, materials_of_kind
from bench.physics.saturation import ZERO_CELSIUS, check_celsius, pressure_pa
from bench.units import Q_, Quantity, say_value, to_float, to_humidity

_TABLE_CELSIUS = (15.0, 20.0, 25.0, 30.0)  # where the printed uncertainties are held
_SECOND_UNCERTAINTY = 2.0  # % RH, stated for the exponential fit as a whole [crc-humidity]_
_NOTABLE = 1.0  # % RH: half of that; a smaller difference between the fits is not worth a caution
_LARGE_ERROR = 10.0  # % RH: beyond this the set-up is to be doubted before the hygrometer


@dataclass(frozen=True)
class SaltHumidity:
    """The humidity over a saturated salt solution, after two published fits.

    Attributes
    ----------
    salt : str
        Its name in the materials table.
    temperature : Quantity [degC]
        Of solution and air.
    humidity : Quantity [percent]
        Relative humidity over the solution.
    uncertainty : Quantity [percent]
        Expanded uncertainty (about 95 %) in points of relative humidity.
    second_humidity : Quantity [percent] or None
        After the second fit; None where that fit does not hold.
    hazard : str
        In words.
    source : str
        Key of the source.
    cautions : tuple of str
        What to keep in mind with this value.
    """

    salt: str
    temperature: Quantity
    humidity: Quantity
    uncertainty: Quantity
    second_humidity: Quantity | None
    hazard: str
    source: str
    cautions: tuple[str, ...]


def salt_names() -> tuple[str, ...]:
    """List the salts of the table, from the dampest to the driest."""
    return materials_of_kind("salt")


def _greenspan_percent(salt: str, celsius: float) -> float:
    total = 0.0
    for power in range(4):
        name = f"Greenspan A{power}"
        if has_property(salt, name):
            unit = "percent" if power == 0 else f"percent / kelvin**{power}"
            total += look_up(salt, name).number(unit) * celsius**power
    return total


def _printed_uncertainty(salt: str, celsius: float) -> float | None:
    """Interpolate the printed uncertainty, straight between the table's temperatures."""
    if not _TABLE_CELSIUS[0] <= celsius <= _TABLE_CELSIUS[-1]:
        return None
    spreads = []
    for place in _TABLE_CELSIUS:
        uncertainty = look_up(salt, f"humidity at {place:g} degC").uncertainty
        assert uncertainty is not None  # held by the test of the table
        spreads.append(float(uncertainty.to("percent").magnitude))
    index = min(int((celsius - _TABLE_CELSIUS[0]) // 5), len(_TABLE_CELSIUS) - 2)
    share = (celsius - _TABLE_CELSIUS[index]) / 5
    return spreads[index] + share * (spreads[index + 1] - spreads[index])


def _wexler_percent(salt: str, celsius: float) -> float | None:
    if not has_property(salt, "CRC A"):
        return None
    low, high = (look_up(salt, f"CRC {end} temperature").number("degC") for end in ("lowest", "highest"))
    if not low <= celsius <= high:
        return None
    return look_up(salt, "CRC A").number("percent") * math.exp(
        look_up(salt, "CRC B").number("kelvin") / (celsius + ZERO_CELSIUS)
    )


def salt_humidity(salt: str, *, temperature: Quantity) -> SaltHumidity:
    r"""Give the relative humidity over a saturated salt solution, with its doubt and hazard.

    Parameters
    ----------
    salt : str
        One of :func:`salt_names`, e.g. ``"potassium sulphate"``.
    temperature : Quantity [temperature]
        Of solution and air alike, within the range of the fit.

    Returns
    -------
    SaltHumidity
        Two published fits side by side, so that a disagreement shows.

    Raises
    ------
    NotFound
        No such salt in the table.
    OutOfRange
        The temperature lies outside the range of the fit.

    Notes
    -----
    .. math:: RH = A_0 + A_1 t + A_2 t^2 + A_3 t^3

    with t in °C [greenspan1977]_; beside it RH = A exp(B/T), T in K [crc-humidity]_.  The expanded
    uncertainty is the printed one from 15 to 30 °C; outside it the 2 % of the second fit is taken.
    It is that of a still, closed, isothermal vessel: an item that drinks pulls a tray of salt well
    below it.

    Examples
    --------
    >>> salt = salt_humidity("sodium chloride", temperature=Q_(20, "degC"))
    >>> print(f"{salt.humidity:.2f~P} ± {salt.uncertainty:.2f~P}")
    75.48 % ± 0.14 %
    """
    first = look_up(salt, "Greenspan A0")
    lowest, highest = (look_up(salt, f"{end} temperature").value for end in ("lowest", "highest"))
    celsius = check_celsius(
        temperature,
        field=f"temperature of {salt}",
        low=float(lowest.magnitude),
        high=float(highest.magnitude),
        why="The published fit ends there: bring the chamber to room temperature or take another salt",
    )
    percent = _greenspan_percent(salt, celsius)
    printed = _printed_uncertainty(salt, celsius)
    uncertainty = _SECOND_UNCERTAINTY if printed is None else printed
    second = _wexler_percent(salt, celsius)
    return SaltHumidity(
        salt=salt,
        temperature=Q_(celsius, "degC"),
        humidity=Q_(percent, "percent"),
        uncertainty=Q_(uncertainty, "percent"),
        second_humidity=None if second is None else Q_(second, "percent"),
        hazard=look_up_note(salt, "hazard").text,
        source=first.source,
        cautions=_salt_cautions(percent, uncertainty, second, printed is None),
    )


def _salt_cautions(
    percent: float, uncertainty: float, second: float | None, outside: bool
) -> tuple[str, ...]:
    cautions = []
    if outside:
        cautions.append(
            "No printed uncertainty is held below 15 °C or above 30 °C: "
            f"± {_SECOND_UNCERTAINTY:g} % is taken."
        )
    if second is not None and abs(second - percent) > max(uncertainty, _NOTABLE):
        cautions.append(
            f"A second published fit gives {second:.1f} %, outside ± {uncertainty:.1f} % of {percent:.1f} %."
        )
    return tuple(cautions)


@dataclass(frozen=True)
class HygrometerCheck:
    """A hygrometer compared with the humidity over a salt.

    Attributes
    ----------
    reading : Quantity [percent]
        What the hygrometer showed.
    expected : SaltHumidity
        What the salt holds.
    error : Quantity [percent]
        Reading less expected, in points of relative humidity.
    uncertainty : Quantity [percent]
        Expanded uncertainty of the error (about 95 %).
    verdict : str
        ``"agrees"``, ``"reads high"`` or ``"reads low"``.
    correction : Quantity [percent]
        To be added to readings near this humidity; zero when it agrees.
    words : str
        The result as one sentence.
    cautions : tuple of str
        What could make this check wrong.
    """

    reading: Quantity
    expected: SaltHumidity
    error: Quantity
    uncertainty: Quantity
    verdict: str
    correction: Quantity
    words: str
    cautions: tuple[str, ...]


def check_hygrometer(
    reading: Quantity, *, salt: str, temperature: Quantity, instrument_uncertainty: Quantity
) -> HygrometerCheck:
    """Check a hygrometer against a saturated salt.

    Parameters
    ----------
    reading : Quantity [dimensionless]
        Relative humidity shown after it has come to rest, 0 to 100 %.
    salt : str
        One of :func:`salt_names`.
    temperature : Quantity [temperature]
        Of salt, air and sensor.
    instrument_uncertainty : Quantity [dimensionless]
        Expanded uncertainty of the reading as an instrument (resolution, repeatability), in points
        of relative humidity, above 0 to 20 %.

    Returns
    -------
    HygrometerCheck
        It agrees when the error is no larger than its expanded uncertainty: the root sum of squares
        of those of salt and instrument.

    Raises
    ------
    NotFound
        No such salt in the table.
    OutOfRange
        The temperature lies outside the range of the fit.

    Examples
    --------
    >>> check = check_hygrometer(
    ...     Q_(78.5, "percent"),
    ...     salt="sodium chloride",
    ...     temperature=Q_(22, "degC"),
    ...     instrument_uncertainty=Q_(1, "percent"),
    ... )
    >>> print(check.verdict)
    reads high
    """
    shown = 100 * to_humidity(reading, field="hygrometer reading")
    expected = salt_humidity(salt, temperature=temperature)
    own = to_float(instrument_uncertainty, "percent", field="instrument uncertainty", low=0.0, high=20.0)
    if own == 0:
        remedy = "Take at least half of the last digit shown"
        raise BadValue("instrument uncertainty", "0 %", "above 0 to 20 %", remedy)
    held = float(expected.humidity.magnitude)
    error = shown - held
    spread = math.hypot(own, float(expected.uncertainty.magnitude))
    verdict = "agrees" if abs(error) <= spread else ("reads high" if error > 0 else "reads low")
    correction = 0.0 if verdict == "agrees" else -error
    celsius = float(expected.temperature.magnitude)
    kelvin = held * (1 - pressure_pa(celsius) / pressure_pa(celsius + 1))
    caution = (
        f"One kelvin between salt and sensor is about {kelvin:.0f} % RH here: "
        "leave both closed together, out of sun and draught, until the reading rests."
    )
    cautions = [caution, *expected.cautions]
    if abs(error) > _LARGE_ERROR:
        cautions.append(
            "An error this large points to the wrong salt, a tray run dry or wet, or a dead sensor: repeat "
            "the check before any correction is used."
        )
    return HygrometerCheck(
        reading=Q_(shown, "percent"),
        expected=expected,
        error=Q_(error, "percent"),
        uncertainty=Q_(spread, "percent"),
        verdict=verdict,
        correction=Q_(correction, "percent"),
        words=_say_check(verdict, error, spread, held),
        cautions=tuple(cautions),
    )


def _say_check(verdict: str, error: float, spread: float, held: float) -> str:
    if verdict == "agrees":
        return (
            f"The hygrometer agrees with the salt at {held:.0f} % RH: "
            f"error {say_value(error, spread, '% RH')}, no correction."
        )
    way = "take off" if error > 0 else "add"
    return (
        f"The hygrometer {verdict} by {say_value(abs(error), spread, '% RH')}: "
        f"{way} {abs(error):.1f} % near {held:.0f} % RH."
    )
