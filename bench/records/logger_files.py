"""LoggerLayout the file of a data logger: any columns, any usual way to write numbers and times.

Every logger writes its own kind of file.  What can be told from the file is proposed (:func:`look_at_file`);
the operator says the rest: which column is what, in which unit, the zone of its clock and how far that is
off.  What cannot be used is left out and counted, never mended in silence.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import pandas as pd

from bench.errors import BadValue
from bench.records.logger_sheets import is_spreadsheet, read_sheet

LARGEST_BYTES = 100_000_000
SIGNS = {"tab": "\t", ";": ";", ",": ","}
_SAMPLE = 200  # lines that are looked at to tell how the file is written
_NUMBER = re.compile(r"\s*[-+−]?\d+(?:[.,]\d+)?\s*(?:%|°?\s*[CF]|% ?RH)?\s*", re.IGNORECASE)
_DECIMAL_COMMA = re.compile(r"\s*[-+−]?\d+,\d+\b")
_WITH_UNIT = re.compile(r"^([-+]?\d+(?:\.\d+)?)\s*(?:%.*|°?\s*[CFcf])?$")
_OFFSET = re.compile(r":\d\d(?:\.\d+)?\s*(?:Z|[+-]\d\d:?\d\d)$")
_DAY_FIRST = ("%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%d/%m/%y", "%d.%m.%y", "%d-%m-%y")
_MONTH_FIRST = ("%m/%d/%Y", "%m-%d-%Y", "%m.%d.%Y", "%m/%d/%y", "%m-%d-%y")
_YEAR_FIRST = ("%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d")
_CLOCKS = ("%H:%M:%S", "%H:%M", "%H:%M:%S.%f", "%I:%M:%S %p", "%I:%M %p")
DATES = {"day first": _DAY_FIRST, "month first": _MONTH_FIRST, "year first": _YEAR_FIRST}
_TOO_COLD, _TOO_WARM = -40.0, 120.0  # °C that no workshop and no press comes to
_LEAST_OF_ALL = 1.0  # % RH that no whole file keeps below: its numbers are shares of 1
_TOO_DAMP = 110.0  # % RH: a sensor near saturation shows a little more than 100


@dataclass(frozen=True)
class LoggerFile:
    """The table in a file, every cell still text.

    Attributes
    ----------
    table : DataFrame
        A column for each of the file's, under its name there.
    is_comma : bool
        Whether numbers are written with a decimal comma.
    above : tuple of str
        Lines before the table, such as the name of the logger.
    """

    table: pd.DataFrame
    is_comma: bool
    above: tuple[str, ...]

    @property
    def columns(self) -> list[str]:
        """Names of the columns."""
        return list(self.table.columns)


@dataclass(frozen=True)
class LoggerLayout:
    """How the operator says that a file is to be read.

    Attributes
    ----------
    time, temperature, humidity : str
        Names of the columns.
    clock : str
        Column of the time of day, where ``time`` holds the date alone; empty otherwise.
    unit : str
        ``"degC"`` or ``"degF"``.
    dates : str
        A key of :data:`DATES`.
    zone : str
        Of the logger's clock: ``"UTC"``, an offset as ``"+02:00"``, or a name as ``"Europe/Lisbon"``.
    ahead : float
        Minutes by which the logger's clock is ahead of the right time.
    """

    time: str
    temperature: str
    humidity: str
    clock: str = ""
    unit: str = "degC"
    dates: str = "year first"
    zone: str = "UTC"
    ahead: float = 0.0


def look_at_file(data: bytes) -> LoggerFile:
    """Find the table in a file and how it is written.

    Parameters
    ----------
    data : bytes
        Text with one reading a line, parted by commas, semicolons or tabs; or a spreadsheet, as
        :func:`bench.records.logger_sheets.read_sheet` takes it.

    Raises
    ------
    BadValue
        It is too large, a spreadsheet that cannot be read, or holds no table.
    """
    if len(data) > LARGEST_BYTES:
        allowed = f"at most {LARGEST_BYTES // 1_000_000} MB"
        raise BadValue("logger file", f"{len(data) // 1_000_000} MB", allowed, "Export a shorter time")
    lines = read_sheet(data) if is_spreadsheet(data) else _decode(data).splitlines()
    sign, first, count = _find_table(lines)
    heads = _name_columns(_cells(lines[first - 1], sign) if first else [], count)
    rows = pd.read_csv(
        io.StringIO("\n".join(lines[first:])),
        sep=sign,
        header=None,
        names=range(count),
        usecols=range(count),
        dtype=str,
        keep_default_na=False,
        on_bad_lines="skip",
        skipinitialspace=True,
    )
    rows.columns = pd.Index(heads)
    sample = [cell for cell in rows.head(_SAMPLE).to_numpy().ravel() if isinstance(cell, str)]
    is_comma = any(_DECIMAL_COMMA.match(cell) for cell in sample)
    return LoggerFile(rows, is_comma, tuple(lines[: max(first - 1, 0)]))


def _decode(data: bytes) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _cells(line: str, sign: str) -> list[str]:
    """Take a line apart; a sign between quotation marks parts nothing."""
    try:
        return next(csv.reader([line], delimiter=sign, skipinitialspace=True), [])
    except csv.Error:  # far longer than any cell
        return line.split(sign)


def _find_table(lines: Sequence[str]) -> tuple[str, int, int]:
    """Give the sign between cells, the first line of numbers, and how many cells a line has."""
    sample = lines[:_SAMPLE]
    best = ("", 0, 0)
    for sign in SIGNS.values():
        counts = Counter(len(_cells(line, sign)) for line in sample if line.strip())
        several = {count: lines_of for count, lines_of in counts.items() if count > 1}
        if several:
            count = max(several, key=lambda cells: (several[cells], cells))
            if several[count] > best[2]:
                best = (sign, count, several[count])
    sign, count, _ = best
    for number, line in enumerate(sample):
        cells = _cells(line, sign) if sign else []
        is_dated = any(re.search(r"\d\D+\d", cell) for cell in cells)  # a date or a time among them
        if len(cells) == count > 1 and is_dated and any(map(_NUMBER.fullmatch, cells)):
            return sign, number, count
    remedy = "Export the readings as text, one a line, with time, temperature and humidity"
    raise BadValue("logger file", "without a table", "columns parted by comma, semicolon or tab", remedy)


def _name_columns(heads: Sequence[str], count: int) -> list[str]:
    named = [head.strip().strip('"').strip() for head in heads] if len(heads) == count else [""] * count
    found: list[str] = []
    for number, name in enumerate(named, start=1):
        name = name or f"column {number}"
        found.append(name if name not in found else f"{name} ({number})")
    return found


def propose_reading(file: LoggerFile, *, zone: str = "UTC") -> LoggerLayout:
    """Propose how a file is to be read, from the names of its columns and what stands in them.

    Parameters
    ----------
    file : LoggerFile
        As looked at.
    zone : str
        Of the clock on the bench.
    """
    names = file.columns
    warm = _named(names, r"temp|°\s*[cf]|celsius|fahrenheit|\bt\b") or names[-1]
    damp = _named([n for n in names if n != warm], r"hum|%|\brh\b|feucht") or names[-1]
    rest = [name for name in names if name not in (warm, damp)]
    moment = _named(rest, r"date|time|stamp|datum|zeit|fecha|heure") or rest[0] if rest else names[0]
    is_date_alone = not file.table[moment].head(_SAMPLE).str.contains(":").any()
    clocks = [name for name in rest if name != moment and file.table[name].head(5).str.contains(":").all()]
    clock = clocks[0] if is_date_alone and clocks else ""
    unit = "degF" if re.search(r"°?\s*F\b|fahrenheit", warm) else "degC"
    written = file.table[moment] + " " + file.table[clock] if clock else file.table[moment]
    return LoggerLayout(moment, warm, damp, clock, unit, _propose_dates(written), zone)


def _named(names: Sequence[str], pattern: str) -> str:
    return next((name for name in names if re.search(pattern, name, re.IGNORECASE)), "")


def _propose_dates(cells: pd.Series[str]) -> str:
    """Tell which of the ways to write a date fits most cells; the day stands first where both fit."""
    shown = cells.head(2000)
    order = ("year first", "day first", "month first")
    fitting = {dates: int(_parse_times(shown, dates).notna().sum()) for dates in order}
    return max(order, key=lambda dates: fitting[dates])


def read_logger(file: LoggerFile, how: LoggerLayout) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Read the air out of a file.

    Parameters
    ----------
    file : LoggerFile
        As looked at.
    how : LoggerLayout
        What the operator says of its columns, its unit and its clock.

    Returns
    -------
    air : DataFrame
        ``time`` in UTC, ``celsius`` and ``percent``, in the order of time, each moment once.
    left_out : tuple of str
        What could not be used and how often, in sentences.

    Raises
    ------
    BadValue
        A column or a zone is not known, or nothing can be read.
    """
    cells = {name: _column(file, getattr(how, name), name) for name in ("time", "temperature", "humidity")}
    written = cells["time"] + " " + _column(file, how.clock, "time of day") if how.clock else cells["time"]
    table = pd.DataFrame(
        {
            "time": _place(_parse_times(written, how.dates), read_zone(how.zone)),
            "celsius": _numbers(cells["temperature"], file.is_comma),
            "percent": _numbers(cells["humidity"], file.is_comma),
        }
    )
    if how.unit == "degF":
        table["celsius"] = (table["celsius"] - 32.0) / 1.8
    table, left_out = _leave_out(table)
    if table.empty:
        remedy = "Look at the columns, the way dates are written, and the unit"
        raise BadValue("logger file", f"{len(file.table)} lines, none of use", "readings", remedy)
    if float(table["percent"].max()) <= _LEAST_OF_ALL:
        low, high = (f"{table['percent'].agg(end):.3g}" for end in ("min", "max"))
        remedy = "A sheet may show 0.55 as 55 %: format its cells as plain numbers, in percent"
        raise BadValue("humidity of the logger", f"{low} to {high} % RH", "the air of a workshop", remedy)
    table["time"] -= pd.Timedelta(minutes=how.ahead)
    return table, left_out


def read_zone(name: str) -> tzinfo:
    """Read a zone: ``"UTC"``, an offset or a name.

    Parameters
    ----------
    name : str
        ``"+02:00"``, ``"Europe/Lisbon"``.

    Raises
    ------
    BadValue
        Nobody knows it.
    """
    if match := re.fullmatch(r"([+−-])(\d\d?):?(\d\d)?", name.strip()):
        minutes = 60 * int(match[2]) + int(match[3] or 0)
        if minutes <= 14 * 60:
            return timezone(timedelta(minutes=minutes if match[1] == "+" else -minutes))
    try:
        return ZoneInfo(name.strip())
    except (ZoneInfoNotFoundError, ValueError, OSError):
        allowed = "UTC, an offset like +02:00, or a name like Europe/Lisbon"
        raise BadValue("zone of the logger", repr(name), allowed, "Look at the logger's settings") from None


def _column(file: LoggerFile, name: str, what: str) -> pd.Series[str]:
    if name not in file.columns:
        raise BadValue(f"column of {what}", repr(name), "; ".join(file.columns), "Choose one of these")
    return file.table[name].fillna("").str.strip()


def _parse_times(cells: pd.Series[str], dates: str) -> pd.Series[pd.Timestamp]:
    """Read times in the first way that fits what stands at the head of the column; NaT where it does not."""
    known = cells[cells != ""].head(50)
    if known.empty:
        return pd.to_datetime(cells, errors="coerce", format="ISO8601")
    if known.str.contains(_OFFSET).mean() > 0.5:
        return pd.to_datetime(cells, format="ISO8601", errors="coerce", utc=True)
    ways = [f"{date} {clock}" for date in DATES[dates] for clock in _CLOCKS]
    ways = ["ISO8601", *ways] if dates == "year first" else ways
    fits = [pd.to_datetime(known, format=way, errors="coerce").notna().sum() for way in ways]
    return pd.to_datetime(cells, format=ways[int(np.argmax(fits))], errors="coerce")


def _place(times: pd.Series[pd.Timestamp], zone: tzinfo) -> pd.Series[pd.Timestamp]:
    """Put times into their zone; those written with an offset of their own keep it.

    The hour that comes twice in autumn is told by the order of the readings; where the order does not tell,
    and in the hour that spring leaves out, there is no time.
    """
    if times.dt.tz is not None:
        return times
    try:
        placed = times.dt.tz_localize(zone, ambiguous="infer", nonexistent="NaT")
    except ValueError:
        placed = times.dt.tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
    return placed.dt.tz_convert("UTC")


def _numbers(cells: pd.Series[str], is_comma: bool) -> pd.Series[float]:
    plain = cells.str.replace("−", "-", regex=False)
    if is_comma:
        plain = plain.str.replace(",", ".", regex=False)
    numbers = pd.to_numeric(plain, errors="coerce")
    rest = numbers.isna() & (plain != "")
    if rest.any():  # with a unit behind it
        found = plain[rest].str.extract(_WITH_UNIT)[0]
        numbers = numbers.where(~rest, pd.to_numeric(found, errors="coerce").reindex(numbers.index))
    return numbers.astype(float)


def _leave_out(table: pd.DataFrame) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Leave out what cannot be used, and say how much."""
    told: list[tuple[int, str]] = []

    def keep(good: pd.Series[bool], why: str) -> None:
        nonlocal table
        told.append((int((~good).sum()), why))
        table = table[good]

    keep(table["time"].notna(), "without a time that can be read")
    keep(table["celsius"].notna() & table["percent"].notna(), "without a number")
    keep(table["celsius"].between(_TOO_COLD, _TOO_WARM), "with a temperature that no bench comes to")
    keep(table["percent"].between(0.0, _TOO_DAMP), "with a humidity that no air has")
    table = table.sort_values("time", kind="stable")
    keep(~table["time"].duplicated(), "of a moment that was read already")
    words = tuple(f"{count} {'line' if count == 1 else 'lines'} {why}" for count, why in told if count)
    return table.reset_index(drop=True), words
