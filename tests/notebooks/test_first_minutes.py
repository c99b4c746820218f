"""The start page runs on an empty folder of records, as a new user has it."""

import pytest

from tests.makers import ROOT, load_script


@pytest.mark.slow
def test_the_start_page_runs_on_an_empty_folder(tmp_path, monkeypatch):
    monkeypatch.setenv("BENCH_RECORDS", str(tmp_path))
    monkeypatch.delenv("BENCH_TREATMENT", raising=False)
    notebook = load_script("notebooks").run(ROOT / "workbook" / "00_start.ipynb")
    said = [
        output["data"]["text/plain"]
        for cell in notebook.cells
        for output in cell.get("outputs", [])
        if "data" in output
    ]
    assert said.count("There is no treatment yet. Start one below; intake comes next.") == 2
    assert list(tmp_path.iterdir()) == []  # reading writes nothing
