"""The panel of what was seen at the bench: readings and signs of a moment, checked, judged, written down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from bench.figures.page import caution_list, table, verdict_tag
from bench.handover.seen import reading_rows
from bench.panels.base import Panel, View
from bench.panels.day import Day
from bench.panels.fields import (
    ChoiceField,
    Field,
    GroupLabel,
    NumberField,
    SegmentField,
    TextField,
    TickField,
)
from bench.panels.offered import offer
from bench.panels.parts import opening
from bench.records.rules import TAKEN_BACK
from bench.treatment.actual.followed import is_of_logger
from bench.treatment.actual.seen import (
    LEAVES,
    SIGNS,
    Seen,
    check_seen,
    judge_seen,
    log_rows,
    signs_for,
)
from bench.treatment.plan import Caution, Verdict, worst
from bench.treatment.rows import is_given
from bench.units import Q_, UnitChoice, read_count, unit_label

_STAGES = ("cleaning", "humidity", "buffering", "pressing", "review")
_ASKS = {  # which fields a stage asks for
    "humidity": {"humidity", "air", "mass", "signs"},
    "buffering": {"thickness", "sheets_in", "sheets_out"},
    "pressing": {"mass", "leaf_temperature", "leaf", "thickness", "sheets_in", "sheets_out", "signs"},
}
AGO = [("just now", 0), ("15 min ago", 15), ("30 min ago", 30), ("1 h ago", 60)]
_NONE = "none"


class _Count(TextField):
    """A whole number of things counted, 0 or more; empty if they were not counted."""

    def read(self, units: UnitChoice) -> int | None:
        """Give the number, or None."""
        text = super().read(units)
        if not text:
            return None
        return read_count(text, field=self.label, low=0, remedy="Count the sheets")


@dataclass(frozen=True)
class _Told:
    """What was entered, with what it says and when it was seen."""

    key: str
    seen: Seen
    cautions: tuple[Caution, ...]
    at: datetime


def build_seen_panel(day: Day) -> Panel:
    """Build the panel.

    Parameters
    ----------
    day : Day
        The treatments; the one chosen on the page of the day is proposed.
    """
    item = ChoiceField("item", "Item", _items(day), _items(day)[0][1])
    moments = _moments(day, item.widget.value)
    during = ChoiceField("during", "During", moments, moments[0][1])
    parts = _fields()
    entries = [part for part in parts if isinstance(part, Field)]
    for entry in entries:
        entry.use_while(during, partial(_is_asked, entry.key))

    def follow(_: object = None) -> None:
        """Propose the step that the item is at."""
        options = _moments(day, item.widget.value)
        if list(during.widget.options) != options:
            during.widget.options = options
        during.widget.value = options[0][1]

    def tidy(_: object = None) -> None:
        """Drop what the stage does not ask for, so that it cannot come back with a later one."""
        for entry in entries:
            if not entry.is_used:
                _empty(entry)
        for part, asked in _headings(parts):
            part.box.layout.display = "" if asked else "none"

    item.widget.observe(follow, names="value")
    during.widget.observe(tidy, names="value")
    tidy()

    def work(values: Mapping[str, Any], units: UnitChoice) -> _Told:
        return _tell(day, values)

    def save(told: _Told, values: Mapping[str, Any]) -> str:
        said = day.write(told.key, _rows(day, told))
        for entry in entries:
            _empty(entry)
        return said

    panel = Panel(
        name="seen",
        strip=["What was seen", "of one item, at one moment"],
        fields=[item, during, *parts],
        work=work,
        show=lambda told, units: _show(day, told, units),
        save=save,
        units=day.switch,
        save_label="Write it down",
    )
    day.observe(lambda change: _choose(item, change["new"]), names="chosen")
    day.observe(lambda _: _follow_saves(day, item, follow), names="saves")
    return panel


def _items(day: Day) -> list[tuple[str, str]]:
    found = [(job.title, job.key) for job in day.look() if job.at is not None]
    return found or [("no item is at work", _NONE)]


def _choose(item: ChoiceField, key: str) -> None:
    if key in [value for _, value in item.widget.options]:
        item.widget.value = key


def _follow_saves(day: Day, item: ChoiceField, follow: Any) -> None:
    """Follow a touch on the page of the day: items come and go, and steps move on."""
    offer(item, _items(day))
    follow()


def _moments(day: Day, key: str) -> list[tuple[str, str]]:
    """Offer the step at hand, and each other stage of its cycle."""
    if key == _NONE:
        return [("–", _NONE)]
    at = day.job(key).at
    if at is None:
        return [("–", _NONE)]
    first = (f"{at.name} ({_say_stage(at.stage, at.cycle)})", f"{at.stage}:{at.cycle}")
    others = [
        (_say_stage(stage, at.cycle), f"{stage}:{at.cycle}")
        for stage in _STAGES
        if stage != at.stage and at.cycle > 0
    ]
    return [first, *others]


def _say_stage(stage: str, cycle: int) -> str:
    return f"{stage}, cycle {cycle}" if cycle else stage


def _number(key: str, label: str, unit: str, *ends: float, hint: str = "") -> NumberField:
    """Make a field of a reading that may stay empty, allowed between two ends if they are given."""
    own = "degC" if unit == "temperature" else unit
    low, high = [Q_(end, own) for end in ends] or (None, None)
    return NumberField(key, label, None, unit, low=low, high=high, optional=True, hint=hint)


def _fields() -> list[Field | GroupLabel]:
    signs = [TickField(f"sign_{sign.key}", sign.label) for sign in SIGNS]
    leaf = "near the platen, in the middle, or far from it"
    return [
        GroupLabel("Signs to stop for"),
        *signs,
        GroupLabel("Air of the chamber"),
        _number("humidity", "Humidity in the chamber", "percent", 1, 100, hint="as the hygrometer shows it"),
        _number("air", "Temperature in the chamber", "temperature", 5, 45),
        GroupLabel("Balance, probe, caliper"),
        _number("mass", "Mass of the item alone", "g"),
        _number("leaf_temperature", "Temperature of the leaf", "temperature"),
        SegmentField("leaf", "Which leaf", [(each, each) for each in LEAVES], LEAVES[1], hint=leaf),
        _number("thickness", "Thickness with the sheets in", "thickness", hint="over the text block, closed"),
        GroupLabel("Sheets, counted"),
        _Count("sheets_out", "Sheets taken out"),
        _Count("sheets_in", "Sheets put in"),
        GroupLabel("In words"),
        TextField("remark", "Remark"),
        SegmentField("ago", "Seen", AGO, 0),
    ]


def _is_asked(name: str, moment: str) -> bool:
    """Tell whether a moment such as ``humidity:1`` asks for a field."""
    stage = moment.split(":")[0]
    if name.startswith("sign_"):
        return name.removeprefix("sign_") in {sign.key for sign in signs_for(stage)}
    return stage != _NONE and (name in ("remark", "ago") or name in _ASKS.get(stage, set()))


def _headings(parts: Sequence[Field | GroupLabel]) -> list[tuple[GroupLabel, bool]]:
    """Give the headings, each with whether a field beneath it is asked for."""
    found: list[tuple[GroupLabel, bool]] = []
    for part in parts:
        if isinstance(part, GroupLabel):
            found.append((part, False))
        elif part.is_used and found:
            found[-1] = (found[-1][0], True)
    return found


def _empty(entry: Field) -> None:
    blank = {TickField: False, SegmentField: None}.get(type(entry), "")
    if isinstance(entry, SegmentField):
        options = [option[1] for option in entry.widget.options]
        blank = options[1] if entry.key == "leaf" else options[0]
    if entry.widget.value != blank:
        entry.widget.value = blank


def _tell(day: Day, values: Mapping[str, Any]) -> _Told:
    key, at = values["item"], day.now() - timedelta(minutes=values["ago"])
    if key == _NONE or values["during"] == _NONE:
        return _Told(_NONE, Seen("intake", 0), (), at)
    stage, cycle = values["during"].split(":")
    asked = {name: value for name, value in values.items() if _is_asked(name, values["during"])}
    signs = tuple(sign.key for sign in SIGNS if asked.get(f"sign_{sign.key}"))
    read = {name: asked[name] for name in asked if not name.startswith("sign_") and name != "ago"}
    seen = Seen(stage, int(cycle), signs=signs, **read)
    known = day.expected(key, int(cycle))
    check_seen(seen, known)
    return _Told(key, seen, judge_seen(seen, known), at)


def _rows(day: Day, told: _Told) -> dict[str, list[dict[str, Any]]]:
    treatment = day.treatment(told.key)
    readings = reading_rows(treatment, told.seen, at=told.at, by=treatment.conservator)
    return {"log": log_rows(told.seen, told.at), "readings": readings}


def _show(day: Day, told: _Told, units: UnitChoice) -> View:
    if told.key == _NONE:
        say = "No item is at work: plan a stage first, and its steps stand above."
        return View(lead=opening(say), save_blocked="There is nothing to write to yet.")
    rows = _rows(day, told)
    counts = [f"{len(lines)} to {table}" for table, lines in rows.items() if lines]
    title = day.treatment(told.key).title
    verdict = worst(caution.verdict for caution in told.cautions)
    where = _say_stage(told.seen.stage, told.seen.cycle)
    if verdict is Verdict.STOP:
        say = f"{title}: stop and do what stands below, then write it down."
    elif told.seen.is_empty:
        say = f"{title}: enter what was seen or read; leave the rest empty."
    else:
        say = f"{title}: ready to be written down."
    tag = verdict_tag(verdict) if told.cautions else ""
    return View(
        lead=opening(say, f"It goes to {where}.", tag=tag)
        + caution_list(told.cautions),  # beside the answer, not at the foot: it cannot wait
        parts=_written(day, told, units),
        save_says=f"Writes {' and '.join(counts)}, at {told.at:%H:%M}.",
        save_blocked="Nothing is entered yet." if told.seen.is_empty else "",
    )


def _written(day: Day, told: _Told, units: UnitChoice) -> list[str]:
    """Show what was written down of this cycle last, the newest first."""
    record = day.treatment(told.key).record
    rows = [row for row in record.rows("log") if int(row["cycle"]) == told.seen.cycle]
    noted = [row for row in rows if row["quantity"] != TAKEN_BACK and not is_of_logger(row)]
    lines = [(row["at"], _say_log(row)) for row in noted]
    read = [row for row in record.rows("readings") if int(row["cycle"]) == told.seen.cycle]
    lines += [
        (row["taken_at"], f"{row['quantity']}, {row['place']}: {row['value']:g} {row['unit']}")
        for row in read
        if row["stage"] in _ASKS and row["quantity"] != TAKEN_BACK
    ]
    if not lines:
        return []
    last = sorted(lines, key=lambda line: line[0], reverse=True)[:8]
    there = day.now().tzinfo
    shown = [(f"{at.astimezone(there):%d %b %H:%M}", words) for at, words in last]
    return [
        '<span class="group">Written down last in this cycle</span>',
        table(("when", "what"), shown, words=True),
    ]


def _say_log(row: Mapping[Any, Any]) -> str:
    if not is_given(row["value"]):
        return str(row["remark"])
    unit = unit_label(str(row["unit"]))
    said = f"{row['quantity']}: {row['value']:g} {unit}".strip()
    return f"{said}; {row['remark']}" if is_given(row["remark"]) else said
