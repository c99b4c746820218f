"""A whole number on a rail, with a field beside it for the number itself."""

from __future__ import annotations

import re
from typing import Any

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

    @traitlets.validate("value")
    def _read(self, proposal: Any) -> int | str:
        """Take digits for the number that they write."""
        value: int | str = proposal["value"]
        is_number = isinstance(value, str) and re.fullmatch(r"\s*-?[0-9]{1,6}\s*", value)
        return int(value) if is_number else value
