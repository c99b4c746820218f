"""The stage notebooks tell their story for every sample, not only for the one they are stored with."""

import shutil

import pytest

from tests.makers import ISSUE, SAMPLES
from tests.notebooks.run_cells import ROOT, run_notebook

pytestmark = pytest.mark.slow

STAGES = ("03_humidity", "04_buffering", "05_pressing", "06_review", "07_writeup")


@pytest.mark.parametrize("sample", [ISSUE, "nettle-lane-mystery-7"])
@pytest.mark.parametrize("stage", STAGES)
def test_a_notebook_runs_on_every_sample(stage, sample, tmp_path, monkeypatch):
    """No cell fails, and none answers with an error of the bench in place of a result."""
    shutil.copytree(SAMPLES / sample, tmp_path / sample)
    monkeypatch.setenv("BENCH_RECORDS", str(tmp_path))
    monkeypatch.setenv("BENCH_TREATMENT", sample)
    cells = [cell for cell in run_notebook(ROOT / "workbook" / f"{stage}.ipynb") if cell.is_code]
    assert len(cells) > 3
    assert [cell.crash or cell.refusal for cell in cells if cell.crash or cell.refusal] == []
