"""At which temperature the glue of a spine lets go: scrap spines warmed in steps, each pushed gently."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache, lru_cache

import numpy as np
from scipy.special import ndtr, ndtri

from bench.errors import BadValue, NotYet
from bench.materials import look_up, materials_of_kind
from bench.physics.arrays import Floats
from bench.physics.ranges import REACH, Range, Triple, as_range
from bench.treatment.measured import GLUE_SOFTENS
from bench.treatment.plan import Caution, Notice, Verdict
from bench.trials.protocol import Asked, FitPoint, FitShown, Found, Protocol, Readings, TrialOutcome
from bench.trials.thermometer import ICE, check_in_ice, doubt_of_probe, draw_probe, show
from bench.units import Q_, Quantity

LEVELS = (30, 35, 40, 45, 50, 55, 60, 65)
"""Steps of 5 K in °C; above 65 °C no platen of the bench goes by plan."""

_SPREAD, _SPREAD_WITHIN = 3.0, 3.0
"""Spread from spine to spine of one glue, K (standard), known to that factor (95 %); judgement, no source."""
_AT_SPINE = 1.0  # K, standard: probe beside the glue and not in it; judgement
_ONE_GLUE = 20.0  # K between the first and the last spine, above which they are not of one glue; judgement
_DAMP = 65.0  # % RH: an item comes out of the chamber damper than that
_DRINKS = ("animal glue", "PVAc")  # of these glues water decides
_UNKNOWN = "unknown"

SPINES = Asked(
    "spines",
    "Scrap spines tried",
    "",
    3.0,
    12.0,
    usual=5.0,
    group="The spines",
    hint="of the same glue, best of the same run",
)
HUMIDITY = Asked("humidity", "Humidity at which they rested", "percent", 20.0, 90.0, hint="a day at least")
GAVE = tuple(
    Asked(
        f"gave-{level}",
        f"Spines that have given by {level} °C",
        "",
        0.0,
        12.0,
        is_optional=level != LEVELS[0],
        group="" if level != LEVELS[0] else "At each step, counted from the beginning",
        hint="" if level != LEVELS[0] else "leave the later ones empty once all have given",
    )
    for level in LEVELS
)

_DIFFER = Notice(
    "trial-spines-differ",
    Verdict.STOP,
    "From the first spine to the last there are {apart:.0f} K at least: that is not one glue. Sort them by "
    "look and "
    "solubility, and try each kind alone.",
)
_TRIED_DRY = Notice(
    "trial-spines-dry",
    Verdict.STOP,
    "These spines rested at {humidity:.0f} % RH. Damp animal glue lets go tens of kelvins lower: a spine "
    "from the "
    "chamber would be called safe and is not. Let scraps rest above 65 % RH and try again.",
    "memory",
)
_DRIER = Notice(
    "trial-spines-drier",
    Verdict.CARE,
    "These spines rested at {humidity:.0f} % RH; out of the chamber a spine is damper and lets go lower. "
    "Keep some "
    "kelvins below.",
    "memory",
)
_NONE_GAVE = Notice(
    "trial-spines-held",
    Verdict.CARE,
    "None gave up to {celsius} °C: the upper end is what was believed before, and holds for a push, not for "
    "a "
    "night under load.",
)
_ALL_GAVE = Notice(
    "trial-spines-gave-at-once",
    Verdict.CARE,
    "All gave at the first step: such a spine bears no warm platen at all. How far below they give was not "
    "seen: the "
    "lower end leans on what was believed before.",
)


def fit(readings: Readings) -> TrialOutcome:
    r"""Find where a spine of this glue lets go.

    Raises
    ------
    NotYet
        The number of spines, their humidity or the first step is missing, or no step follows the first while
        some still hold.
    BadValue
        More spines have given than were tried, or fewer than at a cooler step.

    Notes
    -----
    Each spine holds at one step and has given at a later one: its temperature is known within an interval.
    These temperatures are normal, :math:`N(\mu, s)`, and

    .. math:: L = \prod_k \left[\Phi\!\left(\frac{t_k + e - \mu}{s}\right)
              - \Phi\!\left(\frac{t_{k-1} + e - \mu}{s}\right)\right]^{n_k}

    (interval-censored likelihood), joined on a grid with what the table says of :math:`\mu`, with a spread of
    about 3 K and the thermometer's error :math:`e`, which all steps share.  What is given is the temperature
    of the *next* spine: its 2.5, 50 and 97.5 percentiles.  Good from 30 to 65 °C; beyond, the table speaks.
    """
    readings = check_in_ice(readings)
    humidity = readings.number(HUMIDITY)
    levels, fresh, number = _counted(readings)
    correction, probe = doubt_of_probe(readings)
    before = as_range(look_up(readings.about, "softening temperature"))
    triple = before.floats("degC", field="softening temperature of the glue")
    standard = math.hypot(probe, _AT_SPINE)
    found, spread, curve = _posterior(tuple(levels + correction), tuple(fresh), standard, triple)
    value = Range.of(found, "degC")
    gave = int(sum(fresh[:-1]))
    return TrialOutcome(
        _answer(readings.about, value, gave),
        f"{gave} of {number} spines gave up to {levels[-1]:.0f} °C, in steps of 5 K; from spine to spine "
        f"they differ "
        f"by about {spread:.0f} K (standard). The thermometer is good to {2 * standard:.1f} K there.",
        (Found(GLUE_SOFTENS, value, before),),
        _shown(levels, np.cumsum(fresh[:-1]), number, curve),
        tuple(_judge(readings.about, humidity, levels, fresh)),
    )


def _counted(readings: Readings) -> tuple[Floats, list[int], int]:
    """Give the steps read, how many gave anew at each and beyond the last, and how many there are.

    Counts are whole; between two steps that were read, the one left out makes the interval longer.
    """
    number = round(readings.number(SPINES))
    read = [(level, asked) for level, asked in zip(LEVELS, GAVE, strict=True) if readings.has(asked)]
    counts = [round(readings.number(asked)) for _, asked in read]
    if not read or read[0][0] != LEVELS[0]:
        raise NotYet(GAVE[0].label, "not read yet", "", "Count at the first step too, 0 if all hold")
    if len(read) < 2 and counts[0] < number:
        raise NotYet("steps of the trial", "one", "on until all give, or to 65 °C", "Go on in steps of 5 K")
    for (level, _), count, earlier in zip(read, counts, [0, *counts[:-1]], strict=True):
        if not earlier <= count <= number:
            allowed = f"{earlier} to {number}, the spines tried"
            remedy = "Count all that have given since the beginning"
            raise BadValue(f"spines that have given by {level} °C", f"{count}", allowed, remedy)
    fresh = [count - earlier for count, earlier in zip(counts, [0, *counts[:-1]], strict=True)]
    return np.array([float(level) for level, _ in read]), [*fresh, number - counts[-1]], number


_MIDDLES = np.arange(-10.0, 200.5, 0.5)  # °C
_SPREADS = _SPREAD * np.exp(ndtri((np.arange(11) + 0.5) / 11) * math.log(_SPREAD_WITHIN) / REACH)
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)


@cache
def _shares() -> Floats:
    """Give the share of spines that give by each of the middles, for each middle and spread."""
    return np.asarray(ndtr((_MIDDLES[:, None, None] - _MIDDLES[:, None]) / _SPREADS))


@lru_cache(maxsize=64)
def _posterior(
    levels: tuple[float, ...], fresh: tuple[int, ...], standard: float, before: Triple
) -> tuple[Triple, float, Floats]:
    """Give the next spine's percentiles, the spread in K, and the share that gave by each temperature."""
    at = np.array(levels)[:, None, None, None] + standard * _NODES[:, None, None]
    below = ndtr((at - _MIDDLES[:, None]) / _SPREADS)  # step, error, middle, spread
    steps = np.diff(below, axis=0, prepend=0.0, append=1.0)
    with np.errstate(divide="ignore"):
        logs = np.log(np.maximum(steps, 1e-300))
    likely = np.tensordot(np.array(fresh, float), logs, axes=1)
    weight = np.exp(likely - likely.max()) * _WEIGHTS[:, None, None] * _density(before)[:, None]
    weight = weight.sum(axis=0)
    weight /= weight.sum()
    given = np.tensordot(_shares(), weight, axes=2)
    low, middle, high = (float(np.interp(share, given, _MIDDLES)) for share in (0.025, 0.5, 0.975))
    return (middle, low, high), float((weight * _SPREADS).sum()), given


def _density(before: Triple) -> Floats:
    """Give the density of what is believed, as :func:`bench.physics.ranges.draw` draws from it."""
    value, low, high = before
    x = np.maximum(_MIDDLES, 1e-6)
    if low > 0:
        x, value, low, high = (np.log(part) for part in (x, value, low, high))
    side = np.where(x > value, high - value, value - low) / REACH
    density = np.exp(-(((x - value) / side) ** 2) / 2) / side
    return np.where(_MIDDLES > 0, density / np.maximum(_MIDDLES, 1e-6), 0.0) if before[1] > 0 else density


def _answer(glue: str, value: Range, gave: int) -> str:
    name = glue[:1].upper() + glue[1:]
    said = value.say("degC")
    if not gave:
        found = f"{name} of this kind held to the last step; a spine gives at {said}"
    else:
        found = f"{name} of this kind lets go at {said}"
    return f"{found}. Plans of the press reckon with that for a spine of this glue."


def _least_apart(levels: Floats, fresh: list[int]) -> float:
    """Give how far the first spine that gave and the last lie apart at least, K."""
    gave = [number for number, count in enumerate(fresh) if count]
    held = levels[gave[-1] - 1] if gave[-1] else levels[0]  # the last still held there
    return max(0.0, float(held - levels[min(gave[0], len(levels) - 1)]))


def _judge(about: str, humidity: float, levels: Floats, fresh: list[int]) -> list[Caution]:
    cautions: list[Caution] = []
    apart = _least_apart(levels, fresh)
    if apart > _ONE_GLUE:
        cautions.append(_DIFFER(apart=apart))
    if humidity < _DAMP and about == _DRINKS[0]:
        cautions.append(_TRIED_DRY(humidity=humidity))
    elif humidity < _DAMP:
        cautions.append(_DRIER(humidity=humidity))
    if not sum(fresh[:-1]):
        cautions.append(_NONE_GAVE(celsius=f"{levels[-1]:.0f}"))
    elif fresh[0] == sum(fresh):
        cautions.append(_ALL_GAVE())
    return cautions


def _shown(levels: Floats, gave: Floats, number: int, curve: Floats) -> FitShown:
    fitted = 100 * np.interp(levels, _MIDDLES, curve)
    doubt = [
        100 * REACH * math.sqrt(max(share * (1 - share), 0.25 / number) / number) for share in gave / number
    ]
    points = tuple(
        FitPoint(float(level), float(100 * count / number), each, float(on), "spines that have given")
        for level, count, each, on in zip(levels, gave, doubt, fitted, strict=True)
    )
    seen = (LEVELS[0] - 10 <= _MIDDLES) & (LEVELS[-1] + 15 >= _MIDDLES)
    line = tuple((float(x), float(100 * y)) for x, y in zip(_MIDDLES[seen], curve[seen], strict=True))
    return FitShown(
        ("spine", "degC"), ("spines that have given", "percent"), points, {"the next spine": line}
    )


def made_up(about: str, truth: Mapping[str, float], rng: np.random.Generator | None) -> Readings:
    """Make up the counts of five spines; the truth is where a spine of the next item gives."""
    number, softens = 5, truth[GLUE_SOFTENS.key]
    cold, warm = draw_probe(rng)
    spines, off = np.full(number, softens), 0.0
    if rng is not None:
        spread = _SPREAD * math.exp(math.log(_SPREAD_WITHIN) / REACH * float(rng.standard_normal()))
        middle = softens - spread * float(rng.standard_normal())
        spines = middle + spread * rng.standard_normal(number)
        off = warm + _AT_SPINE * float(rng.standard_normal())
    read: dict[str, tuple[Quantity, ...]] = {
        ICE.key: (Q_(show(cold, rng, 0.1), "degC"),),
        SPINES.key: (Q_(float(number), ""),),
        HUMIDITY.key: (Q_(70.0, "percent"),),
    }
    for level, asked in zip(LEVELS, GAVE, strict=True):
        count = int((spines <= level - off).sum())
        read[asked.key] = (Q_(float(count), ""),)
        if count == number:
            break
    return Readings(about, read)


def _abouts() -> tuple[str, ...]:
    known = [glue for glue in materials_of_kind("glue") if glue != _UNKNOWN]
    return tuple(sorted(known, key=lambda glue: glue != "EVA hot melt"))


SPINE_SOFTENING = Protocol(
    key="spine-softening",
    title="Find where the glue of a spine lets go",
    question="How warm may the spine become before its glue gives?",
    takes="2 h",
    waits="1 day for the scraps to rest damp",
    needs=(
        "three or more scrap spines of the same glue, 3 to 5 cm long, with some leaves on",
        "the warm platen with its thermostat, release paper, a thermocouple",
        "crushed ice, heat-proof gloves, an open window or extraction",
    ),
    steps=(
        "Let the scraps rest a day above 65 % RH, best in the chamber beside an item. Read the thermometer "
        "in "
        "melting ice.",
        "Lay them spine down on release paper on the platen at 30 °C, the probe between two of them, a scrap "
        "of felt "
        "over all; ten minutes.",
        "Hold each by its leaves and push the outer leaf sideways with one finger, as hard as you would turn "
        "a page: "
        "it holds, or it gives (a leaf moves, a thread draws, the spine leans).",
        "Count all that have given so far and enter the number. Lay those aside.",
        "Set the platen so that the probe shows 5 K more, wait ten minutes, and push again; so on to 65 °C.",
        "Stop once all have given. Switch off, let the platen cool, and clean it when it is cold.",
    ),
    cautions=(
        Notice(
            "trial-spines-scrap-only",
            Verdict.GO,
            "Scraps only: never an item that is being treated. A spine that has given does not come back "
            "straight.",
        ),
        Notice(
            "trial-spines-fumes",
            Verdict.GO,
            "Warm glue may fume and the platen burns: gloves, open window or extraction. Stop at smoke, "
            "sharp smell or "
            "sore eyes, and above 65 °C. Local rules and the glue's safety sheet come before this page.",
            "memory",
        ),
    ),
    of="Glue",
    abouts=_abouts,
    asked=(ICE, SPINES, HUMIDITY, *GAVE),
    fit=fit,
    finds=(GLUE_SOFTENS,),
    believed=lambda about: {GLUE_SOFTENS.key: as_range(look_up(about, "softening temperature"))},
    again_after=730,
    why_again="Glue ages, and another run may have been bound with another glue",
    made_up=made_up,
)
"""Scrap spines in steps of 5 K."""
