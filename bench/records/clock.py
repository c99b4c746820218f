"""The clock of this machine, by which saves are dated."""

from __future__ import annotations

from datetime import datetime


def now() -> datetime:
    """Give the time by this machine's clock, with its offset from UTC, to the second."""
    return datetime.now().astimezone().replace(microsecond=0)
