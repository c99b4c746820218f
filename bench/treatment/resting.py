"""What a saved plan rests on, and which plans no longer agree with what the record says now.

A plan keeps, key by key, what was handed to it: the item, the readings, what intake asks for, the plans
before it.  Held against what the record hands on now, the same keys tell what has changed since.  Rows
come as mappings of column to value; a blank is None or NaN.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bench.errors import BenchError
from bench.item import Item
from bench.treatment import facts
from bench.treatment.actual.followed import follow_in_use
from bench.treatment.buffering.choices import PACK, PACKS
from bench.treatment.calibration import CORRECTION, Checks, known_correction
from bench.treatment.clock.schedule import STAGES
from bench.treatment.conditions import conditions_for
from bench.treatment.facts import Fact, find_fact
from bench.treatment.intake.planning import decide_intake
from bench.treatment.intake.rows import read_findings
from bench.treatment.measured import PRESS, constant_of
from bench.treatment.plan import PlannedValue, shown_unit
from bench.treatment.review.levers import NEXT
from bench.treatment.rows import Row, is_given, text_of
from bench.units import MILLIMETRES, Q_, UnitChoice, unit_label

Tables = Mapping[str, Sequence[Row]]
"""Current rows by the name of their table."""

RESTS = "rests on: "
"""How the name of a row of ``plans`` begins that keeps what the plan rests on."""

NO_LONGER = "no longer planned"
"""What a row of ``plans`` or ``steps`` says once a later plan does without it."""

NOTEBOOKS = dict(zip(STAGES, ("01", "02", "03", "04", "05", "06", "07"), strict=True))
"""The notebook in which each stage is planned, by its number."""

# Two values agree that differ by less than anybody reads off an instrument: the same reading in
# another unit, or the same plan worked out on another machine.
_SAME = 5e-4

_PRESSED = ("humidity", "buffering", "pressing")
_ALL = ("cleaning", *_PRESSED)
_FACTS: dict[str, tuple[str, tuple[str, ...]]] = {
    "format": ("format", ("intake", *_ALL)),
    "width_mm": ("width", _ALL),
    "height_mm": ("height", _ALL),
    "count": ("leaves", _ALL),
    "cover_leaves": ("cover leaves", _ALL),
    "text_paper": ("text paper", _PRESSED),
    "cover_paper": ("cover paper", _PRESSED),
    "cover_coated": ("coated cover", ("intake", *_ALL)),
    "glue": ("glue", ("intake", "buffering", "pressing")),
    "mass_g": ("mass", ("humidity", "pressing")),
}
# What is taken where the description leaves a blank, as the item itself takes it.
_USUAL = {
    "cover_leaves": 2,
    "text_paper": "newsprint",
    "cover_paper": "coated cover",
    "cover_coated": "unknown",
    "glue": "unknown",
}
_UNITS_OF = {"width_mm": "mm", "height_mm": "mm", "mass_g": "g"}

_CHAMBER = (facts.LEAVES_HUMIDITY, facts.SOURCE_HUMIDITY, facts.HOURS_IN_CHAMBER)
_DECIDED = {
    "humidity": ("time_in_chamber",),
    "buffering": ("interval", "pressure"),
    "pressing": ("platen", "dwell"),
}
_BUFFERED = (facts.SHEETS, facts.SPACING, facts.LOAD, facts.CHANCE_LOADED)


def rests_on(stage: str, cycle: int, tables: Tables, item: Item | None = None) -> dict[str, str]:
    """Give what the record hands to a plan, as it stands.

    Parameters
    ----------
    stage, cycle : str, int
        Of the plan.
    tables : mapping of str to rows
        Current rows.
    item : Item, optional
        Needed for what intake asks of the stage; without it that is left out.

    Returns
    -------
    dict of str to str
        ``"buffering 1: spacing"`` to ``"8"``, ``"thickness: text block"`` to ``"4597.4 um"``, ...
    """
    found = dict(_facts(stage, tables))
    found |= _staples(tables) if stage in ("intake", *_PRESSED) else {}
    if stage in _PRESSED:
        found |= _thickness(cycle, tables, whole=stage == "buffering")
    if stage == "intake":
        found |= {**_tests(tables), **_defects(tables, "before", 0)}
    if stage == "cleaning":
        found |= _defects(tables, "before", 0)
    if stage != "intake" and item is not None:
        found |= _conditions(stage, tables, item)
    if stage == "humidity":
        found |= _correction(tables)
    if stage in ("humidity", "pressing"):
        for earlier in range(1, cycle):
            found |= _planned(tables, "humidity", earlier, (facts.MOULD_CLOCK,))
            found |= _planned(tables, "pressing", earlier, (facts.MOULD_CLOCK,))
            found |= _logged(tables, earlier, (facts.MOULD_CLOCK.key,))
    if stage in _DECIDED:
        found |= _planned(tables, "review", cycle - 1, [NEXT[name] for name in _DECIDED[stage]])
    if stage == "pressing":
        found |= _planned(tables, "humidity", cycle, (*_CHAMBER, facts.MOULD_CLOCK))
        found |= _logged(tables, cycle)
        found |= _planned(tables, "buffering", cycle, _BUFFERED)
        found |= _sheet(tables, cycle)
    if stage in _DECIDED:
        found |= _measured(stage, cycle, tables)
    if stage == "review":
        for quantity in ("thickness", "width", "height", "mass"):
            found |= _readings(quantity, "review", cycle, tables)
        found |= _defects(tables, "after", cycle)
    return found


def _facts(stage: str, tables: Tables) -> Iterator[tuple[str, str]]:
    row = tables["treatment"][-1]
    for column, (name, stages) in _FACTS.items():
        value: Any = row[column] if is_given(row.get(column)) else _USUAL.get(column)
        if stage not in stages or value is None:
            continue
        if column == "count":  # pages and leaves are the same item
            leaves = float(value) / (2 if row.get("counted_as") == "pages" else 1)
            yield f"item: {name}", _write(leaves)
        elif column in _UNITS_OF:
            yield f"item: {name}", _write(value, _UNITS_OF[column])
        else:
            yield f"item: {name}", _write(value)


def _staples(tables: Tables) -> dict[str, str]:
    columns = ("from_head_mm", "from_spine_mm", "prong", "rust")
    return {
        f"item: {row['staple']} staple": ", ".join(_write(row[name]) for name in columns)
        for row in tables["staples"]
    }


def _thickness(cycle: int, tables: Tables, *, whole: bool) -> dict[str, str]:
    stage, number = ("intake", 0) if cycle <= 1 else ("review", cycle - 1)
    found = _readings("thickness", stage, number, tables)
    return found if whole else {k: v for k, v in found.items() if k == "thickness: text block"}


def _readings(quantity: str, stage: str, cycle: int, tables: Tables) -> dict[str, str]:
    """Give the mean of the readings as they count, place by place, in a unit of its own kind."""
    rows: dict[str, list[Row]] = {}
    for row in tables["readings"]:
        if (row["quantity"], row["stage"], int(row["cycle"])) == (quantity, stage, cycle):
            rows.setdefault(str(row["place"]), []).append(row)
    checks = Checks.in_tables(tables)
    read = {place: checks.correct(found).values for place, found in rows.items()}
    unit = {"mass": "g", "thickness": "um"}.get(quantity, "mm")
    means = {
        place: sum(float(reading.to(unit).magnitude) for reading in values) / len(values)
        for place, values in read.items()
    }
    return {f"{quantity}: {place}": _write(mean, unit) for place, mean in means.items()}


def _tests(tables: Tables) -> dict[str, str]:
    return {f"test: {row['test']}, {text_of(row, 'place')}": str(row["result"]) for row in tables["tests"]}


def _defects(tables: Tables, moment: str, cycle: int) -> dict[str, str]:
    return {
        f"defect: {row['defect']}": f"{row['term']}, {row['face']}, grade {int(row['severity'])}"
        for row in tables["defects"]
        if row["moment"] == moment and int(row["cycle"]) == cycle
    }


def _conditions(stage: str, tables: Tables, item: Item) -> dict[str, str]:
    """Give what intake asks of a stage, worked out from its answers as they stand."""
    try:
        known = read_findings(tables["tests"], tables["defects"], tables["decisions"])
        plan = decide_intake(
            item,
            findings=known.answers,
            tests=known.tests,
            defects=known.defects,
            overrides=known.overrides,
            consent=known.consent,
        )
    except BenchError:  # intake itself says what is wrong with its answers
        return {}
    found: dict[str, str] = {}
    for condition in conditions_for(plan.conditions, stage):
        limit = condition.limit
        said = "asked for" if limit is None else _write(float(limit.to("percent").magnitude), "percent")
        found[f"condition: {condition.kind.value}, {condition.where}"] = said
    return found


def _correction(tables: Tables) -> dict[str, str]:
    known = known_correction(tables["log"], Checks.in_tables(tables))
    return {} if known is None else {f"log: {CORRECTION}": _write(known, "percent")}


MEASURED = "measured"
"""Among the tables: what the bench measured of itself and accepted, a row a constant of something."""


def _measured(stage: str, cycle: int, tables: Tables) -> dict[str, str]:
    """Give what the bench measured of the papers, the glue, the press and the boards of this item."""
    item = tables["treatment"][-1]
    columns = ("text_paper", "cover_paper", "glue")
    own = {str(item[name]) if is_given(item.get(name)) else str(_USUAL[name]) for name in columns}
    used = {
        str(row["material"])
        for row in tables["materials"]
        if (row["stage"], int(row["cycle"])) == (stage, cycle)
    }
    packs = [row["words"] for row in rows_of_plan(tables, stage, cycle).values() if row.get("key") == PACK]
    boards = {name for words in packs for name, _ in PACKS.get(str(words), ())}
    return {
        f"{MEASURED}: {row['key']}, {row['about']}": _write(row["value"], str(row["unit"]))
        for row in tables.get(MEASURED, ())
        if stage in row["stages"] and row["about"] in {*own, *used, *boards, PRESS}
    }


def _planned(tables: Tables, stage: str, cycle: int, wanted: Iterable[Fact]) -> dict[str, str]:
    rows = numbers_of_plan(tables, stage, cycle)
    return {
        f"{stage} {cycle}: {fact.key}": _write(rows[fact.key]["value"], text_of(rows[fact.key], "unit"))
        for fact in wanted
        if fact.key in rows
    }


_LOGGER = "logger"


def _logged(tables: Tables, cycle: int, wanted: Iterable[str] = ()) -> dict[str, str]:
    """Give what the logger of a chamber says in place of its plan, all of it or the wanted keys alone."""
    followed = follow_in_use(tables, cycle)
    values = () if followed is None else followed.values
    keys = set(wanted) or {value.key for value in values}
    return {
        f"{_LOGGER} {cycle}: {value.key}": _write(value.value.to(value.unit).magnitude, value.unit)
        for value in values
        if value.key in keys
    }


def taken_of_logger(rows: Mapping[str, Row], cycle: int) -> tuple[PlannedValue, ...]:
    """Give what of the logger of its chamber a saved press plan took; empty if it took the plan.

    Parameters
    ----------
    rows : mapping of str to row
        Of the press plan, as :func:`rows_of_plan` gives them.
    cycle : int
        Of the plan.
    """
    found = []
    for key, said in kept_rests(rows).items():
        source, _, name = key.partition(": ")
        number = _number(said)
        if source == f"{_LOGGER} {cycle}" and number is not None:
            fact = find_fact(name)
            found.append(PlannedValue(fact, Q_(number, fact.unit)))
    return tuple(found)


def rows_of_plan(tables: Tables, stage: str, cycle: int) -> dict[str, Row]:
    """Give the rows of one plan by their quantity, without what is no longer planned."""
    return {
        str(row["quantity"]): row
        for row in tables["plans"]
        if row["stage"] == stage and int(row["cycle"]) == cycle and row["words"] != NO_LONGER
    }


def numbers_of_plan(tables: Tables, stage: str, cycle: int) -> dict[str, Row]:
    """Give the rows of one plan that hold a number, by the key of their fact."""
    return {
        find_fact(text_of(row, "key"), name).key: row
        for name, row in rows_of_plan(tables, stage, cycle).items()
        if is_given(row["value"])
    }


def _sheet(tables: Tables, cycle: int) -> dict[str, str]:
    """Give the kind of the interleaves, where their spacing is planned too."""
    rows = [
        row
        for row in tables["materials"]
        if (row["stage"], int(row["cycle"]), row["kind"]) == ("buffering", cycle, "interleaf")
    ]
    return {f"buffering {cycle}: kind of sheet": str(rows[-1]["material"])} if rows else {}


def kept_rests(rows: Mapping[str, Row]) -> dict[str, str]:
    """Read back what a saved plan rests on, as :func:`rests_on` gives it.

    Parameters
    ----------
    rows : mapping of str to row
        Of the plan, as :func:`rows_of_plan` gives them.
    """
    return {
        _key_of(name.removeprefix(RESTS)): text_of(row, "words")
        for name, row in rows.items()
        if name.startswith(RESTS)
    }


def _key_of(kept: str) -> str:
    """Give the key of what was kept; a record from before version 3 names planned numbers by label."""
    source, colon, name = kept.partition(": ")
    is_planned = source.partition(" ")[2].isdigit()
    return f"{source}{colon}{find_fact('', name).key}" if is_planned else kept


def _write(value: Any, unit: str = "") -> str:
    """Write a value as it is kept: a number with six digits, as the record keeps plans."""
    if isinstance(value, str) or not is_given(value):
        return str(value) if is_given(value) else ""
    return f"{float(value):.6g} {'' if unit == 'dimensionless' else unit}".strip()


@dataclass(frozen=True)
class ChangedFact:
    """One thing that a plan rests on and that is another now.

    Attributes
    ----------
    key : str
        As in :func:`rests_on`.
    then, now : str
        As kept; empty where there was or is none.
    """

    key: str
    then: str
    now: str


def compare(then: Mapping[str, str], now: Mapping[str, str]) -> tuple[ChangedFact, ...]:
    """List what differs, key by key; numbers that agree to four digits are the same.

    Examples
    --------
    >>> compare({"a": "10", "b": "4597.4 um"}, {"a": "9", "b": "4597.41 um"})
    (ChangedFact(key='a', then='10', now='9'),)
    """
    keys = dict.fromkeys((*then, *now))
    return tuple(
        ChangedFact(key, then.get(key, ""), now.get(key, ""))
        for key in keys
        if not _is_same(then.get(key, ""), now.get(key, ""))
    )


def _is_same(one: str, other: str) -> bool:
    if one == other:
        return True
    pair = _number(one), _number(other)
    if pair[0] is None or pair[1] is None or one.partition(" ")[2] != other.partition(" ")[2]:
        return False
    return abs(pair[0] - pair[1]) <= _SAME * max(abs(pair[0]), abs(pair[1]))


def _number(said: str) -> float | None:
    try:
        return float(said.partition(" ")[0])
    except ValueError:
        return None


def say_changes(changes: Sequence[ChangedFact], units: UnitChoice = MILLIMETRES) -> str:
    """Say what a plan was worked out with and what holds now, source by source.

    Examples
    --------
    >>> say_changes([ChangedFact("buffering 1: spacing", "6", "8")])
    'the buffering plan had leaves between sheets 6 (now 8)'
    """
    by_source: dict[str, list[ChangedFact]] = {}
    for change in changes:
        by_source.setdefault(_source(change.key), []).append(change)
    return "; ".join(_say_source(source, found, units) for source, found in by_source.items())


def _say_source(source: str, changes: Sequence[ChangedFact], units: UnitChoice) -> str:
    if source.endswith(" plan") and all(not change.then for change in changes):
        return f"there was no {source.removeprefix('the ')}"
    if source == _OF_LOGGER and all(not change.then for change in changes):
        return f"no {source.removeprefix('the ')} was in use"
    if source == _OF_LOGGER and all(not change.now for change in changes):
        return f"{source} was in use, and is not now"
    return f"{source} had {_listed(changes, units)}"


def _listed(changes: Sequence[ChangedFact], units: UnitChoice) -> str:
    most = 3
    said = [_say_change(change, units) for change in changes[:most]]
    more = len(changes) - most
    return ", ".join([*said, f"and {more} more"] if more > 0 else said)


_OF_LOGGER = "the logger of the chamber"


def _source(key: str) -> str:
    kind = key.partition(": ")[0]
    stage, _, cycle = kind.partition(" ")
    if stage == _LOGGER:
        return _OF_LOGGER
    if cycle:
        return f"the {stage} plan"
    plain = {
        "item": "the description of the item",
        "condition": "intake",
        "test": "the tests",
        "defect": "the list of defects",
        "log": "the check of the hygrometer",
        MEASURED: "what this bench measured of itself",
    }
    return plain.get(kind, "the readings")


def _say_change(change: ChangedFact, units: UnitChoice) -> str:
    kind, _, name = change.key.partition(": ")
    if kind in ("thickness", "width", "height", "mass"):
        what = f"{kind} {name}"
    else:
        what = _say_measured(name) if kind == MEASURED else find_fact(name).label
    then, now = (_say(said, units) for said in (change.then, change.now))
    return f"{what} {then} (now {now or 'none'})" if then else f"no {what} (now {now})"


def _say_measured(name: str) -> str:
    key, _, about = name.partition(", ")
    constant = constant_of(key)
    return f"{key if constant is None else constant.label} ({about})"


def _say(said: str, units: UnitChoice) -> str:
    """Write a kept value for the eye, lengths and temperatures in the operator's unit."""
    number, unit = _number(said), said.partition(" ")[2]
    if number is None:
        return said
    shown = shown_unit(unit, units)
    value = float(Q_(number, unit).to(shown).magnitude)
    return f"{value:.4g} {unit_label(shown)}".strip()
