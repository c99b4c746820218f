"""What the chamber is planned from, and how damp the item comes out of it for what follows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bench.handover.at_hand import AtHand
from bench.handover.cycles import decided_for, logger_of, spent_before
from bench.handover.intake import conditions_of
from bench.handover.kept import what_stays
from bench.handover.learning import weighed_on_bench
from bench.handover.measured import measured_here, unread_here
from bench.physics.ranges import Range
from bench.records import nouns
from bench.records.nouns import entered_of, planned_values
from bench.treatment import facts
from bench.treatment.calibration import CHAMBER, known_correction
from bench.treatment.choices import staying, with_entries
from bench.treatment.doses import Spent
from bench.treatment.entries import Entry
from bench.treatment.humidity import HumidityChoices, HumidityPlan, plan_humidity, propose_choices
from bench.treatment.humidity.plan import with_asked_by_hand
from bench.treatment.humidity.source import HIGHEST_STEP
from bench.treatment.plan import find_value
from bench.units import Q_, Quantity


def hygrometer_correction(treatment: AtHand) -> Quantity:
    """Give the correction last found by a check, against a salt or of the bench; zero without one."""
    record = treatment.record
    known = known_correction(record.rows("log"), nouns.checks_of(record))
    return Q_(0.0 if known is None else known, "percent")


def logger_correction(treatment: AtHand) -> Quantity | None:
    """Give what the bench found of its data logger near the humidity of a chamber; None without a check."""
    check = nouns.checks_of(treatment.record).of_instrument("data logger")
    return None if check is None else check.near(CHAMBER).correction


def chamber_choices(treatment: AtHand) -> HumidityChoices:
    """Propose a chamber within what intake allows, with the correction of the hygrometer at hand."""
    proposed = propose_choices(conditions_of(treatment, "humidity"))
    return replace(proposed, hygrometer_correction=hygrometer_correction(treatment))


def humidity_choices(treatment: AtHand, cycle: int = 1) -> HumidityChoices:
    """Propose a chamber as :func:`chamber_choices`, with what weighing and earlier cycles add."""
    earlier = spent_before(treatment, cycle)
    weighed, unread = weighed_on_bench(treatment)
    day = decided_for(treatment, cycle).time_in_chamber
    proposed = chamber_choices(treatment)
    planned = proposed.planned if day is None else day
    return replace(
        proposed,
        **weighed,
        planned=planned,
        unread=(*unread, *unread_here(treatment)),
        earlier=earlier,
        measured=measured_here(treatment),
    )


def usual_humidity(treatment: AtHand, cycle: int) -> HumidityPlan:
    """Plan the chamber with the proposed choices, in the chamber that was used before."""
    return _plan(treatment, cycle, what_stays(treatment, "humidity", cycle, HumidityChoices))


def entered_humidity(treatment: AtHand, cycle: int) -> HumidityPlan:
    """Plan the chamber with all that was entered for it, as its panel stands when it is opened."""
    stays = staying(HumidityChoices)
    return _plan(treatment, cycle, entered_of(treatment.latest, "humidity", cycle, stays=stays))


def _plan(treatment: AtHand, cycle: int, entered: Sequence[Entry]) -> HumidityPlan:
    kept = with_entries(humidity_choices(treatment, cycle), entered)
    return plan_humidity(
        treatment.item,
        treatment.thicknesses(cycle),
        with_asked_by_hand(kept, entered),
        cycle=cycle,
        units=treatment.units,
        conditions=conditions_of(treatment, "humidity"),
    )


def damp_item(treatment: AtHand, cycle: int) -> tuple[Range, Spent]:
    """Give how damp the item comes out of the chamber and what that cost: by its logger, else as planned.

    Returns
    -------
    humidity : Range [percent]
        Mean of the leaves as followed with the air that a logger kept, where one is in use; else from the
        saved plan, or from one with the proposed choices.
    spent : Spent
        In the chamber.
    """
    followed = logger_of(treatment.record, cycle)
    if followed is not None:
        return followed.humidity, replace(followed.spent, logged=(f"the chamber of cycle {cycle}",))
    planned = planned_values(treatment.record, "humidity", cycle)
    mean, source = (find_value(planned, fact) for fact in (facts.LEAVES_HUMIDITY, facts.SOURCE_HUMIDITY))
    if mean is None or source is None:
        plan = usual_humidity(treatment, cycle)
        return plan.item_humidity, plan.spent
    value, low, high, most = (
        float(q.to("percent").magnitude) for q in (mean.value, *mean.ends, source.value)
    )
    low, high = max(0.0, low), max(value, min(high, most, HIGHEST_STEP))
    humidity = Range(Q_(value, "percent"), Q_(low, "percent"), Q_(high, "percent"))
    return humidity, Spent.as_planned(planned) or Spent(unknown=(f"the chamber of cycle {cycle}",))
