r"""The humidity chamber as a whole: the source, the air that sags, and the item that drinks.

Vapour passes from the wet surface to the air, from the air to the item, through its cover and into
the pile.  These resistances lie in series, so that the humidity of the air is not a setting but an
answer: the thirstier the item and the smaller the source, the further the air falls below it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.physics import saturation, slab
from bench.physics.ranges import Estimate, RangeLike, Triple, as_range
from bench.physics.vapour import STILL_AIR_FILM, Pile, vapour_film
from bench.units import Q_, Quantity, to_float, to_humidity

Floats = NDArray[np.float64]

FANNED_FILM = vapour_film(heat_film=(Q_(10, "W/m^2/K"), Q_(5, "W/m^2/K"), Q_(20, "W/m^2/K")))
"""Vapour film with a small fan in the chamber: 5 to 20 W/(m2 K) by Lewis, from memory."""

_END = 0.999  # share of the uptake at which it is taken as complete: the end itself is never reached
_POINTS = 120  # along the curve; a time read between them is out by less than 0.3 %
_ASSUMPTION = (
    "Source, air, item film, cover and pile in series, all equally warm; the air itself stores nothing; "
    "the lid is tight and stays on."
)


@dataclass(frozen=True)
class Band:
    """A quantity over time with its interval (about 95 %).

    Attributes
    ----------
    value, low, high : array of float, shape (n,)
        Plain ratios, 0 to 1.
    """

    value: Floats
    low: Floats
    high: Floats

    def at(self, index: int) -> Triple:
        """Give value, low and high at one time."""
        return float(self.value[index]), float(self.low[index]), float(self.high[index])


@dataclass(frozen=True, kw_only=True)
class Chamber:
    """A chamber with its source and the item in it.

    Attributes
    ----------
    thickness : Quantity or range [length]
        Of the closed item, 0.02 to 100 mm.
    item_area : Quantity [area]
        Of one face.
    faces : str
        ``"both"`` on an open rack, ``"one"`` on a solid base.
    transport_ratio, density, isotherm_slope, temperature
        As in :func:`bench.physics.vapour.moisture_diffusivity`.
    start_humidity, source_humidity : Quantity, dimensionless
        At which the item rested, and which the source holds over itself; the second is the higher.
    source_area : Quantity [area] or None
        Wet surface, 1 cm2 to 10 m2; None where the air is held at ``source_humidity`` by itself.
    film : Quantity or range [length/time]
        Of source and item alike; see :func:`bench.physics.vapour.vapour_film`.
    cover : Quantity or range [length], optional
        A coated cover as the layer of still air that equals it.

    Raises
    ------
    BadValue, UnitMismatch
        Among others if the item is as damp as the source: it would take up nothing.
    """

    thickness: RangeLike
    item_area: Quantity
    transport_ratio: RangeLike
    density: RangeLike
    isotherm_slope: RangeLike
    temperature: Quantity
    start_humidity: Quantity
    source_humidity: Quantity
    source_area: Quantity | None
    faces: str = "both"
    film: RangeLike = STILL_AIR_FILM
    cover: RangeLike | None = None

    def __post_init__(self) -> None:
        start = to_humidity(self.start_humidity, field="humidity at the start")
        source = to_humidity(self.source_humidity, field="humidity of the source")
        if start >= source:
            remedy = "Take a damper source, or let the item rest in a drier room first"
            allowed = f"below the {100 * source:.0f} % of the source"
            raise BadValue("humidity at the start", f"{100 * start:.0f} %", allowed, remedy)
        if self.faces not in ("both", "one"):
            remedy = "Say how many faces the air can reach"
            raise BadValue("open faces", repr(self.faces), "both or one", remedy)

    @cached_property
    def _numbers(self) -> dict[str, Triple]:
        part = 0.5 if self.faces == "both" else 1.0
        full = as_range(self.thickness).floats("m", field="thickness", low=2e-5, high=0.1)
        layer = (0.0, 0.0, 0.0)
        if self.cover is not None:
            layer = as_range(self.cover).floats("m", field="cover as air", low=0.0, high=10.0)
        return {
            "path": (full[0] * part, full[1] * part, full[2] * part),
            "film": as_range(self.film).floats("m/s", field="vapour film", low=1e-4, high=0.1),
            "cover": layer,
            "ratio": self._pile.ratio,
        }

    @cached_property
    def _pile(self) -> Pile:
        return Pile.read(self.transport_ratio, self.density, self.isotherm_slope, self.temperature)

    @cached_property
    def _crowding(self) -> float:
        """Open area of the item over that of the source; 0 where the air is held by itself."""
        face = to_float(self.item_area, "m^2", field="area of the item", low=1e-4, high=1.0)
        if self.source_area is None:
            return 0.0
        wet = to_float(self.source_area, "m^2", field="area of the source", low=1e-4, high=10.0)
        return (2 if self.faces == "both" else 1) * face / wet

    def _resistances(self, path: float, film: float, cover: float, ratio: float) -> dict[str, float]:
        """Resistances for a square metre of open face of the item, Pa m2 s/kg, from the source inwards."""
        still = saturation.VAPOUR_CONSTANT * self._pile.kelvin / film
        # To its mean a pile answers as a third of its depth would: the lumped form of the series.
        return {
            "source": still * self._crowding,
            "film": still,
            "cover": cover / self._pile.delta(1.0),
            "pile": path / self._pile.delta(ratio) / 3,
        }

    def _curve(self, **one: float) -> _Curve:
        given = {name: triple[0] for name, triple in self._numbers.items()} | one
        parts = self._resistances(**given)
        outside = parts["source"] + parts["film"] + parts["cover"]
        biot = 3 * parts["pile"] / outside
        fourier = np.geomspace(1e-5, slab.fourier_for(_END, biot, place="core"), _POINTS)
        mean, core = _uptakes(fourier, biot)
        pile = self._pile
        unit = given["path"] ** 2 * pile.density[0] / (pile.delta(given["ratio"]) * pile.saturation)
        seconds = unit * pile.slope_at(mean) * fourier
        # What enters a square metre, as a share of what would enter if the source were the only hindrance.
        chord = pile.slope[0] if pile.bent is None else float(pile.bent.low.to("").magnitude)
        stored = given["path"] * pile.density[0] * chord / pile.saturation
        flow = np.gradient(mean, seconds) * stored * parts["source"]
        return _Curve(np.log(seconds), mean, core, flow)

    @cached_property
    def _middle(self) -> _Curve:
        return self._curve()

    @cached_property
    def _bent(self) -> list[tuple[str, _Curve]]:
        """Curves with one of the inputs at one of its ends, by the name of the input."""
        return [
            (name, self._curve(**{name: end}))
            for name, triple in self._numbers.items()
            for end in triple[1:]
            if end != triple[0]
        ]

    def _steps(self, place: str) -> list[tuple[str, Floats]]:
        """Give, by cause, how much later (in logarithms; below zero sooner) each share may come."""
        base = self._middle.log_time(_SHARES, place)
        steps = [(name, curve.log_time(_SHARES, place) - base) for name, curve in self._bent]
        pile = self._pile
        steps += [("mass", np.full_like(base, np.log(end / pile.density[0]))) for end in pile.density[1:]]
        taken = np.interp(base, self._middle.log_seconds, self._middle.mean)
        bend = pile.slope_at(taken)
        return steps + [("isotherm", np.log(end / bend)) for end in pile.slope[1:]]


def _join(steps: list[tuple[str, Floats]], side: np.ufunc) -> Floats | float:
    """Join the steps to one side as independent causes."""
    joined: Floats | float = np.sqrt(sum(side(0, step) ** 2 for _, step in steps))
    return joined


def _uptakes(fourier: Floats, biot: float) -> tuple[Floats, Floats]:
    """Give mean and core of the plane sheet for many Fourier numbers at once."""
    short = fourier < 0.01  # nothing has reached the core yet, and the series would need more terms
    roots, sizes = (np.array(column) for column in zip(*slab.wall_roots(biot, 40), strict=True))
    left = np.exp(-np.outer(fourier, roots**2)) * sizes
    mean = 1 - left @ (np.sin(roots) / roots)
    mean[short] = [slab.mean_uptake(float(f), biot) for f in fourier[short]]
    return mean, np.where(short, 0.0, 1 - left.sum(axis=1))


@dataclass(frozen=True)
class _Curve:
    """One curve of uptake: logarithm of seconds, shares, and how far the air has fallen (0 to 1)."""

    log_seconds: Floats
    mean: Floats
    core: Floats
    fall: Floats

    def log_time(self, share: Floats, place: str) -> Floats:
        """Give the logarithm of the time to a share."""
        found: Floats = np.interp(share, getattr(self, place), self.log_seconds)
        return found

    def odds_of_fall(self, times: Floats) -> Floats:
        """Give the logarithm of the odds of the fall at times in s."""
        fall = np.interp(np.log(times), self.log_seconds, self.fall)
        found: Floats = np.log(fall / (1 - fall))
        return found


@dataclass(frozen=True)
class ChamberRun:
    """What happens in a chamber over some hours.

    Attributes
    ----------
    hours : Quantity [hour], shape (n,)
    mean, core : Band
        Shares of the whole uptake of water, of the item and of its middle (or closed face).
    air : Band
        Relative humidity of the air in the chamber.
    resistances : dict of str to float
        Share of each hindrance in the whole, by its name: ``"source"``, ``"film"``, ``"cover"``,
        ``"pile"``.
    assumption : str
    """

    hours: Quantity
    mean: Band
    core: Band
    air: Band
    resistances: dict[str, float]
    assumption: str = _ASSUMPTION


_SHARES = np.concatenate([np.linspace(0.0005, 0.02, 20), np.linspace(0.03, 0.99, 97), [0.995, _END]])


def follow_uptake(chamber: Chamber, hours: Quantity) -> ChamberRun:
    r"""Follow item and air through the hours in a chamber.

    Parameters
    ----------
    chamber : Chamber
    hours : Quantity [time], shape (n,)
        Since the item was put in, above 0.

    Returns
    -------
    ChamberRun

    Raises
    ------
    BadValue, UnitMismatch

    Notes
    -----
    .. math:: \frac{1}{h_{eff}} = \frac{1}{h_m} + \frac{A_{item}}{A_{source}} \frac{1}{h_m}, \qquad
              \varphi_{air} = \varphi_{source} - \frac{\dot m}{h_m A_{source}\,p_{sat}/(R_v T)}

    Plane sheet behind films [crank1975]_ with the film of the source added in series; the rest is as
    in :func:`bench.physics.transfer.estimate_uptake_hours`, whose intervals it gives too.  The
    interval of the air joins the same causes on the odds of its fall, so that it stays between the
    humidity of the source and that of the item.

    Valid for one step upwards to at most 98 % RH.

    Examples
    --------
    >>> chamber = Chamber(
    ...     thickness=Q_(4.4, "mm"), item_area=Q_(0.0432, "m^2"), transport_ratio=Q_(0.02, ""),
    ...     density=Q_(600, "kg/m^3"), isotherm_slope=Q_(0.245, ""), temperature=Q_(22, "degC"),
    ...     start_humidity=Q_(50, "percent"), source_humidity=Q_(97.5, "percent"),
    ...     source_area=Q_(0.1, "m^2"), film=Q_(2.5, "mm/s"))
    >>> run = follow_uptake(chamber, Q_([1.0, 24.0], "hour"))
    >>> print([round(100 * float(share)) for share in run.air.value])
    [89, 97]
    """
    times = np.atleast_1d(np.asarray(hours.to("s").magnitude, dtype=np.float64))
    if not bool(np.all(np.isfinite(times) & (times > 0) & (times <= 3.6e6))):
        raise BadValue("hours", f"{hours:~P}", "above 0 to 1000 h", "Check the hours and their unit")
    parts = chamber._resistances(**{name: triple[0] for name, triple in chamber._numbers.items()})
    total = sum(parts.values())
    return ChamberRun(
        hours=Q_(times / 3600, "hour"),
        mean=_shares_at(chamber, times, "mean"),
        core=_shares_at(chamber, times, "core"),
        air=_air(chamber, times),
        resistances={name: part / total for name, part in parts.items()},
    )


def _shares_at(chamber: Chamber, times: Floats, place: str) -> Band:
    base = chamber._middle.log_time(_SHARES, place)
    steps = chamber._steps(place)
    sooner, later = _join(steps, np.minimum), _join(steps, np.maximum)
    wanted = np.log(times)

    def read(log_time: Floats) -> Floats:
        # Running maximum: an interval that widens along the curve must not fold back on itself.
        found: Floats = np.interp(wanted, np.maximum.accumulate(log_time), _SHARES, left=0.0)
        return found

    return Band(read(base), read(base + later), read(base - sooner))


def _air(chamber: Chamber, times: Floats) -> Band:
    """Give the humidity of the air: the source less its fall, causes joined on the odds of the fall."""
    source = to_humidity(chamber.source_humidity)
    drop = source - to_humidity(chamber.start_humidity)
    if chamber._crowding == 0:
        held = np.full_like(times, source)
        return Band(held, held, held)
    base = chamber._middle.odds_of_fall(times)
    steps = [(name, curve.odds_of_fall(times) - base) for name, curve in chamber._bent]

    def humidity(odds: Floats) -> Floats:
        found: Floats = source - drop / (1 + np.exp(-odds))
        return found

    up, down = _join(steps, np.maximum), _join(steps, np.minimum)
    return Band(humidity(base), humidity(base + up), humidity(base - down))


def most_likely(chamber: Chamber, hours: Quantity) -> tuple[Floats, Floats]:
    """Give the shares of the uptake of mean and core after some hours, without their interval."""
    times = np.log(np.atleast_1d(np.asarray(hours.to("s").magnitude, dtype=np.float64)))
    curve = chamber._middle
    return np.interp(times, curve.log_seconds, curve.mean), np.interp(times, curve.log_seconds, curve.core)


def hours_to_share(chamber: Chamber, share: float, *, place: str = "mean") -> Estimate:
    """Estimate the hours until a share of the whole uptake is reached.

    Parameters
    ----------
    chamber : Chamber
    share : float
        Above 0, below 0.999.
    place : str
        ``"mean"`` of the item or its ``"core"``.

    Returns
    -------
    Estimate [hour]

    Raises
    ------
    BadValue

    Examples
    --------
    >>> chamber = Chamber(
    ...     thickness=Q_(4.4, "mm"), item_area=Q_(0.0432, "m^2"), transport_ratio=Q_(0.02, ""),
    ...     density=Q_(600, "kg/m^3"), isotherm_slope=Q_(0.245, ""), temperature=Q_(22, "degC"),
    ...     start_humidity=Q_(50, "percent"), source_humidity=Q_(98, "percent"),
    ...     source_area=None, film=Q_(2.5, "mm/s"))
    >>> print(f"{hours_to_share(chamber, 0.95).value:.0f~P}")
    27 h
    """
    if not 0 < share < _END:
        raise BadValue("share of the uptake", f"{share:g}", f"above 0 and below {_END:g}", "Ask for less")
    log_time = float(chamber._middle.log_time(np.array([share]), place)[0])
    steps = chamber._steps(place)
    joined = (_join(steps, side) * np.ones_like(_SHARES) for side in (np.minimum, np.maximum))
    sooner, later = (float(np.interp(share, _SHARES, step)) for step in joined)
    numbers = (np.exp(log_time), np.exp(log_time - sooner), np.exp(log_time + later))
    value, low, high = (float(number) / 3600 for number in numbers)
    return Estimate.of((value, low, high), "hour", assumption=_ASSUMPTION)


CAUSES = {
    "ratio": "how easily vapour passes through the pile",
    "isotherm": "how much water this paper holds when damp",
    "film": "how still the air is",
    "cover": "how tight the cover is",
    "path": "thickness",
    "mass": "mass",
}
"""Causes of the doubt about the hours, in the words of the bench."""


def doubts_about_hours(chamber: Chamber, share: float, *, place: str = "mean") -> dict[str, float]:
    """Give what the doubt about the hours to a share comes from, the largest first; they sum to one."""
    squares: dict[str, float] = {}
    for name, step in chamber._steps(place):
        square = float(np.interp(share, _SHARES, step)) ** 2
        squares[CAUSES[name]] = max(squares.get(CAUSES[name], 0.0), square)
    total = sum(squares.values())
    if total == 0:
        return {}
    return dict(sorted(((name, s / total) for name, s in squares.items()), key=lambda pair: -pair[1]))
