"""What a docstring lists it describes: a parameter without a word says less than none."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "bench"
LISTS = ("Parameters", "Attributes", "Raises")


def find_bare(text):
    """Give section and entry of everything that a numpydoc docstring lists without describing it."""
    lines, section = text.splitlines(), ""
    for number, line in enumerate(lines):
        after = lines[number + 1] if number + 1 < len(lines) else ""
        if line and re.fullmatch(r"-{3,}", after.strip()):
            section = line.strip()
        elif section in LISTS and line and not line.startswith((" ", "---")) and not after.startswith("    "):
            yield f"{section}: {line}"


def bare_entries(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and (text := ast.get_docstring(node)):
            yield from (f"{path.relative_to(ROOT)}, {node.name}: {entry}" for entry in find_bare(text))


def test_every_parameter_and_every_error_that_is_listed_is_described():
    assert [entry for path in sorted(ROOT.rglob("*.py")) for entry in bare_entries(path)] == []


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Do it.\n\nParameters\n----------\nx : float\n    How far.\n", []),
        ("Do it.\n\nParameters\n----------\nx : float\ny : float\n    How far.\n", ["Parameters: x : float"]),
        ("Do it.\n\nRaises\n------\nBadValue\n", ["Raises: BadValue"]),
        ("Do it.\n\nReturns\n-------\nfloat\n", []),
    ],
)
def test_the_rule_finds_what_is_bare(text, found):
    assert list(find_bare(text)) == found
