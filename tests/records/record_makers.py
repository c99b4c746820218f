"""Small invented records for the tests of the records room."""

from __future__ import annotations

import os
import traceback
from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from bench.errors import Fault
from bench.records.record import Record
from bench.records.store import create_treatment

AT = datetime(2026, 11, 25, 10, 40, tzinfo=timezone(timedelta(hours=1)))
SAVING = {"by": "Ada Quill", "at": AT}
ITEM = {
    "title": "Lantern Annual",
    "owner": "R. Vane",
    "format": "square-bound, side-stapled",
    "width_mm": 170,
    "height_mm": 260,
    "count": 50,
    "counted_as": "leaves",
    "cover_leaves": 2,
    "length_unit": "thou",
    "temperature_unit": "degC",
}


def reading(value: object = 4.41, **more: object) -> dict[str, object]:
    row: dict[str, object] = {
        "stage": "intake",
        "cycle": 0,
        "quantity": "thickness",
        "place": "text block",
        "value": value,
        "unit": "mm",
        "taken_at": AT,
    }
    return row | more


def remark(text: str = "smells of old paper", **more: object) -> dict[str, object]:
    return {"stage": "intake", "cycle": 0, "at": AT, "remark": text} | more


def step(**more: object) -> dict[str, object]:
    row = {
        "step": "s01",
        "stage": "pressing",
        "cycle": 1,
        "name": "press",
        "hands": "no",
        "planned_start": AT,
    }
    return row | more


def make(folder: Path, treatment_id: str = "lantern-1", **tables: Any) -> Record:
    return create_treatment(folder, treatment_id, {"treatment": [ITEM], **tables}, **SAVING)  # type: ignore[arg-type]


def by_themselves(found: list[Fault]) -> list[Fault]:
    """Leave out what only says that rows are not as they were saved: a test that breaks them means it."""
    return [fault for fault in found if "bench take-over" not in fault.what]


def in_child(work: Callable[[], object]) -> int:
    """Run something in a process of its own and give its exit code (negative: the signal)."""
    pid = os.fork()
    if pid == 0:
        try:
            work()
        except BaseException:
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


def names_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}
