"""The panel of the item: what the thing is, counted in leaves or pages, with its staples."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from bench.desk import Treatment
from bench.errors import BadValue
from bench.figures.faces import draw_item
from bench.figures.page import table, verdict_tag
from bench.item import (
    Answer,
    CountJudgement,
    Format,
    Item,
    Prong,
    Staple,
    count_leaves,
    judge_leaf_count,
    judge_mass,
    judge_staples,
)
from bench.materials import GLUES, materials_of_kind
from bench.panels.base import Panel, View
from bench.panels.fields import (
    ChoiceField,
    CountField,
    Field,
    GroupLabel,
    NumberField,
    SegmentField,
    TextField,
)
from bench.panels.item_shown import ShownItem
from bench.panels.parts import opening
from bench.records import nouns
from bench.treatment.plan import Caution, Notice, Verdict, worst
from bench.units import Q_, Quantity, UnitChoice, say, say_count

_COATED = [("coated", "yes"), ("not coated", "no"), ("not known", "unknown")]
_RUST = [("none", 0), ("just visible", 1), ("plain", 2), ("loss of metal, or stain through a leaf", 3)]
_STAPLE_NAMES = ("upper", "lower", "middle")
_COUNT = "Count"

_PROUD = Notice(
    "staple-stands-proud",
    Verdict.STOP,
    "The {names} staple stands proud: no load before that is settled.",
)
_NO_STAPLE = Notice(
    "no-staple-entered", Verdict.CARE, "A side-stapled item without a staple: enter their places."
)
_COATING_UNKNOWN = Notice(
    "coating-unknown",
    Verdict.CARE,
    "Not known whether the cover is coated: it is taken as coated until it has been tested.",
)
_GLUE_UNKNOWN = Notice("glue-unknown", Verdict.CARE, "The glue is not known: the spine is kept off heat.")


@dataclass(frozen=True)
class _Described:
    """An item as the fields describe it, with the rows that it would change."""

    item: Item
    count: int
    judgement: CountJudgement | None
    row: dict[str, Any]
    staples: list[dict[str, Any]]


def build_item_panel(treatment: Treatment) -> Panel:
    """Build the panel that describes the item: format, size, leaves, papers, glue, staples.

    Parameters
    ----------
    treatment : Treatment
        At hand; what is recorded already stands in the fields.
    """
    known = nouns.treatment_row(treatment.record)
    staples = {staple.name: staple for staple in nouns.staples_of(treatment.record)}
    names = list(dict.fromkeys([*staples, *_STAPLE_NAMES]))[: max(3, len(staples))]
    staple_fields = {name: _staple_fields(name, staples.get(name)) for name in names}
    shown = ShownItem()
    stapled = [GroupLabel("Staples; leave the place empty where there is none")]

    def work(values: Mapping[str, Any], units: UnitChoice) -> _Described:
        result = _describe(treatment, values, names)
        shown.begin(known, result.row, result.staples)
        return result

    def show(result: _Described, units: UnitChoice) -> View:
        has_staples = result.item.format in (Format.SADDLE_STITCHED, Format.SIDE_STAPLED)
        placed = {s.name for s in result.item.staples}
        more = [name for name in names if name not in placed][:1]  # room for one more at a time
        for name, fields in staple_fields.items():
            _show_fields(fields[:1], name in placed or (has_staples and name in more))
            _show_fields(fields[1:], name in placed)
        return _view_item(treatment, result, units)

    def save(result: _Described, values: Mapping[str, Any]) -> str:
        rows, news = shown.merge(treatment.latest, result.row, result.staples)
        words = treatment.save(rows)
        shown.keep(result.row, result.staples)
        return f"{words} {news}".strip()

    return Panel(
        name="item",
        strip=lambda: treatment.heading("intake"),
        fields=[
            GroupLabel("The item"),
            *_identity_fields(known),
            *_make_fields(known),
            *stapled,
            *(f for fields in staple_fields.values() for f in fields),
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save the item",
    )


def _mm(known: Mapping[str, Any], column: str) -> Quantity | None:
    return Q_(float(known[column]), "mm") if column in known else None


def _identity_fields(known: Mapping[str, Any]) -> list[Field]:
    count = str(int(known["count"])) if "count" in known else ""
    return [
        TextField("title", "Title", str(known.get("title", "")), needed="Write it as the owner calls it"),
        TextField("owner", "Owner", str(known.get("owner", ""))),
        CountField(
            "count",
            _COUNT,
            count,
            needed="Count the leaves or pages of the text block, cover not included",
            hint="text block only, cover not included",
        ),
        SegmentField(
            "counted_as",
            "Counted as",
            ["leaves", "pages"],
            known.get("counted_as"),
            hint="a leaf has two pages; this is never assumed",
        ),
        NumberField(
            "width",
            "Width",
            _mm(known, "width_mm"),
            "length",
            low=Q_(30.0, "mm"),
            high=Q_(600.0, "mm"),
            hint="spine to fore edge, trimmed",
        ),
        NumberField(
            "height",
            "Height",
            _mm(known, "height_mm"),
            "length",
            low=Q_(30.0, "mm"),
            high=Q_(800.0, "mm"),
            hint="head to tail",
        ),
    ]


def _make_fields(known: Mapping[str, Any]) -> list[Field | GroupLabel]:
    texts, covers = materials_of_kind("text paper"), materials_of_kind("cover paper")
    shape = ChoiceField(
        "format",
        "Format",
        [(f.value, f.value) for f in Format],
        known.get("format", Format.SADDLE_STITCHED.value),
    )
    cover = SegmentField(
        "cover_leaves",
        "Cover",
        [("with a cover", 2), ("self-cover or none", 0)],
        int(known.get("cover_leaves", 2)),
    )
    paper = ChoiceField("cover_paper", "Paper of the cover", covers, known.get("cover_paper", "coated cover"))
    coated = SegmentField("cover_coated", "Cover is", _COATED, known.get("cover_coated", "unknown"))
    cover.use_while(shape, lambda chosen: chosen != Format.SHEET.value)
    for entry in (paper, coated):
        entry.use_while(cover, bool)
    return [
        GroupLabel("How it is made"),
        shape,
        ChoiceField("text_paper", "Paper of the leaves", texts, known.get("text_paper", "newsprint")),
        cover,
        paper,
        coated,
        ChoiceField(
            "glue",
            "Glue of the spine",
            list(GLUES),
            known.get("glue", "unknown"),
            hint="amber and glassy: animal; clear, flexible: PVAc; tan, waxy: hot melt",
        ),
    ]


def _staple_fields(name: str, staple: Staple | None) -> list[Field]:
    label = f"{name.capitalize()} staple"
    return [
        NumberField(
            f"{name}_head",
            f"{label} from head",
            staple.from_head if staple else None,
            "length",
            low=Q_(0.0, "mm"),
            high=Q_(600.0, "mm"),
            optional=True,
        ),
        NumberField(
            f"{name}_spine",
            f"{label} from spine",
            staple.from_spine if staple else None,
            "length",
            low=Q_(0.0, "mm"),
            high=Q_(50.0, "mm"),
            optional=True,
            hint="0 in a fold",
        ),
        SegmentField(
            f"{name}_prong",
            f"{label}, prongs",
            [("flush", "flush"), ("stand proud", "proud")],
            staple.prong.value if staple else "flush",
        ),
        ChoiceField(f"{name}_rust", f"{label}, rust", _RUST, staple.rust if staple else 0),
    ]


def _show_fields(fields: Sequence[Field], shown: bool) -> None:
    for entry in fields:
        entry.box.layout.display = "" if shown else "none"


def _read_count(values: Mapping[str, Any]) -> tuple[int, int]:
    """Give the count as entered and the leaves that it means."""
    count = values["count"]
    try:
        return count, count_leaves(count, counted_as=values["counted_as"] or "not said")
    except BadValue as error:
        if error.field == "counted as":
            raise
        came = f"{error.value} {values['counted_as']}"
        raise BadValue(_COUNT, came, error.allowed, error.remedy) from None


def _describe(treatment: Treatment, values: Mapping[str, Any], names: Sequence[str]) -> _Described:
    count, leaves = _read_count(values)
    staples = tuple(s for s in (_read_staple(treatment, values, name) for name in names) if s)
    item = Item(
        title=values["title"],
        format=Format(values["format"]),
        width=values["width"],
        height=values["height"],
        leaves=leaves,
        cover_leaves=0 if values["format"] == Format.SHEET.value else values["cover_leaves"],
        text_paper=values["text_paper"],
        cover_paper=values["cover_paper"],
        cover_coated=Answer(values["cover_coated"]),
        glue=values["glue"],
        staples=tuple(sorted(staples, key=lambda s: float(s.from_head.to("mm").magnitude))),
        mass=nouns.mass_of(treatment.record),
    )
    block = nouns.measured_at(treatment.record, "thickness", stage="intake", cycle=0).get("text block")
    judgement = judge_leaf_count(item, block) if block else None
    row = {
        **nouns.treatment_row(treatment.record),
        **{
            key: values[key]
            for key in ("title", "owner", "counted_as", "format", "text_paper", "cover_paper")
        },
        "count": count,
        "width_mm": _rounded(item.width, "mm"),
        "height_mm": _rounded(item.height, "mm"),
        "cover_leaves": item.cover_leaves,
        "cover_coated": item.cover_coated.value,
        "glue": item.glue,
        "length_unit": treatment.units.length,
        "temperature_unit": treatment.units.temperature,
    }
    row = {name: value for name, value in row.items() if value not in (None, "")}
    return _Described(item, count, judgement, row, [_staple_row(s) for s in item.staples])


def _read_staple(treatment: Treatment, values: Mapping[str, Any], name: str) -> Staple | None:
    head, spine = values[f"{name}_head"], values[f"{name}_spine"]
    field = f"{name.capitalize()} staple from head"
    if head is None:
        if name in {s.name for s in nouns.staples_of(treatment.record)}:
            remedy = "A staple that was recorded stays: correct its place"
            raise BadValue(field, "empty", "the distance from the head edge", remedy)
        return None
    return Staple(
        name=name,
        from_head=head,
        from_spine=Q_(0.0, "mm") if spine is None else spine,
        prong=Prong(values[f"{name}_prong"]),
        rust=values[f"{name}_rust"],
    )


def _rounded(quantity: Quantity, unit: str) -> float:
    return round(float(quantity.to(unit).magnitude), 1)


def _staple_row(staple: Staple) -> dict[str, Any]:
    return {
        "staple": staple.name,
        "from_head_mm": _rounded(staple.from_head, "mm"),
        "from_spine_mm": _rounded(staple.from_spine, "mm"),
        "prong": staple.prong.value,
        "rust": staple.rust,
    }


def _view_item(treatment: Treatment, result: _Described, units: UnitChoice) -> View:
    item = result.item
    cautions = tuple(_item_cautions(result))
    size = " × ".join(say(side, units.long_length) for side in (item.width, item.height))
    cover = " and a cover" if item.cover_leaves else ""
    leaves = say_count(item.leaves, "leaf", "leaves")
    staples = say_count(len(item.staples), "staple") if item.staples else "no staples"
    words = f"{item.title}: {leaves} ({2 * item.leaves} pages){cover}, {item.format}, {size}, {staples}."
    because = (
        result.judgement.words
        if result.judgement
        else "Read the thickness over the text block, and the count can be held against it."
    )
    lead = opening(words, because, tag=verdict_tag(worst(c.verdict for c in cautions)))
    says = "Writes what differs from the record: the description to treatment, each staple to staples."
    picture = partial(draw_item, item, units)
    return View(lead=lead, parts=[picture, _item_table(item)], cautions=cautions, save_says=says)


def _item_table(item: Item) -> str:
    folded = item.format is Format.SADDLE_STITCHED
    rows = [
        ("leaves of the text block", f"{item.leaves}"),
        ("pages", f"{2 * item.leaves}"),
        ("folded sheets, cover included", f"{item.all_leaves // 2}" if folded else "–"),
        ("area of one face", f"{float(item.area.to('cm^2').magnitude):.0f} cm²"),
        ("mass, as read", say(item.mass, "g") if item.mass is not None else "not weighed yet"),
    ]
    return table(("what", "value"), rows)


def _item_cautions(result: _Described) -> Iterator[Caution]:
    item = result.item
    if result.judgement and not result.judgement.fits:
        yield Caution(Verdict.CARE, result.judgement.words, "memory")
    if words := judge_mass(item):
        yield Caution(Verdict.CARE, words, "memory")
    for words in judge_staples(item):
        yield Caution(Verdict.CARE, words, "memory")
    proud = [s.name for s in item.staples if s.prong is Prong.PROUD]
    if proud:
        yield _PROUD(names=" and ".join(proud))
    if item.format is Format.SIDE_STAPLED and not item.staples:
        yield _NO_STAPLE()
    if item.cover_coated is Answer.UNKNOWN and item.cover_leaves:
        yield _COATING_UNKNOWN()
    if item.is_square_bound and item.glue == "unknown":
        yield _GLUE_UNKNOWN()
