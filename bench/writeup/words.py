"""What the keys of a record are called in a report: stages, names of planned values, tables."""

from __future__ import annotations

from bench.treatment.comparison import Agreement

_STAGES = {
    "intake": "examination",
    "cleaning": "dry cleaning",
    "humidity": "humidifying",
    "buffering": "interleaving",
    "pressing": "pressing",
    "review": "review",
    "writeup": "report",
}
# Planned values whose names are terse: their keys are those of the plans.
_VALUES = {
    "humidity of the chamber at the end": "humidity in the chamber at the end",
    "hygrometer shows at the end": "hygrometer at the end of the chamber",
    "hours in the chamber": "time in the chamber",
    "mass gain": "mass gained in the chamber",
    "gain in thickness": "thickness added by the sheets",
    "thickness with sheets": "thickness with the sheets in",
    "sheets": "sheets put in",
    "interleaves": "sheets taken out at last",
    "air temperature": "temperature in the chamber",
    "middle leaf after the dwell": "middle leaf at the end of heating",
    "near leaf after the dwell": "leaf nearest the platen at the end of heating",
    "far leaf after the dwell": "leaf farthest from the platen at the end of heating",
    "dwell": "time of heating",
    "width grows by": "growth in width",
    "height grows by": "growth in height",
}
# What the doses count, by the planned value that they are read from.
_DOSES = {
    "mould: growth index": "growth of mould, by a model",
    "mould: days used, strict rule": "time allowed for mould, strict rule",
    "mould: days used, milder rule": "time allowed for mould, milder rule",
    "mould: hours on the clock": "time damp and warm enough for mould",
    "staples wet, above 80 % RH": "staples above 80 % RH",
    "staples damp, above 60 % RH": "staples above 60 % RH, by museum advice",
    "ageing at 20 °C and 50 %, first law": "ageing, first law",
    "ageing at 20 °C and 50 %, second law": "ageing, second law",
    "highest humidity at the cover": "humidity at the coated cover",
    "highest temperature at the cover": "temperature at the coated cover",
    "spine glue above softening by": "spine glue above its softening",
    "width grows by": "growth in width",
    "height grows by": "growth in height",
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
    *first, last = numbers
    return f"cycles {', '.join(first)} and {last}" if first else f"cycle {last}"


def say_value_name(name: str) -> str:
    """Name a planned value as a reader knows it."""
    return _VALUES.get(name, name)


def say_dose_name(name: str) -> str:
    """Name what a dose counts as a reader knows it."""
    return _DOSES.get(name, name)


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
