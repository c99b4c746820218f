"""Two copies that went apart come together: no row is lost, and what both say is asked about."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from bench.errors import BadValue, RecordError
from bench.records import merge as merge_module
from bench.records.check import check_treatment
from bench.records.faults import only_faults
from bench.records.kept_files import PHOTOGRAPHS, checksum
from bench.records.merge import merge
from bench.records.record import Record
from bench.records.restore_points import list_restore_points
from bench.records.store import open_record
from bench.records.take_over import take_over
from tests.records.record_makers import AT, SAVING, in_child, make, reading, remark, step
from tests.records.test_records_crash import faulty, give_up

TABLET = {"by": "B. Tully", "at": AT + timedelta(hours=1)}
MERGING = {"by": "M. Reed", "at": AT + timedelta(hours=2)}


@pytest.fixture
def desk(tmp_path: Path) -> Record:
    record = make(tmp_path / "desk")
    record.save({"readings": [reading(4.39)], "steps": [step(), step(step="s02")]}, **SAVING)
    return record


@pytest.fixture
def tablet(desk: Record, tmp_path: Path) -> Record:
    folder = tmp_path / "tablet" / desk.folder.name
    shutil.copytree(desk.folder, folder)
    return open_record(folder)


def plan(value: float, words: str) -> list[dict[str, Any]]:
    common = {"plan": "buffering-1", "stage": "buffering", "cycle": 1}
    return [
        {**common, "quantity": "sheets", "value": value, "unit": "dimensionless"},
        {**common, "quantity": "caution 1", "words": words},
    ]


def sound(record: Record) -> bool:
    return only_faults(check_treatment(record.folder)) == []


def test_what_only_the_other_holds_is_added_as_it_was_made(desk: Record, tablet: Record):
    desk.save({"log": [remark("at the desk")], "readings": [reading(4.40)]}, **SAVING)
    tablet.save({"log": [remark("at the press")]}, **TABLET)
    tablet.save({"steps": [step(step="s02", replaces=2, actual_start=AT, actual_end=AT)]}, **TABLET)
    before = {path.name: path.read_bytes() for path in tablet.folder.glob("*.csv")}
    done = merge(desk.folder, tablet.folder, **MERGING)
    assert (done.saves, dict(done.rows), done.open) == (2, {"steps": 1, "log": 1}, ())
    merged = open_record(desk.folder)
    assert merged.notice == ""
    assert [(row["row"], row["remark"], row["by"]) for row in merged.rows("log")] == [
        (1, "at the desk", "Ada Quill"),
        (2, "at the press", "B. Tully"),
    ]
    assert [row["actual_end"] for row in merged.rows("steps")] == [None, AT]
    assert sound(desk)
    assert {path.name: path.read_bytes() for path in tablet.folder.glob("*.csv")} == before
    assert [point.why for point in list_restore_points(desk.folder)] == ["before-merge"]
    # Once more brings nothing, and what is saved on the tablet afterwards is found again.
    assert merge(desk.folder, tablet.folder, **MERGING).saves == 0
    tablet.save({"log": [remark("later", replaces=1)]}, **TABLET)
    assert merge(desk.folder, tablet.folder, **MERGING).saves == 1
    assert [row["remark"] for row in open_record(desk.folder).rows("log")] == ["at the desk", "later"]
    assert sound(desk)


@pytest.mark.parametrize(("holds", "value"), [("here", 4.40), ("there", 4.41)])
def test_the_same_row_corrected_in_both_is_asked_about(
    desk: Record, tablet: Record, holds: str, value: float
):
    desk.save({"readings": [reading(4.40, replaces=1)]}, **SAVING)
    tablet.save({"readings": [reading(4.45, replaces=1)]}, **TABLET)
    tablet.save({"readings": [reading(4.41, replaces=2)]}, **TABLET)
    before = {path.name: path.read_bytes() for path in desk.folder.glob("*.csv")}
    (conflict,) = merge(desk.folder, tablet.folder, **MERGING).open
    assert str(conflict).startswith("readings 3: value: here “4.4”, there “4.41” (here by Ada Quill, ")
    assert {path.name: path.read_bytes() for path in desk.folder.glob("*.csv")} == before
    merge(desk.folder, tablet.folder, answers={"readings 3": holds}, **MERGING)
    merged = open_record(desk.folder)
    assert [row["value"] for row in merged.rows("readings")] == [value]
    assert {row["value"] for row in merged.all_rows("readings")} == {4.39, 4.40, 4.45, 4.41}
    assert sound(desk)


@pytest.mark.parametrize("holds", ["here", "there"])
def test_one_thing_entered_in_both_is_asked_about(desk: Record, tablet: Record, holds: str):
    desk.save({"steps": [step(step="s03", name="press again")]}, **SAVING)
    tablet.save({"steps": [step(step="s03", name="rest")]}, **TABLET)
    (conflict,) = merge(desk.folder, tablet.folder, **MERGING).open
    assert conflict.name == "steps 3"
    merge(desk.folder, tablet.folder, answers={"all": holds}, **MERGING)
    names = [row["name"] for row in open_record(desk.folder).rows("steps") if row["step"] == "s03"]
    assert names == ["press again" if holds == "here" else "rest"]
    assert sound(desk)


def test_one_thing_entered_alike_in_both_is_no_conflict(desk: Record, tablet: Record):
    for record, who in ((desk, SAVING), (tablet, TABLET)):
        record.save({"steps": [step(step="s03", name="rest")]}, **who)
    assert merge(desk.folder, tablet.folder, **MERGING).open == ()
    assert [row["step"] for row in open_record(desk.folder).rows("steps")] == ["s01", "s02", "s03"]
    assert sound(desk)


@pytest.mark.parametrize("holds", ["here", "there"])
def test_a_plan_made_in_both_holds_as_a_whole(desk: Record, tablet: Record, holds: str):
    desk.save({"plans": plan(8, "the one at the desk")}, **SAVING)
    tablet.save({"plans": plan(6, "the one of the tablet")}, **TABLET)
    (conflict,) = merge(desk.folder, tablet.folder, **MERGING).open
    assert str(conflict).startswith("plan buffering-1 of cycle 1: planned in both copies (here by Ada Quill")
    merge(desk.folder, tablet.folder, answers={conflict.name: holds}, **MERGING)
    rows = [r for r in open_record(desk.folder).rows("plans") if r["words"] != "no longer planned"]
    words = "the one at the desk" if holds == "here" else "the one of the tablet"
    assert [row["value"] for row in rows if row["value"] == row["value"]] == [8 if holds == "here" else 6]
    assert [row["words"] for row in rows if row["words"] == row["words"]] == [words]
    assert sound(desk)


def test_a_copy_that_is_none_or_was_changed_or_mended_is_refused(
    desk: Record, tablet: Record, tmp_path: Path
):
    other = make(tmp_path / "other", "lantern-2")
    with pytest.raises(BadValue, match="not begun by the same save"):
        merge(desk.folder, other.folder, **MERGING)
    with pytest.raises(BadValue, match="the folder of a treatment"):
        merge(desk.folder, tmp_path, **MERGING)
    path = tablet.folder / "readings.csv"
    path.write_text(path.read_text().replace(",4.39,", ",4.93,"))
    with pytest.raises(RecordError, match="not as it was saved"):
        merge(desk.folder, tablet.folder, **MERGING)
    take_over(tablet.folder, why="turned round", **TABLET)
    with pytest.raises(RecordError, match="rows taken over or put back since"):
        merge(desk.folder, tablet.folder, **MERGING)


def test_a_row_that_only_one_copy_took_out_is_told_in_a_sentence(desk: Record, tablet: Record):
    path = desk.folder / "steps.csv"
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))
    take_over(desk.folder, why="entered by mistake", **SAVING)
    tablet.save({"log": [remark()]}, **TABLET)
    with pytest.raises(RecordError, match=r"2 rows of save .* in steps, of which 1 are here"):
        merge(desk.folder, tablet.folder, **MERGING)


@pytest.mark.slow
def test_a_kill_at_any_call_merges_all_or_nothing(desk: Record, tablet: Record, tmp_path: Path):
    desk.save({"log": [remark("at the desk")]}, **SAVING)
    tablet.save({"log": [remark("at the press")], "readings": [reading(4.5)]}, **TABLET)
    seen = set()
    for at in range(1, 200, 3):
        copy = Path(shutil.copytree(desk.folder, tmp_path / f"{at}" / desk.folder.name))

        def killed(copy: Path = copy, at: int = at) -> None:
            with faulty(at, give_up):
                merge(copy, tablet.folder, **MERGING)

        code = in_child(killed)
        record = open_record(copy)
        assert record.notice == ""
        counts = len(record.rows("log")), len(record.rows("readings"))
        assert counts in ((1, 1), (2, 2))
        seen.add(counts)
        merge(copy, tablet.folder, **MERGING)
        assert sound(record)
        assert len(open_record(copy).rows("log")) == 2
        if code == 0:
            break
    assert code == 0
    assert seen == {(1, 1), (2, 2)}


def test_a_file_left_by_a_program_that_keeps_folders_alike_is_told(desk: Record):
    name = "log (conflicted copy 2026-11-29).csv"
    shutil.copy(desk.folder / "log.csv", desk.folder / name)
    (note,) = check_treatment(desk.folder)
    assert str(note).startswith(f"{name}: is no table of a record.")


def test_what_was_brought_together_goes_back_to_the_other_copy(desk: Record, tablet: Record):
    """Afterwards both hold the same rows, and each says that the other holds nothing more."""
    desk.save({"log": [remark("at the desk")], "readings": [reading(4.41)]}, **SAVING)
    tablet.save({"log": [remark("on the tablet")], "readings": [reading(4.42)]}, **TABLET)
    merge(desk.folder, tablet.folder, **MERGING)
    assert merge(tablet.folder, desk.folder, **MERGING).rows == {"readings": 1, "log": 1}
    copies = [open_record(each.folder) for each in (desk, tablet)]
    for table, column in (("log", "remark"), ("readings", "value")):
        first, second = (sorted(row[column] for row in copy.rows(table)) for copy in copies)
        assert first == second
    for here, there in ((desk, tablet), (tablet, desk)):
        assert merge(here.folder, there.folder, **MERGING).saves == 0
        assert check_treatment(here.folder) == []


@pytest.mark.parametrize("side", ["here", "there"])
def test_what_was_settled_goes_back_without_asking_again(desk: Record, tablet: Record, side: str):
    desk.save({"readings": [reading(4.41, replaces=1)]}, **SAVING)
    tablet.save({"readings": [reading(4.42, replaces=1)]}, **TABLET)
    merge(desk.folder, tablet.folder, answers={"all": side}, **MERGING)
    assert merge(tablet.folder, desk.folder, **MERGING).open == ()
    wanted = [4.41 if side == "here" else 4.42]
    for each in (desk, tablet):
        assert [row["value"] for row in open_record(each.folder).rows("readings")] == wanted
        assert check_treatment(each.folder) == []


def test_nothing_is_merged_that_would_not_read_back(
    desk: Record, tablet: Record, monkeypatch: pytest.MonkeyPatch
):
    """The writer of a table makes a mistake in a row that was there, or in one that is brought."""
    tablet.save({"log": [remark("on the tablet")], "readings": [reading(4.42)]}, **TABLET)
    before = {path.name: path.read_bytes() for path in desk.folder.glob("*.csv")}
    add_rows = merge_module.add_rows
    for old, new in ((b",4.39,", b",4.93,"), (b",4.42,", b",4.24,"), (b",4.42,", b",4;42,")):
        monkeypatch.setattr(merge_module, "add_rows", lambda *a, o=old, n=new: add_rows(*a).replace(o, n))
        with pytest.raises(RecordError):
            merge(desk.folder, tablet.folder, **MERGING)
        assert {path.name: path.read_bytes() for path in desk.folder.glob("*.csv")} == before


def picture(record: Record, data: bytes, *, view: str) -> dict[str, Any]:
    """A photograph that is kept beside the tables, and the row that names it."""
    file = PHOTOGRAPHS.keep(record, "front cover.png", data)
    return {"stage": "intake", "view": view, "file": file, "sha256": checksum(data)}


def files_of(record: Record) -> dict[str, bytes]:
    return {row["view"]: (record.folder / row["file"]).read_bytes() for row in record.rows("photographs")}


def test_files_that_only_the_other_holds_are_brought_with_the_rows_that_name_them(
    desk: Record, tablet: Record
):
    """Without them a folder thrown away after the merge took its photographs along."""
    tablet.save({"photographs": [picture(tablet, b"from the tablet", view="front cover")]}, **TABLET)
    merge(desk.folder, tablet.folder, **MERGING)
    shutil.rmtree(tablet.folder)
    assert files_of(open_record(desk.folder)) == {"front cover": b"from the tablet"}
    assert sound(desk)


def test_two_files_of_one_name_are_both_kept(desk: Record, tablet: Record):
    desk.save({"photographs": [picture(desk, b"at the desk", view="front cover")]}, **SAVING)
    tablet.save({"photographs": [picture(tablet, b"at the press", view="back cover")]}, **TABLET)
    merge(desk.folder, tablet.folder, **MERGING)
    here = open_record(desk.folder)
    assert files_of(here) == {"front cover": b"at the desk", "back cover": b"at the press"}
    assert sound(desk)
    merge(tablet.folder, desk.folder, **MERGING)
    assert files_of(open_record(tablet.folder)) == files_of(here)
    assert sound(tablet)


def test_a_file_that_is_not_there_either_is_told_by_the_check(desk: Record, tablet: Record):
    row = picture(tablet, b"lost", view="spine")
    tablet.save({"photographs": [row]}, **TABLET)
    (tablet.folder / row["file"]).unlink()
    merge(desk.folder, tablet.folder, **MERGING)
    assert any(row["file"] in str(fault) for fault in check_treatment(desk.folder))
