"""The review panel: what changed, what the rules say, and whether there is to be another cycle."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pint

from bench.desk import Treatment
from bench.errors import BadValue
from bench.figures.chart import Chart
from bench.figures.doses import DOSES, dose_table
from bench.figures.faces import draw_defect_map
from bench.figures.page import fold, verdict_tag
from bench.figures.review import draw_defects, draw_planned_beside_measured, draw_size_changes
from bench.figures.review_pages import (
    change_table,
    next_cycle_table,
    outcome_table,
    review_lead,
    spot_table,
)
from bench.handover.intake import known_findings
from bench.handover.review import KnownCycle, read_cycle
from bench.panels.base import Panel, View
from bench.panels.fields import ChoiceField, Field, GroupLabel, Hint, NumberField, TextField, TickField
from bench.panels.parts import opening
from bench.panels.remembered import Remembered
from bench.panels.standing import flagged
from bench.physics.contact import most_pressure
from bench.records.nouns import replacing
from bench.treatment.humidity.plan import LONGEST, SHORTEST
from bench.treatment.plan import Verdict
from bench.treatment.pressing.plan import HOTTEST, LONGEST_DWELL, ROOM, SHORTEST_DWELL
from bench.treatment.recorded import count_consented
from bench.treatment.review import ReviewChoices, ReviewPlan, plan_review
from bench.treatment.review.comparison import SEVERITIES, DefectCourse
from bench.treatment.review.levers import Conditions, say_condition
from bench.treatment.review.next_cycle import NextCycle
from bench.treatment.review.planning import approve
from bench.treatment.review.rows import consent_row, decision_rows, defect_rows, mark_rows
from bench.treatment.review.rules import DEFAULT_RULES
from bench.units import Q_, UnitChoice

_NOT_SEEN = ("not looked at yet", -1)  # a list takes None for nothing chosen
_GRADES = [(f"{grade} {word}", grade) for grade, word in enumerate(SEVERITIES)]
_MARKS = (*DEFAULT_RULES.stop_marks, *DEFAULT_RULES.refer_marks)
# Name in the conditions, label, unit, and what chamber and press can be planned for.
_CHANGES = (
    ("interval", "Leaves between sheets", "dimensionless", None, None),
    ("pressure", "Pressure on the face", "kPa", Q_(0.1, "kPa"), most_pressure()),
    ("humidity", "Humidity of the source", "percent", Q_(0.0, "percent"), Q_(100.0, "percent")),
    ("time_in_chamber", "Time in the chamber", "hour", SHORTEST, LONGEST),
    ("platen", "Platen", "temperature", ROOM, HOTTEST),
    ("dwell", "Dwell", "min", SHORTEST_DWELL, LONGEST_DWELL),
)
_CONSENT_BY, _CONSENT_HOW = "Agreed by", "How it was agreed"


@dataclass(frozen=True)
class _Reviewed:
    """The plan with what it rests on."""

    plan: ReviewPlan
    known: KnownCycle
    choices: ReviewChoices


def build_review_panel(
    treatment: Treatment, *, plan: Callable[..., ReviewPlan] = plan_review, cycle: int | None = None
) -> Panel:
    """Build the panel of the review.

    Parameters
    ----------
    treatment : Treatment
        At hand.  Readings, plans and consent are read from the record as last saved.
    plan : callable
        The calculation, the same one that the notebook calls.
    cycle : int, optional
        The cycle just finished; by default the cycle at hand.
    """
    number = cycle or treatment.cycle
    known = Remembered(treatment, lambda: read_cycle(treatment, number))

    def work(values: Mapping[str, Any], units: UnitChoice) -> _Reviewed:
        done = known()
        choices = _read_choices(done, values)
        result = plan(
            treatment.item,
            done.before,
            done.after,
            [course.seen_as(number, _read_grade(values, course)) for course in done.courses],
            choices,
            planned_values=done.planned,
            measured=done.measured,
            plans=done.plans,
            cycle=number,
            units=units,
        )
        return _Reviewed(result, done, choices)

    def save(result: _Reviewed, values: Mapping[str, Any]) -> str:
        return treatment.save(_rows(treatment, result, values), plan=result.plan)

    def show(result: _Reviewed, units: UnitChoice) -> View:
        return flagged(treatment, "review", number, _show(treatment, result, units))

    return Panel(
        name="review",
        strip=treatment.heading("review", number),
        fields=_fields(treatment, known()),
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save this decision",
    )


def _fields(treatment: Treatment, known: KnownCycle) -> list[Field | GroupLabel]:
    cycle = known.cycle
    rest = known.choices.rested
    consented = known.choices.consented_cycles > cycle
    return [
        GroupLabel(f"Each defect after cycle {cycle}"),
        *(_grade_field(course, cycle) for course in known.courses),
        GroupLabel("New marks"),
        *(TickField(_key(mark), mark.capitalize()) for mark in _MARKS),
        TextField("other_mark", "Another new mark", hint="any new mark stops the treatment"),
        GroupLabel("Rest and consent"),
        NumberField(
            "rested",
            "Rest at room conditions",
            rest,
            "hour",
            low=Q_(0.0, "hour"),
            high=Q_(10_000.0, "hour"),
            optional=True,
            hint="since it left the press; empty if not known",
        ),
        TickField("consent", f"The owner agreed in writing to cycle {cycle + 1}", consented),
        TextField("consent_by", _CONSENT_BY, "", hint="owner, or who acts for the owner"),
        TextField("consent_how", _CONSENT_HOW, "", hint="letter or message, and its day"),
        GroupLabel("One change for the next cycle; empty: the rules choose"),
        *_change_fields(known.choices.done_with),
        GroupLabel("Rules"),
        ChoiceField(
            "tolerated",
            "Grade that is left alone",
            _GRADES[:3],
            int(DEFAULT_RULES.tolerated_severity.value.magnitude),
        ),
        _rule_field("least_gain", "Least gain of the last cycle", "of the first cycle's improvement", 100.0),
        _rule_field("most_growth", "Most growth of an edge", "of its size before treatment", 2.0),
        TextField("who", "Decided by", treatment.conservator, needed="Say who decides"),
    ]


def _key(mark: str) -> str:
    return f"mark_{mark.replace(' ', '_').replace('-', '_')}"


def _read_grade(values: Mapping[str, Any], course: DefectCourse) -> int | None:
    grade = values.get(_key_of(course), _NOT_SEEN[1])
    return None if grade == _NOT_SEEN[1] else grade


def _key_of(course: DefectCourse) -> str:
    return f"defect_{course.defect}"


def _grade_field(course: DefectCourse, cycle: int) -> ChoiceField:
    seen = course.after(cycle)
    grade = seen.severity if seen else _NOT_SEEN[1]
    hint = f"before: {course.before.severity} {SEVERITIES[course.before.severity]}"
    return ChoiceField(_key_of(course), course.name, [_NOT_SEEN, *_GRADES], grade, hint=hint)


def _change_fields(done: Conditions) -> list[Field]:
    found: list[Field] = []
    for name, label, unit, low, high in _CHANGES:
        was = getattr(done, name)
        hint = "this cycle: not recorded" if was is None else _say_was(was)
        entry = NumberField(f"next_{name}", label, None, unit, low=low, high=high, optional=True, hint=hint)
        entry.also_named = name.replace("_", " ")  # in what the conditions refuse
        found.append(entry)
    return found


def _say_was(value: object) -> Hint:
    """Say how this cycle was done, a temperature in the operator's unit."""
    if isinstance(value, pint.Quantity) and value.check("[temperature]"):
        return lambda units: f"this cycle: {say_condition(value.to(units.temperature))}"
    return f"this cycle: {say_condition(value)}"


def _rule_field(name: str, label: str, hint: str, high: float) -> NumberField:
    rule = getattr(DEFAULT_RULES, name)
    return NumberField(
        name, label, rule.value, "percent", low=Q_(0.0, "percent"), high=Q_(high, "percent"), hint=hint
    )


def _read_choices(known: KnownCycle, values: Mapping[str, Any]) -> ReviewChoices:
    marks = tuple(mark for mark in _MARKS if values[_key(mark)])
    other = (values["other_mark"],) if values["other_mark"] else ()
    if values["consent"]:
        _check_consent(known, values)
    return replace(
        known.choices,
        proposal=_read_proposal(known.choices.done_with, values),
        consented_cycles=approve(known.choices.consented_cycles, known.cycle, agreed=values["consent"]),
        rested=values["rested"],
        marks=(*marks, *other),
        rules=DEFAULT_RULES.edited(
            tolerated_severity=Q_(values["tolerated"], ""),
            least_gain=values["least_gain"],
            most_growth=values["most_growth"],
        ),
    )


def _check_consent(known: KnownCycle, values: Mapping[str, Any]) -> None:
    """Ask who agreed and how, unless the record says so already."""
    if known.choices.consented_cycles > known.cycle:
        return
    for key, label in (("consent_by", _CONSENT_BY), ("consent_how", _CONSENT_HOW)):
        if not values[key]:
            raise BadValue(label, "empty", "some words", "Say who agreed and how, or take the tick away")


def _read_proposal(done: Conditions, values: Mapping[str, Any]) -> Conditions | None:
    """Build the operator's own proposal; None if no field says anything."""
    given = {name: values[f"next_{name}"] for name, *_ in _CHANGES if values[f"next_{name}"] is not None}
    if not given:
        return None
    if "interval" in given:
        leaves = float(given["interval"].magnitude)
        if leaves != round(leaves) or leaves < 1:
            allowed = "a whole number, 1 or more"
            raise BadValue("Leaves between sheets", f"{leaves:g}", allowed, "Choose a spacing, such as 8")
        given["interval"] = round(leaves)
    return replace(done, **given)


_RULES_HEAD = (
    '<span class="group">What each rule says; open: nothing against another cycle; '
    "mind it: weigh it up</span>"
)


def _map_of(treatment: Treatment, plan: ReviewPlan, units: UnitChoice) -> Chart | None:
    """Draw where the defects are, with their grades, once one was looked at again."""
    if not any(len(course.sightings) > 1 for course in plan.courses):
        return None
    return draw_defect_map(treatment.item, known_findings(treatment).defects, units, courses=plan.courses)


def _show(treatment: Treatment, result: _Reviewed, units: UnitChoice) -> View:
    plan, rules = result.plan, result.choices.rules
    if not result.known.is_begun and not any(course.after(plan.cycle) for course in plan.courses):
        return _nothing_to_review(plan.cycle)
    limits = {"growth_limit": rules.most_growth.value, "shortening_limit": rules.most_shortening.value}
    return View(
        lead=review_lead(plan),
        parts=[
            lambda: draw_defects(plan.courses) if plan.courses else None,
            lambda: _map_of(treatment, plan, units),
            lambda: draw_planned_beside_measured(plan.comparisons, units) if plan.comparisons else None,
            lambda: draw_size_changes(plan.sizes, units, **limits) if plan.sizes else None,
            _RULES_HEAD,
            outcome_table(plan.outcomes),
            *([DOSES, dose_table(plan.account, units)] if plan.account else []),
            *_say_following(result.known.following),
            fold("Readings before and after", change_table(result.known.before, result.known.after, units)),
        ],
        cautions=plan.cautions,
        save_says=treatment.say_plan(plan, "defects", "decisions"),
    )


def _nothing_to_review(cycle: int) -> View:
    said = f"Nothing is recorded as done in cycle {cycle}: there is nothing to judge yet."
    then = (
        "If it was done, mark its steps as done, take the readings again, and say how each defect looks now. "
        "If not, go back to 03."
    )
    return View(
        lead=opening(said, then, tag=verdict_tag(Verdict.CARE, "Not done yet")),
        save_blocked="A decision can be saved once something of this cycle is recorded.",
    )


def _say_following(following: NextCycle | None) -> list[str]:
    """Say what the next cycle would do, if it was read after this one."""
    if following is None:
        return []
    judged = f"Would every {following.interval} leaves reach what is left? As warm and damp as this cycle"
    return [
        '<span class="group">Next cycle: where the load would go, by the readings after this one</span>',
        next_cycle_table(following),
        f'<span class="group">{judged}</span>',
        spot_table(following),
    ]


def _rows(
    treatment: Treatment, result: _Reviewed, values: Mapping[str, Any]
) -> dict[str, Sequence[Mapping[str, Any]]]:
    plan, record, at = result.plan, treatment.latest, treatment.now()
    decisions = record.rows("decisions")
    consents = []
    if values["consent"] and count_consented(decisions) <= plan.cycle:
        how, by = values["consent_how"], values["consent_by"]
        consents.append(consent_row(plan.cycle, how=how, by=by, at=at))
    seen = defect_rows(plan.courses, plan.cycle, record.rows("defects"))
    return {
        **treatment.rows_for(plan),
        "defects": replacing(record, "defects", seen, ("defect", "moment", "cycle")),
        "decisions": [*consents, *decision_rows(plan, decisions, by=values["who"], at=at)],
        "log": mark_rows(result.choices.marks, plan.cycle, record.rows("log"), at=at),
    }
