"""The panel of readings: several at one place, turned into a value with its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import Any

from bench.desk import Treatment
from bench.errors import BadValue
from bench.figures.page import verdict_tag
from bench.figures.readings import reading_table
from bench.item import LEAST_MASS, MOST_MASS, Item, judge_leaf_count, judge_mass
from bench.panels.base import Panel, View
from bench.panels.ended import read_moment
from bench.panels.parts import opening
from bench.panels.reading_fields import MASS, QUANTITIES, build_fields, place_of, tool_of
from bench.physics.contact import pressure_from_force
from bench.records import nouns
from bench.records.rules import KINDS, UNPRESSED
from bench.treatment.clock.times import ask_if_late, first_damp
from bench.treatment.needed import Needed, Read, needed_readings, say_needed, still_needed
from bench.treatment.plan import Caution, Notice, Verdict, worst
from bench.treatment.rows import Row, number_in
from bench.uncertainty import Measured, say_shares
from bench.units import Q_, Quantity, UnitChoice, read_numbers, say, say_count, to_float, upper_first


@dataclass(frozen=True)
class _Read:
    """Readings at one place as entered, the rows that Save would add, value and count with those saved."""

    quantity: str
    place: str
    measured: Measured | None
    rows: list[dict[str, Any]]
    count: int = 0


_SAVED = (*QUANTITIES, UNPRESSED)
_POOR, _USELESS = 0.05, 0.25  # of the value: careful readings of a closed item come to about 0.01

_ONE_ALONE = Notice(
    "one-reading-alone",
    Verdict.CARE,
    "One reading alone: a usual scatter is assumed. Read five times at each place.",
    "gum",
)
_CHECK_DUE = Notice(
    "instrument-check-due",
    Verdict.CARE,
    "{what}. It was due again on {since:%Y-%m-%d}: check it now. Until then its correction is applied "
    "with a wider doubt.",
    "memory",
)
_OVER_STAPLE = Notice(
    "reading-over-staple",
    Verdict.GO,
    "Over a staple the reading may be lower than over the text block, where the wire pinches the paper. "
    "Plans use the highest staple, never the mean.",
)
_DOUBT = "The uncertainty is {percent:.0f} % of the value"
_SAY_NOTHING = Notice(
    "readings-say-nothing",
    Verdict.STOP,
    f"{_DOUBT}: these readings say nothing. Read the place again, and replace what is a slip.",
    "memory",
)
_FAR_APART = Notice(
    "readings-far-apart",
    Verdict.CARE,
    f"{_DOUBT}, because the readings lie far apart. Read the place again, and look for a slip.",
    "memory",
)
_COARSE = Notice(
    "instrument-too-coarse",
    Verdict.CARE,
    f"{_DOUBT}, most of it from the instrument. Look at the unit, or read with a finer instrument.",
    "memory",
)


def build_readings_panel(treatment: Treatment, *, stage: str = "intake", cycle: int = 0) -> Panel:
    """Build the panel that takes readings at one place, several at once.

    Parameters
    ----------
    treatment : Treatment
        Of which the item is read.
    stage, cycle : str, int
        When they are taken: ``"intake"`` and 0 before any cycle, ``"review"`` and the cycle after it.
    """
    quantities = [*QUANTITIES, *([UNPRESSED] if stage == "review" else [])]

    def work(values: Mapping[str, Any], units: UnitChoice) -> _Read:
        return _read_readings(treatment, values, units, stage, cycle)

    def show(result: _Read, units: UnitChoice) -> View:
        return _view_readings(treatment, result, units, stage, cycle)

    def save(result: _Read, values: Mapping[str, Any]) -> str:
        words = treatment.save({"readings": result.rows})
        panel.field("readings").widget.value = ""  # so that a second press adds nothing
        return words

    panel = Panel(
        name="readings",
        strip=lambda: treatment.heading("readings", cycle or None),
        fields=build_fields(treatment, quantities),
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save these readings",
    )
    return panel


def _unit_for(quantity: str, units: UnitChoice) -> str:
    if quantity == "thickness":
        return units.length
    return "g" if quantity == MASS else units.long_length


def _read_readings(
    treatment: Treatment, values: Mapping[str, Any], units: UnitChoice, stage: str, cycle: int
) -> _Read:
    _ = treatment.item  # says what to do if it has not been described
    quantity = values["quantity"]
    place = place_of(values, treatment.item.leaves)
    if place == nouns.UNDER_LOAD:
        place = nouns.place_under(_pressure(values))
    unit = _unit_for(quantity, units)
    new = read_numbers(values["readings"], unit, field="Readings")
    _check_sane(new, quantity, treatment.item)
    old = _earlier(treatment, quantity, place, stage, cycle)
    instrument, limit, step = tool_of(values)
    common = {
        "stage": stage,
        "cycle": cycle,
        "quantity": quantity,
        "place": place,
        "unit": unit,
        "instrument": instrument,
        "limit": number_in(limit, unit, 4),
        "resolution": number_in(step, unit, 4),
        "force_n": None if values["force"] is None else number_in(values["force"], "N", 4),
        "taken_at": _read_time(treatment, values["taken"], stage) if new else treatment.now(),
        "taken_by": values["who"],
    }
    instead = values["mode"] == "instead" and bool(new)
    rows = _number_rows(common, new, old, instead=instead)
    if not new:
        saved = nouns.measured_at(treatment.record, quantity, stage=stage, cycle=cycle)
        return _Read(quantity, place, saved.get(place), rows, len(old))
    together = rows if instead else [*old, *rows]
    checks = nouns.checks_of(treatment.record)
    measured = nouns.measure(place, together, stage=stage, cycle=cycle, checks=checks)
    return _Read(quantity, place, measured, rows, len(together))


def _read_time(treatment: Treatment, entered: str, stage: str) -> datetime:
    """Give when readings were taken; those of intake were taken before anything was done to the item."""
    now = treatment.now()
    taken = read_moment(entered, "Read at", now)
    return ask_if_late(taken, first_damp(treatment.timeline) if stage == "intake" else None, now)


def _pressure(values: Mapping[str, Any]) -> Quantity:
    """Work out the pressure under the foot of the instrument.

    Raises
    ------
    BadValue
        Force or foot are not known, or the paper would be crushed.
    """
    for key, label in (("force", "Pressing force"), ("foot", "Width of its round foot")):
        if values[key] is None:
            remedy = f"Enter it, or read the place {nouns.UNDER_LOAD!r} with an instrument that names it"
            raise BadValue(label, "empty", "a number, for a thickness under load", remedy)
    area = Q_(math.pi / 4, "") * values["foot"] ** 2
    pressure = pressure_from_force(values["force"], area=area)
    to_float(pressure, "kPa", field="Pressing force over its foot", low=0.5, high=300.0)
    return pressure


def _check_sane(readings: Sequence[Quantity], quantity: str, item: Item) -> None:
    """Refuse what no careful observer could have read, as the store does, or a strip wider than the page."""
    kind = KINDS[quantity]
    highest = Q_(kind.high, kind.unit)
    lowest = Q_(kind.low, kind.unit)
    if quantity == UNPRESSED:
        highest = min(highest, item.width)
    if quantity == MASS:  # of an item, not of a sheet of its paper
        lowest, highest = LEAST_MASS, MOST_MASS
    for reading in readings:
        own = f"{reading.units}"  # so that the operator is answered in the unit that was read
        least, most = (float(end.to(own).magnitude) for end in (lowest, highest))
        to_float(reading, own, field="Readings", low=least, high=most)


def _earlier(treatment: Treatment, quantity: str, place: str, stage: str, cycle: int) -> list[Row]:
    wanted = {"stage": stage, "cycle": cycle, "quantity": quantity, "place": place}
    rows = treatment.latest.rows("readings")
    return [row for row in rows if all(row[column] == value for column, value in wanted.items())]


def _number_rows(
    common: Mapping[str, Any], new: Sequence[Quantity], old: Sequence[Row], *, instead: bool
) -> list[dict[str, Any]]:
    if instead and len(new) < len(old):
        allowed = f"at least {len(old)}, as many as they replace"
        raise BadValue("Readings", f"{len(new)} readings", allowed, "Read the place again as often as before")
    first = 1 if instead else 1 + len(old)
    rows = []
    for number, reading in enumerate(new):
        row = {**common, "value": number_in(reading, common["unit"]), "replicate": first + number}
        if instead and number < len(old):
            row["replaces"] = int(old[number]["row"])
        rows.append({name: value for name, value in row.items() if value not in (None, "")})
    return rows


def _view_readings(treatment: Treatment, result: _Read, units: UnitChoice, stage: str, cycle: int) -> View:
    words, because = _say_reading(result, units)
    before = None if stage == "intake" else _reader(treatment, "intake", 0)
    missing = still_needed(treatment.item, _reader(treatment, stage, cycle), before)
    here = (result.quantity, result.place)
    left = [needed for needed in missing if not result.rows or (needed.quantity, needed.place) != here]
    still = _say_missing(left, stage)
    if missing and not left:
        still = "With it, all that is needed has been read."
    cautions = tuple(_reading_cautions(treatment, result))
    tag = verdict_tag(worst(c.verdict for c in cautions))
    if result.measured is None:
        tag = verdict_tag(Verdict.CARE, "Not read yet")
    checks = nouns.checks_of(treatment.record).correct(result.rows).checks
    applied = " ".join(f"{upper_first(check.say())}, applied." for check in checks)
    lead = opening(words, " ".join(filter(None, (applied, because))), still, tag=tag)
    count = len(result.rows)
    return View(
        lead=lead,
        parts=_recorded(treatment, units, stage, cycle, before),
        cautions=cautions,
        save_says=f"Writes {say_count(count, 'row')} to readings.",
        save_blocked="" if count else "Enter the readings of one place; nothing to save until then.",
    )


def _say_reading(result: _Read, units: UnitChoice) -> tuple[str, str]:
    link = " of the " if result.quantity == MASS else ", "
    link = " along the " if result.quantity == UNPRESSED else link
    name = f"{result.quantity[:1].upper()}{result.quantity[1:]}{link}{result.place}"
    measured = result.measured
    if measured is None:
        return f"{name}: not read yet.", "Enter its readings, with blanks between."
    value = say(measured.value, _unit_for(result.quantity, units), uncertainty=measured.expanded())
    causes = {cause.split(", ")[0]: share for cause, share in measured.shares().items()}  # it is one place
    return f"{name}: {value} (95 %).", f"The uncertainty comes from {say_shares(causes)}."


def _reading_cautions(treatment: Treatment, result: _Read) -> Iterator[Caution]:
    if result.measured is None:
        return
    is_thickness = result.quantity == "thickness"
    if is_thickness and result.count == 1:
        yield _ONE_ALONE()
    yield from _doubt_cautions(result.measured)
    for check in nouns.checks_of(treatment.record).overdue(result.rows):
        yield _CHECK_DUE(what=upper_first(check.say()), since=check.due_on)
    if is_thickness and result.place.endswith("staple"):
        yield _OVER_STAPLE()
    if result.quantity == MASS and (words := judge_mass(replace(treatment.item, mass=result.measured.value))):
        yield Caution(Verdict.CARE, words, "memory")
    if is_thickness and result.place == "text block":
        judged = judge_leaf_count(treatment.item, result.measured)
        verdict = Verdict.STOP if judged.is_other_unit else Verdict.GO if judged.fits else Verdict.CARE
        yield Caution(verdict, judged.words, "memory")


def _doubt_cautions(measured: Measured) -> Iterator[Caution]:
    """Say how much a doubt is of its value, where it is too much; the two limits are judgement."""
    share = measured.relative()
    if share >= _USELESS:
        yield _SAY_NOTHING(percent=100 * share)
    elif share >= _POOR and next(iter(measured.shares())).startswith("repeat readings"):
        yield _FAR_APART(percent=100 * share)
    elif share >= _POOR:
        yield _COARSE(percent=100 * share)


def _reader(treatment: Treatment, stage: str, cycle: int) -> Read:
    return partial(nouns.measured_at, treatment.record, stage=stage, cycle=cycle)


def _say_missing(missing: Sequence[Needed], stage: str) -> str:
    """Say what is still to be read, and what for."""
    said = say_needed(missing)
    if stage == "intake":
        why = "Review reads the same again, and cannot judge what was not read before."
        return f"{said} {why}" if said else "All that the plans and the review need has been read."
    return said or "All that was read before treatment has been read again."


def _recorded(
    treatment: Treatment, units: UnitChoice, stage: str, cycle: int, before: Read | None
) -> list[str]:
    """Show what is needed, and what of it and beyond it is saved already."""
    read = _reader(treatment, stage, cycle)
    found = {(name, place): value for name in _SAVED for place, value in read(name).items()}
    parts = ['<span class="group">Readings</span>']
    parts.append(reading_table(needed_readings(treatment.item, before), found, units))
    if "text block" not in read("thickness"):
        words = "Until the text block is read, a typical thickness stands in for it."
        if stage == "review":
            words = "Until the text block is read again, its thickness is not compared."
        parts.append(f'<p class="hint">{words}</p>')
    return parts
