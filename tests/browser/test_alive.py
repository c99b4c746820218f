"""A page opens alive; what is not live says so in words, and one touch runs the page again."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

PAGE = ".jp-NotebookPanel:not(.lm-mod-hidden)"
AGAIN = "Run this page again"
SAY = ".bench-buffering .say"
SESSION = "window.jupyterapp.shell.currentWidget.sessionContext"
STORED = """() => [...document.querySelectorAll('.bench-stored .jp-Cell-outputArea')].map(area => [
    getComputedStyle(area, '::before').content,
    Number(getComputedStyle(area.querySelector('.jp-OutputArea-child')).opacity),
])"""
PANEL = """\
import ipywidgets
panel = ipywidgets.HTML("seven leaves")
panel.add_class("bench")
panel"""


def state(book) -> str:
    return book.page.locator(PAGE).get_attribute("data-bench-page")


def wait_for_state(book, wanted: str) -> None:
    book.page.locator(f'{PAGE}[data-bench-page="{wanted}"]').wait_for()


def test_a_page_runs_when_it_is_opened_and_nothing_is_written(book, lab) -> None:
    file = lab.workbook / "04_buffering.ipynb"
    before = file.read_bytes()
    records = sorted((path, path.stat().st_mtime_ns) for path in lab.treatment.rglob("*.csv"))
    book.open("04_buffering")
    assert state(book) == "live"
    assert [n for n, cell in enumerate(book.cells()) if cell["kind"] == "code" and not cell["count"]] == []
    assert book.page.locator(SAY).is_visible()
    assert book.page.locator(".bench-banner").count() == 0
    assert book.page.evaluate(STORED) == []
    assert book.page.evaluate("() => window.jupyterapp.shell.currentWidget.context.model.dirty") is False
    assert file.read_bytes() == before
    assert sorted((path, path.stat().st_mtime_ns) for path in lab.treatment.rglob("*.csv")) == records
    assert book.errors == []


TURN_TO = "path => { window.jupyterapp.commands.execute('docmanager:open', { path }); }"
HIDDEN = ".jp-NotebookPanel.lm-mod-hidden"


def test_a_page_that_was_left_open_runs_when_it_is_looked_at_and_not_before(book, lab) -> None:
    """A window that is opened again has all its pages in it; sixteen at once took a minute to come."""
    book.open("00_start")
    book.page.evaluate(TURN_TO, "04_buffering.ipynb")
    book.page.locator(f'{PAGE}[data-bench-page="live"] {SAY}').wait_for()
    for _ in range(100):  # the server is told of the layout with a delay
        kept = json.dumps(lab.call("GET", "/lab/api/workspaces/default"))
        if "00_start" in kept and "04_buffering" in kept:
            break
        book.page.wait_for_timeout(200)
    book.page.reload()
    book.page.locator(f'{PAGE}[data-bench-page="live"]').wait_for()
    left = book.page.locator(HIDDEN)
    assert (
        left.get_attribute("data-bench-page") == "running"
    )  # it says that it is still to be brought up to date
    assert left.locator(".bench-stored").count() > 0
    for name in ("00_start", "04_buffering"):  # one of them is in sight already
        book.page.evaluate(TURN_TO, f"{name}.ipynb")
        book.page.wait_for_timeout(300)
        book.page.locator(f'{PAGE}[data-bench-page="live"]').wait_for()
    assert book.page.locator(".bench-stored").count() == 0
    assert book.errors == []


def test_until_it_has_run_a_page_says_whose_answers_it_shows(book) -> None:
    held = []

    def hold(route) -> None:
        held.append(route) if route.request.method == "POST" else route.continue_()

    book.page.route("**/api/sessions*", hold)
    book.start_opening("00_start")
    wait_for_state(book, "running")
    marks = book.page.evaluate(STORED)
    assert marks
    for said, opacity in marks:
        assert "stored example of The Tin Orchard Annual, no. 2: not your item" in said
        assert opacity < 0.6
    assert "Starting this page" in book.page.locator(".bench-banner").inner_text()
    assert book.page.locator(".bench-run-hint").is_visible()
    for width in (1400, 800):
        book.page.set_viewport_size({"width": width, "height": 1000})
        book.screenshot("stored", width, ".bench-banner")
        banner = book.page.locator(".bench-banner").bounding_box()
        title = book.page.locator(f"{PAGE} h1").first.bounding_box()
        assert banner["y"] + banner["height"] <= title["y"], "the banner covers the page"
    for route in held:
        route.continue_()
    wait_for_state(book, "live")
    assert book.page.evaluate(STORED) == []
    assert not book.page.locator(".bench-run-hint").is_visible()


def test_a_page_that_does_not_start_offers_a_way_out(book) -> None:
    """The first request for a kernel is never answered: in half a minute one touch starts it anew."""
    held = []

    def hold_the_first(route) -> None:
        is_asked = route.request.method == "POST" and not held
        held.append(route) if is_asked else route.continue_()

    book.page.route("**/api/sessions*", hold_the_first)
    book.start_opening("00_start")
    book.page.get_by_role("button", name="Start the page anew").click()
    wait_for_state(book, "live")
    assert book.errors == []


RESTART = f"() => {SESSION}.restartKernel()"
SHUT_DOWN = f"() => {SESSION}.shutdown()"


@pytest.mark.parametrize("end", [RESTART, SHUT_DOWN], ids=["restarted", "shut down"])
def test_a_panel_without_its_kernel_says_so_and_one_touch_runs_the_page_again(end, book) -> None:
    book.open("00_start")
    book.page.evaluate(end)
    wait_for_state(book, "dead")
    note = book.page.locator(".bench-dead .bench-note")
    assert note.count() == 2  # beside each panel, and once above the page
    assert "no longer answer" in note.first.inner_text()
    assert "no longer answer" in book.page.locator(".bench-banner").first.inner_text()
    assert book.page.locator(".bench-dead .jp-Cell-outputWrapper[inert] .bench-new").count() == 1
    note.last.get_by_role("button", name=AGAIN).click()
    wait_for_state(book, "live")
    assert book.page.locator(".bench-note, .bench-banner, [inert]").count() == 0
    title = book.page.locator(".bench-new .field-title input")
    title.fill("Spring Annual")
    title.press("Tab")
    book.page.locator(".bench-new .bench-answer .hint", has_text="Name of its folder").wait_for()
    assert book.errors == []


def test_run_all_cells_brings_a_dead_page_to_life_too(book) -> None:
    book.open("00_start")
    book.page.evaluate(RESTART)
    wait_for_state(book, "dead")
    book.page.evaluate("() => window.jupyterapp.commands.execute('notebook:run-all-cells')")
    wait_for_state(book, "live")


def test_a_connection_that_breaks_off_is_told_and_comes_back(book) -> None:
    lines = []

    def join(line) -> None:
        lines.append(line)
        if broken_at <= len(lines) - 1 < broken_at + 2:
            line.close()
        else:
            line.connect_to_server()

    broken_at = 1_000
    book.page.route_web_socket("**/channels*", join)
    book.open("00_start")
    broken_at = len(lines)
    lines[-1].close()
    wait_for_state(book, "reconnecting")
    assert "interrupted" in book.page.locator(".bench-banner").inner_text()
    wait_for_state(book, "live")


@pytest.fixture
def broken(lab) -> str:
    """Make a page whose chapter fails; its outputs are stored."""
    answer = [new_output("stream", name="stdout", text="nine leaves\n")]
    cells = [
        new_markdown_cell("# Try a page"),
        new_code_cell("leaves = 7", metadata={"tags": ["setup"]}),
        new_code_cell("raise ValueError('spoilt')"),
        new_code_cell("print(leaves)", execution_count=3, outputs=answer),
        new_code_cell(PANEL, metadata={"tags": ["panel"]}),
    ]
    kernel = {"name": "python3", "display_name": "Python 3 (ipykernel)"}
    nbformat.write(new_notebook(metadata={"kernelspec": kernel}, cells=cells), lab.workbook / "98_made.ipynb")
    return "98_made"


def test_after_a_cell_that_fails_the_panel_still_runs_and_the_rest_stays_marked(book, broken) -> None:
    book.open(broken)
    assert state(book) == "stored"
    assert "has not been run" in book.page.locator(".bench-banner").inner_text()
    assert "seven leaves" in book.page.locator(".bench").inner_text()
    assert book.text_of(3) == "nine leaves\n"
    assert len(book.page.evaluate(STORED)) == 1
    assert "spoilt" in str(book.cells()[2]["outputs"])


def test_a_page_without_a_panel_is_left_alone(book) -> None:
    book.open("appendix_heat_checks")
    assert state(book) == "plain"
    assert book.page.evaluate(STORED) == []


@pytest.fixture
def sample_returns(lab) -> Iterator[None]:
    """Take the sample to hand again after a test that starts a treatment."""
    at_hand = lab.records / ".at-hand"
    before = at_hand.read_bytes()
    yield
    at_hand.write_bytes(before)
    shutil.rmtree(lab.records / "spring-annual-1", ignore_errors=True)


def test_a_new_treatment_is_led_to_intake_even_where_intake_stood_open(book, sample_returns) -> None:
    page = book.page
    book.open("01_intake")
    page.evaluate(
        "() => { window.jupyterapp.commands.execute('docmanager:open', { path: '00_start.ipynb' }) }"
    )
    page.locator(f"{PAGE} .bench-new").wait_for()
    for key, text in (("title", "Spring Annual"), ("name", "spring-annual-1"), ("conservator", "M. Tallow")):
        entry = page.locator(f".bench-new .field-{key} input")
        entry.fill(text)
        entry.press("Tab")
    page.locator(".bench-new .bench-save:not([disabled])").click()
    page.locator(".bench-new a", has_text="Go on to intake").click()
    page.locator(f"{PAGE} .bench-item .who", has_text="Spring Annual").wait_for()
    assert page.locator(".jp-NotebookPanel").count() == 2
    assert "Spring Annual" in page.locator(f"{PAGE} [data-bench-title]").inner_text()
