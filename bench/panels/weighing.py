"""The panel of weighings: what the balance says of this paper, to be used or left."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from bench.desk import Treatment
from bench.errors import BadValue
from bench.figures.style import Picture
from bench.figures.weighing import draw_weighings, weighed_lead, weighed_table
from bench.panels.base import Panel, View
from bench.panels.chamber import chamber_fields, item_fields, read_chamber
from bench.panels.fields import GroupLabel, NumberField, StepField, TextField
from bench.panels.fitted import NO_REASON, decision_fields, new_decision, saved_fit
from bench.panels.stages import Remembered, chamber_choices
from bench.records.learned import WEIGHINGS, Learned, fit_rows
from bench.records.nouns import is_given, planned_number, replacing, unit_of
from bench.treatment.humidity import HumidityChoices, Source
from bench.treatment.humidity_words import IN_CHAMBER
from bench.treatment.plan import hours
from bench.treatment.weighing import RATIO, SCALE, Weighed, Weighing, read_weighings, say_factor
from bench.units import Q_, Quantity, UnitChoice

PLACE = "item in the chamber"
_BALANCE = Q_(0.05, "g")  # of a balance that shows 0.01 g, handling included: judgement
_CLOCK = "%Y-%m-%d %H:%M"
_KEYS = ("stage", "cycle", "quantity", "place", "replicate")


@dataclass(frozen=True)
class _Entered:
    """What the weighings say, and what was decided on it."""

    told: Weighed
    use: bool
    reason: str


def build_weighing_panel(treatment: Treatment, *, cycle: int | None = None) -> Panel:
    """Build the panel; it opens with the weighings and the decision that are saved.

    Parameters
    ----------
    treatment : Treatment
        At hand; its chamber is proposed from what was saved of it.
    cycle : int, optional
        By default the cycle at hand.
    """
    number = cycle or treatment.cycle
    usual = _chamber_used(treatment, number)
    rows = _saved_rows(treatment, number)
    last = Remembered(treatment, lambda: saved_fit(treatment, WEIGHINGS, number))
    saved = last()
    known = Remembered(treatment, lambda: (treatment.item, treatment.thicknesses(number)))

    def work(values: Mapping[str, Any], units: UnitChoice) -> _Entered:
        _read_clock(values["went_in"], treatment)
        item, thicknesses = known()
        choices = HumidityChoices(
            **read_chamber(values),
            planned=hours(values["hours"]),
            longest=hours(values["hours"]),
        )
        weighings = parse_weighings(values["weighings"])
        told = read_weighings(item, thicknesses, choices, weighings, balance=values["balance"])
        return _Entered(told, bool(values["use"]), str(values["reason"]))

    def show(entered: _Entered, units: UnitChoice) -> View:
        told = entered.told
        return View(
            lead=weighed_lead(told),
            parts=parts(told),
            cautions=told.cautions,
            save_says="Writes the weighings to readings, the fit to log and the decision to decisions.",
            save_blocked=_say_block(entered),
        )

    def parts(told: Weighed) -> Iterator[str | Picture]:
        yield draw_weighings(told)
        yield weighed_table(told)
        yield _say_saved(last())

    def save(entered: _Entered, values: Mapping[str, Any]) -> str:
        return treatment.save(_rows(treatment, entered, values, number))

    return Panel(
        name="weighing",
        strip=treatment.heading("weighing", number),
        fields=[
            GroupLabel("What the balance said"),
            TextField(
                "weighings",
                "Weighings",
                _say_rows(rows),
                needed="Write a line for each: hours since it went in, mass in g, like 0 104.20",
                long=True,
                hint="a line for each: hours since it went in, and mass in g, like 2.5 106.31",
            ),
            NumberField(
                "balance", "Balance right within ±", _saved_limit(rows), "g", hint="handling included"
            ),
            TextField(
                "went_in",
                "Went in at",
                _say_start(treatment, number, rows),
                hint="date and time like 2026-03-02 09:00",
            ),
            *chamber_fields(usual),
            *item_fields(usual),
            StepField("hours", "Hours planned", round(usual.hours), 1, 48),
            *decision_fields(saved, "used, it stands in for the guess in every plan for this paper"),
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save weighings and decision",
    )


def parse_weighings(text: str) -> tuple[Weighing, ...]:
    """Read lines of hours and mass; a comma is refused, never guessed.

    Examples
    --------
    >>> [float(w.mass.magnitude) for w in parse_weighings("0 104.2; 2.5 106.31")]
    [104.2, 106.31]
    """
    found = []
    for line in text.replace(";", "\n").splitlines():
        words = line.split()
        if not words:
            continue
        try:
            when, mass = (float(word) for word in words)
        except ValueError:
            allowed = "two numbers on a line, with decimal points and a blank between"
            raise BadValue("Weighings", repr(line.strip()), allowed, "Write them like 2.5 106.31") from None
        found.append(Weighing(hours(when), Q_(mass, "g")))
    return tuple(found)


def _read_clock(text: str, treatment: Treatment) -> datetime:
    """Read the time at which the item went in, in the zone of the treatment."""
    try:
        return datetime.strptime(text, _CLOCK).replace(tzinfo=treatment.start.tzinfo)
    except ValueError:
        remedy = "Write the date, a blank and the time"
        raise BadValue("Went in at", repr(text), "a time like 2026-03-02 09:00", remedy) from None


def _chamber_used(treatment: Treatment, cycle: int) -> HumidityChoices:
    """Propose the chamber with the source, warmth and hours that were saved of it.

    What was learned by weighing is left out: it would be believed before its own weighings.
    """
    usual = chamber_choices(treatment)
    rows = treatment.record.read("materials")
    rows = rows[(rows["stage"] == "humidity") & (rows["cycle"] == cycle)]
    for row in rows[rows["kind"].isin(("salt", "water"))].to_dict("records"):
        is_salt = row["kind"] == "salt"
        salt = str(row["material"]) if is_salt else usual.salt
        usual = replace(usual, source=Source.SALT if is_salt else Source.WATER, salt=salt)
    air = planned_number(treatment.record, "humidity", cycle, "air temperature")
    planned = planned_number(treatment.record, "humidity", cycle, "hours in the chamber")
    planned = usual.planned if planned is None else planned
    return replace(
        usual,
        air_temperature=usual.air_temperature if air is None else air,
        planned=planned,
        longest=max(planned, usual.longest),
    )


def _saved_rows(treatment: Treatment, cycle: int) -> list[dict[str, Any]]:
    rows = treatment.record.read("readings")
    here = (rows["stage"] == "humidity") & (rows["cycle"] == cycle)
    rows = rows[here & (rows["quantity"] == "mass") & (rows["place"] == PLACE)]
    return [{str(k): v for k, v in row.items()} for row in rows.sort_values("taken_at").to_dict("records")]


def _say_rows(rows: list[dict[str, Any]]) -> str:
    lines = []
    for row in rows:
        after = (row["taken_at"] - rows[0]["taken_at"]).total_seconds() / 3600
        mass = float(Q_(float(row["value"]), unit_of(str(row["unit"]))).to("g").magnitude)
        lines.append(f"{round(after, 3):g} {mass:.7g}")
    return "\n".join(lines)


def _saved_limit(rows: list[dict[str, Any]]) -> Quantity:
    if not rows or not is_given(rows[0]["limit"]):
        return _BALANCE
    return Q_(float(rows[0]["limit"]), unit_of(str(rows[0]["unit"])))


def _say_start(treatment: Treatment, cycle: int, rows: list[dict[str, Any]]) -> str:
    """Propose when the item went in: as saved with its weighings, else as the schedule has it."""
    steps = treatment.timeline.steps if treatment.timeline else ()
    waits = (s.begins for s in steps if (s.stage, s.cycle, s.name) == ("humidity", cycle, IN_CHAMBER))
    begins = next(waits, treatment.start)
    start = rows[0]["taken_at"] if rows else begins
    return str(start.astimezone(treatment.start.tzinfo).strftime(_CLOCK))


def _say_saved(saved: Learned | None) -> str:
    """Say what was saved before, which differs if the chamber is told otherwise now."""
    if saved is None or not {RATIO, SCALE} <= set(saved.found):
        return ""
    said = "it is used" if saved.is_accepted else "it is left"
    ratio, scale = say_factor(saved.found[RATIO]), say_factor(saved.found[SCALE])
    return f'<p class="hint">Saved earlier: transport {ratio}, water held {scale}; {said}.</p>'


def _say_block(entered: _Entered) -> str:
    if entered.use and not entered.told.is_explained:
        return "The model does not explain these weighings: leave the fit, or find the slip first."
    return "" if entered.reason else NO_REASON


def _rows(
    treatment: Treatment, entered: _Entered, values: Mapping[str, Any], cycle: int
) -> dict[str, list[dict[str, Any]]]:
    """Give the rows of weighings, fit and decision; what is saved already is not written again."""
    told = entered.told
    old, start = _saved_rows(treatment, cycle), _read_clock(values["went_in"], treatment)
    if len(told.weighings) < len(old):
        allowed = f"at least {len(old)}, as many as are saved"
        remedy = "Write them all; a slip is corrected in its own line"
        raise BadValue("Weighings", f"{len(told.weighings)} in number", allowed, remedy)
    readings = [
        {
            "stage": "humidity",
            "cycle": cycle,
            "quantity": "mass",
            "place": PLACE,
            "value": float(f"{float(w.mass.to('g').magnitude):.7g}"),
            "unit": "g",
            "instrument": "balance",
            "limit": float(f"{float(values['balance'].to('g').magnitude):.4g}"),
            "replicate": number,
            "taken_at": start + timedelta(hours=float(w.when.to("hour").magnitude)),
            "taken_by": treatment.conservator,
        }
        for number, w in enumerate(told.weighings, start=1)
    ]
    at = treatment.now()
    words = f"{len(told.weighings)} weighings in the chamber. {told.answer}"
    saved = {"readings": replacing(treatment.latest, "readings", readings, _KEYS)}
    last = saved_fit(treatment, WEIGHINGS, cycle)
    if last is None or saved["readings"] or not _is_same(last, told):
        saved["log"] = fit_rows(WEIGHINGS, cycle, told.found, words=words, at=at)
    decided = new_decision(treatment, WEIGHINGS, cycle, last, use=entered.use, reason=entered.reason, at=at)
    return saved | decided


def _is_same(saved: Learned, told: Weighed) -> bool:
    """Tell whether a saved fit is this one, as written to a record."""
    pairs = [(saved.found.get(name), found) for name, (found, _) in told.found.items()]
    return all(old is not None and say_factor(old) == say_factor(new) for old, new in pairs)
