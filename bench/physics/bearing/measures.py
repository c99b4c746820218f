"""What is read from solved sections: spine, staples, step, text block, width unpressed."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from bench.physics.bearing.batch import Batch, solve_batch
from bench.physics.bearing.knowns import Press
from bench.physics.bearing.laws import TOP, Array
from bench.physics.bearing.results import BearingCurve
from bench.physics.bearing.zones import (
    SPINE_ZONE,
    Layout,
    Profile,
    SheetCounts,
    Sheets,
    section_profile,
)
from bench.physics.ranges import Range
from bench.units import Q_

_LEVELS = (50.0, 2.5, 97.5)
_STEP_REACH = 5e-3  # beyond the ramp within which a line along the ends of the sheets is looked for
_STAPLE_GRID = 30e-3  # beyond the stop of the sheets; under a platen a staple changes nothing farther away


def staple_pressure(
    name: str,
    places: Array,
    layout: Layout,
    sheets: Sheets | SheetCounts,
    press: Press,
    values: Mapping[str, Array],
    base: Batch,
) -> tuple[Array, Array, np.ndarray]:
    """Give pressure on a wire, room over it, and which samples found a balance.

    Where none was found the wire carries :data:`~bench.physics.bearing.laws.TOP`, and the room is not known.
    """
    line = layout.staple_line
    assert line is not None
    samples = base.platen.shape[0]
    if line < layout.outside:
        free = beyond(np.zeros(samples), base.converged)
        return free, np.full(samples, np.inf), base.converged
    near = places <= (np.inf if press.even else layout.stop + _STAPLE_GRID)
    row = int(np.argmin(np.abs(places - line)))
    profile = section_profile(places[near], layout, sheets, values, staple=name, shim=press.shim)
    room = base.gap[row] - profile.height[row]
    wire, fine = np.zeros(samples), base.converged.copy()
    # Boards that, between staples, pass over all of the staple's row stay as they are.
    touched = (profile.height - base.gap[near])[places[near] < layout.stop + 1e-3].max(axis=0) > 0
    rows = np.flatnonzero(touched & base.converged)
    if rows.size:
        part = Profile(profile.height[:, rows], profile.first[:, rows], profile.soft[:, rows])
        found = solve_batch(
            places[near],
            part,
            bending=values["bending"][rows],
            give=values["give"][rows],
            **({"even": values["load"][rows]} if press.even else {"platen": base.platen[rows]}),
            both_sides=press.both_sides,
        )
        wire[rows], fine[rows] = found.pressure[row], found.converged
        room[rows] = np.where(found.converged, found.gap[row] - profile.height[row, rows], np.nan)
    return beyond(wire, fine), room, fine


def beyond(pressure: Array, solved: np.ndarray) -> Array:
    """Give a pressure with the end of the laws where no balance was found: crushed, and never without load.

    Such samples are those pressed hardest.  Left out, or taken as nothing, they would lower the pressure
    that is told as the load rises.
    """
    return np.where(solved, pressure, TOP)


def spine_pressure(base: Batch, layout: Layout) -> Array:
    """Give the mean pressure on the spine zone, Pa; zero where it hangs outside or there is no spine.

    Where no balance was found it is that at which the laws end (:func:`beyond`).
    """
    zone = base.places <= float(SPINE_ZONE.to("m").magnitude)
    if not zone.any() or not layout.has_spine:
        return np.zeros_like(base.platen)
    mean = base.share[zone] @ base.pressure[zone] / base.share[zone].sum()
    return beyond(mean, base.converged)


def block_pressure(base: Batch) -> Array:
    """Give the mean pressure on the two thirds next to the fore edge, Pa."""
    zone = base.places >= base.places[0] + (base.places[-1] - base.places[0]) / 3
    return np.asarray(base.share[zone] @ base.pressure[zone] / base.share[zone].sum())


def step_load(base: Batch, layout: Layout, values: Mapping[str, Array]) -> tuple[Array, Array]:
    """Give the peak (Pa) where the sheets end and the load there beyond the even one (N/m)."""
    end = layout.stop + values["sheet gap"] + values["ramp"] + _STEP_REACH
    inside = (base.places[:, None] >= layout.stop) & (base.places[:, None] <= end)
    peak = np.where(inside, base.pressure, 0.0).max(axis=0)
    over = np.maximum(base.pressure - block_pressure(base), 0.0)
    return peak, base.share @ np.where(inside, over, 0.0)


def unpressed_width(places: Array, pressure: Array, enough: Array | float) -> Array:
    """Give the width (m) in the third next to the spine with less than enough, linear between nodes.

    Parameters
    ----------
    places : array (n,) of m
        From the spine.
    pressure : array (n,) or (n, samples) of Pa
        Along the section.
    enough : float or array (samples,), Pa
        Least that counts as pressed.
    """
    third = places <= places[0] + (places[-1] - places[0]) / 3
    lack = enough - pressure[third]
    first, second = lack[:-1], lack[1:]
    span = np.where(first == second, 1.0, np.abs(first - second))
    crossing = np.maximum(first, second) / span
    part = np.where((first > 0) & (second > 0), 1.0, np.where((first > 0) | (second > 0), crossing, 0.0))
    return np.asarray(np.diff(places[third]) @ part)


def curve_of(
    base: Batch, profile: Profile, layout: Layout, values: Mapping[str, Array], enough: Array
) -> BearingCurve:
    """Give pressure along the section with its limits, and the chance that enough arrives."""
    pressure = base.pressure[:, base.converged]
    middle, low, high = np.percentile(pressure, _LEVELS, axis=1) * 1e-3
    return BearingCurve(
        Q_(base.places * 1e3, "mm"),
        Q_(middle, "kPa"),
        Q_(low, "kPa"),
        Q_(high, "kPa"),
        np.mean(pressure >= enough[base.converged], axis=1),
        Q_(np.median(profile.height, axis=1) * 1e3, "mm"),
        Q_(1e3 * (layout.stop + float(np.median(values["sheet gap"]))), "mm"),
    )


def range_of(values: Array, unit: str, factor: float) -> Range:
    """Give median and the limits of 95 % of the samples, in a unit that is ``1 / factor`` of SI."""
    kept = values[np.isfinite(values)]
    middle, low, high = np.percentile(kept, _LEVELS) * factor
    return Range.of((middle, low, high), unit)
