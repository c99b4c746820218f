"""How a pile of scrap leaves gives under load, and how much thinner it stays once it was pressed damp."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bench.errors import BadValue, NotYet
from bench.materials import look_up, materials_of_kind
from bench.physics.arrays import Floats
from bench.physics.bearing.knowns import Assumed
from bench.physics.contact import HIGHEST_KPA, STANDARD_GRAVITY
from bench.physics.ranges import REACH, Range
from bench.treatment.measured import K1, K2, THINNING
from bench.treatment.needed import instruments_for
from bench.treatment.plan import Caution, Notice, Verdict
from bench.trials.fitting import LeastSquares, covariance_of, fit_readings, read_pooled
from bench.trials.protocol import Asked, Found, Outcome, Point, Protocol, Readings, Shown
from bench.uncertainty import Measured
from bench.units import Q_

LEVELS = (1, 2, 5, 10)
"""Kilograms on the foot; on 50 mm across 5 to 50 kPa, from a medium load to what a caliper presses with."""

ALONE = 0
"""The level of foot and tray alone: a light load, which tells K1 from K2."""

_CALIPER = instruments_for("thickness")[0]
_BELIEVED = Assumed()

# Doubts that reading again does not average away.  All are judgement: no published figure was found.
_EDGE_MM = 1.0  # by how much leaves stand out beyond the foot, or fall short of it, at most
_WEIGHTS = 0.01  # standard, of the scale on which the weights were checked
_SETTLING_MM = 0.008  # standard: the foot finds another seat under every load
_ANOTHER_PILE = {"k1": 0.15, "k2": 0.08}  # standard, of the logarithm: the block against the scrap
_ANOTHER_THINNING = 0.25  # standard, as a part: another pile, another load within a factor of two or so
_ROOM = 0.003  # standard, of the thickness: a room some 5 % RH damper or drier at the second reading
_MISFIT = 2.0
_NARROWS_LITTLE = 1.2

ZERO = Asked(
    "zero",
    "Foot on the bare plate",
    "thickness",
    1,
    150,
    5,
    tool=_CALIPER,
    group="The pile",
    hint="plate and foot together, under 1 kg, without the pile: it is taken off every reading below",
)
LEAVES = Asked("leaves", "Leaves in the pile", "dimensionless", 10, 500, usual=150, hint="count, not pages")
FOOT = Asked(
    "foot", "Foot across", "mm", 20, 150, usual=50, hint="round; the leaves are cut to it", tool=_CALIPER
)
REST = Asked(
    "rest",
    "Foot and tray",
    "kg",
    0,
    5,
    usual=0.2,
    is_optional=True,
    hint="what lies on the pile besides the weights",
)


def _under(
    name: str, words: str, group: str, *, levels: Sequence[int] = LEVELS, is_optional: bool = True
) -> dict[int, Asked]:
    return {
        level: Asked(
            f"{name}_{level}",
            f"{words}, under {f'{level} kg' if level else 'foot and tray alone'}",
            "thickness",
            1,
            150,
            5,
            is_optional=is_optional or level == ALONE,
            tool=_CALIPER,
            group=group if level == levels[0] else "",
            hint="plate, pile and foot together, after a minute" if level == levels[0] else "",
        )
        for level in levels
    }


FIRST = _under("first", "Dry, first time", "Dry", levels=(ALONE, *LEVELS), is_optional=False)
SECOND = _under("second", "Dry, second time", "Dry, loaded again")
DAMP = _under("damp", "Damp", "Damp, and dry again")
HELD = Asked(
    "held",
    "Weight under which it dried",
    "kg",
    0.2,
    20,
    usual=1,
    is_optional=True,
    hint="so much as gives the pressure of your press",
)
AGAIN = Asked(
    "again_1",
    "Dry again, under 1 kg",
    "thickness",
    1,
    150,
    5,
    is_optional=True,
    tool=_CALIPER,
    hint="two days later, in the same room; with it the thinning is found",
)
ASKED = (LEAVES, FOOT, REST, ZERO, *FIRST.values(), *SECOND.values(), *DAMP.values(), HELD, AGAIN)

_CUTS = Notice(
    "pile-weights-fall",
    Verdict.CARE,
    "Ten kilograms on a small foot tip easily: stack them low, keep feet and fingers from under them, and stop "
    "if the tower leans.",
)
_SCRAP = Notice(
    "pile-of-scrap",
    Verdict.CARE,
    "Use scrap of the same kind of paper only, never leaves of an item: the trial presses it thinner for good.",
)
_NOT_EXPLAINED = Notice(
    "pile-not-explained",
    Verdict.STOP,
    "The law does not explain the readings (misfit {misfit:.1f}, 2 allowed): look for a slip or a tilted foot, "
    "and load a fresh pile.",
    "gum",
)
_OUTSIDE = Notice(
    "pile-outside-the-law",
    Verdict.STOP,
    "K1 {k1}, K2 {k2}: outside the 0.1 to 100 kPa and 10 to 500 for which the law is used.",
    "memory",
)
_LITTLE = Notice(
    "pile-narrows-little",
    Verdict.CARE,
    "Of {what} the trial says little more than is believed without it: read three times under every load, "
    "or take a thicker pile.",
)
_COUNT = Notice(
    "pile-miscounted",
    Verdict.CARE,
    "A leaf of the pile comes to {leaf:.3f} mm, where {usual:.3f} mm is usual for {paper}: count the leaves "
    "again, or choose the paper that it is.",
)
_SOFTER = Notice(
    "pile-softer-damp",
    Verdict.CARE,
    "Damp the pile gives {times:.1f} times as much as dry. Plans reckon with the dry constants, so a damp block "
    "may stand lower than they say.",
)
_OTHER_LOAD = Notice(
    "pile-dried-under-other-load",
    Verdict.CARE,
    "It dried under {held:.1f} kPa. Its thinning holds for presses from about half to twice that.",
)


@dataclass(frozen=True)
class _Pile:
    """What was read of the pile in one state: pressures in kPa, heights in mm with their covariance."""

    levels: tuple[int, ...]
    pressures: Floats
    heights: Floats
    covariance: Floats


def _pressure(readings: Readings, kilograms: float) -> float:
    """Give the pressure under a weight, kPa."""
    rest = readings.number(REST) if readings.has(REST) else 0.0
    if kilograms + rest <= 0:
        remedy = "Weigh foot and tray, or leave the reading under them out"
        raise BadValue(
            REST.label.lower(), f"{rest:g} kg", "above zero, where it was read under them alone", remedy
        )
    area = math.pi * (readings.number(FOOT) * 1e-3) ** 2 / 4
    pressure = (kilograms + rest) * STANDARD_GRAVITY / area * 1e-3
    if pressure > HIGHEST_KPA:
        remedy = "Take a larger foot: paper is crushed there"
        raise BadValue(
            "pressure on the pile", f"{pressure:.0f} kPa", f"at most {HIGHEST_KPA:.0f} kPa", remedy
        )
    return pressure


def _read(readings: Readings, asked: Mapping[int, Asked]) -> _Pile:
    """Give the heights of the pile: every reading less the one without it, so that the caliper cancels."""
    known = {level: one for level, one in asked.items() if readings.has(one)}
    zero, *found = read_pooled(readings, (ZERO, *known.values()))
    heights: list[Measured] = [one - zero for one in found]
    values = np.array([float(one.value.to("mm").magnitude) for one in heights])
    for level, value in zip(known, values, strict=True):
        if value < 0.3:
            remedy = "Enter plate, pile and foot together, and the same without the pile"
            raise BadValue(
                f"thickness of the pile under {level} kg", f"{value:.2f} mm", "0.3 mm or more", remedy
            )
    spread = covariance_of(heights, "mm") + np.eye(len(heights)) * _SETTLING_MM**2
    return _Pile(tuple(known), np.array([_pressure(readings, m) for m in known]), values, spread)


def _strain(pressures: Floats, k1: float) -> Floats:
    return np.log1p(pressures / k1)


def _fit_law(readings: Readings, pile: _Pile) -> LeastSquares:
    """Fit height, K1 and K2 (as logarithms) and the error that all pressures share."""
    foot = readings.number(FOOT)
    shared = math.hypot(2 * _EDGE_MM / foot / math.sqrt(3), _WEIGHTS)

    def model(point: Floats) -> Floats:
        height, k1, k2, error = np.exp(point)
        return np.asarray(height * (1 - _strain(pile.pressures * error, k1) / k2))

    believed = [_belief(K1.key), _belief(K2.key)]
    wide = [
        (value, math.hypot(u, _ANOTHER_PILE[key]))
        for key, (value, u) in zip(("k1", "k2"), believed, strict=True)
    ]
    start = [math.log(1.03 * pile.heights[0]), believed[0][0], believed[1][0], 0.0]
    return fit_readings(model, start, pile.heights, pile.covariance, believed=[None, *wide, (0.0, shared)])


def _belief(key: str) -> tuple[float, float]:
    """Give median and standard uncertainty of the logarithm of what is believed of a constant."""
    constant = {"k1": K1, "k2": K2}[key]
    value, low, high = getattr(_BELIEVED, key).floats(constant.unit, field=constant.label)
    return math.log(value), math.log(high / low) / (2 * REACH)


def _constants(fit: LeastSquares) -> dict[str, Range]:
    """Give K1 and K2 of the paper: those of the pile, with what another pile of it may differ by."""
    found = {}
    for number, (key, unit) in enumerate((("k1", K1.unit), ("k2", K2.unit)), start=1):
        centre, u0 = _belief(key)
        wide = u0**2 + _ANOTHER_PILE[key] ** 2
        gain = u0**2 / wide
        middle = centre + gain * (float(fit.values[number]) - centre)
        u = math.sqrt(gain**2 * float(fit.covariance[number, number]) + gain * _ANOTHER_PILE[key] ** 2)
        found[key] = Range.of((math.exp(middle + k * REACH * u) for k in (0, -1, 1)), unit)
    return found


def _thinning(readings: Readings) -> Range | None:
    r"""Give the thinning; None where it was not read.

    Notes
    -----
    .. math:: s = 1 - T_{again} / T_{second}

    both dry, under 1 kg, with the same caliper: as :class:`bench.physics.bearing.knowns.Assumed` has it, the
    text block before and after pressing read with one gauge.  Before is the *second* dry loading: what the
    first one flattens for good a caliper flattens too, before anything is treated.  Joined with what is
    believed over a grid, since it cannot be below zero.
    """
    if not (readings.has(AGAIN) and readings.has(SECOND[1])):
        return None
    zero, before, after = read_pooled(readings, (ZERO, SECOND[1], AGAIN))
    (tall, left), spread = _heights(zero, before, after)
    share = 100 * (1 - left / tall)
    slope = np.array([left / tall, -1.0]) * 100 / tall
    variance = float(slope @ spread @ slope) + (100 * _ROOM) ** 2
    if share < -4 * math.sqrt(variance) - 0.5 or share > 30:
        remedy = "Let it dry two days in the same room, seat the foot, and read it again"
        raise BadValue("thinning of the pile", f"{share:.1f} %", "about 0 to 30 %", remedy)
    value, low, high = _BELIEVED.thinning.floats("percent", field="thinning")
    grid = np.linspace(0.0, 40.0, 8001)
    u = np.where(grid > value, high - value, value - low) / REACH
    prior = np.exp(-0.5 * ((grid - value) / u) ** 2) / u * grid[1] / math.sqrt(2 * math.pi)
    prior[0] += 0.025  # what would lie below zero: no thinning at all
    sigma = np.sqrt(variance + (_ANOTHER_THINNING * grid) ** 2)
    likely = prior * np.exp(-0.5 * ((share - grid) / sigma) ** 2) / sigma
    part = np.cumsum(likely) / likely.sum()
    return Range.of((float(np.interp(p, part, grid)) for p in (0.5, 0.025, 0.975)), "percent")


def _heights(zero: Measured, before: Measured, after: Measured) -> tuple[Floats, Floats]:
    heights = (before - zero, after - zero)
    values = np.array([float(one.value.to("mm").magnitude) for one in heights])
    if (values < 0.3).any():
        remedy = "Enter plate, pile and foot together"
        raise BadValue("thickness of the pile", f"{values.min():.2f} mm", "0.3 mm or more", remedy)
    return values, covariance_of(heights, "mm") + np.eye(2) * _SETTLING_MM**2


def fit(readings: Readings) -> Outcome:
    """Fit Pfeiffer's law to the first dry loading, and the thinning to what is left of it dry again.

    Parameters
    ----------
    readings : Readings
        As :data:`PILE_COMPRESSION` asks them.

    Returns
    -------
    Outcome

    Raises
    ------
    NotYet
        A reading that the fit cannot do without is missing.
    BadValue
        A pile that grows under load, or that paper cannot be.

    Notes
    -----
    :func:`bench.physics.bearing.fit.fit_compression` fits the same law where every reading has a doubt of its
    own.  Here the zero, the area and the weights are shared by all, which it does not know; so the fit is
    that of :func:`bench.trials.fitting.fit_readings`.  Valid for 0 to 500 kPa and the first loading.
    """
    for asked in (LEAVES, FOOT, ZERO, *FIRST.values()):
        if not asked.is_optional and not readings.has(asked):
            raise NotYet(asked.label, "not read yet", "", "Read it and enter it")
    pile = _read(readings, FIRST)
    doubt = float(np.sqrt(pile.covariance[0, 0] + pile.covariance[-1, -1]))
    if pile.heights[-1] > pile.heights[0] + 2 * doubt:
        came, allowed = f"{pile.heights[-1]:.2f} mm", f"at most {pile.heights[0]:.2f} mm, as under 1 kg"
        raise BadValue("pile under 10 kg", came, allowed, "A pile does not grow under load: read both again")
    law, thinner = _fit_law(readings, pile), _thinning(readings)
    constants = _constants(law)
    before = believed_of(readings.about)
    found = [Found(one, constants[one.key], before[one.key]) for one in (K1, K2)]
    if thinner is not None:
        found.append(Found(THINNING, thinner, before[THINNING.key]))
    others = _others(readings, float(np.exp(law.values[1])))
    return Outcome(
        _answer(readings.about, found),
        _because(law, pile, others),
        tuple(found),
        _show(pile, law, others),
        tuple(_cautions(readings, law, found, others)),
    )


@dataclass(frozen=True)
class _Other:
    """Another loading of the pile, with the line in ln(1 + p/K1) through it."""

    name: str
    pile: _Pile
    height: float
    slope: float


def _others(readings: Readings, k1: float) -> tuple[_Other, ...]:
    """Draw the second and the damp loading, where they were read; they move no constant."""
    found = []
    for name, asked in (("dry, second loading", SECOND), ("damp", DAMP)):
        if sum(readings.has(one) for one in asked.values()) >= 2:
            pile = _read(readings, asked)
            slope, height = np.polyfit(_strain(pile.pressures, k1), pile.heights, 1)
            found.append(_Other(name, pile, float(height), float(slope)))
    return tuple(found)


def _answer(paper: str, found: Sequence[Found]) -> str:
    said = ", ".join(
        f"{name} {one.value.say(one.constant.unit)}" for name, one in zip(("K1", "K2"), found, strict=False)
    )
    thinner = ""
    if len(found) > 2:
        thinner = f" Pressed damp it stays thinner by {found[2].value.say('percent')}."
    return f"A pile of {paper} gives with {said}.{thinner} Buffering of this paper reckons with these from now on."


def _because(law: LeastSquares, pile: _Pile, others: Sequence[_Other]) -> str:
    off = _expanded(pile)
    words = (
        f"The law meets {len(pile.levels)} loads with a misfit of {law.misfit:.1f} (1 is usual, 2 the most). Heights "
        f"are known to {off.max():.2f} mm; the rest of the doubt is the area under the foot, and that "
        "another pile of the same paper differs (judgement)."
    )
    for other in others:
        if other.name != "damp":
            part = other.slope / _slope(law)
            words += f" Loaded again it gives {100 * part:.0f} % as much; plans are of a first loading."
    return words


def _slope(law: LeastSquares) -> float:
    return -float(np.exp(law.values[0] - law.values[2]))


def _expanded(pile: _Pile) -> Floats:
    return np.asarray(REACH * np.sqrt(np.diag(pile.covariance)))


def _show(pile: _Pile, law: LeastSquares, others: Sequence[_Other]) -> Shown:
    name, k1 = "dry, first loading", float(np.exp(law.values[1]))
    drawn = [(name, pile, float(np.exp(law.values[0])), _slope(law), law.fitted)]
    drawn += [
        (o.name, o.pile, o.height, o.slope, o.height + o.slope * _strain(o.pile.pressures, k1))
        for o in others
    ]
    points, curves = [], {}
    for series, read, height, slope, fitted in drawn:
        rows = zip(read.pressures, read.heights, _expanded(read), fitted, strict=True)
        points += [Point(*(float(number) for number in row), series) for row in rows]
        places = np.linspace(0.5 * read.pressures[0], 1.1 * read.pressures[-1], 60)
        heights = height + slope * _strain(places, k1)
        curves[series] = [(float(x), float(y)) for x, y in zip(places, heights, strict=True)]
    return Shown(("pressure", "kPa"), ("thickness of the pile", "mm"), tuple(points), curves)


def _cautions(
    readings: Readings, law: LeastSquares, found: Sequence[Found], others: Sequence[_Other]
) -> Iterator[Caution]:
    if law.misfit > _MISFIT:
        yield _NOT_EXPLAINED(misfit=law.misfit)
    k1, k2 = (found[n].value.floats(c.unit, field=c.label) for n, c in ((0, K1), (1, K2)))
    if k1[1] < 0.1 or k1[2] > 100 or k2[1] < 10 or k2[2] > 500:
        yield _OUTSIDE(k1=found[0].value.say("kPa"), k2=found[1].value.say(K2.unit))
    leaf = float(np.exp(law.values[0])) / readings.number(LEAVES)
    usual = look_up(readings.about, "thickness").number("mm")
    if not 0.5 <= leaf / usual <= 2.5:
        yield _COUNT(leaf=leaf, usual=usual, paper=readings.about)
    little = [one.constant.label for one in found if one.narrower < _NARROWS_LITTLE]
    if little:
        yield _LITTLE(what=" and ".join(little))
    for other in others:
        if other.name == "damp" and other.slope / _slope(law) > 1.3:
            yield _SOFTER(times=other.slope / _slope(law))
    if len(found) > 2:
        held = readings.number(HELD) if readings.has(HELD) else 1.0
        yield _OTHER_LOAD(Verdict.GO, held=_pressure(readings, held))


def believed_of(about: str) -> dict[str, Range]:
    """Give what plans believe of its constants without the trial, of any paper alike."""
    return {K1.key: _BELIEVED.k1, K2.key: _BELIEVED.k2, THINNING.key: _BELIEVED.thinning}


def made_up(about: str, truth: Mapping[str, float], rng: np.random.Generator | None) -> Readings:
    """Make up the readings of 150 leaves under a foot of 50 mm; without a generator without any error."""

    def off(standard: float) -> float:
        return 0.0 if rng is None else standard * float(rng.standard_normal())

    def read(length: float) -> tuple:
        if rng is None:
            return (Q_(length, "mm"),) * 3
        seat = length + off(_SETTLING_MM)
        return tuple(Q_(round(seat + limit + off(0.012), 2), "mm") for _ in range(3))

    limit = 0.0 if rng is None else float(rng.uniform(-0.02, 0.02))
    edge = 0.0 if rng is None else float(rng.uniform(-_EDGE_MM, _EDGE_MM))
    k1, k2 = (truth[key] * math.exp(off(_ANOTHER_PILE[key])) for key in ("k1", "k2"))
    thinner = max(0.0, 0.01 * truth["thinning"] * (1 + off(_ANOTHER_THINNING))) + off(_ROOM)
    leaf = look_up(about, "thickness").number("mm")
    tall, bare, area = 150 * 1.1 * leaf, 12.0, math.pi * 0.05**2 / 4
    scale = (1 - 2 * edge / 50) * (1 + off(_WEIGHTS))
    pressures = {m: scale * (m + 0.2) * STANDARD_GRAVITY / area * 1e-3 for m in FIRST}
    first = {m: tall * (1 - math.log1p(p / k1) / k2) for m, p in pressures.items()}
    # Loaded again it comes back by half; damp it gives half as much again.  Neither moves a constant.
    again = {m: first[10] + 0.5 * (height - first[10]) for m, height in first.items()}
    damp = {m: tall * 1.03 * (1 - 1.5 * math.log1p(p / k1) / k2) for m, p in pressures.items()}
    found = {"leaves": (Q_(150.0, ""),), "foot": (Q_(50.0, "mm"),), "rest": (Q_(0.2, "kg"),)}
    found |= {"held": (Q_(0.8, "kg"),), "zero": read(bare)}
    for asked, heights in (
        (FIRST, first),
        (SECOND, {m: again[m] for m in LEVELS}),
        (DAMP, {m: damp[m] for m in (1, 2)}),
    ):
        found |= {asked[m].key: read(bare + height) for m, height in heights.items()}
    found[AGAIN.key] = read(bare + again[1] * (1 - thinner))
    return Readings(about, found)


PILE_COMPRESSION = Protocol(
    key="pile-compression",
    title="Measure how a pile of scrap gives under load",
    question="How much does this paper give in the press, and how much thinner does it stay once pressed damp?",
    takes="about an hour",
    waits="a night in the chamber, and two days to dry",
    needs=(
        "150 leaves of scrap of the same kind of paper",
        "a stiff round foot about 50 mm across and a flat plate (metal or glass)",
        "weights of 1, 2, 5 and 10 kg, checked on a scale",
        "a caliper that opens over plate, pile and foot",
    ),
    steps=(
        "Cut the leaves to the size of the foot, none standing out by more than 1 mm, and count them. Measure "
        "the foot. Set it on the bare plate under 1 kg and read across plate and foot: that is zero.",
        "Lay the pile on the plate and the foot on it; read under foot and tray alone, then under 1, 2, 5 and "
        "10 kg more. A minute after each, read across plate, pile and foot at three places around it.",
        "Take the weights off, and load it a second time in the same way: under 1 kg at least.",
        "Leave the loose pile in the chamber until it is as damp as an item before pressing. Back under the "
        "foot, read it under 1 kg; add 2, 5 and 10 kg only as far as your press goes.",
        "Let it dry under the weight that gives the pressure of your press (1 kg on 50 mm is 5 kPa), with a "
        "blotter above and below, overnight; take the blotters out.",
        "Let the pile lie two days in the room where it was read first, then read it again under 1 kg.",
    ),
    cautions=(_CUTS(), _SCRAP()),
    of="Paper",
    abouts=lambda: materials_of_kind("text paper"),
    asked=ASKED,
    fit=fit,
    finds=(K1, K2, THINNING),
    believed=believed_of,
    again_after=1095,
    why_again="Scrap differs from lot to lot: another pile tells whether the first one stands for the paper",
    made_up=made_up,
)
