r"""Softening: whether fibres let go of a crease, and whether a glue lets go of the spine.

The same warmth and damp that relax the paper soften the glue, so both margins are given the same
way: kelvins *above* (positive, soft) or below (negative, stiff) the softening temperature.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from bench.errors import NotFound, OutOfRange
from bench.physics.ranges import Estimate, Range, RangeLike, Triple, as_range, spread
from bench.units import Q_, Quantity, to_float

_ZERO = 273.15
_WATER_KELVIN = 136.0  # glass transition of water, from memory
_WATER_STEP = 1.94  # J/(g K), step of its heat capacity, from memory
_POLYMER_STEP = 0.5  # J/(g K), of dry polymer, from memory with medium confidence

DRY_GLASS = {
    "xylan": Q_(167, "degC"),
    "glucomannan": Q_(181, "degC"),
    "disordered cellulose": Q_(220, "degC"),
}
"""Softening of the dry polymers: hemicelluloses from [goring1965]_ (abstract seen), the cellulose assumed."""

WATER_IN_HEMICELLULOSE = Range(Q_(1.7, ""), Q_(1.0, ""), Q_(2.1, ""))
"""Water per dry hemicellulose over water per dry paper; from memory, low confidence."""


@dataclass(frozen=True)
class Margin:
    """How far something is above its softening temperature.

    Attributes
    ----------
    softening : Estimate [temperature]
        Where it softens.
    margin : Estimate [kelvin]
        Its temperature less that; positive is soft.
    verdict : str
        ``"soft"``, ``"stiff"`` or ``"may be soft"``.
    words : str
        The same in a sentence.
    """

    softening: Estimate
    margin: Estimate
    verdict: str
    words: str


def glass_temperature(polymer: str, *, water_fraction: Quantity) -> Quantity:
    r"""Give the softening temperature of a polymer of the fibre with water in it.

    Parameters
    ----------
    polymer : str
        A key of :data:`DRY_GLASS`.
    water_fraction : Quantity, dimensionless
        Mass of water over mass of water and polymer, 0 to 0.35.

    Returns
    -------
    Quantity [degC]

    Raises
    ------
    BadValue, UnitMismatch, NotFound

    Notes
    -----
    .. math:: T_g = \frac{w_1 \Delta c_1 T_1 + w_2 \Delta c_2 T_2}{w_1 \Delta c_1 + w_2 \Delta c_2}

    Couchman and Karasz [couchman1978]_; water 136 K and 1.94 J/(g K), dry polymer 0.5 J/(g K),
    all from memory.  For slow changes; at the rates of a roller softening lies higher.

    Examples
    --------
    >>> print(f"{glass_temperature('xylan', water_fraction=Q_(10, 'percent')).magnitude:.0f} °C")
    75 °C
    """
    if polymer not in DRY_GLASS:
        raise NotFound("polymer", repr(polymer), ", ".join(DRY_GLASS), "Choose one of these")
    water = to_float(water_fraction, "", field="water fraction", low=0.0, high=0.35)
    return Q_(_couchman(float(DRY_GLASS[polymer].to("K").magnitude), water) - _ZERO, "degC")


def _couchman(dry_kelvin: float, water: float) -> float:
    wet, rest = water * _WATER_STEP, (1 - water) * _POLYMER_STEP
    return (wet * _WATER_KELVIN + rest * dry_kelvin) / (wet + rest)


def fibre_softening_temperature(
    moisture_content: RangeLike, *, water_ratio: RangeLike = WATER_IN_HEMICELLULOSE
) -> Estimate:
    """Estimate the temperature at which the hemicellulose between the fibrils of paper softens.

    Parameters
    ----------
    moisture_content : Quantity or range, dimensionless
        Of the paper, water over dry mass, 0 to 0.25.
    water_ratio : Quantity or range, dimensionless
        Water in the hemicellulose over water in the paper, both per dry mass; 0.5 to 2.1.

    Returns
    -------
    Estimate [degC]
        Value: mean of the two hemicelluloses; the interval joins which of them, the water
        ratio and the moisture content.

    Raises
    ------
    BadValue, UnitMismatch

    Notes
    -----
    :func:`glass_temperature` with ``w = q X / (1 + q X)``.

    Examples
    --------
    >>> print(fibre_softening_temperature(Q_(7, "percent")).say("degC"))
    76 °C (60 to 108)
    """
    water = as_range(moisture_content).floats("", field="moisture content", low=0.0, high=0.25)
    ratio = as_range(water_ratio).floats("", field="water ratio", low=0.5, high=2.1)
    low, high = (float(DRY_GLASS[name].to("K").magnitude) for name in ("xylan", "glucomannan"))
    numbers = spread(_hemicellulose, log=False, dry=((low + high) / 2, low, high), water=water, ratio=ratio)
    return Estimate.of(
        numbers,
        "degC",
        assumption="Hemicellulose decides, with more water in it than in the paper as a whole; slow changes.",
        cautions=("The constants are from memory; the transition is broad, not a point.",),
    )


def _hemicellulose(dry: float, water: float, ratio: float) -> float:
    held = ratio * water
    return _couchman(dry, held / (1 + held)) - _ZERO


def patent_softening_temperature(moisture_content: Quantity) -> Quantity:
    """Give the softening temperature of fibre by the relation of a calendering patent.

    Parameters
    ----------
    moisture_content : Quantity, dimensionless
        4 to 16 %.

    Returns
    -------
    Quantity [degC]

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange

    Notes
    -----
    ``T = 234.2 exp(-0.131 m)``, m in per cent [us4624744]_ (relation from memory).  A second
    source beside :func:`fibre_softening_temperature`, for fast calendering; it lies higher.

    Examples
    --------
    >>> print(f"{patent_softening_temperature(Q_(8, 'percent')).magnitude:.0f} °C")
    82 °C
    """
    percent = to_float(moisture_content, "percent", field="moisture content", low=0.0, high=100.0)
    if not 4 <= percent <= 16:
        raise OutOfRange("moisture content", f"{percent:g} %", "4 to 16 %", "Use the other estimate there")
    return Q_(234.2 * math.exp(-0.131 * percent), "degC")


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

    Raises
    ------
    BadValue, UnitMismatch
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

    Raises
    ------
    BadValue, UnitMismatch

    Examples
    --------
    >>> eva = (Q_(55, "degC"), Q_(45, "degC"), Q_(65, "degC"))
    >>> glue_margin(temperature=Q_(60, "degC"), softening=eva, glue="hot melt").verdict
    'may be soft'
    """
    numbers = as_range(softening).floats("degC", field=f"softening of {glue}", low=-40.0, high=250.0)
    limit = Estimate.of(numbers, "degC", assumption=f"Softening temperature of {glue} as given.")
    return _margin(glue[:1].upper() + glue[1:], temperature, limit)


def _margin(what: str, temperature: RangeLike, softening: Estimate) -> Margin:
    warm = as_range(temperature).floats("degC", field="temperature", low=0.0, high=100.0)
    soft = softening.floats("degC", field="softening temperature")
    numbers: Triple = spread(lambda warm, soft: warm - soft, log=False, warm=warm, soft=soft)
    margin = Estimate.of(numbers, "kelvin", assumption=softening.assumption, cautions=softening.cautions)
    _, low, high = numbers
    plural = "are" if what.endswith("s") else "is"
    if low > 0:
        verdict, words = "soft", f"{what} {plural} soft: at least {low:.0f} K above softening"
    elif high < 0:
        verdict, words = "stiff", f"{what} {plural} stiff: at least {-high:.0f} K below softening"
    else:
        verdict, words = "may be soft", f"{what} may be soft: {low:+.0f} to {high:+.0f} K about softening"
    return Margin(softening, margin, verdict, words + ".")
