"""Restore points: the tables of a treatment as they stood at one moment, in a plain zip file.

Photographs are not in them: they are kept untouched beside the tables, under their checksums.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from bench.records import disk
from bench.records.faults import explain_os_error
from bench.records.journal import JOURNAL
from bench.records.schema import FILES

FOLDER = "restore_points"
_NAME = re.compile(r"(?P<at>\d{8}T\d{12}Z)-(?P<why>[a-z0-9-]+)\.zip", re.ASCII)
_FORMAT = "%Y%m%dT%H%M%S%fZ"
_FIRST_DAY = datetime(1980, 1, 1)  # that a zip file knows
_ALL_FOR, _DAILY_FOR = timedelta(days=7), timedelta(days=60)  # then one a month


@dataclass(frozen=True)
class RestorePoint:
    """One restore point: its file, when it was made, and why."""

    path: Path
    at: datetime
    why: str


def make_restore_point(folder: Path, *, at: datetime, why: str) -> Path:
    """Keep the tables as they stand, and thin out older ones; call it under the lock.

    Parameters
    ----------
    folder : Path
        Of the treatment.
    at : datetime
        With offset; part of its name.
    why : str
        In small letters, digits and hyphens, part of its name: ``"before-schema-2"``.

    Returns
    -------
    Path

    Raises
    ------
    RecordError
        The folder cannot be written.
    """
    parent = folder / FOLDER
    # A clock that goes by seconds, or that was set back: what is made later is still named later.
    earlier = [point.at for point in list_restore_points(folder)]
    moment = max([at.astimezone(UTC), *(last + timedelta(microseconds=1) for last in earlier)])
    path = parent / f"{moment:{_FORMAT}}-{why}.zip"
    try:
        parent.mkdir(exist_ok=True)
        disk.replace_file(path, _zip_tables(folder, moment))
        disk.sync_folder(folder)
        for old in find_superfluous(list_restore_points(folder), moment):
            disk.remove(old.path)
    except OSError as error:
        raise explain_os_error(error, folder) from error
    return path


def _zip_tables(folder: Path, moment: datetime) -> bytes:
    """Give a zip file of the tables, and of a save that waits."""
    content = io.BytesIO()
    stamp = max(moment.replace(tzinfo=None), _FIRST_DAY).timetuple()[:6]
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as file:
        for name in (*(table.file for table in FILES.values()), JOURNAL):
            data = disk.read_bytes(folder / name)
            if data is not None:
                file.writestr(zipfile.ZipInfo(name, stamp), data, zipfile.ZIP_DEFLATED)
    return content.getvalue()


def list_restore_points(folder: Path) -> list[RestorePoint]:
    """List the restore points of a treatment, the oldest first."""
    parent = folder / FOLDER
    if not parent.is_dir():
        return []
    found = ((path, _NAME.fullmatch(path.name)) for path in sorted(parent.iterdir()))
    return [
        RestorePoint(path, datetime.strptime(match["at"], _FORMAT).replace(tzinfo=UTC), match["why"])
        for path, match in found
        if match
    ]


def find_superfluous(points: Iterable[RestorePoint], now: datetime) -> list[RestorePoint]:
    """Find what age thins out: of those older than a week all but the first of a day, then of a month.

    Examples
    --------
    >>> now = datetime(2026, 12, 1, 12, tzinfo=UTC)
    >>> days = (now - timedelta(days=k, hours=h) for k in (0, 10) for h in (3, 2))
    >>> [f"{point.at:%d %H}" for point in find_superfluous([RestorePoint(Path(), d, "") for d in days], now)]
    ['21 10']
    """
    seen: set[str] = set()
    superfluous = []
    for point in sorted(points, key=lambda point: point.at):
        age = now - point.at
        if age <= _ALL_FOR:
            continue
        period = f"{point.at:%Y-%m-%d}" if age <= _DAILY_FOR else f"{point.at:%Y-%m}"
        if period in seen:
            superfluous.append(point)
        seen.add(period)
    return superfluous
