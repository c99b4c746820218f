"""The panel of weighings: what the balance says of this paper, to be used or left."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bench.desk import Treatment
from bench.errors import BadValue
from bench.figures.weighing import draw_weighings, weighed_lead, weighed_table
from bench.handover.learning import weighed_on_bench
from bench.handover.weighing import chamber_used, press_used, went_in
from bench.panels.base import Panel, View
from bench.panels.chamber import chamber_fields, read_chamber
from bench.panels.fields import GroupLabel, NumberField, StepField, TextField
from bench.panels.fitted import Decided, decision_fields, rows_of_fit, saved_fit
from bench.panels.parts import Part
from bench.panels.remembered import Remembered
from bench.records.learned import WEIGHINGS, Learned
from bench.records.nouns import entered_of, replacing
from bench.treatment.actual.seen import BALANCE
from bench.treatment.choices import staying
from bench.treatment.humidity import HumidityChoices
from bench.treatment.plan import caution_of_unread
from bench.treatment.rows import Row, is_given, unit_of
from bench.treatment.weighing.lines import (
    KEYS,
    find_saved,
    parse_lines,
    parse_weighings,
    reading_rows,
    say_rows,
)
from bench.treatment.weighing.press import read_through
from bench.treatment.weighing.reading import RATIO, SCALE, Weighed, read_weighings, say_factor
from bench.units import Q_, Quantity, UnitChoice

__all__ = ["build_weighing_panel", "parse_weighings"]

_HINT = (
    "a line for each: hours since it went in, and mass in g, like 2.5 106.31; after the chamber the moment "
    "and the mass of the item alone: out 111.30 (of the chamber), bench 110.90 (before the press), "
    "night 107.92 (after it), change 1 107.40 (as its fresh sheets come out), weight 24 105.10 "
    "(hours under weight)"
)
_MOST_SHOWN = 48  # hours that the control goes to
_CLOCK = "%Y-%m-%d %H:%M"


@dataclass(frozen=True)
class _EnteredWeighings:
    """What the weighings say, and what was decided on it."""

    told: Weighed
    decided: Decided


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
    usual = chamber_used(treatment, number)
    rows, later_rows = find_saved(treatment.record.rows("readings"), number)
    last = Remembered(treatment, lambda: saved_fit(treatment, WEIGHINGS, number))
    saved = last()
    known = Remembered(treatment, lambda: (treatment.item, treatment.thicknesses(number)))
    press = Remembered(treatment, lambda: press_used(treatment, number))
    unread = Remembered(treatment, lambda: weighed_on_bench(treatment)[1])

    def work(values: Mapping[str, Any], units: UnitChoice) -> _EnteredWeighings:
        _read_clock(values["went_in"], treatment)
        item, thicknesses = known()
        choices = HumidityChoices(**read_chamber(values))
        chamber, later = parse_lines(values["weighings"])
        balance = values["balance"]
        if later:
            told = read_through(item, thicknesses, choices, press(), chamber, later, balance=balance)
        else:
            told = read_weighings(item, thicknesses, choices, chamber, balance=balance)
        return _EnteredWeighings(told, Decided.read(values))

    def show(entered: _EnteredWeighings, units: UnitChoice) -> View:
        told = entered.told
        return View(
            lead=weighed_lead(told),
            parts=parts(told),
            cautions=(*told.cautions, *caution_of_unread("weighings found on this bench", unread())),
            save_says="Writes the weighings to readings, the fit to log and the decision to decisions.",
            save_blocked=entered.decided.lacks,
            save_refused=_say_refusal(entered),
        )

    def parts(told: Weighed) -> Iterator[Part]:
        yield draw_weighings(told)
        yield weighed_table(told)
        yield _say_saved(last())

    def save(entered: _EnteredWeighings, values: Mapping[str, Any]) -> str:
        return treatment.save(_rows(treatment, entered, values, number))

    planned = Remembered(
        treatment,
        lambda: (_hours_shown(chamber_used(treatment, number)), _say_start(treatment, number, rows)),
    )

    def follow(panel: Panel) -> None:
        """Propose the hours and the begin of the plan that stands now."""
        hours_now, start = planned()
        panel.propose("hours", hours_now)
        panel.propose("went_in", start)

    return Panel(
        name="weighing",
        strip=treatment.heading("weighing", number),
        fields=[
            GroupLabel("What the balance said"),
            TextField(
                "weighings",
                "Weighings",
                say_rows(rows, later_rows),
                needed="Write a line for each: hours since it went in and mass in g, like 0 104.20; "
                "after the chamber out, night or change 1 in place of the hours",
                long=True,
                hint=_HINT,
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
            *chamber_fields(usual, but=("wall", "correction", "ratio", "hours", "late", "look", "every")),
            StepField("hours", "Hours planned", _hours_shown(usual), 1, _MOST_SHOWN),
            *decision_fields(saved, "used, it stands in for the guess in every plan for this paper"),
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save weighings and decision",
        # the chamber as planned
        entered=entered_of(treatment.record, "humidity", number, stays=staying(HumidityChoices)),
        follow=follow,
    )


def _hours_shown(choices: HumidityChoices) -> int:
    return min(max(round(choices.hours), 1), _MOST_SHOWN)


def _read_clock(text: str, treatment: Treatment) -> datetime:
    """Read the time at which the item went in, in the zone of the treatment."""
    try:
        return datetime.strptime(text, _CLOCK).replace(tzinfo=treatment.start.tzinfo)
    except ValueError:
        remedy = "Write the date, a blank and the time"
        raise BadValue("Went in at", repr(text), "a time like 2026-03-02 09:00", remedy) from None


def _saved_limit(rows: Sequence[Row]) -> Quantity:
    if not rows or not is_given(rows[0]["limit"]):
        return BALANCE
    return Q_(float(rows[0]["limit"]), unit_of(str(rows[0]["unit"])))


def _say_start(treatment: Treatment, cycle: int, rows: Sequence[Row]) -> str:
    """Propose when the item went in: as saved with its weighings, else as the schedule has it."""
    start = rows[0]["taken_at"] if rows else went_in(treatment, cycle) or treatment.start
    return str(start.astimezone(treatment.start.tzinfo).strftime(_CLOCK))


def _say_saved(saved: Learned | None) -> str:
    """Say what was saved before, which differs if the chamber is told otherwise now."""
    if saved is None or not {RATIO, SCALE} <= set(saved.found):
        return ""
    said = "it is used" if saved.is_accepted else "it is left"
    ratio, scale = say_factor(saved.found[RATIO]), say_factor(saved.found[SCALE])
    return f'<p class="hint">Saved earlier: transport {ratio}, water held {scale}; {said}.</p>'


def _say_refusal(entered: _EnteredWeighings) -> str:
    if entered.decided.use and not entered.told.is_explained:
        return "The model does not explain these weighings: leave the fit, or find the slip first."
    return ""


def _rows(
    treatment: Treatment, entered: _EnteredWeighings, values: Mapping[str, Any], cycle: int
) -> dict[str, list[dict[str, Any]]]:
    """Give the rows of weighings, fit and decision; what is saved already is not written again."""
    told = entered.told
    start = _read_clock(values["went_in"], treatment)
    known = find_saved(treatment.record.rows("readings"), cycle)
    by = treatment.conservator
    built = reading_rows(told, known, balance=values["balance"], start=start, by=by)
    readings = [{"cycle": cycle, **row} for row in built]
    saved = {"readings": replacing(treatment.latest, "readings", readings, KEYS)}
    where = "chamber and press" if told.later else "the chamber"
    words = f"{len(told.weighings)} weighings in {where}. {told.answer}"
    is_new = bool(saved["readings"])
    fit = rows_of_fit(treatment, WEIGHINGS, cycle, told.found, entered.decided, words=words, anew=is_new)
    return saved | fit
