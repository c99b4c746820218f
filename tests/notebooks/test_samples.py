"""The stage notebooks tell their story for every sample, not only for the one they are stored with."""

import shutil
from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

ROOT = Path(__file__).parents[2]
STAGES = ("03_humidity", "04_buffering", "05_pressing", "06_review", "07_writeup")


@pytest.mark.parametrize("sample", ["saltmarsh-signal-31", "nettle-lane-mystery-7"])
@pytest.mark.parametrize("stage", STAGES)
def test_a_notebook_runs_on_every_sample(stage, sample, tmp_path, monkeypatch):
    """No cell fails, and none answers with an error of the bench in place of a result."""
    shutil.copytree(ROOT / "sample_records" / sample, tmp_path / sample)
    monkeypatch.setenv("BENCH_RECORDS", str(tmp_path))
    monkeypatch.setenv("BENCH_TREATMENT", sample)
    notebook = nbformat.read(ROOT / "workbook" / f"{stage}.ipynb", as_version=4)
    quiet = ["--IPKernelApp.log_level=40"]
    place = {"metadata": {"path": str(ROOT / "workbook")}}
    NotebookClient(
        notebook, timeout=600, kernel_name="python3", resources=place, extra_arguments=quiet
    ).execute()
    said = [
        output.text
        for cell in notebook.cells
        for output in cell.get("outputs", [])
        if output.output_type == "stream" and output.text.startswith("■")
    ]
    assert said == []
