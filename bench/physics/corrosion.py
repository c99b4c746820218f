"""Rust of staples: hours of wetness, by a standard of the open air and by advice of museums."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from bench.physics.exposure import Exposure, read_history
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
    words : str
        What it means for the wire.
    """

    wetness: Quantity
    above_advice: Quantity
    words: str


def wetness_hours(history: Iterable[Exposure]) -> Quantity:
    """Give the time of wetness of bare steel.

    Parameters
    ----------
    history : iterable of Exposure
        At the staples, in any order.

    Returns
    -------
    Quantity [hour]

    Raises
    ------
    BadValue
        Something in it is not an :class:`Exposure`.

    Notes
    -----
    Hours above 0 °C and above 80 % RH, as ISO 9223 defines them for the open air [iso9223]_;
    80 % itself does not count.  Salt (chlorides), old rust and acid paper make steel rust below
    80 % too.

    Examples
    --------
    >>> history = [Exposure(Q_(24, "hour"), Q_(22, "degC"), Q_(98, "percent")),
    ...            Exposure(Q_(10, "hour"), Q_(22, "degC"), Q_(65, "percent"))]
    >>> print(wetness_hours(history))
    24.0 h
    """
    limit = float(WET_ABOVE.to("").magnitude)
    return _hours_above(read_history(history), limit, freezing=True)


def _hours_above(steps: tuple[Exposure, ...], limit: float, *, freezing: bool) -> Quantity:
    damp = (s.hours for s in steps if s.fraction > limit and (s.celsius > 0 or not freezing))
    return Q_(math.fsum(damp), "hour")


def assess_staples(history: Iterable[Exposure]) -> StapleExposure:
    """Count the damp hours of staples by both sources.

    Parameters
    ----------
    history : iterable of Exposure
        Humidity at the staples: inside the stack, not of the room.

    Returns
    -------
    StapleExposure

    Raises
    ------
    BadValue
        Something in it is not an :class:`Exposure`.

    Notes
    -----
    A day or two of wetness at the first-year rates of ISO 9223 for moderate to high corrosivity
    (25 to 80 µm a year, spread over 2500 to 5500 wet hours) is a loss of some tenths of a
    micrometre: a stain beside old rust, no loss of strength.
    """
    steps = read_history(history)
    wet = wetness_hours(steps)
    advice = _hours_above(steps, float(MUSEUM_ADVICE.to("").magnitude), freezing=False)
    if wet.magnitude > 0:
        words = (
            f"Bare steel counts as wet for {wet.magnitude:.0f} h (above 80 % RH). Expect bloom where there "
            "is rust already, and look at every wire; the strength of the wire is not at stake."
        )
    elif advice.magnitude > 0:
        words = (
            f"{advice.magnitude:.0f} h above the 60 % RH of museum advice, none above 80 %: clean wire "
            "stays bright, rusted or salty wire may not."
        )
    else:
        words = "Never above 60 % RH: no rust is to be expected."
    return StapleExposure(wet, advice, words)
