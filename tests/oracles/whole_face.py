"""The whole face in strips, by which the sections that answer a plan are checked.

Staples act at two or three places only, and the boards share their load between them.

Each strip runs from spine to fore edge and has the profile of its place on the spine: through a
staple, or between staples.  The boards are one plate over all strips, bending and twisting.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bench.physics.arrays import Floats
from bench.physics.bearing.batch import REFERENCE, halves
from bench.physics.bearing.laws import Bed, Law
from bench.physics.bearing.plates import Bands, Plate, bend_energy, orthonormal, shares
from bench.physics.bearing.solve import Balance
from bench.physics.bearing.zones import Layout, Sheets, Shim, section_profile
from tests.oracles.one_section import press_item

CROWN = 12e-3
"""Metres along the spine on which a staple bears: a crown of 12 to 13 mm, from memory."""


def _twist(places: Floats) -> Floats:
    steps = np.diff(places)
    slope = np.diff(np.eye(len(places)), axis=0) / steps[:, None]
    return np.asarray(slope.T @ (steps[:, None] * slope))


def face_plate(across: Floats, down: Floats, bending: float, bending_down: float | None = None) -> Plate:
    r"""Make a plate on a grid, nodes counted down the face first.

    Parameters
    ----------
    across, down : array of m
        Places from spine to fore edge, and from head to tail (three or more).
    bending : float
        N m, across; ``bending_down`` along the spine if it differs.

    Notes
    -----
    .. math:: U = \tfrac12 \int D_x w_{xx}^2 + D_y w_{yy}^2 + 2 \sqrt{D_x D_y}\, w_{xy}^2

    Poisson's coupling is left out, as for one strip; free edges come by themselves.
    """
    along = bending if bending_down is None else bending_down
    bend_x, bend_y, twist_x, twist_y = bend_energy(across), bend_energy(down), _twist(across), _twist(down)
    wide, tall = np.diag(shares(across)), np.diag(shares(down))
    rows = len(down)
    bands: Bands = {}
    for step in range(3):
        for side in range(-2, 3):
            offset = step * rows + side
            if offset < 0:
                continue
            block = (
                bending * np.outer(np.diagonal(bend_x, step), _shifted(tall, side))
                + along * np.outer(np.diagonal(wide, step), _shifted(bend_y, side))
                + 2 * np.sqrt(bending * along) * np.outer(np.diagonal(twist_x, step), _shifted(twist_y, side))
            )
            values = block.ravel()[: len(across) * rows - offset]
            if np.any(values):
                padded = np.zeros(len(across) * rows - offset)
                padded[: len(values)] = values
                bands[offset] = bands.get(offset, 0.0) + padded
    x, y = (grid.ravel() for grid in np.meshgrid(across, down, indexing="ij"))
    return Plate(bands, orthonormal(np.ones_like(x), x, y))


def _shifted(matrix: Floats, side: int) -> Floats:
    """Give entry (j, j + side) for every row j, zero where it falls outside."""
    found = np.zeros(len(matrix))
    diagonal = np.diagonal(matrix, side)
    start = max(0, -side)
    found[start : start + len(diagonal)] = diagonal
    return found


@dataclass(frozen=True)
class Face:
    """A solved face.

    Attributes
    ----------
    across, down : array of m
        Places from the spine and from the head.
    pressure : array (across, down) of Pa
    share : array (across, down) of m2
    gap : array (across, down) of m
        Room between the boards.
    staples : dict of str to float
        Force on the wire of each staple, N.
    balance : Balance
    """

    across: Floats
    down: Floats
    pressure: Floats
    share: Floats
    gap: Floats
    staples: Mapping[str, float]
    balance: Balance

    def at(self, x: float, y: float) -> float:
        """Give the pressure (Pa) at a place in metres from spine and head, between nodes in proportion."""
        i = int(np.clip(np.searchsorted(self.across, x) - 1, 0, len(self.across) - 2))
        j = int(np.clip(np.searchsorted(self.down, y) - 1, 0, len(self.down) - 2))
        u = float(np.clip((x - self.across[i]) / (self.across[i + 1] - self.across[i]), 0, 1))
        v = float(np.clip((y - self.down[j]) / (self.down[j + 1] - self.down[j]), 0, 1))
        p = self.pressure[i : i + 2, j : j + 2]
        return float((1 - u) * ((1 - v) * p[0, 0] + v * p[0, 1]) + u * ((1 - v) * p[1, 0] + v * p[1, 1]))


def face_strips(layout: Layout, *, fine: float = CROWN / 3, coarse: float = 24e-3) -> Floats:
    """Choose the places of strips from head to tail (m): close at staples, wide between.

    The edges of a crown lie midway between nodes, so that its strips are as wide as it is.
    """
    ends = [0.0]
    for middle in sorted(layout.staples.values()):
        low, high = middle - CROWN / 2, middle + CROWN / 2
        count = max(1, round(CROWN / fine))
        step = CROWN / count
        nodes = np.linspace(low - step / 2, high + step / 2, count + 2)
        if nodes[0] <= ends[-1] or nodes[-1] >= layout.height:
            nodes = nodes[(nodes > ends[-1] + 1e-3) & (nodes < layout.height - 1e-3)]
        ends = [*_stretch(ends, nodes[0], step, coarse), *nodes]
    return np.array([*_stretch(ends, layout.height, fine, coarse), layout.height])


def _stretch(ends: list[float], until: float, step: float, coarse: float) -> list[float]:
    """Fill the room up to a place with steps that grow from both sides."""
    room = until - ends[-1]
    ramp = [step]
    while sum(ramp) < room / 2 and ramp[-1] < coarse:
        ramp.append(min(1.6 * ramp[-1], coarse))
    flat = max(0, round((room - 2 * sum(ramp)) / coarse))
    steps = np.array([*ramp, *[coarse] * flat, *reversed(ramp)])
    return [*ends, *(ends[-1] + np.cumsum(steps)[:-1] * room / steps.sum())]


def solve_face(
    across: Floats,
    down: Floats,
    layout: Layout,
    sheets: Sheets,
    values: Mapping[str, Floats],
    *,
    even: bool = False,
    both_sides: bool = True,
    shim: Shim | None = None,
) -> Face:
    """Solve the whole face for one set of values.

    Parameters
    ----------
    across, down : array of m
        Places of the grid.
    layout : Layout
    sheets : Sheets
    values : mapping of str to array (1,)
        As drawn without doubt.
    even, both_sides : bool
        As in :func:`tests.oracles.one_section.solve_section`.
    shim : Shim, optional

    Returns
    -------
    Face

    Raises
    ------
    OutOfRange
        No balance, or a pressure beyond where the laws hold.
    """
    part = halves(both_sides)
    share = np.outer(shares(across), shares(down))
    columns = {
        name: section_profile(across, layout, sheets, values, staple=name, shim=shim)
        for name in layout.staples
    }
    between = section_profile(across, layout, sheets, values, shim=shim)
    chosen = [columns.get(_staple_at(layout, y) or "", between) for y in down]
    height, first, soft = (
        np.column_stack([getattr(profile, name)[:, 0] for profile in chosen]).ravel()
        for name in ("height", "first", "soft")
    )
    item = Bed(Law.PFEIFFER, part * height, first, part * soft)
    balance = press_item(
        share.ravel(),
        item,
        face_plate(across, down, float(values["bending"][0])),
        float(values["give"][0]),
        load=float(values["load"][0]) * float(share.sum()) if "load" in values else None,
        level=part * float(values["gap"][0]) + REFERENCE if "gap" in values else None,
        even=even,
    )
    shape = share.shape
    pressure = balance.pressures[0].reshape(shape)
    return Face(
        across,
        down,
        pressure,
        share,
        balance.heights[0].reshape(shape) / part,
        _staple_forces(across, down, layout, pressure * share),
        balance,
    )


def _staple_at(layout: Layout, y: float) -> str | None:
    for name, middle in layout.staples.items():
        if abs(y - middle) <= CROWN / 2 + 1e-9:
            return name
    return None


def _staple_forces(across: Floats, down: Floats, layout: Layout, force: Floats) -> dict[str, float]:
    if layout.staple_line is None or layout.staple_line < across[0]:
        return dict.fromkeys(layout.staples, 0.0)
    row = int(np.argmin(np.abs(across - layout.staple_line)))
    found = dict.fromkeys(layout.staples, 0.0)
    for j, y in enumerate(down):
        name = _staple_at(layout, float(y))
        if name is not None:
            found[name] += float(force[row, j])
    return found
