"""What a picture is described with: axes, curves with bands, points with intervals, lines with words.

Numbers are plain, in the unit that their axis names.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.figures.style import INK, SOFT
from bench.uncertainty import Measured
from bench.units import Quantity, difference_unit

Numbers: TypeAlias = Sequence[float] | NDArray[np.float64]
"""A series as it comes; a curve keeps it as a tuple."""

Place: TypeAlias = tuple[float, float, float]
"""Where on paper the name of a curve stands: pointed to at this share of its length, from this place in
shares of the width and of the height."""


class Dash(StrEnum):
    """How a line is broken, so that its colour is never needed."""

    SOLID = "solid"
    DASHED = "dash"
    DOTTED = "dot"
    DASH_DOTTED = "dashdot"


class Hatch(StrEnum):
    """How an area is hatched, so that its colour is never needed; signs that matplotlib and plotly share."""

    NONE = ""
    RISING = "/"
    FALLING = "\\"
    LEVEL = "-"
    CROSSED = "x"
    SQUARED = "+"


class Shape(StrEnum):
    """The shape of a point, so that its colour is never needed."""

    DOT = "dot"
    RING = "ring"
    SQUARE = "square"
    OPEN_SQUARE = "open square"
    DIAMOND = "diamond"
    TRIANGLE = "triangle"


@dataclass(frozen=True)
class Axis:
    """What is counted along one side of a picture.

    Attributes
    ----------
    title : str
        With its unit.
    unit : str
        As it stands behind a number that is read off.
    low, high : float or None
        Ends; None leaves them to the numbers.
    digits : int
        Behind the point, where a number is read off.
    ticks : tuple of (float, str)
        Places with words in place of numbers.
    is_log : bool
        Whether its steps are powers of ten.
    is_bare : bool
        Without line, ticks and numbers: what is drawn to scale is not read off here.
    """

    title: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    digits: int = 0
    ticks: tuple[tuple[float, str], ...] = ()
    is_log: bool = False
    is_bare: bool = False

    def __post_init__(self) -> None:
        ends = [end for end in (self.low, self.high) if end is not None]
        _check_finite(f"ends of the axis “{self.title}”", ends)
        if len(ends) == 2 and ends[0] >= ends[1]:
            raise refuse(f"axis “{self.title}”", f"{ends[0]:g} to {ends[1]:g}", "a low end below a high one")

    def say(self, value: float) -> str:
        """Write a number as it is read off this axis."""
        return f"{self.bare(value)} {self.unit}".strip()

    def bare(self, value: float) -> str:
        """Write a number without its unit."""
        text = f"{value:.{self.digits}f}"
        return text.lstrip("-") if float(text) == 0 else text.replace("-", "−")


@dataclass(frozen=True)
class Curve:
    """A named curve; with ``low`` and ``high`` it has a band.

    Attributes
    ----------
    name : str
        Written beside it on paper, and by which it is put aside on the screen.
    x, y : sequence of float
        Two points or more, along the axis from left to right.
    color : str
        As a page takes it, ``"#0072b2"``.
    dash : Dash
        Told apart by it in grey too.
    low, high : sequence of float or None
        Ends of the interval at every point.
    place : Place or None
        Of the name on paper; None writes it at the end of the curve.
    """

    name: str
    x: Numbers
    y: Numbers
    color: str
    dash: Dash = Dash.SOLID
    low: Numbers | None = None
    high: Numbers | None = None
    place: Place | None = None

    def __post_init__(self) -> None:
        _keep_numbers(self, "x", "y", "low", "high")
        what = f"curve “{self.name}”"
        if len(self.x) < 2:
            raise refuse(what, f"{len(self.x)} points", "two points or more")
        _check_lengths(what, len(self.x), (self.y, self.low, self.high))
        _check_finite(what, self.x)
        if any(after < before for before, after in zip(self.x, self.x[1:], strict=False)):
            raise refuse(what, "points that go back", "points from left to right")
        _check_band(what, self.y, self.low, self.high)


@dataclass(frozen=True)
class Points:
    """Points of one kind, each with its interval across or upright.

    Attributes
    ----------
    name : str
        Said where a point is pointed at.
    x, y : sequence of float
        Any number of them, in any order.
    color : str
        As a page takes it.
    shape : Shape
        Told apart by it in grey too.
    low, high : sequence of float or None
        Ends of the interval upright.
    left, right : sequence of float or None
        Ends of the interval across.
    words : tuple of str
        Written beside the points; empty for none.
    is_joined : bool
        Whether a thin line joins them.
    hover : tuple of str
        What is said at the points in place of name and value; empty for these.
    of : str
        Name of the curve that they belong to, and are put aside with; empty if they stand for themselves.
    is_read : bool
        Whether their values mean something; not those of marks that only stand on an axis.
    """

    name: str
    x: Numbers
    y: Numbers
    color: str = INK
    shape: Shape = Shape.DOT
    low: Numbers | None = None
    high: Numbers | None = None
    left: Numbers | None = None
    right: Numbers | None = None
    words: tuple[str, ...] = ()
    is_joined: bool = False
    hover: tuple[str, ...] = ()
    of: str = ""
    is_read: bool = True

    def __post_init__(self) -> None:
        _keep_numbers(self, "x", "y", "low", "high", "left", "right")
        what = f"points “{self.name}”"
        _check_lengths(what, len(self.x), (self.y, self.low, self.high, self.left, self.right))
        _check_finite(what, self.x)
        _check_band(what, self.y, self.low, self.high)
        _check_band(what, self.x, self.left, self.right)
        for words in (self.words, self.hover):
            if words and len(words) != len(self.x):
                raise refuse(what, f"{len(words)} words", f"{len(self.x)}, one a point")


@dataclass(frozen=True)
class Rule:
    """A line through the picture at one value, with its words.

    Attributes
    ----------
    at : float
        The value.
    words : str
        Beside it; empty for none.
    color : str
        Of line and words.
    is_upright : bool
        At a value of the axis below; else of the axis at the side.
    dash : Dash
        How the line is broken.
    is_choice : bool
        Whether it is what the operator chose: on the screen it can be dragged.
    """

    at: float
    words: str = ""
    color: str = SOFT
    is_upright: bool = False
    dash: Dash = Dash.SOLID
    is_choice: bool = False

    def __post_init__(self) -> None:
        _check_finite(f"line “{self.words}”", (self.at,))


@dataclass(frozen=True)
class Region:
    """An area drawn to scale, such as a layer of a stack.

    Attributes
    ----------
    x, y : sequence of float
        Its corners, in turn; three or more.
    face, edge : str
        Colours; none where it is empty.  Without either it only answers the hand.
    says : str
        What it is, for the hand that points at it.
    hatch : Hatch
        In the colour of the edge.
    chooses : str
        What a click on it chooses in the control of the picture; empty for nothing.
    width : float
        Of the edge, in 72nds of an inch.
    dash : Dash
        Of the edge.
    """

    x: Numbers
    y: Numbers
    face: str
    edge: str = ""
    says: str = ""
    hatch: Hatch = Hatch.NONE
    chooses: str = ""
    width: float = 0.8
    dash: Dash = Dash.SOLID

    def __post_init__(self) -> None:
        _keep_numbers(self, "x", "y")
        what = f"region “{self.says}”"
        if len(self.x) < 3:
            raise refuse(what, f"{len(self.x)} corners", "three corners or more")
        _check_lengths(what, len(self.x), (self.y,))
        _check_finite(what, (*self.x, *self.y))

    @staticmethod
    def between(low: tuple[float, float], high: tuple[float, float], face: str, **more: Any) -> Region:
        """Give a rectangle by two opposite corners."""
        (x0, y0), (x1, y1) = low, high
        return Region((x0, x1, x1, x0), (y0, y0, y1, y1), face, **more)


@dataclass(frozen=True)
class Line:
    """A thin line from place to place; nothing is read off it.

    Attributes
    ----------
    x, y : sequence of float
        Two places or more.
    color : str
        As a page takes it.
    width : float
        In 72nds of an inch.
    dash : Dash
        How it is broken.
    """

    x: Numbers
    y: Numbers
    color: str
    width: float = 0.8
    dash: Dash = Dash.SOLID

    def __post_init__(self) -> None:
        _keep_numbers(self, "x", "y")
        if len(self.x) < 2:
            raise refuse("line", f"{len(self.x)} places", "two places or more")
        _check_lengths("line", len(self.x), (self.y,))
        _check_finite("line", (*self.x, *self.y))


class Anchor(StrEnum):
    """Which part of the words lies at their place; matplotlib and plotly call it by the same names."""

    BEGIN = "left"
    MIDDLE = "center"
    END = "right"


@dataclass(frozen=True)
class Words:
    """Words at a place of the picture.

    Attributes
    ----------
    x, y : float
        The place.
    words : str
        One line or several.
    color : str
        As a page takes it.
    anchor : Anchor
        Which part of them lies at the place.
    is_upright : bool
        Whether they are read from below.
    ground : str
        Colour beneath them, where they would be hard to read over what is drawn; empty for none.
    """

    x: float
    y: float
    words: str
    color: str = SOFT
    anchor: Anchor = Anchor.BEGIN
    is_upright: bool = False
    ground: str = ""

    def __post_init__(self) -> None:
        _check_finite(f"words “{self.words}”", (self.x, self.y))


@dataclass(frozen=True)
class Pick:
    """The control that a click or a drag on the picture sets.

    Attributes
    ----------
    field : str
        Its key in the panel.
    unit : str
        Of the number that is picked, as the axis below counts it.
    low, high : float
        What the control can be set to, whatever the picture shows now: it changes while a hand drags.
    what : str
        Is set, in words.
    step : float
        To which a picked number is rounded.
    """

    field: str
    unit: str
    low: float
    high: float
    what: str
    step: float = 1.0

    def round(self, value: float) -> float:
        """Bring a picked number to a step within what can be picked."""
        return min(max(self.step * round(value / self.step), self.low), self.high)


@dataclass(frozen=True)
class Choose:
    """The control that takes what a clicked region stands for.

    Attributes
    ----------
    field : str
        Its key in the panel.
    what : str
        Is done by a click, in words.
    """

    field: str
    what: str


Part: TypeAlias = Curve | Points | Rule | Region | Line | Words


def plain(quantity: Quantity, unit: str) -> float:
    """Give a quantity as the plain number that an axis counts in its unit."""
    return float(quantity.to(unit).magnitude)


def around(values: Numbers, spreads: Numbers) -> tuple[list[float], list[float]]:
    """Give the low and the high ends of intervals about values."""
    pairs = list(zip(values, spreads, strict=True))
    return [value - spread for value, spread in pairs], [value + spread for value, spread in pairs]


def with_ends(measured: Sequence[Measured], unit: str) -> tuple[list[float], list[float], list[float]]:
    """Give measured values as an axis counts them, with the low and the high ends of their 95 %."""
    values = [plain(each.value, unit) for each in measured]
    spreads = [plain(each.expanded(), difference_unit(unit)) for each in measured]
    return values, *around(values, spreads)


def reach(middle: Numbers, low: Numbers, high: Numbers) -> tuple[list[float], list[float]]:
    """Give how far intervals reach down and up from their values; noise of the last digit is no reach."""
    down = [max(0.0, value - bottom) for value, bottom in zip(middle, low, strict=True)]
    return down, [max(0.0, top - value) for value, top in zip(middle, high, strict=True)]


def _keep_numbers(part: Curve | Points | Region | Line, *names: str) -> None:
    """Keep series as tuples of plain numbers: two pictures that show the same are equal."""
    for name in names:
        values = getattr(part, name)
        if values is not None:
            object.__setattr__(part, name, tuple(float(value) for value in values))


def refuse(what: str, came: str, allowed: str) -> BadValue:
    """Give the error for what cannot be drawn; it names the mark, not a field, for no entry is at fault."""
    return BadValue(what, came, allowed, "This is a fault of the workbook: tell its makers what was planned")


def _check_finite(what: str, numbers: Numbers) -> None:
    wrong = [number for number in numbers if not math.isfinite(number)]
    if wrong:
        raise refuse(what, f"{wrong[0]}", "finite numbers")


def _check_lengths(what: str, length: int, others: Sequence[Numbers | None]) -> None:
    for other in others:
        if other is not None and len(other) != length:
            raise refuse(what, f"{length} beside {len(other)} numbers", "as many of each")


def _check_band(what: str, middle: Numbers, low: Numbers | None, high: Numbers | None) -> None:
    _check_finite(what, middle)
    if (low is None) != (high is None):
        raise refuse(what, "one end of an interval", "both ends or none")
    if low is None or high is None:
        return
    _check_finite(what, low)
    _check_finite(what, high)
    for bottom, value, top in zip(low, middle, high, strict=True):
        noise = 1e-9 * max(abs(bottom), abs(top), 1e-12)
        if not bottom - noise <= value <= top + noise:
            raise refuse(what, f"{value:g} outside {bottom:g} to {top:g}", "an interval about its value")
