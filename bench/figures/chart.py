"""A picture described once, as data: on paper an SVG, on the screen what answers the hand.

:mod:`bench.figures.paper` draws it for print and for what a notebook stores, and
:mod:`bench.figures.screen` for the screen.  Both show the same numbers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from bench.figures.marks import Axis, Choose, Curve, Part, Pick, Points, Region, Rule, Words, refuse
from bench.figures.paper import draw_on_paper


@dataclass(frozen=True)
class Chart:
    """One picture.

    Attributes
    ----------
    x, y : Axis
        Below and at the side.
    parts : tuple of Curve, Points, Rule, Region, Line or Words
        Drawn in this order.
    reads : str
        The sentence that reads it; also its description for those who do not see it.
    height : float
        On paper, in inches.
    margins : (float, float, float, float) or None
        On paper, in inches: left, bottom, right, top; None takes the usual ones.
    pick : Pick, Choose or None
        What a click sets.
    is_to_scale : bool
        Whether a step along one axis is as long as the same along the other.
    key : tuple of (Region or Points, Words)
        What the shapes mean: on paper at their places, on the screen in a line beneath.
    is_past : bool
        Whether it shows what is over: nothing is set in it, and no other answer is laid over it.
    """

    x: Axis
    y: Axis
    parts: tuple[Part, ...]
    reads: str
    height: float = 2.7
    margins: tuple[float, float, float, float] | None = None
    pick: Pick | Choose | None = None
    is_to_scale: bool = False
    key: tuple[tuple[Region | Points, Words], ...] = ()
    is_past: bool = False

    def __post_init__(self) -> None:
        if not self.reads.strip():
            raise refuse(f"picture of {self.y.title}", "no sentence", "a sentence that reads it")
        if not any(isinstance(part, Curve | Points | Region) and len(part.x) for part in self.parts):
            raise refuse(f"picture of {self.y.title}", "nothing to draw", "a curve, points or a region")
        if self.y.is_log and any(value <= 0 for part in self.parts for value in _heights(part)):
            raise refuse(f"picture of {self.y.title}", "zero or less", "numbers above zero")

    def as_past(self) -> Chart:
        """Give it as a picture of what is over."""
        return replace(self, pick=None, is_past=True)

    @property
    def svg(self) -> str:
        """The drawing on paper, self-contained."""
        drawn = draw_on_paper(
            self.x,
            self.y,
            (*self.parts, *(part for pair in self.key for part in pair)),
            self.reads,
            height=self.height,
            margins=self.margins,
            is_to_scale=self.is_to_scale,
        )
        return drawn.svg

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        return {"image/svg+xml": self.svg, "text/plain": self.reads}

    @property
    def curves(self) -> tuple[Curve, ...]:
        """The curves alone."""
        return tuple(part for part in self.parts if isinstance(part, Curve))


def _heights(part: Part) -> Iterator[float]:
    if isinstance(part, Rule):
        if not part.is_upright:
            yield part.at
        return
    if isinstance(part, Words):
        yield part.y
        return
    yield from part.y
    if isinstance(part, Curve | Points) and part.low is not None:
        yield from part.low
