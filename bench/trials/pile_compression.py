"""How a pile of scrap leaves gives under load, and how much thinner it stays once it was pressed damp."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bench.errors import BadValue, NotYet
from bench.materials import look_up, materials_of_kind
from bench.physics.arrays import Floats
from bench.physics.contact import STANDARD_GRAVITY
from bench.physics.ranges import REACH
from bench.treatment.measured import K1, K2, THINNING
from bench.treatment.plan import Caution, Notice, Verdict
from bench.trials.fitting import LeastSquares
from bench.trials.pile_asked import AGAIN, ASKED, DAMP, FIRST, FOOT, HELD, LEAVES, LEVELS, SECOND, ZERO
from bench.trials.pile_law import (
    ANOTHER_PILE,
    ANOTHER_THINNING,
    EDGE_MM,
    ROOM,
    SETTLING_MM,
    WEIGHTS,
    Pile,
    believed_of,
    find_constants,
    find_thinning,
    fit_law,
    pressure_under,
    read_pile,
    strain,
)
from bench.trials.protocol import FitPoint, FitShown, Found, Protocol, Readings, TrialOutcome
from bench.units import Q_

_MISFIT = 2.0
_NARROWS_LITTLE = 1.2


_TOPPLES = Notice(
    "pile-weights-fall",
    Verdict.CARE,
    "Ten kilograms on a small foot tip easily: stack them low, keep feet and fingers from under them, and "
    "stop if the tower leans.",
)
_SCRAP = Notice(
    "pile-of-scrap",
    Verdict.CARE,
    "Use scrap of the same kind of paper only, never leaves of an item: the trial presses it thinner for "
    "good.",
)
_NOT_EXPLAINED = Notice(
    "pile-not-explained",
    Verdict.STOP,
    "The law does not explain the readings (misfit {misfit:.1f}, 2 allowed): look for a slip or a tilted "
    "foot, and load a fresh pile.",
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
    "Damp the pile gives {times:.1f} times as much as dry. Plans reckon with the dry constants, so a damp "
    "block may stand lower than they say.",
)
_OTHER_LOAD = Notice(
    "pile-dried-under-other-load",
    Verdict.CARE,
    "It dried under {held:.1f} kPa. Its thinning holds for presses from about half to twice that.",
)


def fit(readings: Readings) -> TrialOutcome:
    """Fit Pfeiffer's law to the first dry loading, and the thinning to what is left of it dry again.

    Parameters
    ----------
    readings : Readings
        As :data:`PILE_COMPRESSION` asks them.

    Returns
    -------
    TrialOutcome

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
    pile = read_pile(readings, FIRST)
    doubt = float(np.sqrt(pile.covariance[0, 0] + pile.covariance[-1, -1]))
    if pile.heights[-1] > pile.heights[0] + 2 * doubt:
        came, allowed = f"{pile.heights[-1]:.2f} mm", f"at most {pile.heights[0]:.2f} mm, as under 1 kg"
        raise BadValue("pile under 10 kg", came, allowed, "A pile does not grow under load: read both again")
    law, thinner = fit_law(readings, pile), find_thinning(readings)
    constants = find_constants(law)
    before = believed_of(readings.about)
    found = [Found(one, constants[one.key], before[one.key]) for one in (K1, K2)]
    if thinner is not None:
        found.append(Found(THINNING, thinner, before[THINNING.key]))
    others = _others(readings, float(np.exp(law.values[1])))
    return TrialOutcome(
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
    pile: Pile
    height: float
    slope: float


def _others(readings: Readings, k1: float) -> tuple[_Other, ...]:
    """Draw the second and the damp loading, where they were read; they move no constant."""
    found = []
    for name, asked in (("dry, second loading", SECOND), ("damp", DAMP)):
        if sum(readings.has(one) for one in asked.values()) >= 2:
            pile = read_pile(readings, asked)
            slope, height = np.polyfit(strain(pile.pressures, k1), pile.heights, 1)
            found.append(_Other(name, pile, float(height), float(slope)))
    return tuple(found)


def _answer(paper: str, found: Sequence[Found]) -> str:
    said = ", ".join(
        f"{name} {one.value.say(one.constant.unit)}" for name, one in zip(("K1", "K2"), found, strict=False)
    )
    thinner = ""
    if len(found) > 2:
        thinner = f" Pressed damp it stays thinner by {found[2].value.say('percent')}."
    return f"A pile of {paper} gives with {said}.{thinner} Buffering of this paper reckons with these."


def _because(law: LeastSquares, pile: Pile, others: Sequence[_Other]) -> str:
    off = _expanded(pile)
    words = (
        f"The law meets {len(pile.levels)} loads with a misfit of {law.misfit:.1f} (1 is usual, 2 the "
        f"most). Heights are known to {off.max():.2f} mm; the rest of the doubt is the area under the foot, "
        "and that another pile of the same paper differs (judgement)."
    )
    for other in others:
        if other.name != "damp":
            part = other.slope / _slope(law)
            words += f" Loaded again it gives {100 * part:.0f} % as much; plans are of a first loading."
    return words


def _slope(law: LeastSquares) -> float:
    return -float(np.exp(law.values[0] - law.values[2]))


def _expanded(pile: Pile) -> Floats:
    return np.asarray(REACH * np.sqrt(np.diag(pile.covariance)))


def _show(pile: Pile, law: LeastSquares, others: Sequence[_Other]) -> FitShown:
    name, k1 = "dry, first loading", float(np.exp(law.values[1]))
    drawn = [(name, pile, float(np.exp(law.values[0])), _slope(law), law.fitted)]
    drawn += [
        (o.name, o.pile, o.height, o.slope, o.height + o.slope * strain(o.pile.pressures, k1)) for o in others
    ]
    points, curves = [], {}
    for series, read, height, slope, fitted in drawn:
        rows = zip(read.pressures, read.heights, _expanded(read), fitted, strict=True)
        points += [FitPoint(float(x), float(y), float(u), float(fit), series) for x, y, u, fit in rows]
        places = np.linspace(0.5 * read.pressures[0], 1.1 * read.pressures[-1], 60)
        heights = height + slope * strain(places, k1)
        curves[series] = [(float(x), float(y)) for x, y in zip(places, heights, strict=True)]
    return FitShown(("pressure", "kPa"), ("thickness of the pile", "mm"), tuple(points), curves)


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
        yield _OTHER_LOAD(Verdict.GO, held=pressure_under(readings, held))


def made_up(about: str, truth: Mapping[str, float], rng: np.random.Generator | None) -> Readings:
    """Make up the readings of 150 leaves under a foot of 50 mm; without a generator without any error."""

    def off(standard: float) -> float:
        return 0.0 if rng is None else standard * float(rng.standard_normal())

    def read(length: float) -> tuple:
        if rng is None:
            return (Q_(length, "mm"),) * 3
        seat = length + off(SETTLING_MM)
        return tuple(Q_(round(seat + limit + off(0.012), 2), "mm") for _ in range(3))

    limit = 0.0 if rng is None else float(rng.uniform(-0.02, 0.02))
    edge = 0.0 if rng is None else float(rng.uniform(-EDGE_MM, EDGE_MM))
    k1, k2 = (truth[key] * math.exp(off(ANOTHER_PILE[key])) for key in ("k1", "k2"))
    thinner = max(0.0, 0.01 * truth["thinning"] * (1 + off(ANOTHER_THINNING))) + off(ROOM)
    leaf = look_up(about, "thickness").number("mm")
    tall, bare, area = 150 * 1.1 * leaf, 12.0, math.pi * 0.05**2 / 4
    scale = (1 - 2 * edge / 50) * (1 + off(WEIGHTS))
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
    question="How much does this paper give in the press, and how much thinner does it stay, pressed damp?",
    takes="about an hour",
    waits="a night in the chamber, and two days to dry",
    needs=(
        "150 leaves of scrap of the same kind of paper",
        "a stiff round foot about 50 mm across and a flat plate (metal or glass)",
        "weights of 1, 2, 5 and 10 kg, checked on a scale",
        "a caliper that opens over plate, pile and foot",
    ),
    steps=(
        "Cut the leaves to the size of the foot, none standing out by more than 1 mm, and count them. "
        "Measure the foot. Set it on the bare plate under 1 kg and read across plate and foot: that is "
        "zero.",
        "Lay the pile on the plate and the foot on it; read under foot and tray alone, then under 1, 2, 5 "
        "and 10 kg more. A minute after each, read across plate, pile and foot at three places around it.",
        "Take the weights off, and load it a second time in the same way: under 1 kg at least.",
        "Leave the loose pile in the chamber until it is as damp as an item before pressing. Back under the "
        "foot, read it under 1 kg; add 2, 5 and 10 kg only as far as your press goes.",
        "Let it dry under the weight that gives the pressure of your press (1 kg on 50 mm is 5 kPa), with a "
        "blotter above and below, overnight; take the blotters out.",
        "Let the pile lie two days in the room where it was read first, then read it again under 1 kg.",
    ),
    cautions=(_TOPPLES, _SCRAP),
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
