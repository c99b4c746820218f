"""The section on what the treatment cost the item, every source beside its limit."""

from __future__ import annotations

from bench.sources import say_sources
from bench.treatment.doses import Dose, Plans, judge_treatment
from bench.treatment.plan import Caution, PlannedValue, Verdict
from bench.treatment.recorded import build_planned_values
from bench.writeup.blocks import Block, Cautions, Grid, Missing, Section, Text
from bench.writeup.case import Case
from bench.writeup.planned import plan_groups

_TITLE = "What the treatment cost the item"
_HEAD = ("Dose", "By", "Number", "Limit", "Stands", "Number from; limit from")


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
    found: list[Block] = [Cautions((Caution(Verdict.STOP, over),)) if over else Text(account.say_first())]
    cycles = "one cycle" if last == 1 else f"{last} cycles together"
    rows = tuple(cells for dose in account.doses for cells in _rows(dose, case))
    found.append(Grid(_HEAD, rows, caption=f"As planned, {cycles}"))
    return (*found, Missing(account.say_unknown())) if account.unknown else tuple(found)


def _rows(dose: Dose, case: Case) -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    for number, reading in enumerate(dose.readings):
        value = reading.value
        keys = [say_sources(key) for key in (value.source, value.limit_source) if key]
        found.append(
            (
                dose.name if number == 0 else "",
                reading.by,
                reading.number(case.units),
                reading.limit(case.units) or "–",
                "–" if reading.standing is None else reading.standing.value,
                "; ".join(keys) or "–",
            )
        )
    return found
