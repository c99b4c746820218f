"""Tools of dry cleaning, from the gentlest to the strongest: for what, how fast, when to stop."""

from __future__ import annotations

from dataclasses import dataclass

from bench.errors import NotFound
from bench.treatment.cleaning.surfaces import Surface
from bench.units import Q_, Quantity


@dataclass(frozen=True)
class Tool:
    """One tool.

    Attributes
    ----------
    id, spoken, name, how : str
        ``spoken`` as it stands in a sentence.
    order : int
        1 is the gentlest.
    least_soil : int
        Soil, 0 to 3, from which it is worth taking up.
    unprinted_only : bool
        Kept to unprinted areas, because it lifts ink or changes gloss.
    rate : Quantity
        Area in a time, for one pass.
    spread : float
        The rate may be this many times lower or higher.
    stops : tuple of str
        Signs to stop at, beyond those of every tool.
    leaves_behind : str
        Residue or risk.
    source : str
        Key of a source for use and risk; the rates are from memory.
    """

    id: str
    spoken: str
    name: str
    how: str
    order: int
    least_soil: int
    unprinted_only: bool
    rate: Quantity
    spread: float
    stops: tuple[str, ...]
    leaves_behind: str
    source: str


_RATE = Q_(1.0, "cm^2/min")

# Stop signs of every tool: from memory of practice.
STOP_SIGNS = (
    "colour on the tool",
    "fibres lift",
    "the surface starts to shine",
    "a pass brings up no more dirt",
)

# Rates and their spread are from memory of the work; the log corrects them.
TOOLS = (
    Tool(
        "brush",
        "the brush",
        "soft hair brush",
        "from the gutter outwards, the item flat and held",
        1,
        1,
        False,
        200.0 * _RATE,
        2.0,
        ("grit scratches: lift it away, do not sweep it",),
        "can drive grit into the gutter",
        "surface-dirt",
    ),
    Tool(
        "suction",
        "suction",
        "HEPA suction through a screen",
        "low suction, nozzle held off the surface behind a screen",
        2,
        2,
        False,
        100.0 * _RATE,
        2.0,
        ("a flake or an edge lifts towards the nozzle",),
        "an ordinary vacuum cleaner blows spores into the room",
        "rubber-sponge",
    ),
    Tool(
        "soft sponge",
        "the soft sponge",
        "soft polyurethane sponge",
        "wiped lightly in one direction, without pressing",
        3,
        2,
        False,
        50.0 * _RATE,
        2.0,
        ("lint stays behind",),
        "lint; can burnish a gloss",
        "memory",
    ),
    Tool(
        "rubber sponge",
        "the rubber sponge",
        "vulcanised rubber sponge, dry",
        "wiped lightly in one direction; cut away the dirty face",
        4,
        2,
        False,
        30.0 * _RATE,
        2.0,
        ("crumbs stick",),
        "crumbs and active sulphur: brush away every crumb; keep it off metals",
        "rubber-sponge",
    ),
    Tool(
        "vinyl crumbs",
        "vinyl crumbs",
        "ground vinyl eraser",
        "rolled under the fingertips, then brushed and sucked away",
        5,
        3,
        True,
        12.0 * _RATE,
        2.5,
        ("crumbs cannot all be taken off again",),
        "crumbs in the fibres: where they cannot all be removed, do not use it",
        "aic-spot-tests",
    ),
    Tool(
        "vinyl block",
        "the vinyl block",
        "block of vinyl eraser, local",
        "short strokes in one direction, towards the nearest edge",
        6,
        3,
        True,
        6.0 * _RATE,
        2.5,
        ("the mark no longer gets lighter",),
        "abrades, lifts ink, changes gloss; of erasers vinyl altered paper least in a test",
        "pearlstein1982",
    ),
)

# Used by some, left out here on purpose: rubber putty leaves a tacky film, and pink and kneaded
# erasers changed the surface most in the test of 1982 (seen).

# What may touch a surface at all, the gentlest first.  Newsprint is unsized, the weak case for any
# eraser (seen); a coating shows every rub.
_ALLOWED: dict[Surface, tuple[str, ...]] = {
    Surface.EDGES: ("brush", "suction", "rubber sponge"),
    Surface.SPINE: ("brush", "soft sponge"),
    Surface.COVER_OUTSIDE: ("brush", "suction", "rubber sponge", "vinyl crumbs", "vinyl block"),
    Surface.COVER_INSIDE: ("brush", "suction", "rubber sponge", "vinyl crumbs"),
    Surface.LEAVES: ("brush", "suction", "rubber sponge"),
}
_ON_COATING = ("brush", "suction", "soft sponge", "rubber sponge")  # on a coated cover


def tool(tool_id: str) -> Tool:
    """Give a tool by its id.

    Raises
    ------
    NotFound
        No tool has that id.
    """
    for candidate in TOOLS:
        if candidate.id == tool_id:
            return candidate
    allowed = ", ".join(candidate.id for candidate in TOOLS)
    raise NotFound("tool", repr(tool_id), allowed, "Choose one of the tools of dry cleaning")


def tools_for(surface: Surface, *, coated: bool) -> tuple[Tool, ...]:
    """Give the tools that may touch a surface at all, the gentlest first.

    Examples
    --------
    >>> [t.id for t in tools_for(Surface.COVER_OUTSIDE, coated=True)]
    ['brush', 'suction', 'soft sponge', 'rubber sponge']
    """
    is_cover = surface in (Surface.COVER_OUTSIDE, Surface.COVER_INSIDE)
    return tuple(tool(name) for name in (_ON_COATING if coated and is_cover else _ALLOWED[surface]))
