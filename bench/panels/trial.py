"""The panel of a trial: what was read, what it says of this bench, and whether plans take it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bench.desk import Treatment
from bench.errors import BadValue, BenchError
from bench.figures.trials import draw_fit, draw_left, found_table, trial_lead, trial_rows
from bench.handover.trials import about_of
from bench.panels.base import Panel, View
from bench.panels.ended import read_moment
from bench.panels.fields import ChoiceField, Field, GroupLabel, SegmentField, TextField
from bench.panels.several import SeveralField
from bench.records.bench_record import SavedTrial, due_after, name_trial, rows_of_decision, rows_of_trial
from bench.records.nouns import checks_of
from bench.records.store import Record
from bench.treatment.calibration import InstrumentCheck
from bench.treatment.clock.times import check_past
from bench.trials.protocol import Asked, Protocol, Readings, TrialOutcome
from bench.units import Quantity, UnitChoice

_DONE = "Carried out at"
_NO_REASON = "Say why it is used or left; nothing is saved without a reason."
_SAVED = "Saved as it stands. Enter new readings for another trial, or decide otherwise."
_REFUSED = "This trial cannot be used: leave it, or find the slip first."


@dataclass(frozen=True)
class _EnteredTrial:
    """What the readings say, when they were taken, and what was decided on them."""

    readings: Readings
    outcome: TrialOutcome
    done_at: datetime
    is_used: bool
    reason: str


def build_trial_panel(treatment: Treatment, protocol: Protocol) -> Panel:
    """Build the panel.

    Parameters
    ----------
    treatment : Treatment
        At hand: what is saved goes to the record of the bench beside it.
    protocol : Protocol
        The trial.
    """
    last = _last(treatment, protocol)
    of = _likely_about(treatment, protocol) if last is None else last.about
    about = ChoiceField("about", protocol.of, protocol.abouts(), of)
    readings = {asked.key: _field(asked, _read(asked, last)) for asked in protocol.asked}

    def work(values: Mapping[str, Any], units: UnitChoice) -> _EnteredTrial:
        read = {
            asked.key: tuple(value.to(asked.plain_unit) for value in values[asked.key])
            for asked in protocol.asked
            if values[asked.key]
        }
        done_at = read_moment(values["done_at"], _DONE, treatment.now()) or treatment.now()
        check_past(done_at, treatment.now(), _DONE)
        found = Readings(values["about"], read, _checked(treatment, protocol, done_at))
        return _EnteredTrial(found, protocol.fit(found), done_at, bool(values["use"]), str(values["reason"]))

    def show(entered: _EnteredTrial, units: UnitChoice) -> View:
        return _show(treatment, protocol, entered)

    def save(entered: _EnteredTrial, values: Mapping[str, Any]) -> str:
        return treatment.save_to_bench(lambda record: _rows(record, treatment, protocol, entered))

    panel = Panel(
        name=f"trial-{protocol.key}",
        strip=[protocol.title, "this bench", *(["scratch copy"] if treatment.is_scratch else [])],
        fields=[about, *_in_groups(protocol, readings), *_decision(last)],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save this trial",
    )

    def follow(change: Mapping[str, Any]) -> None:
        """Put back what was read of what is chosen now: readings of one are not those of another."""
        last = _last(treatment, protocol, change["new"])
        with panel.filling():
            for asked in protocol.asked:
                readings[asked.key].enter(_read(asked, last))
            for key, value in _decided(last).items():
                panel.field(key).widget.value = value

    about.widget.observe(follow, names="value")
    return panel


def _likely_about(treatment: Treatment, protocol: Protocol) -> str:
    """Give of what the trial most likely is; the usual while no item is described."""
    try:
        return about_of(treatment, protocol)
    except BenchError:
        return protocol.abouts()[0]


def _checked(treatment: Treatment, protocol: Protocol, done_at: datetime) -> dict[str, InstrumentCheck]:
    """Give the checks that held for the instruments of a trial when it was carried out."""
    checks = checks_of(treatment.record)
    names = {asked.tool.name for asked in protocol.asked if asked.tool is not None}
    found = {name: checks.of_instrument(name, done_at.date()) for name in names}
    return {name: check for name, check in found.items() if check is not None}


def _last(treatment: Treatment, protocol: Protocol, about: str | None = None) -> SavedTrial | None:
    """Give the last trial by a protocol, of one thing if it is named; None if there is none."""
    own = [
        trial
        for trial in treatment.trials
        if trial.protocol == protocol.key and about in (None, trial.about)
        if trial.about in protocol.abouts()
    ]
    return own[-1] if own else None


def _in_groups(protocol: Protocol, readings: Mapping[str, SeveralField]) -> list[Field | GroupLabel]:
    built: list[Field | GroupLabel] = []
    for asked in protocol.asked:
        if asked.group:
            built.append(GroupLabel(asked.group))
        built.append(readings[asked.key])
    return built


def _field(asked: Asked, known: Sequence[Quantity]) -> SeveralField:
    return SeveralField(
        asked.key,
        asked.label,
        known,
        asked.unit,
        low=asked.quantity(asked.low),
        high=asked.quantity(asked.high),
        most=asked.most,
        optional=asked.is_optional,
        hint=asked.hint,
    )


def _read(asked: Asked, last: SavedTrial | None) -> Sequence[Quantity]:
    """Give what a field holds at first: as it was read last, or what is usual."""
    if last is not None:
        return last.read.get(asked.key, ())
    return () if asked.usual is None else (asked.quantity(asked.usual),)


def _decision(last: SavedTrial | None) -> list[Field | GroupLabel]:
    done_at, used, reason = _decided(last).values()
    hint = "used, later plans on this bench take what it found in place of what the books say"
    return [
        GroupLabel("The decision"),
        TextField("done_at", _DONE, done_at, hint="like 2026-03-02 09:10; empty: just now"),
        SegmentField("use", "This trial", [("leave it", False), ("use it", True)], used, hint=hint),
        TextField("reason", "Why", reason, hint="needed to save"),
    ]


def _decided(last: SavedTrial | None) -> dict[str, Any]:
    """Give what was decided on a trial, or that nothing was, by the keys of its fields."""
    if last is None:
        return {"done_at": "", "use": False, "reason": ""}
    return {"done_at": f"{last.done_at:%Y-%m-%d %H:%M}", "use": last.is_used, "reason": last.reason}


def _show(treatment: Treatment, protocol: Protocol, entered: _EnteredTrial) -> View:
    outcome = entered.outcome
    stopped = entered.is_used and not outcome.is_usable
    return View(
        lead=trial_lead(outcome),
        parts=[
            found_table(outcome),
            draw_fit(outcome),
            draw_left(outcome),
            trial_rows(_told(treatment, protocol)),
        ],
        cautions=outcome.cautions,
        save_says="Writes the trial to the record of this bench; "
        + ("later plans follow it." if entered.is_used else "plans stay as they are."),
        save_blocked=_say_block(treatment, protocol, entered),
        save_refused=_REFUSED if stopped else "",
    )


def _say_block(treatment: Treatment, protocol: Protocol, entered: _EnteredTrial) -> str:
    if not entered.reason:
        return _NO_REASON
    last = _last(treatment, protocol, entered.readings.about)
    return _SAVED if last is not None and _says(last, entered) else ""


def _says(last: SavedTrial, entered: _EnteredTrial) -> bool:
    """Tell whether a saved trial holds these readings with this decision."""
    decided = (last.is_used, last.reason) == (entered.is_used, entered.reason)
    return decided and _is_same(last.read, entered.readings.read)


def _told(treatment: Treatment, protocol: Protocol) -> list[tuple[str, datetime, str, bool, str]]:
    own = [trial for trial in reversed(treatment.trials) if trial.protocol == protocol.key]
    return [(each.about, each.done_at, each.said, each.is_used, each.reason) for each in own]


def _rows(
    record: Record, treatment: Treatment, protocol: Protocol, entered: _EnteredTrial
) -> dict[str, list[dict[str, Any]]]:
    """Give the rows of a new trial, or of another decision on the last one if its readings are the same."""
    last = _last(treatment, protocol, entered.readings.about)
    now = treatment.now()
    trial = SavedTrial(
        name=name_trial(protocol.key, now),
        protocol=protocol.key,
        about=entered.readings.about,
        done_at=entered.done_at,
        due_at=due_after(entered.done_at, protocol.again_after),
        is_used=entered.is_used,
        reason=entered.reason,
        said=entered.outcome.answer,
        read=entered.readings.read,
        found={found.constant.key: found.value for found in entered.outcome.found},
    )
    if last is None or not _is_same(last.read, trial.read):
        return rows_of_trial(trial)
    if _says(last, entered):  # by another window, just now
        remedy = "Read again, or decide otherwise"
        raise BadValue("trial", "saved already, as it stands", "new readings or another decision", remedy)
    return rows_of_decision(record, last, is_used=trial.is_used, reason=trial.reason)


def _is_same(one: Mapping[str, Sequence[Quantity]], other: Mapping[str, Sequence[Quantity]]) -> bool:
    """Tell whether two trials were read alike, in the digits that a record keeps."""
    return one.keys() == other.keys() and all(
        [_digits(value, one[key]) for value in one[key]] == [_digits(value, one[key]) for value in other[key]]
        for key in one
    )


def _digits(value: Quantity, like: Sequence[Quantity]) -> str:
    return f"{float(value.to(like[0].units).magnitude):.5g}"
