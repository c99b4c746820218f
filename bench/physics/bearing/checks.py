"""Problems of load with a published answer, worked by the contact solver: for the appendix notebook.

Beams of a handbook rest on a linear bed that also pulls.  Ours only pushes, so a mean load keeps it
closed, and the answer to a further load is the difference of two solutions.
"""

from __future__ import annotations

import math

import numpy as np

from bench.item import Format, Item, Staple, Thicknesses
from bench.physics.bearing.laws import Array, Bed, Law, compress, linear_bed
from bench.physics.bearing.plates import section_plate, shares
from bench.physics.bearing.solve import Chain, rigid_height, solve_chain
from bench.physics.transient.checks import CALCULATED, Check, CheckCurve
from bench.uncertainty import Measured, estimate_from_readings, guard_band
from bench.units import Q_

_HETENYI = [  # x, A and D to four digits
    (0.5, 0.8231, 0.5323),
    (1.0, 0.5083, 0.1988),
    (2.0, 0.0667, -0.0563),
    (3.0, -0.0423, -0.0493),
]
_HETENYI_SOURCE = f"Hetényi's functions (from memory), table {CALCULATED}"
_RAIL_SOURCE = "Boresi and Schmidt, example 10.1, from memory"


def example_item() -> Item:
    """Give the item of the trade's example: square-bound, two staples, 36 leaves; its title is invented."""
    staples = (
        Staple("upper", Q_(38.0, "mm"), Q_(8.0, "mm")),
        Staple("lower", Q_(215.0, "mm"), Q_(8.0, "mm")),
    )
    return Item(
        "The Tin Orchard Annual, no. 2",
        Format.SIDE_STAPLED,
        Q_(168.0, "mm"),
        Q_(257.0, "mm"),
        leaves=36,
        glue="unknown",
        staples=staples,
    )


def example_readings() -> Thicknesses:
    """Give its readings (common practice, no source), with the doubt of a hand caliper."""

    def read(thou: float, place: str) -> Measured:
        return estimate_from_readings(
            [Q_(thou + step, "thou") for step in (-0.5, 0.5, 0.0, 0.5, -0.5)],
            place=place,
            instrument_limit=Q_(0.8, "thou"),
            resolution=Q_(0.5, "thou"),
            source="caliper",
        )

    over = {"upper": read(178.5, "upper staple"), "lower": read(172.5, "lower staple")}
    return Thicknesses(read(173.5, "text block"), over)


def _rounded(values: Array) -> Array:
    """Round what is drawn, so that the last bits of a machine's arithmetic do not move a picture."""
    return np.round(values, 6)


def _sinking(places: Array, stiffness: float, bending: float, at: int, force: float, mean: float) -> Array:
    share, plate = shares(places), section_plate(places, bending)
    bed = linear_bed(np.zeros_like(places), np.full_like(places, stiffness))
    load = share * mean
    before = solve_chain(Chain(share, (bed,), (plate,), (load,)))
    more = load.copy()
    more[at] += force
    after = solve_chain(Chain(share, (bed,), (plate,), (more,)))
    return np.asarray(before.heights[0] - after.heights[0])


def check_beams() -> tuple[tuple[Check, ...], tuple[CheckCurve, ...]]:
    """Work the long beam under a point load and under an end load: functions A and D of [hetenyi1946]_."""
    stiffness, bending, force = 4e6, 1e6, 1e5  # beta = 1 per metre
    long = np.linspace(-12, 12, 2401)
    middle = _sinking(long, stiffness, bending, 1200, force, 2e5) * 2 * stiffness / force
    short = np.linspace(0, 14, 1401)
    end = _sinking(short, stiffness, bending, 0, force, 1e5) * stiffness / (2 * force)
    checks = []
    for x, a, d in _HETENYI:
        here, there = float(np.interp(x, long, middle)), float(np.interp(x, short, end))
        checks.append(Check(f"function A at {x:g}, point load", a, here, "", 1e-4, _HETENYI_SOURCE))
        checks.append(Check(f"function D at {x:g}, end load", d, there, "", 1e-4, _HETENYI_SOURCE))
    dots = np.linspace(0, 5, 17)
    exact = np.exp(-dots) * np.cos(dots)
    seen, part = short <= 5, (long >= 0) & (long <= 5)
    curves = (
        CheckCurve(
            "A", long[part], _rounded(middle[part]), dots, _rounded(exact + np.exp(-dots) * np.sin(dots))
        ),
        CheckCurve("D", short[seen], _rounded(end[seen]), dots, _rounded(exact)),
    )
    return tuple(checks), curves


def check_rail() -> tuple[Check, ...]:
    """Work the rail under a wheel of [boresi-schmidt]_: sinking, moment, stress."""
    bending, stiffness = 200e9 * 36.9e-6, 14.0e6
    places = np.linspace(-9, 9, 1801)
    sinking = _sinking(places, stiffness, bending, 900, 170e3, 5e5)
    moment = -bending * float(np.diff(sinking, 2)[899]) / 0.01**2
    return (
        Check("rail, sinking under the wheel", 5.04, 1e3 * float(sinking[900]), "mm", 0.006, _RAIL_SOURCE),
        Check("rail, bending moment", 51.21, moment / 1e3, "kN m", 0.02, _RAIL_SOURCE),
        Check("rail, stress", 137.5, moment * 99.1e-3 / 36.9e-6 / 1e6, "MPa", 0.06, _RAIL_SOURCE),
    )


def check_step() -> tuple[tuple[Check, ...], tuple[CheckCurve, ...]]:
    """Work a board over a step in its bed: excess ``(k s / 2) e^-bx cos bx``, first zero at pi / (2 b)."""
    stiffness, bending, rise, mean = 1e9, 0.3, 1e-4, 120e3
    places = np.linspace(-0.15, 0.15, 1201)
    height = np.where(places > 1e-9, rise, 0.0)
    height[600] = rise / 2
    bed, share = linear_bed(height, np.full_like(places, stiffness)), shares(places)
    chain = Chain(share, (bed,), (section_plate(places, bending),), (share * mean,))
    excess = (solve_chain(chain).pressures[0] - mean) / 1e3
    beta = (stiffness / (4 * bending)) ** 0.25
    right = places > 1e-6
    zero = 1e3 * float(places[right][np.argmax(excess[right] < 0)])
    source = f"derived from Hetényi's functions, {CALCULATED}"
    checks = (
        Check(
            "excess beside the step, at 1 mm",
            _wave(1e-3, beta),
            _at(places, excess, 1e-3),
            "kPa",
            0.06,
            source,
        ),
        Check(
            "excess beside the step, at 5 mm",
            _wave(5e-3, beta),
            _at(places, excess, 5e-3),
            "kPa",
            0.06,
            source,
        ),
        Check("first place without excess", round(500 * math.pi / beta, 3), zero, "mm", 0.3, source),
    )
    x = np.linspace(1e-3, 0.03, 17)
    seen = right & (places <= 0.03)
    exact = np.array([_wave(float(place), beta) for place in x])
    return checks, (
        CheckCurve(
            "high side", _rounded(1e3 * places[seen]), _rounded(excess[seen]), _rounded(1e3 * x), exact
        ),
    )


def _wave(x: float, beta: float) -> float:
    return round(50 * math.exp(-beta * x) * math.cos(beta * x), 3)


def _at(places: Array, values: Array, where: float) -> float:
    return float(np.interp(where, places, values))


def check_limits() -> tuple[Check, ...]:
    """Work the exact limits of a low spine under boards: rigid, limp, and what goes in comes out."""
    places = np.linspace(0, 0.168, 113)
    share = shares(places)
    height = np.where(places < 0.012, 2.45e-3, 2.6e-3)
    bed = Bed(Law.PFEIFFER, height, np.full_like(height, 5e3), height / 60)
    boards = linear_bed(np.full_like(places, 1e-3), np.full_like(places, 1e13))
    stiff = solve_chain(Chain(share, (bed, boards), (section_plate(places, 1e4),)), load=672.0)
    level = 1e3 * rigid_height(bed, share, 672.0)
    limp = solve_chain(Chain(share, (bed,), (section_plate(places, 1e-9),), (share * 4e3,)))
    carried = float(share @ stiff.pressures[0])
    return (
        Check(
            "stiff board, height of a rigid face",
            level,
            1e3 * float(stiff.heights[0, 56]),
            "mm",
            2e-6,
            "exact limit",
        ),
        Check(
            "limp board, pressure on a low spine",
            4.0,
            1e-3 * float(limp.pressures[0, 2]),
            "kPa",
            0.008,
            "exact limit",
        ),
        Check("load found again in the pile", 672.0, carried, "N/m", 672e-9, "balance of forces"),
    )


def check_piles() -> tuple[Check, ...]:
    """Work thickness at 100 over 50 kPa, and the guard bands: loads of [tappi-t411]_, [iso534]_."""
    found = []
    for k1, k2, ratio in ((5e3, 60.0, 0.989), (1e3, 40.0, 0.981)):
        thin, thick = (1 - compress(Law.PFEIFFER, p, k1, 1 / k2) for p in (1e5, 5e4))
        name = f"thickness at 100 over 50 kPa, K1 {k1 / 1e3:g} kPa"
        found.append(Check(name, ratio, float(thin / thick), "", 5e-4, f"Pfeiffer's law, {CALCULATED}"))
    for part, z in ((0.95, 1.6449), (0.975, 1.96), (0.99, 2.3263)):
        band = float(guard_band(Q_(10, "um"), part).to("um").magnitude)
        found.append(
            Check(
                f"guard band for {100 * part:g} %, u 10 µm", 10 * z, band, "µm", 6e-4, "JCGM 106, from memory"
            )
        )
    return tuple(found)


def check_grid() -> tuple[Check, ...]:
    """Work the order at which halving the step lowers the error of function A."""
    exact = math.exp(-1) * (math.cos(1) + math.sin(1))
    errors = []
    for step in (0.2, 0.1, 0.05):
        places = np.linspace(-12, 12, round(24 / step) + 1)
        middle = len(places) // 2
        ratio = _sinking(places, 4e6, 1e6, middle, 1e5, 4e5) * 80
        errors.append(abs(float(ratio[middle + round(1 / step)]) - exact))
    orders = [math.log2(errors[k] / errors[k + 1]) for k in range(2)]
    source = "second differences"
    return tuple(
        Check(f"order of convergence, {name}", 2.0, order, "", 0.15, source)
        for name, order in zip(("first halving", "second halving"), orders, strict=True)
    )
