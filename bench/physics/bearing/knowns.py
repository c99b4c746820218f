"""What is known of item, press and bench, and how well: ranges, and draws from them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from bench.errors import BadValue
from bench.item import Format, Item, Prong, Thicknesses
from bench.materials import look_up
from bench.physics.arrays import Floats
from bench.physics.bearing.plates import Pack, build_pack, plate_bending
from bench.physics.bearing.zones import Sheets, Shim
from bench.physics.contact import CALIPER_PRESSURE, HIGHEST_KPA, LOAD_WORDS, PFEIFFER_K1, PFEIFFER_K2
from bench.physics.ranges import Range, as_range
from bench.physics.ranges import draw as draw_range
from bench.uncertainty import Measured
from bench.units import Quantity, to_float

_TAIL = 0.025  # once in forty: where an interval of 95 % ends
_PINCHED = 0.5  # no staple pinches a pile to less than half of itself; judgement, no source


@dataclass(frozen=True)
class Assumed:
    """What nobody reads at the bench, within ranges that the operator may change or fit.

    All defaults are estimates or from memory, with low confidence: no published measurement of a
    bound, stapled pile was found.

    Attributes
    ----------
    k1, k2 : Range
        Pfeiffer's constants of the text block.
    reading_pressure : Range [pressure]
        With which the gauge pressed at the readings.
    thinning : Range, dimensionless
        By which part the damp, fluffy block grows thinner for good while it is pressed.
    clamped : Range, dimensionless
        How many times larger K2 is in the clamped, glued spine.
    ramp : Range [length]
        Over which the leaves rise from the clamped height, from where the sheets end.
    glue_width : Range [length]
        Of the glue strip, or of a fold.
    sheet_gap : Range [length]
        By which sheets stop short of staples, glue or fold.
    proud : Range [length]
        By how much a flush staple stands above the paper it pinches, both sides together.
    prong : Range [length]
        What a prong that stands proud adds to that.
    spine_rise : Range [length]
        Spine edge above the mean of the staples, where it was not read; never guessed lower by more
        than half of what stands there.
    stiffness : Range, dimensionless, or None
        Factor on the bending stiffness of the pack as findings point to it, in place of its own range.
    """

    k1: Range = PFEIFFER_K1
    k2: Range = PFEIFFER_K2
    reading_pressure: Range = CALIPER_PRESSURE
    thinning: Range = field(default_factory=lambda: Range.of((2, 0, 6), "percent"))
    clamped: Range = field(default_factory=lambda: Range.of((3, 1.5, 6), ""))
    ramp: Range = field(default_factory=lambda: Range.of((6, 3, 15), "mm"))
    glue_width: Range = field(default_factory=lambda: Range.of((2, 1, 4), "mm"))
    sheet_gap: Range = field(default_factory=lambda: Range.of((1.5, 0.5, 3), "mm"))
    proud: Range = field(default_factory=lambda: Range.of((0.15, 0, 0.4), "mm"))
    prong: Range = field(default_factory=lambda: Range.of((0.3, 0.1, 0.6), "mm"))
    spine_rise: Range = field(default_factory=lambda: Range.of((0, -0.15, 0.15), "mm"))
    stiffness: Range | None = None


def _usual_pack() -> Pack:
    return build_pack(("backing board 24 pt", 2), ("card 90 lb index", 1))


@dataclass(frozen=True)
class Press:
    """How the item is pressed.

    Attributes
    ----------
    load : Range [pressure] or None
        Mean on the face of the item.
    gap : Range [length] or None
        Room that a press set for thickness leaves to the item: distance of the platens less the
        free thickness of both packs.  Load and gap: the one given; both: the load, with the gap as
        stops beside the item.
    pack : Pack
        Boards and cards on each side; the one next to the item counts like the others.
    both_sides : bool
        Whether the same pack lies on both sides; otherwise the item lies on a rigid, flat base.
    even : bool
        Whether the load rests evenly on the pack and tilts with it (loose weights, a cushion), instead of
        under a rigid platen that is kept level.
    plate : Quantity [length] or None
        Thickness of an aluminium plate on the pack that bends with it; only where the load is even.
        Under a rigid platen a plate is a part of the platen.
    outside : Quantity [length] or None
        By how much the spine hangs outside platen and boards.
    shim : Shim or None
        A filler laid over the spine.
    """

    load: Range | None = field(default_factory=lambda: LOAD_WORDS["medium"])
    gap: Range | None = None
    pack: Pack = field(default_factory=_usual_pack)
    both_sides: bool = True
    even: bool = False
    plate: Quantity | None = None
    outside: Quantity | None = None
    shim: Shim | None = None

    def __post_init__(self) -> None:
        if self.load is None and self.gap is None:
            raise BadValue("load", "not given", "a load, a gap or both", "Say how hard, or set for what")
        if self.load is not None:
            low = self.load.floats("kPa", field="load", low=0.0, high=HIGHEST_KPA)[1]
            if low <= 0:
                remedy = "Give a load, or the gap of a press set for thickness"
                raise BadValue("load", f"{low:g} kPa", "above zero", remedy)
        if self.gap is not None:
            self.gap.floats("mm", field="gap of the press", low=0.1, high=100.0)
        if self.even and (self.load is None or self.gap is not None):
            raise BadValue("load", "a gap", "a load alone, if it rests evenly", "Leave the gap out")
        if self.plate is not None:
            to_float(self.plate, "mm", field="thickness of the plate", low=0.2, high=50)

    @property
    def bending(self) -> Range:
        """Bending stiffness of all that bends together on one side."""
        if self.plate is None or not self.even:
            return self.pack.bending
        plate = plate_bending(self.plate)
        ends = ("value", "low", "high")
        return Range(*(getattr(self.pack.bending, end) + getattr(plate, end) for end in ends))


def draw_values(
    item: Item,
    thicknesses: Thicknesses,
    sheets: Sheets,
    press: Press,
    assumed: Assumed,
    *,
    rng: np.random.Generator | None,
    samples: int = 1,
) -> dict[str, Floats]:
    """Draw everything a section needs, in SI, as often as asked.

    Parameters
    ----------
    item, thicknesses, sheets, press, assumed
        What is known.
    rng : numpy.random.Generator or None
        None gives the values themselves, without doubt.
    samples : int
        How many draws; one without a generator.

    Returns
    -------
    dict of str to array (samples,)

    Notes
    -----
    Ranges are drawn as :func:`bench.physics.ranges.draw` does.  Readings give Student's t of their causes
    (JCGM 101 [gum]_); causes shared between places are drawn once.  A thickness is above nothing: draws in
    which one is not are drawn again from the others, and refused if they are more than one in forty.
    """
    draw = _Draw(rng, 1 if rng is None else samples)
    values = {
        "k1": draw.range(assumed.k1, "Pa"),
        "k2": draw.range(assumed.k2, ""),
        "reading pressure": draw.range(assumed.reading_pressure, "Pa"),
        "thinning": draw.range(assumed.thinning, ""),
        "clamped": draw.range(assumed.clamped, ""),
        "ramp": draw.range(assumed.ramp, "m"),
        "glue width": draw.range(assumed.glue_width, "m"),
        "sheet gap": draw.range(assumed.sheet_gap, "m"),
        "proud": draw.range(assumed.proud, "m"),
        "sheet": draw.range(as_range(look_up(sheets.material, "thickness")), "m"),
        "bending": _draw_bending(draw, press.bending, assumed.stiffness),
        "give": draw.range(press.pack.give, "Pa/m"),
    }
    if press.load is not None:
        values["load"] = draw.range(press.load, "Pa")
    if press.gap is not None:
        values["gap"] = draw.range(press.gap, "m")
    places = {"text block": thicknesses.text_block}
    for staple in item.staples:
        if staple.name in thicknesses.over_staples:
            places[f"{staple.name} staple"] = thicknesses.over_staples[staple.name]
    if thicknesses.fore_edge is not None:
        places["fore edge"] = thicknesses.fore_edge
    if thicknesses.spine_edge is not None:
        places["spine edge"] = thicknesses.spine_edge
    values |= draw.readings(places)
    read = [values[f"{s.name} staple"] for s in item.staples if f"{s.name} staple" in values]
    stand = sum(read[1:], start=read[0]) / len(read) if read else values["text block"]
    if item.format is Format.SHEET:
        values["spine edge"] = stand  # a sheet has no spine: nothing rises there
    elif "spine edge" not in values:
        values["spine edge"] = stand + draw.rise(assumed.spine_rise, stand)
    for staple in item.staples:
        values.setdefault(f"{staple.name} staple", stand + draw.rise(assumed.spine_rise, stand))
        added = draw.range(assumed.prong, "m")
        values[f"{staple.name} prong"] = added if staple.prong is Prong.PROUD else 0.0 * added
    return _above_nothing(values, rng)


def _above_nothing(values: dict[str, Floats], rng: np.random.Generator | None) -> dict[str, Floats]:
    """Draw again what gave a thickness that cannot be; refuse it where the doubt reaches so far."""
    read = [n for n in values if n in ("text block", "spine edge", "fore edge") or n.endswith(" staple")]
    good = np.logical_and.reduce([values[name] > 0 for name in read])
    if good.all():
        return values
    for name in read:
        column = values[name]
        if np.mean(column <= 0) > _TAIL:
            remedy = "Read again: the uncertainty is as large as the thickness"
            came = f"{float(column.min()) * 1e3:.3g} mm"
            raise BadValue(f"thickness at {name}", came, "above zero", remedy)
    rows = np.arange(len(good))
    assert rng is not None  # values without doubt are above nothing, or refused
    rows[~good] = rng.choice(rows[good], size=int((~good).sum()))
    return {name: column[rows] for name, column in values.items()}


def _draw_bending(draw: _Draw, own: Range, factor: Range | None) -> Floats:
    """Draw the bending stiffness of the pack, from what findings say of it where they do."""
    if factor is None:
        return draw.range(own, "N*m")
    return draw.range(factor, "") * own.floats("N*m", field="bending stiffness")[0]


class _Draw:
    """Draws from ranges and readings; without a generator gives the values themselves."""

    def __init__(self, rng: np.random.Generator | None, samples: int) -> None:
        self.rng, self.samples = rng, samples

    def range(self, given: Range, unit: str) -> Floats:
        value, low, high = given.floats(unit, field="range")
        if self.rng is None or low == high:
            return np.full(self.samples, value)
        return draw_range((value, low, high), self.rng.standard_normal(self.samples))

    def rise(self, given: Range, stand: Floats) -> Floats:
        """Draw how much higher a place is that was not read than one that stands so high."""
        value, low, high = given.floats("m", field="range")
        pinched = -_PINCHED * float(np.median(stand))
        if pinched <= low:
            return self.range(given, "m")
        low, high = pinched, max(high, pinched)
        return self.range(Range.of((min(max(value, low), high), low, high), "m"), "m")

    def readings(self, places: Mapping[str, Measured]) -> dict[str, Floats]:
        drawn: dict[str, Floats] = {}
        found = {}
        for place, measured in places.items():
            centre = to_float(measured.value, "m", field=f"thickness at {place}", low=1e-5, high=0.5)
            column = np.full(self.samples, centre)
            for component in () if self.rng is None else measured.components:
                if component.cause not in drawn:
                    drawn[component.cause] = self._deviate(component.dof)
                column = column + float(component.u.to("m").magnitude) * drawn[component.cause]
            found[place] = column
        return found

    def _deviate(self, dof: float) -> Floats:
        assert self.rng is not None
        if math.isinf(dof) or dof > 200:
            return self.rng.standard_normal(self.samples)
        return self.rng.standard_t(max(dof, 1.0), size=self.samples)


def sheet_mass(item: Item, sheets: Sheets) -> Quantity:
    """Give the mass of all sheets, trimmed to the page."""
    return (sheets.count * look_up(sheets.material, "grammage").value * item.area).to("g")
