r"""The plane sheet after a step at its surface: one mathematics for heat and for moisture.

A sheet of half thickness *L*, both faces suddenly at a new state (or one face, the other
sealed: then *L* is the whole thickness), behind a film or a cover of negligible storage.
Everything here is a pure number and a plain float:

- the Fourier number :math:`Fo = D t / L^2` (time);
- the Biot number :math:`Bi` = resistance of the half sheet over resistance of film and
  cover (``math.inf`` without a film);
- the uptake, from 0 at the start to 1 at equilibrium.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import erfc, erfcx

from bench.errors import BadValue

Floats = NDArray[np.float64]

_TERMS = 40
# Below this Fourier number nothing has reached the middle (to 2e-11) and each face
# is a half-space, for which there is a closed form; above it 40 terms are exact to 1e-15.
_SHORT = 0.01


@lru_cache(maxsize=256)
def _roots(biot: float) -> Floats:
    """First roots of z tan z = Bi by bisection, one in each interval [n pi, n pi + pi/2]."""
    order = np.arange(_TERMS, dtype=np.float64)
    if math.isinf(biot):
        roots: Floats = (order + 0.5) * math.pi
        return roots
    low = order * math.pi
    high = low + math.pi / 2
    for _ in range(80):
        middle = (low + high) / 2
        # The sign of z sin z - Bi cos z alternates from one interval to the next.
        above = (middle * np.sin(middle) - biot * np.cos(middle)) * (-1.0) ** order > 0
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    found: Floats = (low + high) / 2
    return found


def _amplitudes(roots: Floats) -> Floats:
    amplitudes: Floats = 4 * np.sin(roots) / (2 * roots + np.sin(2 * roots))
    return amplitudes


def _check(fourier: float, biot: float) -> None:
    if not (math.isfinite(fourier) and fourier >= 0):
        raise BadValue("Fourier number", fourier, "0 or more", "Check time, diffusivity and thickness")
    if not biot > 0:
        raise BadValue(
            "Biot number", biot, "more than 0", "A sealed face takes up nothing: check the film and the cover"
        )


def wall_roots(biot: float, count: int = 1) -> tuple[tuple[float, float], ...]:
    r"""Give the first roots and amplitudes of the plane wall with a film.

    Parameters
    ----------
    biot : float
        Biot number, more than 0; ``math.inf`` for a fixed surface value.
    count : int
        How many terms, 1 to 40.

    Returns
    -------
    tuple of (root, amplitude)

    Raises
    ------
    BadValue

    Notes
    -----
    .. math:: \zeta_n \tan\zeta_n = Bi, \qquad
              C_n = \frac{4 \sin\zeta_n}{2\zeta_n + \sin 2\zeta_n}

    Plane wall with convection [incropera]_ (Table 5.1 prints the first term; the one-term
    solution is good for :math:`Fo > 0.2`).  The roots are computed, not read from the table.

    Examples
    --------
    >>> print("%.4f %.4f" % wall_roots(1.0)[0])
    0.8603 1.1191
    """
    _check(0.0, biot)
    if not 1 <= count <= _TERMS:
        raise BadValue("number of terms", count, f"1 to {_TERMS}", "Ask for fewer terms")
    roots = _roots(float(biot))[:count]
    return tuple((float(z), float(c)) for z, c in zip(roots, _amplitudes(roots), strict=True))


def mean_uptake(fourier: float, biot: float = math.inf) -> float:
    r"""Give the mean uptake of the sheet.

    Parameters
    ----------
    fourier, biot : float
        See the module's head.

    Returns
    -------
    float
        0 to 1.

    Raises
    ------
    BadValue

    Notes
    -----
    .. math:: U = 1 - \sum_n C_n \frac{\sin\zeta_n}{\zeta_n} e^{-\zeta_n^2 Fo}

    For a fixed surface value this is the plane-sheet series [crank1975]_, [carslaw-jaeger]_.
    For :math:`Fo < 0.01` the half-space behind a film is used instead (no loss of accuracy).

    Examples
    --------
    >>> print(round(1 - mean_uptake(0.2), 4))
    0.4959
    """
    _check(fourier, biot)
    if fourier < _SHORT:
        return _half_space_amount(fourier, biot)
    roots = _roots(float(biot))
    terms = _amplitudes(roots) * np.sin(roots) / roots * np.exp(-(roots**2) * fourier)
    return 1.0 - float(terms.sum())


def _half_space_amount(fourier: float, biot: float) -> float:
    if math.isinf(biot):
        return 2 * math.sqrt(fourier / math.pi)
    depth = biot * math.sqrt(fourier)
    if depth < 1e-3:  # the closed form below loses its digits; three terms of its series do not
        return biot * fourier * (1 - 4 * depth / (3 * math.sqrt(math.pi)) + depth**2 / 2)
    return float(erfcx(depth) - 1 + 2 * depth / math.sqrt(math.pi)) / biot


def local_uptake(fourier: float, place: Any, biot: float = math.inf) -> Any:
    r"""Give the uptake at a place in the sheet.

    Parameters
    ----------
    fourier, biot : float
        See the module's head.
    place : float or array
        0 at the middle (or at the sealed face), 1 at the open face.

    Returns
    -------
    float or array
        0 to 1, of the shape of ``place``.

    Raises
    ------
    BadValue

    Notes
    -----
    .. math:: u = 1 - \sum_n C_n \cos(\zeta_n x) e^{-\zeta_n^2 Fo}

    Examples
    --------
    >>> print(round(1 - local_uptake(0.2, 0.0), 4))
    0.7723
    """
    _check(fourier, biot)
    where = np.asarray(place, dtype=float)
    if not bool(np.all((where >= 0) & (where <= 1))):
        raise BadValue("place in the sheet", place, "0 (middle) to 1 (face)", "Divide by the half thickness")
    if fourier == 0:
        result = np.zeros_like(where)
    elif fourier < _SHORT:
        result = _half_space_profile(fourier, 1 - where, biot)
    else:
        roots = _roots(float(biot))
        decay = _amplitudes(roots) * np.exp(-(roots**2) * fourier)
        result = 1.0 - np.cos(where[..., None] * roots) @ decay
    return float(result) if result.ndim == 0 else result


def _half_space_profile(fourier: float, depth: Floats, biot: float) -> Floats:
    reach = depth / (2 * math.sqrt(fourier))
    profile: Floats = erfc(reach)
    if math.isfinite(biot):
        profile = profile - np.exp(-(reach**2)) * erfcx(reach + biot * math.sqrt(fourier))
    return profile


def centre_uptake(fourier: float, biot: float = math.inf) -> float:
    """Give the uptake in the middle of the sheet (or at its sealed face), 0 to 1."""
    return float(local_uptake(fourier, 0.0, biot))


def fourier_for(uptake: float, biot: float = math.inf, *, place: str = "mean") -> float:
    """Find the Fourier number at which an uptake is reached: the inverse of the series.

    Parameters
    ----------
    uptake : float
        More than 0, less than 1: equilibrium itself is never reached.
    biot : float
        Biot number, more than 0.
    place : str
        ``"mean"`` of the sheet, or ``"core"`` (the middle, or the sealed face).

    Returns
    -------
    float
        By bisection, to a relative 1e-12.

    Raises
    ------
    BadValue

    Examples
    --------
    >>> print(round(fourier_for(0.95), 3), round(fourier_for(0.95, place="core"), 3))
    1.129 1.312
    """
    _check(0.0, biot)
    if not 0 < uptake < 1:
        raise BadValue(
            "fraction", f"{uptake:g}", "more than 0 and less than 1", "Ask for 0.95: the end is never reached"
        )
    if place not in ("mean", "core"):
        raise BadValue("place", repr(place), "mean or core", "Choose one of these")
    reached = mean_uptake if place == "mean" else centre_uptake
    low, high = 1e-12, 1.0
    while reached(high, biot) < uptake:
        high *= 4
    for _ in range(80):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if reached(middle, biot) < uptake else (low, middle)
    return math.sqrt(low * high)
