"""What the checks of instruments found, and every later reading that carries it.

A check says what is to be added to what an instrument shows, and how sure that is (JCGM 100 [gum]_, 4.3 and
F.2.4.5: a known correction is applied, its doubt stays).  Readings from the day of the check until the day
before the next one are corrected with it; their doubt is that of the check, in place of what a maker allows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

from bench.physics.ranges import REACH, Range
from bench.treatment.instrument_kinds import InstrumentKind, kind_of, standard_of
from bench.treatment.measured import Accepted
from bench.treatment.rows import Row, is_given, quantity_of, text_of
from bench.uncertainty import Component, Measured
from bench.units import Q_, Quantity, difference_unit, say

CORRECTION = "hygrometer correction"
"""Under this name the log keeps what a check against a salt found."""
CHECKS = "checks"
"""Under this name the tables that plans rest on hold the checks of the bench, one a row."""


@dataclass(frozen=True)
class Calibrated:
    """How far an instrument is off, as it was found: to be added to what it shows.

    Attributes
    ----------
    correction : Quantity
        To be added; of a temperature, as a difference.
    standard : Quantity
        Standard uncertainty of the correction, drift included.
    """

    correction: Quantity
    standard: Quantity

    def near(self, shown: Quantity) -> Calibrated:
        """Give the correction of a reading: everywhere the same."""
        return self


CHAMBER = Q_(90.0, "percent")
"""Near this humidity a hygrometer is corrected where plans take one number: chambers hold 85 to 97 %."""


@dataclass(frozen=True)
class InstrumentCheck:
    """One instrument as it was checked on a day.

    Attributes
    ----------
    instrument : str
        As readings name it.
    done_on, due_on : date
        When, and when again.
    found : mapping of str to Range
        By the key of the constant.
    """

    instrument: str
    done_on: date
    due_on: date
    found: Mapping[str, Range]

    @property
    def kind(self) -> InstrumentKind:
        """Of the instrument."""
        kind = kind_of(self.instrument)
        assert kind is not None  # no other makes a check
        return kind

    @property
    def cause(self) -> str:
        """Name of its doubt, one for all readings that carry it."""
        return f"{self.instrument} as checked on {self.done_on:%Y-%m-%d}"

    def near(self, shown: Quantity, on: date | None = None) -> Calibrated:
        """Give what is to be added to a reading.

        Parameters
        ----------
        shown : Quantity
            As the instrument showed it.
        on : date, optional
            When; past the day on which the check was due again its doubt grows with the time since it.

        Raises
        ------
        UnitMismatch
            The instrument shows something else.
        """
        kind = self.kind
        value = float(shown.to(kind.unit).magnitude)
        if kind.is_share:
            correction, standard = kind.share_near(self.found, value, self.instrument)
        else:
            correction, standard = kind.points_near(self.found, value)
        return Calibrated(Q_(correction, kind.delta), Q_(standard * self._wider(on), kind.delta))

    def _wider(self, on: date | None) -> float:
        """Give how much wider the doubt is for a check that should have been repeated; judgement."""
        holds = max((self.due_on - self.done_on).days, 1)
        return 1.0 if on is None else max(1.0, (on - self.done_on).days / holds)

    def correct(self, shown: Quantity, on: date | None = None) -> Quantity:
        """Give a reading with its correction, in its own unit."""
        unit = f"{shown.units}"
        added = self.near(shown, on).correction.to(difference_unit(unit))
        return Q_(float(shown.magnitude) + float(added.magnitude), unit)

    def say(self) -> str:
        """Say when an instrument was checked and what was found.

        Examples
        --------
        >>> found = {"length-correction": Range.of((0.01, -0.01, 0.03), "mm")}
        >>> InstrumentCheck("caliper", date(2026, 3, 2), date(2027, 3, 2), found).say()
        'caliper checked on 2026-03-02: +0.010 ± 0.020 mm'
        """
        said = []
        for constant, spot in self.kind.points.items():
            if constant.key in self.found:
                where = f" near {spot:.0f} %" if constant.unit == "percent" and not self.kind.is_share else ""
                where = f" near {spot:.0f} °C" if constant.unit == "delta_degC" else where
                said.append(f"{_say_found(self.found[constant.key], constant.unit)}{where}")
        of = " of what it shows" if self.kind.is_share else ""
        return f"{self.instrument} checked on {self.done_on:%Y-%m-%d}: {', '.join(said)}{of}"


def _say_found(found: Range, unit: str) -> str:
    value, _, _ = found.floats(unit, field="correction")
    words = say(Q_(value, unit), unit, uncertainty=Q_(REACH * standard_of(found, unit), unit))
    return words.replace("-", "−") if words.startswith("-") else f"+{words}"


@dataclass(frozen=True)
class Corrected:
    """Readings of one quantity at one place as they count.

    Attributes
    ----------
    values : tuple of Quantity
        One a row, corrected where a check holds.
    unchecked : tuple of rows
        Those that no check holds for, whose makers are still trusted.
    components : tuple of Component
        Doubts of the checks, of the mean of the values.
    checks : tuple of InstrumentCheck
        That were applied, each once.
    """

    values: tuple[Quantity, ...]
    unchecked: tuple[Row, ...]
    components: tuple[Component, ...]
    checks: tuple[InstrumentCheck, ...]


@dataclass(frozen=True)
class Checks:
    """All checks of the instruments of a bench that were accepted, old ones too.

    Attributes
    ----------
    each : tuple of InstrumentCheck
        In any order.
    """

    each: tuple[InstrumentCheck, ...] = ()

    @classmethod
    def of(cls, accepted: Iterable[Accepted]) -> Checks:
        """Gather the constants of checks, day by day; other constants are passed over.

        Parameters
        ----------
        accepted : iterable of Accepted
            Also those that later ones replaced: earlier readings carry them.  Of one instrument, constant and
            day the last counts.
        """
        days: dict[tuple[str, date], list[Accepted]] = {}
        for one in accepted:
            kind = kind_of(one.about)
            if kind is not None and one.constant in kind.points:
                days.setdefault((one.about, one.done_on), []).append(one)
        checks = [
            InstrumentCheck(name, day, min(a.due_on for a in found), {a.constant.key: a.value for a in found})
            for (name, day), found in days.items()
        ]
        # One that lacks its first point, such as boiling water without ice, does not stand alone.
        return cls(tuple(c for c in checks if next(iter(c.kind.points)).key in c.found))

    @classmethod
    def in_tables(cls, tables: Mapping[str, Sequence[Row]]) -> Checks:
        """Give the checks that stand among the tables that plans rest on; none where there are none."""
        return cls(tuple(row["check"] for row in tables.get(CHECKS, ())))

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The checks as a table of their own, for those that plans rest on."""
        return [{"instrument": check.instrument, "check": check} for check in self.each]

    @cached_property
    def _by_instrument(self) -> dict[str, list[InstrumentCheck]]:
        found: dict[str, list[InstrumentCheck]] = {}
        for check in sorted(self.each, key=lambda each: each.done_on):
            found.setdefault(check.instrument, []).append(check)
        return found

    def of_instrument(self, instrument: str, on: date | None = None) -> InstrumentCheck | None:
        """Give the check that holds for an instrument on a day, or the last one; None without any.

        A check holds from the begin of its day: nothing drifts within hours.
        """
        known = self._by_instrument.get(instrument, [])
        return next((check for check in reversed(known) if on is None or check.done_on <= on), None)

    def of_row(self, row: Row) -> InstrumentCheck | None:
        """Give the check that holds for a row of ``readings``; None without any."""
        if not self.each or not is_given(row.get("taken_at")):
            return None
        check = self.of_instrument(text_of(row, "instrument"), row["taken_at"].date())
        fits = check is not None and quantity_of(row).is_compatible_with(check.kind.unit)
        return check if fits else None

    def correct(self, rows: Sequence[Row]) -> Corrected:
        """Correct readings of one quantity at one place, and give what their mean is in doubt by.

        Parameters
        ----------
        rows : sequence of rows
            Of ``readings``.
        """
        values: list[Quantity] = []
        unchecked: list[Row] = []
        doubts: dict[str, list[Quantity]] = {}
        checks: dict[str, InstrumentCheck] = {}
        for row in rows:
            check, value = self.of_row(row), quantity_of(row)
            if check is None:
                unchecked.append(row)
            else:
                on = row["taken_at"].date()
                checks[check.cause] = check
                doubts.setdefault(check.cause, []).append(check.near(value, on).standard)
                value = check.correct(value, on)
            values.append(value)
        components = tuple(
            Component(cause, sum(found[1:], found[0]) / len(rows), is_lasting=True)
            for cause, found in doubts.items()
        )
        return Corrected(tuple(values), tuple(unchecked), components, tuple(checks.values()))

    def overdue(self, rows: Sequence[Row]) -> tuple[InstrumentCheck, ...]:
        """Give the checks that should have been repeated before some of these readings were taken."""
        late: dict[str, InstrumentCheck] = {}
        for row in rows:
            check = self.of_row(row)
            if check is not None and row["taken_at"].date() > check.due_on:
                late[check.cause] = check
        return tuple(late.values())

    def correct_one(self, instrument: str, read: Measured, on: date) -> Measured:
        """Correct what was read, and add the doubt of the check to its own; as it came where none holds."""
        check = self.of_instrument(instrument, on)
        if check is None:
            return read
        doubt = Component(check.cause, check.near(read.value, on).standard, is_lasting=True)
        return Measured(check.correct(read.value, on), (*read.components, doubt), read.source)


NO_CHECKS = Checks()
"""Of a bench that never checked an instrument."""


def known_correction(log: Sequence[Row], checks: Checks) -> float | None:
    """Give the correction of the hygrometer as a chamber takes it, in per cent: the newest that was found.

    Parameters
    ----------
    log : sequence of rows
        Of ``log``: checks against one salt while the treatment goes on.
    checks : Checks
        Of the bench, against two salts; on the same day they count for more.

    Returns
    -------
    float or None
        One of the bench is taken near :data:`CHAMBER`; None without any check.
    """
    rows = [row for row in log if row["quantity"] == CORRECTION and is_given(row["value"])]
    check = checks.of_instrument("hygrometer")
    if check is None or (rows and is_newer(rows[-1], check)):
        return float(rows[-1]["value"]) if rows else None
    return float(check.near(CHAMBER).correction.to("percent").magnitude)


def is_newer(logged: Row, check: InstrumentCheck) -> bool:
    """Tell whether a check against a salt was logged on a later day than one of the bench."""
    return is_given(logged.get("at")) and logged["at"].date() > check.done_on
