"""The defect map, and pages of gates and defects."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape

import matplotlib
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from bench.figures.page import Page, table
from bench.figures.style import ACCENT, CURVES, INK, LEAF, SOFT, Picture, finish, new_axes
from bench.item import Item
from bench.sources import say_sources
from bench.treatment.condition_terms import FACES, SEVERITIES, Help
from bench.treatment.conditions import Condition, say_condition
from bench.treatment.consent import PermanentChange
from bench.treatment.defects import Defect, DefectJudgement, Judged, face_size, judge_defects, spine_side
from bench.treatment.gates import Effect
from bench.treatment.intake import GateResult, IntakePlan
from bench.treatment.spot_tests import EXAMINATION
from bench.units import MILLIMETRES, Q_, Quantity, UnitChoice, say, unit_label

# A sign and a hatch stand beside every colour.
_SIGNS = {Help.CLEAN: "○", Help.PRESS: "△", Help.NONE: "✕"}
_WORDS = {Help.CLEAN: "clean", Help.PRESS: "humidify and press", Help.NONE: "no stage helps"}
# Dots would be drawn one by one and make the file large.
_HATCHES = {Help.CLEAN: "----", Help.PRESS: "////", Help.NONE: ""}
_COLOURS = {Help.CLEAN: CURVES[2], Help.PRESS: CURVES[0], Help.NONE: ACCENT}
_EFFECT_SIGNS = {Effect.GO: "●", Effect.CONDITIONS: "▲", Effect.HOLD: "■", Effect.REFER: "■"}
_EFFECT_CLASSES = {Effect.GO: "go", Effect.CONDITIONS: "care", Effect.HOLD: "halt", Effect.REFER: "halt"}
_EFFECT_WORDS = {
    Effect.GO: "open",
    Effect.CONDITIONS: "conditions",
    Effect.HOLD: "hold",
    Effect.REFER: "refer",
}
_ALWAYS = ("front cover, outside", "back cover, outside")
_GAP = 14.0  # between faces, mm of the drawing
_TALLEST = 3.4  # a face, inches of the drawing
_EDGE_DRAWN = 16.0  # depth at which an edge is drawn, mm of the drawing

_LETTER, _LINE = 4.6, 9.5  # of a label, points: a letter is wide and a line high

_Sheet = tuple[str, str]  # face and leaf
_Span = tuple[float, float, float]  # left, right and upper edge of a label, mm of the drawing


def _mm(quantity: Quantity) -> float:
    return float(quantity.to("mm").magnitude)


def draw_defect_map(item: Item, defects: Sequence[Defect], units: UnitChoice = MILLIMETRES) -> Picture:
    """Draw every face that has a defect, to scale, with a box for each.

    Parameters
    ----------
    item : Item
    defects : sequence of Defect
        Dashed boxes are out of scope, thick ones limit the outcome.  An edge is drawn deeper than
        it is.
    units : UnitChoice
        Of the bar that gives the scale.

    Returns
    -------
    Picture

    Raises
    ------
    BadValue, NotFound
        A defect outside its face.
    """
    judgement = judge_defects(item, defects)
    rows = _rows(_sheets(item, judgement.judged))
    across = max(sum(_drawn_size(item, face)[0] + _GAP for (face, _), _ in row) for row in rows) - _GAP
    high = _mm(item.height)
    scale = min(7.0 / across, _TALLEST / high)  # inches of the drawing for a millimetre
    point = 1 / (72 * scale)  # millimetres for a point of type
    step = high + 30 * point
    figure, axes = new_axes(width=7.2, height=scale * (len(rows) * step + 36 * point))
    for number, row in enumerate(rows):
        left = 0.0
        taken: list[_Span] = []  # by the labels of this row
        for (face, leaf), judged in row:
            wide, tall = _drawn_size(item, face)
            _draw_face(axes, (left, number * step), face, leaf, wide, tall)
            for each in judged:
                place = _draw_box(axes, (left, number * step), each, wide, tall)
                _name_box(axes, each, place, left + wide / 2, point, taken)
            left += wide + _GAP
    bottom = (len(rows) - 1) * step + high
    _draw_key(axes, bottom, point, units)
    axes.set_xlim(-2, max(across, 7.0 / scale) + 2)
    axes.set_ylim(bottom + 36 * point, -16 * point)
    axes.set_aspect("equal", anchor="NW")
    axes.set_axis_off()
    return finish(figure, _read_map(judgement))


def _rows(sheets: Mapping[_Sheet, list[Judged]]) -> list[list[tuple[_Sheet, list[Judged]]]]:
    """Break the faces into rows of at most four."""
    entries = list(sheets.items()) or [(("recto", "1"), [])]
    return [entries[k : k + 4] for k in range(0, len(entries), 4)]


def draw_item(item: Item, units: UnitChoice) -> Picture:
    """Draw the front of the item to scale, with its spine and the place of every staple."""
    width, height = _mm(item.width), _mm(item.height)
    scale = min(3.0 / height, 3.4 / width)  # inches of the drawing for a millimetre
    point = 1 / (72 * scale)
    figure, axes = new_axes(width=7.2, height=scale * (height + 40 * point))
    _draw_face(axes, (0, 0), "front cover, outside" if item.cover_leaves else "recto", "1", width, height)
    for staple in item.staples:
        x, y = _mm(staple.from_spine), _mm(staple.from_head)
        axes.add_patch(
            Rectangle((x - 0.8, y - 6), 1.6, 12, facecolor=INK, edgecolor="none", gid=f"staple-{staple.name}")
        )
        place = f"{say(staple.from_head, units.long_length)} from the head"
        if x:
            place += f", {say(staple.from_spine, units.long_length)} from the spine"
        words = f"{staple.name} staple: {place}; prongs {staple.prong}; rust {staple.rust} of 3"
        _point_at(axes, (x + 1, y), width + 10 * point, words)
    size = " × ".join(say(side, units.long_length) for side in (item.width, item.height))
    axes.text(0, height + 6 * point, size, va="top", fontsize=8, color=SOFT)
    axes.set_xlim(-4 * point, 7.0 / scale)
    axes.set_ylim(height + 22 * point, -16 * point)
    axes.set_aspect("equal", anchor="NW")
    axes.set_axis_off()
    many = f"{len(item.staples)} staple" + ("" if len(item.staples) == 1 else "s")
    return finish(figure, f"The front to scale, {size}, with {many if item.staples else 'no staples'}.")


def _point_at(axes: Axes, place: tuple[float, float], right: float, words: str) -> None:
    axes.annotate(
        words,
        place,
        xytext=(right, place[1]),
        va="center",
        fontsize=8,
        arrowprops={"arrowstyle": "-", "color": SOFT, "linewidth": 0.7},
    )


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
    width, height = (_mm(side) for side in face_size(item, face))
    if face in ("spine", "fore edge"):
        return _EDGE_DRAWN, height
    return (width, _EDGE_DRAWN) if face in ("head edge", "tail edge") else (width, height)


def _draw_face(
    axes: Axes, corner: tuple[float, float], face: str, leaf: str, wide: float, high: float
) -> None:
    left, top = corner
    axes.add_patch(Rectangle(corner, wide, high, facecolor=LEAF, edgecolor=INK, linewidth=0.9))
    name = f"leaf {leaf}, {face}" if face in ("recto", "verso") else face
    axes.annotate(
        name,
        (left + wide / 2, top),
        xytext=(0, 4),
        textcoords="offset points",
        ha="center",
        fontsize=8,
        color=INK,
    )
    if wide > 2 * _EDGE_DRAWN and high > 2 * _EDGE_DRAWN:
        on_left = spine_side(face) == "left"
        x = left if on_left else left + wide
        axes.plot([x, x], [top, top + high], color=SOFT, linewidth=2.6, solid_capstyle="butt")
        inside = x + (4 if on_left else -4)
        axes.text(
            inside,
            top + high - 4,
            "spine",
            rotation=90,
            fontsize=7,
            color=SOFT,
            ha="left" if on_left else "right",
        )


def _draw_box(
    axes: Axes, corner: tuple[float, float], judged: Judged, wide: float, high: float
) -> tuple[tuple[float, float], float]:
    """Draw the box of a defect; give its two sides and its lower edge."""
    left, top = corner
    defect, helped = judged.defect, judged.helped_by
    x, y = left + min(_mm(defect.x), wide), top + min(_mm(defect.y), high)
    width, height = min(_mm(defect.width), wide), min(_mm(defect.height), high)
    with matplotlib.rc_context({"hatch.linewidth": 0.5}):
        box = Rectangle(
            (x, y),
            width,
            height,
            facecolor="none",
            edgecolor=_COLOURS[helped],
            linewidth=2.2 if judged.limits else 1.1,
            linestyle="-" if defect.in_scope else (0, (3, 2)),
            hatch=_HATCHES[helped],
            gid=f"defect-{defect.id}",
        )
    axes.add_patch(box)
    return (x, x + width), y + height


def _name_box(
    axes: Axes,
    judged: Judged,
    place: tuple[tuple[float, float], float],
    middle: float,
    point: float,
    taken: list[_Span],
) -> None:
    """Write sign, id and term under a box, a line lower wherever another label stands already."""
    (start, end), below = place
    words = f"{_SIGNS[judged.helped_by]} {judged.defect.id} {judged.defect.term}"
    length, line = len(words) * _LETTER * point, _LINE * point
    to_right = (start + end) / 2 <= middle  # from the side of the box that is nearer to the edge inwards
    left, right = (start, start + length) if to_right else (end - length, end)
    while any(
        left < other_right and other_left < right and abs(below - at) < line
        for other_left, other_right, at in taken
    ):
        below += line / 2
    taken.append((left, right, below))
    axes.text(
        left if to_right else right,
        below + 2 * point,
        words,
        ha="left" if to_right else "right",
        va="top",
        fontsize=7.5,
        color=_COLOURS[judged.helped_by],
        bbox={"facecolor": LEAF, "edgecolor": "none", "pad": 0.2, "alpha": 0.7},
    )


def _draw_key(axes: Axes, bottom: float, point: float, units: UnitChoice) -> None:
    bar = Q_(2.0, "inch") if units.long_length == "inch" else Q_(50.0, "mm")
    long = _mm(bar)
    words = " · ".join(f"{_SIGNS[stage]} {_WORDS[stage]}" for stage in Help)
    line = bottom + 20 * point
    axes.plot([0, long], [line] * 2, color=INK, linewidth=1.4, solid_capstyle="butt")
    axes.text(
        long / 2,
        line + 2 * point,
        f"{bar.magnitude:g} {unit_label(units.long_length)}",
        ha="center",
        va="top",
        fontsize=7.5,
        color=SOFT,
    )
    axes.text(
        long + 8,
        line + 2 * point,
        f"{words}\nthick line: limits the outcome · dashed: out of scope",
        ha="left",
        va="center",
        fontsize=7.5,
        color=SOFT,
    )


def _read_map(judgement: DefectJudgement) -> str:
    judged = judgement.judged
    if not judged:
        return "No defect is listed yet; the outside of the cover is drawn to scale."
    faces = len({(j.defect.face, j.defect.leaf) for j in judged})
    counts = [f"{sum(j.helped_by is stage for j in judged)} {_WORDS[stage]}" for stage in Help]
    limiting = ", ".join(j.defect.id for j in judgement.limiting)
    many = f"{len(judged)} defect" + ("" if len(judged) == 1 else "s")
    words = f"{many} on {faces} face{'' if faces == 1 else 's'}: {', '.join(counts)}"
    return f"{words}; {limiting} limits the outcome." if limiting else f"{words}."


def defect_table(judgement: DefectJudgement, units: UnitChoice) -> str:
    """Write the defects with what could help each and whether work on it pays."""
    rows = [
        (
            f"{_SIGNS[j.helped_by]} {j.defect.id} {j.defect.term}",
            _say_face(j.defect),
            _say_box(j.defect, units),
            f"{j.defect.severity} {dict(SEVERITIES)[j.defect.severity]}, {_say_state(j.defect)}",
            _WORDS[j.helped_by],
            j.words,
        )
        for j in judgement.judged
    ]
    head = ("defect", "face", "size", "severity", "could help", "judged")
    return words_table(head, rows)


def _say_face(defect: Defect) -> str:
    return f"leaf {defect.leaf}, {defect.face}" if defect.face in ("recto", "verso") else defect.face


def _say_state(defect: Defect) -> str:
    return "active" if defect.active else "stable"


def _say_box(defect: Defect, units: UnitChoice) -> str:
    sides = [say(side, units.long_length).split() for side in (defect.width, defect.height)]
    return f"{sides[0][0]} × {' '.join(sides[1])}"


def words_table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Write a table of words, every column to the left."""
    return table(head, rows).replace("<table>", '<table class="words">', 1)


def defect_page(judgement: DefectJudgement, units: UnitChoice) -> Page:
    """Show the defects and where effort counts."""
    html = f'<p class="say">{escape(judgement.answer)}</p>{defect_table(judgement, units)}'
    return Page(html, judgement.answer)


def gate_table(results: Iterable[GateResult], *, only_met: bool = False) -> str:
    """Write the gates with answer, evidence and what each does.

    Parameters
    ----------
    results : iterable of GateResult
    only_met : bool
        Write those that act as a table and name the open ones in a line beneath.
    """
    lines, open_ones = [], []
    for result in results:
        if only_met and not result.is_met:
            open_ones.append(result.gate.name)
            continue
        effect = result.effect
        word = "overridden" if result.override else _EFFECT_WORDS[effect]
        shown = Effect.CONDITIONS if result.override else effect
        mark = f'<span class="{_EFFECT_CLASSES[shown]}">{_EFFECT_SIGNS[shown]}&nbsp;{word}</span>'
        answer = result.finding.words if result.finding else "not answered"
        why = result.reason
        if result.override:
            why = f"{why} Overridden: {result.override}"
        cells = (escape(result.gate.name), mark, escape(f"{answer} ({result.evidence})"), escape(why))
        lines.append("<tr>" + "".join(f"<td>{cell}</td>" for cell in cells) + "</tr>")
    head = "".join(f"<th>{name}</th>" for name in ("gate", "does", "answer", "why"))
    html = ""
    if lines:
        rows = "".join(lines)
        html = f'<div class="scroll"><table class="words"><tr>{head}</tr>{rows}</table></div>'
    if open_ones:
        html += f'<p><span class="go">●&nbsp;nothing against it:</span> {escape(", ".join(open_ones))}.</p>'
    return html


def gate_page(plan: IntakePlan) -> Page:
    """Show every gate as it was answered."""
    met = [r for r in plan.gates if r.is_met]
    said = [f"{r.gate.name}: {'overridden' if r.override else r.effect}" for r in met]
    words = "; ".join(said) or "every gate is open"
    return Page(gate_table(plan.gates), words)


def condition_list(conditions: Sequence[Condition]) -> str:
    """Write what later stages must heed."""
    if not conditions:
        return '<p class="hint">No conditions for the stages that follow.</p>'
    rows = [
        (say_condition(c), ", ".join(c.stages), c.gate.replace("_", " "), say_sources(c.source))
        for c in conditions
    ]
    return words_table(("condition", "heeded at", "set by", "source"), rows)


def condition_page(plan: IntakePlan) -> Page:
    """Show the conditions of a decision."""
    words = " ".join(say_condition(c) for c in plan.conditions) or "no conditions"
    return Page(condition_list(plan.conditions), words)


def examination_page() -> Page:
    """Show the order of the examination with its instruments."""
    rows = [
        (look.what, look.instruments, f"{look.minutes:.0f} min" if look.minutes else "–", look.note)
        for look in EXAMINATION
    ]
    head = ("step", "instruments", "about", "heed")
    return Page(words_table(head, rows), "; ".join(look.what for look in EXAMINATION))


def permanent_change_page(changes: Sequence[PermanentChange]) -> Page:
    """Show what changes for good, as it is explained to the owner."""
    items = "".join(f"<li>☐ {escape(change.words)}</li>" for change in changes)
    html = f'<ul class="cautions">{items}</ul>'
    return Page(html, " ".join(change.words for change in changes))
