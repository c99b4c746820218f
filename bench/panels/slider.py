"""A whole number on a rail, with a field beside it for the number itself."""

from __future__ import annotations

import anywidget
import traitlets

from bench.panels.assets import read_asset


class Slider(anywidget.AnyWidget):
    """Shows a number on a rail and in a field; what is typed is kept as it is, also beyond the rail.

    Attributes
    ----------
    value : int or str
        The number; text where what was typed is no whole number.
    min, max : int
        Ends of the rail.
    description : str
        The words before it, which are also its name for a screen reader.
    """

    _esm = read_asset("slider.js")
    value = traitlets.Union([traitlets.Int(), traitlets.Unicode()]).tag(sync=True)
    min = traitlets.Int().tag(sync=True)
    max = traitlets.Int().tag(sync=True)
    description = traitlets.Unicode().tag(sync=True)
