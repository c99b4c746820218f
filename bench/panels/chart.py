"""A picture that answers the hand: its description goes to the page as data, the page draws it."""

from __future__ import annotations

from collections.abc import Callable
from importlib import resources
from typing import Any, TypeAlias

import anywidget
import traitlets

from bench.figures.chart import Chart
from bench.figures.marks import Choose, Pick
from bench.figures.screen import draw_on_screen
from bench.panels.assets import read_asset

OnPick: TypeAlias = Callable[[Pick | Choose, Any], None]
_VIEW = "application/vnd.jupyter.widget-view+json"


class ChartView(anywidget.AnyWidget):
    """Shows one chart at a time.

    Attributes
    ----------
    spec : dict
        Of :func:`bench.figures.screen.draw_on_screen`.
    reads : str
        The sentence beneath.
    picked : list of (float or str, int)
        What was last picked on the picture, and how much was picked so far.
    """

    _esm = read_asset("chart.js")
    _css = read_asset("chart.css")
    spec = traitlets.Dict().tag(sync=True)
    reads = traitlets.Unicode().tag(sync=True)
    picked = traitlets.List([None, 0]).tag(sync=True)

    def __init__(self, chart: Chart | None = None, *, on_pick: OnPick | None = None):
        super().__init__()
        self._chart: Chart | None = None
        self._kept: Chart | None = None
        self._on_pick = on_pick
        self.on_msg(self._send_library)
        self.observe(self._pick, names="picked")
        if chart is not None:
            self.show(chart)

    @property
    def chart(self) -> Chart | None:
        """What is shown."""
        return self._chart

    def show(self, chart: Chart, *, kept: Chart | None = None) -> None:
        """Show a chart, in place of the one before; what is the same is not sent again."""
        if (chart, kept) == (self._chart, self._kept) and self.spec:
            return
        self._chart, self._kept = chart, kept
        spec = draw_on_screen(chart, kept=kept)
        if self._on_pick is None:
            spec["pick"] = None
        with self.hold_sync():
            self.spec, self.reads = spec, chart.reads

    def _pick(self, change: Any) -> None:
        value, chart = change["new"][0], self._chart
        if value is None or chart is None or self._on_pick is None:
            return
        if isinstance(chart.pick, Pick):
            self._on_pick(chart.pick, chart.pick.round(float(value)))
        elif isinstance(chart.pick, Choose):
            self._on_pick(chart.pick, str(value))

    def _send_library(self, _: object, words: object, buffers: object) -> None:
        """Send plotly to a page whose server does not have it."""
        script = resources.files("plotly").joinpath("package_data", "plotly.min.js")
        self.send({"library": "plotly"}, buffers=[script.read_bytes()])


def show_charts(shell: Any) -> None:
    """Have a shell of IPython show charts live; without widgets a page still has the drawing on paper."""
    shell.display_formatter.mimebundle_formatter.for_type(Chart, _show)


def _show(chart: Chart, **_: object) -> dict[str, Any]:
    live = {"version_major": 2, "version_minor": 0, "model_id": ChartView(chart).model_id}
    return {**chart._repr_mimebundle_(), _VIEW: live}
