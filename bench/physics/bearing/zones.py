"""The item in section, from spine to fore edge: zones with their free heights and their give.

Square-bound: glue strip, spine edge to staple, staple row, ramp where the sheets end, text block
with sheets, trimmed fore edge.  Saddle-stitched: fold with the wire at the centre spread, ramp, text
block, uneven fore edge.  A single sheet is one zone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from bench.errors import BadValue
from bench.item import Format, Item, Thicknesses
from bench.physics.arrays import Floats
from bench.physics.bearing.plates import shares
from bench.units import Q_, Quantity, to_float

WIRE = 0.7e-3
"""Metres of width on which a staple's wire bears; a wire of 0.6 mm, slightly flattened, from memory."""

PINCH = 1.5e-3
"""Metres beside a wire at which the paper it pinches has recovered most of its height; an estimate."""

FORE_EDGE = 3e-3
"""Metres from the trimmed edge in which a reading over the fore edge counts; an estimate."""

RAMP_STEP = 0.6e-3
"""Metres of rise for which the ramp is given: five sheets of copy paper."""

USUAL_SHEET = "copy paper 24 lb"
"""What interleaves are made of unless something else is said."""

_FOLD_STOP = 3e-3  # where sheets stop short of a fold, as the placement of sheets has it
_GLUE_STOP = 3e-3  # where sheets stop short of the glue strip, an estimate


@dataclass(frozen=True)
class Sheets:
    """Interleaves by how far they reach.

    Attributes
    ----------
    inner : int
        Those that stop short of staples, glue or fold: they build the text block up.
    to_fold : int
        Those that go in to the spine fold: they raise spine and staples too.
    material : str
        By its name in the materials table.
    """

    inner: int
    to_fold: int
    material: str = USUAL_SHEET

    def __post_init__(self) -> None:
        for name, count in (("sheets that stop short", self.inner), ("sheets to the fold", self.to_fold)):
            if not isinstance(count, int) or not 0 <= count <= 1000:
                raise BadValue(name, count, "a whole number from 0 to 1000", "Count the sheets again")

    @property
    def count(self) -> int:
        """All sheets."""
        return self.inner + self.to_fold


def count_sheets(item: Item, interval: int, material: str = USUAL_SHEET) -> Sheets:
    """Count the sheets that a spacing needs, by how far they reach.

    Parameters
    ----------
    item : Item
        For its format and its leaves.
    interval : int
        Most leaves between two sheets, 1 or more.
    material : str
        Of the sheets.

    Returns
    -------
    Sheets

    Raises
    ------
    BadValue
        A spacing below one, or more sheets than leaves.

    Notes
    -----
    The fewest groups of at most ``interval`` leaves; one sheet under each cover.  In a
    saddle-stitched item each half is divided by itself, with one sheet at the centre spread to the
    fold.

    Examples
    --------
    >>> from bench.units import Q_
    >>> annual = Item("The Tin Orchard Annual, no. 2", Format.GLUED, Q_(168, "mm"), Q_(257, "mm"), leaves=36)
    >>> count_sheets(annual, 6).count
    7
    """
    if not isinstance(interval, int) or interval < 1:
        raise BadValue("leaves between sheets", interval, "a whole number, 1 or more", "Choose a spacing")
    if item.format is Format.SHEET:
        return sheets_of(item, 2, material)
    if item.format is Format.SADDLE_STITCHED:
        groups = 2 * -(-(item.leaves // 2) // interval)
    else:
        groups = -(-item.leaves // interval)
    count = groups + 1
    if count > item.leaves:
        allowed = f"at most {item.leaves}, the leaves of the item"
        raise BadValue("interleaves", count, allowed, "Choose more leaves between sheets")
    return sheets_of(item, count, material)


def sheets_of(item: Item, count: int, material: str = USUAL_SHEET) -> Sheets:
    """Divide a number of sheets by how far they reach: one under each cover, and one at a centre spread."""
    to_fold = 3 if item.format is Format.SADDLE_STITCHED else 2
    return Sheets(count - to_fold, to_fold, material)


@dataclass(frozen=True)
class SheetCounts:
    """Numbers of sheets sample by sample, where several plans are solved beside each other.

    Attributes
    ----------
    count, to_fold : array (samples,)
        As those of :class:`Sheets`.
    """

    count: Floats
    to_fold: Floats


@dataclass(frozen=True)
class Shim:
    """A filler laid over the spine on both sides together, under the boards.

    Attributes
    ----------
    thickness : Quantity
        In all, 0.01 to 5 mm.
    width : Quantity
        From the spine, 1 to 100 mm.
    """

    thickness: Quantity
    width: Quantity

    def __post_init__(self) -> None:
        to_float(self.thickness, "mm", field="thickness of the shim", low=0.01, high=5)
        to_float(self.width, "mm", field="width of the shim", low=1, high=100)


@dataclass(frozen=True)
class Layout:
    """Where things lie on the section and down the spine, in metres.

    Attributes
    ----------
    width, height : float
        Of the face.
    staple_line : float or None
        Distance of the staples from the spine: one line, the mean of the staples.
    staples : dict of str to float
        Name and place of each staple from the head.
    stop : float
        Where the sheets that stop short would end, without the gap left by the operator.
    has_spine : bool
        False for a sheet.
    creep : float
        Width at the fore edge over which fewer and fewer leaves lie.
    outside : float
        By how much the spine hangs outside platen and boards.
    """

    width: float
    height: float
    staple_line: float | None
    staples: Mapping[str, float]
    stop: float
    has_spine: bool
    creep: float
    outside: float = 0.0


def lay_out(item: Item, thicknesses: Thicknesses, *, outside: Quantity | None = None) -> Layout:
    """Say where the zones of an item lie.

    Parameters
    ----------
    item : Item
        For its face, format and staples.
    thicknesses : Thicknesses
        For the creep of a saddle-stitched item.
    outside : Quantity, optional
        By how much the spine hangs outside the platen, 0 to half of the width.

    Returns
    -------
    Layout
    """
    width, height = (float(size.to("m").magnitude) for size in (item.width, item.height))
    staples = {staple.name: float(staple.from_head.to("m").magnitude) for staple in item.staples}
    lines = [float(staple.from_spine.to("m").magnitude) for staple in item.staples]
    line = sum(lines) / len(lines) if lines else None
    stop, creep = _GLUE_STOP, 0.0
    if item.format is Format.SIDE_STAPLED and line is not None:
        stop = line
    elif item.format is Format.SADDLE_STITCHED:
        stop, line = _FOLD_STOP, 0.0 if staples else None
        # Half of the leaves lie between the outermost and the innermost, each a leaf further out.
        creep = 0.5 * float(thicknesses.text_block.value.to("m").magnitude)
    over = 0.0
    if outside is not None:
        over = to_float(outside, "m", field="spine outside the platen", low=0, high=width / 2)
    return Layout(width, height, line, staples, stop, item.format is not Format.SHEET, creep, over)


def section_places(
    layout: Layout, *, fine: float = 0.7e-3, coarse: float = 8e-3, reach: float = 22e-3
) -> Floats:
    """Choose the places of the grid: close at the spine and the fore edge, wide between.

    Parameters
    ----------
    layout : Layout
        Of the item.
    fine, coarse : float
        Smallest and largest step, m.
    reach : float
        How far beyond the stop of the sheets the small steps go, m.

    Returns
    -------
    array of m
        Rising; a node lies on the staple line, on which the share is a wire's width.
    """
    width, start = layout.width, layout.outside
    end = min(start + layout.stop + reach, 0.5 * width)
    line = layout.staple_line
    if line is not None and line > start:
        before = _even(start, line - WIRE, fine)
        after = _even(line + WIRE, end, fine)
        head = np.r_[before, line, after]
    elif line is not None and line == start:
        head = np.r_[line, _even(line + WIRE, end, fine)]
    else:
        head = _even(start, end, fine)
    tail = _even(width - FORE_EDGE, width, 1.5 * fine)
    steps: list[float] = []
    step = fine
    while sum(steps) < tail[0] - head[-1]:
        step = min(1.3 * step, coarse)
        steps.append(step)
    middle = head[-1] + np.cumsum(steps) * (tail[0] - head[-1]) / sum(steps)
    return np.r_[head, middle[:-1], tail]


def _even(start: float, end: float, step: float) -> Floats:
    return np.linspace(start, end, max(2, round((end - start) / step) + 1))


@dataclass(frozen=True)
class Profile:
    """Free height, K1 and compliance length at every place, for every sample.

    Attributes
    ----------
    height, soft : array (n,) or (n, samples), m
        Free height, and compliance length.
    first : array, Pa
        K1.
    """

    height: Floats
    first: Floats
    soft: Floats

    def part(self, samples: Any) -> Profile:
        """Give some of the samples, by a slice or their numbers; of one number its section alone."""
        return Profile(self.height[:, samples], self.first[:, samples], self.soft[:, samples])


def free_height(read: Floats, pressure: Floats, k1: Floats, k2: Floats) -> Floats:
    """Give the height without load of what read so high under the pressure of the gauge."""
    return np.asarray(read / (1 - np.log1p(pressure / k1) / k2))


def section_profile(
    places: Floats,
    layout: Layout,
    sheets: Sheets | SheetCounts,
    values: Mapping[str, Floats],
    *,
    staple: str | None = None,
    shim: Shim | None = None,
) -> Profile:
    r"""Give the profile of a section through one staple, or between staples.

    Parameters
    ----------
    places : array (n,) of m
        From the spine.
    layout : Layout
        Of the item.
    sheets : Sheets or SheetCounts
        Between its leaves.
    values : mapping of str to array (samples,)
        What :func:`bench.physics.bearing.knowns.draw_values` gives, SI.
    staple : str, optional
        Name of the staple that the section passes.
    shim : Shim, optional
        A filler over the spine.

    Returns
    -------
    Profile
        Arrays (n, samples).

    Notes
    -----
    Text block, read :math:`T` under :math:`p_r`, thinned for good by a part :math:`s` while it is
    pressed damp, with :math:`n` sheets of thickness :math:`t`:

    .. math:: H = \frac{T (1 - s)}{1 - \ln(1 + p_r/K_1)/K_2} + n t, \qquad L = H / K_2

    The clamped spine has the same :math:`K_1`, a larger :math:`K_2`, the sheets that reach the fold,
    and no thinning.  Between both, from where the sheets end, height and give follow a smooth ramp,
    longer by the fourth root of its height, as the free span of a beam pressed over a step is
    (:math:`\ell \propto (D \delta / q)^{1/4}`).
    """
    x = places[:, None]
    k1, k2, sheet, read_at = (values[name] for name in ("k1", "k2", "sheet", "reading pressure"))
    block = free_height(values["text block"], read_at, k1, k2) * (1 - values["thinning"])
    tall = block + sheets.count * sheet
    soft = tall / k2
    ones = np.ones_like(x)
    height, give = tall * ones, soft * ones
    if layout.has_spine:
        edge = values["glue width"]
        firm = k2 * values["clamped"]
        between = k2 * np.sqrt(values["clamped"])
        glued = _part_below(places, edge)
        clamp = glued / firm + (1 - glued) / between  # compliance per metre of height
        spine = free_height(values["spine edge"], read_at, k1, between)
        low = spine * ones
        if staple is not None:
            assert layout.staple_line is not None
            over = free_height(values[f"{staple} staple"], read_at, k1, between)
            near = np.exp(-0.5 * ((x - layout.staple_line) / PINCH) ** 2)
            low = low + near * (over - values["proud"] - low)
            low[_wire_node(places, layout)] = over + values[f"{staple} prong"]
        raised = low + sheets.to_fold * sheet
        low_soft = low * clamp + sheets.to_fold * sheet / k2
        ramp = values["ramp"] * (np.abs(tall - raised) / RAMP_STEP) ** 0.25
        rise = _smooth((x - layout.stop - values["sheet gap"]) / np.maximum(ramp, 1e-6))
        height = raised + rise * (tall - raised)
        give = low_soft + rise * (soft - low_soft)
    height, give = _fore_edge(x, layout, sheets, values, height, give)
    if shim is not None:
        thick, wide = (float(size.to("m").magnitude) for size in (shim.thickness, shim.width))
        covered = _part_below(places, np.array([wide]))
        height, give = height + covered * thick, give + covered * thick / k2
    return Profile(height, k1 * ones, give)


def _fore_edge(
    x: Floats,
    layout: Layout,
    sheets: Sheets | SheetCounts,
    values: Mapping[str, Floats],
    height: Floats,
    give: Floats,
) -> tuple[Floats, Floats]:
    if "fore edge" in values:
        part = np.clip((x - layout.width + FORE_EDGE) / FORE_EDGE, 0, 1)
        k1, k2 = values["k1"], values["k2"]
        edge = free_height(values["fore edge"], values["reading pressure"], k1, k2)
        edge = edge * (1 - values["thinning"]) + sheets.count * values["sheet"]
        return height + part * (edge - height), give + part * (edge / k2 - give)
    if layout.creep > 0:
        part = np.clip((x - layout.width + layout.creep) / layout.creep, 0, 1)
        return height * (1 - 0.5 * part), give * (1 - 0.5 * part)
    return height, give


def _wire_node(places: Floats, layout: Layout) -> int:
    return int(np.argmin(np.abs(places - (layout.staple_line or 0.0))))


def _part_below(places: Floats, edge: Floats) -> Floats:
    """Give the part of each node's share that lies below an edge, so that results vary smoothly with it."""
    share = shares(places)
    left = np.r_[places[0], places[:-1] + 0.5 * np.diff(places)]
    return np.clip((edge - left[:, None]) / share[:, None], 0.0, 1.0)


def _smooth(part: Floats) -> Floats:
    inside = np.clip(part, 0.0, 1.0)
    return inside**2 * (3 - 2 * inside)


SPINE_ZONE = Q_(2.0, "mm")
"""Width next to the spine over which the pressure on the spine is taken."""
