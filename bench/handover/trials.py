"""What a trial of the bench would be worth for the item at hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from bench.handover.at_hand import AtHand
from bench.handover.buffering import handed_on_load, planned_interleaves
from bench.handover.humidity import humidity_choices
from bench.handover.learning import give_of_block
from bench.handover.measured import measured_here
from bench.handover.pressing import pressing_choices
from bench.physics.contact import pressure_from_word
from bench.records.clock import now
from bench.treatment.buffering import BufferingChoices, plan_buffering
from bench.treatment.humidity import plan_humidity
from bench.treatment.measured import MeasuredHere
from bench.treatment.plan import Plan
from bench.treatment.pressing import PressingChoices, plan_pressing
from bench.trials.protocol import Protocol
from bench.trials.worth import MOST, Beforehand, Worth, compare_plans, likely_outcome, with_outcome

_Planner = Callable[[MeasuredHere], Plan]
"""Plans one stage of the item at hand with what was measured."""


def about_of(treatment: AtHand, protocol: Protocol) -> str:
    """Give of what a trial helps the item at hand most: its own paper, glue or boards, else the usual."""
    item, offered, usual = treatment.item, protocol.abouts(), PressingChoices
    own = (item.text_paper, item.cover_paper, item.glue, usual.board, usual.release, usual.card)
    return next((name for name in own if name in offered), offered[0])


def worth_of(treatment: AtHand, protocol: Protocol, about: str = "") -> Beforehand:
    """Reckon which answers for the item at hand a trial would narrow, before anyone begins.

    Parameters
    ----------
    treatment : AtHand
        With its item, as it is planned with the proposed choices.
    protocol : Protocol
        The trial.
    about : str
        Of what it would be, by default as :func:`about_of` gives it; if the item holds nothing of it, no
        answer changes.
    """
    about = about or about_of(treatment, protocol)
    outcome = likely_outcome(protocol, about)
    here = measured_here(treatment)
    measured = with_outcome(here, outcome, about, now().date())
    told: list[Worth] = []
    for stage in dict.fromkeys(stage for found in outcome.found for stage in found.constant.stages):
        if stage in _PLANNED:
            plan = _PLANNED[stage](treatment)
            told += compare_plans(plan(here), plan(measured))
    answers = tuple(sorted(told, key=lambda each: -each.narrower)[:MOST])
    return Beforehand(about, answers, outcome.found)


def _chamber(treatment: AtHand) -> _Planner:
    choices = humidity_choices(treatment, treatment.cycle)
    return _planner(treatment, plan_humidity, choices)


def _press(treatment: AtHand) -> _Planner:
    choices = pressing_choices(treatment, treatment.cycle)
    return _planner(treatment, plan_pressing, choices)


def _interleaves(treatment: AtHand) -> _Planner:
    cycle = treatment.cycle
    load, words = handed_on_load(treatment, cycle) or (pressure_from_word("medium"), "medium")
    planned = planned_interleaves(treatment, cycle)
    choices = BufferingChoices(
        load=load,
        load_words=words,
        interval=planned.interval,
        sheets=planned.sheets,
        sheet=planned.sheet,
        **give_of_block(treatment, cycle),
    )
    return _planner(treatment, plan_buffering, choices)


def _planner(treatment: AtHand, plan: Callable[..., Plan], choices: Any) -> _Planner:
    """Plan the item at hand with what was measured, everything else as it is proposed."""
    item, thicknesses = treatment.item, treatment.thicknesses(treatment.cycle)
    return lambda measured: plan(
        item, thicknesses, replace(choices, measured=measured), units=treatment.units
    )


_PLANNED: dict[str, Callable[[AtHand], _Planner]] = {
    "humidity": _chamber,
    "buffering": _interleaves,
    "pressing": _press,
}
"""How a stage is planned."""
