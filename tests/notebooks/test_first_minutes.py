"""The start page runs on an empty folder of records, as a new user has it."""

from pathlib import Path

import nbformat
from nbclient import NotebookClient

ROOT = Path(__file__).parents[2]


def test_the_start_page_runs_on_an_empty_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("BENCH_RECORDS", str(tmp_path))
    monkeypatch.delenv("BENCH_TREATMENT", raising=False)
    notebook = nbformat.read(ROOT / "workbook" / "00_start.ipynb", as_version=4)
    place = {"metadata": {"path": str(ROOT / "workbook")}}
    quiet = ["--IPKernelApp.log_level=40"]
    NotebookClient(
        notebook, timeout=600, kernel_name="python3", resources=place, extra_arguments=quiet
    ).execute()
    said = [
        output["data"]["text/plain"]
        for cell in notebook.cells
        for output in cell.get("outputs", [])
        if "data" in output
    ]
    assert said.count("There is no treatment yet. Start one below; intake comes next.") == 2
    assert list(tmp_path.iterdir()) == []  # reading writes nothing
