"""A single sheet and a very thin issue go through every panel that plans with thicknesses."""

import pytest

from bench.panels.buffering import build_buffering_panel
from bench.panels.humidity import build_humidity_panel
from bench.panels.pressing import build_pressing_panel
from tests.panels.test_stage_panels import make


@pytest.mark.parametrize(
    ("format_", "pages"), [("saddle-stitched", 16), ("single or folded sheet", 2)], ids=["issue", "sheet"]
)
def test_five_thousandths_are_planned_all_the_way(tmp_path, format_, pages):
    thin = {"cover_leaves": 0, "glue": "none", "mass_g": None, "places": {"text block": 5.0}}
    treatment = make(tmp_path, format=format_, count=pages, **thin)
    for build in (build_humidity_panel, build_buffering_panel, build_pressing_panel):
        panel = build(treatment)
        assert panel.result.answer
        assert panel.result.values
