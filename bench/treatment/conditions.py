"""Conditions: what a finding at intake forbids or asks for in the stages that follow.

A gate writes them, a later stage reads them: cleaning whether more than a brush may touch the
surface, humidity how damp the air may be, pressing whether heat may reach the spine.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from bench.units import Quantity, to_float, to_humidity


class Kind(StrEnum):
    """What a condition is about; later stages ask by kind."""

    MAX_HUMIDITY = "highest relative humidity"
    NO_HUMIDITY = "no humidity"
    NO_HEAT = "no heat"
    NON_STICK = "non-stick sheet"
    TEST_FIRST = "test first"
    BRUSH_ONLY = "brush only"
    SCREENED_SUCTION = "screened suction and respirator"
    LIGHT_HANDLING = "open no further than it goes by itself"
    CUT_OUT = "cut-out over the prongs"
    BARRIER = "barrier at the staples"
    LOOK_AT = "look each time"
    LEAVE_ALONE = "leave alone"
    NOT_YET = "not before intake decides to treat"


@dataclass(frozen=True)
class Condition:
    """One thing that is forbidden or asked for further on.

    Attributes
    ----------
    kind : Kind
        What it is about.
    stages : tuple of str
        The stages that must heed it.
    words : str
        The condition as it is read aloud, without a full stop.
    where : str
        ``"cover"``, ``"spine"``, ``"staples"``, ``"leaves"``, ``"whole item"``, ...
    limit : Quantity or None
        Highest relative humidity, for that kind.
    source : str
        Key of a source.
    gate : str
        Id of the gate that set it.
    """

    kind: Kind
    stages: tuple[str, ...]
    words: str
    where: str = "whole item"
    limit: Quantity | None = None
    source: str = "common-practice"
    gate: str = ""

    def __post_init__(self) -> None:
        if self.kind is Kind.MAX_HUMIDITY and self.limit is not None:
            to_humidity(self.limit, field="highest relative humidity")


def conditions_for(conditions: Iterable[Condition], stage: str) -> tuple[Condition, ...]:
    """Give the conditions that a stage must heed, in their order."""
    return tuple(condition for condition in conditions if stage in condition.stages)


def has_condition(conditions: Iterable[Condition], kind: Kind, *, where: str | None = None) -> bool:
    """Tell whether a kind of condition stands, for the whole item or for the place asked for.

    Examples
    --------
    >>> cold = Condition(Kind.NO_HEAT, ("pressing",), "No heat at the spine", "spine")
    >>> has_condition([cold], Kind.NO_HEAT), has_condition([cold], Kind.NO_HEAT, where="cover")
    (True, False)
    """
    return any(c.kind is kind and where in (None, c.where) for c in conditions) or (
        where not in (None, "whole item") and has_condition(conditions, kind, where="whole item")
    )


def highest_humidity(conditions: Iterable[Condition]) -> Condition | None:
    """Give the strictest limit on relative humidity, or None if none stands."""
    limits = [c for c in conditions if c.kind is Kind.MAX_HUMIDITY and c.limit is not None]
    return min(limits, key=lambda c: to_float(c.limit, "percent", field="limit")) if limits else None  # type: ignore[arg-type]


def say_condition(condition: Condition) -> str:
    """Write a condition as a sentence with its limit.

    Examples
    --------
    >>> from bench.units import Q_
    >>> damp = Condition(Kind.MAX_HUMIDITY, ("humidity",), "Humidity at most", limit=Q_(80, "percent"))
    >>> say_condition(damp)
    'Humidity at most 80 %.'
    """
    if condition.limit is None:
        return f"{condition.words}."
    percent = to_float(condition.limit, "percent", field=condition.kind.value)
    return f"{condition.words} {percent:.0f} %."
