"""Water and heat of a history added up from what crossed its faces: what must come out as nothing."""

from typing import NamedTuple

import numpy as np


class WaterBalance(NamedTuple):
    """Where the water of the whole stack went, in grams; below zero it was given off.

    What is left over is the error of the calculation.
    """

    start: float
    end: float
    crossed: float
    changed: float  # with the sheets that were taken out or put in
    moved: float  # of both, phase by phase, whichever way it went

    @property
    def residual(self):
        return self.end - self.start - self.crossed - self.changed


def water_held(history, *roles):
    """Give the water held by the sheets of these roles (all without one), g, shape (n,)."""
    return 1000 * history.phases[0].cut.area * np.concatenate([p.water(*roles) for p in history.phases])


def balance_water(history):
    held = water_held(history)
    first = np.cumsum([len(phase.times) for phase in history.phases])[:-1]
    grams = 1000 * history.phases[0].cut.area
    crossed = np.array([grams * phase.track.crossed[0].sum() for phase in history.phases])
    changed = held[first] - held[first - 1]
    moved = np.abs(crossed).sum() + np.abs(changed).sum()
    return WaterBalance(held[0], held[-1], crossed.sum(), changed.sum(), moved)


def balance_heat(history):
    """Give the heat that does not add up, and all that was moved, J."""
    residual, moved = 0.0, 0.0
    for phase in history.phases:
        heat = phase.cut.slices.heat
        first, last = (float(phase.track.states[i][1::2] @ heat) for i in (0, -1))
        crossed = phase.track.crossed[1]
        residual += last - first - float(crossed.sum())
        moved += float(np.abs(crossed).sum())
    area = history.phases[0].cut.area
    return area * residual, area * moved
