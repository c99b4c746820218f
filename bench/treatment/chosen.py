"""The choices of every stage that declares them, to be found by key and told in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import MISSING, fields

from bench.treatment.buffering.choices import BufferingChoices, LoadPath
from bench.treatment.choices import Choice, declared
from bench.treatment.entries import Entry
from bench.treatment.humidity.plan import HumidityChoices
from bench.treatment.pressing.plan import PressingChoices
from bench.units import UnitChoice

DECLARED: dict[str, tuple[type, ...]] = {
    "humidity": (HumidityChoices,),
    "buffering": (BufferingChoices, LoadPath),
    "pressing": (PressingChoices,),
}
"""What a stage asks, by its name."""


def say_entry(stage: str, entry: Entry, units: UnitChoice) -> str:
    """Say in the operator's units what was entered for a stage.

    Parameters
    ----------
    stage : str
        Whose plan it was entered for.
    entry : Entry
        As the record keeps it; one that is declared no longer, or by hand, is said as it was kept.
    units : UnitChoice
        Of the operator.
    """
    for kind in DECLARED.get(stage, ()):
        for choice in declared(kind).values():
            if entry.is_of(choice.key, choice.label):
                return choice.say(entry.kept, units)
    return entry.kept or "left empty"


def usual_choices(stage: str, units: UnitChoice) -> Iterator[tuple[Choice, str]]:
    """Give the choices of a stage, each with what is usual where nobody says otherwise.

    Parameters
    ----------
    stage : str
        Its name, a key of :data:`DECLARED`.
    units : UnitChoice
        Of the operator.
    """
    for kind in DECLARED[stage]:
        usual = {each.name: each.default for each in fields(kind)}
        for name, choice in declared(kind).items():
            yield choice, "–" if usual[name] is MISSING else choice.say_kept(usual[name], units)
