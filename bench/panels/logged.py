"""The panel of a data logger: its file is kept untouched, read as is said, and laid over the plan."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import Any

from bench.desk import Treatment
from bench.errors import BenchError
from bench.figures.logged import draw_logged, logged_table
from bench.figures.page import folded, lead_of, table, verdict_tag
from bench.handover.humidity import hygrometer_correction, logger_correction
from bench.handover.logged import PlannedChamber, as_logged, planned_chamber, reading_of
from bench.panels.base import Panel, View
from bench.panels.fields import ChoiceField, Field, GroupLabel, NumberField, SegmentField, TextField
from bench.panels.parts import LatePart
from bench.panels.photographs import UploadField
from bench.panels.remembered import Remembered
from bench.records.kept_files import LOGGERS, checksum
from bench.records.logger_files import (
    DATES,
    LoggerFile,
    LoggerLayout,
    look_at_file,
    propose_reading,
    read_logger,
    read_zone,
)
from bench.records.nouns import replacing
from bench.records.store import Record
from bench.treatment.actual.followed import follow_in_use, rows_of_followed, say_out_of_use
from bench.treatment.actual.logged import LoggedAir
from bench.treatment.humidity.logged import LoggedChamber
from bench.treatment.humidity.logged_words import answer, because, judge, say_counts, say_read
from bench.treatment.plan import Verdict
from bench.treatment.rows import is_given
from bench.units import Q_, UnitChoice

_NONE = ""
_MOST_AHEAD = 14 * 1440  # min, a fortnight: more is a date that was never set; chosen here
_PLACES = ("chamber", "room", "press")
_STAGES = {"chamber": "humidity", "room": "humidity", "press": "pressing"}
_COLUMNS = {"time": "time", "clock": "time of day", "temperature": "temperature", "humidity": "humidity"}
_ONE_NUMBER = ("stage", "cycle", "quantity")
_ONE_FILE = ("stage", "cycle", "file")  # a file is read in one way in a stage of a cycle


@dataclass(frozen=True)
class _LoggerRead:
    """A file as it is read, and what Save would write of it."""

    name: str
    file: str  # where it lies in the record already; empty if it must be kept first
    data: bytes
    row: dict[str, Any]
    air: LoggedAir
    told: LoggedChamber | None
    untold: str  # why it is not held against the plan


def build_logged_panel(treatment: Treatment, *, cycle: int | None = None) -> Panel:
    """Build the panel.

    Parameters
    ----------
    treatment : Treatment
        At hand.
    cycle : int, optional
        Whose chamber the logger stood in; by default the cycle at hand.
    """
    number = cycle or treatment.cycle
    planned = Remembered(treatment, lambda: planned_chamber(treatment, number))
    chosen = _ChosenFile(treatment, number)

    def work(values: Mapping[str, Any], units: UnitChoice) -> _LoggerRead | None:
        return _read(treatment, number, chosen, values, planned, units)

    def show(result: _LoggerRead | None, units: UnitChoice) -> View:
        return _view(treatment, number, result, units)

    def save(result: _LoggerRead | None, values: Mapping[str, Any]) -> str:
        assert result is not None  # Save is blocked without a file
        file = result.file or LOGGERS.keep(treatment.record, result.name, result.data)
        words = treatment.save(_rows(treatment, result, {**result.row, "file": file}))
        chosen.let_go(panel, file)
        return f"{words} The file is kept as {file}."

    panel = Panel(
        name="logged",
        strip=lambda: treatment.heading("humidity", number),
        fields=_fields(treatment, chosen.offered()),
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save this logger",
        first=("upload", "kept", "place", "correction"),
        follow=chosen.follow,
    )
    return panel


def _fields(treatment: Treatment, offered: list[tuple[str, str]]) -> list[Field | GroupLabel]:
    offset = treatment.start.strftime("%z")
    known = float(hygrometer_correction(treatment).to("percent").magnitude)
    checked = f"the hygrometer's was {known:+.1f}" if known else "from a check against a salt"
    own = logger_correction(treatment)
    checked = checked if own is None else "as the bench checked it, near 90 %"
    return [
        GroupLabel("The file"),
        UploadField("upload", "Choose a file", LOGGERS.endings, hint="it is copied as it is"),
        ChoiceField("kept", "Or one that is kept already", offered, _NONE),
        SegmentField("place", "Where it stood", [(place, place) for place in _PLACES], _PLACES[0]),
        NumberField(
            "correction",
            "Humidity correction",
            Q_(0, "percent") if own is None else Q_(round(float(own.magnitude), 1), "percent"),
            "percent",
            low=Q_(-20, "percent"),
            high=Q_(20, "percent"),
            hint=f"to be added to its humidity; {checked}",
        ),
        GroupLabel("How it is read"),
        *(ChoiceField(key, f"Column of {what}", [("–", _NONE)], _NONE) for key, what in _COLUMNS.items()),
        SegmentField("unit", "Its temperature is in", [("°C", "degC"), ("°F", "degF")], "degC"),
        ChoiceField("dates", "Dates are written", list(DATES), "year first"),
        TextField(
            "zone",
            "Zone of the logger",
            f"{offset[:3]}:{offset[3:]}",
            needed="UTC, an offset like +02:00, or a name like Europe/Lisbon",
            hint="of its clock: UTC, an offset, or a name like Europe/Lisbon",
        ),
        NumberField(
            "ahead",
            "Its clock is ahead by",
            Q_(0, "min"),
            "min",
            low=Q_(-_MOST_AHEAD, "min"),
            high=Q_(_MOST_AHEAD, "min"),
            hint="below zero if it is behind",
        ),
    ]


class _ChosenFile:
    """The file that is chosen in a panel, and the fields proposed from it once."""

    def __init__(self, treatment: Treatment, cycle: int) -> None:
        self._treatment, self._cycle = treatment, cycle
        self._proposed_for: object = None

    def offered(self) -> list[tuple[str, str]]:
        """Give the files that can be chosen: with a row of this cycle, and those that only lie there."""
        record = self._treatment.latest
        kept = {str(row["file"]): f"{row['file']} ({row['place']})" for row in rows_of(record, self._cycle)}
        known = [(words, file) for file, words in kept.items()]
        return [("none", _NONE), *known, *((file, file) for file in LOGGERS.waiting(record))]

    def find(self, upload: tuple[str, bytes] | None, kept: str) -> tuple[str, str, bytes] | None:
        """Give name, place in the record and bytes of the file; None if none is chosen."""
        record = self._treatment.latest
        if upload is not None:
            name, data = upload
            LOGGERS.check_name(name)
            return name, self._same(record, data), data
        return (kept.split("/")[-1], kept, LOGGERS.read(record, kept)) if kept else None

    def _same(self, record: Record, data: bytes) -> str:
        """Give where the same bytes are kept already; empty if nowhere."""
        code = checksum(data)
        return next((str(row["file"]) for row in record.rows("loggers") if row["sha256"] == code), _NONE)

    def follow(self, panel: Panel) -> None:
        """Propose how a file is read, once it is chosen; what is changed afterwards stays."""
        upload, kept = panel.field("upload"), panel.field("kept")
        given, file = upload.read(UnitChoice()), str(kept.widget.value)
        upload.also_named, kept.also_named = (LOGGERS.one, "") if given else ("", LOGGERS.one)
        choice = (given, file)
        if choice == self._proposed_for:
            return
        self._proposed_for = choice
        found = self.find(given, file)
        if found is not None:
            self._propose(panel, found)

    def _propose(self, panel: Panel, found: tuple[str, str, bytes]) -> None:
        _, file, data = found
        looked = _look(data)
        known = [row for row in rows_of(self._treatment.latest, self._cycle) if row["file"] == file]
        how = reading_of(known[-1]) if known else propose_reading(looked)
        for key in _COLUMNS:
            panel.field(key).widget.options = [("–", _NONE), *((name, name) for name in looked.columns)]
        entries: dict[str, Any] = {key: getattr(how, key) for key in (*_COLUMNS, "unit", "dates")}
        if known:
            correction = known[-1]["correction"]
            entries |= {"zone": how.zone, "ahead": f"{how.ahead:g}", "place": known[-1]["place"]}
            entries["correction"] = f"{correction:g}" if is_given(correction) else "0"
        for key, value in entries.items():
            panel.propose(key, value, is_anew=True)

    def let_go(self, panel: Panel, file: str) -> None:
        """Choose the file just saved among those that are kept."""
        panel.field("kept").widget.options = self.offered()
        panel.fill({"kept": file, "upload": ()})


def rows_of(record: Record, cycle: int) -> list[dict[Any, Any]]:
    """Give the rows of the loggers of a cycle.

    Parameters
    ----------
    record : Record
        Of the treatment.
    cycle : int
        Whose.
    """
    return [row for row in record.rows("loggers") if int(row["cycle"]) == cycle]


@lru_cache(maxsize=2)
def _look(data: bytes) -> LoggerFile:
    return look_at_file(data)


@lru_cache(maxsize=4)
def _take(data: bytes, how: LoggerLayout) -> tuple[LoggedAir, tuple[str, ...]]:
    readings, left_out = read_logger(_look(data), how)
    return as_logged(readings), left_out


def _read(
    treatment: Treatment,
    cycle: int,
    chosen: _ChosenFile,
    values: Mapping[str, Any],
    planned: Callable[[], PlannedChamber],
    units: UnitChoice,
) -> _LoggerRead | None:
    found = chosen.find(values["upload"], values["kept"])
    if found is None:
        return None
    name, file, data = found
    how = LoggerLayout(
        **{key: values[key] for key in (*_COLUMNS, "unit", "dates", "zone")},
        ahead=float(values["ahead"].to("min").magnitude),
    )
    _look(data)  # a file without a table is refused before its columns are asked for
    air, left_out = _take(data, how)
    correction = float(values["correction"].to("percent").magnitude)
    told, untold = _hold(values["place"], air.corrected(correction), planned)
    return _LoggerRead(
        name=name,
        file=file,
        data=data,
        row={
            **_row(cycle, values["place"], how, correction, air, left_out),
            "sha256": checksum(data),
            "said": answer(told, units) if told else "",
        },
        air=_in_zone(air.corrected(correction), how),
        told=told,
        untold=untold,
    )


def _in_zone(air: LoggedAir, how: LoggerLayout) -> LoggedAir:
    return LoggedAir(air.begin.astimezone(read_zone(how.zone)), air.seconds, air.celsius, air.percent)


def _hold(
    place: str, air: LoggedAir, planned: Callable[[], PlannedChamber]
) -> tuple[LoggedChamber | None, str]:
    """Hold the air against the plan of the chamber, or say why it is not."""
    if place != "chamber":
        return None, f"It is kept as the air of the {place}: a plan says nothing of it, reading by reading."
    try:
        return planned().hold_against(air), ""
    except BenchError as error:
        return None, f"It cannot be held against the plan: {error}"


def _row(
    cycle: int, place: str, how: LoggerLayout, correction: float, air: LoggedAir, left_out: Iterable[str]
) -> dict[str, Any]:
    zone = read_zone(how.zone)
    return {
        "stage": _STAGES[place],
        "cycle": cycle,
        "place": place,
        **{f"{key}_column": getattr(how, key) for key in _COLUMNS},
        "unit": how.unit,
        "dates": how.dates,
        "zone": how.zone,
        "ahead_min": how.ahead,
        "correction": correction,
        "first_reading": air.begin.astimezone(zone).replace(microsecond=0),
        "last_reading": air.end.astimezone(zone).replace(microsecond=0),
        "readings": len(air.seconds),
        "note": f"left out: {'; '.join(left_out)}" if left_out else "",
    }


def _view(treatment: Treatment, cycle: int, result: _LoggerRead | None, units: UnitChoice) -> View:
    kept, in_use = rows_of(treatment.latest, cycle), _say_in_use(treatment, cycle)
    if result is None:
        known = "No logger is kept yet." if not kept else "Choose one of them above, or add another."
        return View(
            lead=f'<p class="say">{known}</p><p class="because">Choose the file of a data logger that stood '
            "with the item: its air is laid over the plan.</p>",
            parts=_parts(None, kept, in_use),
            save_blocked="Choose a file first.",
        )
    return View(
        lead=_lead(result, units),
        parts=_parts(result.told, kept, in_use),
        save_says=_say_save(result),
    )


def _rows(
    treatment: Treatment, result: _LoggerRead, logger: Mapping[str, Any]
) -> dict[str, list[dict[str, Any]]]:
    """Give the row of the logger, and with it what later stages take in place of the plan of the chamber."""
    record = treatment.latest
    rows = {"loggers": replacing(record, "loggers", [logger], _ONE_FILE)}
    followed = result.told.hand_on(str(logger["file"])) if result.told is not None else None
    if followed is not None:
        log = rows_of_followed(followed, logger, treatment.tables)
        rows["log"] = replacing(record, "log", log, _ONE_NUMBER)
    return rows


def _say_save(result: _LoggerRead) -> str:
    words = "Copies the file beside the tables and writes 1 row to loggers"
    counts = result.told is not None and result.told.counts
    return f"{words}, and to the log what is taken from it in place of the plan." if counts else f"{words}."


def _lead(result: _LoggerRead, units: UnitChoice) -> str:
    note = str(result.row["note"])
    read = f"{say_read(result.air, units)} {note[:1].upper()}{note[1:]}{'.' if note else ''}".strip()
    if result.told is None:
        tag = verdict_tag(Verdict.CARE, "Not compared") if result.row["place"] == "chamber" else ""
        return f'{tag}<p class="say">{escape(result.untold)}</p>{folded("What was read", read)}'
    verdict = judge(result.told)
    tag = verdict_tag(verdict, "As planned" if verdict is Verdict.GO else "Look at this")
    reasons = f"{because(result.told)} {say_counts(result.told)} {read}"
    return lead_of(tag, answer(result.told, units), reasons)


def _parts(told: LoggedChamber | None, kept: list[dict[Any, Any]], in_use: str) -> Iterator[LatePart]:
    if told is not None:
        yield draw_logged(told)
        yield logged_table(told)
    if kept:
        yield '<span class="group">Loggers kept of this cycle</span>'
        head = ("file", "stood in the", "readings", "from", "to")
        yield table(head, [_cells(row) for row in kept], words=True)
        yield f"<p>{escape(in_use)}</p>"


def _say_in_use(treatment: Treatment, cycle: int) -> str:
    """Say which of the kept loggers stands in place of the plan of the chamber."""
    followed = follow_in_use(treatment.tables, cycle)
    if followed is None:
        said = say_out_of_use(treatment.tables, cycle)
        return said or "None of them stands in place of the plan of the chamber."
    return f"In place of the plan of the chamber stands what {followed.file} says."


def _cells(row: Mapping[Any, Any]) -> tuple[str, ...]:
    first, last = (f"{row[name]:%Y-%m-%d %H:%M}" for name in ("first_reading", "last_reading"))
    return str(row["file"]), str(row["place"]), f"{int(row['readings']):,}", first, last
