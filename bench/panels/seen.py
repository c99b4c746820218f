"""The panel of what was seen at the bench: readings and signs of a moment, checked, judged, written down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from html import escape
from typing import Any

from bench.errors import BenchError
from bench.figures.page import caution_list, table, verdict_tag
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
from bench.panels.weighing_lines import PLACE, place_of
from bench.records import nouns
from bench.records.rules import TAKEN_BACK
from bench.treatment import facts
from bench.treatment.actual.seen import (
    BALANCE,
    BALANCE_STEP,
    LEAVES,
    SIGNS,
    Expected,
    Seen,
    check_seen,
    judge_seen,
    log_rows,
    moment_of_mass,
    signs_for,
)
from bench.treatment.plan import Caution, Verdict, worst
from bench.treatment.rows import is_given, number_in, unit_of
from bench.units import Q_, Quantity, UnitChoice, read_count, unit_label

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
    expected = _Expecting(day)
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
        return _tell(day, values, expected)

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
    options, chosen = _items(day), item.widget.value
    if [value for _, value in item.widget.options] != [value for _, value in options]:
        item.widget.options = options
        _choose(item, chosen)
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
    signs = [TickField(f"sign_{sign.key}", f"{sign.words[:1].upper()}{sign.words[1:]}") for sign in SIGNS]
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


def _tell(day: Day, values: Mapping[str, Any], expected: _Expecting) -> _Told:
    key, at = values["item"], day.now() - timedelta(minutes=values["ago"])
    if key == _NONE or values["during"] == _NONE:
        return _Told(_NONE, Seen("intake", 0), (), at)
    stage, cycle = values["during"].split(":")
    asked = {name: value for name, value in values.items() if _is_asked(name, values["during"])}
    signs = tuple(sign.key for sign in SIGNS if asked.get(f"sign_{sign.key}"))
    read = {name: asked[name] for name in asked if not name.startswith("sign_") and name != "ago"}
    seen = Seen(stage, int(cycle), signs=signs, **read)
    known = expected(key, int(cycle))
    check_seen(seen, known)
    return _Told(key, seen, judge_seen(seen, known), at)


class _Expecting:
    """What is known of an item before a look, read anew only after its tables have changed."""

    def __init__(self, day: Day) -> None:
        self._day = day
        self._known: dict[tuple[str, int], tuple[object, Expected]] = {}

    def __call__(self, key: str, cycle: int) -> Expected:
        """Give it for an item and a cycle."""
        state = self._day.state(key)
        known = self._known.get((key, cycle))
        if known is None or known[0] != state:
            known = (state, _expected(self._day, key, cycle))
            self._known[key, cycle] = known
        return known[1]


def _expected(day: Day, key: str, cycle: int) -> Expected:
    """Gather what is known of an item before a look."""
    treatment = day.treatment(key)
    record = treatment.record
    stage, number = nouns.before_cycle(cycle)
    masses = nouns.measured_at(record, "mass", stage=stage, cycle=number)
    described = nouns.treatment_row(record).get("mass_g")
    mass = next((m.value for m in masses.values()), Q_(float(described), "g") if described else None)
    try:
        leaves = treatment.item.leaves + treatment.item.cover_leaves
    except BenchError:  # not described yet
        leaves = 498
    sheets = nouns.planned_number(record, "buffering", cycle, facts.SHEETS)
    thickness: Quantity | None = nouns.planned_number(record, "buffering", cycle, facts.THICKNESS_WITH_SHEETS)
    return Expected(
        mass=mass,
        platen=nouns.planned_number(record, "pressing", cycle, facts.PLATEN),
        thickness=thickness,
        openings=leaves + 2,
        sheets=None if sheets is None else round(float(sheets.magnitude)),
        count=day.count(key, cycle),
    )


def _rows(day: Day, told: _Told) -> dict[str, list[dict[str, Any]]]:
    return {"log": log_rows(told.seen, told.at), "readings": _readings(day, told)}


def _readings(day: Day, told: _Told) -> list[dict[str, Any]]:
    """Give mass and thickness as readings, at the places where weighings and plans look for them."""
    treatment, seen = day.treatment(told.key), told.seen
    common = {"cycle": seen.cycle, "taken_at": told.at, "taken_by": treatment.conservator}
    rows = []
    if seen.mass is not None:
        moment, under = moment_of_mass(treatment.timeline, seen.stage, seen.cycle, told.at)
        row = {
            **common,
            "stage": seen.stage,
            "quantity": "mass",
            "place": place_of(moment) if moment else PLACE,
            "value": number_in(seen.mass, "g"),
            "unit": "g",
            "instrument": "balance",
            "limit": number_in(BALANCE, "g"),
            "resolution": number_in(BALANCE_STEP, "g"),
        }
        rows.append({**row, "note": f"{under:g} h under weight"} if under else row)
    if seen.thickness is not None:
        rows.append(
            {
                **common,
                **_as_read_before(treatment.record, seen),
                "stage": seen.stage,
                "quantity": "thickness",
                "place": "text block",
            }
        )
    return [{**row, "replicate": _replicate(treatment.record, row)} for row in rows]


def _as_read_before(record: Any, seen: Seen) -> dict[str, Any]:
    """Take the thickness as read with the caliper of the readings before the cycle, in its unit."""
    assert seen.thickness is not None  # asked for only if it was read
    stage, cycle = nouns.before_cycle(seen.cycle)
    rows = record.read("readings")
    rows = rows[(rows["stage"] == stage) & (rows["cycle"] == cycle)]
    rows = rows[(rows["quantity"] == "thickness") & (rows["place"] == "text block")]
    if rows.empty:
        return {"value": number_in(seen.thickness, "mm"), "unit": "mm", "instrument": "caliper"}
    first = rows.iloc[0]
    same = {name: first[name] for name in ("instrument", "limit", "resolution", "force_n")}
    unit = str(first["unit"])
    return {
        "value": number_in(seen.thickness, unit_of(unit)),
        "unit": unit,
        **{name: value for name, value in same.items() if is_given(value)},
    }


def _replicate(record: Any, row: Mapping[str, Any]) -> int:
    names = ("stage", "cycle", "quantity", "place")
    same = [old for old in record.rows("readings") if all(old[name] == row[name] for name in names)]
    return 1 + max((int(old["replicate"]) for old in same if is_given(old["replicate"])), default=0)


def _show(day: Day, told: _Told, units: UnitChoice) -> View:
    if told.key == _NONE:
        say = "No item is at work: plan a stage first, and its steps stand above."
        return View(lead=f'<p class="say">{say}</p>', save_blocked="There is nothing to write to yet.")
    rows = _rows(day, told)
    counts = [f"{len(lines)} to {table}" for table, lines in rows.items() if lines]
    title = escape(day.treatment(told.key).title)
    verdict = worst(caution.verdict for caution in told.cautions)
    where = _say_stage(told.seen.stage, told.seen.cycle)
    if verdict is Verdict.STOP:
        say = f"{title}: stop and do what stands below, then write it down."
    elif told.seen.is_empty:
        say = f"{title}: enter what was seen or read; leave the rest empty."
    else:
        say = f"{title}: ready to be written down."
    tag = verdict_tag(verdict) if told.cautions else ""
    lead = f'{tag}<p class="say">{say}</p><p class="because">It goes to {escape(where)}.</p>'
    return View(
        lead=lead + caution_list(told.cautions),  # beside the answer, not at the foot: it cannot wait
        parts=_written(day, told, units),
        save_says=f"Writes {' and '.join(counts)}, at {told.at:%H:%M}.",
        save_blocked="Nothing is entered yet." if told.seen.is_empty else "",
    )


def _written(day: Day, told: _Told, units: UnitChoice) -> list[str]:
    """Show what was written down of this cycle last, the newest first."""
    record = day.treatment(told.key).record
    rows = [row for row in record.rows("log") if int(row["cycle"]) == told.seen.cycle]
    lines = [(row["at"], _say_log(row)) for row in rows if row["quantity"] != TAKEN_BACK]
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
