"""Fits saved with a treatment and found again across the bench."""

from datetime import timedelta

import pytest

from bench.physics.ranges import Range
from bench.records.learned import WEIGHINGS, decision_row, fit_rows, fits_of, last_accepted, learned_on_bench
from bench.records.store import create_treatment
from bench.units import Q_
from tests.records.record_makers import AT, ITEM, SAVING

RATIO = Range(Q_(0.042, ""), Q_(0.031, ""), Q_(0.057, ""))


def make(folder, name, *, use=None, paper="newsprint", at=AT):
    record = create_treatment(folder, name, {"treatment": [{**ITEM, "text_paper": paper}]}, **SAVING)
    rows = {"log": fit_rows(WEIGHINGS, 1, {"transport ratio": (RATIO, "")}, words="5 weighings", at=AT)}
    if use is not None:
        rows["decisions"] = [
            decision_row(WEIGHINGS, 1, use=use, reason="two books agree", by="A. Quill", at=at)
        ]
    record.save(rows, **SAVING)
    return record


def test_a_fit_comes_back_with_its_interval(tmp_path):
    (fit,) = fits_of(make(tmp_path, "lantern-1", use=True), WEIGHINGS)
    back = fit.found["transport ratio"]
    assert [float(q.magnitude) for q in (back.value, back.low, back.high)] == [0.042, 0.031, 0.057]
    assert (fit.is_accepted, fit.reason, fit.paper, fit.cycle) == (True, "two books agree", "newsprint", 1)


@pytest.mark.parametrize("use", [None, False])
def test_what_nobody_accepted_is_not_used(tmp_path, use):
    make(tmp_path, "lantern-1", use=use)
    fits, _ = learned_on_bench(tmp_path, WEIGHINGS)
    assert len(fits) == 1
    assert last_accepted(fits) is None


def test_the_last_accepted_of_the_paper_is_given(tmp_path):
    make(tmp_path, "lantern-1", use=True)
    make(tmp_path, "lantern-2", use=True, at=AT + timedelta(days=3))
    make(tmp_path, "lantern-3", use=True, at=AT + timedelta(days=5), paper="coated text")
    fits, unread = learned_on_bench(tmp_path, WEIGHINGS)
    assert unread == ()
    assert last_accepted(fits, paper="newsprint").treatment == "lantern-2"
    assert last_accepted(fits).treatment == "lantern-3"
    assert last_accepted(fits, paper="wood-free text") is None


def test_a_decision_taken_back_counts(tmp_path):
    record = make(tmp_path, "lantern-1", use=True)
    record.save(
        {"decisions": [decision_row(WEIGHINGS, 1, use=False, reason="scale was off", by="A. Quill", at=AT)]},
        **SAVING,
    )
    assert last_accepted(fits_of(record, WEIGHINGS)) is None


def test_a_broken_treatment_is_named_and_does_not_hide_the_others(tmp_path):
    make(tmp_path, "lantern-1", use=True)
    make(tmp_path, "lantern-2", use=True).folder.joinpath("log.csv").write_bytes(b"\xff\xfe\x00")
    fits, unread = learned_on_bench(tmp_path, WEIGHINGS)
    assert [fit.treatment for fit in fits] == ["lantern-1"]
    assert unread == ("lantern-2",)


def test_a_later_fit_of_a_cycle_takes_the_place_of_the_earlier_one_whole(tmp_path):
    """A constant that the later fit no longer claims is not joined to it from the earlier one."""
    record = make(tmp_path, "lantern-1", use=True)
    later = AT + timedelta(hours=2)
    record.save(
        {"log": fit_rows(WEIGHINGS, 1, {"isotherm scale": (RATIO, "")}, words="6 weighings", at=later)},
        **SAVING,
    )
    (fit,) = fits_of(record, WEIGHINGS)
    assert set(fit.found) == {"isotherm scale"}
