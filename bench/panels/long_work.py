"""Work that takes longer than a moment: how far it is, and a button that stops it."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from concurrent.futures import Future
from html import escape
from typing import Any

import ipywidgets as widgets

from bench.progress import Progress


class LongWork:
    """A line that says how far a work is, with Stop beside it; out of sight while there is none.

    In a notebook the work has a thread of its own, so that the kernel hears Stop; what follows it comes
    back to the kernel's own.  Where no kernel listens it is done at once.
    """

    def __init__(self) -> None:
        self._words = widgets.HTML()
        self._stop = widgets.Button(description="Stop")
        self._stop.add_class("bench-stop")
        self._stop.on_click(lambda _: self.stop())
        self.box = widgets.VBox([self._words, self._stop], layout={"display": "none"})
        self.box.add_class("bench-long")
        self._progress: Progress | None = None

    @property
    def is_running(self) -> bool:
        """Whether a work is under way."""
        return self._progress is not None

    @property
    def words(self) -> str:
        """What the line says, as HTML."""
        return str(self._words.value)

    def start(self, job: Callable[[Progress], Any], done: Callable[[Future[Any]], None]) -> None:
        """Begin a work; one at a time.

        Parameters
        ----------
        job : callable
            ``job(progress)`` does it.
        done : callable
            ``done(future)`` is called with what came of it: a result, or what it raised.
        """
        assert self._progress is None, "one at a time"
        progress = self._progress = Progress(self._show)
        self._stop.disabled = False
        self._show("begun")
        self.box.layout.display = ""
        loop = loop_of_kernel()
        if loop is None:
            self._end(attempt(lambda: job(progress)), done)
            return

        def work() -> None:
            came = attempt(lambda: job(progress))
            loop.call_soon_threadsafe(self._end, came, done)

        threading.Thread(target=work, daemon=True).start()

    def stop(self) -> None:
        """Have the work stop."""
        if self._progress is not None:
            self._stop.disabled = True
            self._show(f"{self._progress.words}; stopping")
            self._progress.stop()

    def _show(self, words: str) -> None:
        self._words.value = f'<span class="hint" role="status">{escape(words)}</span>'

    def _end(self, came: Future[Any], done: Callable[[Future[Any]], None]) -> None:
        self._progress = None
        self._words.value = ""
        self.box.layout.display = "none"
        done(came)


def loop_of_kernel() -> asyncio.AbstractEventLoop | None:
    """Give the loop in which a kernel hears Stop; None where none runs."""
    try:
        return asyncio.get_running_loop()
    except RuntimeError:
        return None


def attempt(job: Callable[[], Any]) -> Future[Any]:
    """Do something, and keep what came of it: a result, or what it raised."""
    came: Future[Any] = Future()
    try:
        came.set_result(job())
    except BaseException as error:
        came.set_exception(error)
    return came
