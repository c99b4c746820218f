"""The record of the bench: trials come back as they were saved, and plans take the last one accepted."""

import shutil
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from bench.physics.ranges import Range
from bench.records.at_hand import BENCH_FOLDER, bench_of
from bench.records.bench_record import (
    SavedTrial,
    accepted_of,
    look_at_trials,
    measured_beside,
    name_trial,
    rows_of_decision,
    rows_of_trial,
    trials_of,
)
from bench.records.check import check_records, check_treatment, treatment_folders
from bench.records.restore import restore
from bench.records.restore_points import list_restore_points, make_restore_point
from bench.records.schema import TRIAL_FINDINGS
from bench.records.store import open_own, open_record
from bench.treatment.measured import BOARD_BENDING, HYSTERESIS
from bench.units import Q_
from tests.records.record_makers import make

NOON = datetime.fromisoformat("2026-03-02T12:00:00+01:00")
BOARD = Range.of((0.0612345678, 0.055, 0.067), "N*m")


def trial(name: str = "board-1", **changes) -> SavedTrial:
    facts = {
        "name": name,
        "protocol": "board",
        "about": "blotter",
        "done_at": NOON,
        "due_at": NOON + timedelta(days=365),
        "is_used": True,
        "reason": "two boards agree",
        "said": "About as stiff as the books say.",
        "read": {"length": (Q_(200.0, "mm"),), "sag": (Q_(8.1, "mm"), Q_(8.3, "mm"))},
        "found": {BOARD_BENDING.key: BOARD},
    }
    return SavedTrial(**{**facts, **changes})


@pytest.fixture
def bench(tmp_path: Path):
    make(tmp_path)
    return open_own(tmp_path / BENCH_FOLDER, "This bench", by="M. Tallow", at=NOON)


def save(bench, *trials: SavedTrial):
    for each in trials:
        bench.save(rows_of_trial(each), by="M. Tallow", at=NOON)
    return look_at_trials(bench.folder)


def test_a_trial_comes_back_as_it_was_saved(bench):
    (found,) = save(bench, trial())
    assert (found.name, found.about, found.done_at, found.is_used) == ("board-1", "blotter", NOON, True)
    assert found.read == trial().read
    assert found.found[BOARD_BENDING.key].value.to("N*m").magnitude == pytest.approx(0.0612346)  # six digits
    assert check_treatment(bench.folder) == []


def test_readings_keep_their_own_unit(bench):
    read = {"heat": (Q_(61.5, "degC"),), "load": (Q_(2.0, "kg"),), "leaves": (Q_(40.0, ""),)}
    (found,) = save(bench, trial(read=read))
    assert found.read == read


def test_a_bench_without_a_record_has_measured_nothing(tmp_path):
    folder = make(tmp_path).folder
    assert measured_beside(folder, NOON) == ()
    assert not bench_of(folder).exists()


def test_plans_take_the_last_one_accepted_of_each_thing(bench):
    later = Range.of((0.07, 0.065, 0.075), "N*m")
    day = timedelta(days=1)
    trials = save(
        bench,
        trial("board-2", done_at=NOON + day, found={BOARD_BENDING.key: later}),
        trial("board-1"),
        trial("board-3", done_at=NOON + 2 * day, is_used=False),
        trial("board-4", about="card 90 lb index"),
    )
    taken = {each.about: each for each in accepted_of(trials, NOON)}
    assert taken["blotter"].value.value == later.value
    assert taken["card 90 lb index"].done_on == NOON.date()


def test_a_decision_is_made_anew_and_the_readings_stay(bench):
    (saved,) = save(bench, trial())
    bench.save(
        rows_of_decision(bench, saved, is_used=False, reason="the board was damp"), by="M. Tallow", at=NOON
    )
    (found,) = look_at_trials(bench.folder)
    assert (found.is_used, found.reason, found.read) == (False, "the board was damp", saved.read)
    assert accepted_of((found,), NOON) == ()
    assert len(open_record(bench.folder).all_rows("trials")) == 2


@pytest.mark.parametrize(("days", "is_due"), [(364, False), (365, True), (400, True)])
def test_it_is_due_again_from_its_day_on(bench, days, is_due):
    (accepted,) = accepted_of(save(bench, trial()), NOON + timedelta(days=days))
    assert accepted.is_due is is_due


def test_a_constant_of_a_newer_program_is_left_alone(bench):
    trials = save(
        bench, trial(found={"colour-of-steam": BOARD, HYSTERESIS.key: Range.of((0.01, 0, 0.02), "")})
    )
    assert [each.constant for each in accepted_of(trials, NOON)] == [HYSTERESIS]


def test_the_record_of_the_bench_is_checked_and_is_no_treatment(bench, tmp_path):
    save(bench, trial())
    assert [folder.name for folder in treatment_folders(tmp_path)] == ["lantern-1"]
    assert set(check_records(tmp_path)) == {"lantern-1", BENCH_FOLDER}


def test_a_table_of_trials_that_is_lost_is_told(bench):
    save(bench, trial())
    (bench.folder / TRIAL_FINDINGS.file).unlink()
    told = check_treatment(bench.folder)
    assert [fault.table for fault in told] == [TRIAL_FINDINGS.file]
    assert "gone" in str(told[0]) or "missing" in str(told[0]) or "taken out" in str(told[0])


def test_two_windows_may_begin_it_at_once(bench, monkeypatch):
    monkeypatch.setattr(Path, "is_dir", lambda path: path.name != BENCH_FOLDER)  # as the second saw it
    assert open_own(bench.folder, "This bench", by="E. Fenwright", at=NOON).folder == bench.folder


def test_what_is_read_is_read_anew_only_after_a_save(bench, monkeypatch):
    save(bench, trial())
    first = look_at_trials(bench.folder)
    assert look_at_trials(bench.folder) is first
    assert len(save(bench, trial("board-2"))) == 2


def test_a_restore_point_brings_trials_back(bench):
    save(bench, trial())
    point = make_restore_point(bench.folder, at=NOON, why="on-demand")
    save(bench, trial("board-2"))
    assert list_restore_points(bench.folder)
    restore(bench.folder, point.name, by="M. Tallow", at=NOON, why="a slip")
    assert [each.name for each in trials_of(open_record(bench.folder))] == ["board-1"]


def test_a_copy_of_the_folder_of_records_takes_the_bench_along(bench, tmp_path):
    save(bench, trial())
    copy = shutil.copytree(tmp_path, tmp_path.parent / "copy")
    assert [each.value.value for each in measured_beside(copy / "lantern-1", NOON)]


def test_trials_of_one_protocol_have_names_of_their_own():
    assert name_trial("board", NOON) != name_trial("board", NOON + timedelta(seconds=1))
