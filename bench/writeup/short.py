"""The short form for the owner, one or two pages: the same record without its plans and readings."""

from __future__ import annotations

from datetime import datetime

from bench.records.photographs import by_view
from bench.treatment.comparison import SEVERITIES, DefectCourse
from bench.treatment.recorded import build_courses
from bench.writeup.blocks import Block, Facts, Grid, Missing, Photographs, Points, Section, Text
from bench.writeup.carried_out import last_review_cycle, size_changes
from bench.writeup.case import Case, say_day, say_length, say_text
from bench.writeup.examined import show_photograph
from bench.writeup.owner import (
    KEEP_REPORT,
    PERMANENT,
    advise_storage,
    say_acts,
    say_added,
    say_size_changes,
    say_taken_out,
)
from bench.writeup.planned import write_consent
from bench.writeup.trail import write_signatures


def write_short_form(case: Case) -> tuple[Section, ...]:
    """Write the sections of the short form: what came in, was done, was reached, is left, and advice."""
    courses = build_courses(case.rows["defects"])
    treated = bool(say_acts(case, only_done=True))
    changes = (_before_and_after(case, courses),) if treated else ()
    return (_came_in(case), _done(case), *changes, _left(courses, treated), _keeping(case), _who(case))


def _came_in(case: Case) -> Section:
    row = case.treatment
    item = case.item
    size = f"{say_length(row['width_mm'], case.units)} × {say_length(row['height_mm'], case.units)}"
    leaves = f"{item.leaves} leaves ({2 * item.leaves} pages)" if item else say_text(None)
    cover = " and a cover" if item and item.cover_leaves else ""
    staples = f", {len(item.staples)} staples" if item and item.staples else ""
    facts = (
        ("Item", say_text(row["title"])),
        ("Owner", say_text(row["owner"])),
        ("Form", f"{say_text(row['format'])}, {leaves}{cover}{staples}"),
        ("Size", size if row["width_mm"] and row["height_mm"] else say_text(None)),
        ("Examined", _say_first_day(case)),
    )
    return Section("item", "What came in", (Facts(facts),))


def _say_first_day(case: Case) -> str:
    moments = [row["taken_at"] for name in ("readings", "tests") for row in case.rows[name]]
    days = [moment for moment in moments if isinstance(moment, datetime)]
    return say_day(min(days)) if days else say_text(None)


def _done(case: Case) -> Section:
    if not say_acts(case, only_done=True):
        return Section("done", "What was done", (Text(_say_untreated(case)),))
    blocks: list[Block] = [Points(tuple(say_acts(case))), Text(say_added(case))]
    blocks += say_taken_out(case)
    return Section("done", "What was done", tuple(blocks))


def _say_untreated(case: Case) -> str:
    decided = [r for r in case.of("decisions", stage="intake") if r["decision"] in ("treat", "hold", "refer")]
    last = max(decided, key=lambda row: row["decided_at"], default=None)
    why = f" The decision at intake is “{last['decision']}”." if last else ""
    return f"Nothing is recorded as done to it.{why}"


def _before_and_after(case: Case, courses: tuple[DefectCourse, ...]) -> Section:
    blocks: list[Block] = list(_photographs(case))
    seen = [course for course in courses if len(course.sightings) > 1]
    if seen:
        cells = tuple(
            (c.name, _grade(c.before.severity), _grade(c.last.severity), _say_turn(c)) for c in seen
        )
        blocks.append(Grid(("Seen", "Before", "After", "Change"), cells))
    elif courses:
        blocks.append(Missing("No defect was looked at again after treatment."))
    if last_review_cycle(case) and size_changes(case):
        blocks.append(Text(say_size_changes(case)))
    elif seen:
        blocks.append(Missing("By how much the size changed was not measured."))
    if not blocks:
        blocks.append(Missing("No defect is listed."))
    return Section("change", "Before and after", tuple(blocks))


def _photographs(case: Case) -> tuple[Photographs, ...]:
    """Give the first view taken before and after in the same light, else the first photograph."""
    views = by_view(case.rows["photographs"])
    if not views:
        return ()
    both = [found for found in views if {"intake", "review"} <= {row["stage"] for row in found}]
    pair = [both[0][0], both[0][-1]] if both else views[0][:1]
    return (Photographs(tuple(show_photograph(case, row) for row in pair)),)


def _grade(severity: int) -> str:
    return f"{severity} {SEVERITIES[severity]}"


def _say_turn(course: DefectCourse) -> str:
    change = course.before.severity - course.last.severity
    return "unchanged" if not change else ("better" if change > 0 else "worse")


def _left(courses: tuple[DefectCourse, ...], treated: bool) -> Section:
    left = [
        f"{course.name}: {_grade(course.last.severity)}"
        + ("" if course.in_scope else ", left alone as agreed")
        + ("" if len(course.sightings) > 1 or not treated else ", not looked at again")
        for course in courses
        if course.last.severity
    ]
    words = "Nothing that was listed is left." if courses else "No defect is listed."
    return Section("left", "What is left", (Text(f"{'; '.join(left)}." if left else words),))


def _keeping(case: Case) -> Section:
    acts = say_acts(case, only_done=True)
    damp = any("Humidified" in act or "Pressed" in act for act in acts)
    blocks: list[Block] = [Text(PERMANENT)] if damp else []
    air = "Keep it dark, cool and steadily at 35 to 50 % relative humidity; above 60 % is too damp."
    blocks.append(Points((air, *_say_rust(case), *advise_storage(case))))
    blocks.append(Text("The sources of this advice, and where they disagree, stand in the whole record."))
    return Section("keeping", "Risks, and how to keep it", tuple(blocks))


def _say_rust(case: Case) -> tuple[str, ...]:
    rusty = [row["staple"] for row in case.rows["staples"] if int(row["rust"])]
    if not rusty:
        return ()
    which = f"{' and '.join(rusty)} staple{'s' if len(rusty) > 1 else ''}"
    return (f"Rust was seen on the {which}: damp air lets it go on and stain the paper.",)


def _who(case: Case) -> Section:
    decisions = sorted(case.rows["decisions"], key=lambda row: row["decided_at"])
    taken = [
        f"{say_day(row['decided_at'])}: {row['decision']} ({row['decided_by']})"
        for row in decisions
        if not row["gate"] and not str(row["decision"]).startswith("authority")
    ]
    blocks: list[Block] = [Text(f"{'; '.join(taken)}.") if taken else Missing("No decision is recorded.")]
    blocks += write_consent(case, decisions)[1:]
    blocks.append(Text(KEEP_REPORT))
    blocks += write_signatures(case).blocks[1:]
    return Section("who", "Who and when", tuple(blocks))
