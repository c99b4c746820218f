"""The look of every picture: quiet paper tones, one accent, curves safe for colour-blind eyes.

A meaning never rests on colour alone; curves carry their name beside them.
"""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from html import escape
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.text import Text

PAPER, LEAF, INK, SOFT, LINE = "#faf7f0", "#fffdf8", "#26241f", "#6d675c", "#ddd5c5"
ACCENT, GO, CARE, STOP = "#7a3b2e", "#2f6b4f", "#8a5a00", "#9c2b23"
# Okabe and Ito's set, safe for the common kinds of colour blindness.
CURVES = ("#0072b2", "#d55e00", "#009e73", "#cc79a7")

_RC: Any = {
    "svg.fonttype": "none",  # text stays text: sharp, searchable, small
    "svg.hashsalt": "bench",  # the same drawing gives the same bytes
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 9.0,
    "axes.edgecolor": LINE,
    "axes.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "grid.color": LINE,
    "grid.linewidth": 0.6,
    "text.color": INK,
    "text.parse_math": False,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
}
WIDTH = 7.2
"""Of every picture on paper, in inches."""
MARGINS = (0.62, 0.5, 0.15, 0.12)
"""Of curves with a name at either axis: left, bottom, right, top in inches."""

# What places a thing in a drawing; words, colours and widths of lines stay as they are.
_PLACES = re.compile(r'(?<= )(?:d|x|y|width|height|viewBox|transform)="[^"]*"')
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
# Hundredths of a 72nd of an inch: finer than an eye or a screen tells, coarser than noise of the arithmetic.
_DECIMALS = 2
# What matplotlib calls clips, hatches, markers and collections: made from numbers with all their noise.
_MADE_NAME = re.compile(r'(?<=["#])([hmp]|image|C[0-9a-f]+_[0-9a-f]+_)[0-9a-f]{10}(?=[")])')
FONTS = "system-ui, 'Segoe UI', Roboto, 'DejaVu Sans', sans-serif"


@dataclass(frozen=True)
class Picture:
    """A drawing and the sentence that reads it.

    Attributes
    ----------
    svg : str
        Self-contained drawing that scales with its place on the page.
    reads : str
        What a reader should see in it, in a sentence; also its description for those who do not
        see it.
    """

    svg: str
    reads: str

    def _repr_mimebundle_(self, **_: object) -> dict[str, str]:
        return {"image/svg+xml": self.svg, "text/plain": self.reads}


def new_axes(
    height: float = 2.7, *, margins: tuple[float, float, float, float] | None = None
) -> tuple[Figure, Axes]:
    """Make an empty figure in the house style, :data:`WIDTH` wide.

    Parameters
    ----------
    height : float
        In inches.
    margins : (left, bottom, right, top), optional
        In inches.  Without them the space for labels is measured, which takes as long as the drawing
        itself: name them where a picture follows a control.
    """
    with matplotlib.rc_context(_RC):
        figure = Figure(figsize=(WIDTH, height), layout=None if margins else "tight", facecolor="none")
        if margins:
            left, bottom, right, top = margins
            figure.subplots_adjust(left / WIDTH, bottom / height, 1 - right / WIDTH, 1 - top / height)
        FigureCanvasSVG(figure)
        axes = figure.add_subplot(facecolor="none")
    return figure, axes


def finish(figure: Figure, reads: str) -> Picture:
    """Turn a figure into a picture with the sentence that reads it."""
    for text in _texts(figure):  # a place or a title with dollar signs is no formula
        text.set_parse_math(False)
    buffer = io.StringIO()
    with matplotlib.rc_context(_RC):
        # Not savefig, which draws everything once more before, to no effect here.
        FigureCanvasSVG(figure).print_svg(buffer, metadata={"Date": None, "Creator": None})
    svg = buffer.getvalue()
    svg = _name_anew(_round_places(svg[svg.index("<svg") :]))
    svg = svg.replace("'DejaVu Sans', sans-serif", FONTS).replace("sans-serif, sans-serif", "sans-serif")
    start, rest = svg.split(">", 1)
    start = re.sub(r' (width|height)="[^"]*"', "", start)
    width = round(figure.get_figwidth() * 96)
    look = f' width="100%" style="max-width:{width}px;height:auto" role="img"'
    return Picture(f'{start}{look} aria-label="{escape(reads, quote=True)}">{rest}', reads)


def _texts(figure: Figure) -> Iterator[Text]:
    """Give the texts that were written so far; asking a figure for all would make every tick anew."""
    yield from figure.texts
    for axes in figure.axes:
        yield from (axes.title, axes.xaxis.label, axes.yaxis.label, *axes.texts)
        for axis in (axes.xaxis, axes.yaxis):
            for tick in (*axis.majorTicks, *axis.minorTicks):
                yield from (tick.label1, tick.label2)


def _round_places(svg: str) -> str:
    """Round what places things, so that two processors draw the same."""

    def round_number(found: re.Match[str]) -> str:
        text = f"{float(found[0]):.{_DECIMALS}f}".rstrip("0").rstrip(".")
        return "0" if text == "-0" else text

    return _PLACES.sub(lambda place: _NUMBER.sub(round_number, place[0]), svg)


def _name_anew(svg: str) -> str:
    """Name clips, hatches and markers by their order, within a name for the whole drawing.

    Several drawings stand on one page: only the same drawing may give the same names.
    """
    names: dict[str, str] = {}
    svg = _MADE_NAME.sub(lambda found: names.setdefault(found[0], f"made-{len(names)}"), svg)
    whole = hashlib.sha256(svg.encode()).hexdigest()[:8]
    return re.sub(r'(?<=["#])made-(\d+)(?=[")])', rf"p{whole}-\1", svg)


def point_to_curve(
    axes: Axes, point: tuple[float, float], place: tuple[float, float], text: str, color: str
) -> None:
    """Write a curve's name in an empty corner (a share of the axes), with a line to a point of the curve."""
    axes.annotate(
        text,
        point,
        xytext=place,
        textcoords="axes fraction",
        color=color,
        fontsize=8.5,
        va="center",
        arrowprops={"arrowstyle": "-", "color": color, "linewidth": 0.7, "shrinkA": 2, "shrinkB": 0},
    )


def frame_curves(axes: Axes, x: str, y: str) -> None:
    """Name both axes of curves, and frame them with lines to read values by."""
    axes.set_xlabel(x)
    axes.set_ylabel(y)
    plain_frame(axes)
    axes.grid(True, axis="y", color=LINE)
    axes.tick_params(colors=INK)


def plain_frame(axes: Axes, sides: Iterable[str] = ("left", "bottom")) -> None:
    """Leave only the named sides of the frame, and no grid."""
    for side, spine in axes.spines.items():
        spine.set_visible(side in sides)
    axes.grid(False)
