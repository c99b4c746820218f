"""Every notebook of the workbook keeps the shape that makes its stored outputs worth comparing.

A cell without a count is not compared, so a stripped notebook would pass; these guards would not
let it. The guards are themselves tried on small bad notebooks first.
"""

import ast
import io
import itertools
import keyword
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import nbformat
import pytest
from nbformat import NotebookNode
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

from tests.makers import ROOT, load_script

BOOK = ROOT / "workbook"
NOTEBOOKS = sorted([*BOOK.glob("*.ipynb"), *BOOK.glob("practice/*.ipynb")])
LARGEST_BYTES = 300_000
LONGEST_CELL = 10
WITHOUT_CHECK = {"00_start", "00_practice", "glossary", "today"}  # pages that calculate nothing
FORBIDDEN_WORDS = {"def", "class", "lambda", "for", "while"}
SKIPPED_COMPARISON = re.compile(r"nbval[-_](ignore|skip|raises)", re.IGNORECASE)
# Slashes are also in units (g/m2), so a path is told by how it begins or ends.
LITERAL_PATH = re.compile(
    r"^(/\w|~|\.{1,2}[/\\]|[A-Za-z]:[/\\])|\\|\.(csv|html|md|json|png|svg|pdf|txt|ipynb|py)$"
    r"|^(records|sample_records|workbook|bench|tests)/"
)


TOOL = load_script("notebooks")


def find_faults(path: Path) -> list[str]:
    """List what is wrong with the shape of a notebook, in the order of its cells."""
    notebook = nbformat.read(path, as_version=4)
    faults = [*_file_faults(path, notebook), *_order_faults(notebook), *_cell_faults(notebook)]
    if path.stem not in WITHOUT_CHECK and not any(
        "check" in cell.metadata.get("tags", []) for cell in notebook.cells
    ):
        faults.append("no cell is tagged check")
    return faults


def _file_faults(path: Path, notebook: NotebookNode) -> Iterator[str]:
    if path.stat().st_size >= LARGEST_BYTES:
        yield f"the file has {path.stat().st_size} bytes; allowed are {LARGEST_BYTES}"
    if "widgets" in notebook.metadata:
        yield "the state of widgets is saved"
    if not TOOL.is_tidy(path):
        yield "not tidy: python .ci/notebooks.py brings it into form"


def _order_faults(notebook: NotebookNode) -> Iterator[str]:
    kinds = [cell.cell_type for cell in notebook.cells]
    if not kinds or kinds[0] != "markdown" or not notebook.cells[0].source.startswith("# "):
        yield "does not begin with a title"
    for number, pair in enumerate(itertools.pairwise(kinds)):
        if pair == ("code", "code"):
            yield f"cell {number + 1}: follows a code cell without a word between"
    counts = [cell.execution_count for cell in notebook.cells if cell.cell_type == "code"]
    if counts != list(range(1, len(counts) + 1)):
        yield f"cells were run as {counts}, not once each in order from a fresh kernel"


def _cell_faults(notebook: NotebookNode) -> Iterator[str]:
    for number, cell in enumerate(notebook.cells):
        tags = cell.metadata.get("tags", [])
        if any(SKIPPED_COMPARISON.search(tag) for tag in tags) or (
            cell.cell_type == "code" and SKIPPED_COMPARISON.search(cell.source)
        ):
            yield f"cell {number}: is left out of the comparison"
        if "check" in tags and not _prints_text(cell):
            yield f"cell {number}: is a check without a stored text output"
        if cell.cell_type == "code":
            yield from (f"cell {number}: {fault}" for fault in _code_faults(cell))


def _prints_text(cell: NotebookNode) -> bool:
    for output in cell.get("outputs", []):
        text = output.get("text") or output.get("data", {}).get("text/plain") or ""
        if text.strip() and not text.startswith("<"):  # <Figure …>: the name of an object says nothing
            return True
    return False


def _code_faults(cell: NotebookNode) -> Iterator[str]:
    if len(cell.source.splitlines()) > LONGEST_CELL:
        yield f"has more than {LONGEST_CELL} lines"
    if any(output.output_type == "error" for output in cell.outputs):
        yield "ended in an error"
    if any(output.get("name") == "stderr" for output in cell.outputs):
        yield "stores a warning"
    try:
        tree = ast.parse(cell.source)
    except SyntaxError:
        yield "is not plain Python"
        return
    words = {
        token.string
        for token in tokenize.generate_tokens(io.StringIO(cell.source).readline)
        if keyword.iskeyword(token.string)
    }
    for word in sorted(words & FORBIDDEN_WORDS):
        yield f"holds a {word}: such code belongs in bench"
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and LITERAL_PATH.search(node.value):
            yield f"holds the literal path {node.value!r}"


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_notebook_keeps_its_shape(path: Path) -> None:
    assert find_faults(path) == []


def make_good() -> NotebookNode:
    """Build a notebook without a fault, as it is after a run."""
    output = new_output("execute_result", data={"text/plain": "'4.41 mm'"}, execution_count=2)
    return new_notebook(
        cells=[
            new_markdown_cell("# Measure the sheet"),
            new_code_cell("thickness = 4.41", execution_count=1),
            new_markdown_cell("The thickness is read with its unit."),
            new_code_cell(
                'f"{thickness} mm"', execution_count=2, outputs=[output], metadata={"tags": ["check"]}
            ),
        ]
    )


def faults_of(notebook: NotebookNode, folder: Path) -> list[str]:
    path = folder / "made.ipynb"
    path.write_text(TOOL.write(TOOL.tidy(notebook)), encoding="utf-8")
    return find_faults(path)


def test_a_good_notebook_has_no_fault(tmp_path: Path) -> None:
    assert faults_of(make_good(), tmp_path) == []


def test_a_stripped_notebook_is_refused(tmp_path: Path) -> None:
    notebook = make_good()
    for cell in notebook.cells[1::2]:
        cell.execution_count, cell.outputs = None, []
    faults = faults_of(notebook, tmp_path)
    assert "cells were run as [None, None], not once each in order from a fresh kernel" in faults
    assert "cell 3: is a check without a stored text output" in faults


def test_a_check_that_stores_only_a_picture_is_refused(tmp_path: Path) -> None:
    notebook = make_good()
    notebook.cells[3].outputs[0].data = {"image/svg+xml": "<svg/>", "text/plain": "<Figure>"}
    assert faults_of(notebook, tmp_path) == ["cell 3: is a check without a stored text output"]


def test_a_notebook_without_a_check_is_refused(tmp_path: Path) -> None:
    notebook = make_good()
    notebook.cells[3].metadata = {}
    assert faults_of(notebook, tmp_path) == ["no cell is tagged check"]


@pytest.mark.parametrize(
    ("source", "fault"),
    [
        ("\n".join(["x = 1"] * 11), "cell 1: has more than 10 lines"),
        ("def f():\n    return 1", "cell 1: holds a def: such code belongs in bench"),
        ("y = [i for i in (1, 2)]", "cell 1: holds a for: such code belongs in bench"),
        ("while False:\n    pass", "cell 1: holds a while: such code belongs in bench"),
        ('where = "/tmp/a"', "cell 1: holds the literal path '/tmp/a'"),
        ('where = "records/a"', "cell 1: holds the literal path 'records/a'"),
        ('where = "readings.csv"', "cell 1: holds the literal path 'readings.csv'"),
        ("!pip list", "cell 1: is not plain Python"),
        ("# NBVAL_IGNORE_OUTPUT\n1", "cell 1: is left out of the comparison"),
    ],
)
def test_code_that_belongs_elsewhere_is_refused(source: str, fault: str, tmp_path: Path) -> None:
    notebook = make_good()
    notebook.cells[1].source = source
    assert faults_of(notebook, tmp_path) == [fault]


def test_a_unit_with_a_slash_is_no_path(tmp_path: Path) -> None:
    notebook = make_good()
    notebook.cells[1].source = 'unit = "kg/m^2/s"'
    assert faults_of(notebook, tmp_path) == []


@pytest.mark.parametrize(
    ("output", "fault"),
    [
        (new_output("error", ename="ValueError", evalue="x"), "cell 1: ended in an error"),
        (new_output("stream", name="stderr", text="careful"), "cell 1: stores a warning"),
    ],
)
def test_a_stored_failure_is_refused(output: NotebookNode, fault: str, tmp_path: Path) -> None:
    notebook = make_good()
    notebook.cells[1].outputs = [output]
    assert faults_of(notebook, tmp_path) == [fault]


def test_a_tag_that_skips_the_comparison_is_refused(tmp_path: Path) -> None:
    notebook = make_good()
    notebook.cells[3].metadata["tags"] = ["check", "nbval-ignore-output"]
    assert faults_of(notebook, tmp_path) == ["cell 3: is left out of the comparison"]


def test_two_code_cells_in_a_row_are_refused(tmp_path: Path) -> None:
    notebook = make_good()
    del notebook.cells[2]
    assert faults_of(notebook, tmp_path) == ["cell 2: follows a code cell without a word between"]


def test_a_missing_title_is_refused(tmp_path: Path) -> None:
    notebook = make_good()
    notebook.cells[0].source = "Measure the sheet"
    assert faults_of(notebook, tmp_path) == ["does not begin with a title"]


def test_saved_widgets_and_great_size_are_refused(tmp_path: Path) -> None:
    notebook = make_good()
    notebook.metadata["widgets"] = {"state": "x" * LARGEST_BYTES}
    path = tmp_path / "made.ipynb"
    path.write_text(TOOL.write(notebook), encoding="utf-8")
    faults = find_faults(path)
    assert "the state of widgets is saved" in faults
    assert f"the file has {path.stat().st_size} bytes; allowed are {LARGEST_BYTES}" in faults
    assert "not tidy: python .ci/notebooks.py brings it into form" in faults


def test_running_out_of_order_is_untidy(tmp_path: Path) -> None:
    notebook = TOOL.tidy(make_good())
    notebook.cells[3].execution_count = 7
    path = tmp_path / "made.ipynb"
    path.write_text(TOOL.write(notebook), encoding="utf-8")
    assert "cells were run as [1, 7], not once each in order from a fresh kernel" in find_faults(path)


def test_tidying_drops_widget_views_and_what_a_reader_left() -> None:
    notebook = make_good()
    view = {"application/vnd.jupyter.widget-view+json": {"model_id": "1"}, "text/plain": "Panel"}
    notebook.cells[1].outputs = [new_output("display_data", data=view)]
    notebook.cells[1].metadata = {"scrolled": True, "tags": ["panel"]}
    TOOL.tidy(notebook)
    assert notebook.cells[1].outputs[0].data == {"text/plain": "Panel"}
    assert notebook.cells[1].metadata == {"tags": ["panel"]}


def test_every_link_leads_to_a_page_and_a_term_that_is_there():
    """A heading is found by its words with hyphens between, as JupyterLab makes its anchors."""
    headings = {
        path: {
            heading.replace(" ", "-")
            for cell in nbformat.read(path, as_version=4).cells
            if cell.cell_type == "markdown"
            for heading in re.findall(r"^#+ (.*)$", cell.source, flags=re.MULTILINE)
        }
        for path in NOTEBOOKS
    }
    found = [
        (path.stem, (path.parent / page).resolve(), anchor)
        for path in NOTEBOOKS
        for cell in nbformat.read(path, as_version=4).cells
        if cell.cell_type == "markdown"
        for page, anchor in re.findall(r"\]\(((?:\.\./)?[\w/-]+\.ipynb)(?:#([^)]*))?\)", cell.source)
    ]
    lost = [link for link in found if link[1] not in headings or link[2] not in {"", *headings[link[1]]}]
    assert lost == []
    linked = {anchor for _, page, anchor in found if page.name == "glossary.ipynb" and anchor}
    assert len(linked) > 15
