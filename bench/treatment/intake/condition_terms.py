"""Standard terms of condition, faces and grades, in plain institutional words.

There is no overall grade here: terms, places and sizes are what a later reader can check.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bench.errors import NotFound


class Help(StrEnum):
    """The stage that could help a defect."""

    CLEAN = "clean"
    PRESS = "humidify and press"
    NONE = "none"


@dataclass(frozen=True)
class Term:
    """A standard term of condition, and what this work can do about it.

    Attributes
    ----------
    term : str
        The term itself, as a record holds it.
    helped_by : Help
        Unless the operator says otherwise.
    reason : str
        Why that stage helps, or why none does.
    source : str
        Where the term comes from.
    """

    term: str
    helped_by: Help
    reason: str
    source: str = "condition-terms"


_OUT = "lost or changed material does not come back with damp and weight"
_RELAX = "the fibres relax when damp and set again flat"
_LOOSE = "loose dirt can be lifted dry"
_CHEMISTRY = "a change of the paper or the colour, beyond dry cleaning and pressing"

# Terms of a library's list (seen), then terms of the field from memory; plain words, no grading scale.
TERMS = (
    Term("abrasion", Help.NONE, _OUT),
    Term("accretion", Help.NONE, "a crust needs a blade or moisture, beyond dry cleaning"),
    Term("breakage", Help.NONE, _OUT),
    Term("cockled", Help.PRESS, _RELAX),
    Term("corrosion", Help.NONE, "corrosion products stay in the paper"),
    Term("crease", Help.PRESS, f"{_RELAX}; colour lost along it stays lost"),
    Term("delamination", Help.NONE, "layers that part need an adhesive"),
    Term("dirty", Help.CLEAN, _LOOSE),
    Term("discoloration", Help.NONE, _CHEMISTRY),
    Term("distortion", Help.PRESS, _RELAX),
    Term("dusty", Help.CLEAN, _LOOSE),
    Term("embrittlement", Help.NONE, _CHEMISTRY),
    Term("fading", Help.NONE, _CHEMISTRY),
    Term("fold", Help.PRESS, f"{_RELAX}; broken fibres stay broken"),
    Term("foxing", Help.NONE, _CHEMISTRY),
    Term("insect damage", Help.NONE, _OUT),
    Term("loss", Help.NONE, _OUT),
    Term("mould", Help.NONE, "mould is a gate of its own: isolate and refer"),
    Term("puncture", Help.NONE, _OUT),
    Term("tear", Help.NONE, "a tear needs mending, which is outside this work", "memory"),
    Term("split", Help.NONE, "a split fold needs mending, which is outside this work", "memory"),
    Term("staple tear", Help.NONE, "a pull at a staple needs mending, which is outside this work", "memory"),
    Term("detached", Help.NONE, "a loose leaf or cover needs mending, which is outside this work", "memory"),
    Term("skinning", Help.NONE, _OUT, "memory"),
    Term("dog-ear", Help.PRESS, f"{_RELAX}; the line of the fold may stay", "memory"),
    Term("planar distortion", Help.PRESS, _RELAX, "memory"),
    Term("curl", Help.PRESS, _RELAX, "memory"),
    Term(
        "spine roll",
        Help.PRESS,
        "it eases when damp and held square; a glued spine comes back in part",
        "memory",
    ),
    Term("ripple", Help.PRESS, _RELAX, "memory"),
    Term("impression", Help.PRESS, "a shallow dent swells back when damp", "memory"),
    Term("tideline", Help.NONE, _CHEMISTRY, "memory"),
    Term("stain", Help.NONE, _CHEMISTRY, "memory"),
    Term("set-off", Help.NONE, "ink of the facing page has become part of this one", "memory"),
    Term("blocking", Help.NONE, "stuck faces are a gate of their own: refer", "memory"),
    Term("bleed", Help.NONE, _CHEMISTRY, "memory"),
    Term("strike-through", Help.NONE, _CHEMISTRY, "memory"),
    Term("rust", Help.NONE, "rust stays in the paper", "memory"),
    Term("tape carrier", Help.NONE, "tape is a gate of its own: taking it off is referred", "memory"),
    Term(
        "adhesive residue",
        Help.NONE,
        "old adhesive is a gate of its own: taking it off is referred",
        "memory",
    ),
    Term("retouch", Help.NONE, "earlier work is a gate of its own: it is disclosed and left", "memory"),
    Term("trimmed", Help.NONE, _OUT, "memory"),
    Term("loss of gloss", Help.NONE, "pressing can make a gloss, but not this one", "memory"),
    Term("burnish", Help.NONE, "a polished surface does not roughen again", "memory"),
)

SEVERITIES = ("none", "just visible", "plain", "loss of function or legibility")
"""Words for the grades of a defect, from 0."""

FACES = (
    "front cover, outside",
    "front cover, inside",
    "back cover, inside",
    "back cover, outside",
    "recto",
    "verso",
    "spine",
    "fore edge",
    "head edge",
    "tail edge",
)


def term(name: str) -> Term:
    """Give a standard term.

    Raises
    ------
    NotFound
        With all terms.
    """
    for entry in TERMS:
        if entry.term == name:
            return entry
    allowed = ", ".join(entry.term for entry in TERMS)
    raise NotFound("term", repr(name), allowed, "Choose a standard term and put the rest in the note")
