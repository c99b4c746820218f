"""What one stage hands to the next, read from the record: from chamber to press, from plans to clock."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from typing import Any

from bench.desk import Treatment
from bench.errors import BenchError, RecordError
from bench.panels.cleaning import cleaning_choices
from bench.panels.findings import conditions_of, intake_of
from bench.panels.loads import spread_load
from bench.panels.remembered import Remembered as Remembered  # for the panels of the stages
from bench.physics.contact import pressure_from_word
from bench.physics.ranges import Range
from bench.physics.transient import Inputs
from bench.records.learned import WEIGHINGS, last_accepted, learned_on_bench
from bench.records.nouns import interleaf_of, planned_number, planned_values
from bench.records.store import Record
from bench.treatment import facts
from bench.treatment.buffering import BufferingChoices, plan_buffering
from bench.treatment.buffering.choices import USUAL_SHEET, planned_load
from bench.treatment.cleaning import plan_cleaning
from bench.treatment.conditions import Kind, has_condition
from bench.treatment.doses import Plans, Spent, spend_cycles
from bench.treatment.facts import Fact
from bench.treatment.humidity import HumidityChoices, HumidityPlan, plan_humidity, propose_choices
from bench.treatment.humidity.plan import A_DAY, A_LITTLE_LONGER
from bench.treatment.humidity.source import HIGHEST_STEP
from bench.treatment.interleaves import LADDER, place_interleaves
from bench.treatment.plan import PlannedStep, PlannedValue
from bench.treatment.pressing import PressingChoices, plan_pressing
from bench.treatment.resting import CORRECTION
from bench.treatment.review.levers import Conditions, read_next
from bench.treatment.weighing.reading import RATIO, SCALE
from bench.units import Q_, Quantity, say


def hygrometer_correction(treatment: Treatment) -> Quantity:
    """Give the correction last found by a check against a salt; zero without one."""
    rows = treatment.record.read("log")
    rows = rows[rows["quantity"] == CORRECTION].dropna(subset=["value"])
    return Q_(float(rows.iloc[-1]["value"]) if len(rows) else 0.0, "percent")


def weighed_on_bench(treatment: Treatment) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Give what accepted weighings of this paper on this bench found, and name what could not be read for it.

    Returns
    -------
    fields : dict
        Of the choices: ``transport_ratio``, ``isotherm_scale`` and ``weighed``; empty without such a fit.
    unread : tuple of str
        Treatments that cannot be read, and a fit outside what the model holds for, with the reason: what
        was accepted there is missing.
    """
    try:
        fits, unread = learned_on_bench(treatment.record.folder.parent, WEIGHINGS)
    except (BenchError, RecordError, OSError) as error:
        return {}, (str(error).splitlines()[0],)
    fit = last_accepted(fits, paper=treatment.item.text_paper)
    if fit is None or not {RATIO, SCALE} <= set(fit.found):
        return {}, unread
    ratio, scale = fit.found[RATIO], fit.found[SCALE]
    try:
        Inputs(transport_ratio=ratio, isotherm_scale=scale)  # checks the ranges
    except BenchError as error:  # written by another version of the workbook
        return {}, (*unread, f"{fit.treatment}: {error}")
    return {"transport_ratio": ratio, "isotherm_scale": scale, "weighed": fit.title}, unread


def chamber_choices(treatment: Treatment) -> HumidityChoices:
    """Propose a chamber within what intake allows, with the correction of the hygrometer at hand."""
    proposed = propose_choices(conditions_of(treatment, "humidity"))
    return replace(proposed, hygrometer_correction=hygrometer_correction(treatment))


def humidity_choices(treatment: Treatment, cycle: int = 1) -> HumidityChoices:
    """Propose a chamber as :func:`chamber_choices`, with what weighing and earlier cycles add."""
    earlier = spent_before(treatment, cycle)
    weighed, unread = weighed_on_bench(treatment)
    day = decided_for(treatment, cycle).time_in_chamber
    clock = {} if day is None else {"planned": day, "longest": day + (A_LITTLE_LONGER - A_DAY)}
    return replace(chamber_choices(treatment), **weighed, **clock, unread=unread, earlier=earlier)


def usual_humidity(treatment: Treatment, cycle: int) -> HumidityPlan:
    """Plan the chamber with the proposed choices."""
    return plan_humidity(
        treatment.item,
        treatment.thicknesses(cycle),
        humidity_choices(treatment, cycle),
        cycle=cycle,
        units=treatment.units,
        conditions=conditions_of(treatment, "humidity"),
    )


def plans_of(record: Record, last: int) -> Plans:
    """Give the saved plans of chamber and press, cycle by cycle up to and with a last one."""
    return {
        (stage, cycle): planned_values(record, stage, cycle)
        for cycle in range(1, last + 1)
        for stage in ("humidity", "pressing")
    }


def spent_before(treatment: Treatment, cycle: int) -> Spent:
    """Give what the cycles before this one cost, as planned."""
    return spend_cycles(plans_of(treatment.record, cycle - 1), cycle - 1)


def damp_item(treatment: Treatment, cycle: int) -> tuple[Range, Spent]:
    """Give how damp the item comes out of the chamber and what that cost, as planned.

    Returns
    -------
    humidity : Range [percent]
        Mean of the leaves, from the saved plan or from one with the proposed choices.
    spent : Spent
        In the chamber.
    """
    planned = planned_values(treatment.record, "humidity", cycle)
    known = {value.key: value for value in planned}
    mean, source = known.get(facts.LEAVES_HUMIDITY.key), known.get(facts.SOURCE_HUMIDITY.key)
    if mean is None or source is None:
        plan = usual_humidity(treatment, cycle)
        return plan.item_humidity, plan.spent
    value, low, high, most = (
        float(q.to("percent").magnitude) for q in (mean.value, *mean.ends, source.value)
    )
    low, high = max(0.0, low), max(value, min(high, most, HIGHEST_STEP))
    humidity = Range(Q_(value, "percent"), Q_(low, "percent"), Q_(high, "percent"))
    return humidity, Spent.as_planned(planned) or Spent(unknown=(f"the chamber of cycle {cycle}",))


def _planned(treatment: Treatment, fact: Fact, cycle: int) -> Quantity | None:
    return planned_number(treatment.record, "buffering", cycle, fact)


@dataclass(frozen=True)
class PlannedSheets:
    """The interleaves of a cycle, as planned or as usual.

    Attributes
    ----------
    interval : int
        Most leaves between two.
    sheets : int or None
        In all, where no spacing comes to so many (a balanced plan).
    sheet : str
        By its name in the materials table.
    chance : float or None
        That spine and staples stay free of load.
    """

    interval: int
    sheets: int | None
    sheet: str
    chance: float | None


def planned_interleaves(treatment: Treatment, cycle: int) -> PlannedSheets:
    """Give spacing and sheet of the interleaves and the chance of a free spine, as planned or as usual.

    Before a cycle is planned its spacing is the one that the review of the cycle before decided on.
    """
    interval = _planned(treatment, facts.SPACING, cycle)
    if interval is None and (decided := decided_for(treatment, cycle).interval) is not None:
        interval = Q_(float(decided), "")
    chance = _planned(treatment, facts.CHANCE_FREE, cycle)
    loaded = _planned(treatment, facts.CHANCE_LOADED, cycle)
    if loaded is not None:  # where the load goes says more than thickness alone
        chance = 1 - loaded.to("")
    spacing = LADDER[min(cycle, len(LADDER)) - 1] if interval is None else round(float(interval.magnitude))
    return PlannedSheets(
        spacing,
        _balanced(treatment, cycle, spacing),
        interleaf_of(treatment.record, cycle) or USUAL_SHEET,
        None if chance is None else float(chance.to("").magnitude),
    )


def _balanced(treatment: Treatment, cycle: int, spacing: int) -> int | None:
    """Give the number of sheets planned if the spacing alone would come to another."""
    planned = _planned(treatment, facts.SHEETS, cycle)
    if planned is None:
        return None
    sheets = round(float(planned.magnitude))
    return None if sheets == len(place_interleaves(treatment.item, spacing)) else sheets


def minutes_open(treatment: Treatment, cycle: int) -> PlannedValue | None:
    """Give how long the item may lie open out of the chamber, as planned; None if it was not."""
    values = planned_values(treatment.record, "humidity", cycle)
    return next((value for value in values if value.key == facts.MINUTES_OPEN.key), None)


def handed_on_load(treatment: Treatment, cycle: int) -> tuple[Range, str] | None:
    """Give the load that the buffering was planned for, with its words.

    Before a cycle is planned it is the load of the cycle before, or the one that its review decided on.
    None if there is neither.
    """
    own = planned_load(planned_values(treatment.record, "buffering", cycle))
    if own is not None or cycle == 1:
        return own
    before = planned_load(
        planned_values(treatment.record, "pressing", cycle - 1), facts.FACE_PRESSURE
    ) or planned_load(planned_values(treatment.record, "buffering", cycle - 1))
    decided = decided_for(treatment, cycle).pressure
    if decided is None or (before is not None and _is_same(before[0].value, decided)):
        return before
    return spread_load(decided), f"decided at review, {say(decided, 'kPa')}"


def _is_same(planned: Quantity, decided: Quantity) -> bool:
    """Whether two loads differ by no more than the digits that a record keeps."""
    first, second = (float(load.to("kPa").magnitude) for load in (planned, decided))
    return abs(first - second) <= 1e-3 * first


def decided_for(treatment: Treatment, cycle: int) -> Conditions:
    """Give what the review of the cycle before decided for this one; nothing in the first."""
    return read_next(planned_values(treatment.record, "review", cycle - 1)) if cycle > 1 else Conditions()


def pressing_choices(treatment: Treatment, cycle: int) -> PressingChoices:
    """Gather what chamber, interleaves and the last review hand to the press; else as the trade does."""
    humidity, spent = damp_item(treatment, cycle)
    planned = planned_interleaves(treatment, cycle)
    conditions = conditions_of(treatment, "pressing")
    weighed, unread = weighed_on_bench(treatment)
    load, words = handed_on_load(treatment, cycle) or (pressure_from_word("medium"), "medium")
    return PressingChoices(
        **_decided_heat(decided_for(treatment, cycle)),
        load=load,
        load_words=words,
        item_humidity=humidity,
        interval=planned.interval,
        sheets=planned.sheets,
        sheet=planned.sheet,
        spine_chance=planned.chance,
        spine_is_cold=has_condition(conditions, Kind.NO_HEAT, where="spine"),
        chamber=spent,
        earlier=spent_before(treatment, cycle),
        **weighed,
        unread=unread,
    )


def _decided_heat(decided: Conditions) -> dict[str, Any]:
    """Give heat and dwell as decided; a press that was planned without heat stays cold."""
    heat: dict[str, Any] = {"platen_temperature": decided.platen, "dwell": decided.dwell}
    if decided.pressure is not None and decided.platen is None:
        return {"platen_temperature": None}
    return {name: value for name, value in heat.items() if value is not None}


def usual_steps(
    treatment: Treatment, cycle: int, *, without: Collection[str] = ()
) -> dict[str, tuple[PlannedStep, ...]]:
    """Give the steps of every stage with its usual choices, without those that cannot be planned yet.

    Parameters
    ----------
    treatment : Treatment
    cycle : int
    without : collection of str
        Stages that are left out because they stand in the schedule already.
    """
    makers: dict[str, Callable[[], Any]] = {
        "intake": lambda: intake_of(treatment),
        "cleaning": lambda: plan_cleaning(
            treatment.item, cleaning_choices(treatment, cycle=cycle), cycle=cycle
        ),
        "humidity": lambda: usual_humidity(treatment, cycle),
        "buffering": lambda: _usual_buffering(treatment, cycle),
        "pressing": lambda: plan_pressing(
            treatment.item, treatment.thicknesses(cycle), pressing_choices(treatment, cycle), cycle=cycle
        ),
    }
    found = {}
    for stage, make in makers.items():
        if stage in without:
            continue
        try:
            steps = make().steps
        except BenchError:
            continue
        if steps:
            found[stage] = steps
    return found


def _usual_buffering(treatment: Treatment, cycle: int) -> Any:
    planned = planned_interleaves(treatment, cycle)
    choices = BufferingChoices(
        load=pressure_from_word("medium"),
        interval=planned.interval,
        sheets=planned.sheets,
        sheet=planned.sheet,
    )
    return plan_buffering(treatment.item, treatment.thicknesses(cycle), choices, cycle=cycle)
