"""The panels of cleaning: the plan, and the log of each pass."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from bench.desk import Treatment
from bench.figures.cleaning import draw_work, left_out_table, work_table
from bench.figures.page import lead, table, verdict_tag
from bench.handover.cleaning import cleaning_choices, listed_soiled, own_rates, read_states
from bench.panels.base import Panel, View
from bench.panels.ended import EndedFields
from bench.panels.fields import (
    ChoiceField,
    Field,
    GroupLabel,
    NumberField,
    SegmentField,
    StepField,
    TextField,
)
from bench.panels.parts import opening
from bench.panels.remembered import Remembered
from bench.panels.standing import flagged
from bench.records.nouns import replacing
from bench.treatment.cleaning import CleaningChoices, CleaningPlan, plan_cleaning
from bench.treatment.cleaning.log import LoggedPass, log_rows
from bench.treatment.cleaning.surfaces import Soiled, Surface, SurfaceState, surfaces_of
from bench.treatment.cleaning.tools import TOOLS
from bench.treatment.plan import worst
from bench.treatment.rows import is_given
from bench.units import Q_, Quantity, UnitChoice, say_count

_SOILS = [("0 none", 0), ("1 just visible", 1), ("2 plain", 2), ("3 heavy", 3)]


class AreaField(NumberField):
    """A number whose unit has square centimetres in it, written as the bench writes them."""

    def show_in(self, units: UnitChoice) -> None:
        """Write the last sound value, and the unit with a raised two."""
        super().show_in(units)
        self.widget.description = self.widget.description.replace("cm^2", "cm²")


def build_cleaning_panel(
    treatment: Treatment, *, plan: Callable[..., CleaningPlan] = plan_cleaning, cycle: int | None = None
) -> Panel:
    """Build the panel of the plan.

    Parameters
    ----------
    treatment : Treatment
        At hand; its decision, conditions and rub test are read from the record.
    plan : callable
        The calculation, the same one that the notebook calls.
    cycle : int, optional
        By default the cycle at hand.
    """
    number = cycle or treatment.cycle
    states, listed = read_states(treatment, number), listed_soiled(treatment, number)
    shares = {state.surface: _share_fields(state) for state in states}
    logged = own_rates(treatment)
    rates = {each.id: _rate_field(each.id, logged.get(each.id)) for each in TOOLS}
    known = Remembered(treatment, lambda: cleaning_choices(treatment, cycle=number))
    own_rates_label = GroupLabel("Own rates; empty takes those from memory")

    def work(values: Mapping[str, Any], units: UnitChoice) -> CleaningPlan:
        base = known()
        for surface, entries in shares.items():
            for entry in entries:
                entry.box.layout.display = "" if values[_key(surface, "soil")] else "none"
        choices = CleaningChoices(
            surfaces=tuple(_read_state(surface, values) for surface in shares),
            rub_test=base.rub_test,
            conditions=base.conditions,
            rates={name: values[entry.key] for name, entry in rates.items() if values[entry.key] is not None},
            strongest=values["strongest"],
            thickness=base.thickness,
            decision=base.decision,
            listed=base.listed,
        )
        found = plan(treatment.item, choices, cycle=number)
        used = {each.tool.id for each in found.passes}
        for name, entry in rates.items():
            entry.box.layout.display = "" if name in used else "none"
        own_rates_label.box.layout.display = "" if used else "none"
        return found

    def save(result: CleaningPlan, values: Mapping[str, Any]) -> str:
        words = treatment.save_plan(result, _materials(treatment, result))
        return words

    def show(result: CleaningPlan, units: UnitChoice) -> View:
        return flagged(treatment, "cleaning", number, _show(treatment, result))

    fields: list[Field | GroupLabel] = []
    for state in states:
        field = _soil_field(state, listed.get(state.surface))
        fields += [GroupLabel(state.surface.value), field, *shares[state.surface]]
    fields += [
        GroupLabel("Tools"),
        ChoiceField(
            "strongest",
            "Strongest tool I take up",
            [(f"{t.order} {t.name}", t.id) for t in TOOLS],
            TOOLS[-1].id,
        ),
        own_rates_label,
        *rates.values(),
    ]
    panel = Panel(
        name="cleaning",
        strip=treatment.heading("cleaning", number),
        fields=fields,
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
    )
    return panel


def _key(surface: Surface, what: str) -> str:
    return f"{what}_{surface.name.lower()}"


def _soil_field(state: SurfaceState, listed: Soiled | None) -> ChoiceField:
    hint = f"listed: {listed.words}" if listed else ""
    return ChoiceField(_key(state.surface, "soil"), "Soil", _SOILS, state.soil, hint=hint)


def _share_fields(state: SurfaceState) -> list[Field]:
    hint = "soil shows most where the paper is light and bare"
    return [
        StepField(_key(state.surface, "share"), "Share to clean, %", round(100 * state.share), 0, 100),
        StepField(
            _key(state.surface, "bare"),
            "Unprinted light share, %",
            round(100 * state.unprinted),
            0,
            100,
            hint=hint,
        ),
    ]


def _rate_field(name: str, logged: Quantity | None) -> AreaField:
    hint = "from the log" if logged is not None else ""
    label = f"Rate of {name}"
    low, high = Q_(0.1, "cm^2/min"), Q_(5000.0, "cm^2/min")
    key = f"rate_{name.replace(' ', '_')}"
    return AreaField(key, label, logged, "cm^2/min", low=low, high=high, optional=True, hint=hint)


def _read_state(surface: Surface, values: Mapping[str, Any]) -> SurfaceState:
    return SurfaceState(
        surface,
        soil=values[_key(surface, "soil")],
        share=values[_key(surface, "share")] / 100,
        unprinted=values[_key(surface, "bare")] / 100,
    )


def _show(treatment: Treatment, plan: CleaningPlan) -> View:
    left = left_out_table(plan)
    parts: list[Any] = [lambda: draw_work(plan), work_table(plan)] if plan.passes else []
    if left:
        parts += ['<span class="group">Left out, and why</span>', left]
    return View(
        lead=lead(plan),
        parts=parts,
        cautions=plan.cautions,
        save_says=treatment.say_plan(plan, "materials"),
    )


def _materials(treatment: Treatment, plan: CleaningPlan) -> dict[str, list[dict[str, Any]]]:
    names = dict.fromkeys(p.tool.name for p in plan.passes)
    rows = [
        {"stage": "cleaning", "cycle": plan.cycle, "kind": "cleaning tool", "material": name}
        for name in names
    ]
    keys = ("stage", "cycle", "kind", "material")
    return {"materials": replacing(treatment.latest, "materials", rows, keys)}


def build_cleaning_log_panel(treatment: Treatment, *, cycle: int | None = None) -> Panel:
    """Build the panel that logs one pass, and shows the rates of one's own hand so far."""
    number = cycle or treatment.cycle
    surfaces = [s.value for s in surfaces_of(treatment.item)]
    logged: list[LoggedPass] = []
    cleaned = EndedFields("Cleaning is done")
    ends: list[datetime | None] = [None]  # of the answer shown

    def work(values: Mapping[str, Any], units: UnitChoice) -> LoggedPass:
        ends[0] = cleaned.read(values, treatment.now(), treatment.began)
        return _read_pass(values)

    def save(result: LoggedPass, values: Mapping[str, Any]) -> str:
        done = treatment.rows_when_done("cleaning", number, ends[0])
        again = logged[-1:] == [result]
        if again and not done:
            return "This pass is logged already: change what is different about the next one."
        rows = [] if again else log_rows(result, cycle=number, at=treatment.now())
        words = treatment.save({"log": rows, "steps": done})
        logged.append(result)
        panel._refresh(None)
        return words

    panel = Panel(
        name="cleaning-log",
        strip=treatment.heading("cleaning log", number),
        fields=[
            GroupLabel("One pass"),
            ChoiceField("surface", "Surface", surfaces, surfaces[0]),
            ChoiceField("tool", "Tool", [(t.name, t.id) for t in TOOLS], TOOLS[0].id),
            AreaField("area", "Area cleaned", None, "cm^2", optional=True),
            NumberField("time", "Time of the pass", None, "min", optional=True),
            StepField("passes", "Passes", 1, 1, 10),
            GroupLabel("What was seen"),
            StepField("dirt", "Dirt on the tool", 1, 0, 3, hint="0 none to 3 much"),
            SegmentField("colour", "Colour came off", [("no", False), ("yes", True)], False),
            SegmentField("residue", "Residue left", [("no", False), ("yes", True)], False),
            TextField("remark", "Remark"),
            *cleaned.fields,
        ],
        work=work,
        show=lambda result, units: _show_log(treatment, result, number),
        save=save,
        units=treatment.switch,
        save_label="Log this pass",
    )
    return panel


def _read_pass(values: Mapping[str, Any]) -> LoggedPass:
    seen = {name: value for name, value in values.items() if not name.startswith("ended")}
    return LoggedPass(**{**seen, "surface": Surface(seen["surface"])})


def _show_log(treatment: Treatment, logged: LoggedPass, cycle: int) -> View:
    rate = logged.rate
    shown = (
        f"{float(rate.magnitude):.0f} cm² a minute with the {logged.tool}."
        if rate is not None
        else "Area and time together give the rate of your own hand."
    )
    verdict = worst(c.verdict for c in logged.cautions)
    tag = verdict_tag(verdict) if logged.cautions else ""
    rows = treatment.record.read("log")
    rows = rows[(rows["stage"] == "cleaning") & (rows["cycle"] == cycle)]
    told = [
        (f"{row['at']:%d %b %H:%M}", row["remark"])
        for row in rows.to_dict("records")
        if is_given(row["remark"])
    ]
    parts = [table(("when", "pass"), told, words=True)] if told else []
    count = 1 + (logged.area is not None) + (logged.time is not None)
    return View(
        lead=opening(shown, tag=tag),
        parts=parts,
        cautions=logged.cautions,
        save_says=f"Writes {say_count(count, 'row')} to log.",
    )
