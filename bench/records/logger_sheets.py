"""The readings of a logger in a spreadsheet's own format, as lines of text like those of any other logger."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

import pandas as pd

from bench.errors import BadValue
from bench.units import lower_first

_ZIP, _OLD = b"PK", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_LARGEST_BYTES = 500_000_000  # unpacked: a million lines of a logger are a fifth of it
_MANIFEST, _HEAD = "META-INF/manifest.xml", 100_000  # of an .ods, and how much of it is looked at
_READINGS = 200  # lines in which a reading must come
_TIME = re.compile(r"\d{1,4}[-./]\d{1,2}[-./]\d{1,4}|\d{1,2}:\d{2}")
_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?(?:e[-+]?\d+)?\s*(?:%|°?\s*[CF])?", re.IGNORECASE)
_SAVE_AS = "Save the sheet as CSV in the spreadsheet program, and choose that file"


def is_spreadsheet(data: bytes) -> bool:
    """Tell whether a file is packed as spreadsheets are: by its first bytes, whatever its name."""
    return data.startswith((_ZIP, _OLD))


def read_sheet(data: bytes) -> list[str]:
    """Read the sheet with the readings out of a spreadsheet.

    It is the first sheet, or where that holds no readings the only one that does.  A formula counts with the
    result that was saved with it.

    Parameters
    ----------
    data : bytes
        Of an .xlsx or .ods file.

    Returns
    -------
    list of str
        A line a row, cells parted by tabs, without empty rows and columns; times as ``2026-03-02 09:00:00``.

    Raises
    ------
    BadValue
        It is older, protected by a password, spoilt or too large, or no sheet or several hold readings.
    """
    _check(data)
    sheets = {name: _lines(table) for name, table in _open(data).items()}
    holding = {name: lines for name, lines in sheets.items() if _has_readings(lines)}
    if not holding:
        remedy = "Each reading needs a row with time, temperature and humidity"
        raise BadValue("logger file", "a spreadsheet without readings", "one sheet with readings", remedy)
    first = next(iter(sheets))
    if first not in holding and len(holding) > 1:
        remedy = "Put the sheet of this chamber first, or save it alone"
        came = f"a spreadsheet with readings in {', '.join(holding)}"
        raise BadValue("logger file", came, "readings in the first sheet, or in one alone", remedy)
    return holding[first] if first in holding else next(iter(holding.values()))


def _check(data: bytes) -> None:
    if data.startswith(_OLD):
        remedy = f"Save it as .xlsx or .ods without a password, or as CSV. {_SAVE_AS}"
        came = "an old (.xls) or a password-protected spreadsheet"
        raise BadValue("logger file", came, "text, .xlsx or .ods", remedy)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            size = sum(part.file_size for part in packed.infolist())
            names = set(packed.namelist())
            manifest = packed.read(_MANIFEST)[:_HEAD] if _MANIFEST in names else b""
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, RuntimeError, zlib.error) as error:
        raise _spoilt() from error
    if not names & {"xl/workbook.xml", "content.xml"}:
        raise BadValue("logger file", "packed, and no spreadsheet", "text, .xlsx or .ods", _SAVE_AS)
    if b"encryption-data" in manifest:
        raise _locked()
    if size > _LARGEST_BYTES:
        allowed = f"at most {_LARGEST_BYTES // 1_000_000} MB"
        raise BadValue(
            "logger file", f"{size // 1_000_000} MB when unpacked", allowed, "Export a shorter time"
        )


def _open(data: bytes) -> dict[str, pd.DataFrame]:
    from python_calamine import CalamineError, PasswordError

    try:
        found = pd.read_excel(
            io.BytesIO(data),
            sheet_name=None,
            header=None,
            dtype=object,
            engine="calamine",
            keep_default_na=False,
            na_values=[],
        )
    except PasswordError as error:
        raise _locked() from error
    except (CalamineError, ValueError, KeyError, IndexError, OSError, OverflowError) as error:
        raise _spoilt() from error
    except BaseException as error:
        # The reader is compiled; what it did not foresee comes as a panic, which is no Exception.
        if type(error).__name__ != "PanicException":
            raise
        raise _spoilt() from error
    return {str(name): table for name, table in found.items()}


def _locked() -> BadValue:
    came = "a spreadsheet protected by a password"
    return BadValue("logger file", came, "one without", "Save it without a password")


def _spoilt() -> BadValue:
    came = "a spreadsheet that cannot be unpacked"
    return BadValue(
        "logger file", came, "a sound .xlsx or .ods", f"Copy it again, or {lower_first(_SAVE_AS)}"
    )


def _lines(table: pd.DataFrame) -> list[str]:
    """Write a sheet as lines; columns and rows without anything in them are left out."""
    columns = [_texts(table[name].tolist()) for name in table.columns]
    rows = zip(*(column for column in columns if any(column)), strict=True)
    return ["\t".join(row) for row in rows if any(row)]


def _texts(cells: Sequence[Any]) -> list[str]:
    """Write the cells of a column; where no date has a time of day, the dates stand alone."""
    moments = [cell for cell in cells if isinstance(cell, date) and not pd.isna(cell)]
    is_date_alone = all(_is_midnight(moment) for moment in moments)
    return [_text(cell, is_date_alone=is_date_alone) for cell in cells]


def _is_midnight(moment: date) -> bool:
    return not isinstance(moment, datetime) or moment.time() == time(0)


def _text(cell: Any, *, is_date_alone: bool) -> str:
    if isinstance(cell, str):
        return " ".join(cell.replace('"', "'").split())
    if cell is None or cell is pd.NaT or cell != cell:
        return ""
    if isinstance(cell, datetime):
        return _write_moment(cell, is_date_alone)
    if isinstance(cell, timedelta):  # a time of day that is shown as hours gone by
        cell = (datetime.min + cell).time() if timedelta(0) <= cell < timedelta(days=1) else ""
    if isinstance(cell, time):
        return cell.isoformat("seconds")
    return str(cell)


def _write_moment(moment: datetime, is_date_alone: bool) -> str:
    """Write a moment to the millisecond: a spreadsheet counts in days, and its last digits are noise."""
    if is_date_alone:
        return f"{moment:%Y-%m-%d}"
    near = moment + timedelta(microseconds=500)
    milli = near.microsecond // 1000
    return f"{near:%Y-%m-%d %H:%M:%S}" + (f".{milli:03d}" if milli else "")


def _has_readings(lines: Sequence[str]) -> bool:
    return any(_is_reading(line.split("\t")) for line in lines[:_READINGS])


def _is_reading(cells: Sequence[str]) -> bool:
    return any(map(_TIME.search, cells)) and any(map(_NUMBER.fullmatch, cells))
