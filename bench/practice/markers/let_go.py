"""What the night leaves in the leaves, and whether they may go: by humidity and weight, not by the clock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache, partial
from typing import Any

import numpy as np

from bench.item import Item, Thicknesses
from bench.physics.ranges import Range
from bench.physics.transient import changes_until
from bench.practice.drawing import Drawn
from bench.practice.markers.far_leaf import ToPress, say_boards
from bench.practice.marking import number_of
from bench.practice.settings import MarkerSetting, with_usual
from bench.practice.shapes import Question, Reply, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.stack import Role
from bench.treatment.prediction import follow
from bench.treatment.pressing.plan import RELEASE_LIMIT, PressingChoices
from bench.treatment.pressing.run import PressRun, set_up
from bench.treatment.pressing.water import mean_after_night
from bench.uncertainty import Measured
from bench.units import Q_

WRONG = {
    "by-the-clock": "let it go by the clock, as if a night brought it to the humidity of the room",
    "forgot-night": "took the humidity straight after the heat and forgot the night",
    "sheets-alone": "shared the water with the sheets alone and forgot boards and cards",
}
_USUAL_LIMIT = float(RELEASE_LIMIT.to("percent").magnitude)
SETTINGS = (MarkerSetting("limit", "humidity below which the item is let go, %", _USUAL_LIMIT, 50.0, 70.0),)
_KEPT = 256  # items that were followed: a class and its tests ask for the same ones again
_MOST = 6
"""Changes of sheets that are counted to tell how many are likely needed."""


def draw_press(rng: np.random.Generator) -> PressingChoices:
    """Draw a press and its night; leaves of this paper were weighed in the chamber before."""
    damp = float(rng.integers(82, 91))
    ratio = float(rng.uniform(0.035, 0.055))
    room = float(rng.integers(42, 51))
    return PressingChoices(
        load=Range.of((20.0, 16.0, 24.0), "kPa"),
        item_humidity=Range.of((damp, damp - 2, damp + 2), "percent"),
        platen_temperature=Q_(float(rng.integers(52, 61)), "degC"),
        room_temperature=Q_(float(rng.integers(19, 23)), "degC"),
        room_humidity=Q_(room, "percent"),
        dwell=Q_(60.0 * float(rng.integers(8, 16)), "s"),
        night=Q_(float(rng.integers(11, 16)), "hour"),
        interval=int(rng.choice((4, 6, 8))),
        boards=int(rng.integers(1, 3)),
        changes=0,
        transport_ratio=Range.of((ratio, ratio / 1.2, ratio * 1.2), ""),
        isotherm_scale=Range.of((1.0, 0.93, 1.08), ""),
        weighed="an earlier number",
    )


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Follow the water through heat and night, and count the changes of sheets that are still to come."""
    limit_percent = float(with_usual(SETTINGS, settings)["limit"])
    choices = replace(
        draw_press(drawn.rng), measured=drawn.measured, release_limit=Q_(limit_percent, "percent")
    )
    thicknesses = Thicknesses(text_block=drawn.measure("text block"))
    run = set_up(drawn.item, thicknesses, choices)
    right, hot, needed = _follow(drawn.item, thicknesses.text_block, choices)
    rest = float(right.value.magnitude)
    damp, room, limit = (
        float(given.to("percent").magnitude)
        for given in (choices.item_humidity.value, choices.room_humidity, choices.release_limit)
    )
    share = _share_of_sheets(run)
    alone = (damp + share * room) / (1 + share)
    drank = ((damp - rest) / (rest - room) - share) / share  # of what the sheets did, by the same mixing
    sheets = sum(layer.count for layer in run.stack.of(Role.INTERLEAF))
    return Solution(
        right=right.value,
        holds=right,
        wrong=(
            WrongWay("by-the-clock", Q_(room, "percent"), _say_clock(rest, room)),
            WrongWay("forgot-night", Q_(hot, "percent"), _say_forgot(hot, rest)),
            WrongWay("sheets-alone", Q_(alone, "percent"), _say_alone(alone, rest)),
        ),
        comes_of=partial(_comes_of, rest, (room, damp)),
        look=(
            *drawn.look,
            ("leaves from the chamber", f"{damp:.0f} % RH, by weighing"),
            (
                "sheets",
                f"{sheets} of copy paper, one after every {choices.interval} leaves, {100 * share:.0f} % of "
                "the mass of the item",
            ),
            ("on each side", f"{say_boards(choices)} and a card, dry, behind a release sheet"),
            (
                "an earlier night in this press",
                f"cards and boards took up {drank:.1f} times what the sheets did",
            ),
            ("room, sheets and boards", f"{room:.0f} % RH"),
            ("heat", f"{choices.dwell.to('min').magnitude:.0f} min under the platen, then off"),
            ("night", f"{choices.night.to('hour').magnitude:.0f} h in the closed press, nothing changed"),
            ("let go below", f"{limit:.0f} % RH{_say_limit(limit)}"),
        ),
        steps=(
            f"Straight after the heat the water is still there: {hot:.0f} %. A closed press lets next to "
            "nothing out.",
            f"In the night the sheets drink. Shared with them alone the leaves would come from {damp:.0f} to "
            f"{alone:.0f} %.",
            f"Cards and boards drink too, slowly, through cover and release sheet: {drank:.1f} times what "
            f"the sheets do. So {(1 + drank) * share:.1f} times the item's own mass shares its water.",
            f"Nothing leaves the press, so they cannot come to the room's {room:.0f} %.",
            f"After the night the leaves stand at {right.say('percent')}. {_say_needed(needed, limit)}",
        ),
        facts={
            "rest": right.say("percent"),
            "hot": f"{hot:.0f} %",
            "room": f"{room:.0f} %",
            "limit": f"{limit:.0f} %",
            "needed": _say_needed(needed, limit),
        },
        plan=ToPress(drawn.item, thicknesses, replace(choices, changes=_MOST if needed is None else needed)),
    )


@lru_cache(maxsize=_KEPT)
def _follow(item: Item, block: Measured, choices: PressingChoices) -> tuple[Range, float, int | None]:
    """Give leaves after the night, after the heat (percent), and changes likely needed; kept, it is dear."""
    run = set_up(item, Thicknesses(text_block=block), choices)
    _, likely = run.to_night[0]
    return mean_after_night(run), 100 * likely.after("hot", "activity", "mean"), _count_changes(run)


def _share_of_sheets(run: PressRun) -> float:
    return float((run.stack.mass(Role.INTERLEAF) / run.stack.mass(Role.LEAF, Role.COVER)).to("").magnitude)


def _count_changes(run: PressRun) -> int | None:
    """Count the changes that likely bring every leaf below the limit; None if more than are followed."""
    phases = run.phases(_MOST)
    names = [phase.name for phase in phases]
    likely = follow(run.course(*phases))
    return changes_until(likely, names[names.index("night") :], limit=run.choices.release_limit)


def _say_limit(limit: float) -> str:
    return (
        ", as museums ask for old staples" if round(limit, 6) == _USUAL_LIMIT else ", the rule of this bench"
    )


def _say_needed(needed: int | None, limit: float) -> str:
    if needed == 0:
        return f"All leaves are likely below {limit:.0f} %: weigh it, and let it go."
    count = f"more than {_MOST} changes" if needed is None else f"{needed} change{'s' if needed > 1 else ''}"
    return f"To bring every leaf below {limit:.0f} % likely takes {count} of dry sheets."


def _comes_of(rest: float, ends: tuple[float, float], reply: Reply) -> str:
    taken, (room, damp) = number_of(reply, "percent"), ends
    if not room <= taken <= damp:
        return (
            "Nothing leaves a closed press and nothing comes in: the leaves stay between the sheets' "
            f"{room:.0f} % and the {damp:.0f} % that they came with."
        )
    if taken < rest:
        return _say_clock(rest, taken)
    return (
        f"The leaves are {taken - rest:.0f} points drier than you think. You change sheets more often than "
        "it needs, and every change lifts each leaf once by its fold and staples."
    )


def _say_clock(rest: float, room: float) -> str:
    return (
        f"It would come out {rest - room:.0f} points damper than you think and dry on the bench, free and "
        "from one side: it cockles within the hour, and all the pressing was for nothing."
    )


def _say_forgot(hot: float, rest: float) -> str:
    return (
        f"You count {hot - rest:.0f} points that are in the sheets already. You open a warm press to change "
        "sheets, and leaves that are damp and hot stretch and tear where you lift them."
    )


def _say_alone(alone: float, rest: float) -> str:
    return (
        f"Boards and cards took {alone - rest:.0f} points more. You change sheets more often than it needs, "
        "and every change lifts each leaf once by its fold and staples."
    )


MARKER = Marker(
    question=Question(ReplyKind.NUMBER, "After the night the leaves stand on average at", "percent"),
    solve=solve,
    wrong=WRONG,
    picture="let-go",
    settings=SETTINGS,
)
