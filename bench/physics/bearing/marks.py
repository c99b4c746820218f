"""The load at which a staple marks paper, and the pressure on its wire as the model of the load has it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from bench.physics.arrays import Floats
from bench.physics.bearing.results import Limits
from bench.physics.bearing.zones import WIRE
from bench.physics.contact import HIGHEST_LOAD, pressure_from_force
from bench.physics.ranges import REACH, Range
from bench.units import Q_, Quantity, to_float

CROWN = Q_(12.0, "mm")
"""Length of wire with which a usual staple of a periodical lies on the paper; from memory."""

FOOTPRINT = Q_(CROWN.to("m").magnitude * WIRE, "m^2")
"""Of such a staple, as wide as the section has it (:data:`bench.physics.bearing.zones.WIRE`)."""

DAMP_PART = 0.5
"""Part of the dry load that damp, warm paper takes without a mark; judgement."""


def pressure_on_wire(load: Quantity) -> Quantity:
    r"""Give the mean pressure on the wire of a staple that carries a load.

    Parameters
    ----------
    load : Quantity [force]
        On one staple, 0 to 10 kN.

    Returns
    -------
    Quantity [kPa]

    Notes
    -----
    :math:`p = F / (b\,l)` with the width :math:`b` and the length :math:`l` of the wire that bear.

    Examples
    --------
    >>> print(f"{pressure_on_wire(Q_(4.2, 'N')):.0f~P}")
    500 kPa
    """
    to_float(load, "N", field="load on a staple", low=0.0, high=1e4)
    return pressure_from_force(load, area=FOOTPRINT)


def load_on_wire(pressure: Quantity) -> Quantity:
    """Give the load on one staple whose wire carries a pressure, 0 to 10 MPa; the inverse.

    Examples
    --------
    >>> print(f"{load_on_wire(Q_(50, 'kPa')):.2f~P}")
    0.42 N
    """
    pascals = to_float(pressure, "Pa", field="pressure on a staple", low=0.0, high=1e7)
    return Q_(pascals * float(FOOTPRINT.to("m^2").magnitude), "N")


MARKS = Range(Q_(6.0, "N"), load_on_wire(Limits().staple) / DAMP_PART, Q_(40.0, "N"))
"""Load at which a staple marks dry paper: its low end stands for the usual limit on a staple, the
rest is judgement of low confidence."""


def marking_limit(marks: Range) -> Quantity:
    """Give the pressure on a staple that is not to be exceeded, from the load at which one marks dry.

    Parameters
    ----------
    marks : Range [force]
        Load at which a staple marks dry paper, for one staple more.

    Returns
    -------
    Quantity [kPa]
        The low end, the part of it that damp paper takes, spread over the wire; and never above the pressure
        at which paper is crushed anyway (:data:`bench.physics.contact.HIGHEST_LOAD`).

    Examples
    --------
    >>> print(f"{marking_limit(MARKS):.0f~P}")
    50 kPa
    """
    damp = DAMP_PART * marks.low
    return min(pressure_on_wire(damp), HIGHEST_LOAD)


SCATTER = (math.log(0.3), math.log(2.5) / REACH)
"""Of the logarithm of the load between staples: median and standard deviation of its own logarithm, which is
0.12 to 0.75; judgement."""

EYE = 0.12
"""Standard, of the logarithm: how faint a mark counts, the copy paper, the scale; judgement."""


@dataclass(frozen=True)
class Marking:
    """What the staples say of one more staple: its threshold, and the scatter between staples.

    Attributes
    ----------
    loads : array (k,)
        Logarithms of newtons, rising.
    share : array (k,)
        Chance that one more staple marks below each.
    middle, scatter : float
        Median of the logarithm, and of its standard deviation between staples.
    """

    loads: Floats
    share: Floats
    middle: float
    scatter: float

    def quantile(self, part: float) -> float:
        """Give the load, N, below which this part of such staples marks."""
        return math.exp(float(np.interp(part, self.share, self.loads)))


def _belief() -> tuple[float, float]:
    """Give median and standard deviation of the logarithm of what is believed of a staple, N."""
    value, low, high = MARKS.floats("N", field="load at which a staple marks")
    return math.log(value), math.log(high / low) / (2 * REACH)


def estimate_marking(low: Floats, high: Floats) -> Marking:
    r"""Estimate the threshold of one more staple from intervals in which others have theirs.

    Parameters
    ----------
    low, high : array (n,)
        Logarithms of newtons: no mark at ``low``, a mark at ``high``; either may be infinite.

    Returns
    -------
    Marking

    Notes
    -----
    Thresholds of staples are lognormal, and each is known only to lie in its interval, so that

    .. math:: L(\mu, \sigma) = \prod_i \left[\Phi\left(\frac{h_i - \mu}{\sigma}\right)
              - \Phi\left(\frac{l_i - \mu}{\sigma}\right)\right]

    (interval-censored data; from memory of the theory of survival).  This is joined over a grid with what is
    believed of :math:`\mu` and :math:`\sigma`; the chance of one more staple is the mean over both.  What all
    readings share, the eye and the copy paper, widens it and is not learned.
    """
    centre, spread = _belief()
    seen = np.r_[low[np.isfinite(low)], high[np.isfinite(high)]]
    mu = np.linspace(min(centre, seen.min()) - 2.5, max(centre, seen.max()) + 2.5, 221)
    sigma = np.exp(np.linspace(math.log(0.04), math.log(2.0), 45))
    m, s = mu[:, None], sigma[None, :]
    wide = spread**2 + s**2 + EYE**2
    log_part = -0.5 * (m - centre) ** 2 / wide - 0.5 * np.log(wide)
    log_part = log_part - 0.5 * ((np.log(s) - SCATTER[0]) / SCATTER[1]) ** 2
    for one, other in zip(low, high, strict=True):
        inside = special.ndtr((other - m) / s) - special.ndtr((one - m) / s)
        log_part = log_part + np.log(np.maximum(inside, 1e-300))
    weight = np.exp(log_part - log_part.max())
    weight /= weight.sum()
    gain = spread**2 / wide
    here, own = np.broadcast_arrays(centre + gain * (m - centre), np.sqrt(gain * (s**2 + EYE**2)))
    kept = weight > 1e-7 * weight.max()
    loads = np.linspace(mu[0] - 1, mu[-1] + 1, 321)
    chance = special.ndtr((loads[:, None] - here[kept]) / own[kept]) @ weight[kept]
    by_sigma = np.cumsum(weight.sum(axis=0))
    middle = float(np.interp(0.5, chance, loads))
    return Marking(loads, chance, middle, float(np.interp(0.5, by_sigma, sigma)))
