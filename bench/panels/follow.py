"""Panels of one treatment that follow each other: what one saves, the others show at once."""

from __future__ import annotations

from collections.abc import Sequence
from weakref import WeakKeyDictionary, WeakSet

from bench.desk import Treatment
from bench.errors import BenchError
from bench.panels.base import Panel

_FOLLOWERS: WeakKeyDictionary[Treatment, WeakSet[Panel]] = WeakKeyDictionary()


def follow(treatment: Treatment, panel: Panel) -> Panel:
    """Let a panel be worked out anew whenever another one of the treatment saves."""
    _FOLLOWERS.setdefault(treatment, WeakSet()).add(panel)
    return panel


def tell_others(treatment: Treatment, saver: Panel) -> None:
    """Work the other panels of a treatment out anew, after one of them has saved."""
    for panel in list(_FOLLOWERS.get(treatment, ())):
        if panel is not saver:
            panel._refresh(None)


def strip_of(treatment: Treatment, stage: str, cycle: int | None = None) -> Sequence[str]:
    """Say who and what is at hand, also before the item has been described."""
    try:
        return treatment.strip(stage, cycle)
    except BenchError:
        facts = [treatment.title, stage.capitalize(), "not described yet"]
        return [*facts, "scratch copy"] if treatment.is_scratch else facts
