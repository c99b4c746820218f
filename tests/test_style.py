"""Lint, layout and types of the whole tree, so that one command checks them with everything else."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
CHECKS = {
    "types": ["mypy"],
    "lint": ["ruff", "check", "--output-format=concise"],
    "layout": ["ruff", "format", "--check"],
}


@pytest.mark.parametrize("words", CHECKS.values(), ids=CHECKS.keys())
def test_the_tree_passes(words: list[str]) -> None:
    result = subprocess.run(
        [sys.executable, "-m", *words], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if result.returncode != 0:
        pytest.fail(f"{' '.join(words)}\n{result.stdout}{result.stderr}", pytrace=False)
