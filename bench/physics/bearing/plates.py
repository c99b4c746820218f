"""Plates: how much boards, cards and the aluminium plate resist bending.

Loose layers slide on each other, so that their bending stiffnesses add; glued ones would count as
one thick board.  On a grid a plate is a band matrix, built from its bending energy, so that it is
symmetric and holds nothing against being lifted or tilted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np

from bench.errors import BadValue
from bench.materials import look_up
from bench.physics.arrays import Floats
from bench.physics.ranges import Range, as_range
from bench.units import Q_, Quantity, to_float

Bands: TypeAlias = dict[int, Floats]
"""Upper diagonals of a symmetric matrix by their distance from the main one."""

ALUMINIUM_RATIO = 0.33  # Poisson's, from memory


@dataclass(frozen=True)
class Pack:
    """What lies between platen and item on one side.

    Attributes
    ----------
    bending : Range [N m]
        Sum over the loose layers.
    give : Range [pressure / length]
        Pressure per metre of compression through the thickness.
    thickness : Quantity [length]
        Of all its layers, without load.
    words : str
        Its layers and how many of each.
    """

    bending: Range
    give: Range
    thickness: Quantity
    words: str

    def __post_init__(self) -> None:
        self.bending.floats("N*m", field="bending stiffness", low=1e-6, high=1e6)
        self.give.floats("Pa/m", field="give of the pack", low=1e5, high=1e14)
        to_float(self.thickness, "mm", field="thickness of the pack", low=0.01, high=100)


def build_pack(*layers: tuple[str, int], measured: Mapping[str, Range] | None = None) -> Pack:
    r"""Build a pack of loose boards and cards from the materials table.

    Parameters
    ----------
    *layers : (str, int)
        Name of a board, and how many of them on this side.
    measured : mapping of str to Range [N m], optional
        Bending stiffness of one board by its name, where it was measured; the tables say it of the others.

    Returns
    -------
    Pack

    Raises
    ------
    BadValue
        No layer, or a count below one.
    NotFound
        A board without a bending modulus.

    Notes
    -----
    .. math:: D = \sum n E t^3 / 12, \qquad 1/k = \sum n t / E_z

    The ends of the ranges take all layers at their ends together: one maker, one humidity.

    Examples
    --------
    >>> pack = build_pack(("backing board 24 pt", 2), ("card 90 lb index", 1))
    >>> print(pack.bending.say("N*m"))
    0.12 N*m (0.04 to 0.22)
    """
    if not layers or any(count < 1 for _, count in layers):
        raise BadValue("layers of the pack", layers, "one board or more", "Name the boards on each side")
    bends, gives = np.zeros(3), np.zeros(3)
    thickness = Q_(0.0, "mm")
    for name, count in layers:
        entry = look_up(name, "thickness")
        tall = np.array(as_range(entry).floats("m", field="thickness"))
        modulus = np.array(as_range(look_up(name, "bending modulus")).floats("Pa", field="bending modulus"))
        through = as_range(look_up(name, "through-thickness modulus"))
        own = (measured or {}).get(name)
        bends += count * (modulus * tall**3 / 12 if own is None else np.array(own.floats("N*m", field=name)))
        gives += count * tall[0] / np.array(through.floats("Pa", field="through-thickness modulus"))
        thickness += (count * entry.value).to("mm")
    words = ", ".join(f"{count} × {name}" for name, count in layers)
    return Pack(Range.of(bends, "N*m"), Range.of(1 / gives, "Pa/m"), thickness, words)


def plate_bending(thickness: Quantity) -> Range:
    r"""Give the bending stiffness of an aluminium plate per width, with the range of its modulus.

    Parameters
    ----------
    thickness : Quantity [length]
        0.01 to 50 mm.

    Returns
    -------
    Range [N m]

    Notes
    -----
    .. math:: D = \frac{E t^3}{12 (1 - \nu^2)}

    Paper has a Poisson's ratio so small that it is within the doubt of its modulus, and left out there.

    Examples
    --------
    >>> print(plate_bending(Q_(3.2, "mm")).say("N*m"))
    215 N*m (208 to 221)
    """
    moduli = as_range(look_up("aluminium", "bending modulus")).floats("Pa", field="bending modulus")
    metres = to_float(thickness, "m", field="thickness of a board", low=1e-5, high=0.05)
    return Range.of((pascals * metres**3 / 12 / (1 - ALUMINIUM_RATIO**2) for pascals in moduli), "N*m")


# --- grids ---------------------------------------------------------------------------------------


def shares(places: Floats) -> Floats:
    """Give the length that belongs to each node: half the way to each neighbour."""
    steps = np.diff(places)
    return 0.5 * (np.r_[steps, 0.0] + np.r_[0.0, steps])


def second_differences(places: Floats) -> Floats:
    """Give the matrix of curvatures at the inner nodes, exact for a parabola on any spacing."""
    left, right = np.diff(places)[:-1], np.diff(places)[1:]
    count = len(places)
    rows = np.arange(count - 2)
    matrix = np.zeros((count - 2, count))
    matrix[rows, rows] = 2 / (left * (left + right))
    matrix[rows, rows + 1] = -2 / (left * right)
    matrix[rows, rows + 2] = 2 / (right * (left + right))
    return matrix


def bend_energy(places: Floats) -> Floats:
    """Give the matrix of twice the bending energy of a strip of unit stiffness."""
    curvature = second_differences(places)
    return np.asarray(curvature.T @ (shares(places)[1:-1, None] * curvature))


@dataclass(frozen=True)
class Plate:
    """A plate on a grid.

    Attributes
    ----------
    bands : dict of int to array
        Upper diagonals of its bending matrix by their distance from the main one, N/m.
    flat : array (k, n)
        Orthonormal shapes it does not resist: lifting and tilting.
    """

    bands: Bands
    flat: Floats

    def bent(self, heights: Floats) -> Floats:
        """Give heights without what is only lifted or tilted, so that little is lost to rounding."""
        rest = heights - self.flat.T @ (self.flat @ heights)
        return np.asarray(rest)

    @cached_property
    def sizes(self) -> Bands:
        """The bands without their signs: what rounding is measured by."""
        return {offset: np.abs(values) for offset, values in self.bands.items()}

    def forces(self, heights: Floats) -> Floats:
        """Give the force on each node that holds the plate in this shape."""
        return times(self.bands, self.bent(heights))


def section_plate(places: Floats, bending: float = 1.0) -> Plate:
    """Make a plate strip one metre wide along places (m), bending stiffness in N m."""
    matrix = bending * bend_energy(places)
    bands = {offset: np.diagonal(matrix, offset).copy() for offset in range(3)}
    return Plate(bands, orthonormal(np.ones_like(places), places))


def orthonormal(*shapes: Floats) -> Floats:
    """Give the same shapes as rows that are perpendicular and of length one."""
    columns, _ = np.linalg.qr(np.column_stack([shape / np.linalg.norm(shape) for shape in shapes]))
    return np.asarray(columns.T)


def times(bands: Bands, vector: Floats) -> Floats:
    """Multiply the symmetric band matrix by a vector, or by one a column where the bands are columns too."""
    product = bands[0] * vector
    for offset, values in bands.items():
        if offset:
            product[:-offset] += values * vector[offset:]
            product[offset:] += values * vector[:-offset]
    return product
