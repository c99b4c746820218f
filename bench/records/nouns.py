"""From rows to nouns and back: the item, its readings, a plan, the timeline."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from functools import partial
from types import MappingProxyType
from typing import Any

from bench.errors import NotYet
from bench.item import Answer, Format, Item, Prong, Staple, Thicknesses, count_leaves, typical_thicknesses
from bench.records.bench_record import all_accepted, trials_beside
from bench.records.clock import now
from bench.records.rules import UNPRESSED
from bench.records.schema import STAMPS
from bench.records.store import Record
from bench.treatment.calibration import NO_CHECKS, Checks
from bench.treatment.clock.schedule import Step, Timeline, with_cautions
from bench.treatment.entries import Entry
from bench.treatment.facts import Fact
from bench.treatment.needed import WHOLE, Instrument, instruments_for
from bench.treatment.plan import Caution, Plan, PlannedValue
from bench.treatment.recorded import Moments, build_planned_values
from bench.treatment.resting import NO_LONGER, RESTS, numbers_of_plan
from bench.treatment.review.comparison import Examination
from bench.treatment.rows import Row, is_given, number_in, quantity_of, text_of, unit_of
from bench.uncertainty import Measured, estimate_from_readings
from bench.units import Q_, Quantity, UnitChoice, difference_unit


def treatment_row(record: Record) -> dict[str, Any]:
    """Give the current description of the treatment, ready to be saved again with changes."""
    return said_in(record.rows("treatment")[-1])


def said_in(row: Row) -> dict[str, Any]:
    """Give what a row says, ready to be saved again: no blanks, and nothing that the store fills in."""
    return {name: v for name, v in row.items() if name not in (*STAMPS, "replaces") and is_given(v)}


def units_of(record: Record) -> UnitChoice:
    """Give the operator's units, as last saved."""
    row = treatment_row(record)
    return UnitChoice(row["length_unit"], row["temperature_unit"])


_OWED = {
    "format": "format",
    "width_mm": "width",
    "height_mm": "height",
    "count": "count",
    "counted_as": "count in leaves or pages",
}
"""Facts that intake must supply, by their columns."""


def item_of(record: Record) -> Item:
    """Build the item from its record.

    Raises
    ------
    NotYet
        A fact that intake must supply is still missing.
    BadValue
        A fact is not possible.
    """
    row = treatment_row(record)
    for column, fact in _OWED.items():
        if column not in row:
            came = f"not described yet: its {fact} is missing"
            remedy = (
                "Describe the item in the intake notebook first: save its panel, then run this page again"
            )
            raise NotYet("The item", came, "", remedy)
    return Item(
        title=row["title"],
        format=Format(row["format"]),
        width=Q_(float(row["width_mm"]), "mm"),
        height=Q_(float(row["height_mm"]), "mm"),
        leaves=count_leaves(int(row["count"]), counted_as=row["counted_as"]),
        cover_leaves=int(row.get("cover_leaves", 2)),
        text_paper=row.get("text_paper", "newsprint"),
        cover_paper=row.get("cover_paper", "coated cover"),
        cover_coated=Answer(row.get("cover_coated", "unknown")),
        glue=row.get("glue", "unknown"),
        staples=staples_of(record),
        mass=mass_of(record),
    )


def mass_of(record: Record) -> Quantity | None:
    """Give the mass as read at intake, None if it was not weighed: the readings are its one home."""
    read = measured_at(record, "mass", stage="intake", cycle=0)
    return next(iter(read.values())).value.to("g") if read else None


def staples_of(record: Record) -> tuple[Staple, ...]:
    """Build the staples, from head to tail."""
    rows = sorted(record.rows("staples"), key=lambda row: row["from_head_mm"])
    return tuple(
        Staple(
            name=row["staple"],
            from_head=Q_(float(row["from_head_mm"]), "mm"),
            from_spine=Q_(float(row["from_spine_mm"]), "mm"),
            prong=Prong(row["prong"]),
            rust=int(row["rust"]),
        )
        for row in rows
    )


def measured_at(
    record: Record, quantity: str, *, stage: str, cycle: int, first: bool = False
) -> dict[str, Measured]:
    """Turn the readings of one quantity into a value with uncertainty, place by place.

    Parameters
    ----------
    quantity : str
        ``"thickness"``, ``"width"``, ``"height"``, ``"mass"``, ...
    stage, cycle : str, int
        When they were taken.
    first : bool
        Only what was read first at each place, such as the mass of an item that then grows heavier.

    Returns
    -------
    dict
        Place to value; empty if nothing was read.
    """
    asked = (quantity, stage, cycle)
    rows = [r for r in record.rows("readings") if (r["quantity"], r["stage"], r["cycle"]) == asked]
    if not rows and (quantity, stage) == ("mass", "intake"):
        return _mass_as_described(record)
    checks = checks_of(record)
    places: dict[str, list[Row]] = {}
    for row in rows:
        if is_given(row["place"]):
            places.setdefault(str(row["place"]), []).append(row)
    if first:
        places = {place: sorted(read, key=lambda row: row["taken_at"])[:1] for place, read in places.items()}
    return {
        place: measure(place, read, stage=stage, cycle=cycle, checks=checks) for place, read in places.items()
    }


def checks_of(record: Record) -> Checks:
    """Give the checks of the instruments of a bench that were accepted, for the readings of a treatment.

    A record of the bench that cannot be read gives none: its own page, and plans, say so.
    """
    trials, _ = trials_beside(record.folder)
    return Checks.of(all_accepted(trials, now()))


def _mass_as_described(record: Record) -> dict[str, Measured]:
    """Give the mass that an older record holds with the description of its item, as if it had been read."""
    mass = treatment_row(record).get("mass_g")
    if mass is None:
        return {}
    usual = instruments_for("mass")[0]
    return {
        WHOLE: estimate_from_readings(
            [Q_(float(mass), "g")],
            place=WHOLE,
            instrument_limit=usual.limit,
            resolution=usual.step,
            typical_repeatability=usual.step,
            source="as described, instrument not named",
        )
    }


def measure(
    place: str, rows: Sequence[Row], *, stage: str, cycle: int, checks: Checks = NO_CHECKS
) -> Measured:
    """Turn the rows of one quantity at one place, saved or about to be, into a value with uncertainty.

    Parameters
    ----------
    place : str
        Where, for the names of the causes of doubt.
    rows : sequence of rows
        Of ``readings``; a column that is not there is blank.  If they name several instruments, each is
        trusted as far as the worst of them.
    stage, cycle : str, int
        When they were taken: readings of two moments are independent.
    checks : Checks
        Of the instruments: a reading taken after one is corrected, and its doubt is that of the check, the
        same for all that carry it.
    """
    moment = f"after cycle {cycle}" if stage == "review" else "" if stage == "intake" else stage
    first = rows[0]
    unit = unit_of(first["unit"])
    instrument = first["instrument"] if is_given(first.get("instrument")) else "instrument not named"
    force = f" pressing with {first['force_n']:g} N" if is_given(first.get("force_n")) else ""
    corrected = checks.correct(rows)
    readings: Sequence[Quantity] = corrected.values
    if Q_(1, unit).is_compatible_with("kelvin"):  # the mean of degrees is worked out in kelvin
        readings, unit = [reading.to("kelvin") for reading in readings], "kelvin"
    is_length = Q_(1, unit).is_compatible_with("mm")
    usual = _usual_instrument(first["quantity"])
    limit, step = (usual.limit, usual.step) if is_length else (Q_(0, unit), Q_(0, unit))
    step = max(_or_default(row, "resolution", step) for row in rows)
    limits = [_or_default(row, "limit", limit) for row in corrected.unchecked]
    measured = estimate_from_readings(
        readings,
        place=place,
        moment=moment,
        instrument_limit=max(limits, default=Q_(0, difference_unit(unit))),
        resolution=step,
        # A soft pile reads differently each time; an edge or a mass repeats to about one step.
        typical_repeatability=None if first["quantity"] == "thickness" else step,
        source=f"{instrument}{force}",
    )
    return replace(measured, components=(*measured.components, *corrected.components))


def _usual_instrument(quantity: str) -> Instrument:
    """Give what is taken where no limit and step are recorded, for a length: a hand caliper, or a rule."""
    return instruments_for(quantity if quantity == UNPRESSED else "thickness")[0]


def _or_default(row: Row, column: str, default: Quantity) -> Quantity:
    """Give what a row says of its instrument; a temperature as a difference."""
    value = row.get(column)
    return Q_(float(value), difference_unit(unit_of(row["unit"]))) if is_given(value) else default  # type: ignore[arg-type]


def thicknesses_of(record: Record, item: Item, *, stage: str = "intake", cycle: int = 0) -> Thicknesses:
    """Build the thicknesses from the readings; typical values stand in where the text block was not read.

    Places are ``"text block"``, ``"spine edge"``, ``"fore edge"`` and ``"<name> staple"``.
    """
    read = measured_at(record, "thickness", stage=stage, cycle=cycle)
    if "text block" not in read:
        return typical_thicknesses(item)
    names = [staple.name for staple in item.staples]
    return Thicknesses(
        text_block=read["text block"],
        over_staples={name: read[f"{name} staple"] for name in names if f"{name} staple" in read},
        spine_edge=read.get("spine edge"),
        fore_edge=read.get("fore edge"),
    )


UNDER_LOAD = "text block under load"
"""Place of a thickness read under a known pressure; in a record the pressure stands in its name."""
_UNDER = "text block under "


def place_under(pressure: Quantity) -> str:
    """Name the place of a thickness that was read under a pressure, such as ``text block under 50 kPa``."""
    return f"{_UNDER}{float(pressure.to('kPa').magnitude):.3g} kPa"


def thicknesses_under_load(record: Record, *, stage: str, cycle: int) -> list[tuple[Quantity, Measured]]:
    """Give the thickness of the text block under each known pressure that it was read at, the least first."""
    read = measured_at(record, "thickness", stage=stage, cycle=cycle)
    found = []
    for place, measured in read.items():
        number, _, unit = place.removeprefix(_UNDER).partition(" ")
        if place.startswith(_UNDER) and unit == "kPa":
            found.append((Q_(float(number), "kPa"), measured))
    return sorted(found, key=lambda pair: float(pair[0].magnitude))


def examination_of(record: Record, item: Item | None, *, stage: str, cycle: int) -> Examination:
    """Give thickness, size and mass as read at one moment; what was not read is left out.

    Parameters
    ----------
    record : Record
        Of the treatment.
    item : Item or None
        Without an item no thickness is given: its staples tell the places.
    stage, cycle : str, int
        When they were taken: ``"intake"`` and 0, or ``"review"`` and the cycle that it looked at.
    """
    read = partial(measured_at, record, stage=stage, cycle=cycle)
    thicknesses = None
    if item is not None and "text block" in read("thickness"):  # typical values are no reading
        thicknesses = thicknesses_of(record, item, stage=stage, cycle=cycle)
    return Examination(thicknesses, read("width"), read("height"), next(iter(read("mass").values()), None))


def moments_of(record: Record, stage: str, cycle: int) -> Moments:
    """Give how to read a quantity before a cycle, in a stage of it, and at its review."""
    before, number = before_cycle(cycle)
    read = partial(measured_at, record)
    return Moments(
        before=partial(read, stage=before, cycle=number),
        stage=partial(read, stage=stage, cycle=cycle),
        review=partial(read, stage="review", cycle=cycle),
        first=partial(read, stage=stage, cycle=cycle, first=True),
        checks=checks_of(record),
    )


def before_cycle(cycle: int) -> tuple[str, int]:
    """Give stage and cycle of the readings that stand before a cycle."""
    return ("intake", 0) if cycle <= 1 else ("review", cycle - 1)


def plan_rows(plan: Plan, record: Record, entered: Iterable[Entry] = ()) -> list[dict[str, Any]]:
    """Turn a plan into rows of ``plans``: its words, its values, its cautions and assumptions.

    What the operator entered in place of what was proposed is kept with it.

    Rows of the same plan saved before are replaced, those without a successor are marked as no
    longer planned.
    """
    name = f"{plan.stage}-{plan.cycle}"
    common = {"plan": name, "stage": plan.stage, "cycle": plan.cycle}
    rows: list[dict[str, Any]] = [
        {"quantity": "verdict", "words": plan.verdict.value},
        {"quantity": "answer", "words": plan.answer},
        {"quantity": "because", "words": plan.because},
    ]
    rows += [_value_row(value) for value in plan.values]
    rows += [_caution_row(number, caution) for number, caution in enumerate(plan.cautions, start=1)]
    rows += [
        {"quantity": f"assumed: {a.name}", "words": a.words, "source": a.source, "key": a.key}
        for a in plan.assumptions
    ]
    rows += [
        {"quantity": f"{_ENTERED}{each.label}", "key": f"{_ENTERED}{each.key}", "words": each.kept or _EMPTY}
        for each in entered
    ]
    built = [{**common, **row} for row in rows]
    known = record.read("plans")
    known = known[known["plan"] == name]
    rests = known["quantity"].str.startswith(RESTS)
    left = [q for q in known.loc[~rests, "quantity"] if q not in {row["quantity"] for row in built}]
    built += [{**common, "quantity": quantity, "words": NO_LONGER} for quantity in left]
    return replacing(record, "plans", built, ("plan", "quantity"))


def rest_rows(plan: Plan, record: Record, rests: Mapping[str, str]) -> list[dict[str, Any]]:
    """Turn what a plan rests on into rows of ``plans``, replacing those saved with it before.

    Parameters
    ----------
    plan : Plan
        That rests on it.
    record : Record
        In which rows of that plan may stand already.
    rests : mapping of str to str
        As :func:`bench.treatment.resting.rests_on` gives it.
    """
    name = f"{plan.stage}-{plan.cycle}"
    common = {"plan": name, "stage": plan.stage, "cycle": plan.cycle}
    built = [{**common, "quantity": f"{RESTS}{key}", "words": said} for key, said in rests.items()]
    known = record.read("plans")
    known = known[(known["plan"] == name) & known["quantity"].str.startswith(RESTS)]
    left = [q for q in known["quantity"] if q.removeprefix(RESTS) not in rests]
    built += [{**common, "quantity": quantity, "words": NO_LONGER} for quantity in left]
    return replacing(record, "plans", built, ("plan", "quantity"))


_ENTERED = "entered: "
_EMPTY = "left empty"


def entered_of(
    record: Record, stage: str, cycle: int, *, stays: Mapping[str, str] = MappingProxyType({})
) -> list[Entry]:
    """Give what was entered for a plan.

    Parameters
    ----------
    record : Record
        Of the treatment.
    stage : str
        Whose plan.
    cycle : int
        Of the plan.
    stays : mapping of str to str
        Key and label of what stays from cycle to cycle, such as a chamber: without a plan of this cycle they
        are taken from the latest before it.
    """
    for number in range(cycle, 0, -1):
        rows = planned_of(record, stage, number)
        if not rows:
            continue
        found = entries_in(rows)
        if number == cycle:
            return found
        return [each for each in found if any(each.is_of(*field) for field in stays.items())]
    return []


def entries_in(rows: Iterable[Row]) -> list[Entry]:
    """Read what was entered out of the rows of a plan."""
    entered = [row for row in rows if str(row["quantity"]).startswith(_ENTERED)]
    return [
        Entry(
            str(row["key"]).removeprefix(_ENTERED) if is_given(row["key"]) else "",
            row["quantity"].removeprefix(_ENTERED),
            "" if row["words"] == _EMPTY else str(row["words"]),
        )
        for row in entered
    ]


def _value_row(value: PlannedValue) -> dict[str, Any]:
    unit = value.unit
    row = {
        "quantity": value.label,
        "key": value.key,
        "value": number_in(value.value, unit),
        "unit": unit,
        "limit_source": value.limit_source,
        "source": value.source,
    }
    if value.uncertainty is not None:
        row["uncertainty"] = number_in(value.uncertainty, difference_unit(unit))
    if value.limit is not None:
        row["limit"] = number_in(value.limit, unit)
    if value.low is not None and value.high is not None:
        row["low"], row["high"] = (number_in(end, unit) for end in (value.low, value.high))
    return row


def _caution_row(number: int, caution: Caution) -> dict[str, Any]:
    return {
        "quantity": f"caution {number}",
        "key": caution.verdict.value,
        "words": caution.words,
        "source": caution.source,
    }


def replacing(
    record: Record, table: str, rows: Iterable[Mapping[str, Any]], keys: Iterable[str]
) -> list[dict[str, Any]]:
    """Let rows take the place of saved ones that agree with them in the key columns.

    A row that already stands as it is saved is left out, so that saving twice writes nothing new.
    """
    names = list(keys)
    known = {tuple(old[name] for name in names): old for old in record.rows(table)}
    built = []
    for row in rows:
        old = known.get(tuple(row.get(name) for name in names))
        if old is None:
            built.append(dict(row))
        elif any(value != (old[column] if is_given(old[column]) else "") for column, value in row.items()):
            built.append({**row, "replaces": int(old["row"])})
    return built


def planned_of(record: Record, stage: str, cycle: int) -> list[Row]:
    """Read the current rows of one plan, without what is no longer planned."""
    rows = record.rows("plans")
    return [r for r in rows if (r["stage"], r["cycle"]) == (stage, cycle) and r["words"] != NO_LONGER]


def happened(record: Record, stage: str, cycle: int) -> tuple[list[dict[Any, Any]], list[dict[Any, Any]]]:
    """Give the rows of ``log`` and of ``steps`` that belong to a stage of a cycle."""
    log, steps = (
        [row for row in record.rows(name) if (row["stage"], int(row["cycle"])) == (stage, cycle)]
        for name in ("log", "steps")
    )
    return log, steps


def repeats_of(record: Record) -> dict[int, str]:
    """Give why review decided on another cycle, by the cycle that it looked at."""
    return {
        int(row["cycle"]): str(row["reason"])
        for row in record.rows("decisions")
        if row["stage"] == "review" and str(row["decision"]).startswith("repeat")
    }


def interleaf_of(record: Record, cycle: int) -> str | None:
    """Give the sheet that was planned or used between the leaves in a cycle; None if none is recorded."""
    wanted = ("buffering", cycle, "interleaf")
    rows = [r for r in record.rows("materials") if (r["stage"], r["cycle"], r["kind"]) == wanted]
    return str(rows[-1]["material"]) if rows else None


def planned_values(record: Record, stage: str, cycle: int) -> tuple[PlannedValue, ...]:
    """Read the numbers of one saved plan; none if it was not planned."""
    return build_planned_values(planned_of(record, stage, cycle))


def planned_number(record: Record, stage: str, cycle: int, fact: Fact) -> Quantity | None:
    """Read one planned number, or None if it was not planned."""
    row = numbers_of_plan({"plans": record.rows("plans")}, stage, cycle).get(fact.key)
    return None if row is None else quantity_of(row)


def timeline_of(record: Record) -> Timeline | None:
    """Build the timeline from the rows of ``steps``; None if there is none."""
    rows = sorted(filter(_is_laid_out, record.rows("steps")), key=lambda row: str(row["step"]))
    return with_cautions([_step(row) for row in rows]) if rows else None


def _is_laid_out(row: Row) -> bool:
    """Tell a row of ``steps`` that is planned from one without times or that is no longer planned."""
    return is_given(row["planned_start"]) and is_given(row["planned_end"]) and row["note"] != NO_LONGER


def _step(row: Row) -> Step:
    start, end = row["planned_start"], row["planned_end"]
    least = timedelta(minutes=float(row["least_min"])) if is_given(row["least_min"]) else end - start
    most = timedelta(minutes=float(row["at_most_min"])) if is_given(row["at_most_min"]) else None
    return Step(
        step=row["step"],
        stage=row["stage"],
        cycle=int(row["cycle"]),
        name=row["name"],
        hands=row["hands"] == "yes",
        planned_start=start,
        planned_end=end,
        least=least,
        at_most=most,
        actual_start=row["actual_start"],
        actual_end=row["actual_end"],
        note=text_of(row, "note"),
        if_present=row["optional"] == "yes",
    )


def step_rows(timeline: Timeline, record: Record) -> list[dict[str, Any]]:
    """Turn a timeline into the rows of ``steps`` that differ from what is saved."""
    old = {row["step"]: row for row in sorted(record.rows("steps"), key=lambda row: str(row["step"]))}
    rows = []
    for step in timeline.steps:
        row = _step_row(step)
        before = old.pop(step.step, None)
        if before is None:
            rows.append(row)
        elif not _is_laid_out(before) or _step_row(_step(before)) != row:
            rows.append({**row, "replaces": int(before["row"])})
    gone = filter(_is_laid_out, old.values())
    rows += [{**_step_row(_step(row)), "note": NO_LONGER, "replaces": int(row["row"])} for row in gone]
    return rows


def _step_row(step: Step) -> dict[str, Any]:
    row: dict[str, Any] = {
        "step": step.step,
        "stage": step.stage,
        "cycle": step.cycle,
        "name": step.name,
        "hands": "yes" if step.hands else "no",
        "planned_start": step.planned_start,
        "planned_end": step.planned_end,
        "actual_start": step.actual_start,
        "actual_end": step.actual_end,
        "least_min": step.least.total_seconds() / 60,
        "optional": "yes" if step.if_present else "no",
        "note": step.note,
    }
    if step.at_most is not None:
        row["at_most_min"] = step.at_most.total_seconds() / 60
    return {key: value for key, value in row.items() if value is not None and value != ""}
