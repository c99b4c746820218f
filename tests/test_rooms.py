"""The rooms of ``bench`` and the one direction in which they may import each other.

Imports inside functions count too. Each table below is the rule; ``DEVELOPERS.md`` explains it.
The reader of the imports is itself tried on small made sources at the end.
"""

import ast
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
BENCH = ROOT / "bench"

# From the ground up: a room may use every room on a lower step, and of its own step itself alone.
STEPS = [
    {"errors", "progress"},
    {"sources", "units"},
    {"materials"},
    {"uncertainty"},
    {"item"},
    {"stack"},
    {"physics"},
    {"treatment"},
    {"trials"},
    {"practice"},
]
GROUND = set().union(*STEPS)
# Above them, each room names what it may use.
MAY_USE = {
    "records": {"errors", "units"},
    "records.schema": {"errors", "units", "materials"},
    "records.nouns": {"errors", "units", "records", "uncertainty", "item", "stack", "treatment"},
    "records.standing": {"errors", "units", "records", "item", "treatment"},
    "records.merge": {"errors", "units", "records", "treatment"},
    "records.attempts": {"errors", "units", "records", "treatment", "practice"},
    "records.bench_record": {"errors", "units", "records", "physics", "treatment"},
    "records.learned": {"errors", "units", "records", "physics", "treatment"},
    "records.taken_back": {"errors", "units", "records", "treatment"},
    "figures": GROUND,
    # What one stage hands to the next is read from a record, by whoever holds one: not from the desk.
    "handover": GROUND | {"records"},
    # A panel shows the treatment at hand; desk in turn needs the base of panels, hence the cycle test.
    "panels": GROUND | {"records", "handover", "figures", "desk", "classroom", "trouble"},
    "writeup": GROUND | {"records", "figures"},
    "desk": GROUND | {"records", "figures", "panels", "writeup", "lab", "leftovers"},
    "trouble": set(),
    "command_line": {"errors"},
    "mending": {"command_line", "records", "trouble"},
    "leftovers": set(),
    "classroom": GROUND | {"records", "panels", "desk", "leftovers"},
    "practising": GROUND | {"command_line", "lab", "classroom", "records"},
    "lab": {"errors", "leftovers"},
    "kernels": {"warm"},
    "warm": {"panels", "figures", "physics", "stack", "units"},
    "__main__": GROUND
    | {"records", "figures", "panels", "writeup", "lab", "trouble", "command_line", "mending", "practising"},
}
# Heavy or screen-bound packages and the only rooms that may hold them.
PACKAGES = {
    "pandas": {"records"},
    "matplotlib": {"figures"},
    "ipywidgets": {"panels", "desk"},
    "IPython": {"panels", "desk", "warm"},
    "traitlets": {"panels", "desk", "kernels"},
}
PURE = {"uncertainty", "item", "stack", "physics", "treatment", "trials", "practice"}
IMPURE_MODULES = {"os", "pathlib", "random", "time", "io", "shutil", "tempfile", "subprocess", "socket"}
CLOCKS = {"now", "today", "utcnow"}
# scipy's submodules of a second each: never at the top of a module.
SLOW = ("scipy.stats", "scipy.optimize", "scipy.interpolate", "scipy.signal", "scipy.integrate")


def module_name(path: Path) -> str:
    """Name a module within bench: ``records.nouns``, ``units``, ``physics`` for its ``__init__``."""
    parts = path.relative_to(BENCH).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" and len(parts) > 1 else parts)


MODULES = {module_name(path): path for path in sorted(BENCH.rglob("*.py"))}


@cache
def tree_of(name: str) -> ast.Module:
    return ast.parse(MODULES[name].read_text(encoding="utf-8"))


def room(name: str) -> str:
    return name.split(".")[0]


def find_imports(tree: ast.AST, name: str, *, is_package: bool = False) -> Iterator[str]:
    """Yield the full dotted name of everything a module imports, wherever in it."""
    here = ["bench", *name.split(".")]
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module.split(".") if node.module else []
            if node.level:
                base = here[: len(here) - node.level + is_package] + base
            yield from (".".join([*base, alias.name]) for alias in node.names)


@cache
def imports_of(name: str) -> set[str]:
    return set(find_imports(tree_of(name), name, is_package=MODULES[name].stem == "__init__"))


def used_modules(name: str) -> set[str]:
    """Give the modules of bench that a module imports, by their names in ``MODULES``."""
    used = set()
    for target in imports_of(name):
        parts = target.split(".")
        if parts[0] != "bench":
            continue
        candidates = [".".join(parts[1:end]) for end in range(len(parts), 1, -1)]
        used.add(next((candidate for candidate in candidates if candidate in MODULES), "__init__"))
    return used - {name, "__init__"}


def allowed_rooms(name: str) -> set[str]:
    for index, step in enumerate(STEPS):
        if room(name) in step:
            return set().union(*STEPS[:index])
    return MAY_USE[name] if name in MAY_USE else MAY_USE[room(name)]


def test_imports_go_only_towards_the_ground() -> None:
    wrong = [
        f"{name} uses {used}; it may use {', '.join(sorted(allowed_rooms(name)))}"
        for name in MODULES
        if name != "__init__"
        for used in sorted(used_modules(name))
        if room(used) not in allowed_rooms(name) | {room(name)}
    ]
    assert wrong == []


def test_no_module_imports_itself_round_a_circle() -> None:
    graph = {name: {used for used in used_modules(name) if used != room(name)} for name in MODULES}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail(" imports ".join(reversed(error.args[1])), pytrace=False)


@pytest.mark.parametrize("package", PACKAGES)
def test_a_heavy_package_stays_in_its_rooms(package: str) -> None:
    users = {name for name in MODULES for target in imports_of(name) if target.split(".")[0] == package}
    assert sorted(name for name in users if room(name) not in PACKAGES[package]) == []


def find_impurities(tree: ast.AST, name: str) -> Iterator[str]:
    """Yield each use of a file, a clock or a global random generator."""
    for target in find_imports(tree, name):
        if target.split(".")[0] in IMPURE_MODULES:
            yield f"imports {target}"
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        called = ast.unparse(node.func)
        if called.endswith("random.default_rng") and node.args:  # from a seed: no chance
            continue
        if called == "open" or called.split(".")[-1] in CLOCKS or ".random." in f".{called}":
            yield f"line {node.lineno} calls {called}"


def test_calculations_know_no_file_no_clock_and_no_chance() -> None:
    pure = [name for name in MODULES if room(name) in PURE]
    assert [f"{name}: {use}" for name in pure for use in find_impurities(tree_of(name), name)] == []


DEFINITIONS = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)


def find_early(tree: ast.Module, name: str) -> Iterator[str]:
    """Yield the slow modules that are imported outside every function."""
    outside = ast.Module([node for node in tree.body if not isinstance(node, DEFINITIONS)], [])
    yield from (target for target in find_imports(outside, name) if target.startswith(SLOW))


def test_slow_modules_are_imported_late() -> None:
    assert [f"{name}: {early}" for name in MODULES for early in find_early(tree_of(name), name)] == []


def find_undocumented(tree: ast.AST, prefix: str = "") -> Iterator[str]:
    """Yield the public classes, functions and methods without a docstring, the module first."""
    if isinstance(tree, ast.Module) and not ast.get_docstring(tree):
        yield "module"
    for node in getattr(tree, "body", []):
        if isinstance(node, DEFINITIONS) and not node.name.startswith("_"):
            if not ast.get_docstring(node):
                yield prefix + node.name
            if isinstance(node, ast.ClassDef):
                yield from find_undocumented(node, f"{prefix}{node.name}.")


def test_everything_public_says_what_it_is() -> None:
    assert [f"{name}: {bare}" for name in MODULES for bare in find_undocumented(tree_of(name))] == []


def test_importing_bench_costs_next_to_nothing() -> None:
    """Counted in modules: a clock would measure how busy the machine is."""
    code = "import sys; before = {*sys.modules}; import bench; print(*{*sys.modules} - before)"
    words = [sys.executable, "-c", code]
    loaded = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert loaded.split() == ["bench"]


def test_what_is_handed_over_loads_no_screen() -> None:
    """Nor does anything that it imports: a program without a page can ask what comes next."""
    modules = [f"bench.{name}" for name in MODULES if room(name) == "handover"]
    code = f"import sys, {', '.join(modules)}; print(*{{name.split('.')[0] for name in sys.modules}})"
    words = [sys.executable, "-c", code]
    loaded = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True).stdout.split()
    assert "bench" in loaded
    assert not {"ipywidgets", "IPython", "matplotlib"} & {*loaded}


@pytest.mark.parametrize(
    ("source", "name", "is_package", "found"),
    [
        ("import bench.units as u", "item", False, {"bench.units"}),
        ("def f():\n    from bench.units import Q_", "item", False, {"bench.units.Q_"}),
        ("from . import air", "physics.salts", False, {"bench.physics.air"}),
        ("from ..records import store", "physics.salts", False, {"bench.records.store"}),
        ("from .base import Panel", "panels", True, {"bench.panels.base.Panel"}),
    ],
)
def test_the_reader_sees_every_way_to_import(
    source: str, name: str, is_package: bool, found: set[str]
) -> None:
    assert set(find_imports(ast.parse(source), name, is_package=is_package)) == found


def test_the_steps_are_those_of_the_design() -> None:
    assert "physics" not in allowed_rooms("item")
    assert "records" not in allowed_rooms("treatment")
    assert "treatment" not in allowed_rooms("records.store")
    assert "treatment" in allowed_rooms("records.nouns")
    assert "records" not in allowed_rooms("figures")
    assert not {"desk", "panels", "figures"} & allowed_rooms("handover")


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("import os", ["imports os"]),
        ("from pathlib import Path", ["imports pathlib.Path"]),
        ("x = datetime.now()", ["line 1 calls datetime.now"]),
        ("x = dt.date.today()", ["line 1 calls dt.date.today"]),
        ("x = np.random.normal()", ["line 1 calls np.random.normal"]),
        ("x = open('a')", ["line 1 calls open"]),
        ("def f(rng: np.random.Generator):\n    return rng.normal()", []),
    ],
)
def test_the_reader_sees_files_clocks_and_chance(source: str, found: list[str]) -> None:
    assert list(find_impurities(ast.parse(source), "physics.made")) == found


def test_the_reader_sees_what_is_not_documented() -> None:
    source = '"""A."""\nclass A:\n    """B."""\n    def f(self): ...\n    def _g(self): ...\ndef h(): ...\n'
    assert list(find_undocumented(ast.parse(source))) == ["A.f", "h"]
