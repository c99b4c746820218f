"""The buffering panel: where the sheets go, and whether spine and staples stay free."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from bench.desk import Treatment
from bench.figures.buffering import draw_intervals, draw_section, interval_table
from bench.figures.page import lead
from bench.figures.slip import slip_document
from bench.figures.style import Picture
from bench.item import Format
from bench.materials import look_up, materials_of_kind
from bench.panels.base import Panel, View
from bench.panels.fields import ChoiceField, GroupLabel, StepField
from bench.panels.loads import load_fields, read_load
from bench.records.nouns import replacing
from bench.treatment.buffering import BufferingChoices, BufferingPlan, plan_buffering
from bench.units import UnitChoice


def build_buffering_panel(
    treatment: Treatment, *, plan: Callable[..., BufferingPlan] = plan_buffering, cycle: int | None = None
) -> Panel:
    """Build the panel.

    Parameters
    ----------
    treatment : Treatment
        At hand.
    plan : callable
        The calculation, the same one that the notebook calls.
    cycle : int, optional
        By default the cycle at hand.
    """
    number = cycle or treatment.cycle
    item = treatment.item
    thicknesses = treatment.thicknesses(number)

    def work(values: Mapping[str, Any], units: UnitChoice) -> BufferingPlan:
        load, words = read_load(values, item.area)
        choices = BufferingChoices(
            load=load,
            load_words=words,
            interval=values["interval"],
            sheet=values["sheet"],
            accepted_risk=values["risk"] / 100,
        )
        return plan(item, thicknesses, choices, cycle=number, units=units)

    def show(result: BufferingPlan, units: UnitChoice) -> View:
        return View(
            lead=lead(result),
            parts=[*_pictures(result, units), interval_table(result, units), _say_places(result)],
            cautions=result.cautions,
            save_says=f"{treatment.say_plan(result, 'materials')} Writes the bench slip too.",
        )

    def _pictures(result: BufferingPlan, units: UnitChoice) -> list[Picture]:
        if item.format is Format.SHEET:
            return []
        return [draw_section(item, thicknesses, result, units), draw_intervals(result, units)]

    def save(result: BufferingPlan, values: Mapping[str, Any]) -> str:
        words = treatment.save_plan(result, _materials(treatment, result))
        name = treatment.write_file(f"bench-slip-{number}.html", slip_document(item, result))
        return f"{words} The bench slip is in {name}."

    return Panel(
        name="buffering",
        strip=treatment.heading("buffering", number),
        fields=[
            GroupLabel("Choose"),
            StepField("interval", "One sheet after every … leaves", min(4 + 2 * number, 12), 2, 12),
            ChoiceField("sheet", "Sheet", materials_of_kind("interleaf"), "copy paper 24 lb"),
            *load_fields(),
            StepField("risk", "Chance of loading the spine that I accept, %", 2, 1, 20),
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
    )


def _say_places(plan: BufferingPlan) -> str:
    inner = ", ".join(str(place.after_leaf) for place in plan.placements[1:-1])
    return f'<p class="because">Sheets under both covers and after leaf {inner}, counted from the front.</p>'


def _materials(treatment: Treatment, plan: BufferingPlan) -> dict[str, list[dict[str, Any]]]:
    row = {
        "stage": "buffering",
        "cycle": plan.cycle,
        "kind": "interleaf",
        "material": plan.sheet,
        "count": plan.chosen.sheets,
        "thickness_um": round(float(look_up(plan.sheet, "thickness").value.to("um").magnitude), 1),
        "grammage_gsm": round(float(look_up(plan.sheet, "grammage").value.to("gsm").magnitude), 1),
    }
    return {"materials": replacing(treatment.latest, "materials", [row], ("stage", "cycle", "kind"))}
