"""Water vapour in air: what passes a film of it, and what a wet surface gives to a chamber."""

from __future__ import annotations

from bench.physics import saturation
from bench.physics.ranges import Range, RangeLike, as_range
from bench.physics.saturation import VAPOUR_CONSTANT, ZERO_CELSIUS
from bench.units import Q_, Quantity, to_float, to_humidity

STILL_AIR_FILM = Range.of((2.5, 1.0, 3.0), "mm/s")
"""Vapour film on an object in a closed, unstirred chamber: 1 to 3 W/(m2 K) by Lewis, from memory."""

COVER_AS_AIR = Range.of((20, 5, 60), "mm")
"""A coated cover, or a silicone release sheet, as a layer of still air: 0.1 mm at a transport ratio of 0.005.
No source.  Of a release sheet it is the dense base paper that counts: films of silicone 8 to 15 um thick let
through up to 60 % of what bare air does in the same cup [silicone2021]_, and a release coat is about 1 um."""


def air_permeability(celsius: float) -> float:
    """Vapour permeability of still air, kg/(m s Pa): Schirmer's law as in the library [hamopy]_."""
    kelvin = celsius + ZERO_CELSIUS
    return float(2.306e-5 * (kelvin / ZERO_CELSIUS) ** 1.81 / (VAPOUR_CONSTANT * kelvin))


LEWIS = 1.196 * 1006.0 * 0.83 ** (2 / 3)
"""Heat by air over vapour, J/(m3 K): ``rho c_p Le^(2/3)`` at 22 °C; see :func:`vapour_film`."""


def vapour_film(*, heat_film: RangeLike) -> Range:
    r"""Turn a heat transfer coefficient of air into that of water vapour (Lewis).

    Parameters
    ----------
    heat_film : Quantity or range [W/(m**2 K)]
        Still chamber about 1 to 3, gentle fan about 10; allowed 0.1 to 100.

    Returns
    -------
    Range [m/s]

    Notes
    -----
    .. math:: h_m = h / (\rho c_p Le^{2/3})

    with :math:`Le = 0.83` and air at 22 °C (1.196 kg/m3, 1006 J/(kg K)) [incropera]_.  The
    change with temperature between 15 and 60 °C (about 12 %) is far below the doubt in *h*.

    Examples
    --------
    >>> print(vapour_film(heat_film=Q_(3, "W/m^2/K")).value.to("mm/s").round(2))
    2.82 mm/s
    """
    heat = as_range(heat_film).floats("W/m^2/K", field="heat film", low=0.1, high=100.0)
    return Range.of((value * (1 / LEWIS) for value in heat), "m/s")


FANNED_FILM = vapour_film(heat_film=(Q_(10, "W/m^2/K"), Q_(5, "W/m^2/K"), Q_(20, "W/m^2/K")))
"""Vapour film with a small fan in the chamber: 5 to 20 W/(m2 K) by Lewis, from memory."""


def water_supply(
    *, area: Quantity, deficit: Quantity, temperature: Quantity, film: RangeLike = STILL_AIR_FILM
) -> Range:
    r"""Estimate what a wet or slurry surface gives to the air of the chamber in 24 hours.

    Parameters
    ----------
    area : Quantity [area]
        Free surface of the water, slurry or blotter; more than 0, at most 10 m2.
    deficit : Quantity, dimensionless
        Relative humidity at the surface less that of the air; 0 to 100 %.
    temperature : Quantity [temperature]
        Of surface and air (isothermal), 0 to 100 °C.
    film : Quantity or range [length/time]
        Vapour transfer coefficient, 0.1 to 100 mm/s; see :func:`vapour_film`.

    Returns
    -------
    Range [g/day]

    Raises
    ------
    OutOfRange
        The temperature lies outside 0 to 100 °C.

    Notes
    -----
    .. math:: \dot m = h_m A \frac{p_{sat}}{R_v T} \Delta\varphi

    Valid where surface and air are equally warm and the air is well mixed beyond its film; a fan raises the
    film tenfold.  A salt that is not stirred dries or thins at its surface and gives less.

    Examples
    --------
    >>> supply = water_supply(area=Q_(0.1, "m^2"), deficit=Q_(1, "percent"), temperature=Q_(22, "degC"))
    >>> print(f"{supply.value:.1f~P}")
    4.2 g/d
    """
    step = to_humidity(deficit, field="humidity deficit")
    remedy = "Check the temperature and its unit (°C or °F)"
    celsius = saturation.check_celsius(temperature, field="temperature", low=0.0, high=100.0, why=remedy)
    square = to_float(area, "m^2", field="area of the source", low=1e-6, high=10.0)
    speeds = as_range(film).floats("m/s", field="vapour film", low=1e-4, high=0.1)
    density = saturation.vapour_density(saturation.pressure_pa(celsius), celsius)
    return Range.of((8.64e7 * (speed * square * density * step) for speed in speeds), "g/day")
