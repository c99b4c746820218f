"""Many sections of one grid at once: the same contact for every sample of what is not known.

With the same pack on both sides the middle of the item stays flat, so one half is solved.  The steps are
those of :mod:`bench.physics.bearing.solve`, but the elimination of the five-diagonal matrix is written out so
that each of its steps works on all samples together: a loop over the few nodes instead of over the thousands
of samples.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bench.physics.arrays import Floats
from bench.physics.bearing.compiled import eliminate
from bench.physics.bearing.laws import TOP, Law, follow
from bench.physics.bearing.plates import section_plate, shares, times
from bench.physics.bearing.zones import Profile

REFERENCE = 1e-3
"""Free thickness given to the boards' bed, m: their pressure depends on compression alone."""

_MOST_STEPS = 60
_CALM = 1e-6  # of the load: sampled doubts are in per cent
_FLOOR = 1e-13


def halves(both_sides: bool) -> float:
    """Give the part of the item that one pack sees: the half above its middle, or all of it."""
    return 0.5 if both_sides else 1.0


@dataclass(frozen=True)
class Batch:
    """Solved samples of one section.

    Attributes
    ----------
    places, share : array (n,) of m
        From the spine, and the length that belongs to each.
    pressure, gap : array (n, samples)
        On the cover, Pa; room between the boards, m.
    platen : array (samples,) of m
        Height of the platen above the middle (or the base).
    converged : array (samples,) of bool
        Whether a balance within the laws was found.
    """

    places: Floats
    share: Floats
    pressure: Floats
    gap: Floats
    platen: Floats
    converged: np.ndarray

    def part(self, samples: slice) -> Batch:
        """Give some of the samples."""
        cut = (self.pressure[:, samples], self.gap[:, samples], self.platen[samples])
        return Batch(self.places, self.share, *cut, self.converged[samples])


def solve_batch(
    places: Floats,
    profile: Profile,
    *,
    bending: Floats,
    give: Floats,
    load: Floats | None = None,
    platen: Floats | None = None,
    even: Floats | None = None,
    both_sides: bool = True,
) -> Batch:
    """Solve all samples of a section under their loads, or at their heights of the platen.

    Parameters
    ----------
    places : array (n,) of m
        From the spine.
    profile : Profile
        Arrays (n, samples); Pfeiffer's law.
    bending, give : array (samples,)
        N m, Pa/m, of the pack on one side.
    load : array (samples,), optional
        N per metre of spine.
    platen : array (samples,), optional
        As :class:`Batch` gives it.
    even : array (samples,), optional
        Pressure that rests evenly on the pack, Pa, without a platen.  One of these three.
    both_sides : bool
        Whether the same pack lies on both sides; otherwise the item lies on a flat base.

    Returns
    -------
    Batch
        Samples without a balance within the laws are marked, never passed off as solved.
    """
    part = halves(both_sides)
    share, plate = shares(places), section_plate(places)
    tall, first, soft = part * profile.height, profile.first, part * profile.soft
    samples = tall.shape[1]
    result = Batch(
        places,
        share,
        np.empty_like(tall),
        np.empty_like(tall),
        np.empty(samples),
        np.zeros(samples, dtype=bool),
    )
    top = np.log1p(TOP / first) * soft
    heights, level = _start(
        tall, first, soft, give, share, load if even is None else even * share.sum(), platen
    )
    loose = np.zeros_like(give) if even is None else even
    point, pinch = tall - heights, REFERENCE - (level - heights)
    ahead, over = np.zeros_like(point), np.zeros_like(pinch)
    p, t = _pfeiffer(point, first, soft, top)
    alive = np.arange(samples)
    for _ in range(_MOST_STEPS):
        touched = (pinch > 0) & (even is None)
        q, s = np.where(touched, give * pinch, loose), np.where(touched, give, 0.0)
        moved, lifted = _step(plate.bands, share, bending, heights, (p, t, ahead), (q, s, over), load)
        heights, level = heights + moved, level + lifted
        now, above = tall - heights, REFERENCE - (level - heights)
        linear, linear_top = p + t * (now - point), q + s * (above - pinch)
        p, t = _pfeiffer(now, first, soft, top)
        off = share @ np.abs(p - linear)
        if even is None:
            off += share @ np.abs(np.maximum(give * above, 0.0) - linear_top)
        done = off < _CALM * np.maximum(share @ p if load is None else load, 1e-3)
        if done.any():
            kept = alive[done]
            result.pressure[:, kept], result.gap[:, kept] = p[:, done], heights[:, done] / part
            result.platen[kept] = level[done]
            result.converged[kept] = p[:, done].max(axis=0) <= TOP  # beyond, the laws of paper end
            if done.all():
                break
        if done.mean() > 0.1:
            keep = ~done
            alive = alive[keep]
            bending, give, level, loose = (a[keep] for a in (bending, give, level, loose))
            tall, first, soft, top, heights, point, now, above, p, t = (
                np.ascontiguousarray(a[:, keep])
                for a in (tall, first, soft, top, heights, point, now, above, p, t)
            )
            load = None if load is None else load[keep]
        followed = follow(Law.PFEIFFER, point, now, soft)
        shortened = np.flatnonzero((followed != now).any(axis=0))
        if shortened.size:
            p[:, shortened], t[:, shortened] = _pfeiffer(
                followed[:, shortened], first[:, shortened], soft[:, shortened], top[:, shortened]
            )
        point, pinch = followed, above
        ahead, over = now - point, np.zeros_like(above)
    left = ~result.converged
    result.pressure[:, left], result.gap[:, left], result.platen[left] = np.nan, np.nan, np.nan
    return result


def _pfeiffer(compression: Floats, first: Floats, soft: Floats, top: Floats) -> tuple[Floats, Floats]:
    """Give pressure and tangent as :func:`bench.physics.bearing.laws.press` does, its limit at hand."""
    inside = np.minimum(np.maximum(compression, 0.0), top)
    grown = first * np.exp(inside / soft)
    tangent = np.where(compression > 0, grown / soft, 0.0)
    return grown - first + tangent * np.maximum(compression - top, 0.0), tangent


def _start(
    tall: Floats,
    first: Floats,
    soft: Floats,
    give: Floats,
    share: Floats,
    load: Floats | None,
    platen: Floats | None,
) -> tuple[Floats, Floats]:
    """Begin with flat boards, each sample at the height at which a rigid platen carries its load."""
    if platen is not None:
        return np.broadcast_to(platen - REFERENCE, tall.shape).copy(), platen.copy()
    assert load is not None
    high = tall.max(axis=0)
    mean = load / share.sum()
    drop = (soft * np.log1p(mean / first)).max(axis=0)
    low = tall.min(axis=0) - drop
    for _ in range(9):
        middle = 0.5 * (low + high)
        inside = np.maximum(tall - middle, 0.0) / soft
        too_much = share @ (first * np.expm1(np.minimum(inside, 30.0))) > load  # e^30 is far beyond any load
        low, high = np.where(too_much, middle, low), np.where(too_much, high, middle)
    level = 0.5 * (low + high)
    return np.broadcast_to(level, tall.shape).copy(), level + REFERENCE - mean / give


def _step(
    bands: dict[int, Floats],
    share: Floats,
    bending: Floats,
    heights: Floats,
    item: tuple[Floats, Floats, Floats],
    boards: tuple[Floats, Floats, Floats],
    load: Floats | None,
) -> tuple[Floats, Floats]:
    """Give the step of boards and platen that balances every sample on its tangents.

    ``item`` and ``boards`` are pressure, tangent, and compression less the point of the tangent.
    """
    (p, t, ahead), (q, s, over) = item, boards
    weight = share[:, None]
    floor = _FLOOR * np.maximum(t.max(axis=0), s.max(axis=0))
    stiff, stiff_top = weight * np.maximum(t, floor), weight * np.maximum(s, floor)
    push_top = weight * q + stiff_top * over
    main, near, far = bands[0], bands[1], bands[2]
    columns = {offset: values[:, None] for offset, values in bands.items()}
    held = times(columns, heights - heights.mean(axis=0))
    right = weight * p + stiff * ahead - push_top - bending * held
    diagonal = main[:, None] * bending + stiff + stiff_top
    if load is None:
        solved = eliminate(diagonal, np.outer(near, bending), np.outer(far, bending), right[:, None])
        return solved[:, 0], np.zeros_like(bending)
    both = np.stack([right, stiff_top], axis=1)
    solved = eliminate(diagonal, np.outer(near, bending), np.outer(far, bending), both)
    base, lift = solved[:, 0], solved[:, 1]
    slope = (stiff_top * (1 - lift)).sum(axis=0)
    lifted = (push_top.sum(axis=0) + (stiff_top * base).sum(axis=0) - load) / slope
    return base + lifted * lift, lifted
