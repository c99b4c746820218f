"""The panels of the first page: take a treatment to hand, or start a new one."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from html import escape
from pathlib import Path
from typing import Any

import ipywidgets as widgets
from IPython.display import display

from bench.desk import SAMPLES, Treatment, at_hand, records_folder
from bench.errors import BadValue
from bench.figures.page import Page, caution_list, table
from bench.panels.base import Panel, View
from bench.panels.fields import ChoiceField, TextField
from bench.panels.parts import opening
from bench.records.at_hand import take_to_hand
from bench.records.clock import now
from bench.records.many import MANY
from bench.records.register import list_treatments, rebuild_register, say_due
from bench.records.store import create_treatment
from bench.treatment.plan import Caution, Verdict
from bench.units import UnitChoice

_INTAKE = "01_intake.ipynb"
_NONE_YET = "There is no treatment yet. Start one below; intake comes next."
_NO_RECORDS = (
    "These are samples. Open the workbook with “python -m bench open” to keep records of your own and choose "
    "among them."
)

_OFTEN_S = 0.5


class SayProgress:
    """Says on the page how far the reading of many treatments is, and goes when it is done."""

    def __init__(self) -> None:
        self._shown: widgets.HTML | None = None
        self._said_at = 0.0

    def __call__(self, done: int, of: int) -> None:
        """Say it twice a second; of few treatments nothing is said."""
        if of < MANY:
            return
        if self._shown is None:
            self._shown = widgets.HTML()
            display(self._shown)
        if done == of:
            self._shown.close()
        elif time.monotonic() - self._said_at > _OFTEN_S:
            self._said_at = time.monotonic()
            self._shown.value = f'<p role="status">Reading what has changed: {done} of {of} …</p>'


def treatments_page(folder: Path | None = None) -> Page:
    """Show every treatment of a folder, where it stands and what is due; the samples by default."""
    frame = list_treatments(folder or records_folder() or SAMPLES, progress=SayProgress())
    if frame.empty:
        return Page(f"<p>{_NONE_YET}</p>", _NONE_YET)
    rows = [_row(row) for row in frame.to_dict("records")]
    words = "; ".join(f"{title}: {stands}" for title, stands, *_ in rows)
    head = ("treatment", "stands at", "last decision", "due", "next step")
    cautions = [
        Caution(Verdict.CARE, f"{title}: {said}") for title, said in _cautions(frame.to_dict("records"))
    ]
    return Page(table(head, rows, words=True) + caution_list(cautions), words)


def _cautions(rows: Iterable[Mapping[Any, Any]]) -> list[tuple[str, str]]:
    return [(row["title"] or row["treatment_id"], row["caution"]) for row in rows if row["caution"]]


def _row(row: Mapping[Any, Any]) -> tuple[str, str, str, str, str]:
    due = say_due(row["due_at"], now())
    title = row["title"] or row["treatment_id"]
    return title, row["fault"] or row["stage_reached"], row["last_decision"], due, row["next_step"]


def build_start_panel(treatment: Treatment) -> Panel:
    """Build the panel that takes one of the treatments to hand; it says so if there is none yet."""
    folder = records_folder()
    frame = list_treatments(folder or SAMPLES, progress=SayProgress())
    if frame.empty:
        return _build_empty_panel(treatment, folder)
    rows = {row["treatment_id"]: row for row in frame.to_dict("records")}
    names = [(row["title"] or name, name) for name, row in rows.items()]
    current = at_hand() or treatment.record.folder.name

    def work(values: Mapping[str, Any], units: UnitChoice) -> Mapping[Any, Any]:
        return rows[values["treatment"]]

    def show(row: Mapping[Any, Any], units: UnitChoice) -> View:
        title, stands, decision, due, step = _row(row)
        say = f"{title} stands at {stands}."
        if step:
            say += f" Next: {step}, {due}."
        because = f"Last decision: {decision}." if decision else "No decision has been recorded."
        cautions = (Caution(Verdict.CARE, row["caution"]),) if row["caution"] else ()
        return View(
            cautions=cautions,
            lead=opening(say, because),
            save_says="Every notebook opened or run afresh from now on works on it.",
            save_blocked="" if folder else _NO_RECORDS,
        )

    def save(row: Mapping[Any, Any], values: Mapping[str, Any]) -> str:
        assert folder is not None  # Save is blocked without
        take_to_hand(folder, values["treatment"])
        return f"{row['title']} is at hand. Run this page again to see its schedule."

    return Panel(
        name="start",
        strip=["Treatments", str(folder.name) if folder else "samples", f"{len(rows)} in all"],
        fields=[ChoiceField("treatment", "Treatment", names, current if current in rows else names[0][1])],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Take it to hand",
    )


def _build_empty_panel(treatment: Treatment, folder: Path | None) -> Panel:
    """Build the panel of a folder without a treatment: nothing to choose, and where to begin."""
    return Panel(
        name="start",
        strip=["Treatments", str(folder.name) if folder else "samples", "none yet"],
        fields=[],
        work=lambda values, units: _NONE_YET,
        show=lambda words, units: View(lead=opening(words)),
        units=treatment.switch,
    )


class _NewPanel(Panel):
    """The panel that starts a treatment: once it has, its answer leads to intake."""

    def _on_save(self, event: object) -> None:
        super()._on_save(event)
        result = self.result
        if result is not None and at_hand() == result.name:
            title = escape(result.description["title"])
            self._lead.value = (
                f'<p class="say">{title} is at hand. <a href="{_INTAKE}">Go on to intake</a>.</p>'
                '<p class="because">There you write down what the item is, how thick it is and what is wrong '
                "with it, and decide whether to treat it. Cleaning, humidity and the press build on that.</p>"
            )


@dataclass(frozen=True)
class _NewTreatment:
    name: str
    description: dict[str, Any]


def build_new_panel(treatment: Treatment) -> Panel:
    """Build the panel that starts a new treatment."""
    folder = records_folder()
    began = now()

    def work(values: Mapping[str, Any], units: UnitChoice) -> _NewTreatment:
        start = _read_start(values["start"], began)
        description = {
            "title": values["title"],
            "owner": values["owner"],
            "conservator": values["conservator"],
            "planned_start": start,
            "length_unit": units.length,
            "temperature_unit": units.temperature,
        }
        return _NewTreatment(values["name"], {k: v for k, v in description.items() if v})

    def show(result: _NewTreatment, units: UnitChoice) -> View:
        start = f"{result.description['planned_start']:%A %d %B %Y, %H:%M}"
        say = f"Start the record of {result.description['title']}, work to begin on {start}."
        return View(
            lead=opening(say),
            save_says=f"Makes the folder {result.name} with its tables.",
            save_blocked="" if folder else _NO_RECORDS,
        )

    def save(result: _NewTreatment, values: Mapping[str, Any]) -> str:
        assert folder is not None  # Save is blocked without
        who = result.description["conservator"]
        create_treatment(folder, result.name, {"treatment": [result.description]}, by=who, at=now())
        rebuild_register(folder)
        take_to_hand(folder, result.name)
        return f"Started {result.name}. Run this page again to see it in the list."

    return _NewPanel(
        name="new",
        strip=["New treatment", str(folder.name) if folder else "no folder for records"],
        fields=[
            TextField("title", "Title, as the owner calls it", needed="Give it as it reads on the cover"),
            TextField("name", "Name of its folder", needed="Write a short name such as spring-annual-1"),
            TextField("owner", "Owner"),
            TextField("conservator", "Conservator", needed="Name who is responsible"),
            TextField("start", "Work begins", f"{began:%Y-%m-%d %H:%M}", hint="year-month-day hour:minute"),
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Start this treatment",
    )


def _read_start(text: str, began: datetime) -> datetime:
    """Read a moment by this place's clock; the offset is that of the place unless one is given."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        remedy = "Write it like 2026-03-02 09:00"
        raise BadValue("Work begins", repr(text), "a day and a time", remedy) from None
    return moment if moment.tzinfo else moment.replace(tzinfo=began.tzinfo)
