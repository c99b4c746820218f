"""How far a long work is, and the wish that it stop: told between its steps, and none is left half done."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress


class Stopped(Exception):
    """The work was stopped by hand; it carries how far it had come."""


class Progress:
    """Handed to a long work: it tells its steps here, and hears here that it is to stop.

    Parameters
    ----------
    show : callable, optional
        ``show(words)`` is told of every step, in the thread of the work.
    """

    def __init__(self, show: Callable[[str], None] | None = None) -> None:
        self._show = show
        self._is_stopped = threading.Event()
        self._enders: list[Callable[[], None]] = []
        self._steps = self._done = 0
        self.words = ""

    def expect(self, steps: int) -> None:
        """Say how many steps there will be in all."""
        self._steps, self._done = steps, 0

    def step(self, words: str) -> None:
        """Begin the next of the steps, and say what it does.

        Raises
        ------
        Stopped
            The work is to stop.
        """
        self._done += 1
        self.say(f"{self._done} of {self._steps}: {words}")

    def say(self, words: str) -> None:
        """Say how far the work is.

        Raises
        ------
        Stopped
            The work is to stop.
        """
        self.check()
        self.words = words
        if self._show is not None:
            self._show(words)

    def check(self) -> None:
        """Go on, unless the work is to stop.

        Raises
        ------
        Stopped
            It is.
        """
        if self._is_stopped.is_set():
            raise Stopped(self.words)

    def stop(self) -> None:
        """Have the work stop: between two steps, or at once where something can be ended from outside."""
        self._is_stopped.set()
        for end in list(self._enders):
            with suppress(OSError):  # it has ended by itself
                end()

    @contextmanager
    def ended_by(self, end: Callable[[], None]) -> Iterator[None]:
        """Within it, a wish to stop ends what the work waits for.

        Raises
        ------
        Stopped
            In place of whatever the work met when that was ended.
        """
        self._enders.append(end)
        try:
            self.check()
            yield
        except Exception:
            self.check()
            raise
        finally:
            self._enders.remove(end)
