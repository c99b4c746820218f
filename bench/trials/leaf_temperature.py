"""How well heat passes through the stack of this press: a probe between the leaves of a scrap book."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from bench.errors import NotYet, OutOfRange
from bench.materials import look_up, materials_of_kind
from bench.physics.arrays import Floats
from bench.physics.ranges import REACH, Range
from bench.physics.transient import simulate_together
from bench.physics.transient.faces import BASE_FILM
from bench.physics.transient.inputs import CONDUCTION
from bench.treatment.measured import LEAF_HEAT
from bench.treatment.needed import instruments_for
from bench.treatment.plan import Caution, Notice, Verdict
from bench.trials.fitting import LeastSquares, covariance_of, fit_readings
from bench.trials.heat_run import LONGEST, USUAL_RATIO, Setup, predict
from bench.trials.protocol import Asked, FitPoint, FitShown, Found, Protocol, Readings, TrialOutcome
from bench.trials.thermometer import ICE, PROBE, check_in_ice, draw_probe, show
from bench.uncertainty import Measured
from bench.units import Q_, Quantity

BELIEVED = Range.of(
    (1 / float(end.magnitude) for end in (CONDUCTION.value, CONDUCTION.high, CONDUCTION.low)), ""
)
"""What plans believe of conduction, turned over; that contacts may be twice or half as good is left out "
"here."""

MINUTES = (1, 2, 4, 6, 8, 12, 16, 20, 30, 40)
_NOISE, _CLOCK = 0.2, 0.1  # K of a probe that lies still; minutes that a reading is early or late: judgement
_PLACE = 0.02  # of the rise, standard: where the probe lies, and what its wire conducts; judgement
_DIP = 0.7  # K, standard: a platen sags under a cold stack and swings with its thermostat; judgement
_HEAT_KEPT = 0.04  # standard, of specific heat and mass together: heat.csv, and how well it is weighed
_NEXT_STACK = 0.06  # standard, from this stack to the next, and vapour that carries heat; judgement
_FURTHEST = math.log(2.5)  # of the factor's logarithm: beyond it, no stack is like that
_LEAST = 6  # readings

LEAVES = Asked("leaves", "Leaves of the scrap block", "", 4.0, 300.0, usual=40.0, group="The scrap block")
THICKNESS = Asked(
    "block", "Scrap block, closed gently", "thickness", 1.0, 40.0, 5, tool=instruments_for("thickness")[0]
)
MASS = Asked("mass", "Mass of the scrap block", "g", 5.0, 2000.0, tool=instruments_for("mass")[0])
WIDTH = Asked("width", "Width of a leaf", "mm", 30.0, 600.0)
HEIGHT = Asked("height", "Height of a leaf", "mm", 30.0, 800.0)
BOARDS = Asked("boards", "Boards on each side", "", 0.0, 6.0, usual=2.0, group="The pack")
BOARD = Asked("board", "Thickness of one board", "mm", 0.1, 5.0, usual=0.6)
PLATEN = Asked(
    "platen-shown",
    "Platen during the run, the same thermometer",
    "temperature",
    30.0,
    75.0,
    5,
    tool=PROBE,
    group="Temperatures",
)
ROOM = Asked("room", "Room and scrap block before", "temperature", 10.0, 40.0, 3, tool=PROBE)
_NAMES = ("middle", "far")
AT = tuple(
    tuple(
        Asked(
            f"{name}-{minutes}",
            f"{name.capitalize()}, after {minutes} min",
            "temperature",
            5.0,
            80.0,
            is_optional=True,
            tool=PROBE,
            group=heading if minutes == MINUTES[0] else "",
        )
        for minutes in MINUTES
    )
    for name, heading in zip(_NAMES, ("In the middle of the block", "Under its last leaf"), strict=True)
)

_MISFIT = Notice(
    "trial-leaf-misfit",
    Verdict.STOP,
    "No one factor explains these temperatures: they miss by {misfit:.1f} times their doubt. Check "
    "thickness, boards "
    "and where the probes lay, and run it again.",
)
_WIDE = Notice(
    "trial-leaf-wide",
    Verdict.CARE,
    "This narrows little: read more often in the first ten minutes, and with a thicker block.",
)
_ONE_STACK = Notice(
    "trial-leaf-one-stack",
    Verdict.GO,
    "It holds for this paper, boards like these and about this load; with other boards or a very light load, "
    "run it "
    "again.",
)


def fit(readings: Readings) -> TrialOutcome:
    """Find the factor on the resistance to heat.

    Raises
    ------
    NotYet
        The stack is not described, or fewer than six temperatures were read.
    OutOfRange
        The temperatures ask for a factor beyond 0.4 to 2.5.

    Notes
    -----
    The press run of :mod:`bench.physics.transient` is fitted with one factor on conduction and contacts.
    The loss of the far side (4 to 15 W/(m2 K)), the heat kept (4 %), platen and room are fitted with it, each
    with its doubt.  The error of one thermometer is in all temperatures alike and cancels.
    """
    readings = check_in_ice(readings)
    setup = _set_up(readings)
    places, minutes, read = _temperatures(readings)
    both = [*read, readings.measured(PLATEN), readings.measured(ROOM)]
    celsius = np.array([float(each.value.to("degC").magnitude) for each in both])
    covariance = covariance_of(both, "degC") + _scatter(setup, places, minutes, celsius)

    def model(p: Floats) -> Floats:
        shares = predict(setup, p[0], p[1], p[2], minutes)[places, np.arange(len(minutes))]
        return np.r_[p[4] + (p[3] - p[4]) * shares, p[3], p[4]]

    loss = tuple(math.log(float(end.magnitude)) for end in (BASE_FILM.value, BASE_FILM.low, BASE_FILM.high))
    believed = (None, (loss[0], (loss[2] - loss[1]) / 2 / REACH), (0.0, _HEAT_KEPT), None, None)
    found = fit_readings(model, (0.0, loss[0], 0.0, *celsius[-2:]), celsius, covariance, believed=believed)
    if abs(found.values[0]) > _FURTHEST:
        came = f"{math.exp(np.clip(found.values[0], -9, 9)):.2g} times that reckoned"
        remedy = "Check thickness, boards, and which probe lay where; the press must be warm at the start"
        raise OutOfRange(LEAF_HEAT.label, came, "0.4 to 2.5 times", remedy)
    wider = found.covariance.copy()
    wider[0, 0] += _NEXT_STACK**2
    value = replace(found, covariance=wider).range(0, "", is_factor=True)
    result = Found(LEAF_HEAT, value, BELIEVED)
    return TrialOutcome(
        _answer(readings.about, value),
        _because(found),
        (result,),
        _shown(setup, found, places, minutes, celsius),
        tuple(_judge(found, result)),
    )


def _set_up(readings: Readings) -> Setup:
    leaves = round(readings.number(LEAVES))
    area = readings.number(WIDTH) * readings.number(HEIGHT) * 1e-6
    boards = round(readings.number(BOARDS))
    return Setup(
        readings.about,
        leaves,
        boards,
        round(readings.number(THICKNESS), 2),
        round(readings.number(BOARD), 2) if boards else 0.0,
        round(readings.number(MASS) / area / leaves, 1),
        5.0 * round(readings.number(PLATEN) / 5.0),
        5.0 * round(readings.number(ROOM) / 5.0),
    )


def _temperatures(readings: Readings) -> tuple[np.ndarray, Floats, list[Measured]]:
    """Give place (0 middle, 1 far), minute and reading of each temperature that was read."""
    rows = [
        (place, minutes, readings.measured(asked))
        for place, series in enumerate(AT)
        for minutes, asked in zip(MINUTES, series, strict=True)
        if readings.has(asked)
    ]
    if len(rows) < _LEAST:
        raise NotYet(
            "temperatures of the run", f"{len(rows)}", f"{_LEAST} or more", "Read on, and enter them"
        )
    places, minutes, read = zip(*rows, strict=True)
    return np.array(places), np.array(minutes, float), list(read)


def _scatter(setup: Setup, places: np.ndarray, minutes: Floats, celsius: Floats) -> Floats:
    """Give the covariance beyond the thermometer's: noise, clock, where each probe lies, the platen's dip."""
    rise = celsius[-2] - celsius[-1]
    shares = (
        predict(
            setup, 0.0, math.log(float(BASE_FILM.value.magnitude)), 0.0, np.r_[minutes - 0.05, minutes + 0.05]
        )
        * rise
    )
    number = np.arange(len(minutes))
    slope = (shares[places, number + len(minutes)] - shares[places, number]) / 0.1
    found = np.diag(np.r_[_NOISE**2 + (slope * _CLOCK) ** 2, _DIP**2, _NOISE**2])
    for place in range(len(_NAMES)):
        row = np.r_[np.where(places == place, _PLACE * (celsius[:-2] - celsius[-1]), 0.0), 0.0, 0.0]
        found += np.outer(row, row)
    return found


def _answer(paper: str, value: Range) -> str:
    _, low, high = value.floats("", field=LEAF_HEAT.label)
    words = "worse than" if low > 1 else "better than" if high < 1 else "about as"
    return (
        f"Heat passes {words} reckoned: the resistance of a stack with {paper} is {value.say('')} of that "
        "reckoned. Plans of the press take it for dwell and for how warm the far leaf becomes."
    )


def _because(found: LeastSquares) -> str:
    loss = math.exp(found.values[1])
    return (
        f"The temperatures miss the run by {found.misfit:.1f} times their doubt, the far side losing "
        f"{loss:.0f} W/(m²·K). The doubt comes from where the probes lie, the heat kept, and 6 % from this "
        f"stack to the "
        "next."
    )


def _judge(found: LeastSquares, result: Found) -> list[Caution]:
    cautions: list[Caution] = []
    if found.misfit > 2:
        cautions.append(_MISFIT(misfit=found.misfit))
    if result.narrower < 1.5:
        cautions.append(_WIDE())
    return [*cautions, _ONE_STACK()]


def _shown(
    setup: Setup, found: LeastSquares, places: np.ndarray, minutes: Floats, celsius: Floats
) -> FitShown:
    factor, loss, kept, platen, room = (float(value) for value in found.values)
    extra = np.sqrt(np.diag(_scatter(setup, places, minutes, celsius)))
    points = tuple(
        FitPoint(float(t), float(seen), float(REACH * u), float(on), _NAMES[place])
        for t, seen, u, on, place in zip(minutes, celsius, extra, found.fitted, places, strict=False)
    )
    times = np.linspace(0.0, float(minutes.max()), 61)
    courses = room + (platen - room) * predict(setup, factor, loss, kept, times)
    curves = {
        name: tuple(zip(times.tolist(), course.tolist(), strict=True))
        for name, course in zip(_NAMES, courses, strict=True)
    }
    return FitShown(("time", "min"), ("leaf", "degC"), points, curves)


_MADE = {LEAVES.key: 40.0, BOARDS.key: 2.0, BOARD.key: 0.6, WIDTH.key: 168.0, HEIGHT.key: 257.0}


def made_up(about: str, truth: Mapping[str, float], rng: np.random.Generator | None) -> Readings:
    """Make up a run of the full model on a block of 40 leaves and 4.2 mm, with errors of bench and stack."""
    cold, warm = draw_probe(rng)
    grammage = look_up(about, "grammage").number("g/m^2")
    setup = Setup(about, 40, 2, 4.2, 0.6, round(grammage, 1), 60.0, 22.0)
    draws = np.zeros(8) if rng is None else rng.standard_normal(8)
    factor = truth[LEAF_HEAT.key] * math.exp(0.05 * draws[0])
    loss = 8.0 * math.exp(0.33 * draws[1])
    kept = math.exp(_HEAT_KEPT * draws[2])
    ratio = USUAL_RATIO * math.exp(0.55 * draws[3])
    (history,) = simulate_together((setup.course(factor, loss, ratio, LONGEST),))
    area = 168.0 * 257.0 * 1e-6
    read: dict[str, tuple[Quantity, ...]] = {
        asked.key: (Q_(_MADE[asked.key], asked.plain_unit),)
        for asked in (LEAVES, BOARDS, BOARD, WIDTH, HEIGHT)
    }
    read[THICKNESS.key] = (Q_(setup.block, "mm"),) if rng is None else (Q_(round(setup.block, 2), "mm"),) * 3
    read[MASS.key] = (Q_(round(setup.grammage * area * 40, 2), "g"),)
    read[ICE.key] = (Q_(show(cold, rng, 0.1), "degC"),)
    read[PLATEN.key] = (Q_(show(setup.platen + warm + _DIP * draws[4], rng, _NOISE), "degC"),)
    read[ROOM.key] = (Q_(show(setup.room + warm, rng, _NOISE), "degC"),)
    for place, series in enumerate(AT):
        off = 1 + _PLACE * draws[5 + place]
        late = np.zeros(len(MINUTES)) if rng is None else _CLOCK * rng.standard_normal(len(MINUTES))
        times = np.maximum(np.array(MINUTES) + late, 0.0)
        rises = (setup.platen - setup.room) * setup.shares(history, times / kept)[place] * off
        for asked, rise in zip(series, rises, strict=True):
            read[asked.key] = (Q_(show(setup.room + warm + float(rise), rng, _NOISE), "degC"),)
    return Readings(about, read)


LEAF_TEMPERATURE = Protocol(
    key="leaf-temperature",
    title="Follow the heat into a scrap book",
    question="How fast does the heat of my press really reach the middle and the far leaf?",
    takes="1 h",
    waits="1 day for the scraps to rest in the room",
    needs=(
        "a scrap book or a block of like leaves, 3 to 8 mm thick, rested in the room",
        "two thin thermocouples, or one and two runs; heat-proof tape",
        "your usual boards, caliper, balance, rule, crushed ice, a clock",
    ),
    steps=(
        "Read the thermometer in melting ice. Measure, count and weigh the block, and measure a board.",
        "Warm the press to its usual setting. Read the platen with the same thermometer, at matt tape if it "
        "is an "
        "infrared one.",
        "Lay one probe between the two middle leaves and one under the last leaf, both well inside the page, "
        "the wires "
        "out at the fore edge. Read room and block.",
        "Boards above and below as usual, under a medium load; start the clock when the press closes.",
        "Read both probes at the minutes asked, to 40 min. Read the platen two or three times meanwhile.",
        "Switch off, open when it has cooled. With one probe let all cool to the room, and run it again for "
        "the other "
        "place.",
    ),
    cautions=(
        Notice(
            "trial-leaf-scrap-only",
            Verdict.GO,
            "Scrap only: a wire marks the leaves under load. No staples near the wire.",
        ),
        Notice(
            "trial-leaf-burns",
            Verdict.GO,
            "The platen burns: gloves, wires clear of hinges. Stop at any smell of scorching, smoke or a hot "
            "cable. Rules "
            "of the workshop come before this page.",
            "memory",
        ),
    ),
    of="Paper",
    abouts=lambda: materials_of_kind("text paper"),
    asked=(ICE, LEAVES, THICKNESS, MASS, WIDTH, HEIGHT, BOARDS, BOARD, PLATEN, ROOM, *AT[0], *AT[1]),
    fit=fit,
    finds=(LEAF_HEAT,),
    believed=lambda _: {LEAF_HEAT.key: BELIEVED},
    again_after=730,
    why_again="Boards and pads grow thinner under load, and are exchanged",
    made_up=made_up,
)
"""Temperatures between the leaves against the model."""
