"""A report as PDF, where a Chromium and Playwright are at hand."""

from __future__ import annotations

import os
import shutil
import signal
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from bench.errors import NotFound
from bench.progress import Progress

_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
_FLAGS = ("--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")
PAPERS = ("A4", "Letter")


def print_page(html: str, *, paper: str = "A4", progress: Progress | None = None) -> bytes:
    """Print a page through a headless browser.

    Parameters
    ----------
    html : str
        A complete page that needs nothing beside itself.
    paper : str
        ``"A4"`` or ``"Letter"``.
    progress : Progress, optional
        Told of the browser and of the printing; to stop ends the browser.

    Returns
    -------
    bytes
        The PDF.

    Raises
    ------
    NotFound
        No browser or no Playwright is installed; the sentence says what to do instead.
    Stopped
        It was stopped; no browser is left behind.
    """
    _check_paper(paper)
    if progress is None:
        progress = Progress()
    progress.step("the browser that prints is started")
    with Printer() as printer, progress.ended_by(printer.kill):
        progress.step("the pages are laid out and printed")
        return printer.print(html, paper=paper)


PRINT_STEPS = 2
"""That :func:`print_page` tells of."""


class Printer:
    """A headless browser that prints one page after another, for as long as it is entered.

    Raises
    ------
    NotFound
        As :func:`print_page`.
    """

    def __enter__(self) -> Printer:
        browser = next((path for name in _BROWSERS if (path := shutil.which(name))), None)
        remedy = "Open the HTML report in any browser and print it to a file"
        if browser is None:
            raise NotFound("browser for the PDF", "not installed", "Chromium", remedy)
        try:
            from playwright.sync_api import sync_playwright
        except ImportError:
            raise NotFound("Playwright for the PDF", "not installed", "the test group", remedy) from None
        # In a thread of its own: a notebook's kernel runs a loop, in which Playwright refuses to wait.
        self._thread = ThreadPoolExecutor(max_workers=1)
        try:
            self._thread.submit(self._open, browser, sync_playwright).result()
        except BaseException:
            self._thread.shutdown()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self._thread.submit(self._close).result()
        self._thread.shutdown()

    def print(self, html: str, *, paper: str = "A4") -> bytes:
        """Print a page; see :func:`print_page`."""
        _check_paper(paper)
        return self._thread.submit(self._print, html, paper).result()

    def kill(self) -> None:
        """End the browser at once, from any thread; a page that it is printing is lost."""
        os.kill(self._pid, getattr(signal, "SIGKILL", signal.SIGTERM))

    def _open(self, browser: str, start: Callable[[], Any]) -> None:
        self._playwright = start().start()
        try:
            launch = self._playwright.chromium.launch
            self._window = launch(executable_path=browser, args=list(_FLAGS))
            known = self._window.new_browser_cdp_session().send("SystemInfo.getProcessInfo")
            self._pid = next(int(one["id"]) for one in known["processInfo"] if one["type"] == "browser")
        except BaseException:
            self._playwright.stop()
            raise

    def _close(self) -> None:
        try:
            if self._window.is_connected():
                self._window.close()
        finally:
            self._playwright.stop()

    def _print(self, html: str, paper: str) -> bytes:
        size = {"width": 760, "height": 1000}
        page = self._window.new_page(viewport=size, offline=True, java_script_enabled=False)
        try:
            page.emulate_media(media="print")
            page.set_content(html)
            printed: bytes = page.pdf(format=paper, print_background=True, prefer_css_page_size=False)
            return printed
        finally:
            if self._window.is_connected():  # it is not once it was killed
                page.close()


def _check_paper(paper: str) -> None:
    if paper not in PAPERS:
        raise NotFound("paper", repr(paper), " or ".join(PAPERS), "Choose one of these")
