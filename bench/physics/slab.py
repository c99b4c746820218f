r"""The plane sheet after a step at its surface: the exact answer in pure numbers.

A sheet of half thickness *L*, both faces suddenly at a new state (or one face, the other sealed: then *L*
is the whole thickness).  The Fourier number is :math:`Fo = D t / L^2`.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy.special import erfc

from bench.errors import BadValue
from bench.physics.arrays import Floats

_ROOTS: Floats = (np.arange(40, dtype=np.float64) + 0.5) * math.pi
_AMPLITUDES = 4 * np.sin(_ROOTS) / (2 * _ROOTS + np.sin(2 * _ROOTS))
# Below this Fourier number nothing has reached the middle (to 2e-11) and each face
# is a half-space, for which there is a closed form; above it 40 terms are exact to 1e-15.
_SHORT = 0.01


def local_uptake(fourier: float, place: Any) -> Any:
    r"""Give the uptake at a place in the sheet, from 0 at the start to 1 at equilibrium.

    Parameters
    ----------
    fourier : float
        Time, 0 or more.
    place : float or array
        0 at the middle (or at the sealed face), 1 at the open face.

    Returns
    -------
    float or array
        0 to 1, of the shape of ``place``.

    Raises
    ------
    BadValue
        The Fourier number is below 0 or not finite, or a place lies outside the sheet.

    Notes
    -----
    .. math:: u = 1 - \sum_n C_n \cos(\zeta_n x) e^{-\zeta_n^2 Fo}, \qquad
              \zeta_n = (n + \tfrac12)\,\pi, \quad
              C_n = \frac{4 \sin\zeta_n}{2\zeta_n + \sin 2\zeta_n}

    The plane-sheet series [crank1975]_, [carslaw-jaeger]_; for :math:`Fo < 0.01` the half-space is used
    instead (no loss of accuracy).

    Examples
    --------
    >>> print(round(1 - local_uptake(0.2, 0.0), 4))
    0.7723
    """
    if not (math.isfinite(fourier) and fourier >= 0):
        raise BadValue("Fourier number", fourier, "0 or more", "Check time, diffusivity and thickness")
    where = np.asarray(place, dtype=float)
    if not bool(np.all((where >= 0) & (where <= 1))):
        raise BadValue("place in the sheet", place, "0 (middle) to 1 (face)", "Divide by the half thickness")
    if fourier == 0:
        result = np.zeros_like(where)
    elif fourier < _SHORT:
        result = np.asarray(erfc((1 - where) / (2 * math.sqrt(fourier))))
    else:
        result = 1.0 - np.cos(where[..., None] * _ROOTS) @ (_AMPLITUDES * np.exp(-(_ROOTS**2) * fourier))
    return float(result) if result.ndim == 0 else result
