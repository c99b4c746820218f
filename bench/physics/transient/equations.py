r"""The equations: moisture and heat from cell to cell, with their derivatives (plain numbers, SI).

The state of cell *i* is its moisture content :math:`X_i` (kg/kg) and its enthalpy :math:`e_i` per
dry heat capacity, counted from 23 °C in kelvin:

.. math:: e = \theta\,(1 + \omega X) - \kappa\,Q(X), \qquad \omega = m c_w / C, \quad \kappa = m / C

with :math:`\theta` the temperature above 23 °C, *m* and *C* dry mass and dry heat capacity per area
and *Q* the integral heat of sorption.  Both change only by what crosses the faces of a cell,

.. math:: m \dot X_i = j_{i-1/2} - j_{i+1/2}, \qquad C \dot e_i = h_{i-1/2} - h_{i+1/2}

.. math:: j = G\,\Bigl(\frac{T}{T_r}\Bigr)^{0.81} (p_i - p_{i+1}), \qquad
          h = K (\theta_i - \theta_{i+1}) + j\,(L + c_v \theta)

so that water and energy are conserved by the form itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bench.physics import saturation
from bench.physics.saturation import ZERO_CELSIUS
from bench.physics.transient.hysteresis import Lag
from bench.physics.transient.isotherm_table import Pack

Floats = NDArray[np.float64]

REFERENCE = 23.0 + ZERO_CELSIUS  # K; enthalpy of dry matter and of liquid water is zero here
WATER_HEAT = 4180.0  # J/(kg K), liquid
VAPOUR_HEAT = 1860.0  # J/(kg K), vapour; the heat of evaporation then falls by 2.32 kJ/(kg K)
EVAPORATION = 2.4464e6  # J/kg at 23 °C, between 2453.5 at 20 and 2441.7 at 25 °C (CoolProp)
_GROWTH = 0.81 / REFERENCE  # of the permeability of air, T to the 0.81 made straight; 0.2 % out at 60 °C
SPARE = 3  # rows of the band above and below the diagonal: two unknowns a cell, neighbours only
_ROWS = 3 * SPARE + 1  # LAPACK wants room for fill-in above the band

# ln p_sat as a polynomial in (1/T - 1/T_r), fitted below to the one formula of this package.
_DEGREE = 6


def _fit_saturation() -> list[float]:
    """Fit ln p_sat between 0 and 105 °C; the fit is out by less than 1e-7 of the pressure."""
    celsius = 52.5 - 52.5 * np.cos(np.pi * (np.arange(60) + 0.5) / 60)
    place = 1 / (celsius + ZERO_CELSIUS) - 1 / REFERENCE
    values = [np.log(saturation.pressure_pa(float(t))) for t in celsius]
    fit = np.polynomial.Polynomial.fit(place, values, _DEGREE).convert()
    return [float(c) for c in fit.coef]


SATURATION = _fit_saturation()


@dataclass(frozen=True)
class Slices:
    """The cells of a stack, top first: what they store and pass on (per area of one face).

    Attributes
    ----------
    mass : array, shape (n,)
        Dry mass, kg/m2; for a plate of metal any number above 0, since no water comes to it.
    heat : array, shape (n,)
        Heat capacity without water, J/(m2 K).
    vapour, conductance : array, shape (n - 1,)
        Conductance between neighbours for vapour at 23 °C, kg/(m2 s Pa), and for heat, W/(m2 K).
    half_vapour, half_heat : array, shape (n,)
        Resistance of half a cell for vapour (infinite in metal) and for heat.
    edge_vapour, edge_heat : array, shape (n,)
        Conductance of the cell to the air around the edges.
    pack : Pack
        The isotherms.
    """

    mass: Floats
    heat: Floats
    vapour: Floats
    conductance: Floats
    half_vapour: Floats
    half_heat: Floats
    edge_vapour: Floats
    edge_heat: Floats
    pack: Pack
    wet: NDArray[np.bool_]

    @staticmethod
    def beside(parts: Sequence[Slices]) -> Slices:
        """Put the cells of several stacks in one row; nothing passes from one stack to the next."""
        if len(parts) == 1:
            return parts[0]

        def row(name: str, gap: float | None = None) -> Any:
            arrays = [getattr(part, name) for part in parts]
            if gap is not None:
                arrays = [piece for array in arrays for piece in (array, [gap])][:-1]
            return np.concatenate(arrays)

        plain = ("mass", "heat", "half_vapour", "half_heat", "edge_vapour", "edge_heat", "wet")
        return Slices(
            vapour=row("vapour", 0.0),
            conductance=row("conductance", 0.0),
            pack=Pack.beside([part.pack for part in parts]),
            **{name: row(name) for name in plain},
        )


@dataclass
class Outside:
    """What lies at the faces and edges of the stack in one phase (plain numbers, SI).

    Attributes
    ----------
    vapour : (top, bottom)
        Conductance from the air to the face, kg/(m2 s Pa); 0 at a tight face.
    heat : (top, bottom)
        Conductance to the temperature there, W/(m2 K).
    celsius : (top, bottom)
        Temperature there at the start of the phase.
    rate : (top, bottom)
        Its change in K/s.
    air_celsius, air_pressure : float
        Of the air at open faces and edges; the pressure is that at the start if a chamber is given.
    chamber : tuple or None
        (supply, source pressure, leak, room pressure, capacity): conductances in kg/(s Pa) per area of
        the item's face and the vapour that the air takes up per Pa, kg/(m2 Pa).
    """

    vapour: tuple[float, float]
    heat: tuple[float, float]
    celsius: tuple[float, float]
    rate: tuple[float, float] = (0.0, 0.0)
    air_celsius: float = 23.0
    air_pressure: float = 0.0
    edges: bool = False
    chamber: tuple[float, float, float, float, float] | None = None


@dataclass(frozen=True)
class Rim:
    """What every cell exchanges with what lies outside, faces and edges together (plain numbers, SI).

    Attributes
    ----------
    vapour, heat : array, shape (n,)
        Conductance to the air and to the temperature outside.
    warmth, warming : array, shape (n,)
        Heat that comes in while the cell is at 23 °C, W/m2, and its change in W/(m2 s).
    lift : array, shape (n,)
        Enthalpy of the vapour that crosses while the cell is at 23 °C, J/kg.
    by_face : array, shape (n,)
        Share of the faces in ``vapour``; the rest are edges.
    first, cells : int arrays, shape (stacks,)
        First cell of each stack and how many it has.
    chambers : array, shape (5, stacks)
        As ``Outside.chamber``; an endless capacity where the air does not change.
    """

    vapour: Floats
    heat: Floats
    warmth: Floats
    warming: Floats
    lift: Floats
    by_face: Floats
    first: NDArray[np.intp]
    cells: NDArray[np.intp]
    chambers: Floats

    @staticmethod
    def of(slices: Slices, outside: Outside) -> Rim:
        """Add up faces and edges of one stack."""
        count = len(slices.mass)
        ambient = outside.air_celsius - 23.0
        open_edges = 1.0 if outside.edges else 0.0
        vapour, heat = open_edges * slices.edge_vapour, open_edges * slices.edge_heat
        warmth, warming, by_face = heat * ambient, np.zeros(count), np.zeros(count)
        for face, cell in ((0, 0), (1, -1)):
            by_face[cell] += outside.vapour[face]
            vapour[cell] += outside.vapour[face]
            heat[cell] += outside.heat[face]
            warmth[cell] += outside.heat[face] * (outside.celsius[face] - 23.0)
            warming[cell] += outside.heat[face] * outside.rate[face]
        return Rim(
            vapour,
            heat,
            warmth,
            warming,
            lift=np.full(count, EVAPORATION + VAPOUR_HEAT / 2 * ambient),
            by_face=by_face / np.where(vapour > 0, vapour, 1.0),
            first=np.array([0]),
            cells=np.array([count]),
            chambers=np.array(outside.chamber or _STEADY)[:, None],
        )

    @staticmethod
    def beside(parts: Sequence[Rim]) -> Rim:
        """Put several in one row, in the order of the stacks."""
        if len(parts) == 1:
            return parts[0]
        plain = ("vapour", "heat", "warmth", "warming", "lift", "by_face", "cells")
        rows = {name: np.concatenate([getattr(part, name) for part in parts]) for name in plain}
        first = np.cumsum(rows["cells"]) - rows["cells"]
        return Rim(first=first, chambers=np.concatenate([p.chambers for p in parts], axis=1), **rows)

    def each(self, values: Floats) -> Floats:
        """Give every cell the value of its stack."""
        return values if len(self.cells) == 1 else np.repeat(values, self.cells)

    def sums(self, values: Floats) -> Floats:
        """Add up the values of the cells of each stack."""
        return np.asarray(np.add.reduceat(values, self.first))


_STEADY = (0.0, 0.0, 0.0, 0.0, np.inf)  # air that does not change


@dataclass
class Point:
    """The rates that belong to one state."""

    rates: Floats  # of the cells
    crossing: Floats  # water and heat that come to each cell from outside, shape (2, n)
    air: Floats  # change of the chambers' vapour pressure, Pa/s, shape (stacks,)


@dataclass
class Slope:
    """The derivatives of a :class:`Point`."""

    band: Floats  # of the cells' rates by the cells, LAPACK's band storage
    by_air: Floats  # of the cells' rates by the pressure in their own chamber
    by_time: Floats  # of the cells' rates by time, for a platen on the move
    crossing: Floats  # of what crosses by the same cell, shape (2, 2, n): what crosses, unknown
    crossing_by_air: Floats  # shape (2, n)


class Equations:
    """The rates in one phase, of one stack or of several side by side; made once, asked thousands of times.

    Parameters
    ----------
    slices : Slices
    outside : Outside
    lag : Lag, optional
        Hysteresis.

    Notes
    -----
    Stacks side by side (:meth:`beside`) share the clock and nothing else.  Their cells stand in one row
    with no conductance between, so that the band stays as narrow as that of one: most of the time for a
    stack of a hundred leaves is that of calling NumPy, and ten of them take little more than one.
    """

    def __init__(self, slices: Slices, outside: Outside, lag: Lag | None = None) -> None:
        self.outside = outside
        self._set_up(slices, Rim.of(slices, outside))
        self.lag = lag

    @classmethod
    def beside(cls, parts: Sequence[Equations]) -> Equations:
        """Put stacks side by side; the hysteresis is that of none."""
        if len(parts) == 1:
            return parts[0]
        row = cls.__new__(cls)  # what lies outside is in the rims
        row.lag = None
        row._set_up(Slices.beside([p.slices for p in parts]), Rim.beside([p.rim for p in parts]))
        return row

    def _set_up(self, slices: Slices, rim: Rim) -> None:
        self.slices, self.rim, pack = slices, rim, slices.pack
        self.count = len(slices.mass)
        self._omega = np.where(slices.wet, slices.mass * WATER_HEAT / slices.heat, 0.0)
        self._kappa = np.where(slices.wet, slices.mass * pack.scale / slices.heat, 0.0)
        self._per_step, self._start, self._last = pack.per_step, pack.start, pack.last
        self._cubics, self._inverse = pack.cubics, pack.inverse_reference
        self._rate = np.stack([1 / slices.mass, 1 / slices.heat])
        self.has_chamber = bool(np.isfinite(rim.chambers[4]).any())
        self.is_moving = bool(rim.warming.any())
        self._still = np.zeros(len(rim.cells))

    def _read(self, state: Floats, lag: Floats | None = None) -> tuple[Floats, ...]:
        """Give temperature above 23 °C, vapour pressure and the pieces that derivatives need."""
        content, enthalpy = state[..., 0::2], state[..., 1::2]
        held = lag if lag is not None else (0.0 if self.lag is None else self.lag.at(content))
        place = (content - held) * self._per_step
        row = place.astype(np.intp)
        np.minimum(np.maximum(row, 0, out=row), self._last, out=row)
        part = place - row
        c = self._cubics.take(self._start + row, axis=1)
        powers = c[12:] * part
        for lower in (8, 4, 0):  # in place: a fourth of the time is that of new arrays
            powers += c[lower : lower + 4]
            if lower:
                powers *= part
        share = 1 / (1 + self._omega * content)
        theta = (enthalpy + self._kappa * powers[3]) * share
        inverse = 1 / (theta + REFERENCE)
        y = self._inverse - inverse
        z = inverse - 1 / REFERENCE
        k = SATURATION
        log_pressure = k[-1] * z
        for coefficient in k[-2:0:-1]:
            log_pressure += coefficient
            log_pressure *= z
        log_pressure += k[0]
        factor = np.exp(y * (powers[1] + y * powers[2]) + log_pressure)
        return theta, powers[0] * factor, powers, factor, y, z, inverse, share, c, part

    def climate(self, states: Floats, lags: Floats | None = None) -> tuple[Floats, Floats]:
        """Give temperature in °C and water activity of every cell; states of shape (..., 2 n)."""
        theta, _, powers, _, y, *_ = self._read(states, lags)
        return theta + 23.0, powers[0] * np.exp(y * (powers[1] + y * powers[2]))

    def state_of(self, content: Floats, celsius: Floats) -> Floats:
        """Build the state from moisture content and temperature in °C."""
        state = np.empty(2 * self.count)
        state[0::2], state[1::2] = content, 0.0
        theta, *_, share, _, _ = self._read(state)
        state[1::2] = (celsius - 23.0 - theta) / share
        return state

    def at(self, seconds: float, state: Floats, air: Floats | float) -> Point:
        """Give the rates at a time, a state of the cells and a vapour pressure of the air."""
        return self._rates(seconds, air, self._read(state))[0]

    def linear(self, seconds: float, state: Floats, air: Floats | float) -> tuple[Point, Slope]:
        """Give the rates with their derivatives, at the start of a step."""
        read = self._read(state)
        point, flow, step, water, latent = self._rates(seconds, air, read)
        return point, self._derive(point, read, flow, step, water, latent)

    def _rates(
        self, seconds: float, air: Floats | float, read: tuple[Floats, ...]
    ) -> tuple[Point, Floats, Floats, Floats, Floats]:
        theta, pressure = read[0], read[1]
        s, rim = self.slices, self.rim
        both = theta[:-1] + theta[1:]
        flow = s.vapour * (1 + (_GROWTH / 2) * both)
        step = pressure[:-1] - pressure[1:]
        water = flow * step
        latent = EVAPORATION + (VAPOUR_HEAT / 2) * both
        warmth = s.conductance * (theta[:-1] - theta[1:]) + water * latent
        crossing = np.empty((2, self.count))
        gain = rim.vapour * (rim.each(np.asarray(air)) - pressure)
        heat = rim.warmth - rim.heat * theta + gain * (rim.lift + (VAPOUR_HEAT / 2) * theta)
        if self.is_moving:
            heat += rim.warming * seconds
        crossing[0], crossing[1] = gain, heat
        rates = crossing.copy()
        rates[0, :-1] -= water
        rates[0, 1:] += water
        rates[1, :-1] -= warmth
        rates[1, 1:] += warmth
        rates *= self._rate
        change = self._still
        if self.has_chamber:
            supply, source, leak, room, capacity = rim.chambers
            change = (supply * (source - air) - leak * (air - room) - rim.sums(gain)) / capacity
        return Point(rates.T.reshape(-1), crossing, change), flow, step, water, latent

    def _derive(
        self,
        point: Point,
        read: tuple[Floats, ...],
        flow: Floats,
        step: Floats,
        water: Floats,
        latent: Floats,
    ) -> Slope:
        theta, pressure, powers, factor, y, _, inverse, share, c, part = read
        slope = ((3 * c[12:] * part + 2 * c[8:12]) * part + c[4:8]) * self._per_step
        if self.lag is not None:
            slope = slope * (1 - self.lag.slope(self.lag.start))
        k, z = SATURATION, inverse - 1 / REFERENCE
        rise = (_DEGREE * k[_DEGREE]) * z
        for power in range(_DEGREE - 1, 1, -1):
            rise += power * k[power]
            rise *= z
        rise += k[1]
        by_theta = pressure * inverse**2 * (powers[1] + 2 * y * powers[2] - rise)
        by_content = factor * (slope[0] + powers[0] * y * (slope[1] + y * slope[2]))
        # theta by content and by enthalpy, then pressure by the same two
        warm = np.empty((2, self.count))
        warm[1] = share
        warm[0] = share * (self._kappa * slope[3] - self._omega * theta)
        push = by_theta * warm
        push[0] += by_content
        n = self.count
        left = np.empty((2, 2, n - 1))  # [equation, unknown] of the flow to the right, by the left cell
        right = np.empty((2, 2, n - 1))
        pull = (_GROWTH / 2) * self.slices.vapour * step
        carried = self.slices.conductance
        extra = (VAPOUR_HEAT / 2) * water
        left[0] = flow * push[:, :-1] + pull * warm[:, :-1]
        right[0] = pull * warm[:, 1:] - flow * push[:, 1:]
        left[1] = latent * left[0] + (extra + carried) * warm[:, :-1]
        right[1] = latent * right[0] + (extra - carried) * warm[:, 1:]
        rim = self.rim
        crossing, lift = np.empty((2, 2, n)), rim.lift + (VAPOUR_HEAT / 2) * theta
        crossing[0] = -rim.vapour * push
        crossing[1] = lift * crossing[0] + ((VAPOUR_HEAT / 2) * point.crossing[0] - rim.heat) * warm
        own = crossing.copy()
        own[:, :, :-1] -= left
        own[:, :, 1:] += right
        by_air = by_time = crossing_by_air = _NOTHING
        if self.has_chamber:
            crossing_by_air = np.stack([rim.vapour, rim.vapour * lift])
            by_air = (crossing_by_air * self._rate).T.reshape(-1)
        if self.is_moving:
            by_time = np.stack([np.zeros(n), rim.warming * self._rate[1]]).T.reshape(-1)
        return Slope(self._band(own, left, right), by_air, by_time, crossing, crossing_by_air)

    def _band(self, own: Floats, left: Floats, right: Floats) -> Floats:
        band = np.zeros((self.count, 2, _ROWS))  # LAPACK's columns lie in a row of memory each
        own *= self._rate[:, None, :]
        right *= self._rate[:, None, :-1]
        left *= self._rate[:, None, 1:]
        middle = 2 * SPARE
        for row in (0, 1):
            for col in (0, 1):
                place = middle + row - col
                band[:, col, place] = own[row, col]
                band[1:, col, place - 2] = -right[row, col]
                band[:-1, col, place + 2] = left[row, col]
        return band.reshape(2 * self.count, _ROWS).T


_NOTHING = np.zeros(0)
