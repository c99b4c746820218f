"""Sections on what the treatment cost the item, with every limit, and on the cautions of its plans."""

from __future__ import annotations

from collections.abc import Iterable

from bench.figures.doses import HEAD, dose_cells
from bench.treatment.actual.acts import find_overruns
from bench.treatment.as_logged import with_loggers
from bench.treatment.doses import Account, Plans, Spent, add_up, spend_chamber, spend_press
from bench.treatment.plan import Caution
from bench.treatment.recorded import build_planned_values
from bench.units import upper_first
from bench.writeup.blocks import Block, Bullets, Cautions, Grid, Missing, Section, Text, listing
from bench.writeup.case import Case
from bench.writeup.planned import cautions_of
from bench.writeup.words import say_stage
from bench.writeup.work import say_duration

LIMITS = "Limits and risks"
_NOTHING = "Nothing was humidified or pressed, so no limit was touched."


def account_of(case: Case) -> Account | None:
    """Add up what was carried out cost the item; None if it was not humidified or pressed.

    It is counted by the plans, and a chamber by its logger where that is in use.
    """
    plans = with_loggers({place: build_planned_values(rows) for place, rows in case.plans.items()}, case.rows)
    cycles = sorted({act.cycle for act in case.acts if act.stage in ("humidity", "pressing")})
    if not cycles:
        return None
    spent = Spent()
    for cycle in cycles:
        spent += _spent_in(case, plans, cycle)
    last = cycles[-1]
    pressed = plans.get(("pressing", last), ()) if case.was_done("pressing", last) else ()
    return add_up(spent, (*pressed, *plans.get(("review", last), ())), case.item)


def _spent_in(case: Case, plans: Plans, cycle: int) -> Spent:
    """Give what one cycle cost: a plan of the press counts its chamber too."""
    is_pressed = case.was_done("pressing", cycle)
    found = spend_press(plans, cycle) if is_pressed else spend_chamber(plans, cycle)
    if found is None and is_pressed and case.was_done("humidity", cycle):
        damp = spend_chamber(plans, cycle)
        found = None if damp is None else damp + Spent(unknown=(say_stage("pressing", cycle),))
    return found or Spent(unknown=(f"cycle {cycle}",))


def say_passed(case: Case) -> tuple[str, ...]:
    """Say which limits were passed: doses as reckoned from the plans, sizes and times as recorded."""
    account = account_of(case)
    over = () if account is None else tuple(reading for dose in account.doses for reading in dose.over)
    units = case.units
    doses = (f"{r.value.fact.name}, {r.number(units)} (limit {r.limit(units)})" for r in over)
    times = (
        f"{run.name}, cycle {run.cycle}, {say_duration(run.took)} (limit {say_duration(run.at_most)})"
        for run in find_overruns(case.rows["steps"])
    )
    return tuple(words.replace("-", "−") for words in (*doses, *times))


def write_costs(case: Case) -> Section:
    """Name every limit that was passed, or say that none was."""
    account = account_of(case)
    passed = say_passed(case)
    if account is None and not passed:
        return Section("costs", LIMITS, (Text(_NOTHING),))
    blocks: list[Block] = []
    if passed:
        blocks = [
            Text("Limits that were passed:"),
            Bullets(tuple(f"{upper_first(words)}." for words in passed)),
            Text(_say_risk(account)),
        ]
    elif account is not None and account.doses:
        blocks = [Text("Every limit was kept, as far as it was counted. The numbers are in the appendix.")]
    if account is not None and account.unknown:
        blocks.append(Missing(account.say_unknown()))
    return Section("costs", LIMITS, tuple(blocks))


_RISK = (
    "Damp and heat are reckoned from the plans, sizes are as measured. A limit that was passed means more "
    "risk, not that harm was seen."
)


def _say_risk(account: Account | None) -> str:
    logged = "" if account is None else account.say_logged()
    return f"{_RISK} {logged}".strip()


def write_doses(case: Case) -> Section:
    """Give every dose of what was carried out, every source beside its limit."""
    title = "What the treatment cost the item"
    account = account_of(case)
    if account is None or not account.doses:
        return Section("doses", title, (Text(_NOTHING if account is None else "Nothing is known."),))
    head = tuple(cell.capitalize() for cell in HEAD)
    grid = Grid(head, _merge_alike(dose_cells(account, case.units)))
    return Section("doses", title, (grid, *([Text(account.say_logged())] if account.logged else ())))


def _merge_alike(cells: Iterable[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """Put the sources of one dose into one row where all their numbers are the same."""
    found: dict[tuple[str, ...], list[str]] = {}
    dose, named = "", set[str]()
    for name, by, *numbers in cells:
        dose = name or dose
        found.setdefault((dose, *numbers), []).append(by)
    rows = []
    for (name, *numbers), sources in found.items():
        values = [cell.replace("-", "−") for cell in numbers[:2]]
        rows.append(("" if name in named else name, "; ".join(sources), *values, *numbers[2:]))
        named.add(name)
    return tuple(rows)


def write_cautions(case: Case) -> Section:
    """Collect the cautions of every plan once, with the stages they belong to."""
    stages: dict[Caution, list[str]] = {}
    for (stage, cycle), rows in case.plans.items():
        for caution in cautions_of(rows):
            stages.setdefault(caution, []).append(say_stage(stage, cycle))
    told = tuple(
        Caution(c.verdict, f"{c.words} ({'; '.join(dict.fromkeys(where))})", c.source)
        for c, where in stages.items()
    )
    return listing("cautions", "Cautions of the plans", *([Cautions(told)] if told else []))
