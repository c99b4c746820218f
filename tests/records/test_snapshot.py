"""A snapshot shows a record as it stood, whatever is saved or changed meanwhile."""

from bench.records.snapshot import take_snapshot
from tests.records.record_makers import SAVING, make, reading


def test_what_is_saved_meanwhile_is_not_seen(tmp_path):
    record = make(tmp_path)
    snapshot = take_snapshot(record)
    before = len(snapshot.read("readings"))
    record.save({"readings": [reading()]}, **SAVING)
    assert len(snapshot.read("readings")) == before
    assert len(record.read("readings")) == before + 1
    assert len(take_snapshot(record).read("readings")) == before + 1


def test_a_frame_that_is_changed_leaves_the_snapshot_alone(tmp_path):
    record = make(tmp_path)
    record.save({"readings": [reading(4.41)]}, **SAVING)
    snapshot = take_snapshot(record)
    snapshot.read("readings")["value"] = 0.0
    assert snapshot.read("readings")["value"].tolist() == record.read("readings")["value"].tolist()
