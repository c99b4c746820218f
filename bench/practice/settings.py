"""What an exercise may set for its marker: a teacher's own rule in place of the usual one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

Value = float | str | tuple[int, ...]


@dataclass(frozen=True)
class MarkerSetting:
    """A rule that an exercise may set in its front matter.

    Attributes
    ----------
    key : str
        Its name there.
    words : str
        What it is, with its unit.
    usual : float, str or tuple of int
        What counts where an exercise sets nothing; its kind is the kind of all values.
    low, high : float
        Of a number, or of each number of a list: what is allowed, both ends with it.
    allowed : tuple of str
        Of a word: those that there are.
    """

    key: str
    words: str
    usual: Value
    low: float = 0.0
    high: float = 0.0
    allowed: tuple[str, ...] = ()

    def fault(self, value: object) -> str:
        """Say what is wrong with a value that is written for it; empty if it can be used."""
        return "" if self._is_good(value) else f"is {value!r}; allowed is {self.say_allowed()} ({self.words})"

    def say_allowed(self) -> str:
        """Say what may be written for it."""
        if isinstance(self.usual, str):
            return " or ".join(f'"{word}"' for word in self.allowed)
        if isinstance(self.usual, tuple):
            return f"a list of whole numbers, each {self.low:g} to {self.high:g}, like {list(self.usual)}"
        return f"a number, {self.low:g} to {self.high:g}, with a decimal point"

    def say_usual(self) -> str:
        """Write the usual value as it would stand in the front matter."""
        if isinstance(self.usual, str):
            return f'{self.key} = "{self.usual}"'
        return f"{self.key} = {list(self.usual) if isinstance(self.usual, tuple) else self.usual}"

    def _is_good(self, value: object) -> bool:
        if isinstance(self.usual, str):
            return value in self.allowed
        if isinstance(self.usual, tuple):
            return isinstance(value, list) and bool(value) and all(self._is_whole(each) for each in value)
        return isinstance(value, int | float) and not isinstance(value, bool) and self._is_within(value)

    def _is_whole(self, value: object) -> bool:
        return isinstance(value, int) and not isinstance(value, bool) and self._is_within(value)

    def _is_within(self, value: float) -> bool:
        return self.low <= value <= self.high


def with_usual(settings: Iterable[MarkerSetting], given: Mapping[str, Any]) -> dict[str, Any]:
    """Give every setting of a marker: as an exercise has it, else as usual."""
    return {each.key: given.get(each.key, each.usual) for each in settings}
