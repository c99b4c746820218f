"""What this bench has learned: found after pressing, or by weighing, over all its treatments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from bench.errors import BenchError, RecordError
from bench.handover.at_hand import AtHand
from bench.handover.measured import measured_here
from bench.item import Format, Item
from bench.physics.bearing.fit import Finding, fit_compression
from bench.physics.bearing.knowns import Assumed, Press
from bench.physics.bearing.zones import sheets_of
from bench.physics.ranges import Range
from bench.physics.transient import Inputs
from bench.progress import Progress
from bench.records import disk, nouns
from bench.records.check import treatment_folders
from bench.records.index import look_up
from bench.records.learned import BENCH, WEIGHINGS, last_accepted, learned_on_bench
from bench.records.rules import UNPRESSED
from bench.records.store import Record, look_at_treatment
from bench.treatment.buffering.choices import (
    PACK,
    PACKS,
    PRESS,
    USUAL_PACK,
    USUAL_SHEET,
    LoadPath,
    planned_load,
)
from bench.treatment.buffering.measured import with_measured
from bench.treatment.facts import SHEETS, SPINE_OUTSIDE, STOPS, STRIP
from bench.treatment.learning import Lesson, NothingFound, NotLearned, assumed_of, learn_from, say_learned
from bench.treatment.plan import find_value
from bench.treatment.recorded import build_planned_values
from bench.treatment.rows import Row, is_given
from bench.treatment.weighing.reading import RATIO, SCALE

# Words by which a plan from before version 3 tells of a press that is not fitted.
_SET_PRESS = ("stops", "outside the boards", "strip over the spine")


class _LeftOut(Exception):
    """Why something that was found cannot be used."""


def gather_findings(
    treatment: AtHand, progress: Progress | None = None
) -> tuple[tuple[Finding, ...], tuple[str, ...]]:
    """Gather thickness and unpressed width found after every cycle on this bench.

    Parameters
    ----------
    treatment : AtHand
        At hand; the treatments beside it in its folder are the others of the bench.
    progress : Progress, optional
        Told of every treatment.

    Returns
    -------
    findings : tuple of Finding
        In the order of folders and cycles.
    left_out : tuple of str
        What was found but cannot be used, and treatments that cannot be read, each with the reason.
    """
    found: list[Finding] = []
    left_out: list[str] = []
    own = treatment.record.folder
    folders = treatment_folders(own.parent)
    progress = progress or Progress()

    def count(done: int, of: int) -> None:
        progress.say(f"{done} of {of} treatments looked through")

    described = look_up(own.parent, folders, describe_cycles, progress=count)
    for number, (folder, known) in enumerate(zip(folders, described, strict=True), start=1):
        progress.say(f"{number} of {len(folders)} treatments read")
        if known["fault"]:
            left_out.append(f"{folder.name}: {known['fault']}")
        if not known["cycles"]:  # nothing was read after pressing: it need not be opened
            continue
        new, without = _find_all(folder, known["title"], known["cycles"])
        found += new
        left_out += without
    return tuple(found), tuple(left_out)


_kept: dict[Path, tuple[object, list[Finding], list[str]]] = {}
"""What was found in a treatment, until one of its files changes."""


def _find_all(folder: Path, title: str, cycles: Sequence[int]) -> tuple[list[Finding], list[str]]:
    """Build what was found after the cycles of one treatment, and say what cannot be used."""
    state = (disk.state_of_tables(folder), title, tuple(cycles))
    before, found, left_out = _kept.get(folder, (None, [], []))
    if before == state:
        return found, left_out
    found, left_out = [], []
    record = look_at_treatment(folder)
    item = nouns.item_of(record)
    for cycle in cycles:
        name = f"{title}, cycle {cycle}"
        try:
            found.append(_find(record, item, cycle, name))
        except (_LeftOut, BenchError) as error:
            left_out.append(f"{name}: {error}")
    _kept[folder] = (state, found, left_out)
    return found, left_out


def describe_cycles(folder: Path) -> dict[str, Any]:
    """Give the cycles after which something was read, as plain values, for the index."""
    try:
        record = look_at_treatment(folder)
        title, _ = str(nouns.treatment_row(record)["title"]), nouns.item_of(record)
        return {"title": title, "cycles": _cycles_found(record), "fault": ""}
    except (RecordError, BenchError, OSError) as error:
        return {"title": "", "cycles": [], "fault": str(error).splitlines()[0]}


_FEW = 3
"""Cycles from which it takes a moment to learn; each takes most of a second."""
_learned: list[Lesson] = []  # the last of this kernel: the chapter asks for what the panel has learned


def lesson_of(treatment: AtHand, progress: Progress | None = None) -> Lesson | NothingFound:
    """Learn from what was found on this bench so far, or say that nothing was found or learned yet.

    Parameters
    ----------
    treatment : AtHand
        The treatments beside it in its folder are the others of the bench.
    progress : Progress, optional
        Told of every treatment and number.  Without it only what takes a moment is learned anew.

    Raises
    ------
    Stopped
        It was stopped: what was learned before is kept.
    """
    findings, left_out = gather_findings(treatment, progress)
    if not findings:
        return NothingFound(left_out)
    for lesson in _learned:
        if (lesson.findings, lesson.left_out) == (findings, left_out):
            return lesson
    if progress is None and len(findings) > _FEW:
        return NotLearned(left_out, cycles=len(findings))

    def note(number: int, of: int, time: int) -> None:
        if progress is not None:
            progress.say(f"{number} of {of} numbers fitted, for the {time}. time")

    _learned[:] = [learn_from(findings, left_out, note=note)]
    return _learned[0]


def _cycles_found(record: Record) -> list[int]:
    """Give the cycles after which the text block or the unpressed strip was read."""
    rows = [row for row in record.rows("readings") if row["stage"] == "review"]
    return sorted(
        {
            row["cycle"]
            for row in rows
            if row["quantity"] == UNPRESSED or (row["quantity"], row["place"]) == ("thickness", "text block")
        }
    )


def _find(record: Record, item: Item, cycle: int, name: str) -> Finding:
    """Build what was found after a cycle beside how it was pressed.

    Raises
    ------
    _LeftOut
        It was not read before, its sheets or its load were not planned, or it was pressed in a way that is
        not fitted.
    """
    if item.format is Format.SHEET:
        raise _LeftOut("a single sheet has no spine")
    stage, before = nouns.before_cycle(cycle)
    thicknesses = nouns.thicknesses_of(record, item, stage=stage, cycle=before)
    if not thicknesses.was_read:
        raise _LeftOut("its thickness was not read before the cycle")
    rows = nouns.planned_of(record, "buffering", cycle)
    planned = build_planned_values(rows)
    load, sheets = planned_load(planned), find_value(planned, SHEETS)
    if load is None or sheets is None:
        raise _LeftOut("no plan of its buffering with sheets and load is saved")
    read = {
        quantity: nouns.measured_at(record, quantity, stage="review", cycle=cycle)
        for quantity in ("thickness", UNPRESSED)
    }
    strip = read[UNPRESSED].get("spine")
    if strip is not None and strip.value > item.width / 3:
        raise _LeftOut("the unpressed width is more than a third of the page, where the model does not look")
    return Finding(
        name,
        item,
        thicknesses,
        sheets_of(
            item, round(float(sheets.value.magnitude)), nouns.interleaf_of(record, cycle) or USUAL_SHEET
        ),
        _press(rows, load[0]),
        read["thickness"].get("text block"),
        strip,
    )


def _press(rows: Sequence[Row], load: Range) -> Press:
    """Build the press as the assumptions of the plan name it."""
    keys = {str(row["key"]): str(row["words"]) for row in rows if is_given(row["key"])}
    if not keys:
        return _press_before_keys(rows, load)
    for fact in (STOPS, SPINE_OUTSIDE, STRIP):
        if fact.key in keys:
            raise _LeftOut(f"it was pressed otherwise ({fact.label}), which is not fitted")
    return _build(keys.get(PACK, USUAL_PACK), PRESS[True] in keys, load)


def _press_before_keys(rows: Sequence[Row], load: Range) -> Press:
    """Build the press from the words of a plan from before version 3."""
    said = {str(row["quantity"]): str(row["words"]) for row in rows}
    how = said.get("assumed: the load comes through", "")
    if any(words in how for words in _SET_PRESS):
        raise _LeftOut(f"it was pressed with {how}, which is not fitted")
    return _build(said.get("assumed: boards on each side", USUAL_PACK), "loose weights" in how, load)


def _build(pack: str, even: bool, load: Range) -> Press:
    if pack not in PACKS:
        raise _LeftOut(f"its boards are not known: {pack}")
    return LoadPath(pack=pack, even=even).build_press(load)


def give_of_block(treatment: AtHand, cycle: int) -> dict[str, Any]:
    """Give what this bench and the readings under load say of paper and boards, as fields of the choices.

    Readings of this very item say more of how its block gives than any fit: they take the place of both
    constants of its law, and of nothing else.  They are fitted from what the fit that was accepted says of
    them, or else from a trial on scrap of the same paper.
    """
    known = learned_bench(treatment)
    here = measured_here(treatment)
    if here:
        known["measured"] = here
    moments = (nouns.before_cycle(number) for number in range(cycle, 0, -1))
    read = (nouns.thicknesses_under_load(treatment.record, stage=s, cycle=c) for s, c in moments)
    readings = next((found for found in read if found), [])
    if not readings:
        return known
    if len(readings) == 1:
        pressure = f"{float(readings[0][0].magnitude):g} kPa"
        words = f"The text block was read under one load, {pressure}, which says nothing of how it gives: "
        return {**known, "unsettled": f"{words}read it under a second one as well."}
    assumed = known.get("assumed") or Assumed()
    before = with_measured(assumed, known.get("fitted", ()), here, treatment.item.text_paper)
    try:
        k1, k2, _ = fit_compression(readings, k1=before.k1, k2=before.k2)
    except BenchError as error:
        return {**known, "unsettled": f"The readings of the text block under load are not used: {error}"}
    under = " and ".join(f"{float(pressure.magnitude):g}" for pressure, _ in readings)
    return {**known, "assumed": replace(assumed, k1=k1, k2=k2), "read_under": f"readings under {under} kPa"}


def learned_bench(treatment: AtHand) -> dict[str, Any]:
    """Give the fit of this bench that was accepted last, as fields of the choices; empty without one.

    Treatments that cannot be read are named: a fit that was accepted there is missing.
    """
    fits, unread = learned_on_bench(treatment.record.folder.parent, BENCH)
    named = {"unread": unread} if unread else {}
    fit = last_accepted(fits)
    if fit is None or fit.decided_at is None or not fit.found:
        return named
    try:
        return {
            **named,
            "assumed": assumed_of(fit.found),
            "learned": say_learned(fit.title, fit.decided_at),
            "fitted": tuple(sorted(fit.found)),
        }
    except BenchError as error:  # written by another version of the workbook
        return {"unread": (*unread, f"{fit.treatment}: {error}")}


def weighed_on_bench(treatment: AtHand) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Give what accepted weighings of this paper on this bench found, and name what could not be read for it.

    Returns
    -------
    fields : dict
        Of the choices: ``transport_ratio``, ``isotherm_scale`` and ``weighed``; empty without such a fit.
    unread : tuple of str
        Treatments that cannot be read, and a fit outside what the model holds for, with the reason: what
        was accepted there is missing.
    """
    try:
        fits, unread = learned_on_bench(treatment.record.folder.parent, WEIGHINGS)
    except (BenchError, RecordError, OSError) as error:
        return {}, (str(error).splitlines()[0],)
    fit = last_accepted(fits, paper=treatment.item.text_paper)
    if fit is None or not {RATIO, SCALE} <= set(fit.found):
        return {}, unread
    ratio, scale = fit.found[RATIO], fit.found[SCALE]
    try:
        Inputs(transport_ratio=ratio, isotherm_scale=scale)  # checks the ranges
    except BenchError as error:  # written by another version of the workbook
        return {}, (*unread, f"{fit.treatment}: {error}")
    return {"transport_ratio": ratio, "isotherm_scale": scale, "weighed": fit.title}, unread
