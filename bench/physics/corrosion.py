"""Rust of staples: hours of wetness, by a standard of the open air and by advice of museums."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from bench.physics.exposure import Exposure, hours_above, read_history
from bench.units import Q_, Quantity

WET_ABOVE = Q_(80, "percent")
"""Relative humidity above which ISO 9223 counts a metal surface above 0 °C as wet."""

MUSEUM_ADVICE = Q_(60, "percent")
"""Relative humidity up to which a conservator's advice leaves original staples alone."""


@dataclass(frozen=True)
class StapleExposure:
    """Hours that staples spend damp, by two sources.

    Attributes
    ----------
    wetness : Quantity [hour]
        Above 0 °C and above 80 % RH [iso9223]_.
    above_advice : Quantity [hour]
        Above 60 % RH, the advice of museums [staples-museum]_.
    """

    wetness: Quantity
    above_advice: Quantity


def assess_staples(history: Iterable[Exposure]) -> StapleExposure:
    """Count the damp hours of staples by both sources.

    Parameters
    ----------
    history : iterable of Exposure
        Humidity at the staples, inside the stack and not of the room; in any order.

    Returns
    -------
    StapleExposure

    Raises
    ------
    BadValue
        Something in it is not an :class:`Exposure`.

    Notes
    -----
    The time of wetness of bare steel: hours above 0 °C and above 80 % RH, as ISO 9223 defines them for the
    open air [iso9223]_; 80 % itself does not count.  Salt (chlorides), old rust and acid paper make steel
    rust below 80 % too.  From 60 to 80 % clean wire stays bright, rusted or salty wire may not.

    A day or two of wetness at the first-year rates of ISO 9223 for moderate to high corrosivity
    (25 to 80 µm a year, spread over 2500 to 5500 wet hours) is a loss of some tenths of a
    micrometre: a stain beside old rust, no loss of strength.

    Examples
    --------
    >>> history = [Exposure(Q_(24, "hour"), Q_(22, "degC"), Q_(98, "percent")),
    ...            Exposure(Q_(10, "hour"), Q_(22, "degC"), Q_(65, "percent"))]
    >>> found = assess_staples(history)
    >>> print(found.wetness, found.above_advice)
    24.0 h 34.0 h
    """
    steps = read_history(history)
    wet, advice = (float(limit.to("").magnitude) for limit in (WET_ABOVE, MUSEUM_ADVICE))
    return StapleExposure(hours_above(steps, wet, 0.0), hours_above(steps, advice))
