r"""Softening: whether fibres let go of a crease, and whether a glue lets go of the spine.

The same warmth and damp that relax the paper soften the glue, so both margins are given the same
way: kelvins *above* (positive, soft) or below (negative, stiff) the softening temperature.
"""

from __future__ import annotations

from dataclasses import dataclass

from bench.physics.ranges import Range, RangeLike, as_range, spread
from bench.physics.saturation import ZERO_CELSIUS
from bench.units import Q_

_WATER_KELVIN = 136.0  # glass transition of water, from memory
_WATER_STEP = 1.94  # J/(g K), step of its heat capacity, from memory
_POLYMER_STEP = 0.5  # J/(g K), of dry polymer, from memory with medium confidence

MOST_WATER = Q_(0.25, "")
"""Moisture content of paper up to which the softening of its fibres is reckoned."""

_XYLAN, _GLUCOMANNAN = 440.15, 454.15
"""Kelvins at which the dry hemicelluloses soften, 167 and 181 °C [goring1965]_ (abstract seen)."""

WATER_IN_HEMICELLULOSE = Range.of((1.7, 1.0, 2.1), "")
"""Water per dry hemicellulose over water per dry paper; from memory, low confidence."""


@dataclass(frozen=True)
class Margin:
    """How far something is above its softening temperature.

    Attributes
    ----------
    softening : Range [temperature]
        Where it softens.
    margin : Range [kelvin]
        Its temperature less that; positive is soft.
    verdict : str
        ``"soft"``, ``"stiff"`` or ``"may be soft"``.
    words : str
        The same in a sentence.
    """

    softening: Range
    margin: Range
    verdict: str
    words: str


def _couchman(dry_kelvin: float, water: float) -> float:
    wet, rest = water * _WATER_STEP, (1 - water) * _POLYMER_STEP
    return (wet * _WATER_KELVIN + rest * dry_kelvin) / (wet + rest)


def fibre_softening_temperature(
    moisture_content: RangeLike, *, water_ratio: RangeLike = WATER_IN_HEMICELLULOSE
) -> Range:
    r"""Estimate the temperature at which the hemicellulose between the fibrils of paper softens.

    It decides, with more water in it than in the paper as a whole.

    Parameters
    ----------
    moisture_content : Quantity or range, dimensionless
        Of the paper, water over dry mass, 0 to 0.25.
    water_ratio : Quantity or range, dimensionless
        Water in the hemicellulose over water in the paper, both per dry mass; 0.5 to 2.1.

    Returns
    -------
    Range [degC]
        Value: mean of the two hemicelluloses; the interval joins which of them, the water
        ratio and the moisture content.  The transition itself is broad, not a point.

    Notes
    -----
    .. math:: T_g = \frac{w_1 \Delta c_1 T_1 + w_2 \Delta c_2 T_2}{w_1 \Delta c_1 + w_2 \Delta c_2}

    Couchman and Karasz [couchman1978]_ with ``w1 = q X / (1 + q X)`` of water; water 136 K and
    1.94 J/(g K), dry polymer 0.5 J/(g K), all from memory.  For slow changes; at the rates of a roller
    softening lies higher.

    Examples
    --------
    >>> from bench.units import Q_
    >>> print(fibre_softening_temperature(Q_(7, "percent")).say("degC"))
    76 °C (60 to 108)
    """
    water = as_range(moisture_content).floats(
        "", field="moisture content", low=0.0, high=float(MOST_WATER.magnitude)
    )
    ratio = as_range(water_ratio).floats("", field="water ratio", low=0.5, high=2.1)
    dry = ((_XYLAN + _GLUCOMANNAN) / 2, _XYLAN, _GLUCOMANNAN)
    numbers = spread(_hemicellulose, dry=dry, water=water, ratio=ratio)
    return Range.of(numbers, "degC")


def _hemicellulose(dry: float, water: float, ratio: float) -> float:
    held = ratio * water
    return _couchman(dry, held / (1 + held)) - ZERO_CELSIUS


def fibre_margin(*, temperature: RangeLike, moisture_content: RangeLike) -> Margin:
    """Tell whether damp, warm fibres are soft enough to let go of a crease.

    Parameters
    ----------
    temperature : Quantity or range [temperature]
        Of the item, 0 to 100 °C.
    moisture_content : Quantity or range, dimensionless
        0 to 0.25.

    Returns
    -------
    Margin
        *Soft* is what the treatment wants here.
    """
    return _margin("The fibres", temperature, fibre_softening_temperature(moisture_content))


def glue_margin(*, temperature: RangeLike, softening: RangeLike, glue: str) -> Margin:
    """Tell whether a spine glue softens.

    Parameters
    ----------
    temperature : Quantity or range [temperature]
        At the spine, 0 to 100 °C.
    softening : Quantity or range [temperature]
        Where the glue loses its hold, -40 to 250 °C; for an animal glue the damp one.
    glue : str
        Its name, for the words.

    Returns
    -------
    Margin
        *Soft* is a danger here: no load on the spine.

    Examples
    --------
    >>> from bench.units import Q_
    >>> eva = (Q_(55, "degC"), Q_(45, "degC"), Q_(65, "degC"))
    >>> glue_margin(temperature=Q_(60, "degC"), softening=eva, glue="hot melt").verdict
    'may be soft'
    """
    numbers = as_range(softening).floats("degC", field=f"softening of {glue}", low=-40.0, high=250.0)
    limit = Range.of(numbers, "degC")
    return _margin(glue[:1].upper() + glue[1:], temperature, limit)


def _margin(what: str, temperature: RangeLike, softening: Range) -> Margin:
    warm = as_range(temperature).floats("degC", field="temperature", low=0.0, high=100.0)
    soft = softening.floats("degC", field="softening temperature")
    numbers = spread(lambda warm, soft: warm - soft, warm=warm, soft=soft)
    margin = Range.of(numbers, "kelvin")
    _, low, high = numbers
    plural = "are" if what.endswith("s") else "is"
    if low > 0:
        verdict, words = "soft", f"{what} {plural} soft: at least {low:.0f} K above softening"
    elif high < 0:
        verdict, words = "stiff", f"{what} {plural} stiff: at least {-high:.0f} K below softening"
    else:
        verdict, words = "may be soft", f"{what} may be soft: {low:+.0f} to {high:+.0f} K about softening"
    return Margin(softening, margin, verdict, words + ".")
