"""Every notice of stages and panels: alone of its name, from a known source, raised with just its facts."""

import ast
import importlib
import inspect
import pkgutil
from collections import Counter
from string import Formatter

import pytest

import bench.panels
import bench.treatment
from bench.sources import all_sources
from bench.treatment.plan import Notice, Verdict

MODULES = [
    importlib.import_module(found.name)
    for room in (bench.treatment, bench.panels)
    for found in pkgutil.walk_packages(room.__path__, f"{room.__name__}.")
]
TREES = {module: ast.parse(inspect.getsource(module)) for module in MODULES}
# By their identity: a module that imports a notice has it among its names too.
NOTICES = {id(each): each for module in MODULES for each in vars(module).values() if isinstance(each, Notice)}


def fields_of(notice):
    """Give the names of the facts that a template leaves open."""
    return {name for _, name, _, _ in Formatter().parse(notice.template) if name is not None}


def calls_of(module):
    """Give every call by a plain name: what it calls in this module, and the call."""
    for node in ast.walk(TREES[module]):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            yield vars(module).get(node.func.id), node


RAISED = [
    (module.__name__, notice, call)
    for module in MODULES
    for notice, call in calls_of(module)
    if isinstance(notice, Notice)
]


def judge_call(notice, call):
    """Say what is wrong with a call; nothing if it hands over just the facts, each by its name."""
    given, fields = {keyword.arg for keyword in call.keywords} - {"verdict"}, fields_of(notice)
    if None in given or len(call.args) > 1:
        return "facts without a name"
    if fields - given:
        return f"lacks {', '.join(sorted(fields - given))}"
    return f"has no use for {', '.join(sorted(given - fields))}" if given - fields else ""


def test_a_key_names_one_notice():
    keys = Counter(notice.key for notice in NOTICES.values())
    assert [key for key, count in keys.items() if count > 1] == []
    assert [key for key in keys if not key.replace("-", "").isalpha() or key != key.lower()] == []


def test_the_source_of_each_is_known():
    known = {source.key for source in all_sources()}
    assert [notice.key for notice in NOTICES.values() if notice.source not in known] == []


def test_each_is_raised_with_the_facts_that_its_template_names_and_no_others():
    wrong = [
        f"{module}, line {call.lineno}, {notice.key}: {told}"
        for module, notice, call in RAISED
        if (told := judge_call(notice, call))
    ]
    assert wrong == []


def test_each_is_raised_somewhere():
    raised = {id(notice) for _, notice, _ in RAISED}
    assert [notice.key for name, notice in NOTICES.items() if name not in raised] == []


def test_each_is_written_at_the_head_of_a_module():
    assert sum(called is Notice for module in MODULES for called, _ in calls_of(module)) == len(NOTICES)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        ("wall(level, below=1.0)", ""),
        ("wall(below=1.0)", ""),
        ("wall()", "lacks below"),
        ("wall(below=1.0, above=2.0)", "has no use for above"),
        ("wall(level, 1.0)", "facts without a name"),
        ("wall(**facts)", "facts without a name"),
    ],
)
def test_a_call_that_lacks_a_fact_or_brings_one_too_many_is_told(call, told):
    wall = Notice("wall", Verdict.CARE, "The wall is {below:.1f} K too cold.")
    assert judge_call(wall, ast.parse(call, mode="eval").body) == told
