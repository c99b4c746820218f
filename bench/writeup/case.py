"""The record of one treatment, read once for a report, and how its values are written."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from bench.item import Item
from bench.records import nouns
from bench.records.schema import STAGES, TABLES
from bench.records.snapshot import take_snapshot
from bench.records.standing import item_or_none
from bench.records.store import Record
from bench.treatment.actual.acts import Act, find_acts
from bench.treatment.calibration import CHECKS, Checks
from bench.treatment.plan import shown_unit
from bench.treatment.recorded import build_courses
from bench.treatment.resting import NO_LONGER
from bench.treatment.review.comparison import DefectCourse, Examination
from bench.treatment.rows import is_given
from bench.treatment.standing import Flag, raise_flags
from bench.uncertainty import Measured
from bench.units import Q_, UnitChoice, difference_unit, join_words, say, say_range, unit_label, upper_first
from bench.writeup.blocks import NOT_RECORDED

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec")
_MONTHS_IN_FULL = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
Row = dict[str, Any]


@dataclass(frozen=True)
class Case:
    """What a report is collected from.

    Attributes
    ----------
    record : Record
        As it was when the report was begun, whatever is saved meanwhile.
    rows : mapping of str to list of dict
        Current rows by table; a blank is None.
    units : UnitChoice
        Of every number.
    item : Item or None
        None if the record does not describe one yet.
    at : datetime or None
        When the report is written: what is planned for later is still to come, not missing.
    """

    record: Record
    rows: Mapping[str, list[Row]]
    units: UnitChoice
    item: Item | None
    at: datetime | None = None

    @property
    def treatment(self) -> Row:
        """The current description."""
        return self.rows["treatment"][-1]

    @cached_property
    def flags(self) -> tuple[Flag, ...]:
        """Plans that are out of date, and sheets that do not add up."""
        return raise_flags(self.rows, self.item, units=self.units)

    def of(self, table: str, **wanted: object) -> list[Row]:
        """Give the current rows whose columns have the wanted values."""
        return [row for row in self.rows[table] if all(row[name] == value for name, value in wanted.items())]

    @property
    def checks(self) -> Checks:
        """The checks of instruments that readings carry."""
        return Checks.in_tables(self.rows)

    def say_checks(self, stage: str) -> str:
        """Say with which checked instruments the readings of a stage were taken, if with any."""
        rows = self.of("readings", stage=stage)
        late = {check.cause for check in self.checks.overdue(rows)}
        said = []
        for check in self.checks.correct(rows).checks:
            due = f"; it was due again on {check.due_on:%Y-%m-%d}" if check.cause in late else ""
            said.append(f"{upper_first(check.say())}, applied{due}.")
        return " ".join(said)

    @cached_property
    def acts(self) -> tuple[Act, ...]:
        """What was really done to the item, in the order in which it began."""
        return find_acts(self.rows["steps"])

    @cached_property
    def plans(self) -> dict[tuple[str, int], list[Row]]:
        """The rows of every plan by stage and cycle, cycle by cycle in the order of the work."""
        groups: dict[tuple[str, int], list[Row]] = {}
        for row in self.rows["plans"]:
            if row["words"] != NO_LONGER:
                groups.setdefault((row["stage"], int(row["cycle"])), []).append(row)
        return dict(sorted(groups.items(), key=lambda group: (group[0][1], STAGES.index(group[0][0]))))

    @cached_property
    def courses(self) -> tuple[DefectCourse, ...]:
        """Every defect with its sightings."""
        return build_courses(self.rows["defects"])

    def acts_of(self, stage: str) -> tuple[Act, ...]:
        """Give what was done in a stage, one for each cycle."""
        return tuple(act for act in self.acts if act.stage == stage)

    def was_done(self, stage: str, cycle: int) -> bool:
        """Tell whether a stage was begun in a cycle."""
        return any((act.stage, act.cycle) == (stage, cycle) for act in self.acts)

    def read(self, quantity: str, *, stage: str, cycle: int, first: bool = False) -> dict[str, Measured]:
        """Turn readings of one quantity at one moment, or the first of them, into values by place."""
        return nouns.measured_at(self.record, quantity, stage=stage, cycle=cycle, first=first)

    def examination(self, stage: str, cycle: int) -> Examination:
        """Give thickness, size and mass as read at one moment; what was not read is left out."""
        return nouns.examination_of(self.record, self.item, stage=stage, cycle=cycle)


def open_case(record: Record, units: UnitChoice | None = None, at: datetime | None = None) -> Case:
    """Read a record for a report; units are those last saved, if none are given.

    Raises
    ------
    RecordError
        A table cannot be read whole.
    """
    record = take_snapshot(record)
    rows = {name: with_none(record.rows(name)) for name in TABLES}
    rows[CHECKS] = nouns.checks_of(record).rows
    return Case(record, rows, units or nouns.units_of(record), item_or_none(record), at)


def with_none(rows: Iterable[Mapping[Any, Any]]) -> list[Row]:
    """Give rows with None for a blank."""
    return [{name: value if is_given(value) else None for name, value in row.items()} for row in rows]


def say_text(value: object) -> str:
    """Write a cell, or that it is not recorded."""
    return str(value) if is_given(value) else NOT_RECORDED


def say_day(moment: datetime) -> str:
    """Write a day.

    Examples
    --------
    >>> say_day(datetime(2026, 3, 2, 9, 5))
    '2 Mar 2026'
    """
    return f"{moment.day} {MONTHS[moment.month - 1]} {moment.year}"


def say_date(moment: datetime, *, year: bool = True) -> str:
    """Write a day with its month in full, for a sentence.

    Examples
    --------
    >>> say_date(datetime(2026, 3, 2, 9, 5))
    '2 March 2026'
    """
    return f"{moment.day} {_MONTHS_IN_FULL[moment.month - 1]}" + (f" {moment.year}" if year else "")


def say_days(spans: Sequence[tuple[datetime, datetime]]) -> str:
    """Write on which days something was done, the year once.

    Examples
    --------
    >>> third, fourth, ninth = (datetime(2026, 3, day) for day in (3, 4, 9))
    >>> say_days([(third, fourth), (ninth, ninth)])
    'from 3 to 4 March and on 9 March 2026'
    """
    years = {moment.year for span in spans for moment in span}
    words = [_say_days(start, end, year=len(years) > 1) for start, end in spans]
    return join_words(words) + (f" {years.pop()}" if len(years) == 1 else "")


def _say_days(start: datetime, end: datetime, *, year: bool) -> str:
    if start.date() == end.date():
        return f"on {say_date(start, year=year)}"
    same_month = (start.year, start.month) == (end.year, end.month)
    first = f"{start.day}" if same_month else say_date(start, year=year)
    return f"from {first} to {say_date(end, year=year)}"


def say_moment(moment: object, *, year: bool = True) -> str:
    """Write a day and a time by its own clock, or that it is not recorded."""
    if not isinstance(moment, datetime):
        return NOT_RECORDED
    day = say_day(moment)
    return f"{day if year else day[:-5]}, {moment:%H:%M}"


def say_years(moments: Iterable[object]) -> str:
    """Say in which years moments lie, for tables that leave the year out."""
    years = sorted({moment.year for moment in moments if isinstance(moment, datetime)})
    return " and ".join(str(year) for year in years)


def say_offsets(moments: list[datetime]) -> str:
    """Say how far the clocks of a record were from UTC."""
    offsets = sorted({f"{moment:%z}" for moment in moments})
    shown = " and ".join(f"{offset[:3]}:{offset[3:]}" for offset in offsets)
    return f"Times are local, {shown} from UTC." if offsets else ""


def say_span(start: object, end: object, *, year: bool = True) -> str:
    """Write from when to when; the day stands once if it is the same."""
    if not isinstance(start, datetime):
        return NOT_RECORDED
    if not isinstance(end, datetime):
        return f"{say_moment(start, year=year)} to {NOT_RECORDED}"
    if start.date() == end.date():
        return f"{say_moment(start, year=year)} to {end:%H:%M}"
    return f"{say_moment(start, year=year)} to {say_moment(end, year=year)}"


def say_length(value: object, units: UnitChoice) -> str:
    """Write a length recorded in millimetres in the unit for widths and places."""
    if not is_given(value):
        return NOT_RECORDED
    number = float(value)  # type: ignore[arg-type]
    if units.long_length == "inch":
        return f"{number / 25.4:.2f} in"
    return f"{number:.1f} mm".replace(".0 mm", " mm")


def _plain(number: float, digits: int) -> str:
    """Write a number with at least so many significant digits, without an exponent.

    Examples
    --------
    >>> _plain(3333.2, 3), _plain(0.41849, 3), _plain(98.0, 4)
    ('3333', '0.418', '98')
    """
    if number == 0:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(number))))
    text = f"{number:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def say_number(row: Row, units: UnitChoice, column: str = "value") -> str:
    """Write a number of a row in its ``unit`` column, with both ends or its uncertainty if it has them."""
    if row.get(column) is None:
        return "–"
    unit = nouns.unit_of(row["unit"] or "")
    told = [row["value"], row.get("low"), row.get("high")]
    if column == "value" and None not in told:
        shown = shown_unit(unit, units)
        value, low, high = (float(Q_(float(each), unit).to(shown).magnitude) for each in told)
        return say_range(value, low, high, unit_label(shown)).replace("-", "−")
    spread = row.get("uncertainty") if column == "value" else None
    return _say_number(float(row[column]), spread, unit, units).replace("-", "−")


def _say_number(value: float, spread: float | None, unit: str, units: UnitChoice) -> str:
    shown = shown_unit(unit, units)
    if spread is not None:
        return say(Q_(value, unit), shown, uncertainty=Q_(spread, difference_unit(unit)))
    if unit in ("", "dimensionless"):
        return f"{value:.0f}" if value.is_integer() else _plain(value, 3)
    digits = 4 if unit == "percent" and 99 < value < 100 else 3  # 99.97 % is not 100 %
    return f"{_plain(float(Q_(value, unit).to(shown).magnitude), digits)} {unit_label(shown)}"
