"""What can be chosen, stage by stage: the declarations of the stages as tables."""

from __future__ import annotations

from bench.figures.page import Page, table
from bench.treatment.chosen import DECLARED, usual_choices
from bench.units import MILLIMETRES, UnitChoice

# A page without a panel has no style of ours, and a notebook's own puts words at the right.
_AT_THE_LEFT = "<style>.bench-page table.words :is(th, td) { text-align: left }</style>"
_HEAD = ("choice", "allowed", "usual", "stays from cycle to cycle")


def choices_page(units: UnitChoice = MILLIMETRES) -> Page:
    """Show every choice that a stage declares, with what is allowed and what is usual.

    Parameters
    ----------
    units : UnitChoice
        In which they are told.
    """
    pieces, told = [], []
    for stage in DECLARED:
        rows = [
            (choice.label, choice.say_allowed(units), usual, "yes" if choice.stays else "")
            for choice, usual in usual_choices(stage, units)
        ]
        pieces.append(f"<h4>{stage.capitalize()}</h4>{table(_HEAD, rows, words=True)}")
        told.append(f"{stage}: {len(rows)} choices")
    return Page(_AT_THE_LEFT + "".join(pieces), "; ".join(told))
