"""The logged air over the plan's picture: what it names, how far it reaches, what it leaves out."""

import re

import pytest

from bench.figures.logged import draw_logged, logged_table
from tests.treatment.test_logged import as_planned, planned, told

pytestmark = pytest.mark.slow


def test_the_logged_air_and_the_leaf_followed_with_it_lie_beside_the_plan():
    found = told(lambda hour: as_planned(hour) - 6.0)
    picture = draw_logged(found)
    names = [curve.name for curve in picture.curves]
    assert names == ["air of the chamber", "innermost leaf", "air as logged", "innermost leaf as logged"]
    logged, leaf = picture.curves[2:]
    assert max(logged.x) < found.hours
    assert leaf.x[-1] == found.hours
    assert leaf.low[-1] <= leaf.y[-1] <= leaf.high[-1]
    assert picture.pick is None
    assert "As logged the air came to" in picture.reads
    assert set(names) <= set(re.findall(r"<text[^>]*>([^<]*)</text>", picture.svg))


def test_the_axes_hold_air_that_is_drier_than_the_start_and_damper_than_saturated():
    picture = draw_logged(told(lambda hour: 31.0 if hour < 6 else 101.5))
    assert picture.y.low <= 30.0
    assert picture.y.high >= 101.5


def test_leaves_that_are_not_followed_are_neither_drawn_nor_tabled():
    found = told(begins=3.0)
    assert [curve.name for curve in draw_logged(found).curves][-1] == "air as logged"
    assert "not followed" in draw_logged(found).reads
    assert logged_table(found) == ""


def test_the_table_says_which_is_counted_by_later_stages():
    found = told()
    html = logged_table(found)
    assert f"{planned()[0].spent.wet:.0f}\u00a0h" in html or f"{planned()[0].spent.wet:.0f} h" in html
    assert "Later stages, doses and review still count what was planned." in html
