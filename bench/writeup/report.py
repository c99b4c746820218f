"""Write the report of a treatment into files; an earlier report is never written over."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

from bench.errors import NotFound
from bench.progress import Progress
from bench.records import disk
from bench.records.faults import explain_os_error
from bench.records.store import Record
from bench.units import UnitChoice
from bench.writeup.blocks import Report
from bench.writeup.collect import collect_report
from bench.writeup.html import render_html
from bench.writeup.markdown import render_markdown
from bench.writeup.pdf import PRINT_STEPS, print_page

__all__ = ["FORMATS", "collect_report", "write_report"]


_STEMS = {"record": "report", "owner": "owner"}


def _as_html(report: Report, progress: Progress) -> bytes:
    progress.step("the page is written")
    return render_html(report).encode("utf-8")


def _as_text(report: Report, progress: Progress) -> bytes:
    progress.step("the text is written")
    return render_markdown(report).encode("utf-8")


def _as_pdf(report: Report, progress: Progress) -> bytes:
    progress.step("the page to print is written")
    return print_page(render_html(report), progress=progress)


FORMATS: dict[str, Callable[[Report, Progress], bytes]] = {
    "html": _as_html,
    "md": _as_text,
    "pdf": _as_pdf,
}
_STEPS = {"html": 1, "md": 1, "pdf": 1 + PRINT_STEPS}


def write_report(
    record: Record,
    *,
    out: str | Path,
    at: datetime,
    by: str,
    formats: Sequence[str] = ("html", "md"),
    units: UnitChoice | None = None,
    audience: str = "record",
    progress: Progress | None = None,
) -> list[Path]:
    """Write the report of a treatment.

    Parameters
    ----------
    record : Record
        Of the treatment; it is only read.
    out : str or Path
        Folder for the files; it exists.
    at : datetime
        When it is written, with offset.
    by : str
        Who writes it.
    formats : sequence of str
        ``"html"``, ``"md"`` and ``"pdf"``, the last only where Chromium and Playwright are installed.
    units : UnitChoice, optional
        By default the operator's, as last saved.
    audience : str
        ``"record"`` for the whole record, ``"owner"`` for the short form of one or two pages.
    progress : Progress, optional
        Told of every step.

    Returns
    -------
    list of Path
        ``report-<treatment>-<day>-<number>`` with the ending of each format, in the order asked for;
        the short form begins with ``owner``.
        The number is the first that no report of that day has.

    Raises
    ------
    NotFound
        An unknown format or audience, or what the PDF needs is not installed; nothing is written then.
    BadValue
        A time without offset, or nobody who writes.
    RecordError
        A table cannot be read whole, or the folder cannot be written.
    Stopped
        It was stopped before its files were put in place: there is none.
    """
    for name in formats:
        if name not in FORMATS:
            raise NotFound("format of the report", repr(name), ", ".join(FORMATS), "Choose one of these")
    progress = progress or Progress()
    wanted = list(dict.fromkeys(formats))
    progress.expect(2 + sum(_STEPS[name] for name in wanted))
    progress.step("the record is read")
    report = collect_report(record, at=at, by=by, units=units, audience=audience)
    contents = {name: FORMATS[name](report, progress) for name in wanted}
    progress.step("the files are put in place")
    folder = Path(out)
    stem = f"{_STEMS[audience]}-{report.treatment_id}-{at:%Y-%m-%d}"
    try:
        number = _free_number(folder, stem)
        while not (paths := _place(folder, f"{stem}-{number}", contents)):
            number += 1
    except OSError as error:
        raise explain_os_error(error, folder, "No report was written") from error
    return paths


def _free_number(folder: Path, stem: str) -> int:
    pattern = re.compile(rf"{re.escape(stem)}-(\d+)\.\w+")
    taken = [int(m[1]) for entry in folder.iterdir() if (m := pattern.fullmatch(entry.name))]
    return max(taken, default=0) + 1


def _place(folder: Path, name: str, contents: dict[str, bytes]) -> list[Path]:
    """Put files in place, all or none; an empty list if another report took a name meanwhile."""
    placed: list[Path] = []
    try:
        for ending, data in contents.items():
            path = folder / f"{name}.{ending}"
            if not _place_new(path, data):
                _take_back(placed)
                return []
            placed.append(path)
    except OSError:
        _take_back(placed)
        raise
    disk.sync_folder(folder)
    return placed


def _place_new(path: Path, data: bytes) -> bool:
    """Write a file whole under a name that nobody has; false if somebody has it."""
    temporary = disk.write_beside(path, data)
    try:
        os.link(temporary, path)  # unlike a rename it never writes over a file
    except FileExistsError:
        return False
    except OSError:  # a file system without links
        if path.exists():
            return False
        os.replace(temporary, path)
    finally:
        disk.remove_quietly(temporary)
    return True


def _take_back(paths: Sequence[Path]) -> None:
    for path in paths:
        with contextlib.suppress(OSError):
            path.unlink()
