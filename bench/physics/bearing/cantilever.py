"""How far the tip of a board sinks that is clamped at one edge.

Plain SI floats (metres, newtons), as :mod:`bench.physics.bearing.laws` has them.
"""

from __future__ import annotations


def sink_by_own_mass(areal_load: float, length: float, bending: float) -> float:
    r"""Give how far the tip of a cantilever sinks by its own mass, m.

    Parameters
    ----------
    areal_load : float
        Weight per area, N/m2.
    length : float
        Free, m.
    bending : float
        Bending stiffness per width, N m.

    Notes
    -----
    Euler and Bernoulli: :math:`q L^4 / 8 E I`, with :math:`D = E I / b` and a load :math:`q / b` per area
    (textbook, from memory).  Valid where the tip sinks by less than about a tenth of the length; at a fifth
    it is some 3 per cent too large.
    """
    return areal_load * length**4 / (8 * bending)


def sink_by_tip_load(force: float, width: float, length: float, bending: float) -> float:
    r"""Give how far the tip of a cantilever sinks under a force on it, m: :math:`F L^3 / 3 E I`.

    Parameters
    ----------
    force : float
        At the tip, N.
    width, length : float
        Of the cantilever, m.
    bending : float
        Bending stiffness per width, N m; validity as for :func:`sink_by_own_mass`.
    """
    return force * length**3 / (3 * width * bending)
