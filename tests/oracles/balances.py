"""Water and heat of a history added up from what crossed its faces: what must come out as nothing."""

from typing import NamedTuple

import numpy as np


class WaterBalance(NamedTuple):
    """Where the water of the whole stack went, in grams; below zero it was given off.

    What is left over is the error of the calculation.
    """

    start: float
    end: float
    by_faces: float
    by_edges: float
    brought: float
    removed: float

    @property
    def residual(self):
        crossed = self.by_faces + self.by_edges + self.brought - self.removed
        return self.end - self.start - crossed


def water_held(history, *roles):
    """Give the water held by the sheets of these roles (all without one), g, shape (n,)."""
    return 1000 * history.phases[0].cut.area * np.concatenate([p.water(*roles) for p in history.phases])


def balance_water(history):
    held = water_held(history)
    faces = edges = brought = removed = 0.0
    for phase in history.phases:
        water, share = phase.track.crossed[0], phase.equations.rim.by_face
        faces += float(water @ share)
        edges += float(water @ (1 - share))
        brought += phase.change.water_in
        removed += phase.change.water_out
    grams = 1000 * history.phases[0].cut.area
    return WaterBalance(held[0], held[-1], *(grams * amount for amount in (faces, edges, brought, removed)))


def balance_heat(history):
    """Give the heat that does not add up, and all that was moved, J."""
    residual, moved, before = 0.0, 0.0, None
    for phase in history.phases:
        heat = phase.cut.slices.heat
        first, last = (float(phase.track.states[i][1::2] @ heat) for i in (0, -1))
        crossed = phase.track.crossed[1]
        residual += last - first - float(crossed.sum())
        moved += float(np.abs(crossed).sum())
        if before is not None:
            residual += first - before - phase.change.heat_in + phase.change.heat_out
        before = last
    area = history.phases[0].cut.area
    return area * residual, area * moved
