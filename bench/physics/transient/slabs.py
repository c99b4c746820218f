"""Slabs of one material in plain numbers, for the cases that have an exact solution to be held against."""

from __future__ import annotations

from typing import Any

import numpy as np

from bench.physics import saturation
from bench.physics.isotherms import Isotherm
from bench.physics.saturation import VAPOUR_CONSTANT, ZERO_CELSIUS
from bench.physics.transient.compiled import GROWTH
from bench.physics.transient.equations import Equations, Outside, Slices
from bench.physics.transient.isotherm_table import StraightIsotherm, pack, tabulate
from bench.physics.transient.stepper import Track, integrate
from bench.physics.vapour import air_permeability

ENDLESS = 1e12  # J/(m2 K): so much heat that nothing warms, hence an isothermal case
STRAIGHT = StraightIsotherm(0.2)


def make_slices(
    cells: int,
    *,
    thickness: float = 4.4e-3,
    density: float = 600.0,
    ratio: float = 0.03,
    conductivity: float = 0.12,
    specific: float = 1500.0,
    isotherm: Isotherm = STRAIGHT,
    isothermal: bool = False,
    sealed: bool = False,
    celsius: float = 23.0,
) -> Slices:
    """Cut a slab into equal cells (SI); the permeability is that at ``celsius``."""
    width = thickness / cells
    permeability = 0.0 if sealed else ratio * air_permeability(23.0)
    if not sealed and celsius != 23.0:  # the model makes the law straight about 23 °C
        permeability = ratio * air_permeability(celsius) / (1 + GROWTH * (celsius - 23.0))
    ones = np.ones(cells)
    heat = ENDLESS if isothermal else density * width * specific
    return Slices(
        mass=density * width * ones,
        heat=heat * ones,
        vapour=permeability / width * ones[1:],
        conductance=(ENDLESS if isothermal else conductivity / width) * ones[1:],
        half_vapour=(np.inf if sealed else width / 2 / permeability) * ones,
        half_heat=(0.0 if isothermal else width / 2 / conductivity) * ones,
        edge_vapour=0 * ones,
        edge_heat=0 * ones,
        pack=pack([tabulate(isotherm)], np.zeros(cells, dtype=np.intp), ones),
        wet=np.ones(cells, dtype=bool),
    )


def damp_air(
    slices: Slices,
    humidity: float,
    *,
    film: float,
    celsius: float = 23.0,
    both: bool = True,
    cover: float = 0.0,
) -> Outside:
    """Put a slab into air, behind a film in m/s and a cover as metres of still air."""
    outer = VAPOUR_CONSTANT * (celsius + ZERO_CELSIUS) / film if np.isfinite(film) else 0.0
    outer += cover / air_permeability(celsius) + float(slices.half_vapour[0])
    pressure = humidity * saturation.pressure_pa(celsius)
    vapour = (1 / outer, 1 / outer if both else 0.0)
    return Outside(vapour, (1.0, 1.0), (celsius, celsius), air_celsius=celsius, air_pressure=pressure)


def heated(
    slices: Slices, top: float, *, start: float, film: float = np.inf, bottom: float | None = None
) -> Outside:
    """Hold the top of a slab at a temperature behind a film in W/(m2 K); the bottom is sealed or held too."""
    conductance = 1 / (1 / film + float(slices.half_heat[0]))
    far = 0.0 if bottom is None else 1 / (1 / film + float(slices.half_heat[-1]))
    return Outside((0.0, 0.0), (conductance, far), (top, start if bottom is None else bottom))


def run(
    slices: Slices,
    outside: Outside,
    content: float,
    celsius: float,
    seconds: float,
    *,
    tolerance: float = 1e-6,
    first_step: float = 0.5,
) -> tuple[Equations, Any, Track]:
    """Integrate from an even state; give the equations, the final state and the track."""
    equations = Equations(slices, outside)
    cells = len(slices.mass)
    state = equations.state_of(np.full(cells, content), np.full(cells, celsius))
    track = Track()
    end, _ = integrate(
        equations,
        state,
        outside.air_pressure,
        start=0.0,
        end=seconds,
        tolerance=tolerance,
        track=track,
        first_step=first_step,
    )
    return equations, end, track
