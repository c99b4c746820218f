"""How a pile gives under pressure: Pfeiffer's exponential, and a linear bed.

Both push and never pull: below its free height a bed carries pressure, above it none.
Plain SI floats and arrays (metres, pascals).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Any

import numpy as np

from bench.physics.arrays import Floats

TOP = 1.0e7
"""Pascals up to which the laws are followed; above it they go on along their tangent.

Paper is crushed long before: the branch only keeps an iteration finite, and a result on it is
refused (see :func:`bench.physics.bearing.solve.solve_chain`).
"""


class Law(Enum):
    """Which law a bed follows, and so what its two constants mean."""

    LINEAR = "linear"
    PFEIFFER = "Pfeiffer"


@dataclass(frozen=True)
class Bed:
    """A pile under every node.

    Attributes
    ----------
    law : Law
        To which its constants belong.
    height : array of m
        Free height, without load.
    first : array
        Pfeiffer: K1 in Pa.  Linear: pressure per metre.
    second : array of m
        Pfeiffer: compliance length, the sum of thickness over K2 of the layers.  Linear: not used.
    """

    law: Law
    height: Floats
    first: Floats
    second: Floats

    def at(self, compression: Floats, ease: float = 0.0) -> tuple[Floats, Floats]:
        """Give pressure (Pa) and its tangent (Pa/m) for a compression (m).

        With ``ease`` (m) the contact begins gradually: the compression is replaced by
        ``(c + sqrt(c^2 + ease^2)) / 2``, which keeps the energy convex.
        """
        if ease == 0.0:
            return press(self.law, compression, self.first, self.second)
        root = np.sqrt(compression**2 + ease**2)
        pressure, tangent = press(self.law, 0.5 * (compression + root), self.first, self.second)
        return pressure, tangent * 0.5 * (1 + compression / root)


def linear_bed(height: Any, stiffness: Any) -> Bed:
    """Make a linear bed: free height (m) and pressure per metre (Pa/m), arrays of one shape."""
    tall, stiff = np.broadcast_arrays(np.asarray(height, float), np.asarray(stiffness, float))
    return Bed(Law.LINEAR, tall, stiff, np.ones_like(tall))


def press(law: Law, compression: Floats, first: Floats, second: Floats) -> tuple[Floats, Floats]:
    r"""Give pressure and tangent of a law.

    Parameters
    ----------
    law : Law
        Which is followed.
    compression : array of m
        Free height less height; below zero the bed is not touched.
    first, second : array
        As in :class:`Bed`.

    Returns
    -------
    pressure, tangent : array of Pa, array of Pa/m

    Notes
    -----
    Pfeiffer [pfeiffer]_, with layers of common :math:`K_1` in series,
    :math:`L = \sum_j h_j / K_{2,j}`:

    .. math:: p = K_1 (e^{c / L} - 1)

    from memory.
    """
    if law is Law.LINEAR:
        touched = compression > 0
        return np.where(touched, first * compression, 0.0), np.where(touched, first, 0.0)
    # The exponent of a negative or too large compression is never used; it must stay finite.
    limit = np.log1p(TOP / first) * second
    inside = np.minimum(np.maximum(compression, 0.0), limit)
    grown = np.exp(inside / second)
    pressure, tangent = first * (grown - 1), first * grown / second
    pressure = pressure + tangent * np.maximum(compression - limit, 0.0)
    touched = compression > 0
    return np.where(touched, pressure, 0.0), np.where(touched, tangent, 0.0)


def compress(law: Law, pressure: Any, first: Any, second: Any) -> Any:
    """Give the compression (m) that carries a pressure (Pa, 0 to :data:`TOP`): the inverse law."""
    if law is Law.LINEAR:
        return pressure / first
    return second * np.log1p(pressure / first)


def follow(law: Law, old: Floats, new: Floats, second: Floats) -> Floats:
    """Move the point at which a law is linearised, without shooting up its steep side.

    Notes
    -----
    A step upwards of a stiffening law is shortened to the one that the tangent's pressure would
    give: with the compliance length ``s``, from ``c`` by ``s ln(1 + (c' - c)/s)``.  It is the junction
    limiting of circuit simulation (from memory), which meets the same exponential.  Steps downwards are taken
    whole: from above, Newton's method approaches a convex law without overshoot.
    """
    if law is Law.LINEAR:
        return new
    base = np.maximum(old, 0.0)
    step = np.maximum(new - base, 0.0)
    return np.where(step > second, base + second * np.log1p(step / second), new)
