"""Where the sheets lie: after which leaves, so that the text block is raised evenly from front to back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import accumulate, pairwise
from typing import Any

from bench.item import Format, Item
from bench.practice.drawing import Drawn
from bench.practice.settings import MarkerSetting, with_usual
from bench.practice.shapes import Question, Reply, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.treatment.interleaves import (
    CLOSEST,
    LADDER,
    WIDEST,
    Placement,
    group_leaves,
    place_interleaves,
    say_spacing,
)
from bench.units import say_count

WRONG = {
    "pages-for-leaves": "counted pages for leaves",
    "front-cover-counted": "counted the front cover as the first leaf",
    "cover-as-well": "gave the cover a sheet once more",
    "to-the-middle": "gave every sheet to the middle",
    "counted-off": "counted off from the front and left the rest to the back",
}
SHEET_MM = 0.12  # 24 lb copy paper: common practice, no source


SETTINGS = (
    MarkerSetting("spacings", "most leaves between two sheets, cycle after cycle", LADDER, CLOSEST, WIDEST),
)


@dataclass(frozen=True)
class LaidSheets:
    """The sheets of an item as a plan lays them.

    Attributes
    ----------
    item : Item
        What they lie in.
    interval : int
        Most leaves between two sheets.
    placements : tuple of Placement
        Front to back, those under the covers with them.
    """

    item: Item
    interval: int
    placements: tuple[Placement, ...]

    @property
    def inner(self) -> tuple[int, ...]:
        """After which leaves sheets lie, those under the covers left out."""
        return tuple(each.after_leaf for each in self.placements[1:-1])

    @property
    def groups(self) -> tuple[int, ...]:
        """Leaves between two sheets, front to back."""
        return group_leaves(self.item, self.interval)


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Place the sheets as buffering does; the cycle that sets the spacing is drawn."""
    steps = with_usual(SETTINGS, settings)["spacings"]
    cycle = int(drawn.rng.integers(1, len(steps) + 1))
    interval, item = steps[cycle - 1], drawn.item
    laid = LaidSheets(item, interval, place_interleaves(item, interval))
    as_good = tuple(way for way in _as_good(laid) if way != laid.inner)
    return Solution(
        right=laid.inner,
        near=1,
        also_right=as_good,
        wrong=_wrong_ways(laid, as_good),
        comes_of=partial(_comes_of, laid),
        look=(*drawn.look, ("leaves of the text block", f"{item.leaves}"), _say_cycle(cycle, interval)),
        steps=_steps(laid),
        facts={
            "leaves": f"{item.leaves}",
            "places": _say(laid.inner),
            "interval": f"{interval}",
            "spacing": say_spacing(laid.groups),
            "sheets": f"{len(laid.placements)}",
        },
        plan=laid,
    )


def _say_cycle(cycle: int, interval: int) -> tuple[str, str]:
    return (f"spacing of cycle {cycle}", f"at most {interval} leaves between two sheets")


def _say(places: Sequence[int]) -> str:
    return " ".join(f"{place}" for place in places)


def _as_good(laid: LaidSheets) -> list[tuple[int, ...]]:
    """Give what is as good: groups of the same sizes in another order, and a rest that is no mere strip.

    A saddle-stitched half is mirrored in itself; everywhere else the larger groups may lie at the back.
    """
    groups = laid.groups
    if laid.item.format is Format.SADDLE_STITCHED:
        half = len(groups) // 2
        front, back = groups[:half], groups[half:]
        halves = [(a, b) for a in (front, front[::-1]) for b in (back, back[::-1])]
        return [_places((*a, *b)) for a, b in halves]
    as_good = [_places(groups[::-1])]
    counted = _counted_off(laid)
    if 2 * (laid.item.leaves - counted[-1]) >= laid.interval:
        as_good.append(counted)
    return as_good


def _places(groups: Sequence[int]) -> tuple[int, ...]:
    return tuple(accumulate(groups))[:-1]


def _counted_off(laid: LaidSheets) -> tuple[int, ...]:
    return tuple(range(laid.interval, laid.item.leaves, laid.interval))


def _steps(laid: LaidSheets) -> tuple[str, ...]:
    item, groups = laid.item, laid.groups
    if item.format is Format.SADDLE_STITCHED:
        half = item.leaves // 2
        start = f"A sheet must lie at the centre spread, over the prongs: so divide twice {half} leaves."
        share = f"Each half of {half} takes {len(groups) // 2} groups of at most {laid.interval}."
    else:
        start = f"The block of {item.leaves} leaves is divided from cover to cover, and nothing is left over."
        share = f"At most {laid.interval} a group makes {len(groups)} groups, as few as will do."
    return (
        start,
        share,
        f"As equal as they come, they are groups of {_say(groups)}.",
        f"Adding them up, a sheet lies after {_say(laid.inner)}; one more lies under each cover.",
    )


def _wrong_ways(laid: LaidSheets, as_good: Sequence[tuple[int, ...]]) -> tuple[WrongWay, ...]:
    item, inner = laid.item, laid.inner
    doubled = LaidSheets(
        item, laid.interval, place_interleaves(replace(item, leaves=2 * item.leaves), laid.interval)
    )
    found = [
        ("pages-for-leaves", doubled.inner, _harm_pages(laid, doubled)),
        ("front-cover-counted", tuple(place + 1 for place in inner), _harm_shift(laid)),
        ("cover-as-well", (*inner, item.leaves), _HARM_TWICE),
        ("to-the-middle", (item.leaves // 2,), _harm_middle(laid)),
        ("to-the-middle", _side_by_side(laid), _harm_middle(laid)),
    ]
    counted = _counted_off(laid)
    if counted not in (inner, *as_good):
        found.append(("counted-off", counted, _harm_rest(laid, counted)))
    answers = [answer for _, answer, _ in found]
    return tuple(
        WrongWay(key, answer, harm)
        for key, answer, harm in found
        if answer not in (inner, *as_good) and answers.count(answer) == 1
    )


def _side_by_side(laid: LaidSheets) -> tuple[int, ...]:
    """Give the places of as many sheets one leaf apart, about the middle."""
    count = len(laid.inner)
    first = laid.item.leaves // 2 - count // 2
    return tuple(range(first, first + count))


def _comes_of(laid: LaidSheets, reply: Reply) -> str:
    """Say what comes of other places: what is worst in them."""
    assert isinstance(reply, tuple)
    item, places = laid.item, sorted(int(place) for place in reply)
    if places[-1] > item.leaves:
        return f"The block ends at leaf {item.leaves}: nothing lies after leaf {places[-1]}."
    if item.format is Format.SADDLE_STITCHED and item.leaves // 2 not in places:
        return _NO_CENTRE
    bounds = (0, *places, item.leaves)
    widest, before = max((after - before, before) for before, after in pairwise(bounds))
    if widest > laid.interval:
        where = f"After leaf {before}" if before else "From the front"
        return (
            f"{where} come {widest} leaves without a sheet, where {laid.interval} are the most: they have no "
            "dry paper near them, dry last and cockle."
        )
    more = len(places) - len(laid.inner)
    if more > 0:
        return (
            f"No leaf is too far from a sheet, but {say_count(more, 'sheet')} more than it takes raise the "
            f"block by {SHEET_MM * more:.1f} mm, which pulls at the binding."
        )
    return (
        "No leaf is too far from a sheet, but the groups are not as equal as they come: the block stands "
        "fuller where sheets lie closer, takes the load there, and is pressed unevenly."
    )


def _harm_pages(laid: LaidSheets, doubled: LaidSheets) -> str:
    beyond = sum(place >= laid.item.leaves for place in doubled.inner)
    if beyond == 0:
        return "Twice as many sheets as the block can hold wrench the binding when the press closes."
    return (
        f"The block ends at leaf {laid.item.leaves}: {beyond} of your {len(doubled.inner)} sheets find no "
        "place. Pushed in anyhow, twice as many as planned wrench the binding when the press closes."
    )


def _harm_shift(laid: LaidSheets) -> str:
    if laid.item.format is Format.SADDLE_STITCHED:
        return (
            "The sheet meant for the centre spread lies a leaf beside it. The bare prongs press into leaf "
            f"{laid.item.leaves // 2} and its neighbour and mark them."
        )
    return (
        "Every sheet lies a leaf too far back. Nothing tears, but slip and block no longer agree, and who "
        "changes the sheets hunts for each."
    )


_HARM_TWICE = (
    "Under the back cover two sheets lie on one another. Nothing tears, but cover and staples are raised "
    "with the block, so that the second sheet is spent for nothing."
)


_NO_CENTRE = "No sheet lies at the centre spread: the bare prongs mark the leaf on them under load."


def _harm_middle(laid: LaidSheets) -> str:
    lift = SHEET_MM * len(laid.inner)
    return (
        f"In one place {len(laid.inner)} sheets make a step of about {lift:.1f} mm: leaves beside it are "
        "bent over its edge, and front and back have no dry paper near them and cockle."
    )


def _harm_rest(laid: LaidSheets, counted: Sequence[int]) -> str:
    rest = laid.item.leaves - counted[-1]
    leaves = "leaf" if rest == 1 else "leaves"
    if laid.item.format is Format.SADDLE_STITCHED:
        return _NO_CENTRE
    return (
        f"Between the last two sheets there would be {rest} {leaves}: the back stands fuller than the front, "
        "takes the load first, and dries first and curls."
    )


MARKER = Marker(
    question=Question(ReplyKind.PLACES, "A sheet lies after leaf"),
    solve=solve,
    wrong=WRONG,
    picture="places",
    settings=SETTINGS,
    sometimes=frozenset({"counted-off"}),
)
