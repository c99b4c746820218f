"""A caliper held against gauges, and a balance against weights, so that every later reading carries it.

What is found is a correction with its standard uncertainty, drift until the next check included (JCGM 100
[gum]_, 4.3, F.2.4.5, and H.1 for the comparison with a gauge).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bench.errors import BadValue
from bench.physics.ranges import REACH, Range
from bench.treatment.calibration import LENGTHS, MASSES
from bench.treatment.measured import BALANCE_CORRECTION, LENGTH_CORRECTION
from bench.treatment.needed import Instrument, instruments_for
from bench.treatment.plan import Notice, Verdict
from bench.trials.comparing import (
    LAST,
    Against,
    Result,
    Sought,
    conclude,
    find,
    last_time,
    reference,
    say_why,
    shown,
)
from bench.trials.protocol import Asked, Outcome, Protocol, Readings
from bench.units import join_words, say_value, upper_first

_ORDINALS = ("first", "second", "third")
_YEAR = 365

_BLADES = Notice(
    "check-thin-edges",
    Verdict.GO,
    "Feeler gauges are as sharp as paper and rust from a thumb: hold them by the edge and oil them afterwards.",
)
_WEIGHTS = Notice(
    "check-weights",
    Verdict.GO,
    "Take weights with tweezers or a cloth, never with bare fingers: a fingerprint weighs up to a milligram.",
)


@dataclass(frozen=True)
class Reference:
    """What is asked of one gauge or weight.

    Attributes
    ----------
    name : str
        ``"first gauge"``.
    held, within, seen : Asked
        What it is, how exact that is, and what the instrument shows.
    """

    name: str
    held: Asked
    within: Asked
    seen: Asked


def _references(
    what: str, unit: str, high: float, usual: tuple[float, ...], within: float
) -> tuple[Reference, ...]:
    """Ask for three of a kind, the third of them optional."""
    found = []
    for number, (order, value) in enumerate(zip(_ORDINALS, usual, strict=True), start=1):
        name, spare = f"{order} {what}", order == "third"
        plain = "mm" if unit == "thickness" else unit
        held = Asked(
            f"held-{number}",
            f"{upper_first(name)} is",
            unit,
            1e-3 * high,
            high,
            usual=None if spare else value,
            is_optional=spare,
            group=upper_first(name),
            hint="as its certificate or its maker says",
        )
        tolerance = Asked(
            f"within-{number}",
            f"{upper_first(name)} is exact to ±",
            plain,
            1e-6 * high,
            1e-2 * high,
            usual=within * max(value / usual[1], 0.5),
            is_optional=spare,
            hint="a limit, as its maker or its class allows",
        )
        seen = Asked(
            f"shown-{number}",
            f"Shown for the {name}",
            unit,
            5e-4 * high,
            2 * high,
            most=10,
            is_optional=spare,
            hint="lift it off between, five times or more",
        )
        found.append(Reference(name, held, tolerance, seen))
    return tuple(found)


def _tool(quantity: str, about: str) -> Instrument:
    """Find an instrument by its name.

    Raises
    ------
    BadValue
        There is none of that name.
    """
    known = instruments_for(quantity)
    names = [each.name for each in known]
    if about not in names:
        raise BadValue("instrument", repr(about), ", ".join(names), "Choose one of these")
    return known[names.index(about)]


def _hold_against(
    readings: Readings, each: Reference, tool: Instrument, own: Mapping[str, float], *, is_share: bool
) -> Against:
    """Give what is to be added to one reading."""
    held, within = readings.number(each.held), readings.number(each.within)
    seen = shown(readings, each.seen, tool.step)
    at = float(seen.value.magnitude)
    if abs(at - held) > 0.2 * held:
        unit = each.seen.plain_unit
        allowed = f"within a fifth of {held:g} {unit}"
        raise BadValue(each.seen.label, f"{at:g} {unit}", allowed, "Look for a slip, or for the wrong one")
    doubts = {f"limit of the reference, {each.name}": within / math.sqrt(3)}
    return Against(each.name, at, reference(held, {**doubts, **own}) - seen, at if is_share else 1.0)


def _held(readings: Readings, references: tuple[Reference, ...]) -> list[Reference]:
    """Give the references that were used: all, or those without the third; it may not be half entered."""
    return [
        each
        for each in references
        if not each.held.is_optional or readings.has(each.held) or readings.has(each.seen)
    ]


def _last(unit: str, span: float) -> Asked:
    return Asked(
        LAST,
        "Correction found last time",
        unit,
        -span,
        span,
        is_optional=True,
        group="Before",
        hint="if it was checked a year ago or so; its drift is then taken from that",
    )


# --- caliper -------------------------------------------------------------------------------------------------

_GAUGES = _references("gauge", "thickness", 30.0, (1.0, 5.0, 10.0), 0.005)
_LAST_LENGTH = _last("mm", 1.0)
# How far they may move in a year, and where they are read between the jaws: judgement, in steps.
_DRIFT_STEPS, _LEAST_STEPS, _TOO_FAR_LIMITS = 1.0, 0.25, 10.0


def _sought_length(tool: Instrument) -> Sought:
    step, limit = (float(each.to("mm").magnitude) for each in (tool.step, tool.limit))
    reach = REACH * limit / math.sqrt(3)
    return Sought(
        LENGTH_CORRECTION,
        Range.of((0.0, -reach, reach), "mm"),
        _TOO_FAR_LIMITS * limit,
        _DRIFT_STEPS * step,
        _LEAST_STEPS * step,
        "Close and zero it again; have it mended if that does not help.",
    )


def check_caliper(readings: Readings) -> Outcome:
    """Find the correction of what measures thickness.

    Parameters
    ----------
    readings : Readings
        ``about`` names the instrument.

    Raises
    ------
    NotYet
        A reading is missing.
    BadValue
        A reading is far from its gauge.

    Notes
    -----
    One correction for all thicknesses that paper has; gauges that disagree show where that does not hold.
    Steel grows by 0.0001 mm a centimetre and kelvin, which is left out.
    """
    tool = _tool("thickness", readings.about)
    jaws = {"place between the jaws": float(tool.step.to("mm").magnitude) / math.sqrt(12)}
    held = _held(readings, _GAUGES)
    against = [_hold_against(readings, each, tool, jaws, is_share=False) for each in held]
    result = find(_sought_length(tool), against, last_time(readings, _LAST_LENGTH))
    return conclude(tool.name, LENGTHS, [result], _answer(tool, result, "mm"), say_why([result]))


def _answer(tool: Instrument, result: Result, unit: str) -> str:
    """Say what was found and what follows."""
    name = upper_first(f"the {tool.name}")
    way = "too little" if result.number > 0 else "too much"
    found = f"{name} shows {way}" if abs(result.number) > result.expanded else f"{name} shows no sure error"
    _, _, before = result.sought.before.floats(unit, field="correction")
    then = say_value(before, before / 10, "").split(" ")[0]
    now = say_value(result.expanded, result.expanded / 10, "").split(" ")[0]
    label = "%" if unit == "percent" else unit
    return (
        f"{found}: {result.say()} is added to what it shows from today on, in plans and report. What is left is "
        f"± {now} {label} in place of ± {then} {label}, shared by all its readings: it cancels in differences."
    )


def _made_up(
    references: tuple[Reference, ...],
    tool: Instrument,
    error: float,
    rng: np.random.Generator | None,
    *,
    shared: float,
    own: float,
    is_share: bool,
    repeats: int = 5,
) -> dict[str, tuple[float, ...]]:
    """Make up what is read of the references; ``error`` is what would have to be added."""
    step = float(tool.step.magnitude)
    always = 0.0 if rng is None else shared * rng.uniform(-0.5, 0.5)
    read: dict[str, tuple[float, ...]] = {}
    for each in references[:2]:
        assert each.held.usual is not None and each.within.usual is not None
        held, within = each.held.usual, each.within.usual
        true = held if rng is None else held + within * rng.uniform(-1, 1)
        true += 0.0 if rng is None else own * rng.uniform(-1, 1)
        shows = true / (1 + error) if is_share else true - error
        seen = np.full(repeats, shows - always)
        if rng is not None:
            seen = np.round((seen + rng.normal(0.0, step, repeats)) / step) * step
        read |= {each.held.key: (held,), each.within.key: (within,), each.seen.key: tuple(map(float, seen))}
    return read


def _readings_of(about: str, asked: tuple[Asked, ...], read: Mapping[str, tuple[float, ...]]) -> Readings:
    by_key = {each.key: each for each in asked}
    return Readings(
        about, {key: tuple(by_key[key].quantity(v) for v in values) for key, values in read.items()}
    )


def _make_up_caliper(
    about: str, truth: Mapping[str, float], rng: np.random.Generator | None = None
) -> Readings:
    tool = _tool("thickness", about)
    step = float(tool.step.magnitude)
    error = truth[LENGTH_CORRECTION.key]
    read = _made_up(_GAUGES, tool, error, rng, shared=step, own=0.0, is_share=False)
    return _readings_of(about, CALIPER.asked, read)


CALIPER = Protocol(
    key="caliper",
    title="Check a caliper on gauges",
    question="How far off is what I read thicknesses with?",
    takes="20 minutes",
    waits="an hour beside each other, so that both are as warm",
    needs=(
        "the caliper or micrometer",
        "two or three feeler gauges or gauge blocks, 1 to 10 mm",
        "a lint-free cloth",
    ),
    steps=(
        "Lay caliper and gauges beside each other for an hour, out of the sun.",
        "Wipe jaws and gauges. Close the jaws with the usual pressure, and set it to zero.",
        "Read the thin gauge five times where leaves are read between the jaws, lifting it off each time.",
        "Read a thick gauge in the same way; feelers laid together count as one, their limits added.",
        "Close the jaws: it must show zero again. If it does not, begin anew.",
        "Enter what is written on each gauge, how exact it is said to be, and every reading as it was shown.",
    ),
    cautions=(_BLADES(),),
    of="Instrument",
    abouts=lambda: LENGTHS.instruments,
    asked=(*(asked for each in _GAUGES for asked in (each.held, each.within, each.seen)), _LAST_LENGTH),
    fit=check_caliper,
    finds=(LENGTH_CORRECTION,),
    again_after=_YEAR,
    why_again="Jaws wear and falls bend them; after a fall check at once.",
    made_up=_make_up_caliper,
)

# --- balance -------------------------------------------------------------------------------------------------

# OIML R 111, class M2: 8 mg at 20 g, 16 mg at 100 g, 30 mg at 200 g (from memory).
_LOADS = _references("weight", "g", 2000.0, (50.0, 100.0, 200.0), 0.016)
_LAST_SHARE = _last("percent", 5.0)
_DRIFT_SHARE, _LEAST_SHARE, _MOST_SHARE = 0.02, 0.005, 3.0  # per cent in a year: judgement


def _sought_share(tool: Instrument, load: float) -> Sought:
    reach = 100 * REACH * float(tool.limit.to("g").magnitude) / math.sqrt(3) / load
    return Sought(
        BALANCE_CORRECTION,
        Range.of((0.0, -reach, reach), "percent"),
        _MOST_SHARE,
        _DRIFT_SHARE,
        _LEAST_SHARE,
        "Level it, change its battery, calibrate it with its own weight, and begin anew.",
        scale=100.0,
    )


def check_balance(readings: Readings) -> Outcome:
    """Find the correction of a balance, as a share of what it shows.

    Parameters
    ----------
    readings : Readings
        ``about`` names the balance.

    Raises
    ------
    NotYet
        A reading is missing.
    BadValue
        A reading is far from its weight.

    Notes
    -----
    A balance that was set to zero is off in proportion to its load; how far its scale bends beside that is
    taken as one step at every load.  Masses are conventional ones, in air: what the air carries of paper, a
    sixth of a per cent, is the same before and after and is left out.
    """
    tool = _tool("mass", readings.about)
    step = float(tool.step.to("g").magnitude)
    against = []
    for each in _held(readings, _LOADS):
        bend = {f"bend of the scale, {each.name}": step / math.sqrt(3)}
        against.append(_hold_against(readings, each, tool, bend, is_share=True))
    load = max(each.at for each in against)
    result = find(_sought_share(tool, load), against, last_time(readings, _LAST_SHARE))
    answer = f"{_answer(tool, result, 'percent')}"
    loads = join_words([f"{each.at:.4g} g" for each in against])
    return conclude(tool.name, MASSES, [result], answer, f"{say_why([result])} Weighed: {loads}.")


def _make_up_balance(
    about: str, truth: Mapping[str, float], rng: np.random.Generator | None = None
) -> Readings:
    tool = _tool("mass", about)
    step = float(tool.step.magnitude)
    share = truth[BALANCE_CORRECTION.key] / 100
    read = _made_up(_LOADS, tool, share, rng, shared=0.0, own=step, is_share=True)
    return _readings_of(about, BALANCE.asked, read)


BALANCE = Protocol(
    key="balance",
    title="Check a balance on weights",
    question="How far off is what I weigh with?",
    takes="15 minutes",
    waits="half an hour switched on, where it stands",
    needs=(
        "the balance",
        "two or three check weights; or new coins, as many as weigh like an item",
        "tweezers or a cloth",
    ),
    steps=(
        "Stand the balance level, out of draught, and leave it switched on for half an hour.",
        "Set it to zero. Put one weight in the middle, read it when it rests, and take it off. Do so five times.",
        "Read a second weight in the same way, about as heavy as the items that you weigh.",
        "A third one, twice as heavy, shows whether the scale is straight; it may be left out.",
        "Coins serve for a kitchen scale: their mass by law times their number; half a per cent for wear.",
        "Enter what is written on each weight, the limit of its class, and every reading as it was shown.",
    ),
    cautions=(_WEIGHTS(),),
    of="Instrument",
    abouts=lambda: MASSES.instruments,
    asked=(*(asked for each in _LOADS for asked in (each.held, each.within, each.seen)), _LAST_SHARE),
    fit=check_balance,
    finds=(BALANCE_CORRECTION,),
    again_after=_YEAR,
    why_again="Load cells creep, and another place has another gravity; check at once after a move.",
    made_up=_make_up_balance,
)

__all__ = ["BALANCE", "CALIPER", "check_balance", "check_caliper"]
