r"""Moisture into and out of a closed item: how long, how far, and what must supply it.

Estimates with one effective diffusivity.  Vapour is driven by the difference in vapour
pressure through the thickness; the edges are left out, because in a day moisture reaches only
a centimetre or two in from them.  The water a sheet can hold grows with relative humidity, so
the isotherm slope that the estimate needs belongs to the step
(:func:`bench.physics.vapour.absorption_slope`).

What vapour does in air and paper, and what a wet surface can give, is in
:mod:`bench.physics.vapour`; heat has its own module, :mod:`bench.physics.heating`; the
mathematics that both share is in :mod:`bench.physics.slab`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bench.errors import BadValue
from bench.physics import saturation, slab
from bench.physics.ranges import Estimate, RangeLike, Triple, as_range, spread
from bench.physics.vapour import STILL_AIR_FILM, Pile
from bench.units import Q_, Quantity, to_float

_MOST = Q_(90, "percent")  # default share, when nothing else is asked
_NEGLECTED = (
    "Water that the chamber cannot supply lowers its humidity and lengthens the time.",
    "Heat of sorption warms the item by about half a kelvin and slows the uptake a little.",
)


@dataclass(frozen=True)
class Uptake:
    """How far an exchange of moisture has come.

    Attributes
    ----------
    mean : Estimate
        Share of the whole uptake that has been taken up, 0 to 1.
    core : Estimate
        Share of its own whole uptake that the core has taken up, 0 to 1.  Its relative humidity
        runs ahead of its water: read it from the isotherm at that moisture content.
    """

    mean: Estimate
    core: Estimate


@dataclass(frozen=True)
class _Exchange:
    """A pile between its surroundings: everything that the time depends on."""

    pile: Pile
    path: Triple  # from the open face to the middle or the closed face, m
    film: Triple  # m/s
    cover: Triple  # m of still air

    def constants(
        self,
        ratio: float | None = None,
        density: float | None = None,
        path: float | None = None,
        film: float | None = None,
        cover: float | None = None,
    ) -> tuple[float, float]:
        """Time unit L2/D in seconds for a slope of one, and the Biot number; None is the value."""
        ratio = self.pile.ratio[0] if ratio is None else ratio
        density = self.pile.density[0] if density is None else density
        path = self.path[0] if path is None else path
        film = self.film[0] if film is None else film
        cover = self.cover[0] if cover is None else cover
        delta = self.pile.delta(ratio)
        outside = saturation.VAPOUR_CONSTANT * self.pile.kelvin / film + cover / self.pile.delta(1.0)
        return path**2 * density / (delta * self.pile.saturation), path / delta / outside

    def seconds(self, fraction: float, place: str) -> Triple:
        """Time to a fraction: value, low, high."""

        def time(slope: int = 0, **one: float) -> float:
            unit, biot = self.constants(**one)
            fourier = slab.fourier_for(fraction, biot, place=place)
            bend = self.pile.slope_at(slab.mean_uptake(fourier, biot))
            return unit * (bend, *self.pile.slope[1:])[slope] * fourier

        return spread(
            time,
            ratio=self.pile.ratio,
            density=self.pile.density,
            slope=(0, 1, 2),
            path=self.path,
            film=self.film,
            cover=self.cover,
        )

    def fourier_after(self, seconds: float) -> float:
        """Fourier number reached after a time: the slope grows with the uptake, so by bisection."""
        unit, biot = self.constants()
        low, high = seconds / unit / self.pile.slope[2], seconds / unit / self.pile.slope[1]
        for _ in range(60):
            middle = (low + high) / 2
            needed = unit * self.pile.slope_at(slab.mean_uptake(middle, biot)) * middle
            low, high = (middle, high) if needed < seconds else (low, middle)
        return (low + high) / 2


def _read_exchange(
    thickness: RangeLike, faces: str, pile: Pile, film: RangeLike, cover: RangeLike | None
) -> _Exchange:
    full = as_range(thickness).floats("m", field="thickness", low=2e-5, high=0.1)
    if faces not in ("both", "one"):
        raise BadValue("open faces", repr(faces), "both or one", "Say how many faces the air can reach")
    part = 0.5 if faces == "both" else 1.0
    layer = (0.0, 0.0, 0.0)
    if cover is not None:
        layer = as_range(cover).floats("m", field="cover as air", low=0.0, high=10.0)
    return _Exchange(
        pile,
        (full[0] * part, full[1] * part, full[2] * part),
        as_range(film).floats("m/s", field="vapour film", low=1e-4, high=0.1),
        layer,
    )


def _assumption(faces: str, cover: RangeLike | None) -> str:
    way = "both faces are" if faces == "both" else "one face is"
    over = "film of still air" if cover is None else "film of still air and the cover"
    return (
        f"Moisture goes through the thickness only, {way} open; the {over} add their resistance in "
        "series and store nothing; one mean diffusivity; the chamber holds its humidity."
    )


def estimate_uptake_hours(
    *,
    thickness: RangeLike,
    transport_ratio: RangeLike,
    density: RangeLike,
    isotherm_slope: RangeLike,
    temperature: Quantity,
    faces: str = "both",
    fraction: Quantity = _MOST,
    place: str = "mean",
    film: RangeLike = STILL_AIR_FILM,
    cover: RangeLike | None = None,
) -> Estimate:
    r"""Estimate how many hours a closed item needs to take up (or give off) its moisture.

    Parameters
    ----------
    thickness : Quantity or range [length]
        Of the closed item face to face, 0.02 to 100 mm.
    transport_ratio, density, isotherm_slope, temperature
        As in :func:`bench.physics.vapour.moisture_diffusivity`.
    faces : str
        ``"both"`` on an open rack, ``"one"`` on a closed support.
    fraction : Quantity, dimensionless
        Share of the whole change, more than 0 and less than 1.
    place : str
        ``"mean"`` of the item or its ``"core"`` (half-way, or the closed face).
    film : Quantity or range [length/time]
        Vapour transfer coefficient of the air, 0.1 to 100 mm/s; see :func:`bench.physics.vapour.vapour_film`.
    cover : Quantity or range [length], optional
        Resistance of a coated cover as the layer of still air that equals it.

    Returns
    -------
    Estimate [hour]

    Raises
    ------
    BadValue, UnitMismatch

    Notes
    -----
    .. math:: t = \frac{L^2}{D_m} Fo(U, Bi), \qquad
              Bi = \frac{L / \delta}{R_v T / h_m + s_d / \delta_{air}}

    Plane sheet behind a film [crank1975]_; *L* is half the thickness with both faces open, the
    whole with one.  Without film and cover time grows with thickness squared.  The interval
    joins the ranges of all inputs as independent factors.

    Valid for a single step up to 98 % RH, upwards.  With a slope from
    :func:`bench.physics.vapour.absorption_slope` the times to 50 to 95 % agree within 15 % with
    solutions that carry the full isotherm (to 30 % within 25 %); with one constant slope they
    may be out by a factor of two.

    Examples
    --------
    >>> hours = estimate_uptake_hours(
    ...     thickness=Q_(4.4, "mm"), transport_ratio=Q_(0.02, ""), density=Q_(600, "kg/m^3"),
    ...     isotherm_slope=Q_(0.245, ""), temperature=Q_(22, "degC"),
    ...     film=Q_(2.5, "mm/s"), fraction=Q_(95, "percent"))
    >>> print(f"{hours.value:.0f~P}")
    27 h
    """
    pile = Pile.read(transport_ratio, density, isotherm_slope, temperature)
    exchange = _read_exchange(thickness, faces, pile, film, cover)
    share = to_float(fraction, "", field="fraction")
    value, low, high = (time / 3600 for time in exchange.seconds(share, place))
    return Estimate.of(
        (value, low, high),
        "hour",
        assumption=_assumption(faces, cover),
        cautions=_NEGLECTED,
    )


def estimate_uptake_after(
    *,
    hours: Quantity,
    thickness: RangeLike,
    transport_ratio: RangeLike,
    density: RangeLike,
    isotherm_slope: RangeLike,
    temperature: Quantity,
    faces: str = "both",
    film: RangeLike = STILL_AIR_FILM,
    cover: RangeLike | None = None,
) -> Uptake:
    """Estimate how far the exchange of moisture has come after some hours.

    Parameters
    ----------
    hours : Quantity [time]
        Since the step, 0 to 1000 h.
    thickness, transport_ratio, density, isotherm_slope, temperature
        As in :func:`estimate_uptake_hours`, as are ``faces``, ``film`` and ``cover``.

    Returns
    -------
    Uptake
        Mean and core with their intervals.

    Raises
    ------
    BadValue, UnitMismatch

    Notes
    -----
    The interval is that of :func:`estimate_uptake_hours` at the share reached, carried over as a
    stretch of the clock.  Against solutions with the full isotherm (24 h, 50 to 98 % RH) the mean
    agrees within 0.04, for slopes from :func:`bench.physics.vapour.absorption_slope`; the water in
    the core comes out up to 0.16 too low while the mean is below 0.6, within 0.10 above.
    """
    pile = Pile.read(transport_ratio, density, isotherm_slope, temperature)
    exchange = _read_exchange(thickness, faces, pile, film, cover)
    seconds = to_float(hours, "s", field="hours", low=0.0, high=3.6e6)
    _, biot = exchange.constants()
    share = slab.mean_uptake(exchange.fourier_after(seconds), biot)
    value, fast, slow = exchange.seconds(min(max(share, 0.05), 0.99), "mean")
    reached = [exchange.fourier_after(seconds * factor) for factor in (1.0, value / slow, value / fast)]
    results = []
    for shares in (
        tuple(slab.mean_uptake(fourier, biot) for fourier in reached),
        tuple(slab.centre_uptake(fourier, biot) for fourier in reached),
    ):
        numbers: Triple = (shares[0], shares[1], shares[2])
        results.append(Estimate.of(numbers, "", assumption=_assumption(faces, cover), cautions=_NEGLECTED))
    return Uptake(*results)


def uptake_profile(
    *,
    hours: Quantity,
    thickness: RangeLike,
    transport_ratio: RangeLike,
    density: RangeLike,
    isotherm_slope: RangeLike,
    temperature: Quantity,
    faces: str = "both",
    film: RangeLike = STILL_AIR_FILM,
    cover: RangeLike | None = None,
    points: int = 41,
) -> tuple[Quantity, Quantity]:
    """Give the uptake through the section, for a picture; most likely values only.

    Parameters
    ----------
    hours : Quantity [time]
        Since the step, 0 to 1000 h.
    thickness, transport_ratio, density, isotherm_slope, temperature
        As in :func:`estimate_uptake_hours`, as are ``faces``, ``film`` and ``cover``.
    points : int
        Places from face to face.

    Returns
    -------
    depth : Quantity [m], shape (points,)
        From an open face.
    share : Quantity, dimensionless, shape (points,)
        Of the whole uptake of water at that place, 0 to 1.

    Raises
    ------
    BadValue, UnitMismatch
    """
    pile = Pile.read(transport_ratio, density, isotherm_slope, temperature)
    exchange = _read_exchange(thickness, faces, pile, film, cover)
    seconds = to_float(hours, "s", field="hours", low=0.0, high=3.6e6)
    _, biot = exchange.constants()
    path = exchange.path[0]
    depth = np.linspace(0.0, 2 * path if faces == "both" else path, points)
    share = slab.local_uptake(exchange.fourier_after(seconds), np.minimum(1.0, abs(1.0 - depth / path)), biot)
    return Q_(depth, "m"), Q_(share, "")
