r"""Isotherms as tables that a solver can read a thousand times a second (plain numbers, SI).

Each isotherm becomes one table over the moisture content *X*.  The activity is exact at the isotherm's own
reference temperature and at 40 and 60 °C, and lies on a parabola between:

.. math:: \ln\frac{a(X, T)}{a_0(X)} = B_1(X)\,y + B_2(X)\,y^2, \qquad y = \frac{1}{T_0} - \frac{1}{T}

The net heat of sorption is that between the reference and 60 °C (Clausius and Clapeyron), and does not
itself change with temperature: at most a few per cent of the heat of evaporation.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol, cast

import numpy as np
from numpy.typing import NDArray

from bench.physics.isotherms import Gab, GabWithTemperature, Isotherm
from bench.physics.saturation import VAPOUR_CONSTANT, ZERO_CELSIUS

Floats = NDArray[np.float64]

_STEPS = 1024
_NODES = 48
_PULP_REFERENCE = 23.0  # °C
_MIDDLE, _WARM = 40.0, 60.0  # °C, the span of a treatment
_TOP_ACTIVITY = 0.985  # above it the published effect of warming falls to none at 1
_MOST_PULP = 0.6  # moisture content at which a pulp table ends, far above any fibre saturation


@dataclass(frozen=True, eq=False)  # each is made once, so that one is equal to itself only
class IsothermTable:
    """One isotherm as cubics on a uniform grid of moisture content.

    Attributes
    ----------
    reference : float
        Temperature in °C at which the activity is exact.
    step : float
        Width of the grid, kg/kg.
    cubics : array, shape (steps, 16)
        Coefficients of activity, :math:`B_1` (K), :math:`B_2` (K2) and the integral of the heat over the
        content (J/kg), lowest power first, in the fraction of a step.
    """

    reference: float
    step: float
    cubics: Floats

    @property
    def end(self) -> float:
        """Moisture content at which the table ends."""
        return self.step * len(self.cubics)

    @lru_cache(maxsize=256)  # noqa: B019 - tables are kept for good
    def content(self, activity: float, celsius: float) -> float:
        """Give the moisture content at which the paper has an activity."""
        inverse = _inverse_step(self.reference, celsius)
        low, high = 0.0, self.end * (1 - 1e-9)
        for _ in range(48):
            middle = (low + high) / 2
            row = int(middle / self.step)
            part = middle / self.step - row
            c = self.cubics[row]
            v = ((c[12:15] * part + c[8:11]) * part + c[4:7]) * part + c[:3]
            if v[0] * math.exp(inverse * (v[1] + inverse * v[2])) < activity:
                low = middle
            else:
                high = middle
        return (low + high) / 2


@dataclass(frozen=True)
class StraightIsotherm:
    r"""A straight isotherm without heat, for which there are exact solutions to check against.

    .. math:: X = s\,a
    """

    slope: float

    def content(self, activity: float, celsius: float) -> float:
        """Moisture content at a water activity."""
        return self.slope * activity

    def activity(self, content: float, celsius: float) -> float:
        """Water activity at a moisture content."""
        return content / self.slope


def slopes(values: Floats, step: float) -> Floats:
    """Differentiate on a uniform grid, to fourth order inside and third at the ends."""
    found = np.empty_like(values)
    found[2:-2] = (8 * (values[3:-1] - values[1:-3]) - (values[4:] - values[:-4])) / 12
    for end, sign in ((values, 1), (values[::-1], -1)):
        first = sign * (-11 * end[0] + 18 * end[1] - 9 * end[2] + 2 * end[3]) / 6
        second = sign * (-2 * end[0] - 3 * end[1] + 6 * end[2] - end[3]) / 6
        found[[0, 1] if sign > 0 else [-1, -2]] = first, second
    return found / step


def cubics(values: Floats, slope: Floats, step: float) -> Floats:
    """Give the cubics through values and slopes: shape (steps, 4), lowest power first."""
    rise, left, right = np.diff(values), slope[:-1] * step, slope[1:] * step
    return np.stack([values[:-1], left, 3 * rise - 2 * left - right, left + right - 2 * rise], axis=1)


def tabulate(isotherm: Isotherm) -> IsothermTable:
    """Turn an isotherm into its table; each is made once."""
    return _tabulate(cast(_HashableIsotherm, isotherm))


class _HashableIsotherm(Isotherm, Hashable, Protocol):
    """What the isotherms of this package are: frozen."""


@lru_cache(maxsize=64)
def _tabulate(isotherm: _HashableIsotherm) -> IsothermTable:
    reference = isotherm.reference if isinstance(isotherm, Gab) else _PULP_REFERENCE
    end = _end(isotherm, reference)
    step = end / _STEPS
    content = np.linspace(0.0, end, _STEPS + 1)
    activity = np.array([isotherm.activity(float(x), reference) for x in content])
    first, second = _warming(isotherm, reference, activity)
    heat = VAPOUR_CONSTANT * (first + second * _inverse_step(reference, _WARM))
    # Exact integral of the cubics of the heat, so that the integral's slope is the heat.
    bend = slopes(heat, step)
    pieces = step * (heat[:-1] + heat[1:]) / 2 + step**2 * (bend[:-1] - bend[1:]) / 12
    whole = np.concatenate([[0.0], np.cumsum(pieces)])
    sets = [cubics(part, slopes(part, step), step) for part in (activity, first, second)]
    sets.append(cubics(whole, heat, step))
    return IsothermTable(reference, step, np.stack(sets, axis=2).reshape(_STEPS, 16))


def _end(isotherm: Isotherm, reference: float) -> float:
    if isinstance(isotherm, StraightIsotherm):
        return 1.5 * isotherm.slope
    if isinstance(isotherm, Gab | GabWithTemperature):
        k = isotherm.k if isinstance(isotherm, Gab) else isotherm._constants(reference)[2]
        c = isotherm.c if isinstance(isotherm, Gab) else isotherm._constants(reference)[1]
        full = min(0.92, 1.15 * k)
        return isotherm.m * c * full / ((1 - full) * (1 - full + c * full))
    return _MOST_PULP


def _inverse_step(reference: float, celsius: float) -> float:
    return 1 / (reference + ZERO_CELSIUS) - 1 / (celsius + ZERO_CELSIUS)


def _warming(isotherm: Isotherm, reference: float, activity: Floats) -> tuple[Floats, Floats]:
    """Give B1 and B2 at the activities, from what the isotherm says at 40 and 60 °C."""
    if isinstance(isotherm, StraightIsotherm):
        return np.zeros_like(activity), np.zeros_like(activity)
    nodes = np.linspace(0.02, _TOP_ACTIVITY, _NODES)
    near, far = (_inverse_step(reference, celsius) for celsius in (_MIDDLE, _WARM))
    slope = np.empty((2, _NODES))
    for column, node in enumerate(nodes):
        content = isotherm.content(float(node), reference)
        for row, (celsius, y) in enumerate(((_MIDDLE, near), (_WARM, far))):
            slope[row, column] = math.log(isotherm.activity(content, celsius) / node) / y
    second = (slope[1] - slope[0]) / (far - near)
    first = slope[0] - second * near
    fall = np.clip((1 - activity) / (1 - _TOP_ACTIVITY), 0.0, 1.0)
    return fall * _read(nodes, first, activity), fall * _read(nodes, second, activity)


def _read(nodes: Floats, values: Floats, places: Floats) -> Floats:
    """Read a curve known at uniform nodes; the ends are held."""
    step = float(nodes[1] - nodes[0])
    pieces = cubics(values, slopes(values, step), step)
    inside = np.clip(places, nodes[0], nodes[-1])
    index = np.minimum(((inside - nodes[0]) / step).astype(np.intp), len(pieces) - 1)
    part = (inside - nodes[index]) / step
    p = pieces[index].T
    return np.asarray(p[0] + part * (p[1] + part * (p[2] + part * p[3])), dtype=np.float64)


@dataclass(frozen=True)
class IsothermPack:
    """The tables of several materials in one, with what each cell needs to read its own.

    Attributes
    ----------
    tables : tuple of IsothermTable
        Each once.
    which : int array, shape (n,)
        Table of each cell.
    scale : array, shape (n,)
        Factor of each cell on the contents of its table.
    cubics : array, shape (materials * steps, 16)
        One table after another.
    start, last : int arrays, shape (n,)
        First row of the cell's table, and how many follow it.
    per_step : array, shape (n,)
        Steps per unit of moisture content (1/step, divided by the cell's scale of the isotherm).
    inverse_reference : array, shape (n,)
        1/K.
    ends : array, shape (n,)
        Moisture content at which the cell's table ends.
    """

    tables: tuple[IsothermTable, ...]
    which: NDArray[np.intp]
    scale: Floats
    cubics: Floats
    start: NDArray[np.intp]
    last: NDArray[np.intp]
    per_step: Floats
    inverse_reference: Floats
    ends: Floats

    @staticmethod
    def beside(parts: Sequence[IsothermPack]) -> IsothermPack:
        """Put the cells of several packs in one row; each table is there once."""
        tables = tuple(dict.fromkeys(table for part in parts for table in part.tables))
        place = {table: number for number, table in enumerate(tables)}
        which = [np.array([place[table] for table in part.tables])[part.which] for part in parts]
        return pack(tables, np.concatenate(which), np.concatenate([part.scale for part in parts]))


def pack(tables: Sequence[IsothermTable], which: NDArray[np.intp], scale: Floats) -> IsothermPack:
    """Put tables together for cells that each use one of them (``which``), with a scale of its own."""
    rows = np.array([0, *np.cumsum([len(table.cubics) for table in tables])])
    step = np.array([table.step for table in tables])[which] * scale
    reference = np.array([table.reference + ZERO_CELSIUS for table in tables])[which]
    return IsothermPack(
        tables=tuple(tables),
        which=which,
        scale=scale,
        cubics=_one_after_another(tuple(tables)),
        start=rows[which],
        last=rows[which + 1] - rows[which] - 1,
        per_step=1 / step,
        inverse_reference=1 / reference,
        ends=np.array([table.end for table in tables])[which] * scale,
    )


@lru_cache(maxsize=32)
def _one_after_another(tables: tuple[IsothermTable, ...]) -> Floats:
    return np.concatenate([table.cubics for table in tables])
