"""An exercise as its teacher writes it: a short text with front matter, read without touching the package.

The front matter is TOML between two lines of ``+++``; the text below has the headings *Look*, *Question* and
*Explain*.  What stands in braces is filled in with the numbers of the item that was drawn.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bench.errors import Fault, RecordError
from bench.practice.settings import MarkerSetting

PARTS = ("Look", "Question", "Explain")
_FRONT = re.compile(r"\A\+\+\+\s*\n(?P<front>.*?)\n\+\+\+\s*\n(?P<text>.*)\Z", re.DOTALL)
_PART = re.compile(r"^## +(?P<name>\S.*?)\s*$", re.MULTILINE)
BRACES = re.compile(r"\{(\w+)\}")
"""A name that a text leaves open."""


@dataclass(frozen=True)
class Exercise:
    """An exercise.

    Attributes
    ----------
    name : str
        Of its file, without the ending: it joins attempts and stays.
    title, skill : str
        For people; several exercises may train one skill.
    item : str
        Kind of item, a key of :data:`bench.practice.drawing.KINDS`.
    marker : str
        Which function of :data:`bench.practice.markers.MARKERS` marks it.
    wrong : tuple of str
        Keys of the wrong ways to look for.
    hints : tuple of str
        In steps, the first says least.
    sources : tuple of str
        Keys of sources, or ``"common-practice"``.
    minutes : int
        That it takes.
    settings : mapping of str to object
        Further numbers that the marker takes.
    look, question, explain : str
        The texts, with braces.
    place : int
        Where it stands in the order of the work; :data:`LAST` where nobody says.
    """

    name: str
    title: str
    skill: str
    item: str
    marker: str
    wrong: tuple[str, ...]
    hints: tuple[str, ...]
    sources: tuple[str, ...]
    minutes: int
    settings: Mapping[str, Any]
    look: str
    question: str
    explain: str
    place: int

    @property
    def braces(self) -> frozenset[str]:
        """Names that its texts leave open."""
        texts = (self.look, self.question, self.explain, *self.hints)
        return frozenset(name for text in texts for name in BRACES.findall(text))

    def fill(self, text: str, facts: Mapping[str, str]) -> str:
        """Fill the braces of one of its texts."""
        return BRACES.sub(lambda found: facts[found[1]], text)


_PLACE, LAST = "place", 99
_FENCE = "+++"
_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
RESERVED = "capstone"
_FEWEST_HINTS = 2
_NEEDED: dict[str, tuple[type, str]] = {
    "title": (str, "a few words, with a verb"),
    "skill": (str, "the name of a skill"),
    "item": (str, "a kind of item"),
    "marks": (str, "the function that marks it"),
    "wrong": (list, "a list of wrong ways"),
    "hints": (list, "a list of hints"),
    "sources": (list, "a list of sources"),
    "minutes": (int, "a whole number of minutes"),
}


def read_exercise(text: str, name: str, markers: Mapping[str, Any]) -> Exercise:
    """Read an exercise.

    Parameters
    ----------
    text : str
        Of its file.
    name : str
        Of its file, without the ending.
    markers : mapping of str to Marker
        Those that there are.

    Raises
    ------
    RecordError
        Everything that is missing or wrong in it, each with what to write.
    """
    text, file = text.replace("\r\n", "\n"), f"{name}.md"
    match = _FRONT.match(text)
    if match is None:
        raise RecordError([Fault(file, None, None, _say_no_front(text))])
    try:
        front = tomllib.loads(match["front"])
    except tomllib.TOMLDecodeError as error:
        raise RecordError([Fault(file, None, None, _say_unreadable(error, text))]) from None
    parts = _read_parts(match["text"])
    faults = [
        *_name_faults(name),
        *_front_faults(front, markers),
        *_part_faults(parts),
        *_lost_faults(match["text"]),
    ]
    if faults:
        raise RecordError([Fault(f"{file}, {key}", None, None, what) for key, what in faults])
    return _build(name, front, parts)


def _say_no_front(text: str) -> str:
    """Say which of the two lines about the front matter is not there."""
    first = text.split("\n", 1)[0].strip()
    if first != _FENCE:
        return (
            f"begins with {first[:40]!r}; allowed is a first line with {_FENCE} alone, then the front matter"
        )
    return f"has no line with {_FENCE} alone beneath the front matter; write one before ## Look"


def _say_unreadable(error: tomllib.TOMLDecodeError, text: str) -> str:
    """Say at which line of the file the front matter breaks off, and how lines are written."""
    lines = text.split("\n")
    found = re.search(r"at line (\d+)", str(error))
    end = next(number for number, line in enumerate(lines) if number and line.strip() == _FENCE)
    number = int(found[1]) if found else end - 1  # its first line is the second of the file
    return (
        f"line {number + 1}, or the one before it, cannot be read: {lines[number].strip()[:60]!r}. A name "
        "stands there once; a text stands in straight quotation marks, a number has a decimal point and no "
        "unit, a list stands in [ ] with commas between its entries"
    )


def _name_faults(name: str) -> list[tuple[str, str]]:
    """Find a name of a file that attempts could not be joined by for long."""
    if not _NAME.fullmatch(name):
        what = (
            "is no name for it; allowed are small letters, digits and hyphens, like sheets-place. Rename it"
        )
        return [("the file's name", what)]
    if name.startswith(RESERVED):
        what = f"begins with {RESERVED}, which is kept for the capstone. Rename it"
        return [("the file's name", what)]
    return []


def _read_parts(text: str) -> dict[str, str]:
    pieces = _PART.split(text)
    return {name.strip(): body.strip() for name, body in zip(pieces[1::2], pieces[2::2], strict=True)}


def _front_faults(front: Mapping[str, Any], markers: Mapping[str, Any]) -> list[tuple[str, str]]:
    faults = []
    for key, (kind, words) in _NEEDED.items():
        if key not in front:
            faults.append((key, f"is missing; write {key} = {words}"))
        elif not isinstance(front[key], kind) or (kind is int and isinstance(front[key], bool)):
            faults.append((key, f"is {front[key]!r}; allowed is {words}"))
        elif kind is list and not all(isinstance(each, str) for each in front[key]):
            faults.append((key, "holds something that is no text; put each entry in quotation marks"))
    if isinstance(front.get("marks"), str):
        if front["marks"] not in markers:
            faults.append(("marks", f"is “{front['marks']}”; allowed is {', '.join(sorted(markers))}"))
        else:
            known = markers[front["marks"]].wrong
            ways = front.get("wrong")
            faults += [
                ("wrong", f"“{way}” is not a wrong way of {front['marks']}; allowed is {', '.join(known)}")
                for way in (ways if isinstance(ways, list) else ())
                if way not in known
            ]
            faults += _setting_faults(front, markers[front["marks"]].settings)
            faults += _item_faults(front, markers[front["marks"]].kinds)
    if not isinstance(front.get(_PLACE, LAST), int):
        faults.append((_PLACE, f"is {front[_PLACE]!r}; allowed is a whole number, or leave it out"))
    hints = front.get("hints")
    if isinstance(hints, list) and (
        len(hints) < _FEWEST_HINTS or not all(f"{each}".strip() for each in hints)
    ):
        faults.append(
            ("hints", "has fewer than two, or an empty one; write two or more, the first says least")
        )
    if "{" in str(front.get("title", "")):
        faults.append(("title", "holds a brace, which only texts and hints have filled in; leave it out"))
    return faults


def _item_faults(front: Mapping[str, Any], kinds: Sequence[str]) -> list[tuple[str, str]]:
    """Find a kind of item that there is not, or that the marker cannot mark."""
    kind = front.get("item")
    if not isinstance(kind, str) or kind in kinds:
        return []
    return [("item", f"is “{kind}”; {front['marks']} marks {', '.join(kinds)}. Choose one of these")]


def _setting_faults(front: Mapping[str, Any], settings: Sequence[MarkerSetting]) -> list[tuple[str, str]]:
    """Find what the marker cannot use, and names that mean nothing, such as one that is misspelt."""
    known = {each.key: each for each in settings}
    faults = []
    for key, value in front.items():
        if key in (*_NEEDED, _PLACE):
            continue
        if key in known:
            wrong = known[key].fault(value)
            faults += [(key, wrong)] if wrong else []
        else:
            allowed = ", ".join((*_NEEDED, _PLACE, *known))
            faults.append(
                (key, f"means nothing to {front['marks']}; allowed is {allowed}. Look at its spelling")
            )
    return faults


def _part_faults(parts: Mapping[str, str]) -> list[tuple[str, str]]:
    return [
        (name, f"is missing; write a heading ## {name} and a sentence or more beneath it")
        for name in PARTS
        if not parts.get(name)
    ]


def _lost_faults(text: str) -> list[tuple[str, str]]:
    """Find what would be shown to nobody: words before the headings, others, and one that comes twice."""
    before, *pieces = _PART.split(text)
    names = [name.strip() for name in pieces[::2]]
    faults = [
        (
            name,
            f"is a heading nobody sees; allowed is {', '.join(PARTS)}. Use ### beneath one of these",
        )
        for name in dict.fromkeys(names)
        if name not in PARTS
    ]
    if before.strip():
        faults.append(("text", "stands before the first heading and is never shown; put it under ## Look"))
    twice = [name for name in PARTS if names.count(name) > 1]
    return faults + [(name, f"stands there {names.count(name)} times; keep one ## {name}") for name in twice]


def _build(name: str, front: Mapping[str, Any], parts: Mapping[str, str]) -> Exercise:
    return Exercise(
        name=name,
        title=front["title"],
        skill=front["skill"],
        item=front["item"],
        marker=front["marks"],
        wrong=tuple(front["wrong"]),
        hints=tuple(front["hints"]),
        sources=tuple(front["sources"]),
        minutes=front["minutes"],
        settings={key: value for key, value in front.items() if key not in (*_NEEDED, _PLACE)},
        place=front.get(_PLACE, LAST),
        look=parts["Look"],
        question=parts["Question"],
        explain=parts["Explain"],
    )
