"""Plates on beds between a base and a platen: bending and contact in balance.

From below: rigid base, bed, plate, bed, plate, ..., bed, platen.  Every bed only pushes, so a
contact may open; every plate bends.  The energy is convex, so there is one answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solveh_banded

from bench.errors import OutOfRange
from bench.physics.arrays import Floats
from bench.physics.bearing.laws import TOP, Bed, compress, follow
from bench.physics.bearing.plates import Plate, times

_EPSILON = float(np.finfo(float).eps)
# Stages of (gradual beginning of contact in m, most steps): plain first; a contact whose edges would only
# wander a node a step is then found from a gradual one, in steps that cannot cycle.
_STAGES = ((0.0, 20), *((3.0 * 10.0**-power, 25) for power in range(5, 11)), (0.0, 60))
_GOOD_ENOUGH = 1e-4
_BALANCED = 1e-9  # of the load, besides what rounding leaves on the nodes of a stiff plate
_RESULTANT = 1e-9  # of the load: what contact carries in all against what was put on, besides rounding
_SCATTER = 4.0  # standard deviations of rounding that are taken for rounding
_FLOOR = 1e-12  # of the stiffest tangent: holds a plate that touches nothing for a step, changes no answer


@dataclass(frozen=True)
class Chain:
    """What lies between base and platen.

    Attributes
    ----------
    share : array (n,)
        Area (face, m2) or length (section, m2 per metre) that belongs to each node.
    beds : tuple of Bed
        From below; one more than plates if a platen lies on top, else as many.
    plates : tuple of Plate
        From below; one or more.
    loads : tuple of array
        Force down on each node of each plate (N or N/m); empty for none.
    """

    share: Floats
    beds: tuple[Bed, ...]
    plates: tuple[Plate, ...]
    loads: tuple[Floats, ...] = ()

    @property
    def has_platen(self) -> bool:
        """Whether a rigid platen lies on top."""
        return len(self.beds) > len(self.plates)


@dataclass(frozen=True)
class Balance:
    """A chain in balance.

    Attributes
    ----------
    platen : float
        Height of the platen above the base, m (nan without one).
    heights : array (plates, n)
        Of each plate, m.
    pressures : array (beds, n)
        In each bed, Pa.
    steps : int
        Newton steps taken.
    unbalance : float
        What the contact carries less what was put on, in any bed, as a part of the load.
    """

    platen: float
    heights: Floats
    pressures: Floats
    steps: int
    unbalance: float


def rigid_height(bed: Bed, share: Floats, load: float) -> float:
    """Give the height (m) at which a rigid flat platen on a bare bed carries a load."""
    highest = float(np.max(bed.height))
    mean = load / float(share.sum())
    drop = float(np.max(compress(bed.law, min(mean, TOP), bed.first, bed.second)))
    low, high = float(np.min(bed.height)) - drop, highest
    while float(share @ bed.at(bed.height - low)[0]) < load:
        low -= highest - low + 1e-6
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        carried = float(share @ bed.at(bed.height - middle)[0])
        low, high = (middle, high) if carried > load else (low, middle)
    return 0.5 * (low + high)


def solve_chain(chain: Chain, *, load: float | None = None, height: float | None = None) -> Balance:
    r"""Find the balance of a chain under a load or at a height of the platen.

    Parameters
    ----------
    chain : Chain
        What lies between base and platen.
    load : float, optional
        Force of the platen (N, or N/m of a section); with a platen either this or ``height``.
    height : float, optional
        Of the platen above the base, m.

    Returns
    -------
    Balance

    Raises
    ------
    OutOfRange
        No balance was found, or a pressure lies beyond where the laws hold.

    Notes
    -----
    With :math:`c_b = h_b - (z_b - z_{b-1})` the compression of bed :math:`b`, the least of

    .. math:: \Pi = \sum_f \tfrac12 z_f^T K_f z_f + \sum_b \sum_i a_i \Phi_b(c_{b,i}) + F z_P

    by Newton's method: each bed is replaced by its tangent at a point that follows the iterate
    (:func:`bench.physics.bearing.laws.follow`), the band matrix is solved by Cholesky
    (``scipy.linalg.solveh_banded``), and the height of the platen by a bordered row.
    """
    free = chain.has_platen and height is None
    total = _total(chain, load)
    if total == 0 and height is None:
        raise OutOfRange("load", "0", "above zero", "Give the load or the height of the platen")
    if height is not None and height >= sum(float(bed.height.max()) for bed in chain.beds):
        return _untouched(chain, height)
    heights, platen = _start(chain, total, height)
    points = _compressions(chain, heights, platen)
    asked = load if free else None
    steps = 0
    for ease, most in _STAGES:
        for _ in range(most):
            steps += 1
            states = [bed.at(point, ease) for bed, point in zip(chain.beds, points, strict=True)]
            step = _newton(chain, (heights, platen), points, states, asked)
            part = 1.0 if steps <= _STAGES[0][1] else _search(chain, (heights, platen), step, asked, ease)
            heights, platen = heights + part * step[0], platen + part * step[1]
            now = _compressions(chain, heights, platen)
            pressures = _pressures(chain, now, ease)
            scale = max(total, float(chain.share @ pressures[0]), 1e-30)
            left, rounding = _left_over(chain, heights, pressures)
            resultant = _resultant(chain, pressures, asked) / scale
            lost = _lost_by_rounding(chain, heights) / scale
            if ease > 0 and left < _GOOD_ENOUGH * scale:
                break
            if ease == 0 and left < _BALANCED * scale + rounding and resultant < _RESULTANT + lost:
                _check_range(pressures)
                return Balance(platen, heights, pressures, steps, resultant)
            if steps < _STAGES[0][1]:
                points = [
                    follow(bed.law, point, new, bed.second)
                    for bed, point, new in zip(chain.beds, points, now, strict=True)
                ]
            else:
                points = now
    raise OutOfRange(
        "balance of the contact",
        f"{max(left / scale, resultant):.1e} of the load out after {steps} steps",
        f"{_RESULTANT + lost:.1g}",
        "Report it with the item and the pack; a finer grid or a softer pack may help",
    )


def _pressures(chain: Chain, compressions: list[Floats], ease: float = 0.0) -> Floats:
    return np.array([bed.at(c, ease)[0] for bed, c in zip(chain.beds, compressions, strict=True)])


def _search(
    chain: Chain, start: tuple[Floats, float], step: tuple[Floats, float], load: float | None, ease: float
) -> float:
    """Give the part of a step after which the energy no longer falls (bisection on its slope)."""

    def slope(part: float) -> float:
        heights, platen = start[0] + part * step[0], start[1] + part * step[1]
        pressures = _pressures(chain, _compressions(chain, heights, platen), ease)
        fall = sum(float(f @ d) for f, d in zip(_forces(chain, heights, pressures), step[0], strict=True))
        return fall if load is None else fall + step[1] * (load - float(chain.share @ pressures[-1]))

    first, low, high, tried = slope(0.0), 0.0, 1.0, 1.0
    for _ in range(40):
        found = slope(tried)
        if abs(found) <= 0.3 * abs(first) or (tried == 1.0 and found < 0):
            break
        low, high = (low, tried) if found > 0 else (tried, high)
        tried = 0.5 * (low + high)
    return tried


def _total(chain: Chain, load: float | None) -> float:
    return float(sum(force.sum() for force in chain.loads)) + (load or 0.0)


def _untouched(chain: Chain, height: float) -> Balance:
    """Give the balance of a platen that is set too high to touch: everything lies as it fell."""
    stood = np.cumsum([float(bed.height.max()) for bed in chain.beds[:-1]])
    nodes = len(chain.share)
    heights = np.repeat(np.reshape(stood, (-1, 1)), nodes, axis=1)
    return Balance(height, heights, np.zeros((len(chain.beds), nodes)), 0, 0.0)


def _check_range(pressures: Floats) -> None:
    highest = float(pressures.max())
    if highest > TOP:
        raise OutOfRange(
            "contact pressure",
            f"{highest / 1e6:.3g} MPa",
            f"at most {TOP / 1e6:g} MPa, where the laws of paper end",
            "Take a lighter load, more sheets, or a softer pack",
        )


def _start(chain: Chain, total: float, height: float | None) -> tuple[Floats, float]:
    """Begin with flat plates: each bed carries the load as under a rigid plate of its own."""
    if total > 0:
        levels = [rigid_height(bed, chain.share, total) for bed in chain.beds]
    else:
        assert height is not None
        spare = sum(float(bed.height.max()) for bed in chain.beds) - height
        softest = [float(np.median(compress(bed.law, 1e3, bed.first, bed.second))) for bed in chain.beds]
        levels = [
            float(bed.height.max()) - spare * soft / sum(softest)
            for bed, soft in zip(chain.beds, softest, strict=True)
        ]
    stood = np.cumsum(levels)
    heights = np.repeat(stood[: len(chain.plates), None], len(chain.share), axis=1)
    if height is not None:
        return heights, height
    return heights, float(stood[-1]) if chain.has_platen else 0.0


def _compressions(chain: Chain, heights: Floats, platen: float) -> list[Floats]:
    below = np.zeros_like(chain.share)
    found = []
    for number, bed in enumerate(chain.beds):
        above = heights[number] if number < len(heights) else np.full_like(below, platen)
        found.append(bed.height - (above - below))
        below = above
    return found


def _forces(chain: Chain, heights: Floats, pressures: Floats) -> list[Floats]:
    """Give what balance leaves on the nodes of each plate, downwards: the slope of the energy."""
    found = []
    for number, plate in enumerate(chain.plates):
        force = plate.forces(heights[number]) - chain.share * pressures[number]
        if number + 1 < len(pressures):
            force = force + chain.share * pressures[number + 1]
        if chain.loads:
            force = force + chain.loads[number]
        found.append(force)
    return found


def _left_over(chain: Chain, heights: Floats, pressures: Floats) -> tuple[float, float]:
    """Give the largest sum of absolute forces left on a plate's nodes, and what rounding explains."""
    worst = max(float(np.abs(force).sum()) for force in _forces(chain, heights, pressures))
    rounding = 0.0
    for number, plate in enumerate(chain.plates):
        rounding = max(rounding, _EPSILON * float(times(plate.sizes, np.abs(heights[number])).sum()))
    return worst, rounding


def _lost_by_rounding(chain: Chain, heights: Floats) -> float:
    """Give what rounding may leave of the resultant of all plates, which is nothing in exact arithmetic.

    The forces within a plate cancel, but each is rounded; the errors are as likely up as down, so that they
    add up as their root sum of squares.  They grow with the third power of the number of nodes.
    """
    squares = 0.0
    for number, plate in enumerate(chain.plates):
        each = _EPSILON * times(plate.sizes, np.abs(plate.bent(heights[number])))
        squares += float(each @ each)
    return _SCATTER * float(np.sqrt(squares))


def _resultant(chain: Chain, pressures: Floats, load: float | None) -> float:
    """Give the largest force by which a bed fails to carry all that lies on it."""
    above = float(chain.share @ pressures[-1]) if load is None and chain.has_platen else (load or 0.0)
    worst = 0.0
    for number in reversed(range(len(pressures))):
        if chain.loads and number < len(chain.loads):
            above += float(chain.loads[number].sum())
        worst = max(worst, abs(above - float(chain.share @ pressures[number])))
    return worst


def _newton(
    chain: Chain,
    start: tuple[Floats, float],
    points: list[Floats],
    states: list[tuple[Floats, Floats]],
    load: float | None,
) -> tuple[Floats, float]:
    """Give the step of plates and platen that balances the chain with every bed on its tangent.

    Steps and not heights are solved for, so that rounding shrinks with them.
    """
    count, nodes, share = len(chain.plates), len(chain.share), chain.share
    floor = _FLOOR * max(float(tangent.max()) for _, tangent in states)
    stiff = [share * np.maximum(tangent, floor) for _, tangent in states]
    push = [
        share * pressure + k * (now - point)
        for (pressure, _), k, now, point in zip(
            states, stiff, _compressions(chain, *start), points, strict=True
        )
    ]
    reach = max(offset for plate in chain.plates for offset in plate.bands) * count
    bands = np.zeros((reach + 1, nodes * count))
    columns = np.zeros((2, nodes, count))
    right = columns[0]
    for number, plate in enumerate(chain.plates):
        for offset, values in plate.bands.items():
            bands[reach - offset * count, offset * count + number :: count][: nodes - offset] += values
        bands[reach, number::count] += stiff[number]
        right[:, number] += push[number] - plate.forces(start[0][number])
        if number + 1 < len(stiff):
            bands[reach, number::count] += stiff[number + 1]
            right[:, number] -= push[number + 1]
        if number:
            bands[reach - 1, number::count] -= stiff[number]
        if chain.loads:
            right[:, number] -= chain.loads[number]
    if load is not None:
        columns[1, :, -1] = stiff[-1]  # what lifting the platen by one metre does
    try:
        solved = solveh_banded(
            bands, columns.reshape(2, -1).T, overwrite_ab=True, overwrite_b=True, check_finite=False
        )
    except np.linalg.LinAlgError:
        remedy = "Give a load instead of a height, or lower the platen until the item is held"
        raise OutOfRange("contact", "a single point", "a contact that holds the boards", remedy) from None
    base, lift = (solved[:, k].reshape(nodes, count) for k in (0, 1))
    if load is None:
        return base.T, 0.0
    # load = sum(push) - sum(stiff (platen - plate)) of the steps, with plate = base + platen * lift
    slope = float(stiff[-1].sum() - stiff[-1] @ lift[:, -1])
    platen = (float(push[-1].sum()) + float(stiff[-1] @ base[:, -1]) - load) / slope
    return (base + platen * lift).T, platen
