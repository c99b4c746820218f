"""What paper holds: moisture content against relative humidity, and the water that moves.

The published isotherms of paper disagree; every result carries the interval that they span.
"""

from __future__ import annotations

from bench.errors import OutOfRange
from bench.physics.isotherms import (
    HIGHEST_ACTIVITY,
    Isotherm,
    alternatives,
    isotherm_name,
    isotherm_of,
    with_each_carrier,
)
from bench.physics.ranges import Range
from bench.physics.saturation import check_celsius
from bench.units import Q_, Quantity, to_float, to_humidity

STANDARD_TEMPERATURE = Q_(23.0, "degC")
"""Standard atmosphere for paper, [iso187]_."""


def check_temperature(temperature: Quantity, *, field: str = "temperature of the paper") -> float:
    """Check a temperature for the isotherms and give it in °C, 10 to 70."""
    remedy = "The isotherms are not known there: take a temperature within this range"
    return check_celsius(temperature, field=field, low=10.0, high=70.0, why=remedy)


def check_activity(humidity: Quantity, *, field: str = "relative humidity") -> float:
    """Check a relative humidity for the isotherms and give it as a fraction from 0 to 0.99."""
    activity = to_humidity(humidity, field=field)
    if activity > HIGHEST_ACTIVITY:
        remedy = "Nearer to 100 % paper fills with liquid water and no isotherm holds"
        raise OutOfRange(field, f"{100 * activity:g} %", f"0 to {100 * HIGHEST_ACTIVITY:g} %", remedy)
    return activity


def say_isotherm(paper: str, temperature: Quantity) -> str:
    """Say which isotherm a paper is taken to follow at a temperature."""
    celsius = check_temperature(temperature)
    name = isotherm_name(paper)
    whose = f"isotherm of {name}" if name == paper else f"isotherm of {name} as a stand-in for {paper}"
    carried = "" if 20 <= celsius <= 28 else f"; carried to {celsius:g} °C by two models of pulp"
    return f"{whose[0].upper()}{whose[1:]}{carried}."


def _all_fits(paper: str) -> tuple[Isotherm, ...]:
    fits = (isotherm_of(paper), *alternatives(paper))
    return tuple(part for fit in fits for part in with_each_carrier(fit))


def moisture_content(
    paper: str, humidity: Quantity, *, temperature: Quantity = STANDARD_TEMPERATURE
) -> Range:
    r"""Estimate the moisture content of a paper at rest in air.

    Parameters
    ----------
    paper : str
        Name in the materials table, e.g. ``"newsprint"``, ``"copy paper 24 lb"``, ``"blotter"``, or of a
        fit: ``"writing paper"``, ``"chemical pulp"``, ``"bleached pulp"``.
    humidity : Quantity [dimensionless]
        Relative humidity of the air, 0 to 99 %.
    temperature : Quantity [temperature]
        10 to 70 °C.

    Returns
    -------
    Range [dimensionless]
        Mass of water over dry mass, with the interval that the published fits span.

    Raises
    ------
    NotFound
        The material has no isotherm and none stands in for it.
    OutOfRange
        Above 99 % RH, or outside 10 to 70 °C.

    Notes
    -----
    .. math:: X = \frac{m C K a}{(1 - K a)(1 - K a + C K a)}

    GAB fitted to tabulated papers, 10 to 90 % RH at 24 °C [ashrae-regain]_; chemical pulp
    [heikkila1993]_; bleached pulp [tryding2022]_.  No hysteresis: paper that dries holds about 0.01
    more.  Other temperatures: see :class:`bench.physics.isotherms.Gab`.  Above 90 % RH the fits are carried
    on past their data and disagree widely.

    Examples
    --------
    >>> held = moisture_content("newsprint", Q_(50, "percent"), temperature=Q_(24, "degC"))
    >>> print(held.say("percent"))
    6.7 % (5.3 to 8.9)
    """
    activity, celsius = check_activity(humidity), check_temperature(temperature)
    value = isotherm_of(paper).content(activity, celsius)
    others = (fit.content(activity, celsius) for fit in _all_fits(paper))
    return Range.spanning(value, others, "")


def water_to_take_up(
    dry: Quantity,
    *,
    paper: str,
    humidity_from: Quantity,
    humidity_to: Quantity,
    temperature: Quantity = STANDARD_TEMPERATURE,
) -> Range:
    """Estimate the water that paper must take up to come from one humidity to another.

    Parameters
    ----------
    dry : Quantity [mass]
        Dry mass of the paper, above 0 (see :func:`dry_mass`).
    paper : str
        As in :func:`moisture_content`.
    humidity_from, humidity_to : Quantity [dimensionless]
        0 to 99 %.
    temperature : Quantity [temperature]
        10 to 70 °C, the same before and after.

    Returns
    -------
    Range [g]
        Below zero if it gives water off.

    Raises
    ------
    NotFound, OutOfRange
        As in :func:`moisture_content`.

    Examples
    --------
    >>> water = water_to_take_up(
    ...     Q_(102, "g"),
    ...     paper="newsprint",
    ...     humidity_from=Q_(50, "percent"),
    ...     humidity_to=Q_(98, "percent"),
    ... )
    >>> print(water.say("g"))
    10 g (8 to 16)
    """
    grams = to_float(dry, "g", field="dry mass", low=0.01, high=1e5)
    before = check_activity(humidity_from, field="relative humidity before")
    after = check_activity(humidity_to, field="relative humidity after")
    celsius = check_temperature(temperature)

    def gain(fit: Isotherm) -> float:
        return grams * (fit.content(after, celsius) - fit.content(before, celsius))

    return Range.spanning(gain(isotherm_of(paper)), (gain(fit) for fit in _all_fits(paper)), "g")


def dry_mass(
    mass: Quantity,
    *,
    paper: str,
    humidity: Quantity,
    temperature: Quantity = STANDARD_TEMPERATURE,
) -> Range:
    """Estimate the dry mass of paper that was weighed at rest in a room.

    Parameters
    ----------
    mass : Quantity [mass]
        As weighed, above 0.
    paper : str
        As in :func:`moisture_content`.
    humidity, temperature : Quantity
        Of the room; 0 to 99 %, 10 to 70 °C.

    Returns
    -------
    Range [g]
        Mass over 1 + X.

    Raises
    ------
    NotFound, OutOfRange
        As in :func:`moisture_content`.
    """
    grams = to_float(mass, "g", field="mass", low=0.01, high=1e5)
    held = moisture_content(paper, humidity, temperature=temperature)
    value, *ends = (grams / (1 + content) for content in held.floats("", field="moisture content"))
    return Range.spanning(value, ends, "g")
