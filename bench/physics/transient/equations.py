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
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bench.physics import saturation
from bench.physics.saturation import ZERO_CELSIUS
from bench.physics.transient import compiled
from bench.physics.transient.compiled import (
    EVAPORATION,
    REFERENCE,
    VAPOUR_HEAT,
    Cells,
    Lag,
    Point,
    Rim,
)
from bench.physics.transient.hysteresis import NO_LAG
from bench.physics.transient.isotherm_table import IsothermPack

Floats = NDArray[np.float64]

WATER_HEAT = 4180.0  # J/(kg K), liquid

_DEGREE = 6


def _fit_saturation() -> Floats:
    """Fit ln p_sat, a polynomial in 1/T - 1/T_r, between 0 and 105 °C to the one formula of this package.

    The fit is out by less than 1e-7 of the pressure.
    """
    celsius = 52.5 - 52.5 * np.cos(np.pi * (np.arange(60) + 0.5) / 60)
    place = 1 / (celsius + ZERO_CELSIUS) - 1 / REFERENCE
    values = [np.log(saturation.pressure_pa(float(t))) for t in celsius]
    fit = np.polynomial.Polynomial.fit(place, values, _DEGREE).convert()
    return np.asarray(fit.coef, dtype=np.float64)


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
    pack : IsothermPack
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
    pack: IsothermPack
    wet: NDArray[np.bool_]

    @cached_property
    def cells(self) -> Cells:
        """The same as the compiled loops take it."""
        pack = self.pack
        return Cells(
            mass=self.mass,
            heat=self.heat,
            vapour=self.vapour,
            conductance=self.conductance,
            omega=np.where(self.wet, self.mass * WATER_HEAT / self.heat, 0.0),
            kappa=np.where(self.wet, self.mass * pack.scale / self.heat, 0.0),
            start=pack.start,
            last=pack.last,
            per_step=pack.per_step,
            inverse=pack.inverse_reference,
            cubics=pack.cubics,
            saturation=SATURATION,
        )

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
            pack=IsothermPack.beside([part.pack for part in parts]),
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


_STEADY = (0.0, 0.0, 0.0, 0.0, np.inf)  # air that does not change


def rim_of(slices: Slices, outside: Outside) -> Rim:
    """Add up what the faces and edges of one stack exchange with what lies outside."""
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
        first=np.array([0], dtype=np.intp),
        cells=np.array([count], dtype=np.intp),
        chambers=np.array(outside.chamber or _STEADY)[:, None].copy(),
    )


def _rims_beside(parts: Sequence[Rim]) -> Rim:
    """Put several in one row, in the order of the stacks."""
    rows = {name: np.concatenate([getattr(part, name) for part in parts]) for name in Rim._fields[:6]}
    cells = np.concatenate([part.cells for part in parts])
    chambers = np.concatenate([part.chambers for part in parts], axis=1)
    return Rim(first=np.cumsum(cells) - cells, cells=cells, chambers=chambers, **rows)


class Equations:
    """The rates in one phase, of one stack or of several side by side.

    Parameters
    ----------
    slices : Slices
        Of the stack.
    outside : Outside
        What lies about it.
    lag : Lag, optional
        Hysteresis.

    Attributes
    ----------
    cells, rim : Cells, Rim
        As the compiled loops take them.

    Notes
    -----
    Stacks side by side (:meth:`beside`) share the clock and nothing else.  Their cells stand in one row
    with no conductance between: the same loops, and one set of steps for all of them.
    """

    def __init__(self, slices: Slices, outside: Outside, lag: Lag = NO_LAG) -> None:
        self.outside, self.lag = outside, lag
        self.slices, self.rim, self.cells = slices, rim_of(slices, outside), slices.cells

    @classmethod
    def beside(cls, parts: Sequence[Equations]) -> Equations:
        """Put stacks side by side; the hysteresis is that of none."""
        if len(parts) == 1:
            return parts[0]
        row = cls.__new__(cls)  # what lies outside is in the rims
        row.lag = NO_LAG
        row.slices = Slices.beside([p.slices for p in parts])
        row.rim, row.cells = _rims_beside([p.rim for p in parts]), row.slices.cells
        return row

    @property
    def count(self) -> int:
        """How many cells there are."""
        return len(self.cells.mass)

    def climate(self, states: Floats, lags: Floats | None = None) -> tuple[Floats, Floats]:
        """Give temperature in °C and water activity of every cell; states of shape (..., 2 n)."""
        rows = np.ascontiguousarray(np.atleast_2d(states))
        held = np.zeros((len(rows), self.count)) if lags is None else np.ascontiguousarray(lags)
        celsius, activity = compiled.climate(self.cells, rows, held)
        shape = (*states.shape[:-1], self.count)
        return celsius.reshape(shape), activity.reshape(shape)

    def state_of(self, content: Floats, celsius: Floats) -> Floats:
        """Build the state from moisture content and temperature in °C."""
        return compiled.state_of(self.cells, self.lag, content, celsius)

    def at(self, seconds: float, state: Floats, air: Floats | float) -> Point:
        """Give the rates at a time, a state of the cells and a vapour pressure of the air."""
        return compiled.at(self.cells, self.rim, self.lag, seconds, state, as_airs(air))


def as_airs(air: Floats | float) -> Floats:
    """Give the vapour pressures about the stacks as an array of their own."""
    return np.array(air, dtype=np.float64, ndmin=1)
