"""Where the load goes: spine, staples, step and text block, plan by plan, with what is not known.

The questions of the bench in, ranges and chances out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bench.errors import BadValue, OutOfRange
from bench.item import Format, Item, Thicknesses
from bench.physics.arrays import Floats
from bench.physics.bearing.batch import REFERENCE, Batch, halves, solve_batch
from bench.physics.bearing.knowns import Assumed, Press, draw_values, sheet_mass
from bench.physics.bearing.measures import (
    block_pressure,
    curve_of,
    range_of,
    spine_pressure,
    staple_pressure,
    step_load,
    unpressed_width,
)
from bench.physics.bearing.results import Bearing, Limits
from bench.physics.bearing.zones import (
    USUAL_SHEET,
    Layout,
    Profile,
    SheetCounts,
    Sheets,
    count_sheets,
    lay_out,
    section_places,
    section_profile,
    sheets_of,
)
from bench.physics.ranges import Range
from bench.physics.sorption import dry_mass, water_to_take_up
from bench.units import Q_, Amount, Quantity, Told

INTERVALS = tuple(range(4, 13))
_BOARD_STRAIN = 0.25  # of its thickness, up to which a pack gives in proportion; an estimate
_SAMPLES_AT_ONCE = 4000  # of all plans together: more no longer fit the cache of a processor; measured
_NOTHING = 10.0  # Pa: a press that does not reach the item presses nothing enough


def estimate_bearing(
    item: Item,
    thicknesses: Thicknesses,
    sheets: Sheets,
    press: Press,
    *,
    rng: np.random.Generator,
    assumed: Assumed | None = None,
    limits: Limits | None = None,
    samples: int = 2000,
) -> Bearing:
    """Estimate where the load goes with one plan of sheets.

    Parameters
    ----------
    item : Item
        What lies in the press.
    thicknesses : Thicknesses
        As read before the sheets went in.
    sheets : Sheets
        Interleaves, by how far they reach.
    press : Press
        How it is pressed.
    rng : numpy.random.Generator
        For the doubts; the same state gives the same answer.
    assumed : Assumed, optional
        What nobody reads at the bench; the usual ranges without it.
    limits : Limits, optional
        What must not be exceeded; the usual ones without it.
    samples : int
        100 to 100 000.

    Returns
    -------
    Bearing

    Raises
    ------
    BadValue
        Readings that contradict each other, or sheets thicker than the gap of the press.
    OutOfRange
        Not one sample found a balance.

    Notes
    -----
    The section between staples is solved under the load; then the section through each staple at the
    height that the platen has there, since staples carry little of the whole.  For each sample of what
    is not known (:func:`bench.physics.bearing.knowns.draw_values`), Pfeiffer's law.

    Valid for flat, level platens, boards as large as the item or larger, and the first loading; not
    for impact or for wet paper.
    """
    bounds = limits or Limits()
    values = _drawn(item, thicknesses, sheets, press, assumed or Assumed(), rng, samples)
    found, refused = _weigh_all(item, thicknesses, [sheets], press, bounds, values, {})
    if refused is not None:
        raise refused
    return found[0]


def compare_spacings(
    item: Item,
    thicknesses: Thicknesses,
    press: Press,
    *,
    rng: np.random.Generator,
    intervals: Sequence[int] = INTERVALS,
    counts: Sequence[int] = (),
    material: str = USUAL_SHEET,
    assumed: Assumed | None = None,
    limits: Limits | None = None,
    samples: int = 2000,
) -> tuple[Bearing, ...]:
    """Compare every spacing, and the balanced plans between, side by side.

    Parameters
    ----------
    item, thicknesses, press, rng, assumed, limits, samples
        As in :func:`estimate_bearing`; all plans share the same samples, so that their differences are
        those of the plans.
    intervals : sequence of int
        Most leaves between two sheets.
    counts : sequence of int
        Numbers of sheets in all that are compared too, whether a spacing comes to them or not.
    material : str
        Of the sheets.

    Returns
    -------
    tuple of Bearing
        From most sheets to fewest, each number of sheets once; without those that do not fit the
        press or find no balance.

    Raises
    ------
    BadValue
        No spacing fits the item, or as in :func:`estimate_bearing`.
    OutOfRange
        As there, for every plan.
    """
    asked: dict[int, list[int]] = {}
    for interval in intervals:
        try:
            asked.setdefault(count_sheets(item, interval, material).inner, []).append(interval)
        except BadValue:  # a thin item has no room for that many sheets
            continue
    if not asked and not counts:
        remedy = "Choose more leaves between sheets"
        raise BadValue("leaves between sheets", tuple(intervals), f"spacings of {item.leaves} leaves", remedy)
    step = 2 if item.format is Format.SADDLE_STITCHED else 1  # both halves alike
    own = [sheets_of(item, count, material) for count in counts]
    to_fold = sheets_of(item, 3, material).to_fold
    between = range(min(asked), max(asked) + 1, step) if asked else range(0)
    inner = sorted({*between, *(sheets.inner for sheets in own)}, reverse=True)
    plans = [Sheets(n, to_fold, material) for n in inner]
    bounds = limits or Limits()
    values = _drawn(item, thicknesses, plans[0], press, assumed or Assumed(), rng, samples)
    found, refused = _weigh_all(item, thicknesses, plans, press, bounds, values, asked)
    if refused is not None and not found:
        raise refused
    return tuple(found)


def _drawn(
    item: Item,
    thicknesses: Thicknesses,
    sheets: Sheets,
    press: Press,
    assumed: Assumed,
    rng: np.random.Generator,
    samples: int,
) -> dict[str, Floats]:
    if not isinstance(samples, int) or not 100 <= samples <= 100_000:
        raise BadValue("samples", samples, "a whole number from 100 to 100 000", "Take 2000")
    _check_places(thicknesses)
    return draw_values(item, thicknesses, sheets, press, assumed, rng=rng, samples=samples)


def _check_places(thicknesses: Thicknesses) -> None:
    """Refuse readings that cannot be of one item."""
    block = thicknesses.text_block.value
    places = {f"{name} staple": value for name, value in thicknesses.over_staples.items()}
    places |= {"spine edge": thicknesses.spine_edge} if thicknesses.spine_edge else {}
    for name, value in places.items():
        ratio = float((value.value / block).to("dimensionless").magnitude)
        if not 0.4 <= ratio <= 2.5:
            raise BadValue(
                f"thickness at {name}",
                f"{ratio:.2g} times that of the text block",
                "0.4 to 2.5 times",
                "The readings contradict each other: read both again, in the same unit",
            )


def _check_gap(sheets: Sheets, press: Press, values: Mapping[str, Floats]) -> None:
    if press.gap is None:
        return
    gap = float(press.gap.value.to("m").magnitude)
    thick = sheets.count * float(np.median(values["sheet"]))
    if gap <= thick:
        raise BadValue(
            "gap of the press",
            Told("{}", Amount(Q_(gap * 1e3, "mm"), "mm", -1, fine=5e-6)),
            Told("more than the sheets alone, {}", Amount(Q_(thick * 1e3, "mm"), "mm", 1)),
            "Open the press, or take fewer sheets",
        )


def _weigh_all(
    item: Item,
    thicknesses: Thicknesses,
    plans: Sequence[Sheets],
    press: Press,
    limits: Limits,
    values: Mapping[str, Floats],
    intervals: Mapping[int, Sequence[int]],
) -> tuple[list[Bearing], BadValue | OutOfRange | None]:
    """Weigh plans that share their samples; gives those that fit, and why the last of the others does not."""
    refused: BadValue | OutOfRange | None = None
    fitting: list[Sheets] = []
    for plan in plans:
        try:
            _check_gap(plan, press, values)
            fitting.append(plan)
        except BadValue as error:  # more sheets than the press has room for
            refused = error
    found: list[Bearing] = []
    layout = lay_out(item, thicknesses, outside=press.outside)
    at_once = max(1, _SAMPLES_AT_ONCE // len(values["sheet"]))
    for start in range(0, len(fitting), at_once):
        for solved in _solve_beside(fitting[start : start + at_once], press, values, layout):
            if solved.base.converged.any():
                spacings = tuple(intervals.get(solved.sheets.inner, ()))
                found.append(_read(item, solved, limits, values, layout, spacings))
            else:
                refused = _say_crushed(press)
    return found, refused


def _say_crushed(press: Press) -> BadValue | OutOfRange:
    """Say that no balance was found within the laws of paper and boards."""
    if press.load is None and press.gap is not None:
        came = f"{float(press.gap.value.to('mm').magnitude):.2f} mm"
        allowed = "room in which neither paper nor boards are crushed"
        return BadValue("gap of the press", came, allowed, "Open the press, or take fewer sheets")
    remedy = "Take a lighter load, or open the press: paper or boards would be crushed"
    return OutOfRange("balance of the contact", "not found", "a balance in one sample or more", remedy)


@dataclass(frozen=True)
class _Solved:
    """One plan of sheets, solved: the section between staples and, for each staple, wire, room, fine."""

    sheets: Sheets
    profile: Profile
    base: Batch
    staples: Mapping[str, tuple[Floats, Floats, np.ndarray]]


def _solve_beside(
    plans: Sequence[Sheets], press: Press, values: Mapping[str, Floats], layout: Layout
) -> list[_Solved]:
    """Solve several plans in one batch: the work lies in the steps over the grid, not in the samples."""
    samples = len(values["sheet"])
    beside = {name: np.tile(column, len(plans)) for name, column in values.items()}
    counts = SheetCounts(
        np.repeat([plan.count for plan in plans], samples),
        np.repeat([plan.to_fold for plan in plans], samples),
    )
    places = section_places(layout, fine=0.7e-3, coarse=12e-3, reach=18e-3)
    profile = section_profile(places, layout, counts, beside, shim=press.shim)
    base = _solve_base(places, profile, press, beside, layout)
    staples = {
        name: staple_pressure(name, places, layout, counts, press, beside, base) for name in layout.staples
    }
    found = []
    for number, plan in enumerate(plans):
        own = slice(number * samples, (number + 1) * samples)
        found.append(
            _Solved(
                plan,
                profile.part(own),
                base.part(own),
                {name: (wire[own], room[own], fine[own]) for name, (wire, room, fine) in staples.items()},
            )
        )
    return found


def _read(
    item: Item,
    solved: _Solved,
    limits: Limits,
    values: Mapping[str, Floats],
    layout: Layout,
    intervals: tuple[int, ...],
) -> Bearing:
    sheets, base, profile = solved.sheets, solved.base, solved.profile
    mean = values["load"] if "load" in values else base.share @ base.pressure / base.share.sum()
    enough = np.maximum(float(limits.enough.to("").magnitude) * mean, _NOTHING)
    spine_limit = mean if limits.spine is None else float(limits.spine.to("Pa").magnitude)
    chances: dict[str, float] = {}
    clearances: dict[str, Range] = {}
    doubts: dict[str, Quantity] = {}
    pressures: dict[str, Range] = {}
    spine = spine_pressure(base, layout)
    if layout.has_spine:
        chances["spine"] = _chance(spine > spine_limit, base.converged)
        _add_clearance("spine edge", base.gap[0] - profile.height[0], clearances, doubts)
    for name, (wire, room, fine) in solved.staples.items():
        pressures[name] = range_of(wire, "kPa", 1e-3)
        chances[f"{name} staple"] = _chance(wire > float(limits.staple.to("Pa").magnitude), fine)
        _add_clearance(f"{name} staple", room, clearances, doubts)
    peak, line = step_load(base, layout, values)
    solved_all = np.logical_and.reduce([base.converged, *(fine for *_, fine in solved.staples.values())])
    mass = sheet_mass(item, sheets)
    return Bearing(
        sheets=sheets,
        load=range_of(np.broadcast_to(mean, base.platen.shape), "kPa", 1e-3),
        group=_largest_group(item, sheets),
        intervals=intervals,
        gain=range_of(sheets.count * values["sheet"], "um", 1e6),
        spine=range_of(spine, "kPa", 1e-3),
        block=range_of(block_pressure(base), "kPa", 1e-3),
        staples=pressures,
        step_peak=range_of(peak, "kPa", 1e-3),
        step_line=range_of(line, "N/m", 1.0),
        clearance=clearances,
        doubt=doubts,
        unpressed=range_of(unpressed_width(base.places, base.pressure, enough) + layout.outside, "mm", 1e3),
        chances=chances,
        mass=mass,
        water=_water(mass, sheets),
        curve=curve_of(base, profile, layout, values, enough),
        solved=float(solved_all.mean()),
        samples=len(base.platen),
        accepted_risk=limits.accepted_risk,
        staple_limit=limits.staple,
    )


def _solve_base(
    places: Floats, profile: Profile, press: Press, values: Mapping[str, Floats], layout: Layout
) -> Batch:
    """Solve the section between staples; a gap is a stop wherever the platen would go below it."""

    def solve(**how: Floats) -> Batch:
        return solve_batch(
            places,
            profile,
            bending=values["bending"],
            give=values["give"],
            both_sides=press.both_sides,
            **how,
        )

    floor = halves(press.both_sides) * values["gap"] + REFERENCE if "gap" in values else None
    if press.even:
        found = solve(even=values["load"])
    elif "load" in values:
        found = solve(load=values["load"] * (layout.width - layout.outside))
        if floor is not None and np.any(found.platen < floor):
            found = solve(platen=np.maximum(found.platen, floor))
    else:
        assert floor is not None
        found = solve(platen=floor)
    thick = float(press.pack.thickness.to("m").magnitude)
    squeezed = np.nan_to_num(found.pressure.max(axis=0)) / values["give"]
    found.converged[squeezed > _BOARD_STRAIN * thick] = False
    return found


def _largest_group(item: Item, sheets: Sheets) -> int:
    if item.format is Format.SADDLE_STITCHED:
        return -(-(item.leaves // 2) // (sheets.inner // 2 + 1))
    return -(-item.leaves // (sheets.inner + 1))


def _chance(exceeds: np.ndarray, solved: np.ndarray) -> float:
    return float(np.mean(exceeds | ~solved))


def _add_clearance(
    place: str,
    room: Floats,
    clearances: dict[str, Range],
    doubts: dict[str, Quantity],
) -> None:
    kept = room[np.isfinite(room)]
    if not kept.size:
        return
    clearances[place] = range_of(kept, "um", 1e6)
    doubts[place] = Q_(float(kept.std() * 1e6), "um")


def _water(mass: Quantity, sheets: Sheets) -> Range:
    if sheets.count == 0:
        return Range.of((0.0, 0.0, 0.0), "g")
    room, full = Q_(50.0, "percent"), Q_(80.0, "percent")
    dry = dry_mass(mass, paper=sheets.material, humidity=room).value
    return water_to_take_up(dry, paper=sheets.material, humidity_from=room, humidity_to=full)
