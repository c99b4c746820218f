"""The section on what the treatment cost the item, every source beside its limit."""

from __future__ import annotations

from bench.figures.doses import HEAD, dose_cells
from bench.treatment.doses import OVER_A_LIMIT, Plans, judge_treatment
from bench.treatment.plan import PlannedValue, Verdict
from bench.treatment.recorded import build_planned_values
from bench.writeup.blocks import Block, Finding, Grid, Missing, Section, Text
from bench.writeup.case import Case
from bench.writeup.planned import plan_groups

_TITLE = "What the treatment cost the item"


def write_costs(case: Case) -> Section:
    """Give every dose over all cycles, as planned, with the sizes as measured at the last review."""
    plans: dict[tuple[str, int], tuple[PlannedValue, ...]] = {
        place: build_planned_values(rows) for place, rows in plan_groups(case).items()
    }
    last = max((cycle for stage, cycle in plans if stage in ("humidity", "pressing")), default=0)
    if not last:
        words = "No plan of chamber or press is recorded, so what it cost is not known."
        return Section("costs", _TITLE, (Text(words),))  # the missing plans are named where plans stand
    return Section("costs", _TITLE, _blocks(case, plans, last))


def _blocks(case: Case, plans: Plans, last: int) -> tuple[Block, ...]:
    account = judge_treatment(plans, last, case.item, plans.get(("review", last), ()))
    over = account.say_over(case.units)
    said = over.removeprefix(f"{OVER_A_LIMIT}: ")
    found: list[Block] = [
        Finding(Verdict.STOP, said[:1].upper() + said[1:], word=OVER_A_LIMIT)
        if over
        else Text(account.say_first())
    ]
    cycles = "one cycle" if last == 1 else f"{last} cycles together"
    head = tuple(cell.capitalize() for cell in HEAD)
    found.append(Grid(head, tuple(dose_cells(account, case.units)), caption=f"As planned, {cycles}"))
    return (*found, Missing(account.say_unknown())) if account.unknown else tuple(found)
