"""The written rules that decide whether a treatment is repeated: thresholds, words and sources.

No published rule was found for repeating a humidify-and-press cycle.  These are the workbook's
own, each with the source of its threshold, and every one of them may be edited.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from bench.errors import BadValue, NotFound
from bench.physics.size_change import PERMANENT_CHANGE, STOP_LIMIT
from bench.treatment.facts import CLEARANCE, GAIN_IN_THICKNESS, THICKNESS_WITH_SHEETS
from bench.treatment.interleaves import LADDER
from bench.units import Q_, Quantity, to_float


class ReviewDecision(StrEnum):
    """What to do after a cycle."""

    FEWER = "repeat with fewer interleaves"
    CHANGED = "repeat with one thing changed"
    REPEAT = "repeat as planned"
    HOLD = "hold"
    STOP = "stop"
    REFER = "refer"


@dataclass(frozen=True)
class Threshold:
    """A number a rule goes by.

    Attributes
    ----------
    value : Quantity
    words : str
        The rule in a sentence.
    source : str
        Key of a source, ``"common-practice"``, ``"memory"`` or ``"operator"``.
    """

    value: Quantity
    words: str
    source: str


@dataclass(frozen=True)
class Rules:
    """Every threshold of the review, with its words and its source.

    Attributes
    ----------
    tolerated_severity : Threshold
        Grade of a defect, 0 to 3, that is left alone.
    least_gain : Threshold
        Share of the first cycle's improvement that the last cycle must have brought.
    most_growth, most_shortening : Threshold
        Change of an edge in percent of its size before treatment.
    most_extra_mass : Threshold
        Mass above the mass before treatment, in percent, that still counts as dry.
    least_rest : Threshold
        At room conditions between two cycles.
    most_cycles : Threshold
        Cycles in all.
    follow_up : tuple of Threshold
        When the finished item is looked at again, counted from the end.
    ladder : tuple of int
        Leaves between sheets, cycle after cycle.
    held_values : tuple of str
        Keys of planned values, or of families of them, that must not have come out lower before sheets are
        spread wider.
    stop_marks, refer_marks : tuple of str
        New marks that stop the treatment, or send the item to someone qualified.
    """

    tolerated_severity: Threshold = Threshold(
        Q_(1, ""), "A defect in scope at this grade or below is left alone.", "memory"
    )
    least_gain: Threshold = Threshold(
        Q_(30, "percent"),
        "The last cycle must have brought at least this share of the first cycle's improvement.",
        "memory",
    )
    most_growth: Threshold = Threshold(
        STOP_LIMIT,
        "No edge may have grown by this much in all: half of the largest growth published, 1 %.",
        "munoz-vinas2009",
    )
    most_shortening: Threshold = Threshold(
        -1 * PERMANENT_CHANGE["along"].low,
        "No edge may have become shorter than has been published for drying under pressure.",
        "munoz-vinas2009",
    )
    most_extra_mass: Threshold = Threshold(
        Q_(1, "percent"),
        "The item may stay this much heavier than before (hysteresis of paper); above that it is still damp.",
        "tappi-t402",
    )
    least_rest: Threshold = Threshold(
        Q_(24, "hour"), "The item rests at least this long at room conditions between two cycles.", "memory"
    )
    most_cycles: Threshold = Threshold(
        Q_(3, ""), "No more cycles than the ladder of spacings has rungs.", "common-practice"
    )
    follow_up: tuple[Threshold, ...] = (
        Threshold(Q_(7, "day"), "Look for warp, odour and rust after one week.", "memory"),
        Threshold(Q_(30, "day"), "Look for warp, odour and rust after one month.", "memory"),
    )
    ladder: tuple[int, ...] = LADDER
    held_values: tuple[str, ...] = (CLEARANCE.key, THICKNESS_WITH_SHEETS.key, GAIN_IN_THICKNESS.key)
    stop_marks: tuple[str, ...] = ("sheen", "staple print", "new crease", "rust")
    refer_marks: tuple[str, ...] = ("set-off", "glue", "sticking", "clouding", "mould")

    def __post_init__(self) -> None:
        # field, unit, lowest, highest
        for name, unit, low, high in (
            ("tolerated_severity", "dimensionless", 0, 3),
            ("least_gain", "percent", 0, 100),
            ("most_growth", "percent", 0, 2),
            ("most_shortening", "percent", 0, 2),
            ("most_extra_mass", "percent", 0, 5),
            ("least_rest", "hour", 0, 1000),
            ("most_cycles", "dimensionless", 1, 10),
        ):
            value: Threshold = getattr(self, name)
            to_float(value.value, unit, field=f"rule “{name.replace('_', ' ')}”", low=low, high=high)
        if not self.ladder or any(b <= a for a, b in zip(self.ladder, self.ladder[1:], strict=False)):
            allowed = "rising whole numbers, such as 6, 8, 10"
            raise BadValue("ladder of spacings", self.ladder, allowed, "Each rung needs more leaves")

    def edited(self, **values: Quantity) -> Rules:
        """Give rules with some thresholds changed by the operator, their words kept.

        Examples
        --------
        >>> strict = DEFAULT_RULES.edited(least_gain=Q_(50, "percent"))
        >>> print(f"{strict.least_gain.value:~P}", strict.least_gain.source)
        50 % operator
        """
        known = [name for name, old in vars(self).items() if isinstance(old, Threshold)]
        for name in values:
            if name not in known:
                raise NotFound("rule", repr(name), ", ".join(known), "Choose one of these rules")
        changed: dict[str, Any] = {
            name: Threshold(value, getattr(self, name).words, "operator") for name, value in values.items()
        }
        return replace(self, **changed)

    def thresholds(self) -> dict[str, Threshold]:
        """Give every threshold by its name in words."""
        named = {n.replace("_", " "): t for n, t in vars(self).items() if isinstance(t, Threshold)}
        return named | {f"follow-up {n}": t for n, t in enumerate(self.follow_up, start=1)}


DEFAULT_RULES = Rules()
