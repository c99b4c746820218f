"""Run the cells of a notebook in this process and gather what each shows, as a reader sees it.

No kernel is started: a cell is run as a notebook runs it, its last expression is shown through IPython's own
formatter, and pictures, pages and panels are turned into words.
"""

from __future__ import annotations

import ast
import io
import re
import traceback
from collections.abc import Iterator, Mapping
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import nbformat
from IPython.core.formatters import DisplayFormatter
from nbformat import NotebookNode

from bench.errors import BenchError, RecordError
from bench.panels.base import Panel

ROOT = Path(__file__).parents[2]
EXAMPLE = "worked example"
"""How the heading of a section, or the tag of a cell, marks what is true of an example alone."""

REFUSED = "__refused__"
"""In the namespace of the cells, whether one of them could not be worked out."""


@dataclass
class Shown:
    """What one cell shows.

    Attributes
    ----------
    number : int
        Of the cell in its notebook, from 0.
    words : str
        Everything that can be read: text, the words of pictures and pages, entries of panels.
    is_example : bool
        Whether it stands in a section that is marked as a worked example.
    is_code : bool
    panel : Panel or None
        If the cell shows one.
    refusal : str
        The sentence of an error of the bench that ended the cell; empty if it ran.
    crash : str
        The last lines of any other error; empty if there was none.
    """

    number: int
    words: str = ""
    is_example: bool = False
    is_code: bool = False
    panel: Panel | None = None
    refusal: str = ""
    crash: str = ""
    names: dict[str, Any] = field(default_factory=dict)


def run_notebook(path: Path) -> list[Shown]:
    """Run every cell of a notebook file from top to bottom; an error does not end the run."""
    return run_cells(nbformat.read(path, as_version=4).cells)


def run_cells(cells: list[NotebookNode]) -> list[Shown]:
    """Run cells in one namespace, from top to bottom."""
    formatter = DisplayFormatter()
    names: dict[str, Any] = {
        "__name__": "__main__",
        "display": lambda *values: print(*(_say(value, formatter) for value in values)),
    }
    shown, in_example = [], False
    for number, cell in enumerate(cells):
        if cell.cell_type == "markdown":
            headings = re.findall(r"^#+ (.*)$", cell.source, flags=re.MULTILINE)
            in_example = any(EXAMPLE in h.lower() for h in headings) if headings else in_example
            shown.append(Shown(number, _plain(cell.source), in_example))
        elif cell.cell_type == "code":
            one = Shown(number, is_example=in_example or "example" in cell.metadata.get("tags", []))
            shown.append(_run(one, cell.source, names, formatter))
    return shown


def _run(one: Shown, source: str, names: dict[str, Any], formatter: DisplayFormatter) -> Shown:
    one.is_code = True
    before = dict(names)
    printed = io.StringIO()
    value = None
    try:
        with redirect_stdout(printed), redirect_stderr(printed):
            value = _execute(source, names)
            said = "" if value is None else _say(value, formatter)
    except (BenchError, RecordError) as error:  # in a notebook the bench answers it with its sentence
        one.refusal, said, names[REFUSED] = str(error), f"■ {error}", True
    except NameError as error:  # in a notebook a name that a refused cell was to give is waited for
        said, one.crash = f"▲ waits for {error.name}", traceback.format_exc(limit=-3)
        if names.get(REFUSED):
            one.crash, one.refusal = "", said
    except Exception:
        one.crash, said = traceback.format_exc(limit=-3), ""
    one.words = f"{printed.getvalue()}\n{said}"
    one.panel = value if isinstance(value, Panel) else None
    one.names = {name: v for name, v in names.items() if before.get(name) is not v}
    return one


def _execute(source: str, names: dict[str, Any]) -> Any:
    """Run statements, and give the value of the last one if it is an expression and shown."""
    tree = ast.parse(source)
    last = tree.body[-1] if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    if last is not None:
        tree.body.pop()
    exec(compile(tree, "<cell>", "exec"), names)
    if last is None:
        return None
    value = eval(compile(ast.Expression(last.value), "<cell>", "eval"), names)
    return None if source.rstrip().endswith(";") else value


def _say(value: Any, formatter: DisplayFormatter) -> str:
    data: Mapping[str, Any] = formatter.format(value)[0]
    parts = [str(text) for kind, text in data.items() if kind.startswith(("text/", "image/svg"))]
    if isinstance(value, Panel):
        parts += _say_widgets(value.widget)
    return _plain("\n".join(parts))


def _say_widgets(widget: widgets.Widget) -> Iterator[str]:
    """Give the words of a control and of all within it that are in sight."""
    if getattr(getattr(widget, "layout", None), "display", None) == "none":
        return
    yield str(getattr(widget, "description", "") or "")
    control = getattr(widget, "label", None) if hasattr(widget, "options") else getattr(widget, "value", "")
    yield str("" if control is None else control)
    for child in getattr(widget, "children", ()):
        yield from _say_widgets(child)


def _plain(text: str) -> str:
    """Take markup away, and leave what is read."""
    text = re.sub(r"<style.*?</style>|<metadata.*?</metadata>", " ", text, flags=re.DOTALL)
    text = re.sub(r"</?(em|b|i|strong|sub|sup|a)\b[^>]*>", "", text)
    aria = " ".join(re.findall(r'aria-label="([^"]*)"', text))
    text = unescape(re.sub(r"<[^>]+>", " ", text) + " " + aria)
    return re.sub(r"[ \t\u00a0]+", " ", text)
