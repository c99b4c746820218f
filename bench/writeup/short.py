"""The short form for the owner, one or two pages: the same record without its plans and readings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from bench.treatment.recorded import build_courses, count_consented
from bench.treatment.review.comparison import DefectCourse
from bench.writeup.agreed import is_decision, sorted_decisions, why_untreated
from bench.writeup.blocks import Block, Bullets, Facts, Grid, Missing, Section, Text
from bench.writeup.case import Case, Row, join_words, say_date, say_length, say_text, upper_first
from bench.writeup.noted import say_decided
from bench.writeup.owner import (
    FROM_MEMORY,
    KEEP_REPORT,
    PERMANENT,
    advise_storage,
    is_damped,
    say_acts,
    say_added,
    say_size,
    say_taken_out,
)
from bench.writeup.pictures import show, sort_photographs
from bench.writeup.result import say_defect, say_turn
from bench.writeup.trail import write_signatures

GRADES = ("not visible", "just visible", "plainly visible", "loss")
"""Grades of a defect, in words that need no table."""


def write_short_form(case: Case) -> tuple[Section, ...]:
    """Write the sections of the short form: what came in, was done, was reached, is left, and advice."""
    courses = build_courses(case.rows["defects"])
    treated = bool(case.acts)
    change = (_before_and_after(case, courses),) if treated else ()
    return (_came_in(case), _done(case), *change, _left(courses, treated), _keeping(case), _who(case))


def _came_in(case: Case) -> Section:
    row, item = case.treatment, case.item
    size = f"{say_length(row['width_mm'], case.units)} × {say_length(row['height_mm'], case.units)}"
    form = [say_text(row["format"])]
    if item is not None:
        cover = " and a cover" if item.cover_leaves else ""
        form.append(f"{item.leaves} leaves ({2 * item.leaves} pages){cover}")
        count = len(item.staples)
        form += [f"{count} staple{'s' if count > 1 else ''}"] if count else []
    facts = (
        ("Owner", say_text(row["owner"])),
        ("Form", ", ".join(form)),
        ("Width × height", size if row["width_mm"] and row["height_mm"] else say_text(None)),
        ("Examined", _say_first_day(case)),
    )
    return Section("item", "What came in", (Facts(facts),))


def _say_first_day(case: Case) -> str:
    moments = [row["taken_at"] for name in ("readings", "tests") for row in case.rows[name]]
    days = [moment for moment in moments if isinstance(moment, datetime)]
    return say_date(min(days)) if days else say_text(None)


def _done(case: Case) -> Section:
    if not case.acts:
        return Section("done", "What was done", (Text("Nothing is recorded as done to it."),))
    blocks: list[Block] = [Bullets(tuple(say_acts(case))), Text(say_added(case)), *say_taken_out(case)]
    return Section("done", "What was done", tuple(blocks))


def _before_and_after(case: Case, courses: Sequence[DefectCourse]) -> Section:
    blocks: list[Block] = list(_photographs(case))
    seen = [course for course in courses if len(course.sightings) > 1]
    if seen:
        cells = tuple(
            (say_defect(c), GRADES[c.before.severity], GRADES[c.last.severity], say_turn(c)) for c in seen
        )
        blocks.append(Grid(("Defect", "Before", "After", "Change"), cells))
    blocks += say_size(case)
    words = "No defect is listed." if not courses else "No defect was looked at again after treatment."
    return Section("change", "Before and after", tuple(blocks) if seen else (*blocks, Missing(words)))


def _photographs(case: Case) -> tuple[Block, ...]:
    """Give the first view taken before and after in the same light, else the first photograph."""
    shown = sort_photographs(case)
    rows: Sequence[Row] = shown.pairs[0] if shown.pairs else (shown.before or shown.after)[:1]
    return (show(case, *rows),) if rows else ()


def _left(courses: Sequence[DefectCourse], treated: bool) -> Section:
    left = [
        f"{upper_first(say_defect(course))}: {GRADES[course.last.severity]}"
        + ("" if course.in_scope else "; left alone, as agreed")
        + ("" if len(course.sightings) > 1 or not treated else "; not looked at again")
        for course in courses
        if course.last.severity
    ]
    title = "What remains" if treated else "What was found"
    if left:
        return Section("left", title, (Bullets(tuple(f"{words}." for words in left)),))
    words = "None of the defects that were listed." if courses else "No defect is listed."
    return Section("left", title, (Text(words),))


def _keeping(case: Case) -> Section:
    blocks: list[Block] = [Text(PERMANENT)] if is_damped(case) else []
    air = "Keep it dark, cool and steadily at 35 to 50 % relative humidity; above 60 % is too damp."
    advice = (words.replace(FROM_MEMORY, "") for words in advise_storage(case))
    blocks.append(Bullets((air, *_say_rust(case), *advice)))
    blocks.append(Text("The full report says where this advice comes from, and which of it is from memory."))
    return Section("keeping", "How to keep it", tuple(blocks))


def _say_rust(case: Case) -> tuple[str, ...]:
    rusty = [row["staple"] for row in case.rows["staples"] if int(row["rust"])]
    if not rusty:
        return ()
    which = f"{join_words(rusty)} staple{'s' if len(rusty) > 1 else ''}"
    return (f"Rust was seen on the {which}: in damp air it goes on, and stains the paper.",)


def _who(case: Case) -> Section:
    rows = sorted_decisions(case)
    taken = tuple(
        f"{say_date(row['decided_at'])}: {row['decided_by']} {_say_taken(row)}."
        for row in rows
        if is_decision(row) or str(row["decision"]).startswith("consent")
    )
    blocks: list[Block] = [Bullets(taken)] if taken else [Missing("No decision is recorded.")]
    approved = count_consented(rows)
    done = max((act.cycle for act in case.acts), default=0)
    if not approved and not why_untreated(case):
        blocks.append(Missing("No written consent of the owner is recorded."))
    elif done > approved > 0:
        blocks.append(Missing(f"{done} cycles were begun, but consent is recorded for {approved} only."))
    blocks += [Text(KEEP_REPORT), *write_signatures(case).blocks[1:]]
    return Section("who", "Decisions and signatures", tuple(blocks))


def _say_taken(row: Row) -> str:
    """Say in plain words what was decided."""
    decision = str(row["decision"])
    if decision.startswith("consent"):
        to = f" to cycle {row['cycle'] + 1}" if row["stage"] == "review" else ""
        return f"gave written consent{to}"
    after = f", after cycle {row['cycle']}," if row["stage"] == "review" else ""
    return f"decided{after} {say_decided(decision)}"
