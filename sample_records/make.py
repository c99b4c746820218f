"""Make the three sample treatments anew, through the same functions that the panels call.

Titles, people and numbers are invented.  Run it after a change that alters what a plan says::

    python sample_records/make.py

It writes into a folder beside this file and puts each sample in place only when it is whole.
"""

from __future__ import annotations

import shutil
import tempfile
from datetime import datetime, timedelta, timezone
from pathlib import Path

from bench.records.store import Record, create_treatment

HERE = Path(__file__).resolve().parent
ZONE = timezone(timedelta(hours=1))
WHO = "M. Tallow"
SCATTER = (-0.5, 0.5, 0.0, 0.5, -0.5)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    """Give a moment of the invented March."""
    return datetime(2026, 3, day, hour, minute, tzinfo=ZONE)


def read_thickness(stage: str, cycle: int, place: str, thou: float, taken: datetime) -> list[dict]:
    """Make five caliper readings around a value in thousandths of an inch."""
    return [
        {
            "stage": stage,
            "cycle": cycle,
            "quantity": "thickness",
            "place": place,
            "value": thou + step,
            "unit": "thou",
            "instrument": "dial caliper",
            "limit": 0.8,
            "resolution": 0.5,
            "replicate": number,
            "taken_at": taken,
            "taken_by": WHO,
        }
        for number, step in enumerate(SCATTER, start=1)
    ]


def make_annual(folder: Path) -> Record:
    """Make the square-bound annual that needs two cycles."""
    start = at(2, 9)
    readings = [
        row
        for place, value in {
            "text block": 181.0,
            "upper staple": 186.5,
            "lower staple": 180.0,
            "spine edge": 183.5,
            "fore edge": 182.0,
        }.items()
        for row in read_thickness("intake", 0, place, value, start)
    ]
    staples = [
        {"staple": "upper", "from_head_mm": 41, "from_spine_mm": 8.5, "prong": "flush", "rust": 1},
        {"staple": "lower", "from_head_mm": 214, "from_spine_mm": 8.0, "prong": "flush", "rust": 0},
    ]
    description = {
        "title": "The Tin Orchard Annual, no. 2",
        "owner": "E. Fenwright",
        "conservator": WHO,
        "planned_start": start,
        "format": "square-bound, side-stapled",
        "width_mm": 170,
        "height_mm": 258,
        "count": 76,
        "counted_as": "pages",
        "cover_leaves": 2,
        "text_paper": "newsprint",
        "cover_paper": "coated cover",
        "cover_coated": "yes",
        "glue": "animal glue",
        "mass_g": 104.2,
        "length_unit": "thou",
        "temperature_unit": "degC",
    }
    rows = {"treatment": [description], "staples": staples, "readings": readings}
    return create_treatment(folder, "tin-orchard-annual-2", rows, by=WHO, at=start)


def main() -> None:
    """Make every sample."""
    with tempfile.TemporaryDirectory(prefix=".making-", dir=HERE) as unfinished:
        folder = Path(unfinished)
        for make in (make_annual,):
            record = make(folder)
            target = HERE / record.folder.name
            shutil.rmtree(target, ignore_errors=True)
            record.folder.rename(target)


if __name__ == "__main__":
    main()
