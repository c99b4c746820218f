"""What chamber, interleaves and the last review hand to the press."""

from __future__ import annotations

from typing import Any

from bench.handover.at_hand import AtHand
from bench.handover.buffering import handed_on_load, planned_interleaves
from bench.handover.cycles import decided_for, logger_of, spent_before
from bench.handover.humidity import damp_item
from bench.handover.intake import conditions_of
from bench.handover.learning import weighed_on_bench
from bench.handover.measured import measured_here, unread_here
from bench.physics.contact import pressure_from_word
from bench.treatment.conditions import Kind, has_condition
from bench.treatment.measured import PLATEN_HALF_LIFE, PRESS, value_or
from bench.treatment.pressing import PressingChoices
from bench.treatment.pressing.plan import PLATEN_HALF_LIFE as BELIEVED_HALF_LIFE
from bench.treatment.review.levers import Conditions


def pressing_choices(treatment: AtHand, cycle: int) -> PressingChoices:
    """Gather what chamber, interleaves and the last review hand to the press; else as the trade does."""
    humidity, spent = damp_item(treatment, cycle)
    followed = logger_of(treatment.record, cycle)
    planned = planned_interleaves(treatment, cycle)
    conditions = conditions_of(treatment, "pressing")
    weighed, unread = weighed_on_bench(treatment)
    load, words = handed_on_load(treatment, cycle) or (pressure_from_word("medium"), "medium")
    measured = measured_here(treatment)
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
        logger="" if followed is None else followed.file,
        logger_humidity=None if followed is None else followed.humidity,
        earlier=spent_before(treatment, cycle),
        **weighed,
        unread=(*unread, *unread_here(treatment)),
        half_life=value_or(measured, PLATEN_HALF_LIFE, PRESS, BELIEVED_HALF_LIFE),
        measured=measured,
    )


def _decided_heat(decided: Conditions) -> dict[str, Any]:
    """Give heat and dwell as decided; a press that was planned without heat stays cold."""
    heat: dict[str, Any] = {"platen_temperature": decided.platen, "dwell": decided.dwell}
    if decided.pressure is not None and decided.platen is None:
        return {"platen_temperature": None}
    return {name: value for name, value in heat.items() if value is not None}
