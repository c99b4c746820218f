"""The panels of humidity: the hours in the chamber, and the hygrometer held against a salt."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from bench.desk import Treatment
from bench.figures.doses import DOSES, dose_table
from bench.figures.humidity import draw_uptake, ways_table
from bench.figures.humidity_edges import draw_edges
from bench.figures.page import folded_numbers, verdict_tag
from bench.handover.humidity import humidity_choices
from bench.handover.intake import conditions_of
from bench.panels.base import Panel, View
from bench.panels.chamber import chamber_fields, read_chamber
from bench.panels.declared import first_keys
from bench.panels.fields import ChoiceField, NumberField
from bench.panels.parts import Part, opening
from bench.panels.remembered import Remembered
from bench.panels.standing import flagged, save_as_seen, view_of
from bench.physics.salts import HygrometerCheck, check_hygrometer, salt_names
from bench.records import nouns
from bench.records.nouns import entered_of, happened, replacing
from bench.treatment.actual.observed import ReadSince, read_air
from bench.treatment.calibration import CORRECTION
from bench.treatment.choices import staying
from bench.treatment.humidity import HumidityChoices, HumidityPlan, Source, plan_humidity
from bench.treatment.plan import Caution, Verdict
from bench.treatment.transport import KEY, read_transport
from bench.units import Q_, Quantity, UnitChoice


def build_humidity_panel(
    treatment: Treatment, *, plan: Callable[..., HumidityPlan] = plan_humidity, cycle: int | None = None
) -> Panel:
    """Build the panel of the chamber.

    Parameters
    ----------
    treatment : Treatment
        At hand; the conditions of intake are read from its record.
    plan : callable
        The calculation, the same one that the notebook calls.
    cycle : int, optional
        By default the cycle at hand.
    """
    number = cycle or treatment.cycle
    known = Remembered(
        treatment,
        lambda: (
            treatment.item,
            treatment.thicknesses(number),
            humidity_choices(treatment, number),
            conditions_of(treatment, "humidity"),
            treatment.handed_to("humidity", number),
        ),
    )
    usual = known()[2]
    air = Remembered(
        treatment,
        lambda: read_air(
            *happened(treatment.latest, "humidity", number),
            known()[2].hygrometer_correction,
            nouns.checks_of(treatment.latest),
        ),
    )

    def work(values: Mapping[str, Any], units: UnitChoice) -> HumidityPlan:
        item, thicknesses, handed_on, conditions, _ = known()
        choices = replace(handed_on, **read_chamber(values), **read_transport(values[KEY], handed_on))
        return plan(item, thicknesses, choices, cycle=number, units=units, conditions=conditions)

    def show(result: HumidityPlan, units: UnitChoice) -> View:
        view = view_of(treatment, result, _parts(result, units, air()))
        return flagged(treatment, "humidity", number, view)

    def save(result: HumidityPlan, values: Mapping[str, Any]) -> str:
        return save_as_seen(treatment, panel, result, _materials(treatment, result), known.last[-1])

    def follow(panel: Panel) -> None:
        correction = known()[2].hygrometer_correction.to("percent").magnitude
        panel.propose("correction", f"{float(correction):.4g}")

    panel = Panel(
        name="humidity",
        strip=treatment.heading("humidity", number),
        fields=chamber_fields(usual),
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        first=first_keys(HumidityChoices),
        entered=entered_of(treatment.record, "humidity", number, stays=staying(HumidityChoices)),
        follow=follow,
    )
    return panel


def _parts(result: HumidityPlan, units: UnitChoice, air: Sequence[ReadSince]) -> Iterator[Part]:
    yield draw_uptake(result, air)
    yield ways_table(result)
    yield draw_edges(result.edges)
    yield DOSES
    yield dose_table(result.account, units)
    yield folded_numbers(result, units)


def _materials(treatment: Treatment, plan: HumidityPlan) -> dict[str, list[dict[str, Any]]]:
    if plan.choices.source is Source.GIVEN:
        return {}
    kind = "salt" if plan.choices.source is Source.SALT else "water"
    area = float(plan.choices.source_area.to("cm^2").magnitude)
    row = {
        "stage": "humidity",
        "cycle": plan.cycle,
        "kind": kind,
        "material": plan.held.name,
        "note": f"over {area:.0f} cm²",
    }
    return {"materials": replacing(treatment.latest, "materials", [row], ("stage", "cycle", "kind"))}


def build_hygrometer_panel(treatment: Treatment, *, cycle: int | None = None) -> Panel:
    """Build the small panel that checks a hygrometer against a salt."""
    number = cycle or treatment.cycle

    def work(values: Mapping[str, Any], units: UnitChoice) -> HygrometerCheck:
        return check_hygrometer(
            values["reading"],
            salt=values["salt"],
            temperature=values["temperature"],
            instrument_uncertainty=values["doubt"],
        )

    def show(check: HygrometerCheck, units: UnitChoice) -> View:
        agrees = check.verdict == "agrees"
        tag = verdict_tag(Verdict.GO if agrees else Verdict.CARE, "Agrees" if agrees else "Correct it")
        return View(
            lead=opening(check.words, tag=tag),
            cautions=tuple(Caution(Verdict.GO, words) for words in check.cautions),
            save_says="Writes 1 row to readings and 1 row to log: the correction.",
        )

    def save(check: HygrometerCheck, values: Mapping[str, Any]) -> str:
        return treatment.save(_check_rows(treatment, check, values["doubt"], number))

    return Panel(
        name="hygrometer",
        strip=[treatment.title, "Hygrometer check"],
        fields=[
            ChoiceField("salt", "Salt", salt_names(), "sodium chloride"),
            NumberField("temperature", "Temperature of salt and air", Q_(22, "degC"), "temperature"),
            NumberField("reading", "Hygrometer reading", None, "percent", hint="after it has come to rest"),
            NumberField("doubt", "Instrument uncertainty", Q_(2, "percent"), "percent"),
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save this check",
    )


def _check_rows(
    treatment: Treatment, check: HygrometerCheck, doubt: Quantity, cycle: int
) -> dict[str, list[dict[str, Any]]]:
    common = {"stage": "humidity", "cycle": cycle}
    at = treatment.now()
    reading = {
        **common,
        "quantity": "humidity",
        "place": f"over {check.expected.salt}",
        "value": float(check.reading.to("percent").magnitude),
        "unit": "percent",
        "instrument": "hygrometer",
        "limit": float(doubt.to("percent").magnitude),
        "taken_at": at,
        "taken_by": treatment.conservator,
    }
    logged = {
        **common,
        "at": at,
        "quantity": CORRECTION,
        "value": round(float(check.correction.to("percent").magnitude), 2),
        "unit": "percent",
        "remark": check.words,
    }
    return {"readings": [reading], "log": [logged]}
