"""A pytest plugin: stored pictures of notebooks are compared by what they say, not by their bytes.

Two processors differ in the last digit of a sum, which moves a point of a drawing by less than
anybody can see.  Words, colours and the order of things must be the same; what places a thing may
differ by :data:`TOLERANCE`.  All else that a notebook stores is compared as it stands.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Sequence
from typing import Any
from xml.etree import ElementTree

TOLERANCE = 0.03
"""In a 72nd of an inch, so 0.01 mm: drawings hold hundredths, and one may round up, another down."""

_PICTURE = re.compile(r"<svg\b.*?</svg>", re.DOTALL)
_ENDS = {"x1", "x2", "y1", "y2", "cx", "cy", "r"}
_PLACES = {"d", "x", "y", "width", "height", "points", "transform", "viewBox"} | _ENDS
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
_REFERENCE = re.compile(r"#([^)\"]+)")


def say_the_same(stored: str, fresh: str) -> bool:
    """Tell whether two texts are equal but for places in the pictures in them."""
    if stored == fresh:
        return True
    if _PICTURE.split(stored) != _PICTURE.split(fresh):
        return False
    pairs = zip(_PICTURE.findall(stored), _PICTURE.findall(fresh), strict=True)
    return all(_draw_the_same(*pair) for pair in pairs)


def _draw_the_same(stored: str, fresh: str) -> bool:
    try:
        trees = ElementTree.fromstring(stored), ElementTree.fromstring(fresh)
    except ElementTree.ParseError:
        return False
    names = [_number_names(tree) for tree in trees]
    elements = [list(tree.iter()) for tree in trees]
    if len(elements[0]) != len(elements[1]):
        return False
    return all(
        (one.tag, one.text, one.tail, len(one)) == (other.tag, other.text, other.tail, len(other))
        and one.keys() == other.keys()
        and all(
            _is_same(key, _rename(one.attrib[key], names[0]), _rename(other.attrib[key], names[1]))
            for key in one.attrib
        )
        for one, other in zip(*elements, strict=True)
    )


def _number_names(tree: ElementTree.Element) -> dict[str, str]:
    """Number the things that a drawing refers to in their order: what they are called is of no account."""
    written = (value for element in tree.iter() for value in element.attrib.values())
    used = {name for value in written for name in _REFERENCE.findall(value)}
    named = (element.get("id") for element in tree.iter())
    return {name: f"#{number}" for number, name in enumerate(n for n in named if n in used)}


def _rename(value: str, names: dict[str, str]) -> str:
    if value in names:
        return names[value]
    return _REFERENCE.sub(lambda found: names.get(found[1], found[0]), value)


def _is_same(key: str, stored: str, fresh: str) -> bool:
    if stored == fresh or key not in _PLACES:
        return stored == fresh
    if _NUMBER.split(stored) != _NUMBER.split(fresh):
        return False
    pairs = zip(_NUMBER.findall(stored), _NUMBER.findall(fresh), strict=True)
    return all(abs(float(one) - float(other)) <= TOLERANCE for one, other in pairs)


def adopt(fresh: Sequence[Any], stored: Sequence[Any]) -> list[Any]:
    """Give fresh outputs, with the stored picture in place of one that says the same."""
    adopted = copy.deepcopy(list(fresh))
    for new, old in zip(adopted, stored, strict=False):  # another number of outputs fails as it is
        for part, reference in ((new, old), (new.get("data", {}), old.get("data", {}))):
            for key, value in part.items():
                kept = reference.get(key)
                if isinstance(value, str) and isinstance(kept, str) and say_the_same(kept, value):
                    part[key] = kept
    return adopted


def pytest_configure() -> None:
    """Let nbval compare this way."""
    from nbval.plugin import IPyNbCell

    compare = IPyNbCell.compare_outputs

    def compare_outputs(self: Any, test: Any, ref: Any, skip_compare: Any = None) -> bool:
        return bool(compare(self, adopt(test, ref), ref, skip_compare))

    IPyNbCell.compare_outputs = compare_outputs
