"""How stiff a board is: clamped at one edge, it sinks under its own mass and under a small one at its tip."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from bench.errors import BadValue, NotYet
from bench.materials import all_properties, look_up
from bench.physics.bearing.cantilever import sink_by_tip_load
from bench.physics.bearing.plates import build_pack
from bench.physics.contact import STANDARD_GRAVITY
from bench.physics.ranges import REACH, Range, as_range
from bench.treatment.measured import BOARD_BENDING
from bench.treatment.plan import Caution, Notice, Verdict
from bench.trials.board_asked import (
    ACROSS,
    ACROSS_LOADED,
    ACROSS_WIDTH,
    ASKED,
    DOWN,
    DOWN_LOADED,
    EDGE,
    THICKNESS,
    TIP_MASS,
    TIPS,
    UP,
    UP_LOADED,
)
from bench.trials.board_law import (
    ANOTHER_BOARD,
    CLAMP_MM,
    PLACE_MM,
    Cantilever,
    check_sinking,
    find_stiffness,
    fit_beam,
    setting_of,
)
from bench.trials.fitting import LeastSquares, read_pooled
from bench.trials.protocol import Asked, FitPoint, FitShown, Found, Protocol, Readings, TrialOutcome
from bench.units import Q_

_MUCH_SUNK = 0.1  # of the free length: told beyond
_MISFIT = 2.0
_LEAST_MODULUS, _MOST_MODULUS = 0.05, 20.0  # GPa: no board lies outside

_WAY = Notice(
    "board-lies-as-measured",
    Verdict.CARE,
    "Plans bend the boards from spine to fore edge: let the free length run that way, mark it on the "
    "boards, and always lay them so. Across its grain a board is about half as stiff.",
    "memory",
)
_DRY = Notice(
    "board-as-dry-as-the-room",
    Verdict.CARE,
    "A damp board is softer, by a third at 80 % RH. Measure boards that lay in the room for a day; change "
    "those that come damp out of the press.",
    "memory",
)
_NOT_EXPLAINED = Notice(
    "board-not-explained",
    Verdict.STOP,
    "A bending beam does not explain the heights (misfit {misfit:.1f}, 2 allowed): the board slips in its "
    "clamp, is bowed along it, or a reading is wrong.",
    "gum",
)
_NO_BOARD = Notice(
    "board-modulus-impossible",
    Verdict.STOP,
    "It would have a modulus of {modulus:.2g} GPa, where boards have 0.05 to 20 GPa: check lengths, masses "
    "and thickness.",
    "memory",
)
_OTHER_BOARD = Notice(
    "board-unlike-the-table",
    Verdict.CARE,
    "{value} lies outside what is believed of {board}, {before}: see that it is this board.",
    "memory",
)
_SINKS_FAR = Notice(
    "board-sinks-far",
    Verdict.CARE,
    "The tip sinks by {part:.0f} % of the free length: beyond a tenth the law of small deflections is off "
    "by a per cent or more. A shorter free length is better.",
    "memory",
)
_LITTLE = Notice(
    "board-narrows-little",
    Verdict.CARE,
    "The trial says little more than is believed without it: let more of the board stand free, or hang on "
    "more mass.",
)
_QUARTER = Notice(
    "board-turned-by-a-quarter",
    Verdict.CARE,
    "Turned by a quarter this board is {times:.2f} times as stiff. The value found is of the way it was "
    "clamped first.",
)


def boards() -> tuple[str, ...]:
    """List the boards and cards of which a bending modulus is known, in table order."""
    known = (p for p in all_properties() if p.name == "bending modulus" and p.kind in ("board", "card"))
    return tuple(dict.fromkeys(p.material for p in known))


def believed_of(about: str) -> dict[str, Range]:
    """Give what plans believe of one board without the trial: its part of a pack."""
    return {BOARD_BENDING.key: build_pack((about, 1)).bending}


def fit(readings: Readings) -> TrialOutcome:
    """Fit the bending stiffness of a board to the heights of its tip, bare and loaded, both faces up.

    Parameters
    ----------
    readings : Readings
        As :data:`BOARD_STIFFNESS` asks them.

    Returns
    -------
    TrialOutcome

    Raises
    ------
    NotYet
        A reading that the fit cannot do without is missing.
    BadValue
        A tip that rises under its load, or sinks by more than a fifth of the free length.

    Notes
    -----
    Own mass and small mass are fitted together (:func:`sink_by_own_mass`, :func:`sink_by_tip_load`).  The
    warp of the board has the other sign once it is turned over, and so is a number of its own.  A wide strip
    is as stiff as a narrow one to within Poisson's ratio squared, which for paper is within the doubt.
    """
    for asked in (*ASKED[:4], TIP_MASS, EDGE, UP, UP_LOADED, DOWN):
        if not readings.has(asked):
            raise NotYet(asked.label, "not read yet", "", "Read it and enter it")
    setting = setting_of(readings)
    if readings.number(UP_LOADED) >= readings.number(UP):
        came, allowed = (
            f"{readings.number(UP_LOADED):.1f} mm",
            f"below {readings.number(UP):.1f} mm, as without it",
        )
        raise BadValue(UP_LOADED.label.lower(), came, allowed, "A tip sinks under a mass: read both again")
    tips = tuple(tip for tip in TIPS if readings.has(tip))
    law = fit_beam(readings, setting, tips)
    part = check_sinking(readings, setting, law)
    value = find_stiffness(readings, law, part)
    found = Found(BOARD_BENDING, value, believed_of(readings.about)[BOARD_BENDING.key])
    return TrialOutcome(
        _answer(readings, found),
        _because(readings, law, value),
        (found,),
        _show(readings, setting, law, tips),
        tuple(_cautions(readings, setting, law, found, part)),
    )


def _answer(readings: Readings, found: Found) -> str:
    value = found.value.say(BOARD_BENDING.unit)
    return (
        f"One {readings.about} resists bending with {value}, lying as it was clamped. Packs with this board "
        f"reckon with it from now on, {found.narrower:.1f} times narrower than before."
    )


def _because(readings: Readings, law: LeastSquares, value: Range) -> str:
    words = (
        f"Heights bare and loaded, both faces up, agree with a misfit of {law.misfit:.1f} (1 is usual, 2 "
        f"the most); the board is warped by {1e3 * abs(float(law.values[1])):.1f} mm. The doubt comes from "
        "the place of the clamp, from the heights, and from other boards of the lot (judgement)."
    )
    if readings.has(THICKNESS):
        words += f" By its thickness that is a modulus of {_modulus(readings, value):.1f} GPa."
    return words


def _modulus(readings: Readings, value: Range) -> float:
    """Give the modulus that goes with a stiffness, GPa, by the thickness read or else that of the table."""
    if readings.has(THICKNESS):
        thick = readings.number(THICKNESS)
    else:
        thick = look_up(readings.about, "thickness").number("mm")
    return 12e-9 * float(value.value.to("N*m").magnitude) / (1e-3 * thick) ** 3


def _show(readings: Readings, setting: Cantilever, law: LeastSquares, tips: tuple[Asked, ...]) -> FitShown:
    """Show how far the tip sank against the force on it, in newtons at the tip."""
    edge, warp, log_bending = (float(v) for v in law.values[:3])
    bending = math.exp(log_bending)
    read = read_pooled(readings, (EDGE, *tips))
    own = 3 / 8 * setting.areal * setting.free * setting.width  # the tip load that sinks it as far
    points = []
    for tip, one, fitted in zip(tips, read[1:], law.fitted[1:], strict=True):
        sign = -1.0 if tip in (DOWN, DOWN_LOADED) else 1.0
        force = own + (setting.force if tip in (UP_LOADED, DOWN_LOADED) else 0.0)
        sunk, least = (
            1e3 * (edge + sign * warp) - h for h in (one.value.to("mm").magnitude, 1e3 * float(fitted))
        )
        doubt = float((REACH * one.standard).to("mm").magnitude)
        series = "turned over" if sign < 0 else "as marked"
        points.append(FitPoint(1e3 * force, float(sunk), doubt, float(least), series))
    most = 1.1 * (own + setting.force)
    line = [(0.0, 0.0), (1e3 * most, 1e3 * sink_by_tip_load(most, setting.width, setting.free, bending))]
    return FitShown(
        ("load at the tip, own mass counted", "mN"),
        ("sinking of the tip", "mm"),
        tuple(points),
        {"beam": line},
    )


def _cautions(
    readings: Readings, setting: Cantilever, law: LeastSquares, found: Found, part: float
) -> Iterator[Caution]:
    if law.misfit > _MISFIT:
        yield _NOT_EXPLAINED(misfit=law.misfit)
    modulus = _modulus(readings, found.value)
    if not _LEAST_MODULUS <= modulus <= _MOST_MODULUS:
        yield _NO_BOARD(modulus=modulus)
    _, low, high = found.before.floats("N*m", field="bending")
    if not low <= float(found.value.value.to("N*m").magnitude) <= high:
        yield _OTHER_BOARD(value=found.value.say("N*m"), board=readings.about, before=found.before.say("N*m"))
    if part > _MUCH_SUNK:
        yield _SINKS_FAR(part=100 * part)
    if found.narrower < 1.2:
        yield _LITTLE()
    if readings.has(ACROSS) and readings.has(ACROSS_LOADED):
        yield _QUARTER(times=_quarter(readings, setting) / math.exp(float(law.values[2])))


def _quarter(readings: Readings, setting: Cantilever) -> float:
    """Give the stiffness of the strip cut the other way from the step that the small mass makes, N m."""
    step = 1e-3 * (readings.number(ACROSS) - readings.number(ACROSS_LOADED))
    if step <= 0:
        remedy = "A tip sinks under a mass: read both again"
        raise BadValue(
            ACROSS_LOADED.label.lower(), f"higher by {-1e3 * step:.1f} mm", "lower than without", remedy
        )
    width = 1e-3 * readings.number(ACROSS_WIDTH) if readings.has(ACROSS_WIDTH) else setting.width
    return sink_by_tip_load(setting.force, width, setting.free, 1.0) / step


def made_up(about: str, truth: Mapping[str, float], rng: np.random.Generator | None) -> Readings:
    """Make up the readings of a board of 250 mm by 170 mm, free by so much that it sinks by a tenth."""

    def off(standard: float) -> float:
        return 0.0 if rng is None else standard * float(rng.standard_normal())

    bending = truth[BOARD_BENDING.key] * math.exp(off(ANOTHER_BOARD))
    length, width = 0.170, 0.250
    areal = look_up(about, "grammage").number("kg/m^2") * STANDARD_GRAVITY
    free = min(0.150, (0.25 * bending / areal) ** (1 / 3))
    own = areal * free**4 / (8 * bending)
    force = max(0.05 * STANDARD_GRAVITY * 1e-3, (0.08 * free - own) * 3 * width * bending / free**3)
    begins, pulls = free + off(1e-3 * CLAMP_MM), off(1e-3 * PLACE_MM)
    real = Cantilever(begins, width, areal, force)
    sunk, added, warp, edge = real.own(bending), real.loaded(bending, 0.0, pulls), off(3e-3), 0.200
    limit = 0.0 if rng is None else float(rng.uniform(-0.3, 0.3))

    def read(metres: float) -> tuple:
        if rng is None:
            return (Q_(1e3 * metres, "mm"),) * 3
        return tuple(Q_(round(2 * (1e3 * metres + limit + off(0.3))) / 2, "mm") for _ in range(3))

    mass = 1e3 * areal / STANDARD_GRAVITY * length * width
    found = {"free": free, "length": length, "width": width}
    heights = {
        "edge": edge,
        "up": edge + warp - sunk,
        "up_loaded": edge + warp - sunk - added,
        "down": edge - warp - sunk,
        "down_loaded": edge - warp - sunk - added,
    }
    read_off = {key: (Q_(1e3 * metres, "mm"),) for key, metres in found.items()}
    read_off |= {"mass": (Q_(mass, "g"),), "tip_mass": (Q_(1e3 * force / STANDARD_GRAVITY, "g"),)}
    read_off["thickness"] = (Q_(as_range(look_up(about, "thickness")).floats("mm", field="t")[0], "mm"),)
    return Readings(about, {**read_off, **{key: read(metres) for key, metres in heights.items()}})


BOARD_STIFFNESS = Protocol(
    key="board-stiffness",
    title="Measure how stiff a board is",
    question="How much does this board resist bending, lying as it lies in my press?",
    takes="twenty minutes",
    waits="",
    needs=(
        "a board as it is used, a day in the room",
        "a heavy straight edge and the edge of a table",
        "a steel rule that stands upright on a level floor or table",
        "a balance, and coins or washers in a fold of paper",
    ),
    steps=(
        "Mark one face, and the direction that lies from spine to fore edge in the press. Weigh the board; "
        "measure its length that way, its width, and its thickness.",
        "Clamp it under the straight edge so that it stands out over the edge of the table that way, "
        "square to it, until the tip sinks by a twentieth to a tenth of the free length. Measure the free "
        "length.",
        "Read the height of its lower face over the floor at the clamp and at the middle of the tip, three "
        "times each, with the rule upright.",
        "Lay the small mass along the tip, weighed, so that the tip sinks as far again, and read within a "
        "minute: board gives way slowly.",
        "Turn the board over, clamp it at the same length, and read the tip again, bare and with the mass: "
        "what was its warp now counts the other way.",
        "If you want to know what a mistake in laying costs: cut a strip the other way, clamp it with the "
        "same free length, and read it bare and with the mass.",
    ),
    cautions=(_WAY, _DRY),
    of="Board",
    abouts=boards,
    asked=ASKED,
    fit=fit,
    finds=(BOARD_BENDING,),
    believed=believed_of,
    again_after=730,
    why_again="Another lot of board may be another board, and boards soften with use",
    made_up=made_up,
)
