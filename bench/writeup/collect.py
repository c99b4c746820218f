"""Collect a treatment into one report."""

from __future__ import annotations

from datetime import datetime

from bench.errors import BadValue, NotFound
from bench.records.schema import TABLES
from bench.records.store import Record
from bench.treatment.recorded import build_courses
from bench.units import UnitChoice
from bench.writeup.blocks import Heading, Missing, Report, Section, Text
from bench.writeup.carried_out import write_cautions, write_predictions, write_result, write_work
from bench.writeup.case import Case, open_case, say_moment, say_offsets
from bench.writeup.costs import write_costs
from bench.writeup.examined import write_examination, write_identification, write_tests
from bench.writeup.owner import days_of, write_disclosure, write_storage
from bench.writeup.planned import say_stage, write_decisions, write_plans
from bench.writeup.short import write_short_form
from bench.writeup.trail import write_corrections, write_signatures, write_sources

AUDIENCES = ("record", "owner")
_SHORT_BASIS = "In short; the whole record tells every plan, reading and source."
_OF_THE_WORK = ("plan", "work", "predictions", "result", "costs")


def collect_report(
    record: Record,
    *,
    at: datetime,
    by: str,
    units: UnitChoice | None = None,
    audience: str = "record",
) -> Report:
    """Collect the record of a treatment into a report.

    Parameters
    ----------
    record : Record
    at : datetime
        When the report is written, with offset.
    by : str
        Who writes it.
    units : UnitChoice, optional
        By default the operator's, as last saved.
    audience : str
        ``"record"`` for the whole record, ``"owner"`` for the short form of one or two pages.

    Returns
    -------
    Report
        What was not recorded is said to be not recorded, never left out.

    Raises
    ------
    BadValue
        A time without offset, or nobody who writes.
    NotFound
        No such audience.
    RecordError
        A table cannot be read whole.
    """
    if at.tzinfo is None:
        came = at.isoformat(timespec="minutes")
        raise BadValue(
            "time of the report", came, "a time with its offset", "Write it like 2026-03-02T09:00+01:00"
        )
    if not by.strip():
        raise BadValue("written by", "empty", "a name", "Say who writes the report")
    if audience not in AUDIENCES:
        raise NotFound("reader", repr(audience), " or ".join(AUDIENCES), "Choose one of these")
    case = open_case(record, units)
    short = audience == "owner"
    sections = write_short_form(case) if short else _write_whole(case)
    return Report(
        title=case.treatment["title"],
        treatment_id=case.treatment["treatment_id"],
        written_at=at,
        by=by,
        basis=_SHORT_BASIS if short else _basis(case),
        summary=(_decided(case), _last_word(case)) if short else _summary(case),
        sections=sections,
        audience=audience,
    )


def _write_whole(case: Case) -> tuple[Section, ...]:
    told: tuple[Section, ...] = (
        write_identification(case),
        write_examination(case),
        write_tests(case),
        write_decisions(case),
        write_plans(case),
        write_work(case),
        write_predictions(case),
        write_result(case),
        write_costs(case),
        write_cautions(case),
        write_disclosure(case),
        write_storage(case),
        write_corrections(case),
    )
    told = tuple(_say_untreated(section, case) for section in told)
    return (*told, write_sources(told), write_signatures(case))


def _say_untreated(section: Section, case: Case) -> Section:
    """Say once that an item was not treated, where all of a section would only be missing for that."""
    rows = sorted(case.of("decisions", stage="intake"), key=lambda r: r["decided_at"])
    decided = [r["decision"] for r in rows if r["decision"] in ("treat", "hold", "refer")]
    if section.key not in _OF_THE_WORK or not decided or decided[-1] == "treat":
        return section
    if any(not isinstance(block, (Heading, Missing)) for block in section.blocks):
        return section
    words = f"None: the item was not treated, because intake ended in “{decided[-1]}”."
    return Section(section.key, section.title, (Text(words),))


def _basis(case: Case) -> str:
    saved = [row["saved_at"] for name in TABLES for row in case.rows[name]]
    rows = sum(len(case.rows[name]) for name in TABLES)
    last = max(saved)
    counted = f"{rows} current {'row' if rows == 1 else 'rows'}"
    words = f"From {counted} of the record {case.treatment['treatment_id']}, last saved on "
    times = say_offsets(
        [row[c] for row in case.rows["steps"] for c in ("planned_start", "actual_start") if row[c]] or [last]
    )
    return f"{words}{say_moment(last)}. {times}"


def _summary(case: Case) -> tuple[str, ...]:
    """Say in a few sentences what was decided, done and reached."""
    return (_decided(case), _done(case), _reached(case), _last_word(case))


def _decided(case: Case) -> str:
    rows = sorted(case.of("decisions", stage="intake"), key=lambda r: r["decided_at"])
    decided = [r for r in rows if str(r["decision"]) in ("treat", "hold", "refer")]
    if not decided:
        return "No decision at intake is recorded."
    row = decided[-1]
    if row["reason"] and row["reason"].lower().startswith(row["decision"]):
        return f"Decided at intake: {row['reason']}"
    return f"Decided at intake: {row['decision']}." + (f" {row['reason']}" if row["reason"] else "")


def _done(case: Case) -> str:
    stages = {
        "surface cleaned": days_of(case, "cleaning"),
        "humidified": days_of(case, "humidity"),
        "pressed": days_of(case, "pressing"),
    }
    said = [f"{word} on {' and '.join(spans)}" for word, spans in stages.items() if spans]
    if not said:
        return "No treatment is recorded as carried out."
    return f"The item was {'; '.join(said)}."


def _reached(case: Case) -> str:
    courses = build_courses(case.rows["defects"])
    seen = [c for c in courses if len(c.sightings) > 1]
    if not seen:
        return "No defect was looked at again after treatment."
    better = sum(c.last.severity < c.before.severity for c in seen)
    worse = sum(c.last.severity > c.before.severity for c in seen)
    same = len(seen) - better - worse
    words = f"Of {len(courses)} defects {better} became better, {same} stayed and {worse} became worse"
    unseen = len(courses) - len(seen)
    return words + (f"; {unseen} not looked at again." if unseen else ".")


def _last_word(case: Case) -> str:
    rows = sorted(case.of("decisions", stage="review"), key=lambda r: r["decided_at"])
    rows = [row for row in rows if not str(row["decision"]).startswith("consent")]
    if not rows:
        return "No review is recorded."
    row = rows[-1]
    return f"Last decision ({say_stage('review', row['cycle'])}): {row['decision']}."
