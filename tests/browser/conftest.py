"""The workbook as a user has it: ``python -m bench open``, with headless Chromium in front of it.

``lab`` is the running server, one for all browser tests; ``book`` is a fresh window on it.
Screenshots go to the folder named by ``SHOTS``, or to a temporary one.
"""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Locator, Page, Request, expect, sync_playwright
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from tests.makers import ANNUAL, AS_ROOT

ROOT = Path(__file__).parents[2]
SHOTS = os.environ.get("SHOTS")
FLAGS = [
    "--no-sandbox",  # root, in CI
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PATIENCE_S = 600  # only ends what hangs
expect.set_options(timeout=PATIENCE_S * 1000)
FOUND_CELLS = """() => window.jupyterapp.shell.currentWidget.content.widgets.map(cell => ({
    kind: cell.model.type,
    tags: cell.model.getMetadata('tags') || [],
    count: cell.model.sharedModel.execution_count ?? null,
    outputs: cell.model.type === 'code' ? cell.model.outputs.toJSON() : [],
}))"""
OPENED = """name => {
    const widget = window.jupyterapp && window.jupyterapp.shell.currentWidget;
    if (!widget || !widget.context || widget.context.path !== name || !widget.context.isReady) return false;
    const session = widget.sessionContext && widget.sessionContext.session;
    return Boolean(session && session.kernel && session.kernel.status === 'idle');
}"""

# The page has been laid out for this window, and no panel is wider than its place.
FIT = """() => {
    const page = document.querySelector('.jp-NotebookPanel:not(.lm-mod-hidden)');
    const { right } = page.getBoundingClientRect();
    if (right > window.innerWidth || right < window.innerWidth - 100) return false;
    return [...document.querySelectorAll('.bench')].every(e => e.scrollWidth <= e.clientWidth + 1);
}"""
LAYOUT_S = 20
CONTROLS = {
    *("button", "checkbox", "combobox", "link", "listbox", "radio", "searchbox", "slider", "spinbutton"),
    *("switch", "textbox", "img", "image"),
}
IN_PANEL = "function() { return this.closest('.bench') ? this.outerHTML.slice(0, 300) : '' }"

# A page of the workbook runs itself when it is opened; others are "plain".
SETTLED = """() => {
    const page = window.jupyterapp.shell.currentWidget.node.dataset.benchPage;
    return page && page !== 'running' ? page : false;
}"""


def find_chromium() -> str | None:
    """Give the path of a Chromium of this machine: ``CHROMIUM`` of the environment first."""
    names = (os.environ.get("CHROMIUM"), "chromium", "chromium-browser", "google-chrome")
    return next((found for name in names if name and (found := shutil.which(name))), None)


@dataclass(frozen=True)
class Lab:
    """A running workbook."""

    base: str
    token: str
    records: Path
    workbook: Path

    @property
    def treatment(self) -> Path:
        """Folder of the sample that it was opened on."""
        return self.records / ANNUAL

    def rows(self, table: str) -> list[dict[str, str]]:
        """Read a table of that treatment as it is written."""
        with (self.treatment / f"{table}.csv").open(encoding="utf-8") as file:
            return list(csv.DictReader(file))

    def call(self, method: str, path: str, body: Any = None) -> Any:
        """Call the server's own interface."""
        request = urllib.request.Request(
            f"{self.base}{path}",
            data=None if body is None else json.dumps(body).encode(),
            headers={"Authorization": f"token {self.token}"},
            method=method,
        )
        with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
            text = answer.read()
        return json.loads(text) if text else None


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """Open the workbook on the sample, one for all tests."""
    with start_lab(tmp_path_factory.mktemp("lab")) as started:
        yield started


@contextmanager
def start_lab(folder: Path, root: Path = ROOT) -> Iterator[Lab]:
    """Open the workbook on the sample as the README says, but on a copy of the notebooks in a folder.

    The copy of the project at ``root`` is the one that runs.
    """
    records, workbook = folder / "records", folder / "workbook"
    shutil.copytree(root / "workbook", workbook, ignore=shutil.ignore_patterns(".*"))
    words = [
        "open",
        "--sample",
        ANNUAL,
        "--records",
        records,
        "--workbook",
        workbook,
        "--no-browser",
        *(AS_ROOT if root == ROOT else ()),  # an older copy does not know it
    ]
    with subprocess.Popen(
        [sys.executable, "-m", "bench", *words],
        cwd=root,
        env={**os.environ, "PYTHONPATH": str(root)},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as process:
        try:
            base, token = _read_address(process)
            yield Lab(base, token, records, workbook)
        finally:
            process.send_signal(signal.SIGINT)
            try:
                process.wait(timeout=40)
            except subprocess.TimeoutExpired:
                process.kill()


def _read_address(process: subprocess.Popen[str]) -> tuple[str, str]:
    """Read what the launcher prints until it names the address; say all of it if it never does."""
    assert process.stdout is not None
    watchdog = threading.Timer(PATIENCE_S, process.kill)
    watchdog.start()
    said = ""
    try:
        for line in process.stdout:
            said += line
            if match := re.search(r"(http://127\.0\.0\.1:\d+)/\S*\?token=(\w+)", line):
                return match[1], match[2]
    finally:
        watchdog.cancel()
    raise RuntimeError(f"the workbook did not open; it said:\n{said}")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Start the browser; without one the tests are skipped, but never in CI."""
    path = find_chromium()
    if path is None:
        reason = "no Chromium on this machine: install it (Debian: apt-get install chromium) or set CHROMIUM"
        pytest.fail(reason) if os.environ.get("CI") else pytest.skip(reason)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield browser
        browser.close()


class Book:
    """A window on the workbook, at one notebook at a time.

    Attributes
    ----------
    page : playwright.sync_api.Page
        For whatever has no method here.
    external : list of str
        Requests to any address but the server's own.
    errors : list of str
        Errors of the page's scripts.
    """

    def __init__(self, page: Page, lab: Lab, shots: Path, blank: Any) -> None:
        self.page = page
        self.lab = lab
        self.external: list[str] = []
        self.errors: list[str] = []
        self._shots = shots
        self._blank = blank
        page.on("request", self._note_request)
        page.on("pageerror", lambda error: self.errors.append(str(error)))

    def _note_request(self, request: Request) -> None:
        own = (self.lab.base, self.lab.base.replace("http", "ws", 1), "data:", "blob:")
        if not request.url.startswith(own):
            self.external.append(request.url)

    def open(self, name: str) -> Book:
        """Open a notebook of the workbook, e.g. ``"03_humidity"``, alone, and wait until it has run."""
        self.start_opening(name)
        self.page.wait_for_function(OPENED, arg=f"{name}.ipynb")
        self.wait_until_settled()
        return self

    def start_opening(self, name: str) -> None:
        """Open a notebook alone, and wait for nothing."""
        self.page.goto("about:blank")  # the page before would save its layout once more
        self._close_kernels()
        self.lab.call("PUT", "/lab/api/workspaces/default", self._blank)
        self.page.goto(f"{self.lab.base}/lab/tree/{name}.ipynb?token={self.lab.token}")

    def wait_until_settled(self) -> str:
        """Wait until the page runs nothing by itself, and give its state: ``live``, ``dead``, ``plain`` …"""
        return str(self.page.wait_for_function(SETTLED).json_value())

    def run_all(self) -> Book:
        """See that every cell has run, by itself or by us; fail, with the messages, if one failed."""
        if self.wait_until_settled() != "live":
            self.page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
        cells = self.cells()
        failed = [
            f"cell {number}: {output['ename']}: {output['evalue']}"
            for number, cell in enumerate(cells)
            for output in cell["outputs"]
            if output["output_type"] == "error"
        ]
        assert failed == []
        left_out = [n for n, cell in enumerate(cells) if cell["kind"] == "code" and cell["count"] is None]
        assert left_out == [], "these cells were not run"
        return self

    def cells(self) -> list[dict[str, Any]]:
        """Give kind, tags, count and outputs of every cell, as the page holds them now."""
        found: list[dict[str, Any]] = self.page.evaluate(FOUND_CELLS)
        return found

    def text_of(self, number: int) -> str:
        """Give the printed text of a cell."""
        outputs = self.cells()[number]["outputs"]
        parts = [output.get("text") or output.get("data", {}).get("text/plain", "") for output in outputs]
        return "".join("".join(part) for part in parts)

    def cell(self, number: int) -> Locator:
        """Point at a cell on the page."""
        return self.page.locator(".jp-NotebookPanel:not(.lm-mod-hidden) .jp-Notebook .jp-Cell").nth(number)

    def wait_for_change(self, css: str, old: str) -> str:
        """Wait until an element's text is another, and give it."""
        self.page.wait_for_function(
            "([css, old]) => { const e = document.querySelector(css); return e && e.innerText !== old }",
            arg=[css, old],
        )
        return self.page.locator(css).first.inner_text()

    def press(self, handle: str, key: str, watched: str) -> None:
        """Press a key on a control and wait until the watched text changes."""
        control = self.page.locator(handle).first
        control.scroll_into_view_if_needed()
        old = self.page.locator(watched).first.inner_text()
        control.press(key)
        self.wait_for_change(watched, old)

    def screenshot(self, name: str, width: int, css: str | None = None) -> Path:
        """Take a picture at a width of the window: of the whole notebook, or of one element."""
        self.page.set_viewport_size({"width": width, "height": 1000})
        self.page.wait_for_timeout(400)  # the layout follows the window with a delay
        path = self._shots / f"{name}-{width}.png"
        if css is not None:
            self.page.locator(css).first.screenshot(path=path)
            return path
        panel = self.page.locator(".jp-NotebookPanel:not(.lm-mod-hidden) .jp-WindowedPanel-outer")
        hidden = panel.evaluate("panel => panel.scrollHeight - panel.clientHeight")
        self.page.set_viewport_size({"width": width, "height": min(1000 + int(hidden), 16_000)})
        panel.evaluate("panel => { panel.scrollTop = 0 }")
        self.page.wait_for_timeout(400)
        self.page.screenshot(path=path)
        return path

    def check_sound(self, name: str) -> None:
        """See that no panel is cut off at either width, that nothing was asked of others, and no error."""
        for width in (1400, 800):
            self.page.set_viewport_size({"width": width, "height": 1000})
            try:  # the layout follows the window with a delay, the longer the busier the machine is
                self.page.wait_for_function(FIT, timeout=LAYOUT_S * 1000)
            except PlaywrightTimeout:
                pytest.fail(f"{name}: a panel is cut off at {width} px")
        self.page.set_viewport_size({"width": 1400, "height": 1000})
        assert self.unnamed() == [], f"{name}: controls without a name for a screen reader"
        assert self.external == []
        assert self.errors == []

    def unnamed(self) -> list[str]:
        """Give the controls of the panels, folded ones too, that have no name as the browser computes it."""
        shown = self.page.add_style_tag(content=".bench .widget-box { display: flex !important }")
        self.page.evaluate("() => document.querySelectorAll('.bench details').forEach(e => (e.open = true))")
        tools = self.page.context.new_cdp_session(self.page)
        nodes = tools.send("Accessibility.getFullAXTree")["nodes"]
        controls = [node for node in nodes if node.get("role", {}).get("value") in CONTROLS]
        assert controls
        found = []
        for node in controls:
            if not node.get("name", {}).get("value", "").strip():
                handle = tools.send("DOM.resolveNode", {"backendNodeId": node["backendDOMNodeId"]})
                asked = {"objectId": handle["object"]["objectId"], "functionDeclaration": IN_PANEL}
                said = tools.send("Runtime.callFunctionOn", asked)["result"]["value"]
                found += [said] if said else []
        tools.detach()
        shown.evaluate("style => style.remove()")
        return found

    def _close_kernels(self) -> None:
        """End every kernel, so that none replays its widgets into the next notebook."""
        for session in self.lab.call("GET", "/api/sessions"):
            self.lab.call("DELETE", f"/api/sessions/{session['id']}")

    def close(self) -> None:
        """Leave the page and end its kernels."""
        self.page.goto("about:blank")
        self._close_kernels()


@pytest.fixture(scope="session")
def blank(lab: Lab) -> Any:
    """Keep the layout that the launcher gave, to begin every test from it."""
    return lab.call("GET", "/lab/api/workspaces/default")


@pytest.fixture
def book(chromium: Browser, lab: Lab, blank: Any, tmp_path: Path) -> Iterator[Book]:
    """Open a fresh window; the test opens a notebook in it."""
    with open_window(chromium, lab, blank, tmp_path) as window:
        yield window


@pytest.fixture(scope="module")
def shared(
    chromium: Browser, lab: Lab, blank: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Book]:
    """Open one window for tests that follow each other on one notebook; to open it takes the longest."""
    with open_window(chromium, lab, blank, tmp_path_factory.mktemp("shots")) as window:
        yield window


@contextmanager
def open_window(chromium: Browser, lab: Lab, blank: Any, folder: Path) -> Iterator[Book]:
    """Open a fresh window, and close it with its kernels at the end."""
    shots = Path(SHOTS) if SHOTS else folder
    shots.mkdir(parents=True, exist_ok=True)
    context = chromium.new_context(
        viewport={"width": 1400, "height": 1000}, device_scale_factor=1, locale="en-US", timezone_id="UTC"
    )
    page = context.new_page()
    page.set_default_timeout(PATIENCE_S * 1000)
    made = Book(page, lab, shots, blank)
    yield made
    made.close()
    context.close()
