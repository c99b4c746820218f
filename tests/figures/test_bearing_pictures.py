"""Pictures of the load: what they say agrees with the plan, and nothing is drawn that is not there."""

import re

import numpy as np
import pytest

from bench.figures.bearing import (
    draw_plans,
    draw_pressure,
    draw_section,
    fit_table,
    plans_page,
    read_pressure,
)
from bench.figures.marks import Region
from bench.item import Format, Thicknesses
from bench.physics.bearing.answers import compare_spacings, estimate_bearing
from bench.physics.bearing.fit import Finding, fit_bench
from bench.physics.bearing.knowns import Press
from bench.physics.bearing.zones import Sheets
from bench.uncertainty import exactly, from_expanded
from bench.units import Q_, say_range
from tests.makers import annual, annual_readings


@pytest.fixture(scope="module")
def plans():
    return compare_spacings(
        annual(), annual_readings(), Press(), rng=np.random.default_rng(5), intervals=(6, 12), samples=300
    )


def test_the_section_marks_staple_sheets_and_strip(plans):
    picture = draw_pressure(annual(), plans[0])
    assert "not pressed" in picture.svg
    section = draw_section(annual(), plans[0])
    for words in ("sheets end", ">staple<", "fore edge", "8 times larger"):
        assert words in section.svg
    assert "The sheets between the leaves end" in section.reads
    assert picture.reads == read_pressure(plans[0])
    assert f"{plans[0].unpressed.value.to('mm').m:.0f} mm (" in picture.reads


def test_a_staple_that_carries_is_drawn_with_its_limit():
    bare = estimate_bearing(
        annual(), annual_readings(), Sheets(0, 2), Press(), rng=np.random.default_rng(5), samples=300
    )
    picture = draw_pressure(annual(), bare)
    assert "upper staple" in picture.svg
    assert "limit on a staple" in picture.svg
    assert "the spine is loaded beyond its limit" in picture.reads


def test_a_sheet_has_no_spine_to_speak_of():
    item = annual(format=Format.SHEET, leaves=1, cover_leaves=0, staples=())
    plan = estimate_bearing(
        item,
        Thicknesses(exactly(Q_(0.2, "mm"))),
        Sheets(0, 2),
        Press(),
        rng=np.random.default_rng(5),
        samples=100,
    )
    picture = draw_pressure(item, plan)
    assert "staple" not in picture.svg
    assert "not pressed" not in picture.svg
    section = draw_section(item, plan)
    assert section.reads == "No sheet lies between the leaves."
    assert "staple" not in section.svg


def test_the_plans_are_numbered_by_their_sheets(plans):
    picture = draw_plans(plans)
    assert f"From {plans[0].sheets.count} to {plans[-1].sheets.count} sheets" in picture.reads
    page = plans_page(plans, picked=7)
    assert page.html.count("<tr") == 1 + len(plans)
    assert "(chosen)" in page.html
    assert "along the spine stay unpressed" in page.words


def test_a_fit_shows_predicted_beside_found():
    found = from_expanded(Q_(4.2, "mm"), Q_(0.03, "mm"), cause="after")
    fit = fit_bench([Finding("first", annual(), annual_readings(), Sheets(5, 2), Press(), found)])
    assert "4.20\u00a0±\u00a00.03" in fit_table(fit)


def test_a_strip_of_the_section_says_thickness_and_pressure_with_its_interval(plans):
    """The same numbers as the curve above it."""
    plan = plans[0]
    strips = [part for part in draw_section(annual(), plan).parts if isinstance(part, Region)]
    (shown,) = draw_pressure(annual(), plan).curves
    middle = (min(strips[-2].x) + max(strips[-2].x)) / 2  # the last is the wire
    low, likely, high = (np.interp(middle, shown.x, part) for part in (shown.low, shown.y, shown.high))
    assert re.search(r"\n\d\.\d\d mm thick, ", strips[-2].says)
    assert strips[-2].says.endswith(say_range(likely, low, high, "kPa"))
    assert low < likely < high
