"""Run notebooks from a fresh kernel, in place, and save them in one form only.

    python .ci/notebooks.py workbook/*.ipynb           run, tidy, save
    python .ci/notebooks.py --check workbook/*.ipynb   run nothing; exit 1 if one is not tidy

Two runs of the same notebook give the same bytes, so a change of an output shows up in
``git diff``, and the tests can compare every stored output with a fresh one.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path

import nbformat
from nbformat import NotebookNode

METADATA = {
    "kernelspec": {"display_name": "Python 3 (ipykernel)", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}
# What JupyterLab leaves in a cell that a reader has looked at.
_PASSING = ("execution", "collapsed", "scrolled", "trusted", "editable", "slideshow", "jupyter")
_WIDGET_VIEW = "application/vnd.jupyter.widget-view+json"
_CELL_TIMEOUT_S = 600


def run(path: Path) -> NotebookNode:
    """Run a notebook from a fresh kernel, in its own folder.

    Raises
    ------
    nbclient.exceptions.CellExecutionError
        A cell failed.
    """
    from nbclient import NotebookClient

    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook,
        timeout=_CELL_TIMEOUT_S,
        kernel_name="python3",
        resources={"metadata": {"path": str(path.parent)}},
        store_widget_state=False,
        record_timing=False,
        coalesce_streams=True,
        extra_arguments=["--IPKernelApp.log_level=40"],
    )
    client.execute()
    return notebook


def tidy(notebook: NotebookNode) -> NotebookNode:
    """Bring a notebook, in place, into the one form in which it is kept.

    Cells are counted in order, metadata that a run or a reader leaves behind is dropped, and so
    are the views of widgets, which show nothing without their kernel.
    """
    notebook.metadata = nbformat.from_dict(METADATA)
    count = 0
    for cell in notebook.cells:
        for key in _PASSING:
            cell.metadata.pop(key, None)
        if cell.cell_type != "code":
            continue
        if cell.execution_count is None:  # not run: counting it would pass it off as run
            continue
        count += 1
        cell.execution_count = count
        for output in cell.outputs:
            _tidy_output(output, count)
    return notebook


def _tidy_output(output: NotebookNode, count: int) -> None:
    if "execution_count" in output:
        output.execution_count = count
    if "data" in output:
        output.data.pop(_WIDGET_VIEW, None)
        output.metadata = nbformat.from_dict({})


def write(notebook: NotebookNode) -> str:
    """Give the text of a notebook file."""
    return str(nbformat.writes(notebook)).rstrip("\n") + "\n"


def is_tidy(path: Path) -> bool:
    """Tell whether a file is byte for byte what tidying it would give."""
    text = path.read_text(encoding="utf-8")
    return write(tidy(nbformat.reads(text, as_version=4))) == text


def main() -> int:
    """Run or check the notebooks named on the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("notebooks", nargs="+", type=Path)
    parser.add_argument("--check", action="store_true", help="run nothing; exit 1 if one is not tidy")
    options = parser.parse_args()
    if options.check:
        untidy = [path for path in options.notebooks if not is_tidy(path)]
        for path in untidy:
            print(f"{path} is not in its tidy form: python .ci/notebooks.py {path}", file=sys.stderr)
        return 1 if untidy else 0
    return _run_all(options.notebooks)


def _run_all(paths: list[Path]) -> int:
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

    failed = 0
    with tempfile.TemporaryDirectory() as home:
        _stand_alone(home)
        for path in paths:
            try:
                text = write(tidy(run(path)))
            except (CellExecutionError, CellTimeoutError, DeadKernelError) as error:
                failed += 1
                print(f"{path} failed and is left as it was:\n{error}", file=sys.stderr)
                continue
            changed = text != path.read_text(encoding="utf-8")
            if changed:
                path.write_text(text, encoding="utf-8", newline="\n")
            print(f"{path}: {'saved' if changed else 'unchanged'}", flush=True)
    return 1 if failed else 0


def _stand_alone(home: str) -> None:
    """Keep a user's records and settings out of what is saved."""
    for name in [name for name in os.environ if name.startswith(("BENCH_", "JUPYTER", "IPYTHON"))]:
        del os.environ[name]
    os.environ["IPYTHONDIR"] = home


if __name__ == "__main__":
    sys.exit(main())
