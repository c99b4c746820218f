"""Before and after: defects, planned beside measured, and how the size changed.

Open marks are before or planned, filled ones after or measured, so that a grey print says the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bench.figures.chart import Chart
from bench.figures.marks import (
    Anchor,
    Axis,
    Dash,
    Line,
    Part,
    Points,
    Rule,
    Shape,
    Words,
    around,
    plain,
    with_ends,
)
from bench.figures.said import say_compared
from bench.figures.style import CURVES, INK, LINE, SOFT, STOP, Picture, finish, new_axes
from bench.treatment.review.comparison import (
    SEVERITIES,
    Agreement,
    Comparison,
    DefectCourse,
    EdgeChange,
    Sighting,
)
from bench.units import MILLIMETRES, Quantity, UnitChoice, say, unit_label

_BEFORE, _AFTER = CURVES[0], CURVES[1]
_BESIDE = 0.12  # of a grade, from a mark to its words


def _say_nothing(words: str) -> Picture:
    """Give an empty frame that says why it is empty."""
    figure, axes = new_axes(height=0.5)
    axes.text(0.5, 0.5, words, ha="center", va="center", color=SOFT, transform=axes.transAxes)
    axes.set_axis_off()
    return finish(figure, words)


def draw_defects(courses: Sequence[DefectCourse]) -> Chart | Picture:
    """Draw every defect as a line from its grade before treatment to the last one seen.

    Parameters
    ----------
    courses : sequence of DefectCourse
        Those only seen once are marked *not looked at again*.
    """
    if not courses:
        return _say_nothing(_read_defects(courses))
    rows = [float(-row) for row in range(len(courses))]
    grades = tuple((float(grade), f"{grade} {word}") for grade, word in enumerate(SEVERITIES))
    names = tuple((row, _shorten(course.name)) for row, course in zip(rows, courses, strict=True))
    return Chart(
        Axis("grade", low=-0.35, high=3.45, ticks=grades),
        Axis("defect", low=0.4 - len(courses), high=0.8, ticks=names[::-1], is_bare=True),
        (
            *(part for row, course in zip(rows, courses, strict=True) for part in _draw_way(row, course)),
            *_draw_grades(rows, courses),
        ),
        _read_defects(courses),
        height=0.9 + 0.42 * len(courses),
        margins=(3.0, 0.45, 0.15, 0.1),
    )


def _draw_way(row: float, course: DefectCourse) -> Iterator[Part]:
    """Draw the way from the first grade to the last, with its word."""
    first, last = float(course.before.severity), float(course.last.severity)
    if len(course.sightings) == 1:
        yield Words(first + _BESIDE, row, "not looked at again")
    elif first == last:
        yield Words(first + _BESIDE, row, "no change")
    else:
        word = "better" if last < first else "worse"
        yield Line([first, last], [row, row], SOFT, 1.2)
        yield Words((first + last) / 2, row + 0.3, word, STOP if word == "worse" else SOFT, Anchor.MIDDLE)


def _draw_grades(rows: Sequence[float], courses: Sequence[DefectCourse]) -> Iterator[Points]:
    """Mark the grades before and after; what was not looked at again has none after."""
    seen = [(row, course) for row, course in zip(rows, courses, strict=True) if len(course.sightings) > 1]
    before = [(row, course, course.before) for row, course in zip(rows, courses, strict=True)]
    after = [(row, course, course.last) for row, course in seen]
    for name, color, shape, marks in (
        ("before", _BEFORE, Shape.RING, before),
        ("after", _AFTER, Shape.DOT, after),
    ):
        if marks:
            grades = [float(sighting.severity) for _, _, sighting in marks]
            said = tuple(f"{course.name}\n{name}: {_grade(sighting)}" for _, course, sighting in marks)
            yield Points(name, grades, [row for row, *_ in marks], color, shape, hover=said)


def _grade(sighting: Sighting) -> str:
    return f"{sighting.severity} {SEVERITIES[sighting.severity]}"


def _shorten(text: str, most: int = 44) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip(" ,") + "…"


def _read_defects(courses: Sequence[DefectCourse]) -> str:
    if not courses:
        return "No defects are listed."
    seen = [c for c in courses if len(c.sightings) > 1]
    better = sum(c.last.severity < c.before.severity for c in seen)
    worse = sum(c.last.severity > c.before.severity for c in seen)
    same = len(seen) - better - worse
    words = f"Open ring before, filled dot after: {better} better, {same} unchanged, {worse} worse"
    unseen = len(courses) - len(seen)
    return words + (f", {unseen} not looked at again." if unseen else ".")


def draw_planned_beside_measured(
    comparisons: Sequence[Comparison], units: UnitChoice = MILLIMETRES
) -> Chart | Picture:
    """Draw what was measured against what was planned, each row on its own scale.

    The planned value stands on the middle line; a bar is the expanded uncertainty (about 95 %).
    """
    if not comparisons:
        return _say_nothing(_read_comparisons(comparisons))
    rows = [float(-row) for row in range(len(comparisons))]
    names = tuple((row, _shorten(each.label, 34)) for row, each in zip(rows, comparisons, strict=True))
    words: list[Part] = []
    for row, each in zip(rows, comparisons, strict=True):
        planned, measured, _ = say_compared(each, units)
        words.append(Words(1.25, row + 0.14, f"planned {planned}\nmeasured {measured}", INK))
        color = STOP if each.agreement.is_off else INK
        words.append(Words(1.25, row - 0.32, each.agreement.value, color))
    return Chart(
        Axis("measured less planned, each row on its own scale", low=-1.15, high=6.0, is_bare=True),
        Axis("what", low=0.5 - len(comparisons), high=0.75, ticks=names[::-1], is_bare=True),
        (
            Line([0.0, 0.0], [0.5 - len(comparisons), 0.5], LINE, 1.0),
            Words(0.0, 0.62, "planned", anchor=Anchor.MIDDLE),
            *_draw_compared(rows, comparisons, units),
            *words,
        ),
        _read_comparisons(comparisons),
        height=0.55 + 0.68 * len(comparisons),
        margins=(2.4, 0.1, 0.1, 0.1),
    )


def _draw_compared(
    rows: Sequence[float], comparisons: Sequence[Comparison], units: UnitChoice
) -> Iterator[Points]:
    """Mark planned and measured values, each row in shares of the largest that it shows."""
    said = [say_compared(each, units)[:2] for each in comparisons]
    places = [_on_own_scale(each) for each in comparisons]
    zeros = [0.0] * len(rows)
    for name, color, shape, shift, column in (
        ("planned", _BEFORE, Shape.OPEN_SQUARE, 0.14, 0),
        ("measured", _AFTER, Shape.DOT, -0.14, 1),
    ):
        values = [place[0] for place in places] if column else zeros
        spreads = [place[1 + column] for place in places]
        left, right = around(values, spreads)
        yield Points(
            name,
            values,
            [row + shift for row in rows],
            color,
            shape,
            left=left,
            right=right,
            hover=_name_all(name, comparisons, [words[column] for words in said]),
        )


def _name_all(name: str, comparisons: Sequence[Comparison], values: Sequence[str]) -> tuple[str, ...]:
    return tuple(f"{each.label}\n{name} {value}" for each, value in zip(comparisons, values, strict=True))


def _on_own_scale(comparison: Comparison) -> tuple[float, float, float]:
    """Give the difference and the spreads of planned and measured, the largest reach being one."""
    unit = f"{comparison.difference.value.units}"  # a temperature's spread is in kelvin already
    planned = 0.0
    if comparison.planned.uncertainty is not None:
        planned = plain(comparison.planned.uncertainty, unit)
    measured = plain(comparison.measured.expanded(), unit)
    value = float(comparison.difference.value.magnitude)
    scale = max(planned, abs(value) + measured, 1e-12)
    return value / scale, planned / scale, measured / scale


def _read_comparisons(comparisons: Sequence[Comparison]) -> str:
    if not comparisons:
        return "Nothing that was planned was measured."
    off = [f"{c.label} is {c.agreement}" for c in comparisons if c.agreement.is_off]
    agree = sum(c.agreement is Agreement.AGREES for c in comparisons)
    words = f"{agree} of {len(comparisons)} agree within the uncertainty of both"
    return words + (f"; {', '.join(off)}." if off else ".")


def draw_size_changes(
    sizes: Sequence[EdgeChange],
    units: UnitChoice = MILLIMETRES,
    *,
    growth_limit: Quantity,
    shortening_limit: Quantity,
) -> Chart | Picture:
    """Draw how much every edge grew or shrank, with the limits of the rules."""
    if not sizes:
        return _say_nothing(_read_sizes(sizes, units))
    values, left, right = with_ends([size.relative for size in sizes], "percent")
    limits = [
        Rule(at, f"limit {at:+g} %".replace("-", "−"), STOP, is_upright=True, dash=Dash.DASHED)
        for at in (
            plain(growth_limit, "percent"),
            -plain(shortening_limit, "percent"),
        )
    ]
    changes = Points(
        "change",
        values,
        [float(row) for row in range(len(sizes))],
        _AFTER,
        left=left,
        right=right,
    )
    ticks = tuple((float(row), size.name) for row, size in enumerate(sizes))
    reach = 1.15 * max(*(abs(end) for end in (*left, *right)), *(abs(rule.at) for rule in limits))
    return Chart(
        Axis(f"change of size, {unit_label('percent')} (above zero is growth)", "%", -reach, reach, 2),
        Axis("edge", low=-0.95, high=len(sizes) - 0.4, ticks=ticks),
        (changes, *limits, Rule(0.0, is_upright=True)),
        _read_sizes(sizes, units),
        height=1.0 + 0.4 * len(sizes),
        margins=(1.3, 0.5, 0.15, 0.12),
    )


def _read_sizes(sizes: Sequence[EdgeChange], units: UnitChoice) -> str:
    if not sizes:
        return "Width and height were not read at one place before and after."
    most = max(sizes, key=lambda s: abs(plain(s.relative.value, "percent")))
    change = say(most.relative.value, "percent", uncertainty=most.relative.expanded())
    unit = "mm" if units.long_length == "mm" else "thou"
    length = say(most.change.value, unit, uncertainty=most.change.expanded())
    return f"The largest change is that of the {most.name}: {change}, or {length}."
