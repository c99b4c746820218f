"""A chart on the screen: plain data in the form that plotly takes, rounded, with what hovering says.

Nothing of plotly is imported: a dictionary of lists costs about a millisecond, a figure object tens of
them.  The tests hold the dictionaries against the library's own schema.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any, TypeAlias

from bench.figures.chart import Chart
from bench.figures.marks import (
    Axis,
    Choose,
    Curve,
    Hatch,
    Line,
    Numbers,
    Pick,
    Points,
    Region,
    Rule,
    Shape,
    Words,
    reach,
)
from bench.figures.style import ACCENT, FONTS, INK, LINE, SOFT

Spec: TypeAlias = dict[str, Any]

_SYMBOLS = {
    Shape.DOT: "circle",
    Shape.RING: "circle-open",
    Shape.SQUARE: "square",
    Shape.OPEN_SQUARE: "square-open",
    Shape.DIAMOND: "diamond",
    Shape.TRIANGLE: "triangle-up",
}
_DIGITS = 4  # of a number that is sent: finer than a screen shows
_WIDER = 1.4  # pixels for a 72nd of an inch of a line's width on paper
_PIXELS = 105  # on the screen for an inch on paper: words are larger there
_LEAST = 260
_KEPT = "#a39b8b"  # of what was kept to compare with: grey, and its name says so
_BENEATH = "kept"  # all curves of it are put aside together
_CLEAR = "rgba(0,0,0,0)"
_HATCH = {"size": 6, "solidity": 0.15, "fillmode": "overlay"}
_TO_SCALE = {"scaleanchor": "x", "scaleratio": 1, "constrain": "domain"}
_MUTE = {"hoverinfo": "skip"}


def draw_on_screen(chart: Chart, *, kept: Chart | None = None) -> Spec:
    """Describe a chart for the screen.

    Parameters
    ----------
    chart : Chart
        The answer that is shown.
    kept : Chart, optional
        An earlier answer to lie beneath in grey.

    Returns
    -------
    dict
        ``data``, ``layout`` as plotly takes them; ``names`` of the traces that can be put aside together;
        ``pick`` with the control that a click sets, or None; ``key`` with what its shapes mean.
    """
    parts: list[tuple[str, list[Spec]]] = []
    for part in () if kept is None else kept.parts:
        if isinstance(part, Curve):
            grey = replace(part, name=f"kept: {part.name}", color=_KEPT, low=None, high=None)
            parts.append((_BENEATH, _curve(grey, chart)))
    for part in chart.parts:
        if isinstance(part, Curve):
            parts.append((part.name, _curve(part, chart)))
        elif isinstance(part, Points) and part.x:
            parts.append((part.of or part.name, [_points(part, chart)]))
        elif isinstance(part, Region):
            parts.append(("", [_region(part)]))
        elif isinstance(part, Line):
            parts.append(("", [_line(part)]))
    rules = [part for part in chart.parts if isinstance(part, Rule)]
    return {
        "data": [{**trace, "meta": name} for name, traces in parts for trace in traces],
        "layout": _layout(chart, rules),
        "names": _names(parts),
        "pick": None if chart.pick is None else _pick(chart, chart.pick),
        "key": [{"words": words.words, **_look(shape)} for shape, words in chart.key],
    }


def _look(shape: Region | Points) -> Spec:
    """Give how a shape of the key is drawn before its words."""
    if isinstance(shape, Points):
        return {"symbol": _SYMBOLS[shape.shape], "color": shape.color}
    return {"face": shape.face, "edge": shape.edge, "is_hatched": shape.hatch is not Hatch.NONE}


def _pick(chart: Chart, pick: Pick | Choose) -> Spec:
    if isinstance(pick, Choose):
        return {"chooses": True, "says": pick.what}
    choice = next((part.at for part in chart.parts if isinstance(part, Rule) and part.is_choice), None)
    how = "Click the picture" if choice is None else "Click the picture or drag the dashed line"
    return {
        "low": pick.low,
        "high": pick.high,
        "step": pick.step,
        "at": choice,
        "says": f"{how} to set {pick.what}.",
    }


def _names(parts: Iterable[tuple[str, list[Spec]]]) -> list[Spec]:
    """List what can be put aside, with the look of its line or point."""
    found: dict[str, Spec] = {}
    for name, traces in parts:
        last = traces[-1]
        if not name or name in found:
            continue
        look: Spec = {"color": (last.get("line") or {}).get("color") or last["marker"]["color"]}
        if last["mode"].startswith("lines"):
            look["dash"] = last["line"].get("dash", "solid")
        else:
            look["symbol"] = last["marker"]["symbol"]
        found[name] = {"name": name, "label": name, **look}
    kept = found.pop(_BENEATH, None)
    return [*found.values(), *([{**kept, "label": "kept before"}] if kept else [])]


def _curve(curve: Curve, chart: Chart) -> list[Spec]:
    x, y = _round(curve.x), _round(curve.y)
    traces: list[Spec] = []
    if curve.low is not None and curve.high is not None:
        traces.append(
            {
                "type": "scatter",
                "mode": "lines",
                "x": [*x, *x[::-1]],
                "y": [*_round(curve.high), *_round(curve.low)[::-1]],
                "fill": "toself",
                "fillcolor": _faint(curve.color),
                "line": {"width": 0},
                **_MUTE,
            }
        )
    traces.append(
        {
            "type": "scatter",
            "mode": "lines",
            "name": curve.name,
            "x": x,
            "y": y,
            "line": {"color": curve.color, "width": 2, "dash": curve.dash.value},
            **_read_off(curve.name, chart.y, curve.y, curve.low, curve.high),
        }
    )
    return traces


def _region(region: Region) -> Spec:
    return {
        "type": "scatter",
        "mode": "lines",
        "x": _close(region.x),
        "y": _close(region.y),
        "fill": "toself",
        "fillcolor": region.face or _CLEAR,
        "line": _edge(region),
        **({"hoveron": "fills", "hoverinfo": "text", "text": _text(region.says)} if region.says else _MUTE),
        **({"fillpattern": {**_HATCH, **_hatch(region)}} if region.hatch else {}),
        **({"customdata": [region.chooses]} if region.chooses else {}),
    }


def _edge(region: Region) -> Spec:
    if not region.edge:
        return {"width": 0}
    return {"color": region.edge, "width": _WIDER * region.width, "dash": region.dash.value}


def _hatch(region: Region) -> Spec:
    return {"shape": region.hatch.value, "fgcolor": region.edge}


def _line(line: Line) -> Spec:
    look = {"color": line.color, "width": _WIDER * line.width, "dash": line.dash.value}
    places = {"x": _round(line.x), "y": _round(line.y)}
    return {"type": "scatter", "mode": "lines", **places, "line": look, **_MUTE}


def _close(values: Numbers) -> list[float]:
    return _round((*values, values[0]))


def _points(points: Points, chart: Chart) -> Spec:
    marker = {"symbol": _SYMBOLS[points.shape], "size": 9, "color": points.color}
    across = points.left is not None
    axis, values, low, high = (
        (chart.x, points.x, points.left, points.right)
        if across
        else (chart.y, points.y, points.low, points.high)
    )
    trace: Spec = {
        "type": "scatter",
        "mode": "lines+markers" if points.is_joined else "markers",
        "name": points.name,
        "x": _round(points.x),
        "y": _round(points.y),
        "marker": marker,
        "cliponaxis": False,
        **(_say_points(points, axis, values, low, high) if points.is_read else _MUTE),
    }
    if points.is_joined:
        trace["line"] = {"color": points.color, "width": 1}
    if points.words:
        trace |= {
            "mode": f"{trace['mode']}+text",
            "text": [_text(word) for word in points.words],
            "textposition": "top right",
        }
    for name, middle, ends in (
        ("error_y", points.y, (points.low, points.high)),
        ("error_x", points.x, (points.left, points.right)),
    ):
        if ends[0] is not None and ends[1] is not None:
            trace[name] = _reach(middle, ends[0], ends[1], points.color)
    return trace


def _reach(middle: Numbers, low: Numbers, high: Numbers, color: str) -> Spec:
    down, up = reach(middle, low, high)
    return {
        "type": "data",
        "symmetric": False,
        "array": _round(up),
        "arrayminus": _round(down),
        "color": color,
        "thickness": 1.3,
        "width": 4,
    }


def _read_off(name: str, axis: Axis, values: Numbers, low: Numbers | None, high: Numbers | None) -> Spec:
    """Have hovering say name, value and interval: the words once, and at each point its numbers."""
    unit = f" {axis.unit}" if axis.unit else ""
    head = f"{name}: " if name else ""
    if low is None or high is None:
        return _say(f"{_text(head)}%{{customdata}}{_text(unit)}", [axis.bare(value) for value in values])
    words = f"{_text(head)}%{{customdata[0]}}{_text(unit)} (%{{customdata[1]}} to %{{customdata[2]}})"
    return _say(words, [[axis.bare(n) for n in row] for row in zip(values, low, high, strict=True)])


def _say(words: str, numbers: Sequence[Any]) -> Spec:
    return {"customdata": list(numbers), "hovertemplate": f"{words}<extra></extra>"}


def _say_points(
    points: Points, axis: Axis, values: Numbers, low: Numbers | None, high: Numbers | None
) -> Spec:
    """Have hovering say what belongs to each point: its own words, or its name, value and interval."""
    if points.hover:
        return _say("%{customdata}", [_text(words) for words in points.hover])
    if not points.words:
        return _read_off(points.name, axis, values, low, high)
    said = [axis.say(value) for value in values]
    if low is not None and high is not None:
        ends = ((axis.bare(bottom), axis.bare(top)) for bottom, top in zip(low, high, strict=True))
        said = [f"{text} ({b} to {t})" for text, (b, t) in zip(said, ends, strict=True)]
    named = (f"{word}: {text}" if word else text for word, text in zip(points.words, said, strict=True))
    return _say("%{customdata}", [_text(words) for words in named])


def _layout(chart: Chart, rules: Sequence[Rule]) -> Spec:
    across = bool(chart.curves)
    return {
        "height": max(_LEAST, round(_PIXELS * chart.height)),
        "margin": {"l": 12, "r": 14, "t": 12, "b": 12},
        "paper_bgcolor": _CLEAR,
        "plot_bgcolor": _CLEAR,
        "font": {"family": FONTS, "size": 13, "color": INK},
        "hovermode": "x unified" if across else "closest",
        "hoverlabel": {"bgcolor": "#fffdf8", "bordercolor": LINE, "font": {"color": INK, "size": 14}},
        "showlegend": False,
        "dragmode": False,
        "modebar": {"bgcolor": _CLEAR, "color": SOFT, "activecolor": ACCENT},
        "xaxis": {**_axis(chart.x), "showgrid": False, **_spoken(chart.x, across)},
        "yaxis": {**_axis(chart.y), **(_TO_SCALE if chart.is_to_scale else {})},
        "shapes": [_shape(rule) for rule in rules],
        "annotations": [
            *(_annotation(rule, chart) for rule in rules if rule.words),
            *(_words(part, chart) for part in chart.parts if isinstance(part, Words)),
        ],
        # What the hand zoomed to stays while the axis is the same, and no longer.
        "uirevision": f"{chart.x.title}; {chart.y.title}; {chart.x.low} to {chart.x.high}",
    }


def _spoken(axis: Axis, across: bool) -> Spec:
    """Head the box of a hovered place with the value below it."""
    if not across:
        return {}
    unit = f" {axis.unit}" if axis.unit else ""
    return {"unifiedhovertitle": {"text": f"%{{x:.{axis.digits}f}}{unit}"}}


def _axis(axis: Axis) -> Spec:
    spec: Spec = {
        "title": {"text": _text(axis.title), "standoff": 6, "font": {"size": 13}},
        "automargin": True,
        "gridcolor": LINE,
        "linecolor": LINE,
        "tickcolor": LINE,
        "zeroline": False,
        "ticks": "outside",
        "separatethousands": False,
    }
    if axis.low is not None and axis.high is not None:
        spec["range"] = [_place(axis, axis.low), _place(axis, axis.high)]
    elif axis.low is not None or axis.high is not None:
        spec["autorangeoptions"] = {
            name: _place(axis, end)
            for name, end in (("minallowed", axis.low), ("maxallowed", axis.high))
            if end is not None
        }
    if axis.is_bare:
        bare = {"showgrid": False, "showline": False, "ticks": "", "title": {"text": ""}}
        spec |= bare if axis.ticks else {"visible": False, "automargin": False}
    if axis.is_log:
        spec["type"] = "log"
    if axis.ticks:
        spec |= {"tickvals": [at for at, _ in axis.ticks], "ticktext": [words for _, words in axis.ticks]}
    return spec


def _place(axis: Axis, value: float) -> float:
    """Give a place along an axis as the layout counts it: a logarithm along a logarithmic one."""
    return math.log10(value) if axis.is_log else _digits(value)


def _shape(rule: Rule) -> Spec:
    line = {"color": rule.color, "width": 2 if rule.is_choice else 1, "dash": rule.dash.value}
    if rule.is_upright:
        return {"type": "line", "x0": rule.at, "x1": rule.at, "yref": "paper", "y0": 0, "y1": 1, "line": line}
    return {"type": "line", "y0": rule.at, "y1": rule.at, "xref": "paper", "x0": 0, "x1": 1, "line": line}


def _annotation(rule: Rule, chart: Chart) -> Spec:
    words = {"text": _text(rule.words), "showarrow": False, "font": {"color": rule.color}}
    if rule.is_upright:
        at = _place(chart.x, rule.at)
        side = _side(rule, chart)
        shift = 4 if side == "left" else -4
        return {**words, "x": at, "yref": "paper", "y": 0.05, "xanchor": side, "xshift": shift}
    at = _place(chart.y, rule.at)
    return {**words, "xref": "paper", "x": 1, "y": at, "xanchor": "right", "yanchor": "bottom"}


def _words(part: Words, chart: Chart) -> Spec:
    """Write words at their place."""
    return {
        "text": _text(part.words),
        "showarrow": False,
        "font": {"color": part.color},
        "x": _place(chart.x, part.x),
        "y": _place(chart.y, part.y),
        "xanchor": part.anchor.value,
        "yanchor": "middle",
        "align": part.anchor.value,
        "textangle": -90 if part.is_upright else 0,
        **({"bgcolor": part.ground, "borderpad": 0} if part.ground else {}),
    }


def _side(rule: Rule, chart: Chart) -> str:
    """Write to the right of an upright line, but not out of the picture."""
    low, high = chart.x.low, chart.x.high
    is_far = low is not None and high is not None and rule.at > low + 0.7 * (high - low)
    return "right" if is_far else "left"


def _text(words: str) -> str:
    """Keep words from being taken for the markup that plotly reads in its texts."""
    return words.replace("&", "&amp;").replace("<", "&lt;").replace("\n", "<br>")


def _round(values: Numbers) -> list[float]:
    return [_digits(value) for value in values]


def _digits(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")


def _faint(color: str) -> str:
    red, green, blue = (int(color[start : start + 2], 16) for start in (1, 3, 5))
    return f"rgba({red},{green},{blue},0.16)"
