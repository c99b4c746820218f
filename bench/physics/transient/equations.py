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

from dataclasses import dataclass

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


# What is counted while it crosses: per area of the face.
COUNTS = (
    "water top",
    "water bottom",
    "water edges",
    "heat top",
    "heat bottom",
    "heat edges",
    "source",
    "leak",
)


@dataclass
class Point:
    """The rates that belong to one state."""

    rates: Floats  # of the cells
    counts: Floats  # of what crosses, in the order of COUNTS
    air: float  # change of the chamber's vapour pressure, Pa/s


@dataclass
class Slope:
    """The derivatives of a :class:`Point`."""

    band: Floats  # of the cells' rates by the cells, LAPACK's band storage
    air_column: Floats  # of the cells' rates by the chamber's pressure
    count_rows: Floats  # of the counts by the cells
    count_column: Floats  # of the counts by the chamber's pressure
    by_time: Floats  # of the cells' rates by time, for a platen on the move
    count_by_time: Floats


@dataclass
class Equations:
    """The rates of one stack in one phase; made once, asked thousands of times."""

    slices: Slices
    outside: Outside
    lag: Lag | None = None

    def __post_init__(self) -> None:
        s, pack = self.slices, self.slices.pack
        self.count = len(s.mass)
        self._omega = np.where(s.wet, s.mass * WATER_HEAT / s.heat, 0.0)
        self._kappa = np.where(s.wet, s.mass * pack.scale / s.heat, 0.0)
        self._per_step, self._start, self._last = pack.per_step, pack.start, pack.last
        self._cubics = pack.cubics
        self._inverse = pack.inverse_reference
        self._to_rate = 1 / np.stack([s.mass, s.heat], axis=1)
        self._rate = np.ascontiguousarray(self._to_rate.T)
        self._columns = (2 * self.count, _ROWS)
        self._has_edges = self.outside.edges and bool(np.any(s.edge_vapour > 0) or np.any(s.edge_heat > 0))
        edge = s.edge_vapour if self._has_edges else np.zeros(self.count)
        self._edge_vapour = edge

    def _read(self, state: Floats, lag: Floats | None = None) -> tuple[Floats, ...]:
        """Give temperature above 23 °C, vapour pressure and the pieces that derivatives need."""
        content, enthalpy = state[..., 0::2], state[..., 1::2]
        held = lag if lag is not None else (0.0 if self.lag is None else self.lag.at(content))
        place = (content - held) * self._per_step
        row = place.astype(np.intp)
        np.minimum(np.maximum(row, 0, out=row), self._last, out=row)
        part = place - row
        taken = self._cubics.take(self._start + row, axis=0)
        c = taken.T if taken.ndim == 2 else taken.transpose(2, 0, 1)
        powers = ((c[12:] * part + c[8:12]) * part + c[4:8]) * part + c[:4]
        share = 1 / (1 + self._omega * content)
        theta = (enthalpy + self._kappa * powers[3]) * share
        inverse = 1 / (theta + REFERENCE)
        y = self._inverse - inverse
        z = inverse - 1 / REFERENCE
        k = SATURATION
        log_pressure = k[0] + z * (k[1] + z * (k[2] + z * (k[3] + z * (k[4] + z * (k[5] + z * k[6])))))
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

    def at(self, seconds: float, state: Floats, air: float) -> Point:
        """Give the rates at a time, a state of the cells and a vapour pressure of the air."""
        return self._rates(seconds, air, self._read(state))[0]

    def linear(self, seconds: float, state: Floats, air: float) -> tuple[Point, Slope]:
        """Give the rates with their derivatives, at the start of a step."""
        read = self._read(state)
        point, flow, step, water, latent = self._rates(seconds, air, read)
        return point, self._derive(point, read, flow, step, water, latent, air)

    def _rates(
        self, seconds: float, air: float, read: tuple[Floats, ...]
    ) -> tuple[Point, Floats, Floats, Floats, Floats]:
        theta, pressure = read[0], read[1]
        s, out = self.slices, self.outside
        flow = s.vapour * (1 + (_GROWTH / 2) * (theta[:-1] + theta[1:]))
        step = pressure[:-1] - pressure[1:]
        water = flow * step
        latent = EVAPORATION + (VAPOUR_HEAT / 2) * (theta[:-1] + theta[1:])
        warmth = s.conductance * (theta[:-1] - theta[1:]) + water * latent
        rates = np.zeros((self.count, 2))
        rates[:-1, 0] -= water
        rates[1:, 0] += water
        rates[:-1, 1] -= warmth
        rates[1:, 1] += warmth
        counts = np.zeros(8)
        ambient = out.air_celsius - 23.0
        for face, cell in ((0, 0), (1, -1)):
            own = float(theta[cell])
            there = out.celsius[face] - 23.0 + out.rate[face] * seconds
            gain = out.vapour[face] * (air - float(pressure[cell]))
            heat = out.heat[face] * (there - own) + gain * (EVAPORATION + VAPOUR_HEAT / 2 * (ambient + own))
            rates[cell, 0] += gain
            rates[cell, 1] += heat
            counts[face], counts[3 + face] = gain, heat
        if self._has_edges:
            gains = s.edge_vapour * (air - pressure)
            heats = s.edge_heat * (ambient - theta) + gains * (
                EVAPORATION + VAPOUR_HEAT / 2 * (ambient + theta)
            )
            rates[:, 0] += gains
            rates[:, 1] += heats
            counts[2], counts[5] = gains.sum(), heats.sum()
        change = 0.0
        if out.chamber is not None:
            supply, source, leak, room, capacity = out.chamber
            counts[6], counts[7] = supply * (source - air), leak * (air - room)
            change = float(counts[6] - counts[7] - counts[0] - counts[1] - counts[2]) / capacity
        rates *= self._to_rate
        return Point(rates.reshape(-1), counts, change), flow, step, water, latent

    def _derive(
        self,
        point: Point,
        read: tuple[Floats, ...],
        flow: Floats,
        step: Floats,
        water: Floats,
        latent: Floats,
        air: float,
    ) -> Slope:
        theta, pressure, powers, factor, y, _, inverse, share, c, part = read
        slope = ((3 * c[12:] * part + 2 * c[8:12]) * part + c[4:8]) * self._per_step
        if self.lag is not None:
            slope = slope * (1 - self.lag.slope(self.lag.start))
        k, z = SATURATION, inverse - 1 / REFERENCE
        rise = k[1] + z * (2 * k[2] + z * (3 * k[3] + z * (4 * k[4] + z * (5 * k[5] + z * 6 * k[6]))))
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
        own = np.zeros((2, 2, n))
        own[:, :, :-1] -= left
        own[:, :, 1:] += right
        outside = self._derive_outside(own, push, warm, theta, pressure, air)
        return Slope(self._band(own, left, right), *outside)

    def _derive_outside(
        self,
        own: Floats,
        push: Floats,
        warm: Floats,
        theta: Floats,
        pressure: Floats,
        air: float,
    ) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Add what lies outside to the cells' own derivatives, in place, and give the rest of the slope."""
        out, n = self.outside, self.count
        rows, column = np.zeros((8, n, 2)), np.zeros(8)
        by_air = np.zeros((n, 2))
        by_time, count_time = np.zeros((n, 2)), np.zeros(8)
        ambient = out.air_celsius - 23.0
        for face, cell in ((0, 0), (1, n - 1)):
            vapour, heat = out.vapour[face], out.heat[face]
            lift = EVAPORATION + VAPOUR_HEAT / 2 * (ambient + float(theta[cell]))
            gain = vapour * (air - float(pressure[cell]))
            loss = VAPOUR_HEAT / 2 * gain - heat
            for unknown in (0, 1):  # single numbers: a fifth of the time of small arrays
                water = -vapour * float(push[unknown, cell])
                warmth = lift * water + loss * float(warm[unknown, cell])
                own[0, unknown, cell] += water
                own[1, unknown, cell] += warmth
                rows[face, cell, unknown], rows[3 + face, cell, unknown] = water, warmth
            column[face], column[3 + face] = vapour, vapour * lift
            by_air[cell, 0] += vapour
            by_air[cell, 1] += vapour * lift
            by_time[cell, 1] += heat * out.rate[face]
            count_time[3 + face] = heat * out.rate[face]
        if self._has_edges:
            vapours, heats = self.slices.edge_vapour, self.slices.edge_heat
            lifts = EVAPORATION + VAPOUR_HEAT / 2 * (ambient + theta)
            waters = -vapours * push
            warmths = lifts * waters + (VAPOUR_HEAT / 2 * vapours * (air - pressure) - heats) * warm
            own[0] += waters
            own[1] += warmths
            rows[2], rows[5] = waters.T, warmths.T
            column[2], column[5] = vapours.sum(), (vapours * lifts).sum()
            by_air[:, 0] += vapours
            by_air[:, 1] += vapours * lifts
        if out.chamber is not None:
            column[6], column[7] = -out.chamber[0], out.chamber[2]
        by_air *= self._to_rate
        by_time *= self._to_rate
        return by_air.reshape(-1), rows.reshape(8, -1), column, by_time.reshape(-1), count_time

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
        return band.reshape(self._columns).T
