"""Draw an invented item: what is true of it, and what a learner reads of it.

The same learner, exercise and attempt give the same item, on every machine; another learner gets another.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bench.item import Answer, Format, Item, Staple, Thicknesses
from bench.physics.arrays import Floats
from bench.treatment.measured import NOTHING_MEASURED, MeasuredHere
from bench.treatment.needed import instruments_for
from bench.uncertainty import Measured, estimate_from_readings
from bench.units import Q_

_FIRST = ("Larkspur", "Copperfold", "Winterquay", "Mossgate", "Harrowbell", "Quillmarsh", "Emberstile")
_SECOND = ("Almanac", "Signal", "Miscellany", "Lantern", "Gazette", "Companion", "Reader", "Mystery")
"""Titles are invented."""

_GLUES = ("EVA hot melt", "animal glue")
_LEAF_MM = (0.098, 0.132)  # of a leaf in a fluffed block: common practice, no source
_SCATTER_MM = 0.012  # of careful caliper readings at one place
_TIMES = 5  # readings at a place


def seed_of(learner: str, exercise: str, attempt: int) -> int:
    """Give the seed of an attempt: the name as it is written, letters large or small.

    Examples
    --------
    >>> seed_of("Ada Marsh", "far-leaf", 2) == seed_of("ada marsh", "far-leaf", 2)
    True
    >>> seed_of("Ada Marsh", "far-leaf", 2) == seed_of("Bo Marsh", "far-leaf", 2)
    False
    """
    words = f"{learner.strip().casefold()}|{exercise}|{attempt}"
    return int.from_bytes(hashlib.sha256(words.encode("utf-8")).digest()[:6], "big")


@dataclass(frozen=True)
class Drawn:
    """An invented item.

    Attributes
    ----------
    item : Item
        As it would be described, without a fault.
    true_mm : mapping of str to float
        What is true: thickness of ``"text block"``, ``"upper staple"``, ...; the learner never sees it.
    read_mm : mapping of str to tuple of float
        What a caliper showed at the same places.
    rng : numpy.random.Generator
        For what a marker draws besides, such as a chamber.
    level : int
        0 for a worked example, 1 for a half-worked one, 2 and more alone, each a little harder.
    measured : MeasuredHere
        What a bench measured of itself, where the teacher has it used.
    """

    item: Item
    true_mm: Mapping[str, float]
    read_mm: Mapping[str, tuple[float, ...]]
    rng: np.random.Generator
    level: int
    measured: MeasuredHere = NOTHING_MEASURED

    @property
    def thicknesses(self) -> Thicknesses:
        """Thicknesses with their uncertainty, from what was read."""
        read = {place: self.measure(place) for place in self.read_mm}
        return Thicknesses(
            text_block=read["text block"],
            over_staples={
                staple.name: read[f"{staple.name} staple"]
                for staple in self.item.staples
                if f"{staple.name} staple" in read
            },
            spine_edge=read.get("spine edge"),
        )

    def measure(self, place: str) -> Measured:
        """Give what was read at a place with its uncertainty."""
        caliper = instruments_for("thickness")[0]
        return estimate_from_readings(
            [Q_(value, "mm") for value in self.read_mm[place]],
            place=place,
            instrument_limit=caliper.limit,
            resolution=caliper.step,
            source=caliper.name,
        )

    def say_read(self, place: str) -> str:
        """Write the readings at a place as a notebook of a bench has them."""
        return " ".join(f"{value:.2f}" for value in self.read_mm[place]) + " mm"

    @property
    def look(self) -> tuple[tuple[str, str], ...]:
        """What is seen of the item at once: format, size, paper, cover, glue, staples."""
        item = self.item
        cover = "no cover of its own" if not item.cover_leaves else f"{item.cover_paper}"
        rows = [
            ("format", f"{item.format}"),
            ("size", f"{item.width.to('mm').magnitude:.0f} by {item.height.to('mm').magnitude:.0f} mm"),
            ("text paper", item.text_paper),
            ("cover", cover),
        ]
        if item.format in (Format.SIDE_STAPLED, Format.GLUED):
            rows.append(("glue of the spine", item.glue))
        if item.staples:
            rows.append(("staples", ", ".join(staple.name for staple in item.staples)))
        return tuple(rows)


KINDS: dict[str, tuple[Format, ...]] = {
    "any": (Format.SIDE_STAPLED, Format.SADDLE_STITCHED, Format.GLUED),
    "stapled": (Format.SIDE_STAPLED, Format.SADDLE_STITCHED),
    "side-stapled": (Format.SIDE_STAPLED,),
    "saddle-stitched": (Format.SADDLE_STITCHED,),
    "glued": (Format.GLUED,),
    "square-bound": (Format.SIDE_STAPLED, Format.GLUED),
}
"""Kinds of item that an exercise may ask for."""


def draw_item(kind: str, seed: int, *, level: int = 0, measured: MeasuredHere = NOTHING_MEASURED) -> Drawn:
    """Draw an item of a kind with readings that fit it.

    Parameters
    ----------
    kind : str
        One of :data:`KINDS`.
    seed : int
        As :func:`seed_of` gives it.
    level : int
        Of the attempt; from 3 on counts are odd and staples differ more.
    measured : MeasuredHere
        What a bench measured of itself, where it is to be used.
    """
    rng = np.random.default_rng(seed)
    format_ = KINDS[kind][int(rng.integers(len(KINDS[kind])))]
    leaves = _draw_leaves(format_, level, rng)
    staples = _draw_staples(format_, rng)
    item = Item(
        title=f"{rng.choice(_FIRST)} {rng.choice(_SECOND)}, no. {rng.integers(2, 90)}",
        format=format_,
        width=Q_(float(rng.integers(155, 215)), "mm"),
        height=Q_(float(rng.integers(235, 290)), "mm"),
        leaves=leaves,
        cover_paper="coated cover",
        cover_coated=Answer.YES,
        glue="none" if format_ is Format.SADDLE_STITCHED else str(rng.choice(_GLUES)),
        staples=staples,
    )
    block = leaves * float(rng.uniform(*_LEAF_MM))
    true = {"text block": block}
    for number, staple in enumerate(staples):
        rise = float(rng.uniform(0.06, 0.24)) * (1.0 if number == 0 else float(rng.uniform(-0.4, 0.55)))
        true[f"{staple.name} staple"] = block + rise
    read = {place: _read(value, rng) for place, value in _shuffled(true, rng).items()}
    return Drawn(item, true, read, rng, level, measured)


def _draw_leaves(format_: Format, level: int, rng: np.random.Generator) -> int:
    if format_ is Format.SADDLE_STITCHED:
        return 2 * int(rng.integers(8, 20))
    leaves = 2 * int(rng.integers(16, 48))
    return leaves + 1 if level >= 3 else leaves


def _draw_staples(format_: Format, rng: np.random.Generator) -> tuple[Staple, ...]:
    if format_ is Format.GLUED:
        return ()
    side = 0.0 if format_ is Format.SADDLE_STITCHED else float(rng.integers(5, 10))
    upper, lower = float(rng.integers(40, 75)), float(rng.integers(165, 205))
    return (
        Staple("upper", Q_(upper, "mm"), Q_(side, "mm")),
        Staple("lower", Q_(lower, "mm"), Q_(side, "mm")),
    )


def _shuffled(true: dict[str, float], rng: np.random.Generator) -> dict[str, float]:
    """Let now the upper and now the lower staple stand higher."""
    if len(true) < 3 or rng.random() < 0.5:
        return true
    swapped = dict(true)
    swapped["upper staple"], swapped["lower staple"] = true["lower staple"], true["upper staple"]
    true |= swapped
    return true


def _read(value: float, rng: np.random.Generator) -> tuple[float, ...]:
    shown: Floats = value + _SCATTER_MM * rng.standard_normal(_TIMES)
    return tuple(round(float(each), 2) for each in shown)
