"""Charts as data: what they refuse, and that screen and paper show the same numbers.

The description for the screen is held against plotly's own schema (``plotly.graph_objects``, an
independent check of every name and kind of value); the drawing on paper is read back from its SVG.
"""

import math
import re

import plotly.graph_objects as go
import pytest

from bench.errors import BadValue
from bench.figures.chart import Chart
from bench.figures.marks import Anchor, Axis, Curve, Dash, Line, Pick, Points, Region, Rule, Shape, Words
from bench.figures.screen import draw_on_screen
from bench.figures.style import CURVES, INK, MARGINS

X, Y = Axis("hours, h", "h", 0.0, 10.0, digits=1), Axis("humidity, %", "% RH", 0.0, 100.0)


def make(*parts, x=X, y=Y, **more):
    return Chart(x, y, parts or (line(),), "It rises.", **more)


def line(name="core", y=(10.0, 50.0, 81.25), **more):
    return Curve(name, (0.0, 2.5, 10.0), y, CURVES[0], **more)


def banded(**more):
    return line(low=(5.0, 40.0, 70.0), high=(20.0, 60.0, 90.0), **more)


@pytest.mark.parametrize(
    ("build", "words"),
    [
        (lambda: line(y=(10.0, math.nan, 80.0)), "finite numbers"),
        (lambda: line(y=(10.0, math.inf, 80.0)), "finite numbers"),
        (lambda: Curve("core", (), (), INK), "two points or more"),
        (lambda: Curve("core", (1.0,), (2.0,), INK), "two points or more"),
        (lambda: line(y=(1.0, 2.0)), "as many of each"),
        (lambda: line(low=(20.0, 60.0, 90.0), high=(5.0, 40.0, 70.0)), "an interval about its value"),
        (lambda: line(low=(5.0, 40.0, 70.0)), "both ends or none"),
        (lambda: Curve("core", (2.0, 1.0), (1.0, 1.0), INK), "points from left to right"),
        (lambda: Points("read", (1.0,), (math.nan,)), "finite numbers"),
        (lambda: Points("read", (1.0,), (2.0,), words=("a", "b")), "one a point"),
        (lambda: Points("read", (1.0,), (2.0,), left=(1.5,), right=(3.0,)), "an interval about its value"),
        (lambda: Rule(math.nan, "limit"), "finite numbers"),
        (lambda: Region((0.0, 1.0), (0.0, 1.0), INK), "three corners or more"),
        (lambda: Region((0.0, 1.0, math.inf), (0.0, 1.0, 2.0), INK), "finite numbers"),
        (lambda: Region((0.0, 1.0, 1.0), (0.0, 1.0), INK), "as many of each"),
        (lambda: Line((0.0,), (1.0,), INK), "two places or more"),
        (lambda: Words(math.nan, 0.0, "spine"), "finite numbers"),
        (lambda: Axis("hours", low=3.0, high=3.0), "a low end below a high one"),
        (lambda: Chart(X, Y, (Rule(3.0),), "A line."), "a curve, points or a region"),
        (lambda: Chart(X, Y, (Points("none", (), ()),), "Nothing."), "a curve, points or a region"),
        (lambda: Chart(X, Y, (line(),), "  "), "a sentence that reads it"),
        (lambda: make(line(y=(0.0, 1.0, 2.0)), y=Axis("chance", is_log=True)), "numbers above zero"),
    ],
)
def test_what_cannot_be_drawn_is_refused_with_a_sentence(build, words):
    with pytest.raises(BadValue, match=words):
        build()


@pytest.fixture
def rich():
    return make(
        banded(),
        line("mean", (20.0, 60.0, 90.0), dash=Dash.DASHED),
        Points("read", (1.0, 2.0), (30.0, 40.0), shape=Shape.RING, low=(28.0, 35.0), high=(33.0, 44.0)),
        Rule(85.0, "wanted"),
        Rule(2.4, "out", is_upright=True, is_choice=True),
        pick=Pick("hours", "hour", 1.0, 8.0, "the hours"),
    )


def test_plotly_knows_every_word_of_the_description(rich):
    spec = draw_on_screen(rich, kept=rich)
    figure = go.Figure({"data": spec["data"], "layout": spec["layout"]})
    assert [trace.name for trace in figure.data if trace.name] == [
        "kept: core",
        "kept: mean",
        "core",
        "mean",
        "read",
    ]
    assert figure.data[-1].error_y.array == (3.0, 4.0)
    assert figure.data[-1].error_y.arrayminus == (2.0, 5.0)


@pytest.mark.drawn
def test_screen_and_paper_show_the_same_numbers(rich):
    """Read the lines back out of the SVG, by the ends of the axes."""
    width, height = 7.2 * 72, rich.height * 72
    left, bottom, right, top = (72 * margin for margin in MARGINS)
    found = {}
    for color, path in re.findall(r'<path d="([^"]*)"[^>]*style="[^"]*stroke: (#[0-9a-f]{6})', rich.svg):
        found.setdefault(path, []).append(color)
    drawn = []
    for path in (path for paths in found.values() for path in paths):
        places = re.findall(r"[ML] ([-\d.]+) ([-\d.]+)", path)
        drawn.append(
            [
                (
                    10 * (float(x) - left) / (width - left - right),
                    100 * (height - bottom - float(y)) / (height - bottom - top),
                )
                for x, y in places
            ]
        )
    curves = [trace for trace in draw_on_screen(rich)["data"] if trace["mode"] == "lines" and "name" in trace]
    assert len(curves) == 2
    for trace in curves:
        told = list(zip(trace["x"], trace["y"], strict=True))
        assert any(
            len(line) == len(told)
            and all(
                x == pytest.approx(a, abs=2e-3) and y == pytest.approx(b, abs=2e-2)
                for (x, y), (a, b) in zip(line, told, strict=True)
            )
            for line in drawn
        ), trace["name"]


def test_hovering_says_value_and_interval_with_the_name(rich):
    (core,) = [t for t in draw_on_screen(rich)["data"] if t.get("name") == "core"]
    assert core["customdata"] == [["10", "5", "20"], ["50", "40", "60"], ["81", "70", "90"]]
    words = "core: %{customdata[0]} % RH (%{customdata[1]} to %{customdata[2]})"
    assert core["hovertemplate"] == f"{words}<extra></extra>"


def test_markup_in_a_name_stays_text():
    spec = draw_on_screen(make(line("<b>fat</b> & “thin”")))
    assert spec["data"][0]["hovertemplate"].startswith("&lt;b>fat&lt;/b> &amp; “thin”: ")
    assert spec["names"][0]["name"] == "<b>fat</b> & “thin”"  # written as text by the page


def test_a_band_goes_there_and_back(rich):
    band = draw_on_screen(rich)["data"][0]
    assert band["y"] == [20.0, 60.0, 90.0, 70.0, 40.0, 5.0]
    assert band["x"] == [0.0, 2.5, 10.0, 10.0, 2.5, 0.0]
    assert band["meta"] == "core", "put aside with its curve"


def test_a_pick_is_a_step_within_its_limits():
    pick = Pick("hours", "hour", 1.0, 8.0, "the hours")
    assert [pick.round(value) for value in (-3.0, 1.4, 2.6, 99.0)] == [1.0, 1.0, 3.0, 8.0]
    assert Pick("dwell", "min", 0.0, 60.0, "the dwell", step=0.5).round(16.65) == 16.5


def test_the_line_that_was_chosen_is_known_to_the_page(rich):
    pick = draw_on_screen(rich)["pick"]
    assert pick["at"] == 2.4
    assert pick["says"] == "Click the picture or drag the dashed line to set the hours."
    assert draw_on_screen(make())["pick"] is None


def test_a_logarithmic_axis_counts_its_ends_as_logarithms():
    spec = draw_on_screen(make(line(y=(0.1, 1.0, 10.0)), y=Axis("chance, %", "%", 0.01, 100.0, is_log=True)))
    assert spec["layout"]["yaxis"]["range"] == [-2.0, 2.0]
    assert spec["layout"]["yaxis"]["type"] == "log"


def test_charts_that_show_the_same_are_equal():
    assert make(banded()) == make(banded())
    assert make(banded()) != make(line())


def test_a_minus_is_a_minus_and_nothing_is_not_negative():
    axis = Axis("change, %", "%", digits=1)
    assert axis.say(-0.04) == "0.0 %"
    assert axis.say(-1.26) == "−1.3 %"


def test_what_is_drawn_to_scale_says_what_it_is_on_the_screen_and_stands_on_paper():
    """Layers, lines and words: the same on both, and the words of a layer only where a hand asks for them."""
    layer = Region.between((0, 0), (4, 1), "#f3ead6", edge=INK, says="2 × card, 0.4 mm", chooses="s1")
    drawn = Chart(
        Axis("across", low=0.0, high=10.0, is_bare=True),
        Axis("thickness", low=0.0, high=5.0, is_bare=True),
        (layer, Line((4, 6), (0.5, 2.0), INK), Words(6.0, 2.0, "card", anchor=Anchor.BEGIN)),
        "A card.",
    )
    spec = draw_on_screen(drawn)
    go.Figure({"data": spec["data"], "layout": spec["layout"]})
    region, thin = spec["data"]
    assert (region["text"], region["hoveron"], region["customdata"]) == ("2 × card, 0.4 mm", "fills", ["s1"])
    assert list(zip(region["x"], region["y"], strict=True)) == [(0, 0), (4, 0), (4, 1), (0, 1), (0, 0)]
    assert thin["hoverinfo"] == "skip"
    assert [note["text"] for note in spec["layout"]["annotations"]] == ["card"]
    assert not spec["layout"]["xaxis"]["visible"]
    assert ">card<" in drawn.svg
    assert "2 × card" not in drawn.svg
