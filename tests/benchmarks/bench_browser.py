"""Time what a person waits for in the browser: a page to open, a moved control, a dragged one.

    python -m tests.benchmarks.bench_browser                     this copy of the project
    python -m tests.benchmarks.bench_browser --beside FOLDER     and an older copy, in the same run

The older copy is a checkout of an earlier commit; it runs with the libraries of this one.  Pages of the
two are opened in turn, so that a machine that slows down slows both.  A benchmark and not a test: it
asserts nothing and pytest does not collect it.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser, sync_playwright

from tests.browser.conftest import (
    FLAGS,
    OPENED,
    ROOT,
    Book,
    Lab,
    find_chromium,
    open_window,
    start_lab,
)

REST_MS = 15_000  # until the cells beneath the panel have run, and the next kernel is ready
QUIET_MS = 500  # so long nothing may change before a move counts as shown


@dataclass(frozen=True)
class Move:
    """A control and the keys that are pressed on it in turn; without keys it is clicked."""

    notebook: str
    panel: str
    control: str
    keys: tuple[str, ...] = ()
    presses: int = 10


MOVES = {
    "humidity: hours": Move("03_humidity", "humidity", "hours", ("ArrowRight",)),
    "buffering: spacing": Move("04_buffering", "buffering", "interval", ("ArrowRight", "ArrowLeft")),
    "pressing: changes of sheets": Move("05_pressing", "pressing", "changes", ("ArrowRight",), presses=8),
    "review: a new mark": Move("06_review", "review", "input[type=checkbox]"),
}

# A page of an older copy waits to be told; one of today runs itself and says so.
RUN_BY_HAND = """() => {
    const page = window.jupyterapp.shell.currentWidget.node;
    if (!page.dataset.benchPage) return window.jupyterapp.commands.execute('notebook:run-all-cells');
}"""

# A slider, and in an older copy its handle and what that slides on.
RAIL, TRACK = ":is(input[type=range], .noUi-handle)", ":is(input[type=range], .noUi-base)"

# Resolves with the ms from the key to the frame with the new words, and to that with the last new picture.
PRESS = """([root, control, key, quiet]) => new Promise(done => {
    const panel = document.querySelector(root);
    const said = () => panel.querySelector('.say')?.closest('.widget-html').innerText;
    const pictures = '.picture, .bench-chart, svg';
    const old = said(), begun = performance.now();
    let words = null, drawn = null, last = begun;
    const shown = what => requestAnimationFrame(() => what(performance.now() - begun));
    const after = what => requestAnimationFrame(() => shown(what));
    const watch = new MutationObserver(changes => {
        last = performance.now();
        if (words === null && said() !== old) { words = -1; after(ms => { words = ms }) }
        const isPicture = n => n.nodeType === 1 && (n.matches(pictures) || n.querySelector('svg'));
        if (changes.some(c => c.target.closest?.(pictures) || [...c.addedNodes].some(isPicture)))
            after(ms => { drawn = ms });
    });
    watch.observe(panel, { childList: true, subtree: true, characterData: true, attributes: true });
    const element = panel.querySelector(control);
    element.focus({ preventScroll: true });
    if (element.type === 'range') {
        key === 'ArrowLeft' ? element.stepDown() : element.stepUp();
        element.dispatchEvent(new InputEvent('input', { bubbles: true }));
    } else if (key) {
        element.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
    } else element.click();
    const look = () => {
        const still = performance.now() - last;
        if ((words !== null && still > quiet) || performance.now() - begun > 8000) {
            watch.disconnect();
            done([words, drawn]);
        } else setTimeout(look, 20);
    };
    look();
})"""

# Counts the answers that are shown until it is asked.
COUNT = """root => {
    const panel = document.querySelector(root);
    const said = () => panel.querySelector('.say')?.closest('.widget-html').innerText;
    window.benchSaid = [said()];
    const watch = new MutationObserver(() => {
        if (said() && said() !== window.benchSaid.at(-1)) window.benchSaid.push(said());
    });
    watch.observe(panel, { childList: true, subtree: true, characterData: true });
}"""


@dataclass
class Found:
    """What was measured of one move."""

    words: list[float] = field(default_factory=list)
    pictures: list[float] = field(default_factory=list)
    bytes: list[int] = field(default_factory=list)
    states: float = float("nan")


class Version:
    """A copy of the project with its server, and what was measured of it."""

    def __init__(self, name: str, lab: Lab, chromium: Browser) -> None:
        self.name, self._lab, self._chromium = name, lab, chromium
        self._blank = lab.call("GET", "/lab/api/workspaces/default")
        self.moves = {name: Found() for name in MOVES}
        self.opened: dict[str, list[float]] = {}

    def open(self, notebook: str, names: list[str]) -> None:
        """Open a notebook and measure it, and the moves on it."""
        with (
            tempfile.TemporaryDirectory() as folder,
            open_window(self._chromium, self._lab, self._blank, Path(folder)) as book,
        ):
            received: list[int] = []
            book.page.on("websocket", lambda s: s.on("framereceived", lambda f: received.append(len(f))))
            self.opened[notebook] = time_opening(book, notebook)
            book.page.wait_for_timeout(REST_MS)
            for name in names:
                measure(book, MOVES[name], self.moves[name], received)


def time_opening(book: Book, notebook: str) -> list[float]:
    """Give the seconds until the first panel says something, and until its first picture is drawn."""
    begun = time.perf_counter()
    book.start_opening(notebook)
    book.page.wait_for_function(OPENED, arg=f"{notebook}.ipynb")
    book.page.evaluate(RUN_BY_HAND)
    panel = book.page.locator(".jp-NotebookPanel:not(.lm-mod-hidden)")
    panel.locator(".bench .say").first.wait_for(state="visible")
    shown = [time.perf_counter() - begun]
    drawn = panel.locator(".bench .bench-chart[data-drawn], .bench .picture svg").first
    while not drawn.is_visible():  # what runs beneath may push it out of sight again
        panel.locator(".bench .bench-chart, .bench .picture").first.scroll_into_view_if_needed()
        book.page.wait_for_timeout(50)
    return [*shown, time.perf_counter() - begun]


def measure(book: Book, move: Move, found: Found, received: list[int]) -> None:
    """Press the keys one after another, then drag."""
    page, root = book.page, f".bench-{move.panel}"
    handle = f".field-{move.control} {RAIL}" if move.keys else move.control
    page.locator(f"{root} {handle}").first.scroll_into_view_if_needed()
    page.wait_for_timeout(1500)
    for number in range(move.presses):
        received.clear()
        key = move.keys[number % len(move.keys)] if move.keys else ""
        words, drawn = page.evaluate(PRESS, [root, handle, key, QUIET_MS])
        if words is not None and words > 0:
            found.words.append(words)
            found.pictures.append(max(words, drawn or 0.0))
            found.bytes.append(sum(received))
    if move.keys:
        found.states = drag(book, root, handle)


def drag(book: Book, root: str, handle: str, seconds: float = 3.0) -> float:
    """Drag the handle to and fro by mouse; gives the answers shown in a second."""
    page = book.page
    box = page.locator(f"{root} {handle}").first.bounding_box()
    track = page.locator(f"{root} {handle.split()[0]} {TRACK}").first.bounding_box()
    assert box is not None
    assert track is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.evaluate(COUNT, root)
    page.mouse.move(x, y)
    page.mouse.down()
    begun, step = time.perf_counter(), 0
    while (now := time.perf_counter() - begun) < seconds:
        share = 0.5 - 0.5 * np.cos(2 * np.pi * now / (2 * seconds))  # once across
        page.mouse.move(track["x"] + share * track["width"], y)
        step += 1
    said = page.evaluate("() => window.benchSaid.length - 1")
    page.mouse.up()
    page.wait_for_timeout(1500)
    return float(said) / seconds


def say(versions: list[Version]) -> None:
    """Print the tables."""
    print("\n| page | copy | panel, s | first picture after it, s |\n|---|---|---|---|")
    for notebook in versions[0].opened:
        for version in versions:
            panel, picture = version.opened[notebook]
            print(f"| {notebook} | {version.name} | {panel:.1f} | {picture - panel:.1f} |")
    print("\n| move | copy | words, ms | 9 of 10 | pictures, ms | 9 of 10 | kB | states a second | times |")
    print("|---|---|---|---|---|---|---|---|---|")
    for name in MOVES:
        slowest = np.median(versions[-1].moves[name].pictures or [np.nan])
        for version in versions:
            found = version.moves[name]
            words, pictures = (np.array(part or [np.nan]) for part in (found.words, found.pictures))
            cells = [f"{np.percentile(part, share):.0f}" for part in (words, pictures) for share in (50, 90)]
            cells += [f"{np.median(found.bytes or [np.nan]) / 1e3:.0f}"]
            cells += [f"{found.states:.1f}", f"{slowest / np.median(pictures):.1f}"]
            print(f"| {name} | {version.name} | " + " | ".join(cells) + " |")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--beside", type=Path, help="checkout of an older commit")
    parser.add_argument("--only", default="", help="words that the names of the moves begin with")
    wants = parser.parse_args()
    roots = {"this": ROOT} | ({"older": wants.beside.resolve()} if wants.beside else {})
    names = [name for name in MOVES if name.startswith(wants.only)]
    with ExitStack() as stack:
        playwright = stack.enter_context(sync_playwright())
        chromium = playwright.chromium.launch(executable_path=find_chromium(), args=FLAGS)
        versions = []
        for name, root in roots.items():
            folder = stack.enter_context(tempfile.TemporaryDirectory())
            lab = stack.enter_context(start_lab(Path(folder), root))
            versions.append(Version(name, lab, chromium))
        for notebook in dict.fromkeys(MOVES[name].notebook for name in names):
            for version in versions:
                version.open(notebook, [name for name in names if MOVES[name].notebook == notebook])
        chromium.close()
        say(versions)


if __name__ == "__main__":
    main()
