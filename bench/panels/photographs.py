"""The panel of photographs: taken in untouched, named by view and light, before beside after."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

import ipywidgets as widgets

from bench.desk import Treatment
from bench.errors import BadValue, BenchError, RecordError
from bench.figures.page import verdict_tag
from bench.figures.photographs import Photograph, figure_row, look_at
from bench.item import Item
from bench.panels.base import Panel, View
from bench.panels.fields import ChoiceField, Field, GroupLabel, SegmentField, TextField
from bench.panels.parts import opening
from bench.records.kept_files import PHOTOGRAPHS, checksum
from bench.records.photographs import by_view
from bench.records.store import Record
from bench.treatment.plan import Caution, Notice, Verdict, worst
from bench.treatment.rows import is_given
from bench.units import UnitChoice

VIEWS = (
    "front cover",
    "back cover",
    "spine",
    "fore edge",
    "head edge",
    "tail edge",
    "inside of front cover",
    "inside of back cover",
    "centre spread",
    "staples",
    "detail of a defect",
)
_WHOLE_FACE = ("front cover", "back cover", "inside of front cover", "inside of back cover")
LIGHTS = (
    "normal",
    "raking from the left",
    "raking from the right",
    "raking from the head",
    "raking from the tail",
    "transmitted",
    "ultraviolet",
)
MOMENTS = {"before": "intake", "during": "pressing", "after": "review"}
_FINE = 8.0  # pixels a millimetre below which a fine crease of a quarter millimetre is two pixels: judgement
_NONE = ""

_NO_SCALE = Notice(
    "no-scale-in-picture",
    Verdict.CARE,
    "No scale is named: size and colour cannot be read from the picture later.",
)
_TOO_FEW_PIXELS = Notice(
    "too-few-pixels",
    Verdict.CARE,
    "About {fine:.0f} pixels a millimetre ({an_inch:.0f} an inch): fine creases are lost.",
)
_ULTRAVIOLET = Notice(
    "ultraviolet-harms",
    Verdict.CARE,
    "Ultraviolet harms eyes and skin, and paper in time: goggles that block it, and seconds only.",
)


@dataclass(frozen=True)
class _Chosen:
    """The photograph at hand, and what Save would write of it."""

    name: str
    file: str  # where it lies in the record already; empty if it must be kept first
    data: bytes
    seen: Photograph
    row: dict[str, Any]
    words: str
    cautions: tuple[Caution, ...]


class UploadField(Field):
    """A file from this machine, read whole; None while none is chosen."""

    def __init__(self, key: str, label: str, endings: Iterable[str], *, hint: str = "") -> None:
        accept = ",".join(f".{ending}" for ending in endings)
        super().__init__(key, label, widgets.FileUpload(accept=accept, multiple=False), hint=hint)

    def read(self, units: UnitChoice) -> tuple[str, bytes] | None:
        """Give name and bytes of the file."""
        chosen = self.widget.value
        return (str(chosen[0]["name"]), bytes(chosen[0]["content"])) if chosen else None

    def clear(self) -> None:
        """Forget the file."""
        self.widget.value = ()


class WordsField(Field):
    """Words of one's own, or one of those proposed while typing."""

    def __init__(self, key: str, label: str, value: str, proposed: Iterable[str], *, hint: str = "") -> None:
        control = widgets.Combobox(value=value, options=list(proposed), continuous_update=False)
        super().__init__(key, label, control, hint=hint)

    def read(self, units: UnitChoice) -> str:
        """Give the words, without blanks at their ends."""
        words = str(self.widget.value).strip()
        if not words:
            raise BadValue(self.label, "empty", "some words", "Say what the picture shows")
        return words


def build_photographs_panel(treatment: Treatment, *, moment: str = "before") -> Panel:
    """Build the panel.

    Parameters
    ----------
    treatment : Treatment
        At hand.
    moment : str
        ``"before"``, ``"during"`` or ``"after"``: what the panel opens on.
    """

    def work(values: Mapping[str, Any], units: UnitChoice) -> _Chosen | None:
        return _read_chosen(treatment, values)

    def show(result: _Chosen | None, units: UnitChoice) -> View:
        return _view(treatment, result)

    def save(result: _Chosen | None, values: Mapping[str, Any]) -> str:
        assert result is not None  # Save is blocked without a file
        file = result.file or PHOTOGRAPHS.keep(treatment.record, result.name, result.data)
        words = treatment.save({"photographs": [{**result.row, "file": file}]})
        _offer_waiting(panel, treatment.latest)
        return f"{words} The file is kept as {file}."

    waiting = PHOTOGRAPHS.waiting(treatment.record)
    panel = Panel(
        name="photographs",
        strip=lambda: treatment.heading("photographs"),
        fields=[
            GroupLabel("The file"),
            UploadField(
                "upload",
                "Choose a file",
                PHOTOGRAPHS.endings,
                hint="it is copied as it is, its bytes untouched",
            ),
            ChoiceField(
                "waiting",
                "Or one already in the folder",
                _offered(waiting),
                _NONE,
                hint="files put into the folder photographs of this treatment",
            ),
            GroupLabel("What it shows"),
            SegmentField("moment", "Taken", [(f"{name} treatment", name) for name in MOMENTS], moment),
            WordsField("view", "View", VIEWS[0], VIEWS, hint="or in your own words"),
            ChoiceField("light", "Light", list(LIGHTS), LIGHTS[0], hint="raking: almost along the surface"),
            TextField(
                "scale", "Scale and targets", hint="in the picture, such as: rule of 100 mm, grey scale"
            ),
            TextField("note", "Note", long=True),
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save this photograph",
    )
    return panel


def _offered(files: Iterable[str]) -> list[tuple[str, str]]:
    return [("none", _NONE), *((file, file) for file in files)]


def _offer_waiting(panel: Panel, record: Record) -> None:
    """Let go of the file just saved, and offer those that still wait."""
    choice, upload = panel.field("waiting").widget, panel.field("upload")
    with choice.hold_trait_notifications():
        choice.options = _offered(PHOTOGRAPHS.waiting(record))
        choice.value = _NONE
    assert isinstance(upload, UploadField)
    upload.clear()


def _read_chosen(treatment: Treatment, values: Mapping[str, Any]) -> _Chosen | None:
    record = treatment.latest
    if values["upload"] is not None:
        (name, data), file = values["upload"], ""
    elif values["waiting"]:
        file = values["waiting"]
        name, data = file.split("/")[-1], PHOTOGRAPHS.read(record, file)
    else:
        return None
    code = checksum(data)
    rows = record.read("photographs")
    same = rows[rows["sha256"] == code]
    if len(same):
        came = f"{name}, which is recorded as {same.iloc[-1]['view']} already"
        raise BadValue("photograph", came, "a new picture", "Choose another file")
    seen = _look(code, data, name)
    row = {
        "stage": MOMENTS[values["moment"]],
        "view": values["view"],
        "light": values["light"],
        "scale": values["scale"],
        "sha256": code,
        "note": values["note"],
    }
    if seen.taken_at is not None:
        row["taken_at"] = _with_offset(seen.taken_at)
    words = f"{values['view'].capitalize()}, {values['moment']} treatment, light: {values['light']}"
    return _Chosen(
        name=name,
        file=file,
        data=data,
        seen=seen,
        row={key: value for key, value in row.items() if value != ""},
        words=f"{words}: {seen.width} × {seen.height} pixels, {_say_taken(seen.taken_at)}.",
        cautions=tuple(_cautions(treatment, values, seen)),
    )


_seen: dict[str, Photograph] = {}


def _look(code: str, data: bytes, name: str) -> Photograph:
    """Look at a file once; it is known again by its checksum."""
    if code not in _seen:
        _seen[code] = look_at(data, name=name)
    return _seen[code]


def _with_offset(taken: datetime) -> datetime:
    """Take a camera's clock without an offset as that of this machine's place."""
    return taken if taken.tzinfo else taken.astimezone()


def _say_taken(taken: datetime | None) -> str:
    if taken is None:
        return "without a date of its own"
    words = f"taken {taken:%Y-%m-%d %H:%M} by the camera's clock"
    return words if taken.tzinfo else f"{words}, taken as the time of this place"


def _cautions(treatment: Treatment, values: Mapping[str, Any], seen: Photograph) -> Iterable[Caution]:
    if not values["scale"]:
        yield _NO_SCALE()
    fine = _pixels_per_mm(_item(treatment), values["view"], seen)
    if fine is not None and fine < _FINE:
        yield _TOO_FEW_PIXELS(fine=fine, an_inch=25.4 * fine)
    if values["light"] == "ultraviolet":
        yield _ULTRAVIOLET()


def _item(treatment: Treatment) -> Item | None:
    try:
        return treatment.item
    except BenchError:  # not described yet
        return None


def _pixels_per_mm(item: Item | None, view: str, seen: Photograph) -> float | None:
    """Give pixels a millimetre at best, if the view is a whole face."""
    if item is None or view not in _WHOLE_FACE:
        return None
    longest = max(float(q.to("mm").magnitude) for q in (item.width, item.height))
    return max(seen.width, seen.height) / longest


def _view(treatment: Treatment, result: _Chosen | None) -> View:
    record = treatment.latest
    rows = record.read("photographs")
    # A view in one light to each row of the page, before beside after.
    taken = [figure_row(_shown(record, row) for row in view) for view in by_view(rows.to_dict("records"))]
    known = _say_known(rows)
    if result is None:
        return View(
            lead=opening(known, "Choose a file to add a picture."),
            parts=taken,
            save_blocked="Choose a file first.",
        )
    verdict = worst(caution.verdict for caution in result.cautions)
    return View(
        lead=opening(result.words, known, tag=verdict_tag(verdict)),
        parts=[figure_row([(result.seen.source, f"{result.name}, not saved yet")]), *taken],
        cautions=result.cautions,
        save_says="Copies the file beside the tables and writes 1 row to photographs.",
    )


def _say_known(rows: Any) -> str:
    """Say how many are saved, and which views taken before have no picture after."""
    if rows.empty:
        return "No photograph is saved yet."
    views = {
        stage: dict.fromkeys(rows[rows["stage"] == stage]["view"])
        for stage in (MOMENTS["before"], MOMENTS["after"])
    }
    count = f"{len(rows)} {'photograph is' if len(rows) == 1 else 'photographs are'} saved."
    left = [view for view in views[MOMENTS["before"]] if view not in views[MOMENTS["after"]]]
    return f"{count} Without a picture after treatment: {', '.join(left)}." if left else count


def _shown(record: Record, row: Mapping[Any, Any]) -> tuple[str, str]:
    moment = {stage: name for name, stage in MOMENTS.items()}.get(row["stage"], "during")
    light = f", light: {row['light']}" if is_given(row["light"]) else ""
    caption = f"{row['view']}, {moment} treatment{light}"
    try:
        path = record.folder / row["file"]
        return _small(str(path), path.stat().st_mtime_ns), caption
    except (OSError, BenchError, RecordError):
        return "", f"{caption}: {row['file']} cannot be shown; the check of the record says why"


@lru_cache(maxsize=64)
def _small(path: str, _changed: int) -> str:
    with open(path, "rb") as stream:
        return look_at(stream.read(), longest=240).source
