r"""The plane sheet behind a film, after a step outside: the exact answer for heat and for moisture.

A sheet of half thickness *L*, both faces behind a film (or one face, the other sealed: then *L* is the
whole thickness).  All in pure numbers: the Fourier number :math:`Fo = D t / L^2`, the Biot number
:math:`Bi` = resistance of the half sheet over that of the film (infinite without one), and the uptake from
0 at the start to 1 at equilibrium.

Plane wall with convection [incropera], [carslaw-jaeger], [crank1975]:

.. math:: u = 1 - \sum_n C_n \cos(\zeta_n x) e^{-\zeta_n^2 Fo}, \qquad
          \zeta_n \tan\zeta_n = Bi, \quad C_n = \frac{4 \sin\zeta_n}{2\zeta_n + \sin 2\zeta_n}

and for :math:`Fo < 0.01`, when nothing has reached the middle, the half-space behind a film.
"""

import math

import numpy as np
from scipy.special import erfc, erfcx

_SHORT = 0.01


def first_roots(biot):
    """Give 40 roots and amplitudes, by bisection: one root in each interval [n pi, n pi + pi/2]."""
    order = np.arange(40.0)
    low, high = order * math.pi, (order + 0.5) * math.pi
    if math.isinf(biot):
        roots = high
    else:
        for _ in range(80):
            middle = (low + high) / 2
            # The sign of z sin z - Bi cos z alternates from one interval to the next.
            above = (middle * np.sin(middle) - biot * np.cos(middle)) * (-1.0) ** order > 0
            low, high = np.where(above, low, middle), np.where(above, middle, high)
        roots = (low + high) / 2
    return roots, 4 * np.sin(roots) / (2 * roots + np.sin(2 * roots))


def mean_uptake(fourier, biot=math.inf):
    if fourier < _SHORT:
        return _half_space_amount(fourier, biot)
    roots, amplitudes = first_roots(biot)
    return 1.0 - float((amplitudes * np.sin(roots) / roots * np.exp(-(roots**2) * fourier)).sum())


def _half_space_amount(fourier, biot):
    if math.isinf(biot):
        return 2 * math.sqrt(fourier / math.pi)
    depth = biot * math.sqrt(fourier)
    if depth < 1e-3:  # the closed form below loses its digits; three terms of its series do not
        return biot * fourier * (1 - 4 * depth / (3 * math.sqrt(math.pi)) + depth**2 / 2)
    return float(erfcx(depth) - 1 + 2 * depth / math.sqrt(math.pi)) / biot


def local_uptake(fourier, place, biot=math.inf):
    """Give the uptake at places from 0 (middle, or sealed face) to 1 (open face)."""
    where = np.asarray(place, dtype=float)
    if fourier < _SHORT:
        return _half_space_profile(fourier, 1 - where, biot)
    roots, amplitudes = first_roots(biot)
    return 1.0 - np.cos(where[..., None] * roots) @ (amplitudes * np.exp(-(roots**2) * fourier))


def _half_space_profile(fourier, depth, biot):
    reach = depth / (2 * math.sqrt(fourier))
    if math.isinf(biot):
        return erfc(reach)
    return erfc(reach) - np.exp(-(reach**2)) * erfcx(reach + biot * math.sqrt(fourier))


def centre_uptake(fourier, biot=math.inf):
    return float(local_uptake(fourier, 0.0, biot))
