"""One cell: text to value and value to text, refusing what it would have to guess at."""

from __future__ import annotations

import math
import os
import re
from datetime import datetime
from enum import Enum
from numbers import Integral, Real
from pathlib import PurePath, PureWindowsPath
from typing import Any

import pandas as pd

from bench.records.faults import say_fault
from bench.records.schema import LONGEST_TEXT, Column

_INTEGER = re.compile(r"[-+]?\d{1,15}", re.ASCII)
_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?", re.ASCII)
_COMMA = re.compile(r"[-+]?\d+,\d+", re.ASCII)
_TIME = re.compile(
    r"\d{4}-\d\d-\d\d(?P<t>T\d\d:\d\d(:\d\d(\.\d{1,6})?)?)?(?P<offset>Z|[-+]\d\d:\d\d)?", re.ASCII
)
_REWRITTEN = re.compile(
    r"(?P<a>\d{1,4})[/.\-](?P<b>\d{1,2})[/.\-](?P<c>\d{2,4})"
    r"(?:,?[ T]+(?P<hour>\d{1,2}):(?P<minute>\d\d)(?::\d\d)?\s*(?P<half>[AaPp])?\.?[Mm]?\.?)?",
    re.ASCII,
)
_NAME = re.compile(r"\w[\w .\-]{0,59}")
_CHECKSUM = re.compile(r"[0-9a-f]{64}", re.ASCII)
# What a spreadsheet takes for a formula and would run; some read the wide signs alike.
_FORMULA = re.compile(r"'*[=+\-@\t\r\n＝＋－＠]")
_TIME_EXAMPLE = "2026-11-25T10:40+01:00"
# The cell alone does not say in which zone it was written, so that none is proposed.
_OFFSETS = ", such as +01:00 or -05:00"


_WORDS = ("text", "file")  # kinds of column that hold what somebody wrote


class CellFault(ValueError):
    """A cell that cannot be used.

    Attributes
    ----------
    what : str
        The sentence, without its place.
    unreadable : bool
        True if the text is not of the column's kind at all, so that the file cannot be read
        whole; False if it is of the kind but not allowed, which a later row can correct.
    """

    def __init__(self, what: str, *, unreadable: bool) -> None:
        self.what = what
        self.unreadable = unreadable
        super().__init__(what)


def parse_cell(column: Column, text: str) -> Any:
    """Read one cell.

    Parameters
    ----------
    column : Column
        What the cell should hold.
    text : str
        As it stands in the file.

    Returns
    -------
    int, float, str, datetime or None
        None for a blank cell.  A time keeps its own offset.

    Raises
    ------
    CellFault
        Blank though required, not of the kind, or not allowed.
    """
    text = unguard_text(text) if column.kind in _WORDS else text
    stripped = text.strip()
    if not stripped:
        if column.required:
            what = say_fault("is blank", column.allowed_words, "Fill it in")
            raise CellFault(what, unreadable=column.name == "row")
        return None
    if column.kind == "integer":
        return _within(column, _parse_integer(column, stripped), stripped)
    if column.kind == "number":
        return _within(column, _parse_number(column, stripped), stripped)
    if column.kind == "time":
        return _parse_time(stripped)
    if column.kind == "text":
        return _parse_text(column, text)
    return _parse_word(column, stripped)


def write_cell(column: Column, value: object) -> str:
    """Write one cell, as text that reads back as the same value.

    Parameters
    ----------
    column : Column
        What the cell should hold.
    value : object
        A plain number, a text, a time with its offset, or None, NaN or blank for a blank cell.

    Raises
    ------
    CellFault
        As for :func:`parse_cell`; also a quantity with a unit, or an object of another kind.
    """
    text = "" if is_blank(value) else _text_of(column, value)
    written = guard_text(text) if column.kind in _WORDS else text
    parse_cell(column, written)
    return written if text.strip() else ""


def guard_text(text: str) -> str:
    """Keep a text from being run by a spreadsheet: what would begin a formula gets an apostrophe before it.

    Examples
    --------
    >>> guard_text("=1+1"), guard_text("'=1+1"), guard_text("a = b")
    ("'=1+1", "''=1+1", 'a = b')
    """
    return f"'{text}" if _FORMULA.match(text) else text


def unguard_text(text: str) -> str:
    """Give a text as it was before :func:`guard_text`.

    Examples
    --------
    >>> unguard_text("'=1+1"), unguard_text("'tis so")
    ('=1+1', "'tis so")
    """
    return text[1:] if text.startswith("'") and _FORMULA.match(text) else text


def is_blank(value: Any) -> bool:
    """Tell whether a value stands for a blank cell: None, NaN, NaT, NA or a text of blanks."""
    if isinstance(value, str):
        return not value.strip()
    return value is None or (pd.api.types.is_scalar(value) and bool(pd.isna(value)))


def _text_of(column: Column, value: object) -> str:
    if isinstance(value, Enum):
        value = value.value
    if isinstance(value, str):
        return str(value)
    numeric = column.kind in ("integer", "number")
    if isinstance(value, Integral) and not isinstance(value, bool) and column.kind != "time":
        return str(int(value))
    if isinstance(value, Real) and not isinstance(value, bool) and numeric:
        number = float(value)
        return str(int(number)) if column.kind == "integer" and number.is_integer() else repr(number)
    if isinstance(value, datetime) and column.kind == "time":
        return value.isoformat()
    if isinstance(value, os.PathLike) and column.kind == "file":
        return PurePath(value).as_posix()
    if hasattr(value, "magnitude") and hasattr(value, "units"):
        remedy = f"Give the number alone, converted to {column.unit or 'the unit of the unit column'}"
        raise CellFault(say_fault(f"is the quantity {value}", column.allowed_words, remedy), unreadable=True)
    came = f"is {value!r}, of the kind {type(value).__name__}"
    raise CellFault(say_fault(came, column.allowed_words, "Give a value of that kind"), unreadable=True)


def _parse_integer(column: Column, text: str) -> int:
    if _INTEGER.fullmatch(text):
        return int(text)
    whole = re.fullmatch(r"([-+]?\d{1,15})[.,]0*", text, re.ASCII)
    remedy = f"Write {whole[1]}" if whole else "Write it with digits only"
    raise CellFault(say_fault(f"is '{text}'", column.allowed_words, remedy), unreadable=True)


def _parse_number(column: Column, text: str) -> float:
    if _NUMBER.fullmatch(text) and math.isfinite(float(text)):
        return float(text)
    came, remedy = f"is '{text}'", "Write the number alone, such as 4.41"
    if _COMMA.fullmatch(text):
        came, remedy = f"is '{text}', with a decimal comma", f"Write {text.replace(',', '.')}"
    raise CellFault(say_fault(came, column.allowed_words, remedy), unreadable=True)


def _within(column: Column, value: float, text: str) -> float:
    low = -math.inf if column.low is None else column.low
    high = math.inf if column.high is None else column.high
    if (column.allowed and str(value) not in column.allowed) or not low <= value <= high:
        came = f"is {text}"
        remedy = "Check the value and its unit"
        what = say_fault(came, column.allowed_words, remedy)
        raise CellFault(what, unreadable=column.name == "row")
    return value


def _parse_text(column: Column, text: str) -> str:
    if len(text) > LONGEST_TEXT:
        came = f"is a text of {len(text)} characters"
        what = say_fault(came, column.allowed_words, "Shorten it, or keep it in a file of its own")
        raise CellFault(what, unreadable=True)
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        what = say_fault("holds half a character", "text that UTF-8 can write", "Type the text again")
        raise CellFault(what, unreadable=True) from None
    if "\0" in text:
        what = say_fault("holds a zero byte", "printable text", "Type the text again")
        raise CellFault(what, unreadable=True)
    return text


def _parse_word(column: Column, text: str) -> str:
    if column.kind == "word":
        if text in column.allowed:
            return text
        near = [word for word in column.allowed if word.casefold() == text.casefold()]
        remedy = f"Write {near[0]}" if near else "Choose one of these"
    elif column.kind == "name":
        if _NAME.fullmatch(text):
            return text
        remedy = "Choose a shorter or plainer name"
    elif column.kind == "checksum":
        if _CHECKSUM.fullmatch(text):
            return text
        remedy = "Take the checksum of the file again"
    else:
        path = PureWindowsPath(text)
        if not (path.drive or path.root or "\\" in text or ".." in path.parts or "\0" in text):
            return _parse_text(column, text)
        remedy = "Copy the file into the folder and name it from there, such as photographs/cover.jpg"
    raise CellFault(say_fault(f"is {text!r}", column.allowed_words, remedy), unreadable=False)


def _parse_time(text: str) -> datetime:
    match = _TIME.fullmatch(text)
    if match and match["t"] and match["offset"]:
        try:
            return datetime.fromisoformat(text)
        except ValueError:
            came, remedy = (
                f"is '{text}', which is on no calendar or clock",
                "Check day, month, hour and offset",
            )
    elif match and match["t"]:
        came = f"is '{text}', without its offset from UTC"
        remedy = f"Write {text} with the offset that held there and then{_OFFSETS}"
    else:
        came, remedy = _explain_time(text)
    allowed = f"a time such as {_TIME_EXAMPLE}"
    raise CellFault(say_fault(came, allowed, remedy), unreadable=True)


def _explain_time(text: str) -> tuple[str, str]:
    """Say what came and what to write instead of a time that is not ISO 8601."""
    plain = f"Write year-month-day, T, the hour and the offset: {_TIME_EXAMPLE}"
    match = _REWRITTEN.fullmatch(text)
    if re.fullmatch(r"\d{5}([.,]\d+)?", text, re.ASCII):
        return f"is '{text}', the day number of a spreadsheet", plain
    if match is None:
        return f"is '{text}'", plain
    came = f"is '{text}', a date as a spreadsheet rewrites it"
    if len(match["a"]) == 4:
        came = f"is '{text}', not written as ISO 8601 asks"
    day = _guess_day(match["a"], match["b"], match["c"])
    if day is None:
        return came, f"{plain}; here day and month could be either way round"
    clock = _clock(match)
    if clock is None:
        return came, f"Write {day}, T, the hour, and the offset that held there and then{_OFFSETS}"
    return came, f"Write {day}T{clock} with the offset that held there and then{_OFFSETS}"


def _guess_day(a: str, b: str, c: str) -> str | None:
    """Find the only day that three numbers can mean, or None."""
    if len(a) == 4:
        orders = {(int(a), int(b), int(c))}
    else:
        year = int(c) + (2000 if len(c) == 2 else 0)
        orders = {(year, int(b), int(a)), (year, int(a), int(b))}
    days = []
    for year, month, day in orders:
        try:
            days.append(f"{datetime(year, month, day):%Y-%m-%d}")
        except ValueError:
            continue
    return days[0] if len(days) == 1 else None


def _clock(match: re.Match[str]) -> str | None:
    if match["hour"] is None:
        return None
    hour = int(match["hour"])
    if match["half"]:
        hour = hour % 12 + (12 if match["half"] in "pP" else 0)
    return f"{hour:02d}:{match['minute']}" if hour < 24 and int(match["minute"]) < 60 else None
