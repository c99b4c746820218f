"""Collect a treatment into one report."""

from __future__ import annotations

from datetime import datetime

from bench.errors import BadValue, NotFound
from bench.records.schema import TABLES
from bench.records.store import Record
from bench.units import UnitChoice, say_count
from bench.writeup.agreed import why_untreated, write_agreement, write_decisions
from bench.writeup.blocks import Report, Section, Text
from bench.writeup.case import Case, open_case, say_moment, say_offsets
from bench.writeup.costs import write_cautions, write_costs, write_doses
from bench.writeup.examined import write_examination, write_identification, write_tests
from bench.writeup.noted import note_all, say_in_short, summarise
from bench.writeup.owner import write_disclosure, write_storage
from bench.writeup.pictures import write_photographs
from bench.writeup.planned import write_plans
from bench.writeup.result import write_left, write_predictions, write_result
from bench.writeup.short import write_short_form
from bench.writeup.trail import write_corrections, write_signatures, write_sources
from bench.writeup.work import write_steps, write_work

AUDIENCES = ("record", "owner")
_SHORT_BASIS = "This is a summary; the full report has every plan, reading and source."


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
        Of the treatment; it is only read.
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
    case = open_case(record, units, at)
    short = audience == "owner"
    sections = write_short_form(case) if short else _write_story(case)
    appendix = () if short else _write_appendix(case, sections)
    return Report(
        title=case.treatment["title"],
        treatment_id=case.treatment["treatment_id"],
        written_at=at,
        by=by,
        basis=_SHORT_BASIS if short else _basis(case),
        summary=say_in_short(case) if short else summarise(case),
        sections=sections,
        appendix=appendix,
        noted=note_all(case, short=short),
        audience=audience,
    )


def _write_story(case: Case) -> tuple[Section, ...]:
    """Write what an owner, a later conservator or an insurer needs, in order."""
    found = (write_identification(case), write_examination(case), write_agreement(case))
    kept = (write_disclosure(case), write_storage(case), write_signatures(case))
    if why := why_untreated(case):  # sections about the work would only ask for what nobody did
        return (*found, Section("work", "What was done", (Text(why),)), *kept)
    done = (
        write_work(case),
        write_predictions(case),
        write_result(case),
        write_left(case),
        write_costs(case),
    )
    return (*found, *done, *kept)


def _write_appendix(case: Case, story: tuple[Section, ...]) -> tuple[Section, ...]:
    """Write the tables of numbers behind the story."""
    told = (
        write_plans(case),
        write_steps(case),
        write_doses(case),
        write_cautions(case),
        write_tests(case),
        write_decisions(case),
        write_photographs(case),
        write_corrections(case),
    )
    return (*told, write_sources((*story, *told)))


def _basis(case: Case) -> str:
    saved = [row["saved_at"] for name in TABLES for row in case.rows[name]]
    rows = sum(len(case.rows[name]) for name in TABLES)
    last = max(saved)
    words = f"From the record {case.treatment['treatment_id']} ({say_count(rows, 'row')}) as saved on "
    times = say_offsets(
        [row[c] for row in case.rows["steps"] for c in ("planned_start", "actual_start") if row[c]] or [last]
    )
    return f"{words}{say_moment(last)}. {times}"
