"""Faces of the item to scale: where its defects are, and its staples."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from bench.figures.chart import Chart
from bench.figures.marks import Anchor, Axis, Choose, Dash, Hatch, Line, Part, Region, Words, plain
from bench.figures.style import ACCENT, CURVES, INK, LEAF, SOFT
from bench.item import Item
from bench.treatment.intake.condition_terms import FACES, SEVERITIES, Help
from bench.treatment.intake.defects import (
    Defect,
    DefectJudgement,
    Judged,
    face_size,
    judge_defects,
    spine_side,
)
from bench.treatment.review.comparison import DefectCourse
from bench.units import MILLIMETRES, Q_, UnitChoice, say, say_count, unit_label

# A sign and a hatch stand beside every colour.
SIGNS = {Help.CLEAN: "○", Help.PRESS: "△", Help.NONE: "✕"}
HELPS = {Help.CLEAN: "clean", Help.PRESS: "humidify and press", Help.NONE: "no stage helps"}
_HATCHES = {Help.CLEAN: Hatch.LEVEL, Help.PRESS: Hatch.RISING, Help.NONE: Hatch.NONE}
_COLOURS = {Help.CLEAN: CURVES[2], Help.PRESS: CURVES[0], Help.NONE: ACCENT}
_ALWAYS = ("front cover, outside", "back cover, outside")
_GAP = 14.0  # between faces, mm of the drawing
_TALLEST = 3.4  # a face, inches of the drawing
_EDGE_DRAWN = 16.0  # depth at which an edge is drawn, mm of the drawing
_ACROSS = 7.0  # inches of the drawing

_LETTER, _LINE = 5.0, 10.5  # of a label, points: a letter is wide and a line high
_TOUCH = 18.0  # points about a fine line within which a finger finds it

_Sheet = tuple[str, str]  # face and leaf
_Grades = Mapping[str, DefectCourse]


@dataclass(frozen=True)
class _Box:
    """A box on the drawing, in mm: to the right and, from the top, down."""

    left: float
    top: float
    wide: float
    high: float

    @property
    def right(self) -> float:
        return self.left + self.wide

    @property
    def bottom(self) -> float:
        return self.top + self.high

    def grown(self, least: float) -> _Box:
        """Give it with sides of a least length about the same middle."""
        wide, high = max(self.wide, least), max(self.high, least)
        left, top = self.left + (self.wide - wide) / 2, self.top + (self.high - high) / 2
        return _Box(left, top, wide, high)

    def region(self, face: str, **more: object) -> Region:
        """Draw it; on the drawing, down is below zero."""
        return Region.between((self.left, -self.top), (self.right, -self.bottom), face, **more)


def draw_defect_map(
    item: Item,
    defects: Sequence[Defect],
    units: UnitChoice = MILLIMETRES,
    *,
    courses: Iterable[DefectCourse] = (),
    pick: Choose | None = None,
) -> Chart:
    """Draw every face that has a defect, to scale, with a box for each.

    Parameters
    ----------
    item : Item
        Whose faces are drawn; of a cover its outside always.
    defects : sequence of Defect
        Dashed boxes are out of scope, thick ones limit the outcome.  An edge is drawn deeper than
        it is.
    units : UnitChoice
        Of the bar that gives the scale.
    courses : iterable of DefectCourse
        Of defects seen again: their grades before and after stand beside the term.
    pick : Choose, optional
        The control that takes the id of a clicked defect.

    Returns
    -------
    Chart

    Raises
    ------
    BadValue, NotFound
        A defect outside its face.
    """
    judgement = judge_defects(item, defects)
    grades = {course.defect: course for course in courses}
    rows = _rows(_sheets(item, judgement.judged))
    across = max(sum(_drawn_size(item, face)[0] + _GAP for (face, _), _ in row) for row in rows) - _GAP
    high = plain(item.height, "mm")
    scale = min(_ACROSS / across, _TALLEST / high)  # inches of the drawing for a millimetre
    point = 1 / (72 * scale)  # millimetres for a point of type
    step = high + 32 * point
    parts: list[Part] = []
    for number, row in enumerate(rows):
        left = 0.0
        labels = _Labels(point, _ACROSS / scale)
        for (face, leaf), judged in row:
            box = _Box(left, number * step, *_drawn_size(item, face))
            parts += _draw_face(box, face, leaf, point)
            parts += _draw_defects(box, judged, grades, labels, units)
            left = box.right + _GAP
        parts += labels.parts
    bottom = (len(rows) - 1) * step + high
    parts += _draw_key(bottom + 22 * point, point, units, bool(grades))
    below = (52 if grades else 38) * point
    return _to_scale(parts, bottom + below, scale, _read_map(judgement, grades), pick)


def _to_scale(parts: Iterable[Part], bottom: float, scale: float, reads: str, pick: Choose | None) -> Chart:
    """Frame what is drawn in millimetres, with room for a name above the faces."""
    top = 16 / (72 * scale)
    return Chart(
        Axis("across", low=-2.0, high=_ACROSS / scale + 2.0, is_bare=True),
        Axis("down", low=-bottom, high=top, is_bare=True),
        tuple(parts),
        reads,
        height=scale * (bottom + top) + 0.1,
        margins=(0.05, 0.05, 0.05, 0.05),
        pick=pick,
        is_to_scale=True,
    )


def _rows(sheets: Mapping[_Sheet, list[Judged]]) -> list[list[tuple[_Sheet, list[Judged]]]]:
    """Break the faces into rows of at most four."""
    entries = list(sheets.items()) or [(("recto", "1"), [])]
    return [entries[k : k + 4] for k in range(0, len(entries), 4)]


def _sheets(item: Item, judged: Iterable[Judged]) -> dict[_Sheet, list[Judged]]:
    """Sort defects by face and leaf, in reading order; the outside of the cover is always shown."""
    sheets: dict[_Sheet, list[Judged]] = {}
    if item.cover_leaves:
        sheets = {(_ALWAYS[0], "C1"): [], (_ALWAYS[1], "C2"): []}
    for each in judged:
        sheets.setdefault((each.defect.face, each.defect.leaf), []).append(each)

    def rank(key: _Sheet) -> tuple[int, int, int]:
        face, leaf = key
        return (face not in _ALWAYS, int(leaf) if leaf.isdigit() else 0, FACES.index(face))

    return {key: sheets[key] for key in sorted(sheets, key=rank)}


def _drawn_size(item: Item, face: str) -> tuple[float, float]:
    width, height = (plain(side, "mm") for side in face_size(item, face))
    if face in ("spine", "fore edge"):
        return _EDGE_DRAWN, height
    return (width, _EDGE_DRAWN) if face in ("head edge", "tail edge") else (width, height)


def say_face(face: str, leaf: str) -> str:
    """Name a face; one of a leaf by its leaf."""
    return f"leaf {leaf}, {face}" if face in ("recto", "verso") else face


def _draw_face(box: _Box, face: str, leaf: str, point: float) -> Iterator[Part]:
    yield box.region(LEAF, edge=INK)
    yield Words(box.left + box.wide / 2, 7 * point - box.top, say_face(face, leaf), INK, Anchor.MIDDLE)
    if box.wide > 2 * _EDGE_DRAWN and box.high > 2 * _EDGE_DRAWN:
        on_left = spine_side(face) == "left"
        x, inside = (box.left, box.left + 6) if on_left else (box.right, box.right - 6)
        yield Line([x, x], [-box.top, -box.bottom], SOFT, 2.6)
        yield Words(inside, 4 + 14 * point - box.bottom, "spine", SOFT, Anchor.MIDDLE, is_upright=True)


class _Labels:
    """The words beside the boxes of a row, each a line lower wherever another stands already."""

    def __init__(self, point: float, end: float) -> None:
        self._point, self._end = point, end
        self._taken: list[tuple[float, float, float]] = []  # left, right and middle of a label
        self.parts: list[Words] = []

    def add(self, words: str, color: str, box: _Box, middle: float) -> None:
        """Write words under a box, from the side that is nearer to the edge of the face inwards."""
        point = self._point
        length, line = len(words) * _LETTER * point, _LINE * point
        to_right = box.left + box.wide / 2 <= middle
        left, right = (box.left, box.left + length) if to_right else (box.right - length, box.right)
        if right > self._end:  # not out of the picture
            to_right, left, right = False, self._end - length, self._end
        at = box.bottom + line / 2 + 2.5 * point  # clear of the lower edge
        while any(
            left < end and start < right and abs(at - taken) < line for start, end, taken in self._taken
        ):
            at += line / 2
        self._taken.append((left, right, at))
        anchor = Anchor.BEGIN if to_right else Anchor.END
        self.parts.append(Words(left if to_right else right, -at, words, color, anchor, ground=LEAF))

    @property
    def point(self) -> float:
        """Millimetres of the drawing for a point of type."""
        return self._point

    @property
    def reach(self) -> float:
        """How far about a fine line a finger finds it, mm of the drawing."""
        return _TOUCH * self._point


def _draw_defects(
    face: _Box, judged: Sequence[Judged], grades: _Grades, labels: _Labels, units: UnitChoice
) -> Iterator[Part]:
    """Draw the boxes of a face, the small ones on top: the hand finds them within the large ones."""
    places = [(_place(face, each.defect), each) for each in judged]
    for box, each in sorted(places, key=lambda place: -place[0].wide * place[0].high):
        defect, color = each.defect, _COLOURS[each.helped_by]
        yield from _draw_shape(box, each, color, labels.point)
        says = _say_hovered(each, grades, units)
        yield box.grown(labels.reach).region("", says=says, chooses=defect.id)
    for box, each in places:
        words = f"{SIGNS[each.helped_by]} {each.defect.id} {each.defect.term}{_say_way(each, grades)}"
        labels.add(words, _COLOURS[each.helped_by], box, face.left + face.wide / 2)


def _draw_shape(box: _Box, judged: Judged, color: str, point: float) -> Iterator[Part]:
    """Draw an area as its box, a line from corner to corner, a point in the middle."""
    defect = judged.defect
    width = 2.2 if judged.limits else 1.1
    dash = Dash.SOLID if defect.in_scope else Dash.DASHED
    if defect.shape == "area":
        yield box.region("", edge=color, hatch=_HATCHES[judged.helped_by], width=width, dash=dash)
    elif defect.shape == "point":
        spot = _Box(box.left + box.wide / 2, box.top + box.high / 2, 0.0, 0.0).grown(4 * width * point)
        yield spot.region(color)
    else:
        ends = [-box.top, -box.bottom] if defect.shape == "falling line" else [-box.bottom, -box.top]
        yield Line([box.left, box.right], ends, color, 1.4 * width, dash)


def _place(face: _Box, defect: Defect) -> _Box:
    """Give the box of a defect on the drawing, within its face."""
    x, wide = (min(plain(length, "mm"), face.wide) for length in (defect.x, defect.width))
    y, high = (min(plain(length, "mm"), face.high) for length in (defect.y, defect.height))
    return _Box(face.left + x, face.top + y, wide, high)


def _say_way(judged: Judged, grades: _Grades) -> str:
    course = grades.get(judged.defect.id)
    if course is None:
        return ""
    if len(course.sightings) == 1:
        return ", not looked at again"
    return f" {course.before.severity} → {course.last.severity}"


def _say_hovered(judged: Judged, grades: _Grades, units: UnitChoice) -> str:
    """Say a defect in three lines: what, how bad, how large with what could help."""
    defect, course = judged.defect, grades.get(judged.defect.id)
    grade = f"{defect.severity} {SEVERITIES[defect.severity]}"
    if course is not None:
        grade = f"before {course.before.severity} {SEVERITIES[course.before.severity]}"
        last, again = course.last.severity, len(course.sightings) > 1
        grade += f", after {last} {SEVERITIES[last]}" if again else ", not looked at again"
    scope = "" if defect.in_scope else ", out of scope"
    return f"{defect.id} {defect.term}{scope}\n{grade}\n{say_box(defect, units)}; {HELPS[judged.helped_by]}"


def say_box(defect: Defect, units: UnitChoice) -> str:
    """Write width and height of a defect."""
    sides = [say(side, units.long_length).split() for side in (defect.width, defect.height)]
    return f"{sides[0][0]} × {' '.join(sides[1])}"


def _draw_key(line: float, point: float, units: UnitChoice, is_after: bool) -> Iterator[Part]:
    bar = Q_(2.0, "inch") if units.long_length == "inch" else Q_(50.0, "mm")
    long = plain(bar, "mm")
    yield Line([0, long], [6 * point - line] * 2, INK, 1.4)
    scale = f"{bar.magnitude:g} {unit_label(units.long_length)}"
    yield Words(long / 2, -line - point, scale, anchor=Anchor.MIDDLE)
    signs = " · ".join(f"{SIGNS[stage]} {HELPS[stage]}" for stage in Help)
    lines = [signs, "thick line: limits the outcome · dashed: out of scope"]
    if is_after:
        lines.append("2 → 1: grade before and after")
    for number, words in enumerate(lines):  # as far apart as a narrow page needs, which draws it smaller
        yield Words(long + 8, (6 - 14 * number) * point - line, words)


def _read_map(judgement: DefectJudgement, grades: _Grades) -> str:
    judged = judgement.judged
    if not judged:
        return "No defect is listed yet; the outside is drawn to scale."
    faces = len({(j.defect.face, j.defect.leaf) for j in judged})
    words = f"{say_count(len(judged), 'defect')} on {say_count(faces, 'face')}"
    if grades:
        seen = sum(len(grades[j.defect.id].sightings) > 1 for j in judged if j.defect.id in grades)
        return f"{words}, {seen} seen again: the grade before and after stands beside each."
    counts = [f"{sum(j.helped_by is stage for j in judged)} {HELPS[stage]}" for stage in Help]
    limiting = ", ".join(j.defect.id for j in judgement.limiting)
    words = f"{words}: {', '.join(counts)}"
    return f"{words}; {limiting} limits the outcome." if limiting else f"{words}."


def draw_item(item: Item, units: UnitChoice) -> Chart:
    """Draw the front of the item to scale, with its spine and the place of every staple."""
    width, height = plain(item.width, "mm"), plain(item.height, "mm")
    scale = min(3.0 / height, 3.4 / width)  # inches of the drawing for a millimetre
    point = 1 / (72 * scale)
    front = _Box(0.0, 0.0, width, height)
    parts = [*_draw_face(front, "front cover, outside" if item.cover_leaves else "recto", "1", point)]
    for staple in item.staples:
        x, y = plain(staple.from_spine, "mm"), plain(staple.from_head, "mm")
        place = f"{say(staple.from_head, units.long_length)} from the head"
        if x:
            place += f", {say(staple.from_spine, units.long_length)} from the spine"
        words = f"{staple.name} staple: {place}\nprongs {staple.prong}; rust {staple.rust} of 3"
        wire = _Box(x - 0.8, y - 6, 1.6, 12)
        parts += [
            wire.region(INK),
            wire.grown(_TOUCH * point).region("", says=words),
            Line([x + 1, width + 9 * point], [-y, -y], SOFT, 0.7),
            Words(width + 10 * point, -y, words, INK),
        ]
    size = " × ".join(say(side, units.long_length) for side in (item.width, item.height))
    parts.append(Words(0.0, -height - 9 * point, size))
    many = say_count(len(item.staples), "staple") if item.staples else "no staples"
    reads = f"The front to scale, {size}, with {many}."
    return _to_scale(parts, height + 20 * point, scale, reads, None)
