"""What a panel read from the record, kept until somebody saves."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, TypeVar

from bench.desk import Treatment

T = TypeVar("T")


class Remembered(Generic[T]):
    """What was read from the record, read anew only after somebody has saved, here or in another window.

    Parameters
    ----------
    treatment : Treatment
        Whose record is watched.
    read : callable
        Reads it.
    """

    def __init__(self, treatment: Treatment, read: Callable[[], T]) -> None:
        self._treatment, self._read = treatment, read
        self._state: object = None

    def __call__(self) -> T:
        """Give what was read."""
        state = (self._treatment.switch.saves, self._treatment.watch.state())
        if state != self._state:
            self._value, self._state = self._read(), state
        return self._value

    @property
    def last(self) -> T:
        """What the last call gave, whatever was saved since."""
        return self._value

    def forget(self) -> None:
        """Read anew at the next call, before other panels are told of a save."""
        self._state = None
