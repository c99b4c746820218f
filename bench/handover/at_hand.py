"""The treatment at hand, as far as a hand-over reads it."""

from __future__ import annotations

from typing import Protocol

from bench.item import Item, Thicknesses
from bench.records.store import Record
from bench.units import UnitChoice


class AtHand(Protocol):
    """What a hand-over asks of a treatment (:class:`bench.desk.Treatment` is one)."""

    @property
    def record(self) -> Record:
        """The record as it was opened."""

    @property
    def latest(self) -> Record:
        """The record as it stands on the disk now."""

    @property
    def item(self) -> Item:
        """The item as it is recorded."""

    @property
    def units(self) -> UnitChoice:
        """The operator's units."""

    @property
    def cycle(self) -> int:
        """The cycle at hand."""

    def thicknesses(self, cycle: int = 1) -> Thicknesses:
        """Give the thicknesses as read before a cycle."""
