"""What is asked of a board that is clamped at one edge: its sizes and masses, and the heights of its tip."""

from __future__ import annotations

from bench.treatment.needed import Instrument, instruments_for
from bench.trials.protocol import Asked
from bench.units import Q_

_RULE = instruments_for("width")[1]
_BALANCE = instruments_for("mass")[0]
_HEIGHTS = Instrument("steel rule, upright", Q_(0.3, "mm"), Q_(0.5, "mm"))

FREE = Asked(
    "free", "Free length", "mm", 20, 600, 3, usual=150, tool=_RULE, group="The board", hint="clamp to tip"
)
LENGTH = Asked("length", "Whole length, the same way", "mm", 30, 1500, 3, tool=_RULE)
WIDTH = Asked("width", "Width, along the clamp", "mm", 10, 1500, 3, tool=_RULE)
MASS = Asked("mass", "Mass of the board", "g", 0.2, 3000, 3, tool=_BALANCE)
THICKNESS = Asked(
    "thickness", "Thickness", "thickness", 0.05, 10, 5, is_optional=True, tool=instruments_for("thickness")[0]
)
TIP_MASS = Asked(
    "tip_mass",
    "Small mass for the tip",
    "g",
    0.2,
    2000,
    3,
    tool=_BALANCE,
    hint="coins in a fold of paper, along the tip",
)


def _height(key: str, label: str, group: str = "", *, is_optional: bool = False, hint: str = "") -> Asked:
    return Asked(key, label, "mm", 0, 1500, 5, is_optional=is_optional, tool=_HEIGHTS, group=group, hint=hint)


EDGE = _height("edge", "Height of the board at the clamp", "Heights over the floor", hint="its lower face")
UP = _height("up", "Height of the tip", hint="the same face up; lower face, middle of the tip")
UP_LOADED = _height("up_loaded", "Height of the tip with the small mass")
DOWN = _height("down", "Height of the tip, board turned over", hint="turning cancels its warp")
DOWN_LOADED = _height("down_loaded", "The same with the small mass", is_optional=True)
ACROSS = _height(
    "quarter",
    "Height of the tip, board turned by a quarter",
    "The other way, to know what a mistake costs",
    is_optional=True,
    hint="cut a strip so, with the same free length",
)
ACROSS_LOADED = _height("quarter_loaded", "The same with the small mass", is_optional=True)
ACROSS_WIDTH = Asked(
    "quarter_width",
    "Width of that strip",
    "mm",
    10,
    1500,
    3,
    is_optional=True,
    tool=_RULE,
    hint="empty: as wide",
)
TIPS = (UP, UP_LOADED, DOWN, DOWN_LOADED)
ASKED = (
    FREE,
    LENGTH,
    WIDTH,
    MASS,
    THICKNESS,
    TIP_MASS,
    EDGE,
    UP,
    UP_LOADED,
    DOWN,
    DOWN_LOADED,
    ACROSS,
    ACROSS_LOADED,
    ACROSS_WIDTH,
)
