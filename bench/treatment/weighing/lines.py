"""Weighings as lines that are typed and as rows of ``readings``: from the one to the other and back."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any

from bench.errors import BadValue
from bench.treatment.actual.observed import ITEM_IN, ITEM_OUT
from bench.treatment.plan import hours
from bench.treatment.rows import Row, number_in, quantity_of, text_of
from bench.treatment.weighing.later import BENCH, CHANGE, NIGHT, OUT, WEIGHT, Later
from bench.treatment.weighing.reading import Weighed, Weighing
from bench.units import Q_, Quantity

_PLACES = {
    "": ITEM_IN,
    OUT: ITEM_OUT,
    BENCH: "item before the press",
    NIGHT: "item after the night in the press",
    WEIGHT: "item under weight",
}
_CHANGE = "item after change {} of the sheets"
_PLANNED = "time as planned, not read off a clock"
KEYS = ("stage", "cycle", "quantity", "place", "replicate")
_NUMBERS = "two numbers on a line, with decimal points and a blank between"
_MOMENTS = "hours in the chamber, or out, bench, night, change 1, change 2, …, weight 24"


def parse_weighings(text: str) -> tuple[Weighing, ...]:
    """Read lines of hours and mass; a comma is refused, never guessed.

    Raises
    ------
    BadValue
        A line that is not two numbers.

    Examples
    --------
    >>> [float(w.mass.magnitude) for w in parse_weighings("0 104.2; 2.5 106.31")]
    [104.2, 106.31]
    """
    return tuple(_parse_chamber(line) for line in _lines(text))


def parse_lines(text: str) -> tuple[tuple[Weighing, ...], tuple[Later, ...]]:
    """Read lines of weighings in the chamber (hours and mass) and of those after it (moment and mass).

    Raises
    ------
    BadValue
        A line that is neither.

    Examples
    --------
    >>> chamber, later = parse_lines("0 104.2; out 111.3; change 1 107.4; weight 24 105.1")
    >>> len(chamber), [one.line for one in later]
    (1, ['out', 'change 1', 'weight 24'])
    """
    chamber, later = [], []
    for line in _lines(text):
        if line[0].isalpha():
            later.append(_parse_later(line))
        elif later:
            allowed = "the lines of the chamber first"
            remedy = "Put them in the order of the clock"
            raise BadValue("Weighings", f"{line!r} after {later[-1].line!r}", allowed, remedy)
        else:
            chamber.append(_parse_chamber(line))
    return tuple(chamber), tuple(later)


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.replace(";", "\n").splitlines() if line.strip()]


def _parse_chamber(line: str) -> Weighing:
    try:
        when, mass = (float(word) for word in line.split())
    except ValueError:
        raise BadValue("Weighings", repr(line), _NUMBERS, "Write them like 2.5 106.31") from None
    return Weighing(hours(when), Q_(mass, "g"))


def _parse_later(line: str) -> Later:
    """Read a moment and a mass, like ``night 107.92`` or ``weight 24 105.1``."""
    first, *numbers = line.lower().split()
    if first not in (OUT, BENCH, NIGHT, CHANGE, WEIGHT):
        raise BadValue("Weighings", repr(line), _MOMENTS, "Begin the line with one of these, then the mass")
    has_number = first in (CHANGE, WEIGHT)
    wanted = {CHANGE: "change 1 107.4", WEIGHT: "weight 24 105.1"}.get(first, f"{first} 107.92")
    allowed = f"a line like {wanted}" + (", the mass last" if has_number else "")
    remedy = {
        CHANGE: "Say which change, then the mass in g",
        WEIGHT: "Say the hours under weight, then the mass",
    }
    try:
        *which, mass = (float(word) for word in numbers)
        if len(which) != has_number or (first == CHANGE and (which[0] != int(which[0]) or which[0] < 1)):
            raise ValueError
    except ValueError:
        raise BadValue("Weighings", repr(line), allowed, remedy.get(first, "Give the mass in g")) from None
    if first == WEIGHT:
        return Later(WEIGHT, Q_(mass, "g"), hours(which[0]))
    return Later(f"{CHANGE} {which[0]:.0f}" if first == CHANGE else first, Q_(mass, "g"))


def find_saved(readings: Iterable[Row], cycle: int) -> tuple[list[Row], list[Row]]:
    """Find the weighings of a cycle among the rows of ``readings``.

    Returns
    -------
    chamber, later : list of rows
        In the chamber and after it, each in the order of time.
    """
    masses = sorted(
        (
            row
            for row in readings
            if (row["quantity"], int(row["cycle"])) == ("mass", cycle)
            and row["stage"] in ("humidity", "pressing")
        ),
        key=lambda row: row["taken_at"],
    )
    chamber = [row for row in masses if row["place"] == ITEM_IN]
    return chamber, [row for row in masses if _moment_of(text_of(row, "place"))]


def _moment_of(place: str) -> str:
    """Give the moment of a place; empty if it is none of those after the chamber."""
    change = re.fullmatch(_CHANGE.format(r"(\d+)"), place)
    if change:
        return f"{CHANGE} {change[1]}"
    return next((moment for moment, words in _PLACES.items() if words == place), "")


def place_of(moment: str) -> str:
    """Name the place of a mass weighed at a moment, such as ``change 1``; in the chamber it has no name."""
    return _PLACES.get(moment) or _CHANGE.format(moment.split()[-1])


def say_rows(rows: Sequence[Row], later: Sequence[Row]) -> str:
    """Write saved rows as the lines that were entered."""
    lines = []
    for row in rows:
        after = (row["taken_at"] - rows[0]["taken_at"]).total_seconds() / 3600
        lines.append(f"{round(after, 3):g} {_grams(row)}")
    lines += [f"{_moment_of(str(row['place']))}{_say_under(row)} {_grams(row)}" for row in later]
    return "\n".join(lines)


def _say_under(row: Row) -> str:
    """Give the hours under weight, which the note keeps; a mark to be filled in if it was changed."""
    if row["place"] != _PLACES[WEIGHT]:
        return ""
    found = re.match(r"([\d.]+) h under weight", text_of(row, "note"))
    return f" {found[1] if found else '?'}"


def _grams(row: Row) -> str:
    return f"{float(quantity_of(row).to('g').magnitude):.7g}"


def reading_rows(
    told: Weighed, saved: tuple[Sequence[Row], Sequence[Row]], *, balance: Quantity, start: datetime, by: str
) -> list[dict[str, Any]]:
    """Give the rows of all weighings, without their cycle.

    Parameters
    ----------
    told : Weighed
        With the weighings.
    saved : tuple of (sequence of rows, sequence of rows)
        As :func:`find_saved` gives them.
    balance : Quantity [mass]
        Largest error of one weighing, plus or minus.
    start : datetime
        When the item went in.
    by : str
        Who weighed.

    Raises
    ------
    BadValue
        A weighing that is saved is missing.
    """
    chamber = told.weighings[: len(told.weighings) - len(told.later)]
    _check_kept(len(chamber), told.later, *saved)
    common = {
        "quantity": "mass",
        "unit": "g",
        "instrument": "balance",
        "limit": number_in(balance, "g", 4),
        "taken_by": by,
    }
    labels = [("humidity", ITEM_IN, number, "") for number in range(1, len(chamber) + 1)]
    labels += [_label(one, number) for one, number in _numbered(told.later)]
    rows = []
    for (stage, place, number, note), weighing in zip(labels, told.weighings, strict=True):
        row = {
            "stage": stage,
            **common,
            "place": place,
            "value": number_in(weighing.mass, "g", 7),
            "replicate": number,
            "taken_at": start + timedelta(hours=float(weighing.when.to("hour").magnitude)),
        }
        rows.append({**row, "note": note} if note else row)
    return rows


def _numbered(later: Sequence[Later]) -> list[tuple[Later, int]]:
    """Give the weighings, each with its number among those of its moment, from 1."""
    return [(one, sum(o.moment == one.moment for o in later[: n + 1])) for n, one in enumerate(later)]


def _label(one: Later, number: int) -> tuple[str, str, int, str]:
    """Give stage, place, replicate and note of a weighing after the chamber."""
    stage = "humidity" if one.moment == OUT else "pressing"
    place = place_of(one.moment)
    note = _PLANNED
    if one.under is not None:
        note = f"{float(one.under.to('hour').magnitude):g} h under weight; {_PLANNED}"
    return stage, place, number, note


def _check_kept(
    chamber: int, later: Sequence[Later], saved: Sequence[Row], saved_later: Sequence[Row]
) -> None:
    """Refuse to save fewer weighings than are saved."""
    remedy = "Write them all; a slip is corrected in its own line"
    if chamber < len(saved):
        allowed = f"at least {len(saved)}, as many as are saved"
        raise BadValue("Weighings", f"{chamber} in number", allowed, remedy)
    here = {_label(one, number)[1:3] for one, number in _numbered(later)}
    for row in saved_later:
        if (row["place"], int(row["replicate"])) not in here:
            moment = _moment_of(str(row["place"]))
            came, allowed = f"no line for {moment!r}", "a line for every weighing that is saved"
            raise BadValue("Weighings", came, allowed, remedy)
