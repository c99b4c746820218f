"""The panel of defects: one at a time, with the map of all and where effort counts."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from bench.desk import Treatment
from bench.errors import BadValue, BenchError, RecordError
from bench.figures.faces import draw_defect_map
from bench.figures.intake import defect_table
from bench.figures.marks import Choose
from bench.figures.photographs import look_at
from bench.handover.intake import known_findings
from bench.panels.base import Panel, View
from bench.panels.face import Box, FacePad
from bench.panels.fields import (
    ChoiceField,
    Field,
    GroupLabel,
    Hint,
    NumberField,
    SegmentField,
    Shown,
    TextField,
)
from bench.panels.offered import offer
from bench.panels.parts import opening
from bench.panels.remembered import Remembered
from bench.records.kept_files import PHOTOGRAPHS
from bench.records.nouns import replacing
from bench.treatment.intake.condition_terms import FACES, SEVERITIES, TERMS, Help
from bench.treatment.intake.defects import FINE_LINE, SHAPES, Defect, DefectJudgement, faces_of, judge_defects
from bench.treatment.intake.rows import defect_row
from bench.treatment.rows import is_given
from bench.units import Q_, UnitChoice

_BY_TERM, _BY_RULE = "as the term says", "by the rule"
_NEW = "a new one"
_PICK = Choose("which", "Click the box of a defect to correct it.")


@dataclass(frozen=True)
class _EnteredDefect:
    """The defect in the fields, None while something is missing, and all defects judged with it.

    Face and box are those of the fields; the box is None while a side of it is missing.
    """

    defect: Defect | None
    judgement: DefectJudgement
    face: str
    leaf: str
    box: Box | None
    missing: tuple[str, ...] = ()


def build_defects_panel(treatment: Treatment) -> Panel:
    """Build the panel that lists defects before treatment; Save writes the one in the fields.

    Parameters
    ----------
    treatment : Treatment
        At hand, its item described.  Choosing a defect that is listed brings it back to be mended.
    """
    listed = known_findings(treatment).defects
    which = ChoiceField(
        "which",
        "Defect",
        [_NEW, *(d.id for d in listed)],
        _NEW,
        hint="choose one that is listed to correct it",
    )

    def work(values: Mapping[str, Any], units: UnitChoice) -> _EnteredDefect:
        known = {d.id: d for d in known_findings(treatment).defects}
        missing = tuple(label for key, label in _NEEDED.items() if values[key] in ("", None))
        if values["face"] in ("recto", "verso") and not values["leaf"]:
            missing = (*missing, "Leaf")
        sides = tuple(values[key] for key in _BOX)
        place = (values["face"], values["leaf"], None if None in sides else sides)
        if missing:
            return _EnteredDefect(None, judge_defects(treatment.item, [*known.values()]), *place, missing)
        number = _free_id(list(known)) if values["which"] == _NEW else values["which"]
        try:
            defect = _read_defect(values, number)
            judgement = judge_defects(treatment.item, [*{**known, number: defect}.values()])
        except BadValue as error:
            raise _in_words_of_the_panel(error) from error
        return _EnteredDefect(defect, judgement, *place)

    def show(result: _EnteredDefect, units: UnitChoice) -> View:
        own = "" if result.defect is None else result.defect.id
        others = [j.defect for j in result.judgement.judged if j.defect.id != own]
        pad.show(treatment.item, result.face, result.leaf, result.box, others)
        return _view(treatment, result, units)

    def enter(box: Box) -> None:
        panel.fill({key: _side(panel, key).write(value) for key, value in zip(_BOX, box, strict=True)})

    pad = FacePad(enter)
    taken = Remembered(treatment, lambda: _photographs(treatment))
    faces = _offered_faces(treatment)
    face = ChoiceField("face", "Face", list(faces), faces[0])
    beneath = ChoiceField("beneath", "Photograph beneath", taken(), "", hint=_BENEATH_HINT)

    def lay_beneath(change: Any) -> None:
        pad.photograph = _small_copy(treatment, change["new"])

    beneath.widget.observe(lay_beneath, names="value")
    chosen = [_NEW]

    def follow(panel: Panel) -> None:
        """Bring a chosen defect back before anything is worked out from the fields of another one."""
        offer(face, _offered_faces(treatment))  # an item that got a cover since has more
        offer(beneath, taken())
        if which.widget.value != chosen[0]:
            chosen[0] = which.widget.value
            _bring_back(treatment, panel, chosen[0])

    def save(result: _EnteredDefect, values: Mapping[str, Any]) -> str:
        judged = next(j for j in result.judgement.judged if result.defect and j.defect.id == result.defect.id)
        keys = ("defect", "moment", "cycle")
        rows = replacing(treatment.latest, "defects", [defect_row(judged)], keys)
        words = treatment.save({"defects": rows})
        options = [_NEW, *(d.id for d in known_findings(treatment).defects)]
        if tuple(options) != tuple(which.widget.options):
            which.widget.options = options
        if values["which"] == _NEW:
            panel.fill(_empty(panel))  # the next one is entered, and this one is not saved twice
        return words

    panel = Panel(
        name="defects",
        strip=lambda: treatment.heading("defects"),
        fields=[GroupLabel("One defect"), which, *_fields(pad, face, beneath)],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save this defect",
        follow=follow,
    )
    return panel


def _in_words_of_the_panel(error: BadValue) -> BadValue:
    """Name the field that an error of a defect means, such as ``"y of d3"``, as it stands on the screen."""
    key, _, _ = error.field.partition(" of ")
    return BadValue(_NEEDED.get(key, error.field), error.value, error.allowed, error.remedy)


_NEEDED = {
    "term": "Term",
    "x": "From the left edge",
    "y": "From the head",
    "width": "Width of the box",
    "height": "Height of the box",
}
_SHAPE_HINT = "a crease or a tear often is a line, from corner to corner of its box"
_BENEATH_HINT = "one that shows this face and nothing else: it is stretched over it"
_BENEATH_PX = 600
_BOX = ("x", "y", "width", "height")
# What a new defect starts with: its term and its place are never proposed.
_EMPTY = {
    **dict.fromkeys(_NEEDED, ""),
    "leaf": "",
    "severity": 1,
    "state": "stable",
    "helped_by": _BY_TERM,
    "limits": _BY_RULE,
    "scope": "yes",
    "shape": SHAPES[0],
    "note": "",
}


def _empty(panel: Panel) -> dict[str, Any]:
    """Give what a new defect starts with in a panel: on the first face of its item."""
    return {**_EMPTY, "face": panel.field("face").widget.options[0]}


def _offered_faces(treatment: Treatment) -> tuple[str, ...]:
    """Give the faces of the item, and those on which a defect is listed all the same.

    All that there are while the item is not described: the panel then says what is missing.
    """
    try:
        known = faces_of(treatment.item)
    except BadValue:
        return FACES
    listed = (defect.face for defect in known_findings(treatment).defects)
    return tuple(dict.fromkeys((*known, *listed)))


def _photographs(treatment: Treatment) -> list[tuple[str, str]]:
    """Give the photographs of the treatment as options, by view and light; none comes first."""
    rows = treatment.latest.rows("photographs")
    options = [("none", "")]
    for row in rows:
        light = f", {row['light']}" if is_given(row["light"]) else ""
        options.append((f"{row['view']}{light} ({PurePosixPath(row['file']).name})", str(row["file"])))
    return options


def _small_copy(treatment: Treatment, file: str) -> str:
    """Give the source of a small copy of a photograph; nothing of one that cannot be read."""
    if not file:
        return ""
    try:
        return look_at(PHOTOGRAPHS.read(treatment.latest, file), longest=_BENEATH_PX).source
    except (BenchError, RecordError):  # the panel of photographs says so
        return ""


def _fields(pad: FacePad, face: ChoiceField, beneath: ChoiceField) -> list[Field | GroupLabel]:
    terms = [("choose a term", ""), *((t.term, t.term) for t in TERMS)]
    grades = [(f"{grade} {word}", grade) for grade, word in enumerate(SEVERITIES)]
    helps = [_BY_TERM, *(h.value for h in Help)]
    return [
        ChoiceField("term", "Term", terms, ""),
        face,
        TextField("leaf", "Leaf", hint="number of the leaf, for a recto or verso only"),
        beneath,
        Shown(pad),
        _side_field("x", 0.0),
        _side_field("y", 0.0, hint="both to the head-left corner of a box around it"),
        _side_field("width", 0.1),
        _side_field("height", 0.1, hint=_say_fine_line),
        GroupLabel("How bad, and what could help"),
        ChoiceField("severity", "Severity", grades, 1),
        SegmentField("state", "It is", ["stable", "active"], "stable"),
        ChoiceField("helped_by", "Could be helped by", helps, _BY_TERM),
        SegmentField("limits", "Limits the outcome", [_BY_RULE, "yes", "no"], _BY_RULE),
        ChoiceField("shape", "What lies in the box", list(SHAPES), SHAPES[0], hint=_SHAPE_HINT),
        SegmentField("scope", "Owner wants it treated", ["yes", "no"], "yes"),
        TextField("note", "Note"),
    ]


def _say_fine_line(units: UnitChoice) -> str:
    return f"a fine line is {FINE_LINE.write(units.long_length)} wide"


def _side_field(key: str, least: float, *, hint: Hint = "") -> NumberField:
    low, high = Q_(least, "mm"), Q_(800.0, "mm")
    return NumberField(key, _NEEDED[key], None, "length", low=low, high=high, optional=True, hint=hint)


def _free_id(taken: list[str]) -> str:
    numbers = [int(m[1]) for name in taken if (m := re.fullmatch(r"d(\d+)", name))]
    return f"d{max(numbers, default=0) + 1}"


def _read_defect(values: Mapping[str, Any], number: str) -> Defect:
    helped, limits = values["helped_by"], values["limits"]
    return Defect(
        id=number,
        term=values["term"],
        face=values["face"],
        x=values["x"],
        y=values["y"],
        width=values["width"],
        height=values["height"],
        leaf=values["leaf"] if values["face"] in ("recto", "verso") else "",
        severity=values["severity"],
        active=values["state"] == "active",
        helped_by=None if helped == _BY_TERM else Help(helped),
        limits_outcome=None if limits == _BY_RULE else limits == "yes",
        in_scope=values["scope"] == "yes",
        shape=values["shape"],
        note=values["note"],
    )


def _bring_back(treatment: Treatment, panel: Panel, chosen: str) -> None:
    """Fill the fields with a defect that is listed; empty them for a new one."""
    listed = {d.id: d for d in known_findings(treatment).defects}
    if chosen not in listed:
        panel.fill(_empty(panel))
        return
    defect = listed[chosen]
    said = {
        "term": defect.term,
        "face": defect.face,
        "leaf": defect.leaf if defect.face in ("recto", "verso") else "",
        "severity": defect.severity,
        "state": "active" if defect.active else "stable",
        "helped_by": (defect.helped_by or Help.NONE).value,
        "limits": "yes" if defect.limits_outcome else "no",
        "scope": "yes" if defect.in_scope else "no",
        "shape": defect.shape,
        "note": defect.note,
    }
    sides = {key: getattr(defect, key) for key in _BOX}
    panel.fill({**said, **{key: _side(panel, key).write(value) for key, value in sides.items()}})


def _side(panel: Panel, key: str) -> NumberField:
    entry = panel.field(key)
    assert isinstance(entry, NumberField)
    return entry


def _view(treatment: Treatment, result: _EnteredDefect, units: UnitChoice) -> View:
    judged = result.judgement.judged
    if result.defect is None:
        head = "Enter one defect: its term, its face, and a box around it."
        says, blocked = "", f"Nothing to save yet; empty: {', '.join(result.missing).lower()}."
    else:
        words = next(j.words for j in judged if j.defect.id == result.defect.id)
        head = f"{result.defect.id}, {result.defect.term}, {result.defect.face}: {words}."
        says = f"Writes {result.defect.id} to defects; the map shows it with those already saved."
        blocked = ""
    return View(
        lead=opening(head, result.judgement.answer),
        parts=[
            lambda: draw_defect_map(
                treatment.item, [j.defect for j in judged], units, pick=_PICK if judged else None
            ),
            defect_table(result.judgement, units),
        ],
        save_says=says,
        save_blocked=blocked,
    )
