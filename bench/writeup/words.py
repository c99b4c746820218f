"""What the keys of a record are called in a report: stages, names of planned values, tables."""

from __future__ import annotations

from bench.treatment.review.comparison import Agreement
from bench.units import join_words

_STAGES = {
    "intake": "examination",
    "cleaning": "dry cleaning",
    "humidity": "humidifying",
    "buffering": "interleaving",
    "pressing": "pressing",
    "review": "review",
    "writeup": "report",
}
AGREEMENTS = {
    Agreement.AGREES: "as planned",
    Agreement.HIGHER: "more than planned",
    Agreement.LOWER: "less than planned",
    Agreement.UNKNOWN: "cannot be judged",
}
_UNITS_IN_NAMES = ("_mm", "_um", "_gsm", "_g", "_n", "_min")


def say_stage(stage: str, cycle: object = 0) -> str:
    """Name a stage with its cycle.

    Examples
    --------
    >>> say_stage("humidity", 2), say_stage("intake", 0)
    ('humidifying, cycle 2', 'examination')
    """
    name = _STAGES.get(stage, stage)
    number = int(str(cycle))
    return f"{name}, cycle {number}" if number else name


def say_cycles(cycles: list[int]) -> str:
    """Name cycles, for a table in which several share a row.

    Examples
    --------
    >>> say_cycles([1]), say_cycles([1, 2]), say_cycles([0])
    ('cycle 1', 'cycles 1 and 2', '')
    """
    numbers = [str(cycle) for cycle in dict.fromkeys(cycles) if cycle]
    if not numbers:
        return ""
    return f"{'cycle' if len(numbers) == 1 else 'cycles'} {join_words(numbers)}"


def say_column(column: str) -> str:
    """Name a column of a table without its underscores and without the unit in its name.

    Examples
    --------
    >>> say_column("taken_at"), say_column("width_mm")
    ('taken at', 'width')
    """
    for unit in _UNITS_IN_NAMES:
        column = column.removesuffix(unit)
    return column.replace("_", " ")
