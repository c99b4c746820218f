"""Load on a pile of paper: pressure from what the operator knows, and how much the pile gives."""

from __future__ import annotations

import math

from bench.errors import BadValue, NotFound
from bench.physics.ranges import Range, RangeLike, as_range, spread
from bench.uncertainty import Measured, from_expanded
from bench.units import Q_, Quantity, to_float

STANDARD_GRAVITY = 9.80665  # m/s2, exact by convention

HIGHEST_KPA = 500.0  # ten times a firm hand press: beyond it the paper is crushed, not pressed
HIGHEST_LOAD = Q_(HIGHEST_KPA, "kPa")

LOAD_WORDS = {
    "light": Range.of((1.0, 0.5, 2.0), "kPa"),
    "medium": Range.of((4.0, 2.0, 10.0), "kPa"),
    "firm": Range.of((20.0, 10.0, 50.0), "kPa"),
}
"""What an operator without a gauge may mean, on the whole face of a periodical.

Board and weight reach about 0.5 to 5 kPa and a hand-screwed press may pass 50 kPa (from memory
of practice; no published range was found).  *Light*: a board and 2 to 9 kg on a comic-book
page.  *Medium*: all the weights to hand, or a press run down without effort.  *Firm*: a
screw press turned by hand until it resists.
"""

# A weighed or gauged load is even over the face to within a fifth at best; from memory.
_EVENNESS = 0.2

PFEIFFER_K1 = Range.of((5.0, 1.0, 20.0), "kPa")
"""First constant of a pile of paper, from memory with low confidence."""

PFEIFFER_K2 = Range.of((60.0, 40.0, 100.0), "")
"""Second constant of a pile of paper, from memory with low confidence."""

CALIPER_PRESSURE = Range.of((50.0, 10.0, 100.0), "kPa")
"""Contact pressure of a thickness reading if nothing is known of it.

TAPPI T 411 takes 50 kPa, ISO 534 100 kPa; a hand caliper closed at 5 N on 50 mm2 gives 100 kPa,
closed gently a tenth of it.
"""


def pressure_from_mass(mass: Quantity, *, area: Quantity) -> Quantity:
    """Give the mean pressure of a weight that rests on an area.

    Parameters
    ----------
    mass : Quantity [mass]
        0 to 10 000 kg.
    area : Quantity [area]
        That carries the load, at least 1 mm2.

    Returns
    -------
    Quantity [kPa]

    Notes
    -----
    ``P = m g / A`` with the standard gravity, which is within 0.3 % everywhere.

    Examples
    --------
    >>> print(f"{pressure_from_mass(Q_(10, 'kg'), area=Q_(0.0438, 'm^2')):.2f~P}")
    2.24 kPa
    """
    kilograms = to_float(mass, "kg", field="mass", low=0.0, high=1e4)
    return Q_(kilograms * STANDARD_GRAVITY / _square_metres(area) / 1000, "kPa")


def pressure_from_force(force: Quantity, *, area: Quantity) -> Quantity:
    """Give the mean pressure of a force on an area.

    Parameters
    ----------
    force : Quantity [force]
        0 to 100 kN.
    area : Quantity [area]
        That carries the load, at least 1 mm2.

    Returns
    -------
    Quantity [kPa]

    Examples
    --------
    >>> print(pressure_from_force(Q_(5, "N"), area=Q_(50, "mm^2")).round(1))
    100.0 kPa
    """
    newtons = to_float(force, "N", field="force", low=0.0, high=1e5)
    return Q_(newtons / _square_metres(area) / 1000, "kPa")


def pressure_from_gauge(reading: Quantity, *, piston_area: Quantity, area: Quantity) -> Quantity:
    """Give the mean pressure under a press whose gauge shows the pressure of air or oil.

    Parameters
    ----------
    reading : Quantity [pressure]
        Above the atmosphere, as gauges show it; 0 to 100 MPa.
    piston_area : Quantity [area]
        Of the ram, or of the bladder in contact with the platen.
    area : Quantity [area]
        Of the item, if it is smaller than the platen.

    Returns
    -------
    Quantity [kPa]

    Notes
    -----
    ``P = p A_piston / A_item``: the weight of the platen and the friction of the ram are left
    out.

    Examples
    --------
    >>> P = pressure_from_gauge(Q_(20, "psi"), piston_area=Q_(10, "cm^2"), area=Q_(0.0438, "m^2"))
    >>> print(f"{P:.2f~P}")
    3.15 kPa
    """
    gauge = to_float(reading, "Pa", field="gauge reading", low=0.0, high=1e8)
    piston = _square_metres(piston_area, field="piston area")
    return Q_(gauge * piston / _square_metres(area) / 1000, "kPa")


def pressure_from_word(word: str) -> Range:
    """Give the range of pressure that a word stands for.

    Parameters
    ----------
    word : str
        ``"light"``, ``"medium"`` or ``"firm"``; see :data:`LOAD_WORDS`.

    Returns
    -------
    Range [kPa]

    Raises
    ------
    NotFound
        No such word.
    """
    try:
        return LOAD_WORDS[word]
    except KeyError:
        raise NotFound(
            "load", repr(word), ", ".join(LOAD_WORDS), "Choose one of these, or give mass, force or gauge"
        ) from None


def most_pressure() -> Quantity:
    """Give the most that a load known by a number may be, so that its range crushes nothing."""
    return HIGHEST_LOAD / (1 + _EVENNESS)


def spread_load(pressure: Quantity) -> Range:
    """Give the range of a load that is known by a number."""
    return Range(pressure, (1 - _EVENNESS) * pressure, (1 + _EVENNESS) * pressure)


def pressure_on_ridge(pressure: Quantity, *, face: Quantity, ridge: Quantity) -> Quantity:
    """Give the mean pressure if only a ridge of the face carries the whole load.

    Parameters
    ----------
    pressure : Quantity [pressure]
        Mean on the whole face, 0 to 500 kPa.
    face : Quantity [area]
        Of the item.
    ridge : Quantity [area]
        Of what stands highest: a spine edge, the backs of the staples.  At most the face.

    Returns
    -------
    Quantity [kPa]

    Raises
    ------
    BadValue
        The ridge is larger than the face.

    Notes
    -----
    The worst case: boards that do not bend and paper beside the ridge that carries nothing.

    Examples
    --------
    >>> P = pressure_on_ridge(Q_(2.24, "kPa"), face=Q_(0.0438, "m^2"), ridge=Q_(2 * 260, "mm^2"))
    >>> print(f"{P:.0f~P}")
    189 kPa
    """
    mean = to_float(pressure, "kPa", field="pressure", low=0.0, high=HIGHEST_KPA)
    whole, part = _square_metres(face, field="face"), _square_metres(ridge, field="ridge")
    if part > whole:
        raise BadValue(
            "ridge", f"{part * 1e6:g} mm²", f"at most the face, {whole * 1e6:g} mm²", "Check both areas"
        )
    return Q_(mean * whole / part, "kPa")


def _strain(kilopascals: float, k1: float, k2: float) -> float:
    return math.log1p(kilopascals / k1) / k2


def estimate_give(
    *,
    pressure: RangeLike,
    reading_pressure: RangeLike = CALIPER_PRESSURE,
    k1: RangeLike = PFEIFFER_K1,
    k2: RangeLike = PFEIFFER_K2,
    source: str = "Pfeiffer's law, constants from memory",
) -> Measured:
    r"""Estimate how much thinner a text block is in the press than when it was read.

    Parameters
    ----------
    pressure : Quantity or range [pressure]
        Mean in the press, 0 to 500 kPa.
    reading_pressure : Quantity or range [pressure]
        Contact pressure of the thickness reading, 0 to 500 kPa.
    k1, k2 : Quantity or range
        Constants of the pile, 0.1 to 100 kPa and 10 to 500.
    source : str
        Where they come from, in words.

    Returns
    -------
    Measured, dimensionless
        0.01: the block is 1 % thinner in the press than when it was read.  Negative if the
        reading pressed harder than the press does, which a caliper against a board and
        weight does.

    Notes
    -----
    .. math:: g = 1 - \frac{1 - \varepsilon(P)}{1 - \varepsilon(P_{read})}, \qquad
              \varepsilon(P) = \ln(1 + P / K_1) / K_2

    with the strain after Pfeiffer [pfeiffer]_ (form from memory) at the first loading of a pile; a pile
    that was pressed before is stiffer.

    The four inputs are carried one at a time to their ends (:func:`bench.physics.ranges.join_ends`), and half
    of the interval is taken to either side.  It is wide, because the constants are from memory with low
    confidence; to do better, read the thickness under two known loads.

    Valid for a dry pile without steps; a damp pile gives more.

    Examples
    --------
    >>> give = estimate_give(pressure=Q_(100, "kPa"), reading_pressure=Q_(50, "kPa"),
    ...                      k1=Q_(5, "kPa"), k2=Q_(60, ""))
    >>> print(f"{give.value.magnitude:.3f}")
    0.011
    """
    value, low, high = spread(
        _give,
        press=as_range(pressure).floats("kPa", field="pressure", low=0.0, high=HIGHEST_KPA),
        read=as_range(reading_pressure).floats("kPa", field="reading pressure", low=0.0, high=HIGHEST_KPA),
        k1=as_range(k1).floats("kPa", field="K1", low=0.1, high=100.0),
        k2=as_range(k2).floats("", field="K2", low=10.0, high=500.0),
    )
    return from_expanded(
        Q_(value, ""),
        Q_((high - low) / 2, ""),
        cause="how much the text block gives under load",
        source=source,
    )


def _give(press: float, read: float, k1: float, k2: float) -> float:
    return 1 - (1 - _strain(press, k1, k2)) / (1 - _strain(read, k1, k2))


def _square_metres(area: Quantity, field: str = "area") -> float:
    return to_float(area, "m^2", field=field, low=1e-6, high=10.0)
