"""Surfaces of an item to be cleaned: how large, how soiled, and where gain would be seen."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from bench.errors import BadValue
from bench.item import Format, Item
from bench.treatment.intake.condition_terms import Help
from bench.treatment.intake.defects import Defect, say_defect
from bench.units import Quantity


class Surface(StrEnum):
    """The surfaces of an item, in the order in which they are cleaned."""

    EDGES = "edges"
    SPINE = "spine"
    COVER_OUTSIDE = "cover, outside"
    COVER_INSIDE = "cover, inside"
    LEAVES = "leaves"

    @property
    def spoken(self) -> str:
        """The surface as it stands in a sentence."""
        place, _, side = self.value.partition(", ")
        return f"the {side} of the {place}" if side else f"the {place}"


GAINS = ("none", "hardly any", "some", "plain")
# Soil (0 to 3) times the unprinted light share of the surface: common practice, no source.
SOME_GAIN, PLAIN_GAIN = 0.3, 1.0


@dataclass(frozen=True)
class SurfaceState:
    """One surface as it looks before cleaning.

    Attributes
    ----------
    surface : Surface
        Which of them it is.
    soil : int
        0 none, 1 just visible, 2 plain, 3 heavy.
    share : float
        Share of the surface that is to be cleaned, 0 to 1.
    unprinted : float
        Share of it that is unprinted and light, 0 to 1; soil shows most there.
    """

    surface: Surface
    soil: int
    share: float = 1.0
    unprinted: float = 0.2

    def __post_init__(self) -> None:
        name = self.surface.value
        if self.soil not in (0, 1, 2, 3):
            allowed = "0 none, 1 just visible, 2 plain or 3 heavy"
            raise BadValue(f"soil of {name}", self.soil, allowed, "Choose one of these")
        for label, value in (("share to clean", self.share), ("unprinted share", self.unprinted)):
            if not 0.0 <= value <= 1.0:
                came = f"{100 * value:g} %"
                raise BadValue(f"{label} of {name}", came, "0 to 100 %", "Estimate the share by eye")

    @property
    def gain(self) -> str:
        """What could be seen to gain, in a word of :data:`GAINS`."""
        shows = self.soil * self.unprinted
        if self.soil == 0 or self.share == 0:
            return "none"
        return "plain" if shows >= PLAIN_GAIN else "some" if shows >= SOME_GAIN else "hardly any"


def surface_area(item: Item, surface: Surface, thickness: Quantity) -> Quantity:
    """Give the whole area of a surface.

    Parameters
    ----------
    item : Item
        Its size, leaves and format give the areas.
    surface : Surface
        Cover: two faces outside and two inside; leaves: both faces of each; edges: head, tail and
        fore edge of the closed item; spine: its back.
    thickness : Quantity [length]
        Of the closed item.

    Returns
    -------
    Quantity [cm**2]

    Examples
    --------
    >>> from bench.units import Q_
    >>> page = Item("A", Format.SHEET, Q_(100, "mm"), Q_(200, "mm"), 1, cover_leaves=0)
    >>> print(f"{surface_area(page, Surface.LEAVES, Q_(0.1, 'mm')):.0f~P}")
    400 cm²
    """
    face, width, height = item.width * item.height, item.width, item.height
    areas = {
        Surface.COVER_OUTSIDE: item.cover_leaves * face,
        Surface.COVER_INSIDE: item.cover_leaves * face,
        Surface.LEAVES: 2 * item.leaves * face,
        Surface.EDGES: (2 * width + height) * thickness,
        Surface.SPINE: height * thickness if item.format is not Format.SHEET else 0 * face,
    }
    return areas[surface].to("cm^2")


def surfaces_of(item: Item) -> tuple[Surface, ...]:
    """Give the surfaces that an item has; of a sheet its two faces."""
    if item.format is Format.SHEET:
        return (Surface.LEAVES,)
    covers = (Surface.COVER_OUTSIDE, Surface.COVER_INSIDE)
    return tuple(s for s in Surface if item.cover_leaves or s not in covers)


@dataclass(frozen=True)
class Soiled:
    """What is listed as soiled on one surface.

    Attributes
    ----------
    soil : int
        The worst grade among the defects there.
    share : float
        Their boxes over the whole surface, in full per cent, 0.01 to 1.
    words : str
        The defects by id, term and place.
    """

    soil: int
    share: float
    words: str


def find_soiled(item: Item, defects: Iterable[Defect], thickness: Quantity) -> dict[Surface, Soiled]:
    """Find the surfaces on which a defect is listed that dry cleaning could help.

    Parameters
    ----------
    item : Item
        The one the defects are on.
    defects : iterable of Defect
        As graded now.  What is out of scope, or not there any more, is left out.
    thickness : Quantity [length]
        Of the closed item, for the areas of edges and spine.

    Notes
    -----
    Foxing, stains and tidelines do not come off dry and are not counted, unless the operator said of one
    that cleaning helps it.
    """
    found: dict[Surface, list[Defect]] = {}
    for defect in defects:
        if defect.help is Help.CLEAN and defect.in_scope and defect.severity:
            found.setdefault(_surface_under(item, defect.face), []).append(defect)
    return {
        surface: Soiled(
            soil=max(defect.severity for defect in listed),
            share=_share(listed, surface_area(item, surface, thickness)),
            words="; ".join(say_defect(defect) for defect in listed),
        )
        for surface, listed in found.items()
    }


def _surface_under(item: Item, face: str) -> Surface:
    """Give the surface that a face belongs to; an edge of a sheet belongs to its faces."""
    if "cover" in face:
        return Surface.COVER_OUTSIDE if face.endswith("outside") else Surface.COVER_INSIDE
    surface = Surface.EDGES if face.endswith("edge") else Surface.SPINE if face == "spine" else Surface.LEAVES
    return surface if surface in surfaces_of(item) else Surface.LEAVES


def _share(listed: Iterable[Defect], whole: Quantity) -> float:
    boxes = sum(float(defect.area.to("cm^2").magnitude) for defect in listed)
    percent = math.ceil(100 * boxes / float(whole.to("cm^2").magnitude) - 1e-9)
    return min(max(percent, 1), 100) / 100
