"""How much water a paper holds: scrap leaves weighed at rest over three salts, up and down again.

The mass at rest is that of the dry leaves, which the fit finds too, with the water of
:mod:`bench.trials.sorption_course`.  From 15 to 30 °C: there the doubt of the salts is printed
[greenspan1977]_.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bench.errors import NotYet
from bench.materials import materials_of_kind
from bench.physics.arrays import Floats
from bench.physics.isotherms import isotherm_of
from bench.physics.ranges import REACH, Range
from bench.physics.transient.inputs import AS_PUBLISHED, SCALE_BELIEF, limits_of
from bench.physics.transient.inputs import HYSTERESIS as BELIEVED_HYSTERESIS
from bench.treatment.measured import HYSTERESIS, ISOTHERM_SCALE
from bench.treatment.plan import Caution, Notice, Verdict
from bench.trials.fitting import LeastSquares, covariance_of, fit_readings
from bench.trials.protocol import Asked, FitPoint, FitShown, Found, Protocol, Readings, TrialOutcome
from bench.trials.reading import BALANCE, check_readings, range_above_zero, value_and_doubt
from bench.trials.sorption_course import (
    DRY,
    LEVELS,
    MASSES,
    TEMPERATURE,
    SorptionCourse,
    contents_at_levels,
    held_coming_down,
)
from bench.units import Q_, Quantity

# As standard uncertainties: judgement, no source.
_OVEN = 0.002  # kg/kg left in, or taken up again, after the oven
OTHER_LEAVES = 0.04
"""By which leaves of one kind of paper differ from each other in the water they hold."""
OTHER_TURN = 0.0015
"""By which the hysteresis differs, kg/kg, of other leaves, and where they turn at another humidity."""

_MISFIT = Notice(
    "sorption-misfit",
    Verdict.STOP,
    "The masses lie {misfit:.1f} times as far from the fit as their doubts say. Look for a slip, for leaves "
    "that were not dried first or not at rest, or for salt without solid left; do not use it.",
    "gum",
)
_OUTSIDE = Notice(
    "sorption-outside",
    Verdict.STOP,
    "{what} comes out as {value}: outside the {low:g} to {high:g} that the model of moisture holds for. "
    "Check the masses and the order of the salts.",
    "memory",
)
_BACKWARDS = Notice(
    "sorption-backwards",
    Verdict.STOP,
    "The leaves hold less coming down than going up, which no paper does: they were not at rest going up, or "
    "the salts were mixed up.",
    "tappi-t402",
)
_LITTLE = Notice(
    "sorption-narrows-little",
    Verdict.CARE,
    "{what} is hardly known better than before. More leaves, and a box that is kept evenly warm, would help.",
)
NARROWS_LITTLE = 1.25
_SALT_CARE = Notice(
    "sorption-salts",
    Verdict.CARE,
    "Salts are for scrap only here: chloride corrodes staples. Gloves, no food nearby, and your own rules "
    "for chemicals first.",
    "clp",
)
_MOULD = Notice(
    "sorption-mould",
    Verdict.CARE,
    "Over potassium chloride, 85 %, no longer than two days: scrap that smells or shows spots goes into a "
    "closed bag, and the trial ends.",
)
_OVEN_CARE = Notice(
    "sorption-oven",
    Verdict.CARE,
    "In an oven, paper at 105 °C is watched by somebody in the room, and touches no heating element.",
)
_ALIKE = Notice(
    "sorption-alike",
    Verdict.GO,
    "It holds for leaves like the scrap: the same kind of paper, the same years. Another paper is another "
    "measurement.",
)


def _weighed(readings: Readings) -> tuple[list[Asked], list[int]]:
    """Give what was weighed, and the levels of it that are salts.

    Raises
    ------
    NotYet
        Neither the last level nor a dry mass: leaves that were not dried first would pass for thirsty ones.
    """
    at = [number for number, asked in enumerate(MASSES) if readings.has(asked)]
    dry = [DRY] if readings.has(DRY) else []
    if not dry and len(at) < len(MASSES):
        remedy = f"Weigh them there, or dry in an oven ({DRY.label.lower()})"
        raise NotYet(MASSES[-1].label, "not read yet", "", remedy)
    return [*dry, *(MASSES[number] for number in at)], at


def fit(readings: Readings) -> TrialOutcome:
    """Fit dry mass, scale of the isotherm and hysteresis to the masses at rest.

    Parameters
    ----------
    readings : Readings
        Of scrap of a text paper.

    Returns
    -------
    TrialOutcome

    Raises
    ------
    NotYet
        The temperature, or a mass that the fit cannot do without, is missing.
    BadValue
        Masses that no fit comes near, or a temperature outside 15 to 30 °C.
    """
    check_readings(readings, (TEMPERATURE, DRY, *MASSES))
    weighed, at = _weighed(readings)
    celsius, u_celsius = value_and_doubt(readings.measured(TEMPERATURE), "degC")
    course = SorptionCourse(readings.about, celsius)
    rests, has_dry = course.rests(), len(weighed) > len(at)

    def model(p: Floats) -> Floats:
        contents = contents_at_levels(math.exp(p[1]), p[2], rests)[at]
        return np.asarray(p[0] * (1 + np.r_[np.zeros(int(has_dry)), contents]))

    masses = [readings.measured(asked) for asked in weighed]
    read = np.array([float(mass.value.to("g").magnitude) for mass in masses])
    dry = read[-1] / (1 + rests[at[-1]])
    causes = course.causes()
    causes["temperature of the box"] = u_celsius * (course.rests(celsius + 0.5) - course.rests(celsius - 0.5))
    covariance = covariance_of(masses, "g")
    for effect in causes.values():
        row = dry * np.r_[np.zeros(int(has_dry)), effect[at]]
        covariance += np.outer(row, row)
    if has_dry:
        covariance[0, 0] += (dry * _OVEN) ** 2
    middle, low, high = BELIEVED_HYSTERESIS.floats("", field="hysteresis")
    known = (None, (0.0, math.log(SCALE_BELIEF) / REACH), (middle, (high - low) / 2 / REACH))
    found = fit_readings(model, (dry, 0.0, middle), read, covariance, believed=known)
    return _tell(course, found, _Weighed(read, covariance, tuple(at), has_dry))


@dataclass(frozen=True)
class _Weighed:
    """Masses with their covariance, g and g², and the levels that they are of; a dry mass comes first."""

    masses: Floats
    covariance: Floats
    at: tuple[int, ...]
    has_dry: bool


def _of_scale(found: LeastSquares) -> Range:
    """Give the scale, with what other leaves of the paper differ by."""
    spread = found.covariance.copy()
    spread[1, 1] += OTHER_LEAVES**2
    # Widened where the masses scatter more than their doubts say; but most doubt is known, and not found
    # from five masses: the factor is that of a normal distribution (with Student's, 98 of 100 are held).
    plain = replace(found, covariance=spread, misfit=min(found.misfit, 1.0))
    return plain.range(1, "dimensionless", is_factor=True)


def _of_hysteresis(found: LeastSquares) -> Range:
    """Give the hysteresis: a normal distribution, cut off at zero since no paper has less than none."""
    value, u = float(found.values[2]), math.hypot(OTHER_TURN, math.sqrt(float(found.covariance[2, 2])))
    return range_above_zero(value, u, "dimensionless")


def _tell(course: SorptionCourse, found: LeastSquares, weighed: _Weighed) -> TrialOutcome:
    """Put the fit into words, with what forbids its use."""
    scale, hysteresis = _of_scale(found), _of_hysteresis(found)
    constants = (
        Found(ISOTHERM_SCALE, scale, AS_PUBLISHED),
        Found(HYSTERESIS, hysteresis, BELIEVED_HYSTERESIS),
    )
    dry, u_dry = found.values[0], math.sqrt(found.covariance[0, 0])
    answer = (
        f"This {course.paper} holds {scale.say('')} times the water of its isotherm, and "
        f"{hysteresis.say('percent')} of its dry mass more while it dries. Plans for this paper take both, "
        "unless the item's own weighings say how much water it holds."
    )
    because = (
        f"Dry mass {dry:.2f} ± {REACH * u_dry:.2f} g; the masses lie {found.misfit:.1f} times as far from "
        "the fit as their doubts say. Most doubt comes from a tenth or two of a kelvin between salt and "
        "leaves, from the shape of the isotherm, and from what other leaves of this paper differ by "
        f"({100 * OTHER_LEAVES:.0f} %, judgement)."
    )
    return TrialOutcome(answer, because, constants, _draw(course, found, weighed), _caution(found, constants))


def _caution(found: LeastSquares, constants: Sequence[Found]) -> tuple[Caution, ...]:
    cautions = []
    if found.misfit > 2:
        cautions.append(_MISFIT(misfit=found.misfit))
    if found.values[2] + REACH * math.sqrt(found.covariance[2, 2]) < 0:
        cautions.append(_BACKWARDS())
    for one, name in zip(constants, ("isotherm_scale", "hysteresis"), strict=True):
        least, most = limits_of(name)
        _, low, high = one.value.floats("", field=one.constant.label)
        if low < least or high > most:
            what = one.constant.label[0].upper() + one.constant.label[1:]
            cautions.append(_OUTSIDE(what=what, value=one.value.say(""), low=least, high=most))
        elif one.narrower < NARROWS_LITTLE:
            cautions.append(_LITTLE(what=one.constant.label[0].upper() + one.constant.label[1:]))
    return tuple(cautions)


def _draw(course: SorptionCourse, found: LeastSquares, weighed: _Weighed) -> FitShown:
    """Draw water held against humidity, per cent of the dry mass; a dry mass is the origin and not drawn."""
    first, dry = int(weighed.has_dry), float(found.values[0])
    doubts = 100 * REACH * np.sqrt(np.diag(weighed.covariance)) / dry
    content, fitted = 100 * (weighed.masses / dry - 1), 100 * (found.fitted / dry - 1)
    points = tuple(
        FitPoint(
            100 * course.activities[level],
            float(content[first + n]),
            float(doubts[first + n]),
            float(fitted[first + n]),
            _WAY[LEVELS[level].is_down],
        )
        for n, level in enumerate(weighed.at)
    )
    own, scale = isotherm_of(course.paper), math.exp(found.values[1])
    up = [(a, scale * own.content(a, course.celsius)) for a in np.linspace(0.05, 0.9, 35)]
    top_at = max(course.activities)
    top = scale * own.content(top_at, course.celsius)
    down = [(a, held_coming_down(top, x, found.values[2])) for a, x in up if 0.25 < a < top_at]
    curves = {
        way: [(float(100 * a), float(100 * x)) for a, x in curve]
        for way, curve in zip(_WAY, (up, [*down, (top_at, top)]), strict=True)
    }
    return FitShown(
        ("relative humidity", "percent"), ("water held, of the dry mass", "percent"), points, curves
    )


_WAY = ("going up", "coming down")


def make_up(
    about: str, truth: Mapping[str, float], rng: np.random.Generator | None, *, with_oven: bool = False
) -> Readings:
    """Make up the readings of a bench with 50 g of scrap at 22 °C, with or without any error.

    Parameters
    ----------
    about : str
        A text paper.
    truth : mapping of str to float
        Scale and hysteresis by their keys.
    rng : Generator or None
        None for a bench without error.
    with_oven : bool
        Whether the dry mass is read too.
    """
    celsius, dry = 22.0, 50.0
    course = SorptionCourse(about, celsius)
    scale, hysteresis = truth[ISOTHERM_SCALE.key], truth[HYSTERESIS.key]
    shift, off = np.zeros(len(LEVELS)), 0.0
    if rng is not None:
        celsius += rng.normal(0, 0.3)
        course = SorptionCourse(about, celsius)
        scale *= math.exp(rng.normal(0, OTHER_LEAVES))
        hysteresis = max(0.0, hysteresis + rng.normal(0, OTHER_TURN))
        shift = sum((rng.normal() * effect for effect in course.causes().values()), start=shift)
        off = rng.uniform(-1, 1) * float(BALANCE.limit.to("g").magnitude)
    contents = contents_at_levels(scale, hysteresis, course.rests()) + shift
    wet = 0.0 if rng is None else rng.normal(0, _OVEN)
    masses = {asked.key: dry * (1 + x) for asked, x in zip(MASSES, contents, strict=True)}
    if with_oven:
        masses[DRY.key] = dry * (1 + wet)
    read = {key: _weigh(mass + off, rng) for key, mass in masses.items()}
    warmth = celsius if rng is None else celsius + rng.uniform(-1, 1)
    return Readings(
        about, {TEMPERATURE.key: (Q_(22.0 if rng is None else round(warmth, 1), "degC"),), **read}
    )


def _weigh(mass: float, rng: np.random.Generator | None) -> tuple[Quantity, ...]:
    """Read a mass twice off a balance."""
    if rng is None:
        return (Q_(mass, "g"), Q_(mass, "g"))
    return tuple(Q_(round(mass + rng.normal(0, 0.01), 2), "g") for _ in range(2))


LEAF_SORPTION = Protocol(
    key="leaf-sorption",
    title="Measure how much water a paper holds",
    question="How much water does this paper take up, and how much of it stays while it dries?",
    takes="half an hour a day, on five or six days",
    waits="a day at each salt for fanned leaves (the model of moisture says 4 to 10 hours), two for a closed "
    "pile: five to ten days",
    needs=(
        "20 to 100 g of scrap leaves of the paper, of the same kind and age as the items",
        "a balance to 0.01 g, a zip bag that holds the leaves, and its own mass",
        "a closed box with a rack, in a blanket or a larger box, away from sun and heating",
        "wide trays with magnesium chloride, sodium chloride and potassium chloride, as slurry",
        "a thermometer in the box",
    ),
    steps=(
        "Dry the leaves first, at 40 to 50 °C or over dried silica gel overnight, so that they come to each "
        "salt from below.",
        "Fan them on the rack over a wide tray of magnesium chloride slurry, solid salt showing. Close the "
        "box, wrap it, and read its temperature each day.",
        "After a day slip the leaves into the bag inside the box, close it, weigh it, and take off the "
        "mass of the bag. Repeat hours later until it moves by no more than 0.02 g.",
        "Put sodium chloride in place of the first salt, then potassium chloride; weigh at rest over each.",
        "Go back: weigh at rest over sodium chloride again, and, without an oven, over magnesium chloride.",
        "If you have an oven for it, dry the leaves for two hours at 105 °C, close them into the bag while "
        "hot, and weigh.",
    ),
    cautions=(_SALT_CARE, _MOULD, _OVEN_CARE, _ALIKE),
    of="Text paper",
    abouts=lambda: materials_of_kind("text paper"),
    asked=(TEMPERATURE, *MASSES, DRY),
    fit=fit,
    finds=(ISOTHERM_SCALE, HYSTERESIS),
    believed=lambda _: {ISOTHERM_SCALE.key: AS_PUBLISHED, HYSTERESIS.key: BELIEVED_HYSTERESIS},
    again_after=1095,
    why_again="Paper ages slowly; another stock of paper is another measurement",
    made_up=make_up,
)
