"""What a panel read from the record, kept until one of the panels saves."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

from bench.desk import Treatment

T = TypeVar("T")


class Remembered(Generic[T]):
    """What was read from the record, read anew only after one of the panels has saved.

    Parameters
    ----------
    treatment : Treatment
    read : callable
        Reads it.
    """

    def __init__(self, treatment: Treatment, read: Callable[[], T]) -> None:
        self._treatment, self._read = treatment, read
        self._saves = -1

    def __call__(self) -> T:
        """Give what was read."""
        saves = int(self._treatment.switch.saves)
        if saves != self._saves:
            self._value, self._saves = self._read(), saves
        return self._value

    def forget(self) -> None:
        """Read anew at the next call, before other panels are told of a save."""
        self._saves = -1
