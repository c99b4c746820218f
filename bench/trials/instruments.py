"""A caliper held against gauges, and a balance against weights, so that every later reading carries it.

What is found is a correction with its standard uncertainty, drift until the next check included (JCGM 100
[gum]_, 4.3, F.2.4.5, and H.1 for the comparison with a gauge).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from bench.physics.ranges import REACH, Range
from bench.treatment.instrument_kinds import LENGTHS, MASSES
from bench.treatment.measured import BALANCE_CORRECTION, LENGTH_CORRECTION
from bench.treatment.needed import Instrument
from bench.treatment.plan import Notice, Verdict
from bench.trials.comparing import Sought, conclude, find, last_time, say_why
from bench.trials.protocol import Protocol, Readings, TrialOutcome
from bench.trials.references import (
    ask_last,
    ask_references,
    find_tool,
    held_of,
    hold_against,
    make_up_references,
    readings_of,
    say_found,
)
from bench.units import join_words

_YEAR = 365

_BLADES = Notice(
    "check-thin-edges",
    Verdict.GO,
    "Feeler gauges cut as paper does and rust from a thumb: hold them by the edge, and oil them afterwards.",
)
_WEIGHTS = Notice(
    "check-weights",
    Verdict.GO,
    "Take weights with tweezers or a cloth, never with bare fingers: a fingerprint weighs up to a milligram.",
)


# --- caliper --------------------------------------------------------------------------------------

_GAUGES = ask_references("gauge", "thickness", 30.0, (1.0, 5.0, 10.0), 0.005)
_LAST_LENGTH = ask_last(LENGTH_CORRECTION, 1.0, group="Before")
# How far jaws that are zeroed at each use may move in a year, in steps; what no correction mends: judgement.
_DRIFT_STEPS, _LEAST_STEPS, _TOO_FAR_LIMITS = 0.5, 0.1, 10.0


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


def check_caliper(readings: Readings) -> TrialOutcome:
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
    tool = find_tool("thickness", readings.about)
    jaws = {"place between the jaws": float(tool.step.to("mm").magnitude) / math.sqrt(12)}
    held = held_of(readings, _GAUGES)
    against = [hold_against(readings, each, tool, jaws, is_share=False) for each in held]
    result = find(_sought_length(tool), against, last_time(readings, _LAST_LENGTH))
    return conclude(tool.name, LENGTHS, [result], say_found(tool, result, "mm"), say_why([result]))


def _make_up_caliper(
    about: str, truth: Mapping[str, float], rng: np.random.Generator | None = None
) -> Readings:
    tool = find_tool("thickness", about)
    step = float(tool.step.magnitude)
    error = truth[LENGTH_CORRECTION.key]
    read = make_up_references(_GAUGES, tool, error, rng, shared=step, own=0.0, is_share=False)
    return readings_of(about, CALIPER_CHECK.asked, read)


CALIPER_CHECK = Protocol(
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
    cautions=(_BLADES,),
    of="Instrument",
    abouts=lambda: LENGTHS.instruments,
    asked=(*(asked for each in _GAUGES for asked in (each.held, each.within, each.seen)), _LAST_LENGTH),
    fit=check_caliper,
    finds=(LENGTH_CORRECTION,),
    believed=lambda about: {LENGTH_CORRECTION.key: _sought_length(find_tool("thickness", about)).before},
    again_after=_YEAR,
    why_again="Jaws wear and falls bend them; after a fall check at once",
    made_up=_make_up_caliper,
)

# --- balance --------------------------------------------------------------------------------------

# OIML R 111, class M1: 3 mg at 50 g, 5 mg at 100 g, 10 mg at 200 g (from memory).
_LOADS = ask_references("weight", "g", 2000.0, (50.0, 100.0, 200.0), 0.005)
_LAST_SHARE = ask_last(BALANCE_CORRECTION, 5.0, group="Before")
_USUAL_LOAD = 100.0  # g, of a check without one yet: an item of about that mass
_DRIFT_SHARE, _LEAST_SHARE, _MOST_SHARE = 0.01, 0.002, 3.0  # per cent in a year: judgement


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


def check_balance(readings: Readings) -> TrialOutcome:
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
    tool = find_tool("mass", readings.about)
    step = float(tool.step.to("g").magnitude)
    against = []
    for each in held_of(readings, _LOADS):
        bend = {f"bend of the scale, {each.name}": step / math.sqrt(3)}
        against.append(hold_against(readings, each, tool, bend, is_share=True))
    load = max(each.at for each in against)
    result = find(_sought_share(tool, load), against, last_time(readings, _LAST_SHARE))
    loads = join_words([f"{each.at:.4g} g" for each in against])
    return conclude(
        tool.name,
        MASSES,
        [result],
        say_found(tool, result, "percent"),
        f"{say_why([result])} Weighed: {loads}.",
    )


def _make_up_balance(
    about: str, truth: Mapping[str, float], rng: np.random.Generator | None = None
) -> Readings:
    tool = find_tool("mass", about)
    step = float(tool.step.magnitude)
    share = truth[BALANCE_CORRECTION.key] / 100
    read = make_up_references(_LOADS, tool, share, rng, shared=0.0, own=step, is_share=True)
    return readings_of(about, BALANCE_CHECK.asked, read)


BALANCE_CHECK = Protocol(
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
        "Set it to zero. Put one weight in the middle, read it when it rests, take it off; do so five times.",
        "Read a second weight in the same way, about as heavy as the items that you weigh.",
        "A third one, twice as heavy, shows whether the scale is straight; it may be left out.",
        "Coins serve for a kitchen scale: their mass by law times their number; half a per cent for wear.",
        "Enter what is written on each weight, the limit of its class, and every reading as it was shown.",
    ),
    cautions=(_WEIGHTS,),
    of="Instrument",
    abouts=lambda: MASSES.instruments,
    asked=(*(asked for each in _LOADS for asked in (each.held, each.within, each.seen)), _LAST_SHARE),
    fit=check_balance,
    finds=(BALANCE_CORRECTION,),
    believed=lambda about: {
        BALANCE_CORRECTION.key: _sought_share(find_tool("mass", about), _USUAL_LOAD).before
    },
    again_after=_YEAR,
    why_again="Load cells creep, and another place has another gravity; check at once after a move",
    made_up=_make_up_balance,
)

__all__ = ["BALANCE_CHECK", "CALIPER_CHECK", "check_balance", "check_caliper"]
