"""The capstone: one unknown item worked from intake to report, each judgement on the same item.

It strings exercises of the folder together.  All of them draw their item from one seed, so that what is
counted, read and decided belongs to one item; none of the way is shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from bench.errors import NotFound
from bench.practice.drawing import draw_item, seed_of
from bench.practice.exercises import RESERVED, Exercise
from bench.practice.task import Guidance, Marker, Task, is_told
from bench.treatment.measured import NOTHING_MEASURED, MeasuredHere

CAPSTONE = f"{RESERVED}-"
"""How the names of its parts begin in the record."""

PARTS = (
    "pages-or-leaves",
    "intake-gates",
    "cleaning-tools",
    "reading-thickness",
    "sheets-place",
    "far-leaf",
    "let-go",
    "compare-decide",
    "write-the-report",
)
"""In the order of the work."""

SKILL = "a whole treatment"
_ITEM = "side-stapled"  # the hard case of the trade
_HARD = 2  # level from which nothing is made easy


def title_of(name: str, exercises: Mapping[str, Exercise]) -> str:
    """Give the title of an exercise or of a part of the capstone; of one that is gone its name."""
    part = name.removeprefix(CAPSTONE)
    title = exercises[part].title if part in exercises else f"{part} (no longer there)"
    return title if part == name else f"{title}, within {SKILL}"


def set_part(
    part: str,
    exercises: Mapping[str, Exercise],
    markers: Mapping[str, Marker],
    learner: str,
    attempt: int,
    *,
    measured: MeasuredHere = NOTHING_MEASURED,
) -> Task:
    """Set one part of the capstone; all parts of an attempt are about one item.

    Parameters
    ----------
    part : str
        One of :data:`PARTS`.
    exercises, markers : mapping
        Those that there are.
    learner : str
        By name.
    attempt : int
        1 for the first item.
    measured : MeasuredHere
        What a bench measured of itself, where it is to be used.

    Returns
    -------
    Task
        Wrong ways that this item does not tell apart from each other or from the right answer are not looked
        for: the item is not drawn again, since it is that of all parts.

    Raises
    ------
    NotFound
        The exercise of that part is not in the folder.
    """
    if part not in exercises:
        allowed = ", ".join(PARTS)
        raise NotFound("part of the capstone", repr(part), allowed, "Put its exercise back into the folder")
    own = replace(exercises[part], name=f"{CAPSTONE}{part}", skill=SKILL)
    drawn = draw_item(_ITEM, seed_of(learner, CAPSTONE, attempt), level=_HARD + attempt, measured=measured)
    marker = markers[own.marker]
    solution = marker.solve(drawn, own.settings)
    task = Task(own, marker, learner, attempt, drawn, solution, guidance=Guidance.ALONE)
    mixed = {way.key for way in task.ways() if not is_told(task, way)}
    told = tuple(dict.fromkeys(way.key for way in task.ways() if way.key not in mixed))
    return replace(task, exercise=replace(own, wrong=told))
