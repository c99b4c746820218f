"""A power cut at any moment loses no save that was reported, whatever the disk kept, dropped or reordered.

The disk is simulated (:mod:`tests.records.power_cut`) after what POSIX promises of ``fsync`` and ``rename``.
"""

from __future__ import annotations

import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bench.errors import BenchError, RecordError
from bench.records import disk, journal
from bench.records.merge import merge
from bench.records.restore import restore
from bench.records.restore_points import list_restore_points, make_restore_point
from bench.records.schema import FILES, TABLES
from bench.records.store import look_at_treatment, open_record
from bench.records.take_over import take_over
from tests.records.power_cut import File, Recorder, cut_the_power, lay_out
from tests.records.record_makers import AT, SAVING, make, reading, remark, step

pytestmark = pytest.mark.slow

OLD = Path(__file__).parent / "versions" / "1"
EVERY = 1  # states after each call; the benchmark tries more


def say(folder: Path) -> dict[str, Any]:
    """Give all that a record says, and how many restore points it has."""
    record = look_at_treatment(folder)
    rows = {name: [dict(row.cells) for row in record.sheet(table).rows] for name, table in FILES.items()}
    return {**rows, "version": record.schema_version, "points": len(list_restore_points(folder))}


def begin(folder: Path) -> Path:
    record = make(folder)
    record.save({"readings": [reading(4.39)], "log": [remark("first")]}, **SAVING)
    return record.folder


def saves(folder: Path) -> Callable[[], None]:
    def act() -> None:
        record = open_record(folder)
        for number in range(3):
            rows = {"readings": [reading(4.4), reading(4.41)], "log": [remark(f"look {number}")]}
            record.save({**rows, "steps": [step(step=f"s{number}")]}, **SAVING)

    return act


def migration(folder: Path) -> Callable[[], None]:
    shutil.rmtree(folder)
    shutil.copytree(OLD, folder)
    return lambda: open_record(folder).save({"log": [remark("new")]}, **SAVING) and None


def restoring(folder: Path) -> Callable[[], None]:
    make_restore_point(folder, at=AT, why="on-demand")
    open_record(folder).save({"log": [remark("to be undone")]}, **SAVING)
    return lambda: restore(folder, by="M. Reed", at=AT, why="a try") and None


def merging(folder: Path) -> Callable[[], None]:
    other = Path(shutil.copytree(folder, folder.parent.parent / "other" / folder.name))
    open_record(other).save({"log": [remark("there")], "readings": [reading(4.2)]}, **SAVING)
    open_record(folder).save({"log": [remark("here")]}, **SAVING)
    return lambda: merge(folder, other, by="M. Reed", at=AT) and None


def taking_over(folder: Path) -> Callable[[], None]:
    path = folder / "log.csv"
    path.write_bytes(path.read_bytes().replace(b"first", b"fisrt"))
    return lambda: take_over(folder, by="M. Reed", at=AT, why="a slip") and None


ACTS = {each.__name__: each for each in (saves, migration, restoring, merging, taking_over)}


def find_losses(home: Path, name: str, *, seed: int, every: int) -> tuple[int, list[str]]:
    """Try one act; give how many states of the disk were tried, and what was wrong in which."""
    folder = begin(home / "records")
    act = ACTS[name](folder)
    found = cut_the_power(folder, act, say, seed=seed, every=every)
    losses = []
    for number, (done, state) in enumerate(found.states):
        copy = home / f"state-{number}" / folder.name
        lay_out(state, folder, copy)
        try:
            wrong = look_for_loss(copy, found.said[done : done + 2], changed=name == "taking_over")
        except (BenchError, RecordError) as error:
            wrong = str(error)
        losses += [f"{name}, seed {seed}, state {number}, after {done} saves: {wrong}"] if wrong else []
        shutil.rmtree(copy.parent)
    return len(found.states), losses


def look_for_loss(copy: Path, allowed: list[dict[str, Any]], *, changed: bool) -> str:
    """Open what a cut left; it must say what it said after the last save that was done, or after the next."""
    record = open_record(copy)
    said = say(copy)
    tables = [*FILES, "version"]
    fitting = [each for each in allowed if all(each[name] == said[name] for name in tables)]
    if not fitting:
        return f"it says something else; notice: {record.notice}"
    if said["points"] < fitting[0]["points"]:
        return "a restore point is gone"
    for point in list_restore_points(copy):
        with zipfile.ZipFile(point.path) as file:
            if file.testzip() is not None:
                return f"{point.path.name} is torn"
    differences = record.differences() if not changed else []
    if differences or (record.notice and not changed):
        return f"{record.notice} {differences}"
    open_record(copy).save({"log": [remark("after it")]}, **SAVING)
    after = look_at_treatment(copy).sheet(TABLES["log"])
    return "" if after.rows[-1].values["remark"] == "after it" else "it takes no more saves"


@pytest.mark.parametrize("name", ACTS)
def test_a_power_cut_loses_nothing_that_was_reported(tmp_path: Path, name: str):
    tried, losses = find_losses(tmp_path, name, seed=20261129, every=EVERY)
    assert tried > 15
    assert losses == []


def no_sync_of_files(patch: pytest.MonkeyPatch) -> None:
    note = Recorder._note_fsync

    def forget(recorder: Recorder, handle: int) -> None:
        if not isinstance(recorder._handles[handle], File):
            note(recorder, handle)

    patch.setattr(Recorder, "_note_fsync", forget)


def no_sync_of_folders(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(disk, "sync_folder", lambda folder: None)


def journal_goes_first(patch: pytest.MonkeyPatch) -> None:
    def settle(folder: Path, paths: Any) -> None:
        disk.remove(folder / journal.JOURNAL)
        for path in paths:
            disk.put_in_place(path)
        disk.sync_folder(folder)

    patch.setattr(journal, "settle", settle)


@pytest.mark.parametrize("fault", [no_sync_of_files, no_sync_of_folders, journal_goes_first])
def test_the_simulated_disk_finds_a_sync_that_is_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: Callable[[pytest.MonkeyPatch], None]
):
    """Without it, the test above could not fail."""
    fault(monkeypatch)
    _, losses = find_losses(tmp_path, "saves", seed=1, every=2)
    assert losses
