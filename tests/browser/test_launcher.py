"""The launcher and the window on it hold what the other browser tests lean on.

The notebook here is a made one of four cells, so that a fault is the launcher's and not a stage's.
"""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import nbformat
import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from tests.makers import ANNUAL, AS_ROOT

SLIDER = """\
import ipywidgets as w
answer = w.HTML("3 leaves")
slider = w.IntSlider(3, 1, 9)
slider.observe(lambda change: setattr(answer, "value", f"{change.new} leaves"), "value")
answer.add_class("made-answer")
slider.add_class("made-slider")
w.VBox([slider, answer])"""
PICTURE = """\
from IPython.display import SVG
SVG('<svg xmlns="http://www.w3.org/2000/svg" width="90" height="90"><circle r="9" cx="9" cy="9"/></svg>')"""


@pytest.fixture(scope="module")
def made(lab) -> str:
    """Put the made notebook beside the others."""
    notebook = new_notebook(
        metadata={"kernelspec": {"name": "python3", "display_name": "Python 3 (ipykernel)"}},
        cells=[
            new_markdown_cell("# Try the window"),
            new_code_cell(SLIDER),
            new_markdown_cell("The kernel knows the record."),
            new_code_cell("import os\nprint(os.environ['BENCH_RECORDS'], os.environ['BENCH_TREATMENT'])"),
            new_markdown_cell("A picture."),
            new_code_cell(PICTURE),
        ],
    )
    nbformat.write(notebook, lab.workbook / "99_made.ipynb")
    shutil.copy(lab.workbook / "99_made.ipynb", lab.records.parent / "made.ipynb")  # to compare with
    return "99_made"


@pytest.fixture(scope="module")
def opened(shared, made):
    """Open the made notebook once, and let it run."""
    return shared.open(made).run_all()


def test_reading_does_not_rewrite_the_book(opened, lab, made) -> None:
    """JupyterLab would save by itself after two minutes: its setting is looked at instead of the clock."""
    setting = lab.call("GET", "/lab/api/settings/@jupyterlab/docmanager-extension:plugin")
    assert setting["schema"]["properties"]["autosave"]["default"] is False
    assert nbformat.read(lab.workbook / f"{made}.ipynb", as_version=4).cells[1].outputs == []
    assert (lab.workbook / f"{made}.ipynb").read_bytes() == (lab.records.parent / "made.ipynb").read_bytes()


def test_a_control_changes_the_answer(opened) -> None:
    assert opened.page.locator(".made-answer").inner_text() == "3 leaves"
    opened.press(".made-slider .noUi-handle", "ArrowRight", ".made-answer")
    assert opened.page.locator(".made-answer").inner_text() == "4 leaves"
    assert opened.external == []
    assert opened.errors == []


def test_the_kernel_is_told_records_and_treatment(opened, lab) -> None:
    assert opened.text_of(3).split() == [str(lab.records), ANNUAL]
    assert (lab.treatment).is_dir()


def test_the_kernel_that_is_kept_ready_is_nobody_s_yet(opened, lab) -> None:
    assert len(lab.call("GET", "/api/kernels")) == 1


def test_screenshots_have_the_width_asked_for(opened) -> None:
    for width in (800, 1400):
        path = opened.screenshot("made", width)
        header = path.read_bytes()[:24]  # PNG: width in bytes 16 to 19, height in 20 to 23
        assert int.from_bytes(header[16:20], "big") == width
        assert int.from_bytes(header[20:24], "big") >= 1000


def test_a_failed_cell_is_reported(book, lab) -> None:
    notebook = new_notebook(
        metadata={"kernelspec": {"name": "python3", "display_name": "Python 3 (ipykernel)"}},
        cells=[new_code_cell("1 / 0")],
    )
    nbformat.write(notebook, lab.workbook / "98_fails.ipynb")
    with pytest.raises(AssertionError, match="cell 0: ZeroDivisionError"):
        book.open("98_fails").run_all()


def test_nothing_is_served_without_the_token(lab) -> None:
    with pytest.raises(urllib.error.HTTPError) as refusal:
        urllib.request.urlopen(f"{lab.base}/api/contents", timeout=30)
    assert refusal.value.code == 403


def test_a_taken_port_is_refused(lab) -> None:
    port = lab.base.rsplit(":", 1)[1]
    words = [
        sys.executable,
        "-m",
        "bench",
        "open",
        "--records",
        lab.records,
        "--no-browser",
        "--port",
        port,
        *AS_ROOT,
    ]
    result = subprocess.run(words, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2])
    assert result.returncode == 2
    assert f"port is {port}" in result.stderr


def test_a_launcher_that_is_killed_leaves_no_server_behind(tmp_path) -> None:
    """A kill cannot be caught: the server sees the pipe close that the launcher held."""
    words = [sys.executable, "-m", "bench", "open", "--records", tmp_path, "--no-browser", *AS_ROOT]
    launcher = subprocess.Popen(words, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2])
    assert launcher.stdout is not None
    address = next(line.strip() for line in launcher.stdout if line.strip().startswith("http://"))
    port = int(address.split(":")[2].split("/")[0])
    launcher.kill()
    launcher.wait()
    while is_served(port):  # the limit for a test ends it if that never comes
        time.sleep(0.2)


def is_served(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(2)
        return probe.connect_ex(("127.0.0.1", port)) == 0
