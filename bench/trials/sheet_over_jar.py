"""How easily vapour passes a sheet: a jar of water closed with it, weighed beside an open one.

Gravimetric, with water in the jar, in the spirit of ISO 2528 (from memory; that standard works with a
desiccant in a conditioned cabinet).  The model is that of :mod:`bench.trials.jars`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bench.materials import materials_for, materials_of_kind
from bench.physics.arrays import Floats
from bench.physics.ranges import REACH, Range
from bench.physics.transient.cells import is_barrier
from bench.physics.transient.inputs import limits_of
from bench.physics.vapour import COVER_AS_AIR as BELIEVED
from bench.treatment.measured import COVER_AS_AIR, RELEASE_AS_AIR, Constant
from bench.treatment.needed import Instrument
from bench.treatment.plan import Caution, Notice, Verdict
from bench.trials.fitting import LeastSquares, fit_readings
from bench.trials.jars import (
    AIR,
    ASKED,
    CALIPER,
    DEEPEST,
    FILM,
    HOURS,
    HUMIDITY,
    HYGROMETER,
    JARS,
    MENISCUS,
    MOUTH,
    PERMEABILITY,
    RIM,
    RULE,
    UNLIKE,
    Around,
    JarSeen,
    covariance_of_ways,
    film_of,
    look_at,
)
from bench.trials.protocol import FitPoint, FitShown, Found, Protocol, Readings, TrialOutcome
from bench.trials.reading import BALANCE, THERMOMETER, check_readings, range_above_zero
from bench.units import Q_, Quantity

OTHER_SHEETS = 0.10
"""By which sheets of one kind differ from each other."""

_MISFIT = Notice(
    "jar-misfit",
    Verdict.STOP,
    "The jars do not agree: {misfit:.1f} times as far apart as their doubts say. Look for a slip, a leaking "
    "seal or a draught; do not use it.",
    "gum",
)
_OUTSIDE = Notice(
    "jar-outside",
    Verdict.STOP,
    "The sheet comes out as {value} of still air: outside the {low:g} to {high:g} mm that the model of "
    "moisture holds for. Look for a leaking seal, or weigh for longer.",
    "memory",
)
_DRAUGHT = Notice(
    "jar-draught",
    Verdict.STOP,
    "The open jar loses more than still air in its gap lets through: there is a draught. Put a box without a "
    "lid around the jars and begin again.",
    "incropera",
)
_LITTLE = Notice(
    "jar-narrows-little",
    Verdict.CARE,
    "The sheet is hardly known better than before. Weigh for longer, and check the hygrometer.",
)
_LOST_LITTLE = Notice(
    "jar-lost-little",
    Verdict.CARE,
    "The jar under the sheet lost {lost:.2f} g only: go on until it is half a gram or more.",
)
_WATERS = Notice(
    "jar-waters-apart",
    Verdict.CARE,
    "The water of the jars stood {apart:.1f} K apart: jars alike, side by side, stand within {most:.0f} K. "
    "Read the temperatures again.",
)
_MOST_APART = 2.0  # K: evaporation cools an open jar by about half a kelvin; judgement
NARROWS_LITTLE = 1.25
_GLASS = Notice(
    "jar-care",
    Verdict.CARE,
    "Scrap only, and no water near the items. Knives away from the hand; a jar that cracks, or mould on the "
    "sheet, ends the trial.",
)
_ALIKE = Notice(
    "jar-alike",
    Verdict.GO,
    "It holds for sheets like the scrap: the same kind, the same years. A cover of another kind is another "
    "measurement.",
)


def constant_of(about: str) -> Constant:
    """Give which constant a sheet has: as a cover, or as a release sheet."""
    return RELEASE_AS_AIR if about in materials_for("release sheet") else COVER_AS_AIR


def list_sheets() -> tuple[str, ...]:
    """List covers and release sheets that hold vapour back as a layer of still air does."""
    sheets = (*materials_of_kind("cover paper"), *materials_for("release sheet"))
    return tuple(sheet for sheet in sheets if is_barrier(sheet))


def fit(readings: Readings) -> TrialOutcome:
    """Fit sheet and film of air to what the jars lost.

    Parameters
    ----------
    readings : Readings
        Of a cover or a release sheet.

    Returns
    -------
    TrialOutcome

    Raises
    ------
    NotYet
        A reading that the fit cannot do without is missing.
    BadValue
        A jar that gained mass, or water too cold to give any vapour off.

    Notes
    -----
    One or two readings more than unknowns do not tell how large the doubts are: what the jars disagree by is
    checked, and no interval is widened by it.
    """
    check_readings(readings, ASKED)
    around = Around(
        readings.number(MOUTH), readings.number(HOURS), readings.number(AIR), readings.number(HUMIDITY) / 100
    )
    jars = [jar for jar in JARS if any(readings.has(asked) for asked in jar.asked())]
    seen = [look_at(readings, around, jar) for jar in jars]
    gaps, is_closed = np.array([one.gap for one in seen]), np.array([one.jar is JARS[0] for one in seen])

    def model(p: Floats) -> Floats:
        return np.asarray(gaps + p[1] + p[0] * is_closed)

    ways, covariance = np.array([one.way for one in seen]), covariance_of_ways(readings, around, seen)
    start = (float(BELIEVED.value.to("mm").magnitude), float(FILM.value.magnitude))
    found = fit_readings(model, start, ways, covariance)
    return _tell(readings.about, found, seen, covariance)


def _with_other_sheets(value: float, own: float) -> Range:
    """Give the interval of a sheet with what others differ by, which goes with the sheet: each end solved."""
    ends = [range_above_zero(value, own, "mm").value.magnitude] * 2
    for _ in range(20):
        ends = [
            max(0.0, value + way * REACH * math.hypot(own, OTHER_SHEETS * end))
            for way, end in zip((-1, 1), ends, strict=True)
        ]
    middle = float(range_above_zero(value, math.hypot(own, OTHER_SHEETS * value), "mm").value.magnitude)
    return Range.of((middle, min(ends[0], middle), max(ends[1], middle)), "mm")


def _tell(about: str, found: LeastSquares, seen: Sequence[JarSeen], covariance: Floats) -> TrialOutcome:
    """Put the fit into words, with what forbids its use."""
    spread = found.covariance / max(1.0, np.nan_to_num(found.misfit)) ** 2
    value, film = (float(number) for number in found.values)
    own, u_film = (math.sqrt(float(spread[number, number])) for number in (0, 1))
    sheet = _with_other_sheets(value, own)
    constant = constant_of(about)
    one = Found(constant, sheet, BELIEVED)
    which = "with this release sheet" if constant is RELEASE_AS_AIR else "of items with a coated cover"
    answer = (
        f"This {about} holds vapour back as {sheet.say('mm')} of still air do; without a trial it was "
        f"{BELIEVED.say('mm')}. Plans {which} take it."
    )
    because = (
        f"The jar under the sheet lost {seen[0].lost:.2f} g, the open one {seen[1].lost:.2f} g, which leaves "
        f"{film:.0f} ± {REACH * u_film:.0f} mm for the film of air outside. Most doubt comes from the "
        f"humidity of the room, from draughts, and from what other sheets differ by "
        f"({100 * OTHER_SHEETS:.0f} %, judgement)."
    )
    return TrialOutcome(
        answer, because, (one,), _draw(found, seen, covariance), _caution(found, seen, covariance, one)
    )


def _caution(
    found: LeastSquares, seen: Sequence[JarSeen], covariance: Floats, one: Found
) -> tuple[Caution, ...]:
    cautions = []
    if found.dof and found.misfit > _MOST_MISFIT:
        cautions.append(_MISFIT(misfit=found.misfit))
    if film_of(seen) + REACH * math.sqrt(float(covariance[1, 1])) < 0:
        cautions.append(_DRAUGHT())
    least, most = (1000 * limit for limit in limits_of("cover_as_air"))
    if one.value.floats("mm", field="sheet")[2] > most:
        cautions.append(_OUTSIDE(value=one.value.say("mm"), low=least, high=most))
    elif one.narrower < NARROWS_LITTLE:
        cautions.append(_LITTLE())
    waters = [one.water for one in seen]
    if max(waters) - min(waters) > _MOST_APART:
        cautions.append(_WATERS(apart=max(waters) - min(waters), most=_MOST_APART))
    if seen[0].lost < _LEAST_LOST:
        cautions.append(_LOST_LITTLE(lost=seen[0].lost))
    return tuple(cautions)


_MOST_MISFIT = 3.0  # one reading more than unknowns passes 2 by chance once in twenty, 3 once in 400
_LEAST_LOST = 0.3  # g: two hundredths are then less than a tenth


def _draw(found: LeastSquares, seen: Sequence[JarSeen], covariance: Floats) -> FitShown:
    """Draw all that is in the way against the gap of air, both as mm of still air."""
    doubts = REACH * np.sqrt(np.diag(covariance))
    series = ("under the sheet", "open")
    points = tuple(
        FitPoint(one.gap, one.way, float(doubts[n]), float(found.fitted[n]), series[one.jar is not JARS[0]])
        for n, one in enumerate(seen)
    )
    sheet, film = (float(number) for number in found.values)
    curves = {
        name: [(gap, gap + film + more) for gap in (0.0, DEEPEST)]
        for name, more in zip(series, (sheet, 0.0), strict=True)
    }
    return FitShown(
        ("gap of air above the water", "mm"), ("all in the way, as still air", "mm"), points, curves
    )


_GAPS = {"sheet": 15.0, "open": 15.0, "deep": 22.0}
_COOLER = {
    "sheet": 0.2,
    "open": 0.6,
    "deep": 0.5,
}  # K, water below air: from the heat that it takes to evaporate


def make_up(
    about: str, truth: Mapping[str, float], rng: np.random.Generator | None, *, with_deep: bool = False
) -> Readings:
    """Make up the readings of a day over jars with mouths of 60 mm, with or without any error.

    Parameters
    ----------
    about : str
        A cover or a release sheet.
    truth : mapping of str to float
        The sheet as still air, mm, by the key of its constant.
    rng : Generator or None
        None for a bench without error.
    with_deep : bool
        Whether a third jar, open and with less water, stands beside the two.
    """
    draw = _Errors(rng)
    sheet = truth[constant_of(about).key] * (1 + draw.normal(OTHER_SHEETS))
    film = float(FILM.value.magnitude) * math.exp(draw.normal(math.log(2.5) / REACH))
    around = Around(60.0 + draw.normal(RIM), 24.0, 22.0 + draw.normal(1.0), 0.50 + draw.normal(0.05))
    warm, damp, heavy = draw.even(THERMOMETER.limit), draw.even(HYGROMETER.limit), draw.even(BALANCE.limit)
    long, wide, passes = draw.even(RULE.limit), draw.even(CALIPER.limit), 1 + draw.normal(PERMEABILITY)
    read = {
        MOUTH.key: draw.read(around.mouth + wide, CALIPER, "mm"),
        HOURS.key: (Q_(24.0, "hour"),),
        AIR.key: draw.read(around.air + warm, THERMOMETER, "degC"),
        HUMIDITY.key: draw.read(100 * around.humidity + damp, HYGROMETER, "percent"),
    }
    for jar in JARS if with_deep else JARS[:2]:
        gap, water = _GAPS[jar.key] + draw.normal(MENISCUS), around.air - _COOLER[jar.key]
        way = gap + film * (1 + draw.normal(UNLIKE)) + (sheet if jar is JARS[0] else 0.0)
        lost = _lose(around, passes * around.grams_by_mm(water), way)
        before = 400.0 + heavy
        numbers = (gap + long if rng else gap, water + warm, before, before - lost)
        tools = ((RULE, "mm"), (THERMOMETER, "degC"), (BALANCE, "g"), (BALANCE, "g"))
        for asked, number, (tool, unit) in zip(jar.asked(), numbers, tools, strict=True):
            read[asked.key] = draw.read(number, tool, unit)
    return Readings(about, read)


def _lose(around: Around, grams_by_mm: float, way: float) -> float:
    """Give the loss in g of a jar whose water sinks meanwhile: the root of m (way + sunk/2) = K t."""
    half = around.sunk(1.0) / 2
    return (math.sqrt(way**2 + 4 * half * grams_by_mm) - way) / (2 * half)


@dataclass(frozen=True)
class _Errors:
    """Errors of a made-up bench; none without a generator."""

    rng: np.random.Generator | None

    def normal(self, u: float) -> float:
        """Draw an error from a normal distribution."""
        return 0.0 if self.rng is None else float(self.rng.normal(0, u))

    def even(self, limit: Quantity) -> float:
        """Draw an error of an instrument, anywhere within its limit."""
        return 0.0 if self.rng is None else float(self.rng.uniform(-1, 1) * limit.magnitude)

    def read(self, number: float, tool: Instrument, unit: str) -> tuple[Quantity, ...]:
        """Read twice, each with a scatter of a step, rounded to one."""
        if self.rng is None:
            return (Q_(number, unit), Q_(number, unit))
        step = float(tool.step.magnitude)
        return tuple(Q_(step * round((number + self.normal(step)) / step), unit) for _ in range(2))


SHEET_OVER_JAR = Protocol(
    key="sheet-over-jar",
    title="Measure how easily vapour passes a sheet",
    question="How much does this cover or release sheet hold vapour back?",
    takes="an hour on the first day, a quarter of an hour on the last",
    waits="a day for a coated cover, three for a tight release sheet",
    needs=(
        "two or three glass jars alike, with mouths of 5 to 10 cm and flat rims",
        "scrap of the sheet, without holes or folds",
        "a rubber band and tape, or wax, to seal the sheet onto the rim",
        "a balance to 0.01 g that takes a jar, a rule, a thermometer, a hygrometer",
        "a box without a lid around the jars, against draughts",
    ),
    steps=(
        "Fill the jars with water of the room to 10 to 20 mm below the rim, and read the gap of each at "
        "several places.",
        "Lay the sheet over one jar, coated side out, as it lies on the item; draw it flat and seal it all "
        "around under the rim. Leave one jar open, and a third one with less water if you can.",
        "Stand them a hand apart in the box without a lid, away from sun, heating and door. After two hours "
        "weigh each with all that is on it, and note the time.",
        "Read temperature and humidity of the air at the mouths several times, and the temperature of the "
        "water in each jar. Let the jars change places halfway.",
        "Weigh all again after a day, or when the jar under the sheet has lost half a gram; note the time.",
        "Look for a loose seal, drops under the sheet or a sheet that has drawn itself wavy: then begin "
        "again with a new one.",
    ),
    cautions=(_GLASS, _ALIKE),
    of="Sheet",
    abouts=list_sheets,
    asked=ASKED,
    fit=fit,
    finds=(COVER_AS_AIR, RELEASE_AS_AIR),
    believed=lambda about: {constant_of(about).key: BELIEVED},
    again_after=1825,
    why_again="Coatings age slowly; another make of release sheet is another measurement",
    made_up=make_up,
)
