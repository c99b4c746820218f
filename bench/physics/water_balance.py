"""Where water comes to rest between an item and the dry sheets and boards put to it (plain numbers)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bench.errors import OutOfRange
from bench.physics.isotherms import HIGHEST_ACTIVITY, Isotherm, solve_rising


@dataclass(frozen=True)
class Part:
    """One part of a closed stack: the item, its interleaves, the boards.

    Attributes
    ----------
    grams : float
        Dry mass.
    isotherm : Isotherm
        Of its paper.
    start : float
        Moisture content that it brings, water over dry mass.
    hysteresis : float
        What it holds above its isotherm when it gives water off (about 0.01 for paper); it gives nothing off
        until the air is that much drier.
    """

    grams: float
    isotherm: Isotherm
    start: float
    hysteresis: float = 0.0

    def content(self, activity: float, celsius: float) -> float:
        """Moisture content at rest, reached from the start: a dead band as wide as the hysteresis."""
        taken = self.isotherm.content(activity, celsius)
        if taken >= self.start:
            return taken
        return min(self.start, taken + self.hysteresis)


def resting_activity(parts: Sequence[Part], celsius: float) -> float:
    r"""Give the water activity at which the parts of a closed stack come to rest together.

    Parameters
    ----------
    parts : sequence of Part
        One or more, e.g. item, interleaves, boards.
    celsius : float
        Temperature of all parts, before and after, °C.

    Returns
    -------
    float
        0 to 0.99.

    Raises
    ------
    OutOfRange
        More water than the parts hold at 99 %.

    Notes
    -----
    .. math:: \sum_i m_i\,[X_i(a) - X_{i,0}] = 0

    Mass balance of water over dry masses :math:`m_i`, each with its isotherm: nothing leaves the stack and it
    comes fully to rest.  Valid where the isotherms are, 10 to 70 °C.  Where several parts lie in their dead
    band of hysteresis the balance has a band of answers and one of them is given.

    Examples
    --------
    >>> from bench.physics.isotherms import isotherm_of
    >>> paper, copy = isotherm_of("writing paper"), isotherm_of("copy paper")
    >>> item, sheets = Part(100, paper, paper.content(0.98, 23)), Part(100, copy, copy.content(0.5, 23))
    >>> print(f"{resting_activity([item, sheets], 23):.2f}")
    0.85
    """
    water = sum(part.grams * part.start for part in parts)

    def held(activity: float) -> float:
        return sum(part.grams * part.content(activity, celsius) for part in parts)

    if water > held(HIGHEST_ACTIVITY) * (1 + 1e-12):
        came, remedy = "more than its parts hold at 99 %", "Check the moisture contents, or add dry sheets"
        raise OutOfRange("water in the stack", came, "less", remedy)
    total = sum(part.grams for part in parts)
    return solve_rising(lambda a: held(a) / total, water / total, 0.0, HIGHEST_ACTIVITY)
