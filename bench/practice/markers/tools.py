"""Which tool of dry cleaning comes next on a surface, and when nothing more does."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from bench.item import Answer, Item
from bench.practice.drawing import Drawn
from bench.practice.shapes import Question, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.treatment.cleaning.log import LoggedPass
from bench.treatment.cleaning.planning import CleaningChoices, CleaningPlan, plan_cleaning
from bench.treatment.cleaning.surfaces import Surface, SurfaceState
from bench.treatment.cleaning.tools import TOOLS, Tool, tool
from bench.treatment.conditions import Condition
from bench.treatment.intake.gate_list import BRITTLE
from bench.treatment.intake.spot_tests import Result

WRONG = {
    "past-the-stop-sign": "went on past the sign to stop at",
    "beyond-what-pays": "took up a stronger tool where nothing is left to gain or nothing stronger may touch",
    "eraser-on-a-weak-surface": "took an eraser to a surface that does not bear it",
    "skipped-the-gentler": "skipped the gentler tool",
    "stopped-early": "stopped while a gentle tool still had dirt to take",
    "after-humidifying": "left the dirt until after humidifying",
    "went-back": "took up again a tool that brings no more",
    "not-for-this-surface": "took a tool that has no place on this surface",
}
STOP, LATER = "stop", "later"
_ERASERS = ("vinyl crumbs", "vinyl block")
_STILL_DIRTY = 2  # dirt on the tool, 0 to 3, while it still pays
_SIGNED = 0.7  # share of items whose last pass shows a sign to stop at

_SIGNS: dict[str, tuple[str, bool]] = {
    "colour": ("a trace of colour on the tool", True),
    "fibres": ("fibres stand up under the loupe in raking light", False),
    "gloss": ("the surface has begun to shine in raking light", False),
}
"""What the last pass may show, and whether it is colour: signs to stop at, from memory of practice."""


@dataclass(frozen=True)
class Story:
    """A surface, what was seen of it, and the passes made so far.

    Attributes
    ----------
    item : Item
        With its cover as it was found to be.
    choices : CleaningChoices
        What was seen.
    plan : CleaningPlan
        That follows from it.
    done : int
        Tools of the plan that were used so far.
    sign : str
        Key of the sign that the last of them showed; empty for none.
    is_stiff : bool
        Whether leaves bend stiffly.
    """

    item: Item
    choices: CleaningChoices
    plan: CleaningPlan
    done: int
    sign: str
    is_stiff: bool

    @property
    def surface(self) -> Surface:
        """Where it is."""
        return self.choices.surfaces[0].surface

    @property
    def planned(self) -> tuple[Tool, ...]:
        """Tools of the plan, the gentlest first."""
        return tuple(each.tool for each in self.plan.passes)

    @property
    def next(self) -> str:
        """What comes next: the id of a tool, or to stop."""
        if self.sign or self.done >= len(self.planned):
            return STOP
        return self.planned[self.done].id


def draw_story(drawn: Drawn) -> Story:
    """Draw a surface with its soil, and how far the work has come."""
    rng, level = drawn.rng, drawn.level
    surface = Surface(str(rng.choice([s.value for s in (Surface.LEAVES, *_WEIGHED)])))
    is_coated = bool(rng.random() < 0.6)
    item = replace(
        drawn.item,
        cover_coated=Answer.YES if is_coated else Answer.NO,
        cover_paper="coated cover" if is_coated else "uncoated cover",
    )
    bare = 0.1 * float(rng.integers(1, 9))
    state = SurfaceState(surface, 2 + int(rng.random() < 0.6), unprinted=bare)
    rubs = bool(rng.random() < 0.2)
    stiff = bool(level >= 2 and rng.random() < 0.25)
    choices = CleaningChoices(
        (state,),
        rub_test=Result.FAIL if rubs else Result.PASS,
        conditions=_from_intake(stiff),
        thickness=drawn.thicknesses.text_block.value,
    )
    plan = plan_cleaning(item, choices)
    whole = len(plan.passes)
    # Rather late than early: that is where the choice is.
    done = int(rng.choice((whole, whole - 1, int(rng.integers(0, whole + 1))), p=(0.25, 0.35, 0.4)))
    return Story(item, choices, plan, done, _draw_sign(plan, done, rng), stiff)


_WEIGHED = (Surface.COVER_OUTSIDE, Surface.COVER_OUTSIDE, Surface.COVER_INSIDE, Surface.EDGES)
"""Surfaces beside the leaves, the outer cover twice: most is done there."""


def _from_intake(stiff: bool) -> tuple[Condition, ...]:
    return BRITTLE.finding("stiff").conditions if stiff else ()


def _draw_sign(plan: CleaningPlan, done: int, rng: np.random.Generator) -> str:
    """Draw a sign where the last tool rubs; a brush or suction shows none."""
    if done == 0 or plan.passes[done - 1].tool.id in ("brush", "suction") or rng.random() > _SIGNED:
        return ""
    return str(rng.choice(list(_SIGNS)))


def log_of(story: Story) -> tuple[LoggedPass, ...]:
    """Give the passes made so far, as a log holds them: the last of each tool came clean or showed a sign."""
    passes = []
    for number, used in enumerate(story.planned[: story.done], start=1):
        passes.append(LoggedPass(story.surface, used.id, dirt=_STILL_DIRTY))
        seen = story.sign if number == story.done else ""
        words, colour = _SIGNS[seen] if seen else ("", False)
        passes.append(LoggedPass(story.surface, used.id, dirt=1 if seen else 0, colour=colour, remark=words))
    return tuple(passes)


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Work out what comes next on a surface, as a plan of cleaning and its log have it."""
    story = draw_story(drawn)
    return Solution(
        right=story.next,
        wrong=_wrong_ways(story),
        look=(*replace(drawn, item=story.item).look, *_look(story)),
        steps=_steps(story),
        facts={
            "surface": story.surface.spoken,
            "next": _say_next(story),
            "tools": ", then ".join(each.spoken for each in story.planned),
        },
        plan=story.plan,
    )


def _look(story: Story) -> list[tuple[str, str]]:
    state, rub = story.choices.surfaces[0], story.choices.rub_test
    soil = ("none", "just visible", "plain", "heavy")[state.soil]
    rows = [
        ("surface", story.surface.spoken),
        ("soil there", f"{state.soil} of 3, {soil}; {100 * state.unprinted:.0f} % of it light and unprinted"),
        ("dry rub test", "the swab stays white" if rub is Result.PASS else "grey comes off on the swab"),
        ("flex of the leaves", "stiff, but nothing breaks" if story.is_stiff else "they bend and come back"),
    ]
    log = [_say_pass(each) for each in log_of(story)]
    return [*rows, ("log so far", "; ".join(log) if log else "nothing done yet")]


def _say_pass(logged: LoggedPass) -> str:
    dirt = ("no more dirt on it", "little dirt on it", "dirt on it", "much dirt on it")[logged.dirt]
    return f"{tool(logged.tool).name}: {dirt}" + (f", {logged.remark}" if logged.remark else "")


def _say_next(story: Story) -> str:
    return "to stop" if story.next == STOP else tool(story.next).spoken


def _steps(story: Story) -> tuple[str, ...]:
    allowed = ", ".join(each.spoken for each in story.planned) or "nothing"
    left = story.plan.work[0].left_out
    why = (
        f"Left out: {left[0][0]}, because {left[0][1]}." if left else "No tool for this surface is left out."
    )
    return (
        f"What may touch {story.surface.spoken} and pays, the gentlest first: {allowed}.",
        why,
        _say_log(story),
        f"So what comes next is {_say_next(story)}.",
    )


def _say_log(story: Story) -> str:
    if not story.done:
        return "Nothing is done yet: begin with the gentlest, before any damp."
    last = story.planned[story.done - 1].spoken
    if story.sign:
        return f"With {last} there is a sign to stop at: {_SIGNS[story.sign][0]}."
    return f"The last pass of {last} brought nothing more: that tool is done."


def _wrong_ways(story: Story) -> tuple[WrongWay, ...]:
    """Give the wrong way that each option but the right one is."""
    ways = [WrongWay("after-humidifying", LATER, _LATE)]
    if story.next != STOP:
        ways.append(WrongWay("stopped-early", STOP, _EARLY))
    others = (each for each in TOOLS if each.id != story.next)
    return (*ways, *(WrongWay(key, each.id, harm) for each in others for key, harm in [_way_of(story, each)]))


def _way_of(story: Story, taken: Tool) -> tuple[str, str]:
    """Give the key of the wrong way that a tool is, and what comes of it."""
    used, ids = story.planned[: story.done], [each.id for each in story.planned]
    if taken in used[:-1] or (taken in used and not story.sign):
        return "went-back", _harm_back(taken)
    if story.sign:
        return "past-the-stop-sign", _harm_past(story, taken)
    if taken.id in _ERASERS and taken.id not in ids:
        return "eraser-on-a-weak-surface", _harm_eraser(story)
    if story.next == STOP and (not used or taken.order > used[-1].order):
        return "beyond-what-pays", _harm_past(story, taken)
    if taken.id in ids:
        return "skipped-the-gentler", _harm_skipped(story.planned[story.done], taken)
    return "not-for-this-surface", _harm_out_of_place(story, taken)


_LATE = (
    "Damp swells the fibres and the dirt sinks in between them; when they dry and are pressed it is set "
    "there for good."
)
_EARLY = (
    "What could still be lifted dry stays, and in the chamber it sinks into the damp fibres. Nothing takes "
    "it out later."
)


def _harm_back(taken: Tool) -> str:
    return (
        f"{_upper(taken.spoken)} came clean. Another pass lifts nothing, and wears the surface all the same."
    )


def _harm_out_of_place(story: Story, taken: Tool) -> str:
    if story.is_stiff and story.surface in (Surface.LEAVES, Surface.EDGES):
        return f"Stiff leaves break where {taken.spoken} rubs: edges come off in flakes, for good."
    if story.choices.rub_test is not Result.PASS:
        return (
            f"Ink that comes off on a dry swab comes off on {taken.spoken}: the print turns to a grey smear."
        )
    return (
        f"On {story.surface.spoken} {taken.spoken} lifts no more than the tools that belong there, and rubs "
        "all the same."
    )


def _harm_skipped(gentler: Tool, taken: Tool) -> str:
    if taken.id == "suction":
        return "Suction lifts only what lies loose; grit that the brush would free stays to scratch later."
    return (
        f"{_upper(taken.spoken)} rubs in what {gentler.spoken} lifts away: loose grit scratches the face and "
        "is driven into the fibres."
    )


def _harm_past(story: Story, taken: Tool) -> str:
    if story.sign == "colour":
        return f"Print comes off already; {taken.spoken} would leave a pale patch that stays."
    if story.sign == "fibres":
        return f"{_upper(taken.spoken)} would pull the raised fibres out: a rough patch that soils faster."
    if story.sign == "gloss":
        return f"{_upper(taken.spoken)} would polish the patch further; a shine is not made dull again."
    reason = next((why for name, why in story.plan.work[0].left_out if name == taken.name), "")
    because = f" ({reason})" if reason else ""
    return f"{_upper(taken.spoken)} has no place here{because}. The surface wears and looks no cleaner."


def _harm_eraser(story: Story) -> str:
    if story.choices.rub_test is not Result.PASS:
        return "Ink that comes off on a dry swab comes off on an eraser: the print turns to a grey smear."
    if story.surface in (Surface.LEAVES, Surface.EDGES):
        return (
            "Newsprint is unsized: an eraser lifts its fibres and smears ink, and its crumbs dent the leaves."
        )
    if story.item.cover_coated is not Answer.NO:
        return "On a coating every stroke of an eraser shows: the gloss changes along it, for good."
    return "An eraser is for plain soil on bare paper; here it wears the print and wins nothing to be seen."


def _upper(words: str) -> str:
    return words[0].upper() + words[1:]


MARKER = Marker(
    question=Question(
        ReplyKind.CHOICE,
        "What comes next on this surface",
        options=(
            *((each.id, each.name) for each in TOOLS),
            (STOP, "stop: no further pass"),
            (LATER, "humidify first, and clean what is left after"),
        ),
    ),
    solve=solve,
    wrong=WRONG,
    picture="cleaning",
    sometimes=frozenset(WRONG) - {"after-humidifying"},
)
