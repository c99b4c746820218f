"""The load at which a staple marks paper: between the last weight without a mark and the first with one."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bench.errors import BadValue, NotYet
from bench.materials import materials_of_kind
from bench.physics.bearing.marks import (
    CROWN,
    DAMP_PART,
    EYE,
    MARKS,
    SCATTER,
    Marking,
    estimate_marking,
    marking_limit,
)
from bench.physics.contact import STANDARD_GRAVITY
from bench.physics.ranges import REACH, Range
from bench.treatment.measured import STAPLE_MARKS
from bench.treatment.needed import instruments_for
from bench.treatment.plan import Caution, Notice, Verdict
from bench.trials.protocol import Asked, FitPoint, FitShown, Found, Protocol, Readings, TrialOutcome
from bench.units import Q_

STAPLES = range(1, 10)
_SCALE = instruments_for("mass")[1]
_CROWN_MM = float(CROWN.to("mm").magnitude)

# All judgement: no published figure was found.
_SHARE = 0.1  # standard, of the logarithm: how unevenly the staples under one board share the weight
_FEW, _COARSE = 5, 2.5
_TOO_WIDE = 0.8  # scatter of the logarithm: one in six marks at half, one in six at twice, and more

TOGETHER = Asked(
    "together",
    "Staples under the board at a time",
    "dimensionless",
    1,
    9,
    usual=3,
    group="How it was loaded",
    hint="three stand level by themselves; each carries its part",
)
BOARD = Asked(
    "board", "Board and tray", "kg", 0, 20, usual=0.1, is_optional=True, hint="what lies on them besides"
)
CROWN_READ = Asked(
    "crown", "Length of the wire that lies on", "mm", 3, 40, 3, usual=_CROWN_MM, is_optional=True
)


def _weight(kind: str, number: int, words: str) -> Asked:
    return Asked(
        f"{kind}_{number}",
        f"Staple {number}: {words}",
        "kg",
        0,
        300,
        is_optional=True,
        tool=_SCALE,
        group=f"Staple {number}" if kind == "bare" else "",
        hint="weights on the board; empty: marked under the first"
        if kind == "bare"
        else "empty: never marked",
    )


BARE = {number: _weight("bare", number, "heaviest weight without a mark") for number in STAPLES}
MARKED = {number: _weight("marked", number, "lightest weight with a mark") for number in STAPLES}
ASKED = (
    TOGETHER,
    BOARD,
    CROWN_READ,
    *(asked for number in STAPLES for asked in (BARE[number], MARKED[number])),
)

_SCRAP = Notice(
    "staple-trial-on-scrap",
    Verdict.CARE,
    "Scrap staples and scrap paper only. Bent wire cuts: lift it with pliers, and keep fingers from under "
    "the board when the weights go on.",
)
_DRY = Notice(
    "staple-trial-is-dry",
    Verdict.CARE,
    "Damp, warm paper marks sooner than dry. Plans therefore take half of the low end found here "
    "(judgement), and a coated or painted cover may still show what copy paper does not.",
    "memory",
)
SCATTERED = Notice(
    "staples-unlike",
    Verdict.STOP,
    "The staples mark under loads so far apart (scatter a factor of {factor:.1f}) that they are no one "
    "kind: sort them by wire and shape, and see that the board lies level.",
    "memory",
)
_FEW_STAPLES = Notice(
    "staples-few",
    Verdict.CARE,
    "Only {count} staples were tried: the low end, by which plans go, rises with six or more.",
)
_STEPS = Notice(
    "staple-steps-coarse",
    Verdict.CARE,
    "Between no mark and a mark lies a factor of {factor:.1f} at some staple: raise the weights in smaller "
    "steps.",
)
_NEVER = Notice(
    "staple-never-marked",
    Verdict.GO,
    "{count} of the staples never marked: they count as marking at more than they carried.",
)


@dataclass(frozen=True)
class _Threshold:
    """Where one staple marks: logarithms of newtons, infinite where that end was not seen."""

    number: int
    low: float
    high: float


def believed_of(about: str) -> dict[str, Range]:
    """Give what plans believe without the trial, of any paper alike."""
    return {STAPLE_MARKS.key: MARKS}


def _thresholds(readings: Readings) -> tuple[_Threshold, ...]:
    """Give the interval of every staple that was tried, per staple and for a crown of the usual length."""
    rest = readings.number(BOARD) if readings.has(BOARD) else 0.0
    crown = readings.number(CROWN_READ) if readings.has(CROWN_READ) else _CROWN_MM
    scale = STANDARD_GRAVITY / readings.number(TOGETHER) * _CROWN_MM / crown

    def load(kilograms: float) -> float:
        return math.log(max((kilograms + rest) * scale, 1e-6))

    found = []
    for number in STAPLES:
        bare, marked = BARE[number], MARKED[number]
        if not (readings.has(bare) or readings.has(marked)):
            continue
        low = load(readings.number(bare)) if readings.has(bare) else -math.inf
        high = load(readings.number(marked)) if readings.has(marked) else math.inf
        if low >= high:
            came, allowed = (
                f"{readings.number(marked):g} kg",
                f"more than the {readings.number(bare):g} kg without one",
            )
            raise BadValue(
                marked.label, came, allowed, "A staple that marked does not stop doing so: try another"
            )
        found.append(_Threshold(number, low, high))
    return tuple(found)


def fit(readings: Readings) -> TrialOutcome:
    """Fit the load at which a staple marks to the weights without and with a mark.

    Parameters
    ----------
    readings : Readings
        As :data:`STAPLE_MARKING` asks them.

    Returns
    -------
    TrialOutcome
        The load of one staple more of this kind on this paper, on a wire of 12 mm: longer wires carry more in
        proportion.

    Raises
    ------
    NotYet
        Fewer than three staples were tried, or fewer than two of them marked.
    BadValue
        A staple that marked under less than it bore without a mark.

    Notes
    -----
    :func:`estimate_marking` holds the model.  Least squares would need a threshold for each staple; here only
    an interval is known.
    """
    if not readings.has(TOGETHER):
        raise NotYet(TOGETHER.label, "not said yet", "", "Say how many carry the board together")
    known = _thresholds(readings)
    if len(known) < 3 or sum(math.isfinite(one.high) for one in known) < 2:
        raise NotYet(
            "Staples tried", f"{len(known)}", "three or more, two of them marked", "Try more, and enter them"
        )
    marking = estimate_marking(np.array([one.low for one in known]), np.array([one.high for one in known]))
    value = Range.of((marking.quantile(part) for part in (0.5, 0.025, 0.975)), STAPLE_MARKS.unit)
    found = Found(STAPLE_MARKS, value, believed_of(readings.about)[STAPLE_MARKS.key])
    limit = marking_limit(value)
    return TrialOutcome(
        f"A staple marks dry {readings.about} at {value.say('N')}. Buffering of this paper takes "
        f"{float(limit.magnitude):.0f} kPa as the limit on a staple: {100 * DAMP_PART:.0f} % of the low "
        "end, over its wire.",
        _because(known, marking),
        (found,),
        _show(known, marking),
        tuple(_cautions(known, marking)),
    )


def _because(known: Sequence[_Threshold], marking: Marking) -> str:
    scatter = math.exp(marking.scatter)
    return (
        f"{len(known)} staples differ by a factor of {scatter:.2f} either way (standard deviation), each "
        "known only between two weights. The interval is of one staple more. Its doubt is that scatter, "
        "how evenly they shared the weight, and how faint a mark counts (judgement)."
    )


def _show(known: Sequence[_Threshold], marking: Marking) -> FitShown:
    """Show the share of staples that mark up to a load, at median ranks (Benard's, from memory)."""
    points = []
    whole = sorted((one for one in known if math.isfinite(one.high)), key=lambda one: one.high)
    for rank, one in enumerate(whole, start=1):
        middle = 0.5 * (one.low + one.high) if math.isfinite(one.low) else one.high
        part = (rank - 0.3) / (len(known) + 0.4)
        doubt = REACH * math.sqrt(0.25 / (len(known) + 2))  # of a share, at its widest
        fitted = float(np.interp(middle, marking.loads, marking.share))
        points.append(FitPoint(math.exp(middle), 100 * part, 100 * doubt, 100 * fitted, "staples"))
    low, high = marking.quantile(0.005), marking.quantile(0.995)
    loads = np.exp(np.linspace(math.log(low), math.log(high), 80))
    curve = [(float(x), 100 * float(np.interp(math.log(x), marking.loads, marking.share))) for x in loads]
    return FitShown(
        ("load on one staple", "N"), ("staples that mark", "%"), tuple(points), {"one staple more": curve}
    )


def _cautions(known: Sequence[_Threshold], marking: Marking) -> Iterator[Caution]:
    if marking.scatter > _TOO_WIDE:
        yield SCATTERED(factor=math.exp(marking.scatter))
    if len(known) < _FEW:
        yield _FEW_STAPLES(count=len(known))
    steps = [math.exp(one.high - one.low) for one in known if math.isfinite(one.high - one.low)]
    if steps and max(steps) > _COARSE:
        yield _STEPS(factor=max(steps))
    never = sum(math.isinf(one.high) for one in known)
    if never:
        yield _NEVER(count=never)


def made_up(about: str, truth: Mapping[str, float], rng: np.random.Generator | None) -> Readings:
    """Make up six staples, three at a time, under weights raised by a quarter each.

    The truth is the threshold of one staple of the kind; the six scatter about where such staples lie.
    Without a generator all six have it, and are known to a hundredth.
    """
    step = 1.01 if rng is None else 1.25
    scatter, centre = 0.0, math.log(truth[STAPLE_MARKS.key])
    if rng is not None:
        scatter = math.exp(SCATTER[0] + SCATTER[1] * float(rng.standard_normal()))
        centre += scatter * float(rng.standard_normal()) + EYE * float(rng.standard_normal())
    read = {"together": (Q_(3.0, ""),), "board": (Q_(0.1, "kg"),), "crown": (Q_(_CROWN_MM, "mm"),)}
    for number in range(1, 7):
        own = centre if rng is None else centre + math.hypot(scatter, _SHARE) * float(rng.standard_normal())
        kilograms = 3 * math.exp(own) / STANDARD_GRAVITY
        begins = 0.0 if rng is None else float(rng.uniform())
        rung = math.floor(math.log(kilograms) / math.log(step) - begins) + begins
        if rng is None:
            bare, marked = kilograms / math.sqrt(step), kilograms * math.sqrt(step)
        else:
            bare, marked = step**rung, step ** (rung + 1)
        if bare > 0.1:
            read[f"bare_{number}"] = (Q_(bare - 0.1, "kg"),)
        read[f"marked_{number}"] = (Q_(max(marked - 0.1, 0.0), "kg"),)
    return Readings(about, read)


STAPLE_MARKING = Protocol(
    key="staple-marking",
    title="Find the load at which a staple marks",
    question="How much may one staple carry before the paper over it shows its wire?",
    takes="an hour",
    waits="",
    needs=(
        "six scrap staples of the kind at hand, shaped as they lie in an item",
        "scrap of the paper that lies over them, a dozen pieces",
        "carbonless copy paper, or carbon paper, and a strong side light",
        "a board as in your packs, a tray, and weights in steps of about a quarter",
        "a scale",
    ),
    steps=(
        "Fasten three staples on a board, wire up, as the corners of a triangle a hand wide, with a scrap "
        "leaf under each. Measure the length of the wire that lies on.",
        "Lay over each a piece of the scrap paper, and on it a set of copy paper, face to face. Lay the "
        "board with the tray on all three, so that it stands level, and put a light weight in its middle.",
        "After half a minute take all off, and look for a mark of the wire, in the copy and by side light "
        "on the paper. Note for every staple whether it marked.",
        "Take fresh pieces and raise the weight by about a quarter. Go on until all three have marked; "
        "note for every staple the heaviest weight without a mark and the lightest with one.",
        "Do the same with three other staples: what counts is how far they differ.",
        "Enter both weights of every staple, without board and tray, which are weighed by themselves. "
        "Leave a weight empty where a staple marked at once, or never.",
    ),
    cautions=(_SCRAP, _DRY),
    of="Paper over the staple",
    abouts=lambda: (*materials_of_kind("cover paper"), *materials_of_kind("text paper")),
    asked=ASKED,
    fit=fit,
    finds=(STAPLE_MARKS,),
    believed=believed_of,
    again_after=1095,
    why_again="Other staples and other papers mark otherwise, and so does another eye",
    made_up=made_up,
)
