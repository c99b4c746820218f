"""What an operator entered in an earlier cycle and stays for the next: the chamber, the press, the boards."""

from __future__ import annotations

from typing import TypeVar

from bench.handover.at_hand import AtHand
from bench.records.nouns import entered_of
from bench.treatment.choices import staying, with_entries
from bench.treatment.entries import Entry

T = TypeVar("T")


def what_stays(treatment: AtHand, stage: str, cycle: int, kind: type) -> list[Entry]:
    """Give what was entered for a stage and holds for this cycle too.

    Parameters
    ----------
    treatment : AtHand
        At hand.
    stage, cycle : str, int
        Whose plan is made.
    kind : type
        Choices of the stage.
    """
    stays = staying(kind)
    entered = entered_of(treatment.record, stage, cycle, stays=stays)
    return [entry for entry in entered if any(entry.is_of(*field) for field in stays.items())]


def with_what_stays(treatment: AtHand, stage: str, cycle: int, choices: T) -> T:
    """Give choices with what stays from the cycles before, as the panel of the stage would show them.

    Parameters
    ----------
    treatment : AtHand
        At hand.
    stage, cycle : str, int
        Whose plan is made.
    choices : object
        As they are proposed otherwise.
    """
    return with_entries(choices, what_stays(treatment, stage, cycle, type(choices)))
