"""The settings in ``pyproject.toml`` make every stored output of a notebook count.

A small notebook is run and saved, one stored output is changed, and the project's own pytest
must then fail on it, and only then.
"""

import subprocess
import sys
from pathlib import Path

import nbformat
import pytest
from nbformat import NotebookNode
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><defs><clipPath id="p1"/></defs>'
    '<path d="M 1 5.02 L 8 3" clip-path="url(#p1)"/><text x="1">limit 9 h</text></svg>'
)
CELLS = {
    "text": ("print('4.41 mm')", "4.41 mm", "4.42 mm"),
    "picture": (f"from IPython.display import SVG\nSVG('{SVG}')", "L 8 3", "L 8 3.1"),
    "table": ("from IPython.display import HTML\nHTML('<td>7 leaves</td>')", "7 leaves", "8 leaves"),
    "panel": (
        "import ipywidgets\nipywidgets.VBox([ipywidgets.HTML('chance 93 %')])",
        "chance 93 %",
        "chance 39 %",
    ),
}
# Another processor: a hundredth of a point, and another name for the same clip.
SAME = {"noise": ("5.02", "5.03"), "name": ("p1", "p2")}


def make_notebook() -> NotebookNode:
    cells = [new_markdown_cell("# Compare")]
    cells += [new_code_cell(source) for source, _, _ in CELLS.values()]
    return new_notebook(cells=cells)


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    """Give the verdict on each cell, for a notebook unchanged and for one a kind of changed output."""
    folder = tmp_path_factory.mktemp("workbook")
    first = folder / "unchanged.ipynb"
    nbformat.write(make_notebook(), first)
    subprocess.run([sys.executable, ROOT / ".ci" / "notebooks.py", first], check=True, capture_output=True)
    changes = {name: (old, new) for name, (_, old, new) in CELLS.items()}
    for name, (old, new) in {**changes, **SAME}.items():
        notebook = nbformat.read(first, as_version=4)
        cell = next(cell for cell in notebook.cells if cell.cell_type == "code" and old in cell.source)
        replaced = 0
        for output in cell.outputs:
            for part in [output, output.get("data", {})]:
                for key, value in part.items():
                    if isinstance(value, str):
                        replaced += value.count(old)
                        part[key] = value.replace(old, new)
        assert replaced
        nbformat.write(notebook, folder / f"{name}.ipynb")
    left_over = folder / ".ipynb_checkpoints"
    left_over.mkdir()
    (left_over / "text-checkpoint.ipynb").write_bytes((folder / "text.ipynb").read_bytes())
    words = ["-c", ROOT / "pyproject.toml", "-n0", "-p", "no:cacheprovider", "-rfp", "--tb=no", folder]
    run = subprocess.run(
        [sys.executable, "-m", "pytest", *words], capture_output=True, text=True, check=False, cwd=ROOT
    )
    results: dict[str, list[str]] = {name: [] for name in ["unchanged", *CELLS, *SAME]}
    for line in run.stdout.splitlines():
        verdict, _, where = line.partition(" ")
        if verdict in ("PASSED", "FAILED"):
            notebook_name, cell_name = Path(where).name.split("::")
            results[notebook_name.removesuffix(".ipynb")].append(f"{verdict} {cell_name.split(' - ')[0]}")
    return results


@pytest.mark.parametrize("name", ["unchanged", *SAME])
def test_an_unchanged_notebook_passes(name: str, outcomes: dict[str, list[str]]) -> None:
    assert sorted(outcomes[name]) == [f"PASSED Cell {n}" for n in range(len(CELLS))]


@pytest.mark.parametrize("name", CELLS)
def test_a_changed_output_fails(name: str, outcomes: dict[str, list[str]]) -> None:
    failed = [entry for entry in outcomes[name] if entry.startswith("FAILED")]
    assert failed == [f"FAILED Cell {list(CELLS).index(name)}"]
    assert len(outcomes[name]) == len(CELLS)
