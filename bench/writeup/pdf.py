"""A report as PDF, where a Chromium and Playwright are at hand."""

from __future__ import annotations

import shutil
from concurrent.futures import ThreadPoolExecutor

from bench.errors import NotFound

_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
_FLAGS = ("--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")
PAPERS = ("A4", "Letter")


def print_page(html: str, *, paper: str = "A4") -> bytes:
    """Print a page through a headless browser.

    Parameters
    ----------
    html : str
        A complete page that needs nothing beside itself.
    paper : str
        ``"A4"`` or ``"Letter"``.

    Returns
    -------
    bytes
        The PDF.

    Raises
    ------
    NotFound
        No browser or no Playwright is installed; the sentence says what to do instead.
    """
    if paper not in PAPERS:
        raise NotFound("paper", repr(paper), " or ".join(PAPERS), "Choose one of these")
    browser = next((path for name in _BROWSERS if (path := shutil.which(name))), None)
    remedy = "Open the HTML report in any browser and print it to a file"
    if browser is None:
        raise NotFound("browser for the PDF", "not installed", "Chromium", remedy)
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        raise NotFound("Playwright for the PDF", "not installed", "the test group", remedy) from None
    # In a thread of its own: a notebook's kernel runs a loop, in which Playwright refuses to wait.
    with ThreadPoolExecutor(max_workers=1) as threads:
        return threads.submit(_print, html, browser, paper, sync_playwright).result()


def _print(html: str, browser: str, paper: str, start: object) -> bytes:
    with start() as playwright:  # type: ignore[operator]
        window = playwright.chromium.launch(executable_path=browser, args=list(_FLAGS))
        try:
            page = window.new_page(
                viewport={"width": 760, "height": 1000}, offline=True, java_script_enabled=False
            )
            page.emulate_media(media="print")
            page.set_content(html)
            printed: bytes = page.pdf(format=paper, print_background=True, prefer_css_page_size=False)
            return printed
        finally:
            window.close()
