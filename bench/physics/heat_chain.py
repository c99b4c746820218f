"""A press stack as a chain of slices that store heat and pass it on (plain numbers, SI).

:mod:`bench.physics.heating` wraps it in quantities with units.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_SLICES = 24  # in the layer with the largest resistance; the error of a time is below 0.3 %


@dataclass(frozen=True)
class Chain:
    """Slices in a row between a platen and what is behind (SI, plain numbers)."""

    places: Floats  # middle of each slice, m from the platen
    layer: NDArray[np.intp]  # index of the layer of each slice
    capacity: Floats  # J/(m2 K)
    matrix: Floats  # conductances between slices and to the outside, W/(m2 K)
    drive: Floats  # conductance from the hot platens, W/(m2 K)

    def final(self) -> Floats:
        """Rise of each slice in the end, for a platen one kelvin above the room."""
        return self._final

    @cached_property
    def _final(self) -> Floats:
        return np.asarray(np.linalg.solve(self.matrix, self.drive), dtype=np.float64)

    def modes(self) -> tuple[Floats, Floats, Floats]:
        """Rates (1/s), shapes (slices by modes) and starting amplitudes of what is still missing."""
        return self._modes

    @cached_property
    def _modes(self) -> tuple[Floats, Floats, Floats]:
        root = np.sqrt(self.capacity)
        rates, vectors = np.linalg.eigh(self.matrix / np.outer(root, root))
        return rates, vectors / root[:, None], vectors.T @ (root * self.final())


def _slices(resistances: Sequence[float]) -> list[int]:
    largest = max(resistances)
    return [max(8, round(_SLICES * resistance / largest)) for resistance in resistances]


def build_chain(
    thicknesses: Sequence[float],
    conductivities: Sequence[float],
    heats: Sequence[float],
    contact: float,
    heated: str,
    base: float,
) -> Chain:
    """Cut the layers into slices; contact in W/(m2 K), base 0 for a perfect insulation."""
    counts = _slices([d / k for d, k in zip(thicknesses, conductivities, strict=True)])
    layer = np.repeat(np.arange(len(counts)), counts)
    width = np.repeat(np.divide(thicknesses, counts), counts)
    half = width / np.repeat(conductivities, counts) / 2
    between = 1 / (half[:-1] + half[1:])
    top = 1 / (1 / contact + half[0])
    if heated == "both":
        bottom = 1 / (1 / contact + half[-1])
    else:
        bottom = 1 / (1 / base + half[-1]) if base > 0 else 0.0
    matrix = np.diag(np.r_[top, between] + np.r_[between, bottom])
    matrix -= np.diag(between, 1) + np.diag(between, -1)
    drive = np.zeros(len(width))
    drive[0] += top
    if heated == "both":
        drive[-1] += bottom
    return Chain(np.cumsum(width) - width / 2, layer, width * np.repeat(heats, counts), matrix, drive)


def time_to(chain: Chain, share: float, chosen: NDArray[np.intp]) -> float:
    """Time in s until the slowest chosen slice has made a share of its final rise."""
    rates, shapes, start = chain.modes()
    weights = shapes[chosen] * start / chain.final()[chosen, None]
    low, high = 0.0, 1.0 / rates[0]
    while (weights @ np.exp(-rates * high)).max() > 1 - share:
        high *= 2
    for _ in range(60):
        middle = (low + high) / 2
        waiting = (weights @ np.exp(-rates * middle)).max() > 1 - share
        low, high = (middle, high) if waiting else (low, middle)
    return float((low + high) / 2)


def rise(chain: Chain, seconds: float | None) -> Floats:
    """Give the rise of each slice after a time (None: in the end), per kelvin of platen over room."""
    if seconds is None:
        return chain.final()
    rates, shapes, start = chain.modes()
    risen: Floats = chain.final() - shapes @ (start * np.exp(-rates * seconds))
    return risen
