r"""Water vapour in air and in paper: what the estimates of uptake and supply rest on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from bench.errors import BadValue, OutOfRange
from bench.physics import saturation
from bench.physics.ranges import Estimate, Range, RangeLike, Triple, as_range, spread
from bench.units import Q_, Quantity, to_float, to_humidity

STILL_AIR_FILM = Range(Q_(2.5, "mm/s"), Q_(1.0, "mm/s"), Q_(3.0, "mm/s"))
"""Vapour film on an object in a closed, unstirred chamber: 1 to 3 W/(m2 K) by Lewis, from memory."""

COVER_AS_AIR = Range(Q_(20, "mm"), Q_(5, "mm"), Q_(60, "mm"))
"""A coated cover, or a silicone release sheet, as a layer of still air: 0.1 mm at a transport ratio of 0.005.
No source.  Of a release sheet it is the dense base paper that counts: films of silicone 8 to 15 um thick let
through up to 60 % of what bare air does in the same cup [silicone2021]_, and a release coat is about 1 um."""


def air_diffusivity(*, temperature: Quantity) -> Quantity:
    r"""Give the diffusivity of water vapour in air at normal pressure.

    Parameters
    ----------
    temperature : Quantity [temperature]
        0 to 100 °C.

    Returns
    -------
    Quantity [m**2/s]

    Raises
    ------
    BadValue, UnitMismatch

    Notes
    -----
    .. math:: D = 2.306 \times 10^{-5} (T / 273.15)^{1.81}

    After Schirmer, as in the library [hamopy]_.

    Examples
    --------
    >>> print(f"{air_diffusivity(temperature=Q_(22, 'degC')).to('mm^2/s').magnitude:.2f}")
    26.53
    """
    return Q_(_air_diffusivity_si(_kelvin(temperature)), "m^2/s")


def _kelvin(temperature: Quantity) -> float:
    remedy = "Check the temperature and its unit (°C or °F)"
    celsius = saturation.check_celsius(temperature, field="temperature", low=0.0, high=100.0, why=remedy)
    return celsius + saturation.ZERO_CELSIUS


def _air_diffusivity_si(kelvin: float) -> float:
    return float(2.306e-5 * (kelvin / 273.15) ** 1.81)


def _air_permeability_si(kelvin: float) -> float:
    """Vapour permeability of still air, kg/(m s Pa)."""
    return _air_diffusivity_si(kelvin) / (saturation.VAPOUR_CONSTANT * kelvin)


def vapour_film(*, heat_film: RangeLike) -> Range:
    r"""Turn a heat transfer coefficient of air into that of water vapour (Lewis).

    Parameters
    ----------
    heat_film : Quantity or range [W/(m**2 K)]
        Still chamber about 1 to 3, gentle fan about 10; allowed 0.1 to 100.

    Returns
    -------
    Range [m/s]

    Raises
    ------
    BadValue, UnitMismatch

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
    factor = 1 / (1.196 * 1006.0 * 0.83 ** (2 / 3))
    return Range(*(Q_(value * factor, "m/s") for value in heat))


FANNED_FILM = vapour_film(heat_film=(Q_(10, "W/m^2/K"), Q_(5, "W/m^2/K"), Q_(20, "W/m^2/K")))
"""Vapour film with a small fan in the chamber: 5 to 20 W/(m2 K) by Lewis, from memory."""


def moisture_diffusivity(
    *,
    transport_ratio: RangeLike,
    density: RangeLike,
    isotherm_slope: RangeLike,
    temperature: Quantity,
) -> Estimate:
    r"""Estimate the diffusivity of moisture through the thickness of a pile of paper.

    Parameters
    ----------
    transport_ratio : Quantity or range, dimensionless
        Diffusivity of vapour in the pile over that in still air; 0.001 to 1.  Paper of
        500 to 900 kg/m3: about 0.01 to 0.1 (from memory, [nilsson1993]_).  The largest doubt
        of all; weigh the item in the chamber to do better.
    density : Quantity or range [kg/m**3]
        Dry mass over volume of the pile, 100 to 1600.
    isotherm_slope : Quantity or range, dimensionless
        Gain of moisture content (kg/kg) per unit of relative humidity, more than 0, at most
        20; see :func:`absorption_slope`.
    temperature : Quantity [temperature]
        0 to 100 °C.

    Returns
    -------
    Estimate [m**2/s]

    Raises
    ------
    BadValue, UnitMismatch

    Notes
    -----
    .. math:: D_m = \frac{r\, D_{air}}{R_v T} \cdot \frac{p_{sat}}{\rho\, dX/d\varphi}

    Isothermal diffusion of vapour with local equilibrium between vapour and fibre, as in
    [crank1975]_ (diffusion with a linear isotherm); transport in the fibre wall counts in
    the ratio.
    """
    pile = Pile.read(transport_ratio, density, isotherm_slope, temperature)
    numbers = spread(
        lambda ratio, dry, slope: pile.delta(ratio) * pile.saturation / (dry * slope),
        ratio=pile.ratio,
        dry=pile.density,
        slope=pile.slope,
    )
    return Estimate.of(
        numbers,
        "m^2/s",
        assumption="Vapour diffuses through the thickness, fibre and vapour are in balance at every place.",
    )


@dataclass(frozen=True)
class StepSlope(Range):
    r"""Slope of a bent isotherm over a step of humidity, as the estimates of uptake need it.

    Attributes
    ----------
    value, low, high : Quantity, dimensionless
        Low: the chord of the step; high: the slope at its end; value: the mean of the two.

    Notes
    -----
    The further the uptake has come, the more water each further per cent of humidity takes.  The
    slope that makes a constant diffusivity come out right at a share *U* of the uptake is taken as

    .. math:: s(U) = s_{chord} \left(\frac{s_{value}}{s_{chord}}\right)^{0.37 + 0.85\,U^3}

    fitted here to solutions with the full isotherm (three papers, steps from 35 or 50 % to 80,
    90, 95 and 98 % RH): times to 50 to 95 % of the uptake agree within 15 %, to 30 % within 25 %.
    The early end is near the weighted mean diffusivity of [crank1975]_.
    """

    def at(self, uptake: Any) -> Any:
        """Give the slope for a share of the uptake (a plain number, or an array of them)."""
        mean, chord, _ = self.floats("", field="isotherm slope")
        return chord * (mean / chord) ** (0.37 + 0.85 * uptake**3)


def absorption_slope(
    *,
    start_humidity: Quantity,
    start_moisture: Quantity,
    end_humidity: Quantity,
    end_moisture: Quantity,
    end_slope: Quantity,
) -> StepSlope:
    """Give the isotherm slope of a step of humidity, for the estimates of uptake.

    Parameters
    ----------
    start_humidity, end_humidity : Quantity, dimensionless
        Relative humidity of the step; the end above the start.
    start_moisture, end_moisture : Quantity, dimensionless
        Moisture content (dry basis) in equilibrium with them.
    end_slope : Quantity, dimensionless
        Slope of the isotherm (kg/kg per unit of relative humidity) at the end of the step.

    Returns
    -------
    StepSlope

    Raises
    ------
    BadValue, UnitMismatch
        Among others if the end slope is below the chord: the isotherm is not bent upwards.
    OutOfRange
        The end slope is more than 20 times the chord.

    Examples
    --------
    >>> slope = absorption_slope(start_humidity=Q_(50, "percent"), start_moisture=Q_(0.053, ""),
    ...                          end_humidity=Q_(98, "percent"), end_moisture=Q_(0.128, ""),
    ...                          end_slope=Q_(0.33, ""))
    >>> print(slope.say(""))
    0.24 (0.16 to 0.33)
    """
    start = to_humidity(start_humidity, field="relative humidity at the start")
    end = to_humidity(end_humidity, field="relative humidity at the end")
    dry = to_float(start_moisture, "", field="moisture content at the start", low=0.0, high=1.0)
    damp = to_float(end_moisture, "", field="moisture content at the end", low=0.0, high=1.0)
    last = to_float(end_slope, "", field="slope of the isotherm at the end", low=0.0)
    if not (end > start and damp > dry):
        raise BadValue(
            "humidity step",
            f"{start:.0%} to {end:.0%} RH, moisture {dry:.1%} to {damp:.1%}",
            "a rise of both",
            "Give the start before the end",
        )
    chord = (damp - dry) / (end - start)
    if last < chord * (1 - 1e-9):
        raise BadValue(
            "slope of the isotherm at the end",
            f"{last:.3g}",
            f"at least the chord of the step, {chord:.3g}",
            "Take the step from 35 % RH or more, or give the slope as a range yourself",
        )
    if last > 20 * chord:
        raise OutOfRange(
            "slope of the isotherm at the end",
            f"{last:.3g}",
            f"at most 20 times the chord, {20 * chord:.3g}",
            "End the step below 99 % RH: no isotherm is known well beyond",
        )
    last = max(last, chord)  # a straight isotherm, but for rounding
    return StepSlope(Q_((chord + last) / 2, ""), Q_(chord, ""), Q_(last, ""))


@dataclass(frozen=True)
class Pile:
    """A pile of paper as plain numbers (SI), each with its limits; for this room only."""

    ratio: Triple
    density: Triple
    slope: Triple
    kelvin: float
    saturation: float
    bent: StepSlope | None

    @classmethod
    def read(cls, ratio: RangeLike, density: RangeLike, slope: RangeLike, temperature: Quantity) -> Pile:
        """Check the inputs at the boundary."""
        kelvin = _kelvin(temperature)
        return cls(
            as_range(ratio).floats("", field="transport ratio", low=1e-3, high=1.0),
            as_range(density).floats("kg/m^3", field="density", low=100.0, high=1600.0),
            as_range(slope).floats("", field="isotherm slope", low=1e-3, high=20.0),
            kelvin,
            saturation.pressure_pa(kelvin - saturation.ZERO_CELSIUS),
            slope if isinstance(slope, StepSlope) else None,
        )

    def slope_at(self, uptake: Any) -> Any:
        """Give the isotherm slope for a share of the uptake, or for an array of shares."""
        return self.slope[0] + 0 * uptake if self.bent is None else self.bent.at(uptake)

    def delta(self, ratio: float) -> float:
        """Give the vapour permeability of the pile, kg/(m s Pa)."""
        return ratio * _air_permeability_si(self.kelvin)


def water_supply(
    *, area: Quantity, deficit: Quantity, temperature: Quantity, film: RangeLike = STILL_AIR_FILM
) -> Estimate:
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
    Estimate [g/day]

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange

    Notes
    -----
    .. math:: \dot m = h_m A \frac{p_{sat}}{R_v T} \Delta\varphi

    Valid where surface and air are equally warm; a fan raises the film tenfold.

    Examples
    --------
    >>> supply = water_supply(area=Q_(0.1, "m^2"), deficit=Q_(1, "percent"), temperature=Q_(22, "degC"))
    >>> print(f"{supply.value:.1f~P}")
    4.2 g/d
    """
    step = to_humidity(deficit, field="humidity deficit")
    kelvin, square, speeds = _read_surface(area, temperature, film)
    value, low, high = (8.64e7 * _supply_si(square, step, kelvin, speed) for speed in speeds)
    return Estimate.of(
        (value, low, high),
        "g/day",
        assumption="Surface and air are equally warm; the air is still but well mixed beyond its film.",
        cautions=("A salt that is not stirred dries or thins at its surface and gives less.",),
    )


def humidity_deficit(
    *, uptake_rate: RangeLike, area: Quantity, temperature: Quantity, film: RangeLike = STILL_AIR_FILM
) -> Estimate:
    """Estimate how far the air falls below the humidity of its source while the item drinks.

    Parameters
    ----------
    uptake_rate : Quantity or range [mass/time]
        What the item takes up, 0 to 1 kg a day.
    area, temperature, film
        As in :func:`water_supply`, of which this is the inverse.

    Returns
    -------
    Estimate, dimensionless
        In units of relative humidity: 0.035 means 3.5 % RH below the source.

    Raises
    ------
    BadValue, UnitMismatch
    OutOfRange
        The source cannot give that much: more than 100 % RH of difference would be needed, even if
        only at the slowest film believable.
    """
    rates = as_range(uptake_rate).floats("kg/s", field="uptake rate", low=0.0, high=1 / 86400)
    kelvin, square, speeds = _read_surface(area, temperature, film)
    value, low, high = (
        rate / _supply_si(square, 1.0, kelvin, speed)
        for rate, speed in zip(rates, (speeds[0], speeds[2], speeds[1]), strict=True)
    )
    if high > 1:
        raise OutOfRange(
            "uptake rate",
            f"{rates[2] * 3.6e6:.3g} g/h",
            f"at most {_supply_si(square, 1.0, kelvin, speeds[1]) * 3.6e6:.3g} g/h from this surface",
            "Give the source more area or a fan, or expect a slower uptake",
        )
    return Estimate.of(
        (value, low, high),
        "",
        assumption="Surface and air are equally warm; what the item takes up the source must give.",
    )


def _read_surface(area: Quantity, temperature: Quantity, film: RangeLike) -> tuple[float, float, Triple]:
    kelvin = _kelvin(temperature)
    square = to_float(area, "m^2", field="area of the source", low=1e-6, high=10.0)
    return kelvin, square, as_range(film).floats("m/s", field="vapour film", low=1e-4, high=0.1)


def _supply_si(area: float, deficit: float, kelvin: float, film: float) -> float:
    """Mass flow in kg/s."""
    density = saturation.pressure_pa(kelvin - saturation.ZERO_CELSIUS) / (saturation.VAPOUR_CONSTANT * kelvin)
    return film * area * density * deficit
