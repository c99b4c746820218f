"""What a docstring lists, it also describes: parameters and attributes in words, errors with their reason."""

import ast
import re
from pathlib import Path

import pytest

import bench

PACKAGE = Path(bench.__file__).parent
FILES = [
    *sorted((PACKAGE / "physics").rglob("*.py")),
    *sorted((PACKAGE / "units").rglob("*.py")),
    PACKAGE / "uncertainty.py",
    PACKAGE / "stack.py",
]
SECTION = re.compile(r"^(Parameters|Attributes|Raises)\n-+\n(.*?)(?=\n\n\S|\Z)", re.MULTILINE | re.DOTALL)


def bare(docstring):
    """Give the entries of a docstring under which nothing is said."""
    for _, section in SECTION.findall(docstring):
        lines = [line for line in section.split("\n") if line.strip()]
        for line, following in zip(lines, [*lines[1:], ""], strict=True):
            if not line.startswith(" ") and not following.startswith(" "):
                yield line


def test_an_entry_without_words_is_found():
    listed = "Parameters\n----------\na : int\nb : int\n    Said.\n\nRaises\n------\nBadValue"
    assert list(bare(f"Do it.\n\n{listed}")) == ["a : int", "BadValue"]


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_what_is_listed_is_described(path):
    documented = (ast.FunctionDef, ast.ClassDef)
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, documented):
            assert not list(bare(ast.get_docstring(node) or "")), node.name
